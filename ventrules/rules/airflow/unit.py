"""Rules about what a code asks of the ventilator itself: local exhaust, recovery, power."""

from ventrules.codes import LocalExhaust, RecoveryLeast
from ventrules.engine import CannotTell, Evidence, Remedy, Rule, Severity, evidence
from ventrules.planner import swap_ventilator
from ventrules.planner.shortfalls import lavish_stages, rated_at, recovers
from ventrules.rules import selectors
from ventrules.rules.airflow.arithmetic import TARGET
from ventrules.survey import VentilatorView
from ventrules.units import Share, at_least
from ventrules.words import listed


def _local_exhaust(ventilator: VentilatorView) -> Evidence | None:
    survey = ventilator.survey
    code = survey.code
    lines = ventilator.rooms_served
    if code is None or not lines:
        return None
    steady, most = ventilator.steady_exhaust_m3s, ventilator.most_exhaust_m3s
    continuous = [line.continuous.m3s if line.continuous is not None else None for line in lines.values()]
    all_the_time = None not in continuous and at_least(steady, sum(flow or 0.0 for flow in continuous))
    demand = sum(line.demand.m3s for line in lines.values())
    if all_the_time or at_least(most, demand):
        return None
    return evidence(
        basis=code.basis(next(iter(lines.values())).basis),
        ventilator=ventilator.name,
        names=tuple(lines),
        rooms=tuple(f"{name} {line.demand}" + _or_continuous(line) for name, line in lines.items()),
        most=survey.airflow(most),
        steady=f"{survey.airflow(steady)} without a break" if steady > 0.0 else "nothing without a break",
        demand=survey.airflow(demand),
        shortfall=survey.airflow(demand - most),
    )


def _or_continuous(line: LocalExhaust) -> str:
    return f" (or {line.continuous} all the time)" if line.continuous is not None else ""


def _recovery(ventilator: VentilatorView) -> Evidence | CannotTell | None:
    survey, recovery = ventilator.survey, ventilator.model.recovery
    code, site = survey.code, survey.job.site
    zone = site.climate_zone if site is not None else None
    if code is None:
        return None
    for least in code.recovery:
        by = code.basis(least.basis)
        if recovers(ventilator.model, least):
            continue
        if least.zones and zone is not None and not _in_zones(zone, least):
            continue
        if least.zones and zone is None:
            return CannotTell(
                f"In climate zones {listed(least.zones)}, {Share.shown(least.sensible, '%')} sensible recovery is "
                f"asked for, {ventilator.name} has not been shown to reach it, and the job does not give its zone.",
                "Add `site` with climate_zone.",
                basis=by,
            )
        if recovery is None or not rated_at(ventilator.model, least.at):
            return CannotTell(
                f"The catalog gives no sensible recovery of {ventilator.name}{_rating(least)}, and "
                f"{Share.shown(least.sensible, '%')} is asked for.",
                "Look the recovery up in the listing of the unit and add it to the catalog.",
                basis=by,
            )
        return evidence(
            basis=by,
            ventilator=ventilator.name,
            sensible=Share.shown(recovery.sensible, "%"),
            least=Share.shown(least.sensible, "%"),
            rating=_rating(least),
            where=f" in climate zone {zone}" if least.zones else "",
        )
    return None


def _in_zones(zone: str, least: RecoveryLeast) -> bool:
    """Say whether a zone, with or without its moisture letter, is among those of a clause."""
    return zone in least.zones or zone.rstrip("ABC") in least.zones


def _rating(least: RecoveryLeast) -> str:
    return f" at {least.at}" if least.at is not None else ""


def _efficacy(ventilator: VentilatorView) -> Evidence | CannotTell | None:
    survey = ventilator.survey
    code = survey.code
    least = code.efficacy if code is not None else None
    used = ventilator.stages_used
    if code is None or least is None or not used:
        return None
    powers = [ventilator.model.stages[stage].power for stage in used]
    if not any(power is not None and power.w > 0.0 for power in powers):
        return CannotTell(
            f"The catalog gives no power of the stages of {ventilator.name} in use, and at least {least.airflow} for "
            f"{least.power} is asked for.",
            "Look the power up in the listing of the unit and add it to the catalog.",
            basis=code.basis(least.basis),
        )
    lavish = lavish_stages(ventilator)
    if not lavish:
        return None
    return evidence(
        basis=code.basis(least.basis),
        ventilator=ventilator.name,
        stages=tuple(
            f"{stage}: {survey.airflow(ventilator.stages[stage].supply_m3s)} for {power}"
            for stage, power in lavish.items()
        ),
        airflow=least.airflow,
        power=least.power,
    )


def _one_that_recovers(ventilator: VentilatorView) -> Remedy | None:
    return swap_ventilator(ventilator, lambda other: _recovery(other) is None)


def _one_that_takes_less(ventilator: VentilatorView) -> Remedy | None:
    return swap_ventilator(ventilator, lambda other: _efficacy(other) is None)


LOCAL_EXHAUST = Rule(
    id="airflow/local-exhaust-too-small",
    title="The ventilator takes too little air from the rooms it serves",
    severity=Severity.ERROR,
    each=selectors.driven_ventilators,
    check=_local_exhaust,
    message="{ventilator} exhausts at most {most}; the rooms that it serves ask for {demand}: {rooms}.",
    working="{steady}; on demand at most {most}; short by {shortfall}",
    todo=(
        "Give {names} fans of their own, choose a ventilator that exhausts {shortfall} more, or run it without a break "
        "where that covers the continuous figures."
    ),
    basis=TARGET,
)
RECOVERY = Rule(
    id="equipment/recovery-too-low",
    title="The ventilator recovers less heat than the code asks for",
    severity=Severity.ERROR,
    each=selectors.driven_ventilators,
    check=_recovery,
    message="{ventilator} recovers {sensible} of sensible heat{rating}; at least {least} is asked for{where}.",
    todo="Choose a ventilator that recovers at least {least}.",
    basis=TARGET,
    remedy=_one_that_recovers,
)
EFFICACY = Rule(
    id="equipment/fan-power-too-high",
    title="The fans take more power for their airflow than the code allows",
    severity=Severity.ERROR,
    each=selectors.driven_ventilators,
    check=_efficacy,
    message="{ventilator} moves too little air for its power ({stages}); {airflow} for {power} is asked for.",
    todo="Choose a ventilator or a stage that moves at least {airflow} for {power}.",
    basis=TARGET,
    remedy=_one_that_takes_less,
)

RULES = (LOCAL_EXHAUST, RECOVERY, EFFICACY)
