"""JUnit XML: a test suite for each job, a test case for each finding; documented in docs/outputs.md.

No standard defines the format. What is written here satisfies the schema that a widely used CI server publishes for
what it reads, and holds in ASCII, whatever the encoding of the stream.
"""

from typing import TextIO
from xml.sax.saxutils import escape, quoteattr

from attrs import frozen

from ventrules.bulk import Outcome
from ventrules.outputs.formats import Closing, Failing
from ventrules.outputs.text import left_out_line, printable
from ventrules.outputs.told import Standing, Told, told


@frozen
class _Case:
    """One test case: its name, its kind of outcome (empty: passed), and what is said of that."""

    name: str
    kind: str = ""
    type: str = ""
    message: str = ""
    text: str = ""


class JUnitWriter:
    """Writes one test suite for each job.

    Args:
        stream: What to write on.
        failing: What makes the check fail; other findings are test cases that passed, with what was found as output.
    """

    def __init__(self, stream: TextIO, failing: Failing) -> None:
        self._stream = stream
        self._failing = failing
        stream.write('<?xml version="1.0" encoding="UTF-8"?>\n<testsuites name="ventrules">\n')

    def write(self, outcome: Outcome) -> None:
        """Write what came of one job."""
        name = printable(outcome.file) + (f":{outcome.line}" if outcome.line is not None else "")
        report = outcome.report
        cases = [self._case(one) for one in told(outcome)]
        properties = {}
        if report is not None:
            cases.insert(0, _Case("checked"))
            properties = {"job": printable(report.job), "rules_run": str(len(report.rules_run))}
        self._suite(name, cases, properties)

    def close(self, closing: Closing) -> None:
        """Write the end."""
        if closing.interrupted:
            message = "Stopped before the end: not all that was asked for has been checked."
            self._suite("ventrules", [_Case("all checked", "error", "interrupted", message)], {})
        elif closing.left_out:
            case = _Case("all checked", text=left_out_line(closing.left_out))
            self._suite("ventrules", [case], {})
        self._stream.write("</testsuites>\n")

    def _case(self, one: Told) -> _Case:
        nth = f" ({one.nth})" if one.nth > 1 else ""
        line = f", line {one.position.line}" if one.position is not None else ""
        text = "\n".join([f"{one.label}: {one.title}{line}", f"Found: {one.message}", *map(": ".join, one.detail)])
        kind, message = self._kind(one)
        return _Case(f"{one.rule}: {one.place}{nth}", kind, one.rule, message, text)

    def _kind(self, one: Told) -> tuple[str, str]:
        """Return the kind of outcome of a test case, and the short message that goes with it."""
        if one.standing is Standing.ACCEPTED:
            return "skipped", f"let stand {one.by_whom}: {one.reason}"
        if one.standing is Standing.UNUSABLE:
            return "error", one.message
        if one.finding is not None and self._failing.fails(one.finding):
            return "failure", f"{one.label}: {one.message}"
        return ("skipped", f"not checked: {one.message}") if one.standing is Standing.UNCHECKED else ("", "")

    def _suite(self, name: str, cases: list[_Case], properties: dict[str, str]) -> None:
        kinds = [case.kind for case in cases]
        counts = {
            "tests": len(cases),
            "failures": kinds.count("failure"),
            "errors": kinds.count("error"),
            "skipped": kinds.count("skipped"),
        }
        numbers = "".join(f' {key}="{count}"' for key, count in counts.items())
        self._write(f"  <testsuite name={_attribute(name)}{numbers}>\n")
        if properties:
            self._write("    <properties>\n")
            for key, value in properties.items():
                self._write(f"      <property name={_attribute(key)} value={_attribute(value)}/>\n")
            self._write("    </properties>\n")
        for case in cases:
            self._write(f"    <testcase name={_attribute(case.name)} classname={_attribute(name)}")
            self._write(f">\n{_inside(case)}    </testcase>\n" if case.kind or case.text else "/>\n")
        self._write("  </testsuite>\n")

    def _write(self, text: str) -> None:
        self._stream.write(text.encode("ascii", "xmlcharrefreplace").decode("ascii"))


def _inside(case: _Case) -> str:
    if not case.kind:
        return f"      <system-out>{escape(case.text)}</system-out>\n"
    head = f"      <{case.kind} type={_attribute(case.type)} message={_attribute(case.message)}"
    return f"{head}>{escape(case.text)}</{case.kind}>\n" if case.text else f"{head}/>\n"


def _attribute(text: str) -> str:
    return quoteattr(text)
