"""The JSON form of a repair; documented in docs/repair.md, grows only by adding."""

from attrs import frozen

from ventrules.engine import Finding, Report
from ventrules.engine.findings import Document
from ventrules.files import Problem
from ventrules.outputs.json_parts import findings, head, problem, text
from ventrules.repairing import Repaired, measure


@frozen
class Shown:
    """A repair and what came of it in the file.

    Attributes:
        file: The job's file.
        repaired: The repair.
        left: The findings that no remedy answers, with their lines.
        diff: What changes in the text, as a unified diff; empty when nothing does.
        written: Whether it was written.
        problem: Why the text could not be changed, or an empty text.
    """

    file: str
    repaired: Repaired
    left: tuple[Finding, ...]
    diff: str
    written: bool = False
    problem: str = ""


def repair_json(shown: Shown) -> str:
    """Return a repair as JSON text."""
    repaired = shown.repaired
    return text(
        {
            **head("repair", shown.file),
            "usable": True,
            "problems": [problem(Problem(shown.problem, file=shown.file))] if shown.problem else [],
            "job": repaired.job.title,
            "ok": repaired.report.ok,
            "written": shown.written,
            "before": _counts(repaired.before),
            "after": _counts(repaired.report),
            "changes": findings(change.finding for change in repaired.changes),
            "edits": [edit.as_patch() for change in repaired.changes for edit in change.remedy.edits],
            "diff": shown.diff,
            "offered": findings(change.finding for change in repaired.offered),
            "left": findings(shown.left),
        }
    )


def _counts(report: Report) -> Document:
    errors, warnings, advice = measure(report)
    return {"error": errors, "warning": warnings, "advice": advice, "unchecked": len(report.unchecked)}
