"""Rules about upkeep: the filter reminder."""

from ventrules.engine import Evidence, Remedy, Rule, Severity, evidence
from ventrules.job import FilterInterval
from ventrules.planner import put
from ventrules.rules import selectors
from ventrules.rules.cautions import ACCESS
from ventrules.sources import Basis, Known, practice
from ventrules.survey import VentilatorView
from ventrules.units import at_least, at_most


def _allowed(ventilator: VentilatorView) -> tuple[FilterInterval, Basis]:
    """Return the range of the filter reminder: the unit's own, else common practice."""
    own = ventilator.model.filter_interval
    if own is not None:
        return own, Basis("catalog entry of the model", Known.CATALOG)
    usual = ventilator.survey.limits.filter_interval
    return FilterInterval(usual.least, usual.usual, usual.most), usual.basis


def _out_of_range(ventilator: VentilatorView) -> Evidence | None:
    reminder = ventilator.settings.filter_reminder if ventilator.settings else None
    allowed, basis = _allowed(ventilator)
    if reminder is None or (at_least(reminder.s, allowed.least.s) and at_most(reminder.s, allowed.most.s)):
        return None
    return evidence(
        at=ventilator.at("filter_reminder"),
        basis=basis,
        ventilator=ventilator.name,
        reminder=reminder,
        least=allowed.least,
        most=allowed.most,
        usual=allowed.usual,
    )


def _not_set(ventilator: VentilatorView) -> Evidence | None:
    if ventilator.settings is None or ventilator.settings.filter_reminder is not None:
        return None
    allowed, basis = _allowed(ventilator)
    return evidence(at=ventilator.at(), basis=basis, ventilator=ventilator.name, usual=allowed.usual)


def _usual(ventilator: VentilatorView) -> Remedy:
    usual = _allowed(ventilator)[0].usual
    whose = "The maker's own" if ventilator.model.filter_interval is not None else "The trade's"
    return Remedy(
        title=f"Set the filter reminder of {ventilator.name} to {usual}",
        edits=put(ventilator.survey.job, ("settings", ventilator.name, "filter_reminder"), str(usual)),
        check_on_site="Look at the filters on the first visit; a dusty site needs a shorter interval.",
        assumes=f"{whose} usual interval suits the dust there.",
    )


OUT_OF_RANGE = Rule(
    id="upkeep/filter-interval-out-of-range",
    title="The filter reminder is outside what the unit allows",
    severity=Severity.WARNING,
    each=selectors.driven_ventilators,
    check=_out_of_range,
    message="The filter reminder of {ventilator} is {reminder}; {least} to {most} is allowed, {usual} is usual.",
    todo="Set it to {usual}, or to what the site's dust asks for within the range.",
    basis=practice("filter reminder"),
    cautions=(ACCESS,),
    remedy=_usual,
)
NOT_SET = Rule(
    id="upkeep/no-filter-reminder",
    title="No filter reminder is set",
    severity=Severity.WARNING,
    each=selectors.driven_ventilators,
    check=_not_set,
    message="{ventilator} has no filter reminder; {usual} is usual.",
    todo="Set the reminder to {usual} and show the occupants where the filters are.",
    basis=practice("filter reminder"),
    cautions=(ACCESS,),
    remedy=_usual,
)

RULES = (OUT_OF_RANGE, NOT_SET)
