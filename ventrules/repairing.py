"""Apply remedies until nothing more applies, checking after each."""

from datetime import date
from typing import Final, TypeAlias

from attrs import frozen

from ventrules.checking import Judge, Rules, applied, keeps_promise, within_limits
from ventrules.engine import Finding, Remedy, Report, Severity
from ventrules.files import JobFileError
from ventrules.job import Job
from ventrules.policy import Policy

Measure: TypeAlias = tuple[int, int, int]

# What is physical comes before what is set on it: a ventilator that gets its cable back may need no other program,
# and a program worked out for the wrong unit would have to be worked out again.
ORDER: Final = ("equipment", "wiring", "power", "settings", "airflow", "upkeep")
"""Families of rules in the order in which their remedies are tried; any others come after these, by name."""


@frozen
class Change:
    """One remedy, and the finding that it answers."""

    finding: Finding
    remedy: Remedy


@frozen
class Repaired:
    """The outcome of a repair.

    Attributes:
        job: The new job; the old one when nothing applied.
        changes: What was changed and why, in order.
        report: The report on the new job.
        before: The report on the old one.
        refused: Remedies that were tried on the new job and would not have made it better.
        offered: Remedies for the new job that were left because something has to be bought for them.
        answered: Fingerprints of the findings on the new job that one of them takes away, its own included.
    """

    job: Job
    changes: tuple[Change, ...]
    report: Report
    before: Report
    refused: tuple[Change, ...] = ()
    offered: tuple[Change, ...] = ()
    answered: frozenset[str] = frozenset()

    @property
    def left(self) -> tuple[Finding, ...]:
        """The findings on the new job that nothing answers that is offered, in the order of the report."""
        return tuple(finding for finding in self.report.findings if finding.fingerprint not in self.answered)


def measure(report: Report) -> Measure:
    """Return how much is wrong with a job: its errors, warnings and pieces of advice, checks made only."""
    return (
        len(report.of(Severity.ERROR)),
        len(report.of(Severity.WARNING)),
        len(report.of(Severity.ADVICE)),
    )


def repair(
    job: Job,
    *,
    registry: Rules | None = None,
    purchases: bool = False,
    policy: Policy | None = None,
    today: date | None = None,
) -> Repaired:
    """Return a new job with every remedy applied that makes things better.

    One remedy at a time, and the job is checked after each. A remedy is kept only when its finding is gone, no
    error is new, and the `measure` of the report has fallen: fewer errors; or as many errors and fewer warnings; or
    as many of both and less advice. Triples of natural numbers in that order cannot fall for ever, so a repair
    ends, whatever the rules and their remedies are. It ends where no remedy is left that would be kept. What is let
    stand stays as it is: neither is its own remedy applied, nor one that would change it.

    The worst finding goes first; of findings as bad as each other, those about what is physical go before those
    about what is set on it (`ORDER`), and then they go by place. So the outcome does not depend on the order of
    keys in the job.

    Args:
        job: The job.
        registry: The rules to run; by default those of every installed pack.
        purchases: Whether remedies that change what is bought are applied too.
        policy: What the project has decided.
        today: The day for which the end dates of acceptances are judged; by default the day that it is here.
    """
    judge = Judge.of(job, registry, policy, today)
    job = within_limits(job, policy)
    changes: list[Change] = []
    report = before = judge.report(job)
    while True:
        refused: list[Change] = []
        for change in _changes(report, purchases=purchases):
            better = _better(job, report, change, judge)
            if better is not None:
                job, report = better
                changes.append(change)
                break
            refused.append(change)
        else:
            offered = () if purchases else tuple(c for c in _changes(report) if c.remedy.changes_purchase)
            answered = frozenset().union(*(_answered(job, report, change, judge) for change in offered))
            return Repaired(job, tuple(changes), report, before, tuple(refused), offered, answered)


def _changes(report: Report, *, purchases: bool = True) -> list[Change]:
    """Return the remedies of a report in the order in which they are tried."""
    found = [Change(finding, finding.remedy) for finding in report.findings if finding.remedy is not None]
    return sorted((c for c in found if purchases or not c.remedy.changes_purchase), key=lambda c: _rank(c.finding))


def _rank(finding: Finding) -> tuple[bool, int, int, str, str, str]:
    family = finding.rule.partition("/")[0]
    place = ORDER.index(family) if family in ORDER else len(ORDER)
    name = "" if family in ORDER else family
    return (finding.unchecked, finding.severity.rank, place, name, finding.place.name, finding.rule)


def _answered(job: Job, report: Report, change: Change, judge: Judge) -> frozenset[str]:
    """Return the fingerprints of the findings that a remedy takes away; that of its own finding is among them."""
    own = frozenset({change.finding.fingerprint})
    try:
        there = {finding.fingerprint for finding in judge.counting(applied(job, change.remedy))}
    except (JobFileError, ValueError):
        return own
    return own | {finding.fingerprint for finding in report.findings if finding.fingerprint not in there}


def _better(job: Job, report: Report, change: Change, judge: Judge) -> tuple[Job, Report] | None:
    """Return the job with a remedy applied and the report on it, or None when that is no better."""
    try:
        better = applied(job, change.remedy)
    except (JobFileError, ValueError):
        return None
    after = judge.report(better)
    kept = keeps_promise(change.finding, report.findings, after.findings) and measure(after) < measure(report)
    return (better, after) if kept and _let_stand(report) <= _let_stand(after) else None


def _let_stand(report: Report) -> frozenset[tuple[str, str]]:
    """Return what is let stand, as it was found: someone has looked at just that."""
    return frozenset((one.finding.fingerprint, one.finding.message) for one in report.accepted)
