"""Findings that are let stand: by the job itself, beside the thing that they are about, and by the project's policy."""

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence
from datetime import date, datetime
from typing import Final, Protocol

from attrs import frozen

from ventrules.engine import Accepted, AcceptedBy, Finding, Path, Place, Severity
from ventrules.job import Acceptance, Job
from ventrules.policy.installed import Rules, installed_rules
from ventrules.policy.model import ProjectAcceptance
from ventrules.policy.terms import Policy
from ventrules.sources import practice
from ventrules.survey import Survey
from ventrules.words import clipped, nearest, shown

ENGINE: Final = "engine/"
"""What the ids of the engine's own findings begin with; those cannot be let stand."""
EXPIRED: Final = "engine/acceptance-expired"
UNUSED: Final = "engine/acceptance-unused"
_FAILED: Final = "engine/rule-failed"


class Accepting(Protocol):
    """What an acceptance says, wherever it is written."""

    @property
    def rule(self) -> str:
        """The id of the rule."""

    @property
    def reason(self) -> str:
        """Why its findings are let stand."""

    @property
    def until(self) -> date | None:
        """The last day on which they are."""

    @property
    def place(self) -> str | None:
        """The name of the finding's place; None for every place."""


@frozen
class _Written:
    """An acceptance in a job: the path of the thing it is beside, and of itself, with its name by meaning."""

    acceptance: Acceptance
    thing: Path
    at: Place


def today_here() -> date:
    """Return the day that it is where the program runs."""
    return datetime.now().astimezone().date()


def is_over(acceptance: Accepting, today: date) -> bool:
    """Say whether an acceptance is past its last day."""
    return acceptance.until is not None and acceptance.until < today


def fits(acceptance: Accepting, finding: Finding) -> bool:
    """Say whether an acceptance is about a finding's rule and place; the engine's own findings have none."""
    return (
        finding.rule == acceptance.rule
        and not finding.rule.startswith(ENGINE)
        and (acceptance.place is None or acceptance.place == finding.place.name)
    )


def failed_rules(findings: Iterable[Finding]) -> frozenset[str]:
    """Return the rules that failed while they ran, so that it is not known what all they would have found."""
    return frozenset(str(finding.evidence.get("rule", "")) for finding in findings if finding.rule == _FAILED)


def settled(
    job: Job,
    findings: Sequence[Finding],
    rules: Rules,
    *,
    policy: Policy | None = None,
    today: date | None = None,
    file: str = "",
) -> tuple[tuple[Finding, ...], tuple[Accepted, ...]]:
    """Return the findings that count, and those that are let stand.

    Acceptances of the job that are past their date, or let nothing stand though their rule ran, are findings
    themselves.

    Args:
        job: The job.
        findings: What was found in it, in order.
        rules: The rules that ran.
        policy: The project's policy.
        today: The day for which end dates are judged; by default the day that it is here.
        file: The file by which the policy's patterns know it; by default what the job was read from.
    """
    written = sorted(_written(job), key=_nearest_first)
    project = _project(job, findings, policy, file) if policy is not None and policy.table.accepted else []
    if not written and not project:
        return tuple(findings), ()
    day = today if today is not None else today_here()
    own = [one for one in written if not is_over(one.acceptance, day)]
    project = sorted((a for a in project if not is_over(a, day)), key=_preference)
    counting: list[Finding] = []
    standing: list[Accepted] = []
    for finding in findings:
        accepted = _accepted(finding, own, project)
        if accepted is None:
            counting.append(finding)
        else:
            standing.append(accepted)
    said = list(_said(written, findings, rules, day)) if written else []
    if said:
        counting = sorted((*counting, *said), key=lambda finding: finding.sort_key)
    return tuple(counting), tuple(standing)


def _project(job: Job, findings: Sequence[Finding], policy: Policy, file: str) -> list[ProjectAcceptance]:
    """Return the policy's acceptances that cover a job and are about a rule that found something."""
    found = {finding.rule for finding in findings}
    relative = policy.relative(file or (job.origin.name if job.origin is not None else None))
    return [each for each in policy.table.accepted if each.rule in found and policy.covers(each, relative)]


def _accepted(finding: Finding, own: Iterable[_Written], project: Iterable[Accepting]) -> Accepted | None:
    for one in own:
        if _lets_stand(one, finding):
            return Accepted(finding, AcceptedBy.JOB, one.acceptance.reason, one.acceptance.until)
    for each in project:
        if fits(each, finding):
            return Accepted(finding, AcceptedBy.POLICY, each.reason, each.until)
    return None


def _lets_stand(one: _Written, finding: Finding) -> bool:
    return fits(one.acceptance, finding) and finding.place.path[: len(one.thing)] == one.thing


def _preference(acceptance: Accepting) -> tuple[bool, bool, str, str]:
    """Order of acceptances for one finding: the one that is about its place, then the one that ends, then by reason."""
    until = acceptance.until.isoformat() if acceptance.until is not None else ""
    return (acceptance.place is None, acceptance.until is None, until, acceptance.reason)


def _nearest_first(one: _Written) -> tuple[int, tuple[bool, bool, str, str]]:
    return (-len(one.thing), _preference(one.acceptance))


def _written(job: Job) -> Iterator[_Written]:
    """Yield every acceptance in a job."""
    yield from _beside(job.accepted, (), "")
    for name, device in job.devices.items():
        if device.accepted:
            yield from _beside(device.accepted, ("devices", name), f"devices / {name} / ")
    for name, settings in job.settings.items():
        if settings.accepted:
            yield from _beside(settings.accepted, ("settings", name), f"settings / {name} / ")
    if any(cable.accepted for cable in job.cables):
        for view in Survey(job).cables:
            yield from _beside(view.cable.accepted, view.place.path, f"{view.place.name} / ")


def _beside(accepted: Sequence[Acceptance], thing: Path, before: str) -> Iterator[_Written]:
    seen: Counter[str] = Counter()
    for number, acceptance in enumerate(accepted):
        name = accepted_name(acceptance, before, seen)
        yield _Written(acceptance, thing, Place((*thing, "accepted", number), name))


def accepted_name(acceptance: Accepting, before: str, seen: Counter[str]) -> str:
    """Return the name of an acceptance's place by meaning: what it is about, numbered where that is said again.

    Args:
        acceptance: The acceptance.
        before: The name of the thing that it is beside.
        seen: How often each name came before; counted on.
    """
    where = f" at {acceptance.place}" if acceptance.place is not None else ""
    name = f"{before}accepted / {acceptance.rule}{where}"
    seen[name] += 1
    return name if seen[name] == 1 else f"{name} ({seen[name]})"


def _said(written: Iterable[_Written], findings: Sequence[Finding], rules: Rules, day: date) -> Iterator[Finding]:
    """Yield what is to be said of the acceptances themselves."""
    ran = frozenset(rule.id for rule in rules)
    known = frozenset(rule.id for rule in installed_rules()) | ran
    failed = failed_rules(findings)
    for one in written:
        rule = one.acceptance.rule
        if rule in known and (rule not in ran or rule in failed):
            continue  # what the rule would have found is not known
        there = any(_lets_stand(one, finding) for finding in findings)
        if is_over(one.acceptance, day):
            yield expired(one.acceptance, one.at, still=there)
        elif not there:
            yield unused(one.acceptance, one.at, known)


def expired(acceptance: Accepting, at: Place, *, still: bool) -> Finding:
    """Return the finding that an acceptance is past its last day.

    Args:
        acceptance: The acceptance; it has a last day.
        at: Where it is written.
        still: Whether what it let stand is still found.
    """
    then = "what it let stand counts again" if still else "what it let stand is no longer found"
    return Finding(
        rule=EXPIRED,
        title="An acceptance is past its last day",
        severity=Severity.WARNING,
        place=at,
        message=f"Rule {_id(acceptance)} was let stand until {acceptance.until} ({_reason(acceptance)}): {then}.",
        todo="Put it right, or decide again and write a new last day." if still else "Take the acceptance out.",
        basis=practice("what is let stand for a time is looked at again after it"),
        evidence={"rule": acceptance.rule, "until": str(acceptance.until), "reason": acceptance.reason},
    )


def unused(acceptance: Accepting, at: Place, known: Collection[str]) -> Finding:
    """Return the finding that an acceptance lets nothing stand.

    Args:
        acceptance: The acceptance.
        at: Where it is written.
        known: The ids of all rules.
    """
    return Finding(
        rule=UNUSED,
        title="An acceptance lets nothing stand",
        severity=Severity.WARNING,
        place=at,
        message=_why_unused(acceptance, known),
        todo="Take the acceptance out, or write the rule and the place that are meant.",
        basis=practice("an acceptance that is not needed would hide the next fault of its kind"),
        evidence={"rule": acceptance.rule, "reason": acceptance.reason},
    )


def _why_unused(acceptance: Accepting, known: Collection[str]) -> str:
    if acceptance.rule in known:
        where = f" at {shown(acceptance.place)}" if acceptance.place is not None else ""
        return f"Rule {_id(acceptance)} ran and found nothing{where} that would be let stand here."
    return f"{no_such_rule(acceptance.rule, known)}."


def no_such_rule(name: str, known: Collection[str]) -> str:
    """Return why no finding of a name can be let stand, in words, with the nearest rule."""
    if name.startswith(ENGINE):
        return f"What the engine itself reports, such as {clipped(name)!r}, cannot be let stand"
    its_rules = sorted(rule for rule in known if rule.startswith(f"{name}/"))
    if its_rules:
        return f"{clipped(name)!r} is a family; expected one rule of it, such as {its_rules[0]!r}"
    close = nearest(name, known)
    return f"There is no rule {clipped(name)!r}" + (f"; nearest is {close!r}" if close else "")


def _id(acceptance: Accepting) -> str:
    return shown(acceptance.rule)


def _reason(acceptance: Accepting) -> str:
    return clipped(acceptance.reason.strip().rstrip("."), 200)
