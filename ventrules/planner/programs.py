"""The least program on a controller's grid that meets the requirement in one mode and season, and remedies by it."""

from collections.abc import Sequence
from typing import Final, TypeAlias

from attrs import evolve

from ventrules.engine import Edit, Path, Remedy
from ventrules.engine.findings import Document
from ventrules.job import Occupancy, ProgramGrid
from ventrules.planner.edits import put, put_all, remove
from ventrules.planner.shortfalls import lavish_stages
from ventrules.survey import Delivery, ModeSeasonView, ProgramView, Run, VentilatorView, WeekView, judged
from ventrules.units import Duration, at_least, at_most
from ventrules.words import listed

_MINUTE_S: Final = 60.0

Minutes: TypeAlias = tuple[tuple[str, float], ...]
"""Stages with their time in a cycle, s."""


def least_program(program: ProgramView, grid: ProgramGrid, others: Sequence[Delivery] | None = None) -> Minutes | None:
    """Return stage names with seconds per cycle of the least program that meets the requirement.

    Least means least delivered airflow, then least fan energy, then fewest stage changes. An empty program is the
    answer where the other ventilators of the dwelling already meet it.

    Args:
        program: The program to replace.
        grid: What the controller can be set to.
        others: What the other ventilators deliver; by default, what they are set to.

    Returns:
        The program, or None when none on the grid meets the requirement.
    """
    from ventrules.planner.alone import least_alone  # noqa: PLC0415 - arrays are slow to import, and most jobs are sound

    if program.survey.unknown is not None:
        return None
    return least_alone(program, grid, _others(program) if others is None else tuple(others))


def _others(program: ProgramView) -> tuple[Delivery, ...]:
    return tuple(
        other.delivery
        for other in program.survey.programs_in(program.mode.name, program.season)
        if other.ventilator is not program.ventilator and other.delivery is not None
    )


def written(minutes: Minutes) -> dict[str, Document]:
    """Return a program as the job file has it."""
    return {stage: _minutes(time) for stage, time in minutes}


def _minutes(seconds: float) -> str:
    """Return a time in minutes, with as many digits as it takes to read it back: steps may be thirds of a minute."""
    text = str(Duration.shown(seconds, "min"))
    exact = Duration.parse(text).s
    return text if at_least(exact, seconds) and at_most(exact, seconds) else f"{seconds / _MINUTE_S:.12g} min"


def _needed(program: ProgramView, grid: ProgramGrid, others: Sequence[Delivery] | None = None) -> Minutes | None:
    """Return the least program where the requirement is held, and off elsewhere."""
    if program.survey.unknown is not None:
        return None
    held = program.mode.occupancy in program.survey.requirement.judged
    return least_program(program, grid, others) if held else ()


def is_set(program: ProgramView, minutes: Minutes) -> bool:
    """Say whether a program is what is set now."""
    set_now = program.program.stages.items() if program.program else ()
    return program.program is not None and sorted((stage, time.s) for stage, time in set_now) == sorted(minutes)


def program_remedy(program: ProgramView) -> Remedy | None:
    """Return the remedy that sets a program right: off where it may be, else the least that meets the target.

    None when the grid has no such program, when it is the one that is set, or when the programs are written
    for a cycle that the controller does not have: then that has to be put right first.
    """
    grid = program.ventilator.grid
    minutes = _needed(program, grid) if grid is not None and program.ventilator.on_grid_cycle else None
    if minutes is None or is_set(program, minutes):
        return None
    return _set_remedy(program, minutes)


def _set_remedy(program: ProgramView, minutes: Minutes) -> Remedy:
    cycle = program.survey.minutes(program.ventilator.cycle_s)
    what = " + ".join(f"{stage} {time}" for stage, time in written(minutes).items())
    if len(minutes) == 1 and at_least(minutes[0][1], program.ventilator.cycle_s):
        what = f"{minutes[0][0]} without a break"
    else:
        what = f"{what} in each {cycle}" if minutes else "off"
    return Remedy(
        title=f"Set {program.ventilator.name}, {program.mode.name}, {program.season.value}: {what}",
        edits=put(program.survey.job, program.place.path, written(minutes)),
        assumes=_assumed(program.ventilator, minutes),
        check_on_site="Measure supply and exhaust airflow at each stage that the program uses.",
    )


def _assumed(ventilator: VentilatorView, minutes: Minutes) -> str:
    """Return what a program takes for granted: the airflow of its stages, or that being off does no harm."""
    if not minutes:
        return "Nobody is there, and nothing needs air meanwhile: no damp, no new materials, no animals."
    rated = [stage for stage, _time in minutes if not ventilator.stages[stage].measured]
    if not rated:
        return "The airflow is as it was measured, with clean filters."
    return f"The catalog's airflow at {listed(rated)} is reached with this ductwork, with clean filters."


def _together(remedies: Sequence[Remedy]) -> Remedy | None:
    if not remedies:
        return None
    edits: list[Edit] = []
    for edit in (edit for remedy in remedies for edit in remedy.edits):
        if edit not in edits:  # a mapping that several of them begin is begun once
            edits.append(edit)
    return Remedy(
        title="; ".join(remedy.title for remedy in remedies),
        edits=tuple(edits),
        check_on_site=remedies[0].check_on_site,
        assumes=" ".join(dict.fromkeys(remedy.assumes for remedy in remedies)),
    )


def lower_mode(view: ModeSeasonView) -> Remedy | None:
    """Return the remedy that lowers the programs of a mode and season, one ventilator after the other.

    None when each is the least on its grid already.
    """
    deliveries = {program.ventilator.name: program.delivery for program in view.programs}
    remedies = []
    for program in view.programs:
        grid, own = program.ventilator.grid, program.ventilator.name
        others = [other for name, other in deliveries.items() if name != own and other is not None]
        minutes = _needed(program, grid, others) if grid is not None and program.ventilator.on_grid_cycle else None
        if grid is None or minutes is None or is_set(program, minutes):
            continue
        runs = tuple(Run(stage, program.ventilator.counted(stage), time) for stage, time in minutes)
        lowered, before = Delivery(runs, grid.cycle.s), deliveries[own]
        if before is not None and at_least(lowered.average_m3s, before.average_m3s):
            continue
        deliveries[own] = lowered
        remedies.append(_set_remedy(program, minutes))
    return _together(remedies)


def can_be_lowered(view: ModeSeasonView) -> bool:
    """Say whether `lower_mode` has a remedy; mostly without looking for the least program.

    Where a step less of some stage is still enough, the least program is lower than what is set.
    """
    if any(_one_step_less_will_do(view, index) for index in range(len(view.programs))):
        return True
    return lower_mode(view) is not None


def _one_step_less_will_do(view: ModeSeasonView, index: int) -> bool:
    program, deliveries, survey = view.programs[index], view.deliveries, view.survey
    unit, grid = program.ventilator, program.ventilator.grid
    if grid is None or deliveries is None or program.program is None or not unit.on_grid_cycle:
        return False
    times_s = {stage: time.s for stage, time in program.program.stages.items() if time.s > 0.0}
    delivery = deliveries[index]
    plain = len(delivery.runs) == len(times_s) <= grid.stages_per_cycle and not lavish_stages(unit, times_s)
    if not plain or any(not _on_grid(time_s, grid) for time_s in times_s.values()):
        return False  # the least program may then be of other stages
    for run in delivery.runs:
        left = [evolve(other, time_s=other.time_s - grid.step.s) if other is run else other for other in delivery.runs]
        lowered = Delivery(tuple(other for other in left if other.time_s > 0.0), delivery.cycle_s)
        if not lowered.runs and view.mode.occupancy is Occupancy.OCCUPIED:
            continue
        together = (*deliveries[:index], lowered, *deliveries[index + 1 :])
        if judged(together, survey.requirement, view.mode.occupancy).enough:
            return True
    return False


def _on_grid(time_s: float, grid: ProgramGrid) -> bool:
    whole = round(time_s / grid.step.s) * grid.step.s
    return at_least(time_s, whole) and at_most(time_s, whole)


def raise_mode(view: ModeSeasonView) -> Remedy | None:
    """Return the remedy that plans anew the first ventilator of a mode and season that can make up the shortfall."""
    return next((r for program in view.programs if (r := program_remedy(program)) is not None), None)


def raise_modes(week: WeekView) -> Remedy | None:
    """Return the remedy that makes a week meet the requirement.

    It raises every mode that is below the requirement by itself; where one of them cannot be raised that far, it
    plans the whole season anew.
    """
    remedies: list[Remedy] = []
    for view in week.modes().values():
        outcome = view.judged
        if outcome is None or outcome.enough:
            continue
        remedy = raise_mode(view)
        if remedy is None:
            return _plan_season(week)
        remedies.append(remedy)
    return _together(remedies) or _plan_season(week)


def _plan_season(week: WeekView) -> Remedy | None:
    from ventrules.planner.alone import season_programs  # noqa: PLC0415 - as above

    survey = week.survey
    views = [view for view in survey.mode_seasons if view.season is week.season]
    if any(not program.ventilator.on_grid_cycle for view in views for program in view.programs):
        return None
    programs = season_programs(survey, week.season, views)
    return _together(
        [
            _set_remedy(program, minutes)
            for view in views
            for program, minutes in zip(view.programs, programs.get(view.mode.name, ()), strict=False)
            if minutes is not None and not is_set(program, minutes)
        ]
    )


def regrid_remedy(ventilator: VentilatorView) -> Remedy | None:
    """Return the remedy that goes back to the controller's own cycle, with every program planned anew."""
    grid, survey = ventilator.grid, ventilator.survey
    if grid is None:
        return None
    programs: list[tuple[Path, Document]] = []
    for program in survey.programs:
        if program.ventilator is not ventilator or program.program is None or program.program.managed:
            continue
        minutes = _needed(program, grid)
        if minutes is None:
            return None
        programs.append((program.place.path, written(minutes)))
    return Remedy(
        title=f"Use the controller's own cycle of {survey.minutes(grid.cycle.s)} for {ventilator.name}",
        edits=(remove(("settings", ventilator.name, "cycle")), *put_all(survey.job, programs)),
        assumes="The controller in the catalog is the one on the wall.",
        check_on_site="Read the programs back from the controller.",
    )
