"""Rules about outdoor limits: the temperatures at which the controller stops ventilation."""

from ventrules.engine import CannotTell, Evidence, Remedy, Rule, Severity, evidence
from ventrules.job import OperatingLimits
from ventrules.planner import put
from ventrules.rules import selectors
from ventrules.rules.cautions import FROST
from ventrules.sources import Basis, Known, practice
from ventrules.survey import VentilatorView
from ventrules.units import Temperature, at_least, at_most

_CATALOG = Basis("catalog entry of the model", Known.CATALOG)


def _limits_inverted(ventilator: VentilatorView) -> Evidence | None:
    limits = ventilator.settings.outdoor_limits if ventilator.settings else None
    if limits is None or limits.off_at_or_below is None or limits.off_at_or_above is None:
        return None
    if not at_least(limits.off_at_or_below.kelvin, limits.off_at_or_above.kelvin):
        return None
    return evidence(
        at=ventilator.at("outdoor_limits"),
        ventilator=ventilator.name,
        below=limits.off_at_or_below,
        above=limits.off_at_or_above,
    )


def _limits_beyond_unit(ventilator: VentilatorView) -> Evidence | None:
    limits = ventilator.settings.outdoor_limits if ventilator.settings else None
    unit = ventilator.model.outdoor_limits
    if limits is None or unit is None or _limits_inverted(ventilator):
        return None
    low, high = limits.off_at_or_below, limits.off_at_or_above
    too_low = low is not None and not at_least(low.kelvin, unit.lowest.kelvin)
    too_high = high is not None and not at_most(high.kelvin, unit.highest.kelvin)
    if not too_low and not too_high:
        return None
    return evidence(
        at=ventilator.at("outdoor_limits"),
        ventilator=ventilator.name,
        below=low or "not set",
        above=high or "not set",
        lowest=unit.lowest,
        highest=unit.highest,
    )


def _swap_limits(ventilator: VentilatorView) -> Remedy | None:
    """Swap the two limits where that makes sense of them, else set the unit's own."""
    limits, unit = ventilator.settings.outdoor_limits if ventilator.settings else None, ventilator.model.outdoor_limits
    if limits is None or limits.off_at_or_below is None or limits.off_at_or_above is None:
        return None
    low, high = limits.off_at_or_above, limits.off_at_or_below
    if low.kelvin < high.kelvin and (unit is None or _within(low, high, unit)):
        return _set_limits(ventilator, low, high)
    return _set_limits(ventilator, unit.lowest, unit.highest) if unit is not None else None


def _within(low: Temperature, high: Temperature, unit: OperatingLimits) -> bool:
    return at_least(low.kelvin, unit.lowest.kelvin) and at_most(high.kelvin, unit.highest.kelvin)


def _narrow_limits(ventilator: VentilatorView) -> Remedy | None:
    """Bring whichever limit is beyond the unit's own back to it, and leave the other."""
    limits, unit = ventilator.settings.outdoor_limits if ventilator.settings else None, ventilator.model.outdoor_limits
    if limits is None or unit is None:
        return None
    low, high = limits.off_at_or_below, limits.off_at_or_above
    low = unit.lowest if low is not None and not at_least(low.kelvin, unit.lowest.kelvin) else low
    high = unit.highest if high is not None and not at_most(high.kelvin, unit.highest.kelvin) else high
    return _set_limits(ventilator, low, high)


def _set_limits(ventilator: VentilatorView, low: Temperature | None, high: Temperature | None) -> Remedy:
    value = {"off_at_or_below": low, "off_at_or_above": high}
    said = " and ".join(str(limit) for limit in (low, high) if limit is not None)
    return Remedy(
        title=f"Set the outdoor limits of {ventilator.name} to {said}",
        edits=put(
            ventilator.survey.job,
            ("settings", ventilator.name, "outdoor_limits"),
            {key: str(limit) for key, limit in value.items() if limit is not None},
        ),
        check_on_site="Ask whether the site's weather calls for narrower limits.",
        assumes="Nobody chose the old limits on purpose, against frost or damp.",
    )


def _widen_limits(ventilator: VentilatorView) -> Remedy | None:
    """Move whichever limit stops ventilation in ordinary weather out to the unit's own, where that is enough."""
    limits, unit = ventilator.settings.outdoor_limits if ventilator.settings else None, ventilator.model.outdoor_limits
    site = ventilator.survey.job.site
    if limits is None or unit is None or site is None or site.winter_design is None or site.summer_design is None:
        return None
    low, high = limits.off_at_or_below, limits.off_at_or_above
    if low is not None and not at_most(low.kelvin, site.winter_design.kelvin):
        low = unit.lowest
    if high is not None and not at_least(high.kelvin, site.summer_design.kelvin):
        high = unit.highest
    if unit.lowest.kelvin > site.winter_design.kelvin or unit.highest.kelvin < site.summer_design.kelvin:
        return None  # the unit itself may not run in that weather
    return _set_limits(ventilator, low, high)


def _limits_in_ordinary_weather(ventilator: VentilatorView) -> Evidence | CannotTell | None:
    limits = ventilator.settings.outdoor_limits if ventilator.settings else None
    site = ventilator.survey.job.site
    if limits is None or _limits_inverted(ventilator):
        return None
    at = ventilator.at("outdoor_limits")
    if site is None or site.winter_design is None or site.summer_design is None:
        return CannotTell(
            f"the outdoor limits of {ventilator.name} stop ventilation, and the job does not give the site's "
            "design temperatures, so nobody can tell how often.",
            "Add `site` with winter_design and summer_design temperatures.",
            at,
        )
    low, high = limits.off_at_or_below, limits.off_at_or_above
    cold = low is not None and not at_most(low.kelvin, site.winter_design.kelvin)
    hot = high is not None and not at_least(high.kelvin, site.summer_design.kelvin)
    if not cold and not hot:
        return None
    return evidence(
        at=at,
        ventilator=ventilator.name,
        below=low or "not set",
        above=high or "not set",
        winter=site.winter_design,
        summer=site.summer_design,
    )


LIMITS_INVERTED = Rule(
    id="settings/outdoor-limits-inverted",
    title="Outdoor limits leave no temperature at which ventilation may run",
    severity=Severity.ERROR,
    each=selectors.driven_ventilators,
    check=_limits_inverted,
    message="{ventilator} is off at or below {below} and at or above {above}: it never runs.",
    todo="Set the lower limit below the upper one.",
    basis=practice("ventilation runs between its two outdoor limits"),
    remedy=_swap_limits,
)
LIMITS_BEYOND_UNIT = Rule(
    id="settings/outdoor-limits-beyond-unit",
    title="Outdoor limits let the ventilator run where it may not",
    severity=Severity.ERROR,
    each=selectors.driven_ventilators,
    check=_limits_beyond_unit,
    message=(
        "{ventilator} may run from {lowest} to {highest}, but is set to stop only at or below {below} and at or "
        "above {above}."
    ),
    todo="Set limits within the unit's own.",
    basis=_CATALOG,
    cautions=(FROST,),
    remedy=_narrow_limits,
)
LIMITS_IN_ORDINARY_WEATHER = Rule(
    id="settings/outdoor-limits-in-ordinary-weather",
    title="Outdoor limits stop ventilation in weather that the site is designed for",
    severity=Severity.WARNING,
    each=selectors.driven_ventilators,
    check=_limits_in_ordinary_weather,
    message=(
        "{ventilator} is off at or below {below} and at or above {above}; the site's design temperatures are "
        "{winter} and {summer}, so ventilation stops in ordinary weather."
    ),
    todo="Widen the limits if the unit allows it, or make the air up at other times.",
    basis=practice("outdoor limits lie beyond the design temperatures of the site"),
    cautions=(FROST,),
    remedy=_widen_limits,
)

RULES = (
    LIMITS_INVERTED,
    LIMITS_BEYOND_UNIT,
    LIMITS_IN_ORDINARY_WEATHER,
)
