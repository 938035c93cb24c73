"""Judge one job."""

from collections.abc import Iterable
from datetime import date
from typing import Final

import attrs
from attrs import frozen

from ventrules.engine import Finding, Remedy, Report, Severity, run
from ventrules.engine.once import forget
from ventrules.files import JobFileError, apply_edits, job_document, marks_of, rebuilt
from ventrules.job import Job, Role
from ventrules.policy import Policy, Rules, installed_rules, packs, rules_under, settled, today_here
from ventrules.survey import Survey

__all__ = [
    "Judge",
    "Rules",
    "applied",
    "check",
    "checked",
    "found_in",
    "installed_rules",
    "keeps_promise",
    "new_errors",
    "packs",
    "within_limits",
]
_MOST_PROVED: Final = 20_000  # remedies times parts of a job that `check` tries before it offers them
# What a job may have at most for remedies to be made: parts, and ventilators times its modes and one.
_FEW: Final = 25
_MOST_REMEDIED: Final = 400
_MOST_PROGRAMMED: Final = 200


def applied(job: Job, remedy: Remedy) -> Job:
    """Return a new job with one remedy applied.

    Args:
        job: The job; it stays as it is.
        remedy: The remedy of a finding about it.

    Raises:
        JobFileError: The edits do not lead to a sound job.
        ValueError: The edits do not fit the job.
    """
    return rebuilt(apply_edits(job_document(job), remedy.edits), job)


def found_in(job: Job, registry: Rules) -> tuple[Finding, ...]:
    """Return what rules find in a job, without remedies."""
    survey = Survey(job)
    found = run(registry, survey, remedies=False)
    forget(survey)
    return found


def new_errors(before: Iterable[Finding], after: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the errors after a change that were neither there nor unknown before."""
    old = {(finding.rule, finding.place.name) for finding in before}
    return tuple(
        f for f in after if f.severity is Severity.ERROR and not f.unchecked and (f.rule, f.place.name) not in old
    )


def keeps_promise(finding: Finding, before: Iterable[Finding], after: Iterable[Finding]) -> bool:
    """Say whether a remedy did what it promises: its finding is gone, and no new error has come."""
    after = tuple(after)
    return finding.fingerprint not in {f.fingerprint for f in after} and not new_errors(before, after)


def _proved(job: Job, findings: tuple[Finding, ...], registry: Rules) -> tuple[Finding, ...]:
    """Return the findings with only those remedies that keep their promise, each tried by itself."""
    offered = sum(finding.remedy is not None for finding in findings)
    if not offered or offered * _parts(job) > _MOST_PROVED:
        return findings  # nothing to try, or a very large job: `repair` tries each remedy when it applies it
    return tuple(
        finding
        if finding.remedy is None or _holds(job, finding, finding.remedy, findings, registry)
        else attrs.evolve(finding, remedy=None)
        for finding in findings
    )


def _parts(job: Job) -> int:
    """Return how many devices, cables, modes, programs and times of the calendar a job has: its check takes as long."""
    times = sum(map(len, job.calendar.days.values())) if job.calendar is not None else 0
    programs = sum(len(of_mode) for each in job.settings.values() for of_mode in each.programs.values())
    return len(job.devices) + len(job.cables) + len(job.modes) + programs + times


def _is_remedied(job: Job) -> bool:
    """Say whether remedies are made for a job; each of its ventilators may need some in each of its modes."""
    parts = _parts(job)
    if parts <= _FEW:
        return True
    ventilators = sum(job.model_of(name).role is Role.VENTILATOR for name in job.devices)
    return parts <= _MOST_REMEDIED and ventilators * (1 + len(job.modes)) <= _MOST_PROGRAMMED


def _holds(job: Job, finding: Finding, remedy: Remedy, findings: tuple[Finding, ...], registry: Rules) -> bool:
    try:
        better = applied(job, remedy)
    except (JobFileError, ValueError):
        return False
    return keeps_promise(finding, findings, found_in(better, registry))


def within_limits(job: Job, policy: Policy | None) -> Job:
    """Return a job that is judged by the limits that its project sets."""
    if policy is None or policy.shelf.limits is None or policy.shelf.limits == job.limits_file:
        return job
    return attrs.evolve(job, limits_file=policy.shelf.limits)


def check(
    job: Job, *, registry: Rules | None = None, policy: Policy | None = None, today: date | None = None
) -> Report:
    """Return what the rules have to say about a job.

    A remedy is offered only when, applied by itself, it makes its finding go away and brings no new error. What the
    job or the policy lets stand is not among the findings; it is in `accepted`.

    Args:
        job: The job.
        registry: The rules to run; by default those of every installed pack.
        policy: What the project has decided: which of these rules run and in what severity, limits, acceptances. Its
            catalogs and codes are for `read_job`, as `policy.shelf`.
        today: The day for which the end dates of acceptances are judged; by default the day that it is here.
    """
    rules = rules_under(policy, installed_rules() if registry is None else registry)
    return checked(job, rules, policy=policy, today=today)


def checked(
    job: Job, rules: Rules, *, policy: Policy | None = None, today: date | None = None, file: str = ""
) -> Report:
    """Return what rules have to say about a job, as `check` does, where they are as the policy has them already.

    Args:
        job: The job.
        rules: The rules to run.
        policy: What the project has decided otherwise.
        today: The day for which the end dates of acceptances are judged; by default the day that it is here.
        file: The file by which the policy's patterns know it; by default what the job was read from.
    """
    job = within_limits(job, policy)
    survey = Survey(job)
    findings = _proved(job, run(rules, survey, remedies=_is_remedied(job)), rules)
    forget(survey)
    findings, accepted = settled(job, findings, rules, policy=policy, today=today, file=file)
    origin = job.origin
    if origin is not None and (findings or accepted):
        marks = marks_of(origin.text, origin.name)

        def in_text(finding: Finding) -> Finding:
            return attrs.evolve(finding, position=marks.position(origin.name, finding.place.path))

        findings = tuple(map(in_text, findings))
        accepted = tuple(attrs.evolve(one, finding=in_text(one.finding)) for one in accepted)
    name = origin.name if origin is not None else ""
    return Report(job.title, name, findings, rules.ids, accepted)


@frozen
class Judge:
    """How every state of one job is judged while it is changed.

    Attributes:
        rules: The rules to run, as the policy has them.
        policy: What the project has decided otherwise.
        today: The day for which the end dates of acceptances are judged.
        file: The file by which the policy's patterns know the job.
    """

    rules: Rules
    policy: Policy | None
    today: date
    file: str

    @classmethod
    def of(cls, job: Job, registry: Rules | None, policy: Policy | None, today: date | None) -> "Judge":
        """Return the judge of a job, with the usual rules and for the day that it is where nothing else is given."""
        rules = rules_under(policy, installed_rules() if registry is None else registry)
        file = job.origin.name if job.origin is not None else ""
        return cls(rules, policy, today if today is not None else today_here(), file)

    def report(self, job: Job) -> Report:
        """Return the report on a state of the job."""
        return checked(job, self.rules, policy=self.policy, today=self.today, file=self.file)

    def counting(self, job: Job) -> tuple[Finding, ...]:
        """Return what is found in a state of the job and is not let stand, without remedies."""
        found = found_in(job, self.rules)
        return settled(job, found, self.rules, policy=self.policy, today=self.today, file=self.file)[0]
