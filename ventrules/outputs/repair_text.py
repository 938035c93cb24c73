"""A repair as the text that people read: what was changed, what has to be bought, what is left, and the diff."""

from collections.abc import Sequence

from ventrules.engine import Finding
from ventrules.outputs.paper import Paper
from ventrules.outputs.repair_json import Shown
from ventrules.outputs.sheet import Sheet
from ventrules.outputs.text import printable
from ventrules.repairing import Change, measure
from ventrules.words import listed

_LABEL_WIDTH = 7
_DIFF_STYLES = {"+": "green", "-": "red", "@": "cyan"}


def repair_text(paper: Paper, shown: Shown) -> None:
    """Write a repair.

    Args:
        paper: What it is written on.
        shown: The repair.
    """
    page = Sheet(paper, _LABEL_WIDTH)
    repaired = shown.repaired
    page.head(f"{shown.file}: {repaired.job.title}")
    if repaired.changes:
        page.section("CHANGED" if shown.written else "TO BE CHANGED")
        for number, change in enumerate(repaired.changes, 1):
            _change(page, f"{number}. {change.finding.severity.value}: {change.finding.title}", change, "Change")
    if repaired.offered:
        page.section("HAS TO BE BOUGHT, and is only offered (--purchases takes it in)")
        for change in repaired.offered:
            _change(page, f"{change.finding.severity.value}: {change.finding.title}", change, "Offer")
    if shown.left:
        page.section("LEFT, since no remedy by itself answers it")
        for finding in shown.left:
            _left(page, finding)
    _cautions(page, shown)
    if shown.diff:
        page.section("WHAT CHANGED IN THE FILE" if shown.written else "WHAT WOULD CHANGE IN THE FILE")
        page.blank()
        _diff(paper, shown.diff)
    page.blank()
    page.lines(_closing(shown), style="bold")


def _change(page: Sheet, title: str, change: Change, label: str) -> None:
    finding, remedy = change.finding, change.remedy
    page.blank()
    page.lines(title, style="bold")
    _where(page, finding)
    page.labeled("Found", finding.message)
    page.labeled(label, remedy.title)
    if remedy.changes_purchase and label == "Change":
        page.labeled("To buy", "something has to be bought for this")
    if remedy.assumes:
        page.labeled("Assumes", remedy.assumes)
    if remedy.check_on_site:
        page.labeled("On site", remedy.check_on_site)
    page.labeled("Rule", finding.rule)


def _left(page: Sheet, finding: Finding) -> None:
    label = "not checked" if finding.unchecked else finding.severity.value
    page.blank()
    page.lines(f"{label}: {finding.title}", style="bold")
    _where(page, finding)
    page.labeled("Found", finding.message)
    page.labeled("To do", finding.todo)
    page.labeled("Rule", finding.rule)


def _where(page: Sheet, finding: Finding) -> None:
    line = f", line {finding.position.line}" if finding.position else ""
    page.labeled("Where", f"{finding.place.name}{line}")


def _cautions(page: Sheet, shown: Shown) -> None:
    """Write what can hurt whoever acts on any of it, each caution once."""
    acted: Sequence[Finding] = [
        *(change.finding for change in (*shown.repaired.changes, *shown.repaired.offered)),
        *shown.left,
    ]
    cautions = dict.fromkeys(caution for finding in acted for caution in finding.cautions)
    if cautions:
        page.section("CAUTIONS")
        page.blank()
        for caution in cautions:
            page.lines(caution, 2)


def _diff(paper: Paper, diff: str) -> None:
    """Write the diff, its lines never broken, so that `patch` can use it."""
    for line in diff.removesuffix("\n").split("\n"):
        style = "bold" if line.startswith(("+++", "---")) else _DIFF_STYLES.get(line[:1], "")
        paper.line([("\t".join(printable(part) for part in line.removesuffix("\r").split("\t")), style)])


def _closing(shown: Shown) -> str:
    repaired = shown.repaired
    after = f"{_counted(measure(repaired.report))} left"
    gone = sum(not f.unchecked and f.fingerprint in repaired.answered for f in repaired.report.findings)
    if gone:
        after += f", {gone} of which {'goes' if gone == 1 else 'go'} with what is offered"
    if repaired.report.unchecked:
        number = len(repaired.report.unchecked)
        after += f"; {number} {'check' if number == 1 else 'checks'} could not be made"
    number = len(repaired.changes)
    changes = f"{number} {'change' if number == 1 else 'changes'}"
    if shown.problem:
        return f"{changes}, which cannot be written into this file."
    if not number:
        nothing = "Nothing that can be changed" if repaired.report.findings else "Nothing to repair"
        return f"{nothing}: the file stays as it is; {after}."
    if shown.written:
        return f"{changes} written to {shown.file}; {after}. Now carry {'it' if number == 1 else 'them'} out on site."
    return f"{changes}, not written (--write writes); with them {after}."


def _counted(counts: tuple[int, int, int]) -> str:
    words = (("error", "errors"), ("warning", "warnings"), ("piece of advice", "pieces of advice"))
    return listed(f"{number} {one if number == 1 else many}" for number, (one, many) in zip(counts, words, strict=True))
