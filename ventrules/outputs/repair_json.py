"""The JSON form of a repair; documented in docs/repair.md, grows only by adding."""

import json
from collections.abc import Iterable, Sequence

from attrs import frozen

from ventrules import __version__
from ventrules.engine import Finding, Report
from ventrules.engine.findings import Document
from ventrules.engine.report import FORMAT
from ventrules.files import Problem
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
    return _text(
        {
            **_head(shown.file),
            "usable": True,
            "problems": [_problem(Problem(shown.problem, file=shown.file))] if shown.problem else [],
            "job": repaired.job.title,
            "ok": repaired.report.ok,
            "written": shown.written,
            "before": _counts(repaired.before),
            "after": _counts(repaired.report),
            "changes": _findings(change.finding for change in repaired.changes),
            "edits": [edit.as_patch() for change in repaired.changes for edit in change.remedy.edits],
            "diff": shown.diff,
            "offered": _findings(change.finding for change in repaired.offered),
            "left": _findings(shown.left),
        }
    )


def unrepaired_json(file: str, problems: Sequence[Problem]) -> str:
    """Return what kept a file from being used as JSON text."""
    return _text({**_head(file), "usable": False, "problems": [_problem(problem) for problem in problems]})


def _head(file: str) -> dict[str, Document]:
    return {"ventrules-repair": FORMAT, "version": __version__, "file": file}


def _text(data: Document) -> str:
    return json.dumps(data, indent=2, ensure_ascii=True, allow_nan=False) + "\n"


def _problem(problem: Problem) -> Document:
    at = problem.position
    position: Document = {"line": at.line, "column": at.column} if at is not None else None
    return {"file": problem.file, "position": position, "place": problem.where, "message": problem.message}


def _counts(report: Report) -> Document:
    errors, warnings, advice = measure(report)
    return {"error": errors, "warning": warnings, "advice": advice, "unchecked": len(report.unchecked)}


def _findings(findings: Iterable[Finding]) -> Document:
    """Return findings as they stand in the report of `ventrules check`."""
    return Report("", "", tuple(findings), ()).as_dict()["findings"]
