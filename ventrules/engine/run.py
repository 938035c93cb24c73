"""One run of a registry over one view: order, counting, fault isolation."""

import traceback
from typing import Final, TypeVar

from ventrules.engine.findings import Finding, Place, RuleFault, Severity
from ventrules.engine.registry import AnyRule, Registry
from ventrules.sources import practice

V = TypeVar("V")

_TOP = Place((), "the whole job")

ENGINE_FINDINGS: Final = {
    "engine/rule-failed": (
        "# engine/rule-failed\n\nA rule raised an exception. The finding names the rule and the pack that brought "
        "it; what the rule looks for was not checked. The other rules ran.\n"
    ),
    "engine/no-rule-run": (
        "# engine/no-rule-run\n\nNo rule was selected or none could be loaded, so nothing was checked. "
        "A run that checks nothing is an error, never a pass.\n"
    ),
    "engine/pack-failed": (
        "# engine/pack-failed\n\nA rule pack is installed and could not be used: it does not import, is written "
        "for another engine interface, or declares a rule id that is taken. Its rules did not run.\n"
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
    for rule in registry:
        faults: list[RuleFault] = []
        try:
            for said in rule.examine(view, remedies=remedies):
                if isinstance(said, RuleFault):
                    faults.append(said)
                else:
                    findings.append(said)
        except Exception as error:  # any fault of a rule must not stop the others
            faults.append(RuleFault(error, "selecting"))
        if faults:
            findings.append(_failed(rule, registry.packs.get(rule.id, "?"), faults))
    if not len(registry):
        findings.append(_nothing_ran())
    findings.sort(key=lambda finding: finding.sort_key)
    return tuple(findings)


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
