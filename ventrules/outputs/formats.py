"""The formats of a check's outcomes, each with a writer that takes one outcome at a time and keeps none."""

from collections.abc import Callable, Mapping
from typing import Final, Protocol, TextIO

from attrs import frozen

from ventrules.bulk import Outcome, Tally
from ventrules.checking import Rules
from ventrules.engine import Finding, Severity
from ventrules.words import listed, nearest


@frozen
class Failing:
    """What makes a check fail, besides jobs that cannot be used.

    Attributes:
        severities: Findings of these severities do.
        unchecked: Whether checks that could not be made do.
    """

    severities: frozenset[Severity] = frozenset({Severity.ERROR})
    unchecked: bool = False

    def fails(self, finding: Finding) -> bool:
        """Say whether a finding makes the check fail."""
        return self.unchecked if finding.unchecked else finding.severity in self.severities


@frozen
class Closing:
    """What is known when every outcome has been told.

    Attributes:
        tally: What they come to.
        left_out: Files in searched folders that are no jobs: the first of them.
        interrupted: True when not all that was asked for has been checked.
        status: The exit status that follows from them; None where there is no process to end.
        more_left_out: How many more files are no jobs than `left_out` holds.
    """

    tally: Tally
    left_out: tuple[str, ...] = ()
    interrupted: bool = False
    status: int | None = None
    more_left_out: int = 0


class ReportWriter(Protocol):
    """Writes outcomes as they come; what stands before the first is written when it is made."""

    def write(self, outcome: Outcome) -> None:
        """Write what came of one job."""

    def close(self, closing: Closing) -> None:
        """Write what stands after the last outcome."""


FORMATS: Final[Mapping[str, str]] = {
    "text": "for people",
    "json": "one JSON document, as docs/json-output.md describes it",
    "sarif": "SARIF 2.1.0, for viewers of code and for hosted CI",
    "junit": "JUnit XML, for whatever shows test results",
    "annotations": "workflow commands that hosted CI shows beside the lines of a change",
    "markdown": "a summary for the page of a CI run",
    "csv": "a row for each finding, for spreadsheets",
}
"""Name of each format, and what it is."""

IN_TEXT: Final = frozenset({"sarif"})
"""Formats that tell more when outcomes say what stands of findings in the text (`check_many(…, in_text=True)`)."""

USUALLY_FAILING: Final = Failing()
"""Errors alone."""


def known_format(form: str) -> str:
    """Return the name of a format.

    Raises:
        ValueError: No such format.
    """
    if form not in FORMATS:
        close = nearest(form, FORMATS)
        hint = f"; nearest is {close!r}" if close else ""
        raise ValueError(f"unknown format {form!r}; expected {listed(sorted(FORMATS), 'or')}{hint}")
    return form


def report_writer(form: str, stream: TextIO, rules: Rules, failing: Failing = USUALLY_FAILING) -> ReportWriter:
    """Return a writer.

    Args:
        form: The format's name.
        stream: What to write on; it is not closed.
        rules: The rules that are run.
        failing: What makes the check fail; by default, errors.

    Raises:
        ValueError: No such format.
    """
    return _MAKERS[known_format(form)](stream, rules, failing)


# Each is imported when it is wanted: a run uses one or two of them, and has to start fast.


def _text(stream: TextIO, _rules: Rules, _failing: Failing) -> ReportWriter:
    from ventrules.outputs.paper import PlainPaper  # noqa: PLC0415
    from ventrules.outputs.text import WIDTH, TextWriter  # noqa: PLC0415

    return TextWriter(PlainPaper(stream, WIDTH))


def _json(stream: TextIO, _rules: Rules, _failing: Failing) -> ReportWriter:
    from ventrules.outputs.json_report import JsonWriter  # noqa: PLC0415

    return JsonWriter(stream)


def _sarif(stream: TextIO, rules: Rules, _failing: Failing) -> ReportWriter:
    from ventrules.outputs.sarif import SarifWriter  # noqa: PLC0415

    return SarifWriter(stream, rules)


def _junit(stream: TextIO, _rules: Rules, failing: Failing) -> ReportWriter:
    from ventrules.outputs.junit import JUnitWriter  # noqa: PLC0415

    return JUnitWriter(stream, failing)


def _annotations(stream: TextIO, _rules: Rules, _failing: Failing) -> ReportWriter:
    from ventrules.outputs.annotations import AnnotationWriter  # noqa: PLC0415

    return AnnotationWriter(stream)


def _markdown(stream: TextIO, _rules: Rules, _failing: Failing) -> ReportWriter:
    from ventrules.outputs.markdown_summary import MarkdownWriter  # noqa: PLC0415

    return MarkdownWriter(stream)


def _csv(stream: TextIO, _rules: Rules, _failing: Failing) -> ReportWriter:
    from ventrules.outputs.findings_csv import CsvWriter  # noqa: PLC0415

    return CsvWriter(stream)


_MAKERS: Final[Mapping[str, Callable[[TextIO, Rules, Failing], ReportWriter]]] = {
    "text": _text,
    "json": _json,
    "sarif": _sarif,
    "junit": _junit,
    "annotations": _annotations,
    "markdown": _markdown,
    "csv": _csv,
}
