"""Planning a week of four modes and two ventilators against walking through every setting of the same job.

`pytest tests/bench/test_plan_speed.py -n 0 --benchmark-enable --benchmark-only` prints the ratios. What is walked is
a grid of half cycles: off, or one stage for half of the cycle or all of it, in each mode for each of two ventilators
of two stages. That makes 25 settings a mode and 390,625 together, less those in which an occupied mode is off.
Nothing can walk the controller's own grid, of two stages in steps of 5 min: 91 programs a ventilator, 8,281 settings
a mode and 4.7e15 together. It is planned beside the small one. The walk is by the survey's own functions. What they
work out for one mode is kept for all settings, and a verdict is asked for only where a setting would be cheaper. A
plan is also checked by the whole rule set, before and after, and says why the next cheaper programs will not do.
Seasons alike are walked once, as they are planned once.
"""

from collections.abc import Iterator, Mapping, Sequence
from itertools import product
from typing import Any, Final, NamedTuple

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from tests.bench.test_speed import pedantic
from tests.planner.exhaustive import programs_of
from tests.planner.jobs import document, on_grid
from tests.planner.planner import Plan, plan
from ventrules import Survey, job_from_document
from ventrules.codes import CodeKind
from ventrules.job import Job, Occupancy, ProgramGrid, Season
from ventrules.survey import Delivery, ModeSeasonView, Run, judged
from ventrules.survey.airflow import over_modes
from ventrules.survey.airing import Infiltrating, blocks_of, cycle_of
from ventrules.survey.exposure import relative_exposure
from ventrules.survey.mixes import mixes
from ventrules.units import Period

MODES: Final = {"day": "occupied", "evening": "occupied", "night": "standby", "out": "unoccupied"}
LONG: Final = {"every-day": {"06:00": "day", "08:30": "out", "17:00": "day", "19:00": "evening", "22:30": "night"}}
SHORT: Final = {"every-day": {f"{hour:02d}:00": list(MODES)[hour // 2 % 3] for hour in range(0, 24, 2)}}
HALVES: Final = ProgramGrid(Period.of(60.0, "min"), Period.of(30.0, "min"), 1)
OWN: Final = ProgramGrid(Period.of(60.0, "min"), Period.of(5.0, "min"), 2)
HOLD: Final[Mapping[str, tuple[str, ...]]] = {"factors": (), "average": (), "exposure": ("out",)}
# an occupied mode is never off: 24 of 25 settings; one that is held has one
COUNTS: Final[Mapping[str, int]] = {
    "factors": 24 * 24 * 25 * 25,
    "average": 24 * 24 * 25 * 25,
    "exposure": 24 * 24 * 25,
}
HOUSE: Final = {"floor_area": "1000 ft2", "bedrooms": 2, "ceiling_height": "8 ft"}
TARGETS: Final[Mapping[str, dict[str, Any]]] = {
    # two-hour modes under windows of 4 h, with run-time factors
    "factors": {"target": {"code": "us-irc-2021"}, "calendar": {"every-day": {**SHORT["every-day"], "12:00": "out"}}},
    "average": {"target": {"airflow": "61 cfm", "window": "24 h"}, "calendar": LONG},
    "exposure": {
        "target": {"code": "ashrae-62.2-2022"},
        "calendar": {"every-day": {**LONG["every-day"], "13:30": "day"}},
    },
}


def job(case: str, grid: ProgramGrid) -> Job:
    made = document(["demo-erv-70", "demo-hrv-100"], MODES, dwelling=HOUSE, **TARGETS[case])
    for settled in made["settings"].values():
        settled["programs"] = {mode: {"heating": {}, "cooling": {}} for mode in HOLD[case]}
    return on_grid(job_from_document(made), grid)


class Setting(NamedTuple):
    """What the ventilators may be set to in one mode: its part of the week's airflow, m3/s, and its course."""

    deliveries: tuple[Delivery, ...]
    airflow_m3s: float
    course: tuple[float, ...]
    enough: bool


class Walk:
    """Goes through every setting of one season."""

    def __init__(self, survey: Survey, season: Season, grid: ProgramGrid, hold: Sequence[str]) -> None:
        self._survey, self._asked = survey, survey.requirement
        assert survey.week is not None
        self._week = survey.week
        self._views = [
            view for view in survey.mode_seasons if view.season is season and view.mode.name in self._week.modes
        ]
        held = [view.mode.name for view in self._views if view.mode.occupancy in self._asked.judged]
        self._columns = {name: column for column, name in enumerate(held)}
        self._mixes = list(mixes(self._week, self._columns, self._asked.window_s / 60.0, fixed=False))
        self._settings = [list(self._of(view, grid, hold)) for view in self._views]
        self.count = 1
        for settings in self._settings:
            self.count *= len(settings)

    def _of(self, view: ModeSeasonView, grid: ProgramGrid, hold: Sequence[str]) -> Iterator[Setting]:
        spans = self._week.spans
        part = sum(s.length for s in spans if s.mode == view.mode.name) / sum(s.length for s in spans)
        held = [view.deliveries or ()] if view.mode.name in hold else None
        for deliveries in held or product(*([*self._programs(unit.name, grid)] for unit in self._survey.driven)):
            outcome = judged(deliveries, self._asked, view.mode.occupancy)
            each = [number for delivery in deliveries for number in (delivery.average_m3s, delivery.share)]
            airflow = sum(delivery.average_m3s for delivery in deliveries)
            off = view.mode.occupancy is Occupancy.OCCUPIED and not airflow
            kept = outcome.enough or view.only_in_windows or view.mode.occupancy not in self._asked.judged
            if not off:
                yield Setting(deliveries, airflow * part, (outcome.equivalent_m3s, *each), kept)

    def _programs(self, name: str, grid: ProgramGrid) -> Iterator[Delivery]:
        unit = self._survey.ventilator(name)
        for program in programs_of(unit.stages, grid):
            runs = tuple(Run(stage, unit.counted(stage), minutes * 60.0) for stage, minutes in program.items())
            yield Delivery(runs, grid.cycle.s)

    def least(self) -> float:
        """Return the least airflow, m3/s, on average over the week."""
        best = float("inf")
        for chosen in product(*self._settings):
            airflow = sum(setting.airflow_m3s for setting in chosen)
            if airflow < best * (1.0 - 1e-9) and (self._by_windows(chosen) or self._by_exposure(chosen)):
                best = airflow
        return best

    def _by_windows(self, chosen: Sequence[Setting]) -> bool:
        if not all(setting.enough for setting in chosen):
            return False
        courses = [s.course for view, s in zip(self._views, chosen, strict=True) if view.mode.name in self._columns]
        for mix in self._mixes:
            means = [
                sum(part * number for part, number in zip(mix, of, strict=True)) for of in zip(*courses, strict=True)
            ]
            if over_modes(means, self._asked) < 1.0 - 1e-9:
                return False
        return True

    def _by_exposure(self, chosen: Sequence[Setting]) -> bool:
        volume_m3 = self._survey.job.dwelling.volume_m3
        if self._asked.kind is not CodeKind.EXPOSURE or volume_m3 is None:
            return False
        infiltrating = Infiltrating(self._asked.infiltration_m3s, self._survey.system.balanced)
        named = zip(self._views, chosen, strict=True)
        cycles = {view.mode.name: cycle_of(setting.deliveries, infiltrating) for view, setting in named}
        blocks = blocks_of(self._week, cycles, self._survey.job.modes)
        found = relative_exposure(blocks, self._asked.total_m3s, volume_m3) if blocks is not None else None
        return found is not None and self._asked.allows_exposure(found.mean, found.mean_present, found.peak)


def delivered(found: Plan, case: str) -> float:
    """Return the airflow that a plan delivers, m3/s, once it is seen to be one."""
    assert found.found
    assert found.alike
    assert all(season.by_exposure == (case == "exposure") for season in found.seasons)
    return found.seasons[0].delivered_m3s


@pytest.mark.parametrize("case", list(TARGETS))
def test_every_setting_walked(benchmark: BenchmarkFixture, case: str) -> None:
    benchmark.group = f"planning a week: {case}"
    small = job(case, HALVES)

    def walk() -> tuple[int, float]:
        every = Walk(
            Survey(small), Season.HEATING, HALVES, HOLD[case]
        )  # the other season is like it, for the plan as well
        return every.count, every.least()

    count, least = pedantic(benchmark)(walk, rounds=3, warmup_rounds=1)
    assert count == COUNTS[case]
    assert least == pytest.approx(delivered(plan(small, hold=HOLD[case]), case), rel=1e-9)


@pytest.mark.parametrize("case", list(TARGETS))
def test_plan_on_the_grid_that_is_walked(benchmark: BenchmarkFixture, case: str) -> None:
    benchmark.group = f"planning a week: {case}"
    small = job(case, HALVES)
    found = pedantic(benchmark)(lambda: plan(small, hold=HOLD[case]), rounds=20, warmup_rounds=2)
    assert found.proved
    assert delivered(found, case) > 0.0


@pytest.mark.parametrize("case", list(TARGETS))
def test_plan_on_the_controllers_own_grid(benchmark: BenchmarkFixture, case: str) -> None:
    benchmark.group = f"planning a week: {case}"
    large = job(case, OWN)
    found = pedantic(benchmark)(lambda: plan(large, hold=HOLD[case]), rounds=5, warmup_rounds=1)
    coarse = plan(job(case, HALVES), hold=HOLD[case])
    beyond = max(season.beyond for season in found.seasons)  # where the search is broken off
    benchmark.extra_info |= {"proved": found.proved, "beyond": beyond}
    assert delivered(found, case) <= delivered(coarse, case) * (1.0 + beyond) * (1.0 + 1e-9)
