"""The least program on a controller's grid that meets the requirement in one mode and season."""

from collections.abc import Sequence
from itertools import combinations
from math import ceil

from ventrules.codes import Requirement
from ventrules.engine import Remedy
from ventrules.engine.findings import Document
from ventrules.job import Occupancy, ProgramGrid
from ventrules.plan.edits import put, remove
from ventrules.survey import Delivery, ModeSeasonView, ProgramView, Run, VentilatorView, WeekView, judged
from ventrules.units import Duration, at_least

_MOST_TRIES = 20_000  # bounds the search on a grid that no controller has
_MOST_STAGES = 2  # a third stage can shave off less than one step of airflow; the search grows cubically

Minutes = tuple[tuple[str, float], ...]


def least_program(program: ProgramView, grid: ProgramGrid, others: Sequence[Delivery] | None = None) -> Minutes | None:
    """Return stage names with seconds per cycle of the least program that meets the requirement.

    Least means least delivered airflow, then fewest stages. An empty program is the answer where the
    other ventilators of the dwelling already meet it.

    Args:
        program: The program to replace.
        grid: What the controller can be set to.
        others: What the other ventilators deliver; by default, what they are set to.

    Returns:
        The program, or None when none on the grid meets the requirement.
    """
    if program.survey.unknown is not None:
        return None
    search = _Search(program, grid, _others(program) if others is None else others)
    return search.least()


class _Search:
    """Walks the grid upward from the least airflow that could do, and keeps the least that does.

    With all times but one fixed, the delivered airflow rises with the last one: its first time that meets
    the requirement is the least, and none is tried that delivers more than the best found so far.
    """

    def __init__(self, program: ProgramView, grid: ProgramGrid, others: Sequence[Delivery]) -> None:
        self._requirement = program.survey.requirement
        self._occupancy = program.mode.occupancy
        self._others = tuple(others)
        self._cycle_s, self._step_s = grid.cycle.s, grid.step.s
        self._steps = int(grid.cycle.s / grid.step.s + 1e-9)
        self._pairs = min(grid.stages_per_cycle, _MOST_STAGES) > 1
        self._flows = {stage: program.ventilator.counted(stage) for stage in sorted(program.ventilator.stages)}
        given = sum(delivery.average_m3s for delivery in others)
        self._missing = _least_average(self._requirement, self._occupancy) - given
        least_share = 1.0 if self._requirement.unbroken and not others else self._requirement.least_share
        self._least_steps = ceil(least_share * self._steps - 1e-9)
        self._best: tuple[float, int, Minutes] | None = None
        self._tries = 0

    def least(self) -> Minutes | None:
        if self._meets(()):
            return ()
        for stage in self._flows:
            self._walk((), 0, stage)
        if self._pairs:
            for first, second in combinations(self._flows, 2):
                for count in range(1, self._steps):
                    self._walk(((first, count * self._step_s),), count, second)
        return self._best[2] if self._best is not None else None

    def _meets(self, minutes: Minutes) -> bool:
        self._tries += 1
        runs = tuple(Run(stage, self._flows[stage], time) for stage, time in minutes)
        outcome = judged((*self._others, Delivery(runs, self._cycle_s)), self._requirement, self._occupancy)
        return outcome.enough

    def _walk(self, fixed: Minutes, used: int, last: str) -> None:
        per_step = self._flows[last] * self._step_s / self._cycle_s
        base = sum(self._flows[stage] * time for stage, time in fixed) / self._cycle_s
        first = max(1, ceil((self._missing - base) / per_step - 1e-9)) if per_step > 0.0 else self._steps + 1
        first = max(first, self._least_steps - used)
        for count in range(first, self._steps - used + 1):
            minutes: Minutes = (*fixed, (last, count * self._step_s))
            found = (base + per_step * count, len(minutes), minutes)
            if (self._best is not None and found >= self._best) or self._tries > _MOST_TRIES:
                return
            if self._meets(minutes):
                self._best = found
                return


def _least_average(requirement: Requirement, occupancy: Occupancy) -> float:
    """Return an average, m3/s, below which no program can meet the requirement.

    Printed run-time factors are rounded, so that a little less than the plain rate can pass; the least
    product of share and factor lies at one of the printed shares.
    """
    run = requirement.run_time
    rate = min(requirement.at(occupancy), requirement.intermittent_m3s) if run else requirement.at(occupancy)
    return rate * min((s * f for s, f in zip(run.shares, run.factors, strict=True)), default=1.0) if run else rate


def _others(program: ProgramView) -> tuple[Delivery, ...]:
    return tuple(
        other.delivery
        for other in program.survey.programs_in(program.mode.name, program.season)
        if other.ventilator is not program.ventilator and other.delivery is not None
    )


def _written(minutes: Minutes) -> dict[str, Document]:
    return {stage: str(Duration.shown(time, "min")) for stage, time in minutes}


def _needed(program: ProgramView, grid: ProgramGrid, others: Sequence[Delivery] | None = None) -> Minutes | None:
    """Return the least program where the requirement is held, and off elsewhere."""
    if program.survey.unknown is not None:
        return None
    held = program.mode.occupancy in program.survey.requirement.judged
    return least_program(program, grid, others) if held else ()


def _is_set(program: ProgramView, minutes: Minutes) -> bool:
    set_now = program.program.stages.items() if program.program else ()
    return program.program is not None and sorted((stage, time.s) for stage, time in set_now) == sorted(minutes)


def program_remedy(program: ProgramView) -> Remedy | None:
    """Return the remedy that sets a program right: off where it may be, else the least that meets the target.

    None when the grid has no such program, when it is the one that is set, or when the programs are written
    for a cycle that the controller does not have: then that has to be put right first.
    """
    grid = program.ventilator.grid
    minutes = _needed(program, grid) if grid is not None and program.ventilator.on_grid_cycle else None
    if minutes is None or _is_set(program, minutes):
        return None
    return _set_remedy(program, minutes)


def _set_remedy(program: ProgramView, minutes: Minutes) -> Remedy:
    cycle = program.survey.minutes(program.ventilator.cycle_s)
    what = " + ".join(f"{stage} {time}" for stage, time in _written(minutes).items())
    if len(minutes) == 1 and at_least(minutes[0][1], program.ventilator.cycle_s):
        what = f"{minutes[0][0]} without a break"
    else:
        what = f"{what} in each {cycle}" if minutes else "off"
    return Remedy(
        title=f"Set {program.ventilator.name}, {program.mode.name}, {program.season.value}: {what}",
        edits=put(program.survey.job, program.place.path, _written(minutes)),
        check_on_site="Measure supply and exhaust airflow at each stage that the program uses.",
    )


def _together(remedies: Sequence[Remedy]) -> Remedy | None:
    if not remedies:
        return None
    return Remedy(
        title="; ".join(remedy.title for remedy in remedies),
        edits=tuple(edit for remedy in remedies for edit in remedy.edits),
        check_on_site=remedies[0].check_on_site,
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
        if grid is None or minutes is None or _is_set(program, minutes):
            continue
        runs = tuple(Run(stage, program.ventilator.counted(stage), time) for stage, time in minutes)
        lowered, before = Delivery(runs, grid.cycle.s), deliveries[own]
        if before is not None and at_least(lowered.average_m3s, before.average_m3s):
            continue
        deliveries[own] = lowered
        remedies.append(_set_remedy(program, minutes))
    return _together(remedies)


def raise_mode(view: ModeSeasonView) -> Remedy | None:
    """Return the remedy that plans anew the first ventilator of a mode and season that can make up the shortfall."""
    return next((r for program in view.programs if (r := program_remedy(program)) is not None), None)


def raise_modes(week: WeekView) -> Remedy | None:
    """Return the remedy that raises every mode of a week which is below the requirement by itself."""
    remedies: list[Remedy] = []
    for view in week.modes().values():
        outcome = view.judged
        if outcome is None or outcome.enough:
            continue
        remedy = raise_mode(view)
        if remedy is None:
            return None
        remedies.append(remedy)
    return _together(remedies)


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
