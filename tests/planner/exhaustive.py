"""Every program there is, judged by the rules themselves and costed by plain arithmetic: the planner has no part in it.

A program is a mapping of stages to minutes. A setting is one program for each ventilator and mode, the same in both
seasons.
"""

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from itertools import combinations, product
from typing import Any, Final, TypeAlias

from ventrules.checking import installed_rules
from ventrules.engine import Severity, run
from ventrules.files import job_document, rebuilt
from ventrules.job import Job, ProgramGrid
from ventrules.survey import Survey

Program: TypeAlias = Mapping[str, float]
Slot: TypeAlias = tuple[str, str]
"""A ventilator and a mode."""
Setting: TypeAlias = Mapping[Slot, Program]
Cost: TypeAlias = tuple[float, float, float]
"""Airflow, m3/s, fan power, W, and stage changes an hour: averages over the week, over the modes without a calendar."""

TIE: Final = 1e-7  # relative: far above what floating point adds, far below any step of a grid
POWER: Final = "equipment/fan-power-too-high"
_OF_A_STAGE: Final = {POWER, "airflow/balance-required", "airflow/credit-not-earned"}
_BY_PROGRAMS: Final = {
    "airflow/ventilator-too-small",  # no programs will do; where it stands, they are not judged
    "airflow/exposure-too-high",  # cannot be told without programs
}
_EXHAUST: Final = "airflow/local-exhaust-too-small"  # programs that never stop may do where the unit is too small
_SEASONS: Final = ("heating", "cooling")


def programs_of(stages: Iterable[str], grid: ProgramGrid) -> Iterator[dict[str, float]]:
    """Yield every program of a controller's grid, off first; the minutes left over are off."""
    step_min = grid.step.s / 60.0
    steps = math.floor(grid.cycle.s / grid.step.s + 1e-9)
    names = sorted(stages)
    for used in range(min(grid.stages_per_cycle, len(names)) + 1):
        for chosen in combinations(names, used):
            for counts in product(range(1, steps + 1), repeat=used):
                if sum(counts) <= steps:
                    yield {stage: count * step_min for stage, count in zip(chosen, counts, strict=True)}


def with_setting(job: Job, setting: Setting) -> Job:
    """Return the job with some programs in both seasons, and none but these."""
    document: dict[str, Any] = job_document(job)
    settings = document.setdefault("settings", {})
    for settled in settings.values():
        settled["programs"] = {}
    for (ventilator, mode), program in setting.items():
        written = {stage: f"{minutes:g} min" for stage, minutes in program.items()}
        programs = settings.setdefault(ventilator, {}).setdefault("programs", {})
        programs[mode] = dict.fromkeys(_SEASONS, written)
    return rebuilt(document, job)


def setting_of(job: Job, season: str = "heating") -> dict[Slot, dict[str, float]]:
    """Return what a job is set to in one season."""
    document: dict[str, Any] = job_document(job)
    return {
        (ventilator, mode): {stage: float(time.removesuffix(" min")) for stage, time in program[season].items()}
        for ventilator, settled in document.get("settings", {}).items()
        for mode, program in settled.get("programs", {}).items()
    }


def errors(job: Job) -> frozenset[tuple[str, str]]:
    """Return the errors of the whole rule set: rule and place; with them what may be one and cannot be told."""
    found = run(installed_rules(), Survey(job), remedies=False)
    return frozenset((f.rule, f.place.name) for f in found if f.severity is Severity.ERROR)


class Feasible:
    """Says which settings the rules have nothing against that they do not have against the job without programs.

    A stage that a held program uses brings its own errors with it, whatever the other programs are.

    Attributes:
        brought: Those errors.
    """

    def __init__(self, job: Job, hold: Collection[str] = ()) -> None:
        self._job = job
        held = {slot: program for slot, program in setting_of(job).items() if slot[1] in hold}
        self.brought = frozenset(error for error in errors(with_setting(job, held)) if error[0] in _OF_A_STAGE)
        without = {error for error in errors(with_setting(job, {})) if error[0] not in {*_BY_PROGRAMS, _EXHAUST}}
        whole = {slot: held.get(slot, _highest(job, *slot)) for slot in slots_of(job)}
        too_small = {error for error in errors(with_setting(job, whole)) if error[0] == _EXHAUST}
        self._known = self.brought | without | too_small

    def __call__(self, setting: Setting) -> bool:
        return errors(with_setting(self._job, setting)) <= self._known


def slots_of(job: Job) -> dict[Slot, list[str]]:
    """Return every ventilator and mode, with the stages that move any of the air that counts."""
    survey = Survey(job)
    return {
        (ventilator.name, mode): [stage for stage in ventilator.stages if ventilator.counted(stage) > 0.0]
        for ventilator in survey.driven
        for mode in sorted(job.modes)
    }


def _highest(job: Job, ventilator: str, _mode: str) -> dict[str, float]:
    """Return the program of a ventilator that exhausts most, without a break."""
    view = Survey(job).ventilator(ventilator)
    assert view.grid is not None
    return {max(view.stages, key=lambda stage: view.stages[stage].exhaust_m3s): view.grid.cycle.s / 60.0}


def every_setting(job: Job, grid: ProgramGrid, hold: Collection[str] = ()) -> Iterator[dict[Slot, Program]]:
    """Yield every setting, held modes as they are."""
    slots, now = slots_of(job), setting_of(job)
    choices: list[list[Mapping[str, float]]] = [
        [now[slot]] if slot[1] in hold else list(programs_of(stages, grid)) for slot, stages in slots.items()
    ]
    for chosen in product(*choices):
        yield dict(zip(slots, chosen, strict=True))


class Costs:
    """What settings cost, by what the catalog and the readings say of each stage."""

    def __init__(self, job: Job, cycle_s: float) -> None:
        survey = Survey(job)
        self._cycle_min = cycle_s / 60.0
        self._stages = {
            (ventilator.name, stage): (ventilator.counted(stage), rated.power.w if rated.power is not None else 0.0)
            for ventilator in survey.driven
            for stage, rated in ventilator.model.stages.items()
        }
        spans = survey.week.spans if survey.week is not None else ()
        whole = sum(span.end - span.start for span in spans)
        self._parts = dict.fromkeys(job.modes, 0.0 if spans else 1.0 / len(job.modes))
        for span in spans:
            self._parts[span.mode] += (span.end - span.start) / whole

    def of(self, setting: Setting) -> Cost:
        air = power = changes = 0.0
        for (ventilator, mode), program in setting.items():
            part = self._parts[mode]
            for stage, minutes in program.items():
                airflow_m3s, power_w = self._stages[ventilator, stage]
                air += part * airflow_m3s * minutes / self._cycle_min
                power += part * power_w * minutes / self._cycle_min
            pieces = len(program) + (sum(program.values()) < self._cycle_min - 1e-6)
            changes += part * (pieces if pieces > 1 else 0) * 60.0 / self._cycle_min
        return air, power, changes


def cheaper(first: Cost, second: Cost, columns: Sequence[int]) -> bool:
    """Say whether the first costs less than the second: in what counts most, where that ties in the next, and so on."""
    for column in columns:
        one, other = first[column], second[column]
        if abs(one - other) > TIE * max(abs(one), abs(other)):
            return one < other
    return False
