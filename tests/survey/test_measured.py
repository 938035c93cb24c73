"""Readings as intervals: what they prove, how far instruments are off, balance, and the voltage that is expected."""

import math
from itertools import pairwise
from typing import Final

import attrs
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.test_swaps import base
from ventrules import Job, Survey
from ventrules.codes import Balanced, BalanceTest, Clause, is_balanced
from ventrules.engine.findings import Document
from ventrules.files import load_code
from ventrules.job import Reading, Shown
from ventrules.sources import Known
from ventrules.survey import PortRef
from ventrules.survey.interval import Interval, Verdict, enough_to_tell, largest_part, verdict
from ventrules.survey.measured import (
    ReadingView,
    airflow_off_m3s,
    indicators,
    readings,
    readings_in_use,
    voltage_off_v,
    voltages,
    with_airflow_off,
)
from ventrules.units import Airflow

EXACT: Final[dict[str, Document]] = {"airflow": {"of_reading": 0.0}, "voltage": {"of_reading": 0.0}}
LOW: Final[dict[str, Document]] = {"ventilator": {"low": {"supply": "65 cfm", "exhaust": "66 cfm"}}}
VALUES: Final = st.floats(0.01, 200.0)
SIZES: Final = st.one_of(st.just(0.0), st.floats(0.01, 50.0))
PARTS: Final = st.floats(0.0, 0.4)


def house(**changes: Document) -> Job:
    return base("demo-erv-130", "40 cfm", **changes)


def interval(low: float, size: float) -> Interval:
    return Interval(low, low + size)


@pytest.mark.parametrize(
    ("read", "off", "expected"),
    [
        (100.0, 10.0, Verdict.HOLDS),
        (90.0, 0.0, Verdict.HOLDS),  # edges are allowed
        (89.0, 0.5, Verdict.FAILS),
        (89.0, 1.0, Verdict.CANNOT_TELL),
        (111.0, 0.9, Verdict.FAILS),
        (109.0, 2.0, Verdict.CANNOT_TELL),
        (100.0, 50.0, Verdict.CANNOT_TELL),
    ],
)
def test_a_reading_passes_wholly_inside_and_fails_wholly_outside(read: float, off: float, expected: Verdict) -> None:
    assert verdict(Interval.about(read, off), Interval(90.0, 110.0)) is expected


@given(VALUES, SIZES, st.floats(0.0, 1.0), VALUES, SIZES)
def test_a_better_instrument_only_decides_what_was_open(
    read: float, off: float, part: float, low: float, size: float
) -> None:
    allowed = interval(low, size)
    rough, fine = (verdict(Interval.about(read, o), allowed) for o in (off, off * part))
    assert rough in (fine, Verdict.CANNOT_TELL)


@given(VALUES, VALUES, SIZES)
def test_an_instrument_as_good_as_is_asked_for_tells(read: float, low: float, size: float) -> None:
    allowed = interval(low, size)
    enough = enough_to_tell(read, allowed)
    assert verdict(Interval.about(read, enough * 0.999), allowed) is not Verdict.CANNOT_TELL
    if enough > 1e-3 and read > enough:
        assert verdict(Interval.about(read, enough * 1.001), allowed) is Verdict.CANNOT_TELL


@given(VALUES, SIZES, VALUES, SIZES, st.sampled_from([0.25, 0.5, 2.0, 1024.0]))
def test_a_verdict_is_the_same_at_every_scale(read: float, off: float, low: float, size: float, scale: float) -> None:
    allowed, bigger = interval(low, size), Interval(low * scale, (low + size) * scale)
    assert verdict(Interval.about(read * scale, off * scale), bigger) is verdict(Interval.about(read, off), allowed)


@given(st.floats(0.0, 0.999))
def test_the_largest_part_that_tells_is_found_to_a_thirtieth_and_never_overstated(limit: float) -> None:
    found = largest_part(lambda part: part <= limit)
    assert found <= limit < found + 1.0 / 30.0


def test_an_airflow_is_off_by_the_larger_figure_and_a_voltage_by_the_sum() -> None:
    own = Survey(
        house(instruments={"airflow": {"of_reading": 0.05, "at_least": "3 cfm"}, "voltage": {"plus": "0.2 V"}})
    )
    small, large = Airflow.of(40, "cfm"), Airflow.of(100, "cfm")
    assert airflow_off_m3s(own, small.m3s) == Airflow.of(3, "cfm").m3s
    assert airflow_off_m3s(own, large.m3s) == pytest.approx(Airflow.of(5, "cfm").m3s)
    assert voltage_off_v(own, 24.0) == 0.2  # the other part is nothing
    untold = Survey(house())
    usual = untold.limits.measuring
    assert airflow_off_m3s(untold, large.m3s) == large.m3s * usual.airflow_of_reading
    assert airflow_off_m3s(untold, 0.0) == usual.airflow_at_least.m3s
    assert voltage_off_v(untold, 24.0) == 24.0 * usual.voltage_of_reading + usual.voltage_plus.v


@pytest.mark.parametrize("part", [-1.0, -0.5, 0.0, 1.0])
def test_every_measured_airflow_is_moved_and_nothing_else(part: float) -> None:
    survey = Survey(house(readings=LOW, instruments={"airflow": {"of_reading": 0.1}}))
    moved = with_airflow_off(survey, part)
    assert moved.job.readings["ventilator"]["low"].supply.to("cfm") == pytest.approx(65 * (1 + 0.1 * part))
    assert moved.job.readings["ventilator"]["low"].exhaust.to("cfm") == pytest.approx(66 * (1 + 0.1 * part))
    assert attrs.evolve(moved.job, readings=survey.job.readings) == survey.job


def test_readings_in_use_are_those_at_stages_of_programs() -> None:
    both: Document = {"low": {"supply": "65 cfm", "exhaust": "66 cfm"}, "high": {"supply": "1 cfm", "exhaust": "1 cfm"}}
    survey = Survey(house(readings={"ventilator": both}))
    assert [view.stage for view in readings(survey)] == ["high", "low"]
    assert [view.stage for view in readings_in_use(survey)] == ["low"]


# Balance


def definition(test: BalanceTest, or_within: Airflow | None = None) -> Balanced:
    return Balanced(test, 0.1, Clause("a test", Known.SEEN), or_within)


DEFINITIONS: Final = (
    *(definition(test) for test in BalanceTest),
    definition(BalanceTest.DIFFERENCE_TO_SUPPLY, Airflow.of(5, "cfm")),
)


def at_low(supply_cfm: float, exhaust_cfm: float, of_reading: float) -> ReadingView:
    survey = Survey(house(instruments={"airflow": {"of_reading": of_reading}}))
    read = Reading(Airflow.of(supply_cfm, "cfm"), Airflow.of(exhaust_cfm, "cfm"))
    return ReadingView(survey, survey.ventilator("ventilator"), "low", read)


# International Residential Code 2024, R202; Ontario O. Reg. 332/12, 9.32.3.11.(10); Washington M1505.4.1.4, where
# 5 cfm apart is near enough by itself. The verdicts are computed from the three texts.
ICC, ONTARIO = definition(BalanceTest.EACH_TO_MEAN), definition(BalanceTest.LESSER_TO_GREATER)
PUBLISHED: Final = [
    (100, 90, "pass", "pass", "pass"),
    (100, 89, "pass", "fail", "fail"),
    (100, 82, "pass", "fail", "fail"),
    (100, 81, "fail", "fail", "fail"),
    (40, 35, "pass", "fail", "pass"),
]


@pytest.mark.parametrize(("supply", "exhaust", "icc", "ontario", "washington"), PUBLISHED)
def test_an_instrument_without_error_says_what_the_published_texts_say(
    supply: float, exhaust: float, icc: str, ontario: str, washington: str
) -> None:
    view = at_low(supply, exhaust, 0.0)
    by_code = load_code("us-wa-2021").balanced
    assert by_code is not None
    assert [view.balance(d).value for d in (ICC, ONTARIO, by_code)] == [icc, ontario, washington]


def test_a_hood_within_three_percent_leaves_the_edge_open_by_one_definition_only() -> None:
    view = at_low(100, 82, 0.03)
    assert view.balance(ICC) is Verdict.CANNOT_TELL
    assert view.balance(ONTARIO) is Verdict.FAILS  # 84.46 / 97 = 87.1 % at best


@given(
    st.sampled_from(DEFINITIONS),
    st.floats(5.0, 150.0),
    st.floats(0.6, 1.5),
    st.floats(0.0, 0.2),
    st.lists(st.tuples(st.floats(0.0, 1.0), st.floats(0.0, 1.0)), min_size=1, max_size=40),
)
def test_balance_that_is_decided_holds_for_every_pair_the_instrument_leaves_open(
    balanced: Balanced, supply: float, ratio: float, of_reading: float, spots: list[tuple[float, float]]
) -> None:
    view = at_low(supply, supply * ratio, of_reading)
    said = view.balance(balanced)
    here, there = (stream.interval() for stream in view.streams)
    design = (view.streams[0].rated.m3s, view.streams[1].rated.m3s)
    pairs = [
        (here.low + (here.high - here.low) * x, there.low + (there.high - there.low) * y)
        for x, y in (*spots, (0.0, 1.0), (1.0, 0.0), (0.5, 0.5))
    ]
    found = {is_balanced(balanced, *pair, design) for pair in pairs}
    if said is not Verdict.CANNOT_TELL:
        assert found == {said is Verdict.HOLDS}


@given(st.sampled_from(DEFINITIONS), st.floats(5.0, 150.0), st.floats(0.6, 1.5), PARTS)
def test_open_balance_has_pairs_of_both_kinds(
    balanced: Balanced, supply: float, ratio: float, of_reading: float
) -> None:
    view = at_low(supply, supply * ratio, of_reading)
    if view.balance(balanced) is not Verdict.CANNOT_TELL:
        return
    design = (view.streams[0].rated.m3s, view.streams[1].rated.m3s)
    here, there = (stream.interval() for stream in view.streams)
    # every value where one stream meets the other or its design, and the ends
    at = {here.low, here.high, there.low, there.high, *design}
    pairs = [(here.nearest_to(x), there.nearest_to(y)) for x in at for y in at]
    assert {is_balanced(balanced, *pair, design) for pair in pairs} == {True, False}


@given(st.sampled_from(DEFINITIONS), st.floats(5.0, 150.0), st.floats(0.6, 1.5), PARTS)
def test_a_better_instrument_never_turns_balance_over(
    balanced: Balanced, supply: float, ratio: float, of_reading: float
) -> None:
    view = at_low(supply, supply * ratio, of_reading)
    for rough, fine in pairwise(view.balance(balanced, part) for part in (1.0, 0.6, 0.3, 0.0)):
        assert rough in (fine, Verdict.CANNOT_TELL)
    assert view.balance(balanced, 0.0) is not Verdict.CANNOT_TELL


# Voltages


def expected(port: str, **noted: str) -> Interval | None:
    volts: dict[str, Document] = {port: "20 V", **{end.replace("_", "."): read for end, read in noted.items()}}
    survey = Survey(house(voltages=volts, instruments=EXACT))
    (view,) = (view for view in voltages(survey) if view.port == PortRef.of(port))
    return view.predicted()


def at_the_ventilator(source_v: float, va: float) -> float:
    """Voltage behind 20 ft of 18 AWG there and back at 30 degC.

    Copper of 1/58 ohm mm2/m at 20 degC and 0.00393 per K (International Annealed Copper Standard); diameter by ASTM
    B258; one load of constant VA behind a loop R has V = (Vs + sqrt(Vs^2 - 4 S R)) / 2.
    """
    area_mm2 = math.pi / 4 * (0.127 * 92 ** ((36 - 18) / 39)) ** 2
    loop_ohm = 2 * 20 * 0.3048 / 58 / area_mm2 * (1 + 0.00393 * 10)
    return (source_v + math.sqrt(source_v**2 - 4 * va * loop_ohm)) / 2


def test_a_source_may_be_off_as_much_as_the_mains() -> None:
    # Illinois Commerce Commission rule 410.300: 113 V to 127 V on 120 V; an ideal 5:1 transformer gives 22.6 to 25.4 V.
    found = expected("furnace.system")
    assert found is not None
    assert found.low == pytest.approx(22.6)
    assert found.high == pytest.approx(25.4)


def test_what_arrives_is_between_all_draws_at_their_most_and_none() -> None:
    found = expected("ventilator.bus")
    assert found is not None
    # 1 % of 12 V may be lost at screws and splices
    assert found.low == pytest.approx(at_the_ventilator(12, 2) * 113 / 120 - 0.12, rel=1e-6)
    assert found.high == pytest.approx(12 * 127 / 120)


def test_a_measured_source_takes_the_place_of_its_nominal_voltage() -> None:
    found = expected("ventilator.bus", module_ventilator="11.4 V")
    assert found is not None
    assert found.low == pytest.approx(at_the_ventilator(12, 2) * 11.4 / 12 - 0.12, rel=1e-6)
    assert found.high == pytest.approx(11.4)
    # the source of another net does not count
    assert expected("ventilator.bus", furnace_system="20 V") == expected("ventilator.bus")


def test_nothing_is_expected_where_the_way_is_not_known() -> None:
    job = house(voltages={"ventilator.bus": "12 V"})
    cables = tuple(attrs.evolve(cable, length=None) for cable in job.cables)
    (view,) = voltages(Survey(attrs.evolve(job, cables=cables)))
    assert view.predicted() is None


# Indicators


@pytest.mark.parametrize(
    ("shown", "meaning"),
    [
        ("steady", "runs as the controller says"),
        (3, "a fan does not turn"),
        ("3", None),  # a word is no count
        ("Steady", None),
        (7, None),
    ],
)
def test_a_state_is_looked_up_by_its_word_or_by_its_count(shown: str | int, meaning: str | None) -> None:
    job = attrs.evolve(house(), indicators={"ventilator": {"state": Shown(shown)}})
    (view,) = indicators(Survey(job))
    assert (view.state.meaning if view.state is not None else None) == meaning
