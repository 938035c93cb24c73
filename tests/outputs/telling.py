"""Outcomes to write, and what each format says of them, read back by libraries that are not ours."""

import csv
import io
import json
import re
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any, Final, NamedTuple, TypeVar
from urllib.parse import unquote

import attrs
from hypothesis import strategies as st
from junitparser import Error, Failure, JUnitXml, Skipped

from ventrules import JobText, Outcome, Tally, check_one, installed_rules
from ventrules.engine import Accepted, AcceptedBy, Report
from ventrules.engine.findings import Document
from ventrules.files import to_yaml
from ventrules.outputs import Closing, Failing, report_writer
from ventrules.testing import FAULTS, job_documents

T = TypeVar("T")
FLAT: Final = ("sarif", "junit", "csv", "json")


class Said(NamedTuple):
    """What a format says of one finding."""

    file: str
    rule: str
    standing: str
    line: str


def written(
    form: str, outcomes: Iterable[Outcome], *, failing: Failing | None = None, interrupted: bool = False
) -> str:
    """Return what a writer makes of outcomes."""
    stream, tally = io.StringIO(newline=""), Tally()
    writer = report_writer(form, stream, installed_rules(), failing or Failing())
    for outcome in outcomes:
        tally.add(outcome)
        writer.write(outcome)
    writer.close(Closing(tally, interrupted=interrupted, status=1))
    return stream.getvalue()


# Outcomes

NAMES: Final = st.from_regex(r"[a-z]{1,6}/[a-z]{1,6}", fullmatch=True)
REASONS: Final = st.sampled_from(["looked at", "=1+1", "until the house is sold", "a|b `c` @d #1 ]]> %0A\n::error::x"])


@st.composite
def documents(draw: st.DrawFn) -> dict[str, Document]:
    """Draw a sound job, or one with a fault in it; most faults come with other findings."""
    document = draw(job_documents())

    def pick(choices: Sequence[T]) -> T:
        return draw(st.sampled_from(choices))

    fault = draw(st.none() | st.sampled_from(FAULTS))
    made = fault.apply(document, pick) if fault is not None else None
    return made.document if made is not None else document


@st.composite
def outcomes(draw: st.DrawFn) -> list[Outcome]:
    """Draw what came of a few jobs: sound, faulty or broken, in YAML, JSON or JSON Lines, some findings let stand."""
    found = []
    for number in range(draw(st.integers(1, 3))):
        form = draw(st.sampled_from(["yaml", "json", "lines", "broken"]))
        name = f"{draw(NAMES)}-{number}.{form}"
        document = draw(documents())
        line = draw(st.integers(1, 9)) if form == "lines" else None
        match form:
            case "yaml":
                text = to_yaml(document)
            case "broken":
                text = draw(st.sampled_from(["job: [", "", "ventrules: 1\ncolour: red\n", "ventrules: 1\njob: \x07"]))
            case _:
                text = json.dumps(document, indent=None if line else 1)
        found.append(let_stand(check_one(JobText(name, text, line=line), in_text=True), draw(st.randoms()).random))
    return found


def let_stand(outcome: Outcome, chance: Any) -> Outcome:
    """Return an outcome with some of its findings let stand."""
    report = outcome.report
    if report is None:
        return outcome
    stays = [(finding, chance() < 0.7) for finding in report.findings]
    by = list(AcceptedBy)
    accepted = tuple(
        Accepted(
            finding,
            by[int(chance() * len(by))],
            "a|b `c` @d #1 ]]> %0A\n::error::x" if chance() < 0.5 else "=1+1",
            date(2031, 3, 31) if chance() < 0.5 else None,
        )
        for finding, stay in stays
        if not stay
    )
    changed = attrs.evolve(report, findings=tuple(f for f, stay in stays if stay), accepted=accepted)
    return attrs.evolve(outcome, report=changed)


# Reading back


def in_sarif(text: str) -> list[Said]:
    """Read a SARIF log."""
    (run,) = json.loads(text)["runs"]
    found = []
    for result in run["results"]:
        place = result["locations"][0]["physicalLocation"]
        standing = "unchecked" if result["kind"] == "open" else "found"
        if result["ruleId"] == "engine/unusable-file":
            standing = "unusable"
        if result.get("suppressions"):
            standing = "accepted"
        file = unquote(place["artifactLocation"]["uri"])
        found.append(Said(file, result["ruleId"], standing, str(place.get("region", {}).get("startLine", ""))))
    return found


def in_junit(text: str) -> list[Said]:
    """Read JUnit XML; what passed is found only where its output says so."""
    found = []
    for suite in JUnitXml.fromstring(text.encode()):
        for case in suite:
            rule, _colon, _place = case.name.partition(": ")
            told = case.result[0] if case.result else None
            said = str(told.text if told is not None else case.system_out or "")
            if not said:
                continue
            line = re.match(r"[^\n]*, line (\d+)\n", said)
            label = said.partition(": ")[0]
            standing = {"not checked": "unchecked", "let stand": "accepted", "cannot be used": "unusable"}.get(label)
            if standing in ("unchecked", "accepted"):
                assert isinstance(told, Skipped)
            elif standing == "unusable":
                assert isinstance(told, Error)
            else:
                assert isinstance(told, Failure) is (label == "error")
            file = re.sub(r":\d+$", "", str(suite.name))
            found.append(Said(file, rule, standing or "found", line[1] if line else ""))
    return found


def in_csv(text: str) -> list[Said]:
    """Read CSV."""
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    return [Said(row["file"], row["rule"], row["standing"], row["line"]) for row in rows]


def in_json(text: str) -> list[Said]:
    """Read the JSON report."""
    found = []
    for file in json.loads(text)["files"]:
        name = file["file"]
        found += [Said(name, "engine/unusable-file", "unusable", _line(problem)) for problem in file["problems"]]
        for finding in file.get("findings", []):
            standing = "unchecked" if finding["unchecked"] else "found"
            found.append(Said(name, finding["rule"], standing, _line(finding)))
        found += [Said(name, one["rule"], "accepted", _line(one)) for one in file.get("accepted", [])]
    return found


def _line(data: Any) -> str:
    return str(data["position"]["line"]) if data["position"] else ""


COMMAND: Final = re.compile(r"::(error|warning|notice) ([^\n]*?)::([^\n]*)")


def in_annotations(text: str) -> list[Said]:
    """Read workflow commands, as the runners of hosted CI do: a line each, then properties, then escapes."""
    found = []
    for line in text.split("\n")[:-1]:
        command = COMMAND.fullmatch(line)
        assert command is not None
        given = dict(part.split("=", 1) for part in command[2].split(","))
        assert given.keys() <= {"file", "line", "col", "title"}
        title = _unescaped(given["title"])
        standing = "unchecked" if title.startswith("not checked ") else "found"
        rule = title.removeprefix("not checked ")
        if rule == "engine/unusable-file":
            standing = "unusable"
        found.append(Said(_unescaped(given["file"]), rule, standing, given.get("line", "")))
    return found


def _unescaped(text: str) -> str:
    for written_, char in (("%0D", "\r"), ("%0A", "\n"), ("%3A", ":"), ("%2C", ","), ("%25", "%")):
        text = text.replace(written_, char)
    return text


def reports(found: Iterable[Outcome]) -> list[Report]:
    return [outcome.report for outcome in found if outcome.report is not None]
