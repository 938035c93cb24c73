"""The words of a plan: every way to miss a target, programs as they are keyed in, and what no example comes to."""

import json
from io import StringIO
from math import inf
from typing import Any, Final

import attrs
import pytest

import ventrules
from tests.cli.running import CLEAN, FAULTY, SOUND
from ventrules.job import Season
from ventrules.outputs import PlainPaper
from ventrules.outputs.plan_json import plan_json
from ventrules.outputs.plan_text import plan_text
from ventrules.outputs.plan_words import failure_words, kind_word, program_words, set_now
from ventrules.planner.planned import NextCheaper, Plan, Shortage
from ventrules.planner.verdict import Failure, FailureKind
from ventrules.planning import plan
from ventrules.targets import Asked
from ventrules.units import Airflow

FIFTY: Final = Airflow.parse("50 L/s").m3s
FORTY: Final = Airflow.parse("40 L/s").m3s
MONDAY: Final = 6 * 60.0

FAILURES: Final = {
    FailureKind.OFF: (
        Failure(FailureKind.OFF, "day", 0.0, FIFTY),
        "would leave the mode without any ventilation while people are there",
    ),
    FailureKind.TOO_SHORT: (
        Failure(FailureKind.TOO_SHORT, "day", 0.2, 0.25),
        "would run 20 % of the time, and less than 25 % is never enough",
    ),
    FailureKind.STOPS: (
        Failure(FailureKind.STOPS, "day", 0.0, FIFTY),
        "would stop in every cycle, and 50 L/s is asked for at every moment",
    ),
    FailureKind.BELOW_FLOOR: (
        Failure(FailureKind.BELOW_FLOOR, "day", FORTY, FIFTY),
        "would give 40 L/s at its lowest, and 50 L/s is the floor at every moment, whatever the average",
    ),
    FailureKind.BELOW: (
        Failure(FailureKind.BELOW, "day", FORTY, FIFTY),
        "would count as 40 L/s, 10 L/s short of the 50 L/s asked for",
    ),
    FailureKind.WINDOW: (
        Failure(FailureKind.WINDOW, "", FORTY, FIFTY, MONDAY, MONDAY + 240.0),
        "would leave the window Monday 06:00 to Monday 10:00 worth 40 L/s, 10 L/s short of the 50 L/s asked for",
    ),
    FailureKind.MEAN_EXPOSURE: (
        Failure(FailureKind.MEAN_EXPOSURE, "", 1.0004, 1.0),
        "would bring mean relative exposure to 1.0004, above its limit of 1",
    ),
    FailureKind.PEAK_EXPOSURE: (
        Failure(FailureKind.PEAK_EXPOSURE, "", 5.25, 5.0, MONDAY),
        "would let relative exposure rise to 5.25 on Monday 06:00, above its highest value of 5",
    ),
}


@pytest.mark.parametrize("kind", FailureKind)
def test_every_way_to_miss_a_target_has_its_words(kind: FailureKind) -> None:
    failure, words = FAILURES[kind]
    assert failure.kind is kind
    assert failure_words(failure, "L/s") == words


@pytest.mark.parametrize("kind", FailureKind)
def test_every_way_has_a_word_in_lower_case_with_hyphens(kind: FailureKind) -> None:
    assert kind_word(kind).replace("-", "_").upper() == kind.name


@pytest.mark.parametrize(
    ("failure", "words"),
    [
        (Failure(FailureKind.STOPS, "day", FORTY, FIFTY), "would fall to 40 L/s at times, and 50 L/s is asked for"),
        (Failure(FailureKind.BELOW_FLOOR, "day", 0.0, FIFTY), "would stop in every cycle, and 50 L/s is the floor"),
        (Failure(FailureKind.MEAN_EXPOSURE, "", inf, 1.0), "would leave the week without the airflow that keeps mean"),
    ],
    ids=["falls", "stops", "no end"],
)
def test_a_way_that_goes_further_is_said_so(failure: Failure, words: str) -> None:
    assert failure_words(failure, "L/s").startswith(words)


@pytest.mark.parametrize("unit", ["cfm", "L/s", "m3/h"])
def test_airflow_is_told_in_the_unit_asked_for(unit: str) -> None:
    failure, _words = FAILURES[FailureKind.BELOW]
    assert failure_words(failure, unit).count(f" {unit}") == 3


@pytest.mark.parametrize(
    ("times", "words"),
    [
        ([], "off"),
        ([("low", 3600.0)], "low without a break"),
        ([("low", 2400.0)], "low 40 min in each 60 min"),
        ([("low", 2400.0), ("medium", 300.0)], "low 40 min + medium 5 min in each 60 min"),
        ([("low", 300.0), ("high", 3300.0)], "low 5 min + high 55 min in each 60 min"),
    ],
)
def test_a_program_is_told_as_it_is_keyed_in(times: list[tuple[str, float]], words: str) -> None:
    assert program_words(times, 3600.0) == words


@pytest.mark.parametrize(
    ("ventilator", "mode", "cycle_s", "words"),
    [
        ("ventilator", "day", 3600.0, "low 50 min"),
        ("ventilator", "out", 3600.0, "off"),
        ("ventilator", "never", 3600.0, "nothing"),
        ("nobody", "day", 3600.0, "nothing"),
    ],
)
def test_what_is_set_now_is_told_in_short(ventilator: str, mode: str, cycle_s: float, words: str) -> None:
    assert set_now(ventrules.read_job(CLEAN), ventilator, mode, Season.HEATING, cycle_s) == words


# What no example comes to


def texts(found: Plan) -> tuple[str, dict[str, Any]]:
    """Return a plan of the sound job as text on one line, and as JSON."""
    job, stream = ventrules.read_job(CLEAN), StringIO()
    plan_text(PlainPaper(stream, 100), "job.yaml", job, found)
    data = json.loads(plan_json("job.yaml", job, found, Asked(found.code, found.requirement)))
    return " ".join(stream.getvalue().split()), data


def changed(**changes: Any) -> Plan:
    """Return the plan of the sound job with its seasons changed."""
    found = plan(ventrules.read_job(CLEAN))
    return attrs.evolve(found, seasons=tuple(attrs.evolve(season, **changes) for season in found.seasons))


@pytest.mark.parametrize(
    ("beyond", "words", "value"),
    [
        (0.0125, "not proved to be the least: at most 1.25 % above the least there can be", 0.0125),
        (inf, "how far above that it may be is not known", None),
    ],
)
def test_a_plan_that_is_not_proved_tells_its_distance(beyond: float, words: str, value: float | None) -> None:
    text, data = texts(changed(proved=False, beyond=beyond))
    assert words in text
    assert "nothing that can be set has" not in text
    assert data["proved"] is False
    assert data["seasons"][0]["beyond"] == value


def test_a_cheaper_program_that_was_not_ruled_out_is_said_so() -> None:
    found = plan(ventrules.read_job(CLEAN))
    cheaper = NextCheaper((("low", 2700.0),), FORTY, None)

    def loosened(part: Any) -> Any:
        programs = tuple(attrs.evolve(program, cheaper=cheaper) for program in part.programs)
        return attrs.evolve(part, programs=programs)

    seasons = tuple(attrs.evolve(s, modes=tuple(map(loosened, s.modes)), proved=False) for s in found.seasons)
    text, data = texts(attrs.evolve(found, seasons=seasons))
    assert "the next cheaper program, low 45 min in each 60 min, would deliver" in text
    assert "and would do as well: not everything could be gone through" in text
    assert data["seasons"][0]["modes"][0]["programs"][0]["next_cheaper"]["failure"] is None


@pytest.mark.parametrize("kind", FailureKind)
@pytest.mark.parametrize("curable", [True, False])
def test_every_way_to_be_short_can_be_shown(kind: FailureKind, *, curable: bool) -> None:
    failure, words = FAILURES[kind]
    short = Shortage(Season.COOLING, failure, curable, {"ventilator": ()} if curable else {})
    text, data = texts(attrs.evolve(plan(ventrules.read_job(CLEAN)), seasons=(), edits=(), unit="L/s", shortage=short))
    assert f"all ventilators at their highest stages without a break {words}" in text
    assert ("ventilator no model in the catalogs" in text) == curable
    assert ("No airflow would, however much" in text) != curable
    assert data["shortage"]["failure"]["text"] == words
    assert data["shortage"]["failure"]["mode"] == (failure.mode or None)
    assert (data["shortage"]["failure"]["end"] is not None) == (kind is FailureKind.WINDOW)


def test_a_controller_can_be_what_is_in_the_way() -> None:
    short = Shortage(Season.HEATING, None, curable=True, models={})
    text, data = texts(attrs.evolve(plan(ventrules.read_job(CLEAN)), seasons=(), edits=(), shortage=short))
    assert "what the controllers can be set to: the airflow would do, but no program gives it" in text
    assert "A controller with a finer grid" in text
    assert data["shortage"]["failure"] is None


def test_a_number_without_end_is_null_in_json() -> None:
    failure = Failure(FailureKind.MEAN_EXPOSURE, "", inf, 1.0)
    short = Shortage(Season.HEATING, failure, curable=True, models={})
    _text, data = texts(attrs.evolve(plan(ventrules.read_job(CLEAN)), seasons=(), edits=(), shortage=short))
    assert data["shortage"]["failure"]["value"] == {"value": None, "unit": "1", "text": "beyond any number"}
    assert data["shortage"]["failure"]["bound"] == {"value": 1.0, "unit": "1", "text": "1"}


def test_a_plan_that_the_rules_are_against_says_what_they_say() -> None:
    problem = "the cheapest programs would bring another error: lane/no at somewhere"
    found = attrs.evolve(plan(ventrules.read_job(CLEAN)), seasons=(), edits=(), missing=problem, remarks=("Look.",))
    text, data = texts(found)
    assert f"Nothing is planned: {problem}." in text
    assert "Remark Look." in text
    assert data["missing"] == problem
    assert data["remarks"] == ["Look."]


def test_a_ventilator_without_a_known_grid_is_told_from_a_held_mode() -> None:
    found = plan(ventrules.read_job(SOUND / "number-02.yaml"), hold=["night"])
    (night,) = (mode for mode in found.seasons[0].modes if mode.mode == "night")
    assert night.programs[0].kept
    assert " night both held " in texts(found)[0]
    assert " night both not planned " in texts(attrs.evolve(found, hold=()))[0]


def test_the_exposure_of_a_plan_that_no_limit_holds_is_told_without_limits() -> None:
    job = ventrules.read_job(FAULTY / "comes-home-to-stale-air.yaml")
    found = plan(job)
    assert found.seasons[0].exposure is not None
    assert found.requirement is not None
    assert found.requirement.exposure is None
    text, data = texts(found)
    assert "Exposure" in text
    assert "limits" not in text
    assert data["seasons"][0]["exposure"]["mean"] == found.seasons[0].exposure.mean
