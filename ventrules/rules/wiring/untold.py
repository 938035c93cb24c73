"""The rule about what a job does not tell of its cables."""

from ventrules.engine import AnyRule, CannotTell, Rule, Severity
from ventrules.rules import selectors
from ventrules.sources import practice
from ventrules.survey import Survey, UntoldView, cable_name
from ventrules.words import listed, some_of


def _not_told(untold: UntoldView) -> CannotTell:
    names = [cable_name(cable.cable) for cable in untold.cables]
    which = f"{'cables' if names[1:] else 'cable'} {some_of(names)}"
    lacking = [what for what, cables in (("the gauge", untold.ungauged), ("the length", untold.unmeasured)) if cables]
    return CannotTell(
        f"The job does not tell {listed(lacking)} of the {which}. Not judged: {listed(untold.needed_for)}.",
        "Read the gauge off the jacket, measure the length along the run, and add both to the job.",
    )


NOT_TOLD = Rule(
    id="wiring/cable-not-told",
    title="The job does not tell the size of a cable",
    severity=Severity.WARNING,
    each=selectors.untold_cables,
    check=_not_told,
    message="",
    todo="",
    basis=practice("gauge and length of each cable are noted when it is run"),
)

RULES: tuple[AnyRule[Survey], ...] = (NOT_TOLD,)
