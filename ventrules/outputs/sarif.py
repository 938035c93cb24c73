"""SARIF 2.1.0, the OASIS standard for what tools find in files; documented in docs/outputs.md.

Sections named here are those of the standard: Static Analysis Results Interchange Format (SARIF) Version 2.1.0,
OASIS Standard, 27 March 2020.
"""

import hashlib
from typing import Final, TextIO

from ventrules.bulk import Outcome
from ventrules.checking import Rules
from ventrules.engine import Accepted, AcceptedBy, Finding
from ventrules.engine.findings import Document
from ventrules.engine.report import finding_data
from ventrules.files.regions import InText
from ventrules.outputs.formats import Closing
from ventrules.outputs.json_writing import compact
from ventrules.outputs.sarif_places import ROOT, fixes, location, message_text, region, related
from ventrules.outputs.sarif_rules import LEVELS, descriptors, tool
from ventrules.outputs.text import left_out_line, printable
from ventrules.outputs.told import Standing, Told, told

SCHEMA: Final = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
_FINDING: Final = "ventrules/finding/v1"
_JOB: Final = "ventrules/job/v1"
_NTH: Final = "ventrules/nth/v1"
_IN_MESSAGE: Final = frozenset({"Where", "Working", "To do", "Caution"})


class SarifWriter:
    """Writes one SARIF log with one run, a result on each line."""

    def __init__(self, stream: TextIO, rules: Rules) -> None:
        self._stream = stream
        self._results = 0
        described = descriptors(rules)
        self._index = {str(each["id"]): number for number, each in enumerate(described)}
        run: dict[str, Document] = {
            "tool": tool(described),
            "columnKind": "unicodeCodePoints",
            "originalUriBaseIds": {ROOT: {"description": {"text": "The folder in which ventrules ran."}}},
        }
        head = f'{{\n"$schema": {compact(SCHEMA)},\n"version": "2.1.0",\n"runs": [\n'
        stream.write(f'{head}{compact(run)[:-1]},\n"results": [')

    def write(self, outcome: Outcome) -> None:
        """Write what came of one job."""
        for one in told(outcome):
            self._stream.write(",\n" if self._results else "\n")
            self._stream.write(compact(self._result(outcome, one)))
            self._results += 1

    def close(self, closing: Closing) -> None:
        """Write how the run went, and the end."""
        self._stream.write(f'\n],\n"invocations": [{compact(_invocation(closing))}]\n}}\n]\n}}\n')

    def _result(self, outcome: Outcome, one: Told) -> dict[str, Document]:
        finding = one.finding
        stands = _stands(outcome, one)
        fails = finding is None or not finding.unchecked
        result: dict[str, Document] = {"ruleId": one.rule}
        if one.rule in self._index:
            result["ruleIndex"] = self._index[one.rule]
        result |= {
            "kind": "fail" if fails else "open",
            "level": LEVELS[one.severity] if fails else "none",  # section 3.27.10: none for any kind but fail
            "message": {"text": message_text(_message(one))},
            "locations": [_location(one, stands)],
            "partialFingerprints": _fingerprints(outcome, one),
        }
        if finding is None:
            return result
        if finding.related:
            result["relatedLocations"] = related(one.file, finding.related, stands)
        if finding.remedy is not None and stands is not None and stands.fix:
            result["fixes"] = fixes(one.file, finding.remedy, stands)
        if one.accepted is not None:
            result["suppressions"] = [_suppression(one.accepted)]
        result["properties"] = _properties(one, finding)
        return result


def _stands(outcome: Outcome, one: Told) -> InText | None:
    found = outcome.in_text.get(one.fingerprint, ())
    return found[one.nth - 1] if one.nth <= len(found) else None


def _location(one: Told, stands: InText | None) -> Document:
    here = region(one.position, stands.region if stands is not None else None)
    if here is None and one.record is not None:
        here = {"startLine": one.record}
    return location(one.file, here, one.finding.place if one.finding is not None else None)


def _message(one: Told) -> str:
    """Return the whole message; its first sentence stands for itself (section 3.11.3)."""
    first = one.message if one.standing is not Standing.UNCHECKED else f"Not checked: {one.message}"
    return "\n".join([first, *(f"{label}: {text}" for label, text in one.detail if label in _IN_MESSAGE)])


def _fingerprints(outcome: Outcome, one: Told) -> dict[str, Document]:
    """Return what stays the same after unrelated edits; a reader takes it together with the file."""
    found: dict[str, Document] = {_FINDING: one.fingerprint}
    if outcome.line is not None:  # a file of many jobs: its lines move, the titles of its jobs stay
        found[_JOB] = hashlib.sha256(one.job.encode()).hexdigest()[:16]
    if one.nth > 1:
        found[_NTH] = str(one.nth)
    return found


def _suppression(accepted: Accepted) -> Document:
    until = accepted.until.isoformat() if accepted.until is not None else None
    return {
        "kind": "inSource" if accepted.by is AcceptedBy.JOB else "external",
        "justification": printable(accepted.reason),
        "properties": {"by": accepted.by.value, "until": until},
    }


def _properties(one: Told, finding: Finding) -> dict[str, Document]:
    data = finding_data(finding)
    own = {name: data[name] for name in ("fingerprint", "basis", "evidence")}
    return {"job": one.job, "standing": one.standing.value, **own}


def _invocation(closing: Closing) -> dict[str, Document]:
    found: dict[str, Document] = {"executionSuccessful": not closing.interrupted and not closing.tally.unusable}
    if closing.status is not None:
        found["exitCode"] = closing.status
    notes: list[Document] = []
    if closing.interrupted:
        notes.append({"level": "error", "message": {"text": "Stopped before the end: not all that was asked for."}})
    if closing.left_out:
        notes.append({"level": "note", "message": {"text": message_text(left_out_line(closing.left_out))}})
    if notes:
        found["toolExecutionNotifications"] = notes
    return found
