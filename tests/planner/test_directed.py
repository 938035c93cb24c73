"""Cases that a planner with one thing wrong gets wrong, each against a setting that the whole rule set accepts."""

from pathlib import Path
from typing import Any, Final

from tests.planner.exhaustive import errors
from tests.planner.jobs import on_grid
from tests.planner.planner import plan
from ventrules.files import job_document, job_from_document, read_job
from ventrules.job import Job, ProgramGrid, Season
from ventrules.survey import Survey
from ventrules.units import Period

_NUMBER_29: Final = Path(__file__).parents[2] / "examples" / "sound" / "number-29.yaml"
_GRID: Final = ProgramGrid(Period.of(60, "min"), Period.of(20, "min"), 2)
_TWO_UNITS: Final[dict[str, Any]] = {
    "ventrules": 1,
    "job": "Quarry Lane 41",
    "catalogs": ["demo"],
    "dwelling": {"floor_area": "1121 ft2", "bedrooms": 6},
    "target": {"code": "us-wa-2021"},
    "devices": {
        "control": {"model": "demo-control"},
        "furnace": {"model": "demo-furnace"},
        "module": {"model": "demo-interface-pair"},
        "upstairs": {"model": "demo-hrv-100"},
        "ventilator": {"model": "demo-hrv-100"},
    },
    "cables": [
        {"from": "control.system", "to": "furnace.system", "gauge": "18 AWG", "length": "30 ft"},
        {"from": "furnace.system", "to": "module.system", "gauge": "18 AWG", "length": "6 ft"},
        {"from": "module.ventilator", "to": "ventilator.bus", "gauge": "18 AWG", "length": "20 ft"},
        {"from": "ventilator.bus", "to": "upstairs.bus", "gauge": "18 AWG", "length": "20 ft"},
    ],
    "modes": {"day": "occupied", "late": "standby", "guests": "standby", "work": "occupied"},
    "calendar": {
        "weekdays": {"17:30": "day", "17:45": "late", "18:15": "guests", "20:30": "work", "21:45": "guests"},
        "weekend": {"03:30": "guests", "15:00": "work", "15:15": "day"},
    },
    "settings": {"upstairs": {"filter_reminder": "90 days"}, "ventilator": {"filter_reminder": "90 days"}},
}
_GOOD: Final = {  # upstairs, ventilator
    "late": ("40 min", "20 min"),
    "guests": ("60 min", "40 min"),
    "work": ("20 min", "60 min"),
    "day": ("40 min", "60 min"),
}


def _weekly(job: Job) -> float:
    """Return the airflow that a job's programs deliver on average over the week in the heating season, m3/s."""
    survey = Survey(job)
    assert survey.week is not None
    length = sum(span.length for span in survey.week.spans)
    return sum(
        span.length / length * program.delivery.average_m3s
        for span in survey.week.spans
        for program in survey.programs_in(span.mode, Season.HEATING)
        if program.delivery is not None
    )


def test_under_run_time_factors_more_air_is_not_always_as_good() -> None:
    """With run-time factors a program that gives more can count for less: no option may be struck out for that."""
    settings: dict[str, Any] = {
        name: {
            **_TWO_UNITS["settings"][name],
            "programs": {
                mode: {season.value: {"low": times[place]} for season in Season} for mode, times in _GOOD.items()
            },
        }
        for place, name in enumerate(("upstairs", "ventilator"))
    }
    good = on_grid(job_from_document({**_TWO_UNITS, "settings": settings}), _GRID)
    assert not errors(good)
    found = plan(on_grid(job_from_document(_TWO_UNITS), _GRID))
    assert found.proved
    assert _weekly(found.job) <= _weekly(good) * (1.0 + 1e-9)


def test_relative_exposure_sees_more_air_than_the_programs_average() -> None:
    """A mode that ends within a cycle gets the highest stage and misses the rest; the bound has to allow for it."""
    job = read_job(_NUMBER_29)
    found = plan(job)
    assert found.proved
    assert all(season.by_exposure for season in found.seasons)
    for program in (program for season in found.seasons for mode in season.modes for program in mode.programs):
        assert program.cheaper is not None
        assert program.cheaper.failure is not None
    assert not errors(found.job)
    # a steady airflow at the rate left for the fans keeps the exposure as well, and takes more
    assert _weekly(found.job) < Survey(job).requirement.continuous_m3s
    assert job_document(found.job) != job_document(job)
