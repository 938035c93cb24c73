"""What programs amount to under each kind of requirement, against a walk through their cycles minute by minute."""

from collections.abc import Sequence
from itertools import accumulate

import attrs
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventrules.codes import CodeKind, Counts, Held, Requirement, own_requirement, requirement
from ventrules.files import load_code
from ventrules.job import Dwelling, Occupancy, Target
from ventrules.sources import Basis, Known
from ventrules.survey import Delivery, Judged, Run, Span, Week, judged, worst_window
from ventrules.survey.airflow import over_modes
from ventrules.units import Airflow, Area

CFM = Airflow.of(1.0, "cfm").m3s
WEEK = 7 * 24 * 60
EVERY = tuple(Occupancy)
_BASIS = Basis("a clause", Known.COMMON_PRACTICE)


def asked(kind: CodeKind, cfm: float, window_min: float = 0.0) -> Requirement:
    """A requirement of some kind, held at any time."""
    own = own_requirement(Airflow.of(cfm, "cfm"), window_min * 60.0, EVERY, Counts.SUPPLY)
    return attrs.evolve(own, kind=kind)


def held(cfm: float) -> Held:
    return Held(cfm * CFM, _BASIS)


@st.composite
def programs(draw: st.DrawFn, cycle: int = 12) -> Delivery:
    """Up to three stages with whole minutes in one cycle, many of them without a break."""
    left, runs = cycle, []
    for stage in ("low", "medium", "high")[: draw(st.integers(0, 3))]:
        minutes = draw(st.integers(0, left) | st.just(left))
        if minutes:
            left -= minutes
            runs.append(Run(stage, draw(st.integers(1, 40)) * CFM, minutes * 60.0))
    return Delivery(tuple(runs), cycle * 60.0)


together = st.lists(programs(), max_size=3)
rates = st.integers(1, 80).map(float)


def course(delivery: Delivery) -> list[float]:
    """The airflow of each minute of a cycle, cfm, in the order that is worst: off, then rising."""
    on = [run.airflow_m3s / CFM for run in delivery.runs for _minute in range(round(run.time_s / 60.0))]
    return [0.0] * (round(delivery.cycle_s / 60.0) - len(on)) + sorted(on)


def least_mean(minutes: Sequence[float], window: int) -> float:
    """The least mean of a repeating cycle over any window of whole minutes."""
    sums = [0.0, *accumulate(list(minutes) * (window // len(minutes) + 2))]
    return min(sums[start + window] - sums[start] for start in range(len(minutes))) / window


def cfm(outcome: Judged) -> list[float]:
    """What counts and the least at any moment, cfm."""
    return [outcome.equivalent_m3s / CFM, outcome.least_m3s / CFM]


@given(together, rates, st.sampled_from([CodeKind.CONTINUOUS, CodeKind.LEVELS]))
def test_airflow_that_is_held_at_every_moment_is_judged_by_its_least(
    deliveries: list[Delivery], rate: float, kind: CodeKind
) -> None:
    outcome = judged(deliveries, asked(kind, rate))
    least = sum(min(course(delivery)) for delivery in deliveries)
    assert cfm(outcome) == pytest.approx([least, least], abs=1e-9)
    assert outcome.enough is (least >= rate - 1e-6)
    assert not outcome.too_short


@given(together, st.fixed_dictionaries(dict.fromkeys(EVERY, rates)), st.sampled_from(EVERY))
def test_each_occupancy_has_its_own_level(
    deliveries: list[Delivery], rate: dict[Occupancy, float], occupancy: Occupancy
) -> None:
    need = attrs.evolve(
        asked(CodeKind.LEVELS, rate[Occupancy.OCCUPIED]),
        levels={other: held(rate[other]) for other in (Occupancy.STANDBY, Occupancy.UNOCCUPIED)},
    )
    outcome = judged(deliveries, need, occupancy)
    assert outcome.required_m3s == pytest.approx(rate[occupancy] * CFM)
    assert outcome.enough is (sum(min(course(d)) for d in deliveries) >= rate[occupancy] - 1e-6)


windows = st.integers(1, 60)


@given(together, rates, windows, st.integers(0, 80))
def test_an_average_with_a_floor_asks_for_both(
    deliveries: list[Delivery], rate: float, window: int, floor: int
) -> None:
    plain = asked(CodeKind.AVERAGE, rate, window)
    need = attrs.evolve(asked(CodeKind.AVERAGE_WITH_FLOOR, rate, window), floor=held(float(floor)))
    outcome = judged(deliveries, need)
    mean = sum(least_mean(course(delivery), window) for delivery in deliveries)
    least = sum(min(course(delivery)) for delivery in deliveries)
    assert cfm(outcome) == pytest.approx([mean, least], abs=1e-9)
    assert outcome.above_floor is (least >= floor - 1e-6)
    assert outcome.enough is (judged(deliveries, plain).enough and least >= floor - 1e-6)


@given(together, rates, windows)
def test_under_a_code_with_exposure_the_short_averages_are_judged_as_averages(
    deliveries: list[Delivery], rate: float, window: int
) -> None:
    outcome = judged(deliveries, asked(CodeKind.EXPOSURE, rate, window))
    assert outcome == judged(deliveries, asked(CodeKind.AVERAGE, rate, window))
    mean = sum(least_mean(course(delivery), window) for delivery in deliveries)
    assert outcome.enough is (mean >= rate - 1e-6)


MECHANICAL = requirement(load_code("us-imc-2024"), Dwelling(Area.parse("2400 ft2"), 3), Target(code="us-imc-2024"))
"""Average over 4 h, at least 1 h of run time in it (International Mechanical Code 2024, 403.3.2, second-hand)."""


@given(st.lists(programs(cycle=60), max_size=2))
def test_least_run_time_in_the_worst_window(deliveries: list[Delivery]) -> None:
    outcome = judged(deliveries, MECHANICAL)
    running = sum(least_mean([float(flow > 0.0) for flow in course(delivery)], 240) for delivery in deliveries)
    assert outcome.too_short is (running < 0.25 - 1e-9)


@pytest.mark.parametrize(("minutes", "too_short"), [(14, True), (15, False), (60, False)])
def test_an_hour_in_four_by_hand(minutes: int, too_short: bool) -> None:
    delivery = Delivery((Run("run", 500.0 * CFM, minutes * 60.0),), 3600.0)
    assert judged([delivery], MECHANICAL).too_short is too_short


MODES = ("day", "night", "out")
flows = st.fixed_dictionaries({mode: st.tuples(st.integers(0, 3), st.integers(0, 4)) for mode in MODES})


@st.composite
def whole_weeks(draw: st.DrawFn) -> Week:
    """A week without a gap, in up to six spans."""
    edges = sorted(draw(st.sets(st.integers(0, WEEK - 1), min_size=1, max_size=6)))
    ends = [*edges[1:], edges[0] + WEEK]
    return Week(tuple(Span(a, b, draw(st.sampled_from(MODES))) for a, b in zip(edges, ends, strict=True)), ())


def painted(week: Week) -> list[str]:
    found = [""] * WEEK
    for span in week.spans:
        for minute in range(span.start, span.end):
            found[minute % WEEK] = span.mode
    return found


@given(whole_weeks(), flows, st.sampled_from(["average", "least run"]), st.sampled_from([60, 180, 240, 1440, 10080]))
def test_windows_over_modes_agree_with_a_scan(
    week: Week, flow: dict[str, tuple[int, int]], kind: str, window: int
) -> None:
    """Each mode has an airflow and quarters of run time; a window with too little run time counts for nothing."""
    need = asked(CodeKind.AVERAGE, 2.0, window)
    if kind == "least run":
        need = attrs.evolve(need, least_run=MECHANICAL.least_run)
    means = {mode: (air * CFM, air * CFM, quarters / 4.0) for mode, (air, quarters) in flow.items()}
    found = worst_window(week, MODES.__contains__, means, float(window), lambda values: over_modes(values, need))
    minutes = painted(week) * 2
    air = [0.0, *accumulate(flow[mode][0] for mode in minutes)]
    running = [0.0, *accumulate(flow[mode][1] / 4.0 for mode in minutes)]
    least_share = 0.25 if kind == "least run" else 0.0
    scores = [
        0.0
        if (running[at + window] - running[at]) / window < least_share - 1e-9
        else (air[at + window] - air[at]) / window / 2.0
        for at in range(WEEK)
    ]
    assert found is not None
    assert found.score == pytest.approx(min(scores), abs=1e-9)
