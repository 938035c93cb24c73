"""What a ventilator falls short of, besides airflow: the facts that choosing another one must not make worse."""

from collections.abc import Iterable

from ventrules.codes import Oversize, RecoveryLeast
from ventrules.job import Model
from ventrules.survey import Survey, VentilatorView
from ventrules.units import Power, Temperature, at_least, at_most


def rated_at(model: Model, asked: Temperature | None) -> bool:
    """Say whether a model's recovery is rated at the temperature asked for; to a degree, as ratings are rounded."""
    if model.recovery is None:
        return False
    rated = model.recovery.at
    one_degree = Temperature.of(1, "degC").kelvin - Temperature.of(0, "degC").kelvin
    return asked is None or (rated is not None and abs(rated.kelvin - asked.kelvin) < one_degree)


def recovers(model: Model, least: RecoveryLeast) -> bool:
    """Say whether a model is known to recover at least so much."""
    recovery = model.recovery
    return recovery is not None and rated_at(model, least.at) and at_least(recovery.sensible, least.sensible)


def lavish_stages(ventilator: VentilatorView, among: Iterable[str] | None = None) -> dict[str, Power]:
    """Return the stages that take more power for their airflow than the code allows, with that power.

    Args:
        ventilator: The ventilator.
        among: The stages to look at; by default those in use.
    """
    code = ventilator.survey.code
    least = code.efficacy if code is not None else None
    if least is None:
        return {}
    asked = least.airflow.m3s / least.power.w
    stages = {name: ventilator.model.stages[name] for name in (ventilator.stages_used if among is None else among)}
    return {
        name: stage.power
        for name, stage in stages.items()
        if stage.power is not None and stage.power.w > 0.0 and not at_least(stage.supply.m3s / stage.power.w, asked)
    }


def turned_down(survey: Survey, limit: Oversize) -> bool:
    """Say whether the ventilators are no larger than a code allows, or have a stage near its rate."""
    required = survey.requirement.continuous_m3s
    if at_most(survey.capacity_m3s, required * (1.0 + limit.beyond)):
        return True
    low, high = required * (1.0 - limit.within), required * (1.0 + limit.within)
    reached = [unit.counted(stage) for unit in survey.driven for stage in unit.stages]
    return any(at_least(airflow, low) and at_most(airflow, high) for airflow in reached)


def shortfalls(ventilator: VentilatorView) -> frozenset[str]:
    """Return what a ventilator falls short of: recovery, power, stages near the rate, exhaust of the rooms it serves.

    A clause on recovery counts wherever the dwelling is, and local exhaust by what is asked for on demand,
    so that no model is taken to be good enough on the strength of what the job does not say.
    """
    survey = ventilator.survey
    code = survey.code
    if code is None:
        return frozenset()
    found = {
        f"recovery {number}" for number, least in enumerate(code.recovery) if not recovers(ventilator.model, least)
    }
    if lavish_stages(ventilator):
        found.add("power")
    if code.oversize is not None and survey.unknown is None and not turned_down(survey, code.oversize):
        found.add("stage near the rate")
    if not at_least(ventilator.most_exhaust_m3s, sum(line.demand.m3s for line in ventilator.rooms_served.values())):
        found.add("local exhaust")
    return frozenset(found)
