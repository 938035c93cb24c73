"""One dwelling under every packaged code, with the full week and relative exposure, against a plain loop.

`pytest tests/bench/test_codes_speed.py -n 0 --benchmark-enable --benchmark-only` prints the ratio. The loop is what one
would write first: the recurrence of `ventrules.survey.exposure` from minute to minute, infiltration added in each
minute, week after week until the week's start value changes by less than 1e-6; then the week's figures.
"""

import math
from collections.abc import Sequence
from typing import Any, Final, NamedTuple

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from tests.bench.sample import SIX_DEVICES
from tests.bench.test_speed import pedantic
from ventrules import Asked, Survey, every_requirement, job_from_document
from ventrules.files import load_code
from ventrules.survey.airing import Infiltrating, blocks_of, cycle_of
from ventrules.survey.under import under

ROOMS: Final = {
    "kitchen": {"kind": "kitchen", "area": "150 ft2"},
    "bath": {"kind": "bathroom", "area": "60 ft2"},
    "toilet": {"kind": "toilet", "area": "20 ft2"},
    "living room": {"kind": "living-room", "area": "400 ft2"},
    "bedroom 1": {"kind": "bedroom", "area": "180 ft2"},
    "bedroom 2": {"kind": "bedroom", "area": "140 ft2"},
    "bedroom 3": {"kind": "bedroom", "area": "130 ft2"},
}
SAMPLE: Final[dict[str, Any]] = SIX_DEVICES
DWELLING: Final = {**SAMPLE["dwelling"], "rooms": ROOMS}
ONE: Final = {**SAMPLE, "dwelling": DWELLING}  # what all codes need to know of it
VARIED: Final = {
    **ONE,
    "settings": {
        "ventilator": {
            **SAMPLE["settings"]["ventilator"],
            "programs": {
                "day": {"heating": {"low": "50 min"}, "cooling": {"medium": "40 min"}},
                "night": {"heating": {"low": "60 min"}, "cooling": {"low": "45 min"}},
                "out": {"heating": {"low": "10 min"}, "cooling": {}},
            },
        }
    },
}
WEEK_MIN: Final = 7 * 24 * 60


class Course(NamedTuple):
    """A week by the minute: airflow of the fans, m3/s, and whether people are there; and what it is judged with."""

    fans: Sequence[float]
    there: Sequence[bool]
    infiltration: float
    balanced: bool
    reference: float
    volume: float


def courses(document: dict[str, Any]) -> list[Course]:
    """The week in each season under each code that can tell what it asks."""
    survey = Survey(job_from_document(document))
    found = []
    for one in every_requirement(survey.job):
        if one.requirement is None:
            continue
        other = under(survey, load_code(one.name))
        for view in other.weeks:
            modes = [mode for mode in other.mode_seasons if mode.season is view.season]
            cycles = {mode.mode.name: cycle_of(mode.deliveries or (), Infiltrating(0.0, True)) for mode in modes}
            blocks = blocks_of(view.week, cycles, survey.job.modes) or ()
            fans: list[float] = []
            there: list[bool] = []
            for block in blocks:
                cycle = [flow.airflow_m3s for flow in block.cycle for _minute in range(round(flow.time_s / 60))]
                fans += [cycle[minute % len(cycle)] for minute in range(round(block.length_s / 60))]
                there += [block.present] * round(block.length_s / 60)
            asked, volume = one.requirement, survey.job.dwelling.volume_m3 or 0.0
            infiltration, balanced = asked.infiltration_m3s, other.system.balanced
            found.append(Course(fans, there, infiltration, balanced, asked.total_m3s, volume))
    return found


def minute_by_minute(course: Course) -> tuple[float, float, float, int]:
    """Mean, mean while people are there, peak and the minute of the peak, by a plain loop."""
    fans, there, infiltration, balanced, reference, volume = course
    value, settled = 1.0, False
    while True:
        start, total, present, peak, peak_at = value, 0.0, 0.0, 0.0, 0
        for minute in range(WEEK_MIN):
            fan = fans[minute]
            if fan <= 0.0:
                airflow = infiltration
            elif balanced:
                airflow = fan + infiltration
            else:
                airflow = fan + infiltration / (infiltration + fan) * infiltration
            if airflow > 0.0:
                steady = reference / airflow
                value = steady + (value - steady) * math.exp(-airflow * 60.0 / volume)
            else:
                value += reference * 60.0 / volume
            if settled:
                total += value
                if there[minute]:
                    present += value
                if value > peak:
                    peak, peak_at = value, minute
        if settled:
            return total / WEEK_MIN, present / sum(there), peak, peak_at
        settled = abs(value - start) < 1e-6


def agree(every: Sequence[Asked], found: Sequence[tuple[float, float, float, int]]) -> bool:
    """Say whether both came to the same, but for what steps of a minute and sampling at their ends make."""
    weeks = [week for one in every for week in one.weeks]
    assert len(weeks) == len(found) > 60
    for week, (mean, present, peak, _peak_at) in zip(weeks, found, strict=True):
        assert week.exposure is not None
        assert week.exposure.mean_present is not None
        assert week.exposure.peak == pytest.approx(peak, rel=1e-6)
        assert week.exposure.mean == pytest.approx(mean, rel=5e-3)
        assert week.exposure.mean_present == pytest.approx(present, rel=5e-3)
    return True


@pytest.mark.benchmark(group="one dwelling under every code")
def test_plain_one_minute_loop(benchmark: BenchmarkFixture) -> None:
    given = courses(ONE)
    found = pedantic(benchmark)(lambda: [minute_by_minute(course) for course in given], rounds=5, warmup_rounds=1)
    assert agree(every_requirement(job_from_document(ONE)), found)


@pytest.mark.benchmark(group="one dwelling under every code")
def test_every_code_with_week_and_exposure(benchmark: BenchmarkFixture) -> None:
    job = job_from_document(ONE)
    every = benchmark(lambda: every_requirement(job))
    assert all(one.requirement is not None for one in every)


@pytest.mark.benchmark(group="one dwelling under every code")
def test_every_code_where_modes_and_seasons_all_differ(benchmark: BenchmarkFixture) -> None:
    job = job_from_document(VARIED)
    every = benchmark(lambda: every_requirement(job))
    assert agree(every, [minute_by_minute(course) for course in courses(VARIED)])
