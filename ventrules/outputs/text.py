"""The text that people read: findings by file, with place, arithmetic, basis and what to do."""

import textwrap
import unicodedata
from collections.abc import Sequence
from typing import Final

from ventrules.checking import Outcome
from ventrules.engine import Finding, Report, Severity
from ventrules.outputs.paper import Paper
from ventrules.words import listed

_STYLES: Final = {Severity.ERROR: "bold red", Severity.WARNING: "bold yellow", Severity.ADVICE: "bold cyan"}
_LABEL_WIDTH: Final = 9
_INDENT: Final = 2
_NARROWEST: Final = 20
_MOST_NAMED: Final = 3


def printable(text: str) -> str:
    """Return text without anything that a terminal would obey: control and direction characters made visible."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(_visible(char) for char in text)


def _visible(char: str) -> str:
    hidden = unicodedata.category(char) in {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
    return f"\\u{ord(char):04x}" if hidden else char


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


class TextWriter:
    """Writes outcomes for people, one file at a time, and a closing line that counts."""

    def __init__(self, paper: Paper) -> None:
        self._paper = paper
        self._files = 0
        self._unusable = 0
        self._unchecked = 0
        self._counts = dict.fromkeys(Severity, 0)

    def write(self, outcome: Outcome) -> None:
        """Write what came of one file."""
        self._files += 1
        if outcome.report is None:
            self._unusable += 1
            self._write_problems(outcome)
        else:
            self._write_report(outcome.file, outcome.report)

    def close(self, left_out: Sequence[str]) -> None:
        """Write the closing line.

        Args:
            left_out: Files in searched folders that are no jobs.
        """
        said = [
            _count(self._counts[Severity.ERROR], "error", "errors"),
            _count(self._counts[Severity.WARNING], "warning", "warnings"),
            _count(self._counts[Severity.ADVICE], "piece of advice", "pieces of advice"),
        ]
        line = f"{_count(self._files - self._unusable, 'file', 'files')} checked: {listed(said)}."
        if self._unchecked:
            line += f" {_count(self._unchecked, 'check', 'checks')} could not be made."
        if self._unusable:
            line += f" {_count(self._unusable, 'file', 'files')} could not be used."
        if left_out:
            names = ", ".join(printable(name) for name in left_out[:_MOST_NAMED]) + (
                ", …" if len(left_out) > _MOST_NAMED else ""
            )
            line += f" Left out, since not jobs: {names}."
        self._lines(line, style="bold")

    def _head(self, text: str, style: str = "bold") -> None:
        """Write a line that begins with a path; it is never broken, so that it can be copied."""
        self._paper.line([(text, style)])

    def _lines(self, text: str, indent: int = 0, style: str = "") -> None:
        for line in self._wrapped(text, indent):
            self._paper.line([(" " * indent, ""), (line, style)])

    def _wrapped(self, text: str, indent: int) -> list[str]:
        width = max(self._paper.width - indent, _NARROWEST)
        return textwrap.wrap(text, width, break_on_hyphens=False) or [""]

    def _blank(self) -> None:
        self._paper.line([])

    def _write_problems(self, outcome: Outcome) -> None:
        self._head(f"{printable(outcome.file)}: cannot be used")
        for problem in outcome.problems:
            where = f"{printable(str(problem.position))}  " if problem.position else ""
            inside = f"{printable(problem.where)}: " if problem.path else ""
            other = f"{printable(problem.file)}: " if not where and problem.file not in ("", outcome.file) else ""
            self._lines(f"{where}{other}{inside}{printable(problem.message)}", _INDENT)
        self._blank()

    def _write_report(self, file: str, report: Report) -> None:
        for severity in Severity:
            self._counts[severity] += len(report.of(severity))
        self._unchecked += len(report.unchecked)
        head = f"{printable(file)}: {printable(report.job)}"
        if not report.findings:
            self._head(f"{head}: nothing to say, {_count(len(report.rules_run), 'rule', 'rules')} ran", style="")
            self._blank()
            return
        self._head(head)
        for finding in report.findings:
            self._write_finding(finding)
        cautions = dict.fromkeys(c for finding in report.findings for c in finding.cautions)
        for caution in cautions:
            self._labeled("Caution", caution, "bold")
        if cautions:
            self._blank()

    def _write_finding(self, finding: Finding) -> None:
        label = "not checked" if finding.unchecked else finding.severity.value
        style = "" if finding.unchecked else _STYLES[finding.severity]
        for line in self._wrapped(f"{label}: {printable(finding.title)}", _INDENT):
            marked = f"{label}:" if line.startswith(f"{label}:") else ""
            self._paper.line([(" " * _INDENT, ""), (marked, style), (line.removeprefix(marked), "bold")])
        line = f", line {finding.position.line}" if finding.position else ""
        self._labeled("Where", f"{printable(finding.place.name)}{line}")
        self._labeled("Found", printable(finding.message))
        if finding.working:
            self._labeled("Working", printable(finding.working))
        self._labeled("Basis", printable(str(finding.basis)))
        self._labeled("To do", printable(finding.todo))
        if finding.remedy:
            offered = " (has to be bought)" if finding.remedy.changes_purchase else ""
            self._labeled("Offer", printable(finding.remedy.title) + offered)
        self._labeled("Rule", finding.rule)
        self._blank()

    def _labeled(self, label: str, text: str, style: str = "dim") -> None:
        for number, line in enumerate(self._wrapped(text, _INDENT * 2 + _LABEL_WIDTH)):
            head = f"{' ' * _INDENT * 2}{label if number == 0 else '':<{_LABEL_WIDTH}}"
            self._paper.line([(head, style), (line, "")])
