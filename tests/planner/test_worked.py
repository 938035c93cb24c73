"""Plans with figures worked out elsewhere: printed run-time factors, relative exposure, and facts of the trade."""

from collections.abc import Mapping
from typing import Any, Final

import attrs
import pytest

from tests.planner.exhaustive import errors
from tests.planner.jobs import document, on_grid
from tests.planner.planner import Plan, plan
from ventrules import job_from_document
from ventrules.files import load_code, packaged_catalog
from ventrules.job import BusKind, Job, ProgramGrid, Role
from ventrules.units import Airflow, Period, Power

CFM: Final = Airflow.of(1.0, "cfm").m3s
ALL_DAY: Final = {"every-day": {"00:00": "day"}}


def grid(cycle_min: float, step_min: float, stages: int = 1) -> ProgramGrid:
    return ProgramGrid(Period.of(cycle_min, "min"), Period.of(step_min, "min"), stages)


def rated(job: Job, model: str, flows_cfm: Mapping[str, float]) -> Job:
    """Return a job in whose catalog a model has these stages: supply and exhaust alike, none of it coming back."""
    first = next(iter(job.catalog.models[model].stages.values()))
    stages = {
        stage: attrs.evolve(
            first, supply=Airflow.of(cfm, "cfm"), exhaust=Airflow.of(cfm, "cfm"), power=Power.of(5.0, "W")
        )
        for stage, cfm in flows_cfm.items()
    }
    changed = attrs.evolve(job.catalog.models[model], stages=stages, exhaust_air_transfer=0.0)
    return attrs.evolve(job, catalog=attrs.evolve(job.catalog, models={**job.catalog.models, model: changed}))


def programs(found: Plan) -> dict[tuple[str, str], dict[str, float]]:
    """Return what a plan sets, minutes at each stage, by ventilator and mode; the same in both seasons."""
    assert found.alike
    assert found.proved
    assert not errors(found.job)
    return {
        (program.ventilator, mode.mode): {stage.stage: round(stage.time_s / 60.0, 6) for stage in program.stages}
        for mode in found.seasons[0].modes
        for program in mode.programs
    }


def delivered_cfm(found: Plan) -> float:
    return found.seasons[0].delivered_m3s / CFM


@pytest.mark.parametrize("edition", ["2015", "2018", "2021", "2024"])
@pytest.mark.parametrize(
    ("percent", "factor"),
    # IRC Table M1507.3.3(2) (2015), M1505.4.3(2) (2018 on): run time in each 4-hour segment, and factor
    [(25, 4.0), (33, 3.0), (50, 2.0), (66, 1.5), (75, 1.3), (100, 1.0)],
)
def test_a_unit_of_the_tables_airflow_runs_for_the_tables_share(edition: str, percent: int, factor: float) -> None:
    # 60 cfm: Table M1507.3.3(1) or M1505.4.3(1), 1,501 to 3,000 ft2 and three bedrooms
    written = document(
        ["demo-erv-single"],
        {"day": "occupied"},
        dwelling={"floor_area": "2400 ft2", "bedrooms": 3},
        target={"code": f"us-irc-{edition}", "route": "table"},
        calendar=ALL_DAY,
    )
    hundredths = on_grid(job_from_document(written), grid(60.0, 0.6))
    exact = plan(rated(hundredths, "demo-erv-single", {"run": 60.0 * factor}))
    assert programs(exact) == {("ventilator", "day"): {"run": 0.6 * percent}}
    assert delivered_cfm(exact) == pytest.approx(60.0 * factor * percent / 100.0)
    a_hair_less = plan(rated(hundredths, "demo-erv-single", {"run": 60.0 * factor * (1.0 - 1e-6)}))
    if percent == 100:
        assert not a_hair_less.found
        return
    assert programs(a_hair_less) == {("ventilator", "day"): {"run": pytest.approx(0.6 * (percent + 1))}}
    (mode,) = a_hair_less.seasons[0].modes
    assert mode.programs[0].cheaper is not None
    assert dict(mode.programs[0].cheaper.stages) == pytest.approx({"run": 36.0 * percent})
    failure = mode.programs[0].cheaper.failure
    assert failure is not None
    assert failure.value == pytest.approx(60.0 * CFM * (1.0 - 1e-6))
    assert failure.bound == pytest.approx(60.0 * CFM)


def test_factors_of_windows_over_two_modes() -> None:
    # by hand: two hours of each mode in any 4 h; 78 cfm for 75 % of them, factor 1.3, is 60 cfm, and nothing less is
    # (IRC 2021, Table M1505.4.3(2)); a mode without a break and one of 30 min are as much air and fewer changes
    hours = {f"{hour:02d}:00": ("day", "night")[hour // 2 % 2] for hour in range(0, 24, 2)}
    written = document(
        ["demo-erv-single"],
        {"day": "occupied", "night": "occupied"},
        dwelling={"floor_area": "2400 ft2", "bedrooms": 3},
        target={"code": "us-irc-2021", "route": "table"},
        calendar={"every-day": hours},
    )
    job = rated(on_grid(job_from_document(written), grid(60.0, 15.0)), "demo-erv-single", {"run": 78.0})
    found = plan(job)
    assert sorted(program["run"] for program in programs(found).values()) == [30.0, 60.0]
    assert delivered_cfm(found) == pytest.approx(58.5)
    assert found.seasons[0].changes_per_hour == pytest.approx(1.0)


def test_a_unit_that_is_the_exhaust_of_the_kitchen_never_stops() -> None:
    # IRC 2021, M1505.4.4: 100 cfm on demand or 25 cfm all the time; the unit exhausts 72 at most and 41 at low
    kitchen = {"kind": "kitchen", "exhaust_by": "ventilator"}
    for rooms, minutes in (({}, 45.0), ({"kitchen": kitchen}, 60.0)):
        written = document(
            ["demo-erv-70"],
            {"day": "occupied", "out": "unoccupied"},
            dwelling={"floor_area": "1000 ft2", "bedrooms": 1, "rooms": rooms},
            target={"code": "us-irc-2021", "route": "table"},
            calendar={"every-day": {"00:00": "day", "08:00": "out", "17:00": "day"}},
        )
        # 30 cfm: Table M1505.4.3(1); the mean of 38.8 and 41 cfm for 75 % of the time counts as 39.9/1.3 = 30.7 cfm
        found = programs(plan(on_grid(job_from_document(written), grid(60.0, 15.0, 2))))
        assert found["ventilator", "day"] == {"low": minutes}
        assert found["ventilator", "out"] == ({"low": 60.0} if rooms else {})


def aired(on_hours: int, rest: str, flows_cfm: Mapping[str, float], rest_stage: str = "") -> Plan:
    """Plan a dwelling of 90 cfm and 16,000 ft3 under relative exposure: on for so many hours, then as it is held."""
    stays: dict[str, Any] = {rest_stage: "60 min"} if rest_stage else {}
    written = document(
        ["demo-erv-single"],
        {"day": "occupied", "rest": rest},
        # 0.03 cfm per ft2 and 7.5 cfm for each bedroom and one more: 60 + 30 cfm (ANSI/ASHRAE 62.2-2016, 4.1.1)
        dwelling={"floor_area": "2000 ft2", "bedrooms": 3, "ceiling_height": "8 ft"},
        target={"code": "ashrae-62.2-2016"},
        calendar={"every-day": {"00:00": "day", f"{on_hours:02d}:00": "rest"}},
    )
    written["settings"]["ventilator"]["programs"] = {"rest": dict.fromkeys(("heating", "cooling"), stays)}
    job = rated(on_grid(job_from_document(written), grid(60.0, 60.0)), "demo-erv-single", flows_cfm)
    return plan(job, hold=["rest"])


def test_the_code_counts_every_hour() -> None:
    limits = load_code("ashrae-62.2-2016").exposure
    assert limits is not None
    assert {occupancy.value for occupancy in limits.hours} == {"occupied", "standby", "unoccupied"}


@pytest.mark.parametrize("most_cfm", [180.0, 1_000.0, 1_000_000.0])
def test_twelve_hours_off_of_a_day_are_beyond_repair(most_cfm: float) -> None:
    # computed from the recurrence: while off alone the mean is at least (1/2)^2 x 8.1/2 = 1.0125, whatever the airflow
    found = aired(12, "unoccupied", {"run": most_cfm})
    assert not found.found
    assert found.shortage is not None
    assert not found.shortage.curable
    assert found.shortage.models == {}
    assert found.shortage.failure is not None
    assert found.shortage.failure.value > found.shortage.failure.bound == 1.0
    if most_cfm > 10_000.0:
        assert found.shortage.failure.value == pytest.approx(1.0125, abs=2e-4)


def test_sixteen_hours_off_are_further_beyond_repair() -> None:
    found = aired(8, "unoccupied", {"run": 1_000.0})
    assert found.shortage is not None
    assert not found.shortage.curable
    # computed from the recurrence: (2/3)^2 x 8.1/2 = 1.8
    assert found.shortage.failure is not None
    assert found.shortage.failure.value > 1.8


@pytest.mark.parametrize(
    ("on_hours", "rest_cfm", "least_cfm"),
    # computed from the recurrence in ANSI/ASHRAE 62.2-2016, Normative Appendix C: the airflow that makes the mean 1
    # (form as in REGCAP, Lawrence Berkeley National Laboratory; the standard was not seen)
    [(16, 0.0, 218.18), (12, 45.0, 184.00)],
)
def test_the_least_airflow_while_on_under_relative_exposure(on_hours: int, rest_cfm: float, least_cfm: float) -> None:
    flows = {f"{hundredths / 100:.2f} cfm": hundredths / 100 for hundredths in range(18_000, 22_500, 2)}
    if rest_cfm:
        flows["low"] = rest_cfm
    found = aired(on_hours, "unoccupied", flows, rest_stage="low" if rest_cfm else "")
    assert found.proved
    assert all(season.by_exposure for season in found.seasons)
    day, rest = found.seasons[0].modes
    assert rest.programs[0].kept
    assert day.delivered_m3s / CFM == pytest.approx(least_cfm, abs=0.025)  # a step of 0.02 cfm, and how it was rounded
    assert found.seasons[0].exposure is not None
    assert found.seasons[0].exposure.mean == pytest.approx(1.0, abs=2e-4)
    cheaper = day.programs[0].cheaper
    assert cheaper is not None
    assert cheaper.failure is not None
    assert cheaper.failure.value > 1.0


def own(models: list[str], target: str, window: str = "1 h", **parts: Any) -> dict[str, Any]:
    asked = {"airflow": target, "window": window}
    return document(models, {"day": "occupied"}, target=asked, calendar=ALL_DAY, **parts)


def test_half_of_the_cycle_at_each_of_two_speeds_is_the_mean_of_the_two() -> None:
    # common practice; 50 and 100 cfm
    found = plan(job_from_document(own(["demo-hrv-100"], "75 cfm")))
    assert programs(found) == {("ventilator", "day"): {"high": 30.0, "low": 30.0}}
    assert delivered_cfm(found) == pytest.approx(75.0)
    assert found.seasons[0].power_w == pytest.approx((26.0 + 68.0) / 2.0)
    assert found.seasons[0].changes_per_hour == 2.0


@pytest.mark.parametrize(("minutes", "percent"), [(45.0, 75), (30.0, 50), (15.0, 25)])
def test_a_part_of_an_hour_of_low_is_that_part_of_its_airflow(minutes: float, percent: int) -> None:
    # common practice; low is 50 cfm
    found = plan(job_from_document(own(["demo-hrv-100"], f"{50 * percent / 100} cfm")))
    assert programs(found) == {("ventilator", "day"): {"low": minutes}}
    assert delivered_cfm(found) == pytest.approx(50.0 * percent / 100.0)


def test_two_ventilators_share_a_dwelling() -> None:
    # by hand: exhaust of 41 and 50 cfm at low make 91 cfm, for 22 + 26 W; the larger one alone would take 68 W
    written = own(["demo-erv-70", "demo-hrv-100"], "91 cfm")
    written["target"]["counts"] = "exhaust"
    for least in ("air", "energy", "changes"):
        found = plan(job_from_document(written), least=least)
        assert programs(found) == {("ventilator", "day"): {"low": 60.0}, ("upstairs", "day"): {"low": 60.0}}
        assert found.seasons[0].power_w == pytest.approx(48.0)


def test_one_of_two_ventilators_may_stay_off() -> None:
    found = plan(job_from_document(own(["demo-erv-70", "demo-hrv-100"], "50 cfm")), least="energy")
    assert programs(found) == {("ventilator", "day"): {}, ("upstairs", "day"): {"low": 60.0}}


def test_what_was_measured_goes_before_what_was_rated() -> None:
    # rated 50 cfm at low, measured 45: as rated low alone would do; as measured high has to make up for 5 cfm
    as_rated = plan(job_from_document(own(["demo-hrv-100"], "50 cfm")))
    assert programs(as_rated) == {("ventilator", "day"): {"low": 60.0}}
    readings = {"ventilator": {"low": {"supply": "45 cfm", "exhaust": "46 cfm"}}}
    measured = plan(job_from_document(own(["demo-hrv-100"], "50 cfm", readings=readings)))
    # 45 x + 100 y = 50 x 60 min with whole minutes; 40 + 12 min is the only way with nothing over
    assert programs(measured) == {("ventilator", "day"): {"high": 12.0, "low": 40.0}}
    high, low = measured.seasons[0].modes[0].programs[0].stages
    assert (high.stage, high.measured) == ("high", False)
    assert (low.stage, low.measured) == ("low", True)
    assert (high.airflow_m3s / CFM, low.airflow_m3s / CFM) == pytest.approx((100.0, 45.0))


def models_for(least_cfm: float) -> list[str]:
    """Return the ventilators of the demo catalog that an interface module can talk to and that are large enough."""
    sizes = {
        name: max(stage.supply.m3s for stage in model.stages.values()) * (1.0 - model.exhaust_air_transfer)
        for name, model in packaged_catalog("demo").models.items()
        if model.role is Role.VENTILATOR
        and any(port.bus is BusKind.VENTILATOR and "pebble" in port.dialects for port in model.ports.values())
    }
    return sorted((name for name, size in sizes.items() if size >= least_cfm * CFM), key=lambda name: sizes[name])


@pytest.mark.parametrize("asked_cfm", [110.0, 138.0, 150.0, 160.0, 191.0, 195.0])
def test_a_unit_too_small_is_told_by_how_much_and_which_would_do(asked_cfm: float) -> None:
    found = plan(job_from_document(own(["demo-hrv-100"], f"{asked_cfm} cfm")))
    assert not found.found
    assert not found.edits
    short = found.shortage
    assert short is not None
    assert short.failure is not None
    assert (short.failure.bound - short.failure.value) / CFM == pytest.approx(asked_cfm - 100.0)
    assert short.curable
    assert list(short.models["ventilator"]) == models_for(asked_cfm)


def test_of_two_units_too_small_either_may_be_the_larger_one() -> None:
    found = plan(job_from_document(own(["demo-erv-70", "demo-hrv-100"], "180 cfm")))
    short = found.shortage
    assert short is not None
    assert short.failure is not None
    assert short.failure.value / CFM == pytest.approx(70.0 * 0.97 + 100.0)
    assert list(short.models["ventilator"]) == models_for(80.0)
    assert list(short.models["upstairs"]) == models_for(180.0 - 70.0 * 0.97)


def test_only_the_grid_in_the_way() -> None:
    # by hand: 127.4 cfm without a break would do; for 45 of 60 minutes, and no more, they come to 95.55
    job = job_from_document(own(["demo-erv-130"], "100 cfm"))
    found = plan(on_grid(job, grid(60.0, 45.0)))
    assert not found.found
    assert found.shortage is not None
    assert found.shortage.failure is None
    assert found.shortage.curable
