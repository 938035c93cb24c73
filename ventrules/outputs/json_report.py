"""The JSON form of reports; documented in docs/json-output.md, grows only by adding."""

import json
from collections.abc import Sequence

from ventrules import __version__
from ventrules.checking import Outcome, Rules
from ventrules.engine import Severity
from ventrules.engine.findings import Document
from ventrules.engine.report import FORMAT
from ventrules.files import Problem


def json_report(outcomes: Sequence[Outcome], left_out: Sequence[str]) -> str:
    """Return the outcomes as JSON text.

    Args:
        outcomes: What came of each file.
        left_out: Files in searched folders that are no jobs.
    """
    return _text(
        {
            "ventrules-report": FORMAT,
            "version": __version__,
            "summary": _summary(outcomes),
            "files": [_outcome(outcome) for outcome in outcomes],
            "left_out": list(left_out),
        }
    )


def json_rules(rules: Rules) -> str:
    """Return the rules as JSON text."""
    listed: list[Document] = [
        {
            "rule": rule.id,
            "title": rule.title,
            "severity": rule.severity.value,
            "pack": rules.packs[rule.id],
            "since": rule.since,
            "basis": str(rule.basis),
        }
        for rule in rules
    ]
    return _text({"ventrules-rules": FORMAT, "version": __version__, "rules": listed})


def _text(data: Document) -> str:
    # ASCII only: sound JSON whatever the stream's encoding and whatever bytes a file name holds.
    return json.dumps(data, indent=2, ensure_ascii=True) + "\n"


def _summary(outcomes: Sequence[Outcome]) -> dict[str, Document]:
    reports = [outcome.report for outcome in outcomes if outcome.report is not None]
    counts: dict[str, Document] = {
        severity.value: sum(len(report.of(severity)) for report in reports) for severity in Severity
    }
    counts["unchecked"] = sum(len(report.unchecked) for report in reports)
    return {"files": len(outcomes), "unusable": len(outcomes) - len(reports), **counts}


def _outcome(outcome: Outcome) -> dict[str, Document]:
    problems: list[Document] = [_problem(problem) for problem in outcome.problems]
    if outcome.report is None:
        return {"file": outcome.file, "usable": False, "problems": problems}
    return {**outcome.report.as_dict(), "file": outcome.file, "usable": True, "problems": problems}


def _problem(problem: Problem) -> dict[str, Document]:
    at = problem.position
    position: Document = {"line": at.line, "column": at.column} if at else None
    return {"file": problem.file, "position": position, "place": problem.where, "message": problem.message}
