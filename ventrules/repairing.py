"""Apply remedies until nothing more applies, checking after each."""

from collections.abc import Collection
from typing import Final

from attrs import frozen

from ventrules.checking import Rules, applied, check, keeps_promise
from ventrules.engine import Finding, Remedy, Report
from ventrules.files import JobFileError
from ventrules.job import Job

_MOST_ROUNDS: Final = 2_000


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
        refused: Remedies that were tried on the new job and did not keep their promise there.
        complete: False when the work was stopped after very many rounds.
    """

    job: Job
    changes: tuple[Change, ...]
    report: Report
    refused: tuple[Change, ...] = ()
    complete: bool = True


def repair(job: Job, *, registry: Rules | None = None, purchases: bool = False) -> Repaired:
    """Return a new job with every remedy applied that makes things better.

    One remedy at a time, worst finding first, and the job is checked after each. A remedy is kept only
    when its finding is gone and no new error has come, and none is applied twice, so that the rounds end.

    Args:
        job: The job.
        registry: The rules to run; by default those of every installed pack.
        purchases: Whether remedies that change what is bought are applied too.
    """
    changes: list[Change] = []
    refused: dict[tuple[str, str], Change] = {}
    done: set[tuple[str, str]] = set()
    report = check(job, registry=registry)
    for _round in range(_MOST_ROUNDS):
        step = _next(job, report, done, refused, registry, purchases=purchases)
        if step is None:
            return Repaired(job, tuple(changes), report, tuple(refused.values()))
        job, report, change = step
        changes.append(change)
        done.add(_key(change))
        refused.clear()  # the job has changed: what did not work may work now
    return Repaired(job, tuple(changes), report, tuple(refused.values()), complete=False)


def _key(change: Change) -> tuple[str, str]:
    return (change.finding.fingerprint, change.remedy.title)


def _next(
    job: Job,
    report: Report,
    done: Collection[tuple[str, str]],
    refused: dict[tuple[str, str], Change],
    registry: Rules | None,
    *,
    purchases: bool,
) -> tuple[Job, Report, Change] | None:
    for finding in report.findings:
        remedy = finding.remedy
        if remedy is None or (remedy.changes_purchase and not purchases):
            continue
        change = Change(finding, remedy)
        if _key(change) in done:
            continue
        try:
            better = applied(job, remedy)
        except (JobFileError, ValueError):
            refused[_key(change)] = change
            continue
        after = check(better, registry=registry)
        if keeps_promise(finding, report.findings, after.findings):
            return better, after, change
        refused[_key(change)] = change
    return None
