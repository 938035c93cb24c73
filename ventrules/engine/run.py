"""One run of a registry over one view: order, counting, fault isolation."""

import traceback
from collections.abc import Sequence
from typing import Final, TypeAlias, TypeVar

from ventrules.engine.findings import Finding, Place, RuleFault, Severity
from ventrules.engine.registry import AnyRule, Registry
from ventrules.engine.rule import HasPlace, Rule
from ventrules.sources import practice

V = TypeVar("V")
_Said: TypeAlias = list[Finding | RuleFault]

_TOP = Place((), "the whole job")

UNUSABLE_FILE: Final = "engine/unusable-file"
"""What keeps a file from being used is no finding of a run; where only findings can be shown it has this id."""

ENGINE_FINDINGS: Final = {
    "engine/rule-failed": (
        "# engine/rule-failed\n\nA rule raised an exception. The finding names the rule and the pack that brought "
        "it; what the rule looks for was not checked. The other rules ran.\n"
    ),
    "engine/no-rule-run": (
        "# engine/no-rule-run\n\nNo rule was selected or none could be loaded, so nothing was checked. "
        "A run that checks nothing is an error, never a pass.\n"
    ),
    UNUSABLE_FILE: (
        "# engine/unusable-file\n\nA file cannot be read as a job, so nothing in it was checked: it is missing, is no "
        "YAML or JSON, has a key or a value that does not belong there, or names what does not exist. Formats that "
        "know findings only show each such problem under this name.\n"
    ),
    "engine/pack-failed": (
        "# engine/pack-failed\n\nA rule pack is installed and could not be used: it does not import, is written "
        "for another engine interface, or declares a rule id that is taken. Its rules did not run.\n"
    ),
    "engine/acceptance-expired": (
        "# engine/acceptance-expired\n\nA finding was let stand up to a day that is past, in a job or in the policy. "
        "It counts again. Put it right, or decide again and write a new last day.\n"
    ),
    "engine/acceptance-unused": (
        "# engine/acceptance-unused\n\nA job or the policy lets stand what is not found, though the rule ran and all "
        "that the acceptance covers was checked; or there is no such rule. Take it out: it would hide the next fault "
        "of its kind.\n"
    ),
    "engine/baseline-entry-gone": (
        "# engine/baseline-entry-gone\n\nThe baseline lets stand what is no longer found. Write it again with "
        "`ventrules baseline`, so that the fault cannot come back unseen.\n"
    ),
}
"""What the engine itself may report, explained."""


def run(registry: Registry[V], view: V, *, remedies: bool = True) -> tuple[Finding, ...]:
    """Return the findings of every rule of a registry in one view, in their documented order.

    A rule that raises becomes an `engine/rule-failed` finding; its other subjects and the other rules are
    still looked at. A registry without rules is a finding as well, since nothing was checked.

    Args:
        registry: The rules.
        view: What they look at.
        remedies: Whether they propose remedies.
    """
    findings: list[Finding] = list(registry.failures)
    said: list[tuple[AnyRule[V], _Said]] = [(rule, _alone(rule, view, remedies=remedies)) for rule in registry.others]
    for rules in registry.together:
        said += _examined(rules, view, remedies=remedies)
    for rule, findings_and_faults in said:
        findings += [finding for finding in findings_and_faults if isinstance(finding, Finding)]
        faults = [fault for fault in findings_and_faults if isinstance(fault, RuleFault)]
        if faults:
            findings.append(_failed(rule, registry.packs.get(rule.id, "?"), faults))
    if not len(registry):
        findings.append(_nothing_ran())
    findings.sort(key=lambda finding: finding.sort_key)
    return tuple(findings)


def _examined(rules: Sequence[Rule[V, HasPlace]], view: V, *, remedies: bool) -> Sequence[tuple[AnyRule[V], _Said]]:
    """Return the rules that have something to say, with what they say; all of them have the same selector.

    Most rules have nothing to say of most jobs, so what counts is how soon that is known: subjects are selected once
    for all these rules, and nothing but a rule's own check runs for each subject.
    """
    subjects: list[HasPlace] = []
    unselected: _Said = []
    try:
        subjects.extend(rules[0].each(view))  # one by one: those before a fault are kept
    except Exception as error:  # what has been selected by then is still looked at
        unselected.append(RuleFault(error, "selecting"))
    if not subjects and not unselected:
        return ()
    found: list[tuple[AnyRule[V], _Said]] = []
    for rule in rules:
        check, said = rule.check, unselected
        for subject in subjects:
            try:
                verdict = check(subject)
            except Exception as error:  # the other subjects are still looked at
                said = [*said, RuleFault(error, "judging")]
            else:
                if verdict is not None:
                    said = [*said, *rule.say(subject, verdict, remedies=remedies)]
        if said:
            found.append((rule, said))
    return found


def _alone(rule: AnyRule[V], view: V, *, remedies: bool) -> _Said:
    """Return what a rule of another make says."""
    said: _Said = []
    try:
        for finding in rule.examine(view, remedies=remedies):
            said.append(finding)
    except Exception as error:  # any fault of a rule must not stop the others
        said.append(RuleFault(error, "selecting"))
    return said


def _failed(rule: AnyRule[V], pack: str, faults: list[RuleFault]) -> Finding:
    error, doing = faults[0].error, faults[0].doing
    times = "once" if len(faults) == 1 else f"{len(faults)} times"
    last = traceback.extract_tb(error.__traceback__)[-1]
    return Finding(
        rule="engine/rule-failed",
        title="A rule failed while it ran",
        severity=Severity.ERROR,
        place=Place((), f"rule {rule.id}"),
        message=(
            f"Rule {rule.id} of pack {pack} failed {times}, first while {doing}, with {type(error).__name__}: "
            f"{error} (in {last.name}, line {last.lineno}); what it looks for was not fully checked."
        ),
        todo=f"Report this to whoever maintains pack {pack}, with the job file.",
        basis=practice("a check that did not run proves nothing"),
        evidence={"rule": rule.id, "pack": pack, "error": type(error).__name__},
    )


def _nothing_ran() -> Finding:
    return Finding(
        rule="engine/no-rule-run",
        title="No rule ran",
        severity=Severity.ERROR,
        place=_TOP,
        message="No rule ran, so nothing was checked.",
        todo="Select at least one rule, or reinstall ventrules so that its own rules are found.",
        basis=practice("a check that did not run proves nothing"),
    )
