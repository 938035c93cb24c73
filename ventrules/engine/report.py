"""The outcome of checking one job."""

from collections.abc import Mapping
from datetime import date
from enum import StrEnum
from typing import Final

from attrs import frozen

from ventrules.engine.findings import Document, Finding, Severity, Value, pointer
from ventrules.units import Quantity

FORMAT: Final = 1


class AcceptedBy(StrEnum):
    """Where it is written that a finding is let stand."""

    JOB = "job"
    POLICY = "policy"
    BASELINE = "baseline"


@frozen
class Accepted:
    """A finding that is let stand, so that it counts no more.

    Attributes:
        finding: The finding.
        by: Where that is written.
        reason: Why it is let stand.
        until: The last day on which it is; None for no end.
    """

    finding: Finding
    by: AcceptedBy
    reason: str
    until: date | None = None


@frozen
class Report:
    """What the rules have to say about one job.

    Attributes:
        job: The job's title.
        file: The name of the text it was read from, or an empty string.
        findings: All findings, in their documented order.
        rules_run: Ids of the rules that ran.
        accepted: Findings that are let stand, in the same order; they are not among `findings`.
    """

    job: str
    file: str
    findings: tuple[Finding, ...]
    rules_run: tuple[str, ...]
    accepted: tuple[Accepted, ...] = ()

    @property
    def ok(self) -> bool:
        """True when rules ran and none found an error."""
        return bool(self.rules_run) and not self.of(Severity.ERROR)

    @property
    def unchecked(self) -> tuple[Finding, ...]:
        """The checks that could not be made."""
        return tuple(finding for finding in self.findings if finding.unchecked)

    def of(self, severity: Severity) -> tuple[Finding, ...]:
        """Return the findings of one severity, without those that could not be checked."""
        return tuple(f for f in self.findings if f.severity is severity and not f.unchecked)

    def as_dict(self) -> dict[str, Document]:
        """Return the report as plain data, in the documented JSON form."""
        counts: dict[str, Document] = {severity.value: len(self.of(severity)) for severity in Severity}
        counts["unchecked"] = len(self.unchecked)
        counts["accepted"] = len(self.accepted)
        return {
            "job": self.job,
            "file": self.file,
            "ok": self.ok,
            "counts": counts,
            "rules_run": len(self.rules_run),
            "findings": [finding_data(finding) for finding in self.findings],
            "accepted": [_accepted_data(accepted) for accepted in self.accepted],
        }


def _accepted_data(accepted: Accepted) -> dict[str, Document]:
    until = accepted.until.isoformat() if accepted.until is not None else None
    return {**finding_data(accepted.finding), "by": accepted.by.value, "reason": accepted.reason, "until": until}


def finding_data(finding: Finding) -> dict[str, Document]:
    """Return a finding as plain data, in the documented JSON form."""
    data: dict[str, Document] = {
        "rule": finding.rule,
        "title": finding.title,
        "severity": finding.severity.value,
        "unchecked": finding.unchecked,
        "pointer": finding.pointer,
        "place": finding.place.name,
        "fingerprint": finding.fingerprint,
        "message": finding.message,
        "working": finding.working,
        "todo": finding.todo,
        "basis": {
            "title": finding.basis.title,
            "clause": finding.basis.clause,
            "known": finding.basis.known.value,
            "note": finding.basis.note,
        },
        "evidence": _evidence_data(finding.evidence),
        "related": [pointer(place.path) for place in finding.related],
        "cautions": list(finding.cautions),
        "position": None,
        "remedy": None,
    }
    if finding.position:
        data["position"] = {"line": finding.position.line, "column": finding.position.column}
    if finding.remedy:
        data["remedy"] = {
            "title": finding.remedy.title,
            "edits": [edit.as_patch() for edit in finding.remedy.edits],
            "check_on_site": finding.remedy.check_on_site,
            "changes_purchase": finding.remedy.changes_purchase,
            "assumes": finding.remedy.assumes,
        }
    return data


def _evidence_data(values: Mapping[str, Value]) -> dict[str, Document]:
    data: dict[str, Document] = {}
    for name, value in values.items():
        if isinstance(value, Quantity):
            data[name] = {"value": value.si, "unit": value.si_unit, "text": str(value)}
        else:
            data[name] = list(value) if isinstance(value, tuple) else value
    return data
