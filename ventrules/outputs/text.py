"""The text that people read: findings by file, with place, arithmetic, basis and what to do."""

import re
import textwrap
import unicodedata
from collections.abc import Sequence
from typing import Final

from ventrules.bulk import Outcome
from ventrules.engine import Finding, Report, Severity
from ventrules.outputs.formats import Closing
from ventrules.outputs.paper import Paper
from ventrules.words import listed

COMMAND: Final = re.compile(r"##(?=\w*\[)")
"""What some CI runners obey wherever it stands in a line."""
_STYLES: Final = {Severity.ERROR: "bold red", Severity.WARNING: "bold yellow", Severity.ADVICE: "bold cyan"}
WIDTH: Final = 100
"""Columns of a line where nothing says how many there are."""
_LABEL_WIDTH: Final = 9
_INDENT: Final = 2
_NARROWEST: Final = 20
_MOST_NAMED: Final = 3


def printable(text: str) -> str:
    """Return text without anything that a terminal or a CI runner would obey: such characters stand as their codes."""
    if not (text.isascii() and text.isprintable()):
        text = "".join(_visible(char) for char in text)
    return COMMAND.sub(r"\\u0023#", text) if "##" in text else text


def _visible(char: str) -> str:
    hidden = unicodedata.category(char) in {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
    return f"\\u{ord(char):04x}" if hidden else char


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def _called(outcome: Outcome) -> str:
    line = f", line {outcome.line}" if outcome.line is not None else ""
    return f"{printable(outcome.file)}{line}"


def left_out_line(names: Sequence[str]) -> str:
    """Return a sentence that names files that are no jobs, the first few of them."""
    named = ", ".join(printable(name) for name in names[:_MOST_NAMED])
    return f"Left out, since not jobs: {named}{', …' if len(names) > _MOST_NAMED else ''}."


def closing_line(closing: Closing) -> str:
    """Return what all outcomes come to, in a few sentences."""
    tally = closing.tally
    said = [
        _count(tally.counts[Severity.ERROR], "error", "errors"),
        _count(tally.counts[Severity.WARNING], "warning", "warnings"),
        _count(tally.counts[Severity.ADVICE], "piece of advice", "pieces of advice"),
    ]
    kind = ("job", "jobs") if tally.records else ("file", "files")
    line = f"{_count(tally.files - tally.unusable, *kind)} checked: {listed(said)}."
    if tally.accepted:
        line += f" {_count(tally.accepted, 'finding is', 'findings are')} let stand."
    if tally.unchecked:
        line += f" {_count(tally.unchecked, 'check', 'checks')} could not be made."
    if tally.unusable:
        line += f" {_count(tally.unusable, *kind)} could not be used."
    if closing.interrupted:
        line += " Stopped before the end."
    if closing.left_out:
        line += f" {left_out_line(closing.left_out)}"
    return line


class TextWriter:
    """Writes outcomes for people, one file at a time, and a closing line that counts."""

    def __init__(self, paper: Paper) -> None:
        self._paper = paper

    def write(self, outcome: Outcome) -> None:
        """Write what came of one file."""
        if outcome.report is None:
            self._write_problems(outcome)
        else:
            self._write_report(_called(outcome), outcome.report)

    def close(self, closing: Closing) -> None:
        """Write the closing line."""
        self._lines(closing_line(closing), style="bold")

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
        self._head(f"{_called(outcome)}: cannot be used")
        for problem in outcome.problems:
            where = f"{printable(str(problem.position))}  " if problem.position else ""
            inside = f"{printable(problem.where)}: " if problem.path else ""
            other = f"{printable(problem.file)}: " if not where and problem.file not in ("", outcome.file) else ""
            self._lines(f"{where}{other}{inside}{printable(problem.message)}", _INDENT)
        self._blank()

    def _write_report(self, called: str, report: Report) -> None:
        head = f"{called}: {printable(report.job)}"
        stand = f", {_count(len(report.accepted), 'finding', 'findings')} let stand" if report.accepted else ""
        if not report.findings:
            ran = _count(len(report.rules_run), "rule", "rules")
            self._head(f"{head}: nothing to say, {ran} ran{stand}", style="")
            self._blank()
            return
        self._head(head + stand)
        for finding in report.findings:
            self._write_finding(finding)
        cautions = dict.fromkeys(c for finding in report.findings for c in finding.cautions)
        for caution in cautions:
            self._labeled("Caution", printable(caution), "bold")
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
