"""The least program on a controller's grid that meets the requirement in one mode and season."""

from collections.abc import Iterator, Sequence
from itertools import combinations

from ventrules.codes import Requirement
from ventrules.engine import Remedy
from ventrules.engine.findings import Document
from ventrules.job import ProgramGrid
from ventrules.plan.edits import put, remove
from ventrules.survey import Delivery, ProgramView, Run, VentilatorView, WeekView, judged
from ventrules.units import Duration, at_least

_MOST_STAGES = 2  # a third stage can shave off less than one step of airflow; the search grows cubically

Minutes = tuple[tuple[str, float], ...]


def least_program(program: ProgramView, grid: ProgramGrid) -> Minutes | None:
    """Return stage names with seconds per cycle of the least program that meets the requirement.

    The other ventilators of the dwelling keep their programs. Least means least delivered airflow, then
    fewest stages.

    Args:
        program: The program to replace.
        grid: What the controller can be set to.

    Returns:
        The program, or None when none on the grid meets the requirement.
    """
    survey = program.survey
    others = _others(program)
    given = judged(others, survey.requirement)
    missing = _least_average(survey.requirement) - given.delivered_m3s
    flows = {stage: program.ventilator.counted(stage) for stage in program.ventilator.stages}
    candidates = sorted(
        (sum(flows[stage] * time for stage, time in minutes) / grid.cycle.s, len(minutes), minutes)
        for minutes in _candidates(sorted(flows), grid)
    )
    for average, _count, minutes in candidates:
        if not at_least(average, missing):
            continue
        runs = tuple(Run(stage, flows[stage], time) for stage, time in minutes)
        outcome = judged((*others, Delivery(runs, grid.cycle.s)), survey.requirement)
        if not outcome.too_short and at_least(outcome.equivalent_m3s, outcome.required_m3s):
            return minutes
    return None


def _least_average(requirement: Requirement) -> float:
    """Return an average, m3/s, below which no program can meet the requirement.

    Printed run-time factors are rounded, so that a little less than the plain rate can pass; the least
    product of share and factor lies at one of the printed shares.
    """
    run = requirement.run_time
    rate = min(requirement.continuous_m3s, requirement.intermittent_m3s)
    return rate * min((s * f for s, f in zip(run.shares, run.factors, strict=True)), default=1.0) if run else rate


def _others(program: ProgramView) -> tuple[Delivery, ...]:
    return tuple(
        other.delivery
        for other in program.survey.programs_in(program.mode.name, program.season)
        if other.ventilator is not program.ventilator and other.delivery is not None
    )


def _candidates(stages: Sequence[str], grid: ProgramGrid) -> Iterator[Minutes]:
    steps = int(grid.cycle.s / grid.step.s + 1e-9)
    for stage in stages:
        for count in range(1, steps + 1):
            yield ((stage, count * grid.step.s),)
    if min(grid.stages_per_cycle, _MOST_STAGES) > 1:
        for first, second in combinations(stages, 2):
            for count in range(1, steps):
                for other in range(1, steps - count + 1):
                    yield ((first, count * grid.step.s), (second, other * grid.step.s))


def _written(minutes: Minutes) -> dict[str, Document]:
    return {stage: str(Duration.shown(time, "min")) for stage, time in minutes}


def _needed(program: ProgramView, grid: ProgramGrid) -> Minutes | None:
    """Return the least program where the requirement is held, and off elsewhere."""
    held = program.mode.occupancy in program.survey.requirement.judged
    return least_program(program, grid) if held else ()


def _is_set(program: ProgramView, minutes: Minutes) -> bool:
    set_now = program.program.stages.items() if program.program else ()
    return program.program is not None and sorted((stage, time.s) for stage, time in set_now) == sorted(minutes)


def program_remedy(program: ProgramView) -> Remedy | None:
    """Return the remedy that sets a program right: off where it may be, else the least that meets the target.

    None when the grid has no such program, or when it is the one that is set.
    """
    grid, survey = program.ventilator.grid, program.survey
    if grid is None:
        return None
    minutes = _needed(program, grid)
    if minutes is None or _is_set(program, minutes):
        return None
    what = " + ".join(f"{stage} {time}" for stage, time in _written(minutes).items()) or "off"
    cycle = survey.minutes(grid.cycle.s)
    return Remedy(
        title=(
            f"Set {program.ventilator.name}, {program.mode.name}, {program.season.value}: "
            f"{what}" + (f" in each {cycle}" if minutes else "")
        ),
        edits=put(survey.job, program.place.path, _written(minutes)),
        check_on_site="Measure supply and exhaust airflow at each stage that the program uses.",
    )


def raise_modes(week: WeekView) -> Remedy | None:
    """Return the remedy that raises every mode of a week which is below the requirement by itself."""
    remedies: list[Remedy] = []
    for view in week.modes().values():
        outcome = view.judged
        if outcome is None or at_least(outcome.equivalent_m3s, outcome.required_m3s):
            continue
        remedy = next((r for program in view.programs if (r := program_remedy(program)) is not None), None)
        if remedy is None:
            return None
        remedies.append(remedy)
    if not remedies:
        return None
    return Remedy(
        title="; ".join(remedy.title for remedy in remedies),
        edits=tuple(edit for remedy in remedies for edit in remedy.edits),
        check_on_site=remedies[0].check_on_site,
    )


def regrid_remedy(ventilator: VentilatorView) -> Remedy | None:
    """Return the remedy that goes back to the controller's own cycle, with every program planned anew."""
    grid, survey = ventilator.grid, ventilator.survey
    if grid is None:
        return None
    edits = [remove(("settings", ventilator.name, "cycle"))]
    for program in survey.programs:
        if program.ventilator is not ventilator or program.program is None or program.program.managed:
            continue
        minutes = _needed(program, grid)
        if minutes is None:
            return None
        edits += put(survey.job, program.place.path, _written(minutes))
    return Remedy(
        title=f"Use the controller's own cycle of {survey.minutes(grid.cycle.s)} for {ventilator.name}",
        edits=tuple(edits),
        check_on_site="Read the programs back from the controller.",
    )
