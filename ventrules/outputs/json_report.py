"""The JSON form of reports; documented in docs/json-output.md, grows only by adding."""

import json
from typing import TextIO

from ventrules import __version__
from ventrules.bulk import Outcome
from ventrules.checking import Rules
from ventrules.engine.findings import Document
from ventrules.engine.report import FORMAT
from ventrules.files import Problem
from ventrules.outputs.formats import Closing
from ventrules.outputs.json_writing import finite, harmless, pretty


class JsonWriter:
    """Writes one JSON document, a job at a time."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self._files = 0
        stream.write(f'{{\n  "ventrules-report": {FORMAT},\n  "version": {json.dumps(__version__)},\n  "files": [')

    def write(self, outcome: Outcome) -> None:
        """Write what came of one job."""
        self._stream.write("," if self._files else "")
        self._stream.write(f"\n    {_dumped(_outcome(outcome), '    ')}")
        self._files += 1

    def close(self, closing: Closing) -> None:
        """Write what all jobs come to."""
        tail: Document = {
            "left_out": list(closing.left_out),
            "more_left_out": closing.more_left_out,
            "summary": _summary(closing),
        }
        self._stream.write("\n  ]," if self._files else "],")
        self._stream.write(f"{_dumped(tail).removeprefix('{')}\n")


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
    return _dumped(data) + "\n"


def _dumped(data: Document, margin: str = "") -> str:
    # ASCII only: sound JSON whatever the stream's encoding and whatever bytes a file name holds.
    try:
        return harmless(pretty(data, margin))
    except ValueError:  # a rule of another make may give a number that is not finite
        return harmless(pretty(finite(data), margin))


def _summary(closing: Closing) -> dict[str, Document]:
    tally = closing.tally
    return {
        "files": tally.files,
        "unusable": tally.unusable,
        **{severity.value: count for severity, count in tally.counts.items()},
        "unchecked": tally.unchecked,
        "accepted": tally.accepted,
        "interrupted": closing.interrupted,
    }


def _outcome(outcome: Outcome) -> dict[str, Document]:
    problems: list[Document] = [_problem(problem) for problem in outcome.problems]
    head: dict[str, Document] = {"file": outcome.file, "line": outcome.line}
    if outcome.report is None:
        return {**head, "usable": False, "problems": problems}
    return {**outcome.report.as_dict(), **head, "usable": True, "problems": problems}


def _problem(problem: Problem) -> dict[str, Document]:
    at = problem.position
    position: Document = {"line": at.line, "column": at.column} if at else None
    return {"file": problem.file, "position": position, "place": problem.where, "message": problem.message}
