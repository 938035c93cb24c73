"""Apply remedies until nothing more applies, checking after each."""

from collections.abc import Collection
from typing import Final

from attrs import frozen

from ventrules.checking import Rules, check
from ventrules.engine import Finding, Remedy, Report, Severity
from ventrules.files import JobFileError, apply_edits, job_document, rebuilt
from ventrules.job import Job

_MOST_ROUNDS: Final = 200


@frozen
class Change:
    """One remedy that was applied, and the finding that it answered."""

    finding: Finding
    remedy: Remedy


@frozen
class Repaired:
    """The outcome of a repair.

    Attributes:
        job: The new job; the old one when nothing applied.
        changes: What was changed and why, in order.
        report: The report on the new job.
    """

    job: Job
    changes: tuple[Change, ...]
    report: Report


def applied(job: Job, remedy: Remedy) -> Job:
    """Return a new job with one remedy applied.

    Raises:
        JobFileError: The edits do not lead to a sound job.
        ValueError: The edits do not fit the job.
    """
    return rebuilt(apply_edits(job_document(job), remedy.edits), job)


def repair(job: Job, *, registry: Rules | None = None, purchases: bool = False) -> Repaired:
    """Return a new job with every remedy applied that makes things better.

    One remedy at a time, worst finding first, and the job is checked after each. A remedy is kept only
    when its finding is gone and no new error has come. Every kept remedy takes a finding away for good
    or is not tried again, so that the rounds end.

    Args:
        job: The job.
        registry: The rules to run; by default those of every installed pack.
        purchases: Whether remedies that change what is bought are applied too.
    """
    changes: list[Change] = []
    report = check(job, registry=registry)
    tried: set[tuple[str, str]] = set()
    for _round in range(_MOST_ROUNDS):
        step = _next(job, report, tried, registry, purchases=purchases)
        if step is None:
            break
        job, report, change = step
        changes.append(change)
    return Repaired(job, tuple(changes), report)


def _next(
    job: Job, report: Report, tried: set[tuple[str, str]], registry: Rules | None, *, purchases: bool
) -> tuple[Job, Report, Change] | None:
    for finding in report.findings:
        remedy = finding.remedy
        if remedy is None or (remedy.changes_purchase and not purchases):
            continue
        key = (finding.fingerprint, remedy.title)
        if key in tried:
            continue
        tried.add(key)
        try:
            better = applied(job, remedy)
        except (JobFileError, ValueError):
            continue
        after = check(better, registry=registry)
        if _kept(finding, report, after):
            return better, after, Change(finding, remedy)
    return None


def _kept(finding: Finding, before: Report, after: Report) -> bool:
    gone = finding.fingerprint not in {f.fingerprint for f in after.findings}
    return gone and not new_errors(before.findings, after.findings)


def new_errors(before: Collection[Finding], after: Collection[Finding]) -> tuple[Finding, ...]:
    """Return the errors after a change that were not there before."""
    old = {finding.fingerprint for finding in before}
    return tuple(f for f in after if f.severity is Severity.ERROR and not f.unchecked and f.fingerprint not in old)
