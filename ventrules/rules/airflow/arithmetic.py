"""The arithmetic of airflow findings, in words: what was delivered, and what is asked for."""

from typing import Final

from ventrules.sources import Basis, Known
from ventrules.survey import DwellingView, ModeSeasonView, Survey, WeekView
from ventrules.units import Share, at_least
from ventrules.words import listed

TARGET: Final = Basis("the clause of the target's code", Known.PER_FINDING)


def enough_capacity(view: DwellingView | ModeSeasonView | WeekView) -> bool:
    """Say whether all ventilators at their highest stage could meet the target."""
    asked = view.survey.requirement
    least = min(asked.continuous_m3s, asked.intermittent_m3s)  # a part-time rate of its own can be the lower one
    return at_least(view.survey.capacity_m3s, least)


def terms(view: ModeSeasonView) -> str:
    """Return the arithmetic of the delivered average: every stage's airflow times its share of the cycle."""
    survey = view.survey
    terms = [
        f"{run.stage} {survey.airflow(run.airflow_m3s)} {part_of_cycle(survey, run.time_s, delivery.cycle_s)}"
        for delivery in view.deliveries or ()
        for run in delivery.runs
    ]
    return " + ".join(terms) or "off"


def part_of_cycle(survey: Survey, time_s: float, cycle_s: float) -> str:
    """Return a stage's share of the cycle as a factor: `x 45 min / 60 min`."""
    if at_least(time_s, cycle_s):
        return "all of the time"
    return f"x {survey.minutes(time_s)} / {survey.minutes(cycle_s)}"


def flows(view: ModeSeasonView) -> str:
    """Return how the airflow of each stage in use comes about."""
    survey = view.survey
    counts = survey.requirement.counts.value
    said = []
    for program in view.programs:
        unit = program.ventilator
        for run in program.delivery.runs if program.delivery is not None else ():
            flow = unit.stages[run.stage]
            transfer = (
                f" less {Share.shown(unit.model.exhaust_air_transfer, '%')} transfer"
                if unit.model.exhaust_air_transfer
                else ""
            )
            how = "measured" if flow.measured else "rated"
            said.append(
                f"{unit.name} {run.stage}: supply {survey.airflow(flow.supply_m3s)}{transfer}, exhaust "
                f"{survey.airflow(flow.exhaust_m3s)} ({how}), {counts} {survey.airflow(run.airflow_m3s)}"
            )
    return "; ".join(said)


def steps(view: DwellingView | ModeSeasonView | WeekView) -> str:
    """Return how the required airflow comes about, step by step with its clauses."""
    survey = view.survey
    said = []
    for step in survey.requirement.steps:
        value = (
            survey.airflow(step.airflow_m3s)
            if step.airflow_m3s is not None
            else f"{step.number:.4g} {step.unit}".rstrip()
        )
        known = Known.FROM_MEMORY.value if step.basis.known is Known.FROM_MEMORY else ""
        basis = ", ".join(part for part in (step.basis.clause, known) if part)
        said.append(f"{step.name} {value}" + (f" ({basis})" if basis else ""))
    return "; ".join(said) + remembered(survey)


def remembered(survey: Survey) -> str:
    """Return what of the requirement is from memory, as an appendix to its arithmetic."""
    clauses = survey.requirement.from_memory
    return f". From memory, to be looked up: {listed(clauses)}" if clauses else ""
