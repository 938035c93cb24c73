"""Programs under a requirement: cases worked by hand under the International Residential Code."""

from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventrules.codes import Counts, Requirement, own_requirement, requirement
from ventrules.files import load_code
from ventrules.job import Dwelling, Occupancy, Route, Target
from ventrules.survey import Delivery, Judged, Run, judged
from ventrules.units import Airflow, Area

CFM = 0.3048**3 / 60  # m3/s; 1 ft = 0.3048 m exactly
HOUSE = Dwelling(Area.parse("2400 ft2"), 3)  # IRC table 60 cfm, equation 54 cfm


def _irc(edition: str, route: Route = Route.TABLE) -> Requirement:
    name = f"us-irc-{edition}"
    return requirement(load_code(name), HOUSE, Target(code=name, route=route))


def _average(cfm: float, hours: float) -> Requirement:
    return own_requirement(Airflow.of(cfm, "cfm"), hours * 3600.0, [Occupancy.OCCUPIED], Counts.SUPPLY)


def _unit(*runs: tuple[float, float], cycle_min: float = 60.0) -> Delivery:
    """Return a delivery of (cfm, minutes) runs."""
    stages = tuple(Run(f"stage {n}", cfm * CFM, minutes * 60.0) for n, (cfm, minutes) in enumerate(runs))
    return Delivery(stages, cycle_min * 60.0)


def _cfm(outcome: Judged) -> tuple[float, ...]:
    """Return what is delivered, what it counts as and what is required, cfm."""
    flows = (outcome.delivered_m3s, outcome.equivalent_m3s, outcome.required_m3s)
    return tuple(round(flow / CFM, 6) for flow in flows)


@pytest.mark.parametrize("edition", ["2015", "2018", "2021", "2024"])
@pytest.mark.parametrize(
    ("minutes", "cfm"),
    [
        # IRC Table M1507.3.3(2) (2015), M1505.4.3(2) (2018 on): 60 cfm x the factor at the share of the hour.
        (60, 60.0),  # 100 %: 1.0
        (45, 78.0),  # 75 %: 1.3
        (30, 120.0),  # 50 %: 2
        (20, 178.823529),  # 33 1/3 %: DERIVED, 3 - (1/3 - 0.33) / 0.17 = 2.980392
        (15, 240.0),  # 25 %: 4
    ],
)
def test_the_tables_airflow_is_just_enough(edition: str, minutes: float, cfm: float) -> None:
    outcome = judged([_unit((cfm, minutes))], _irc(edition))
    assert outcome.equivalent_m3s / CFM == pytest.approx(60.0, abs=1e-5)
    assert outcome.required_m3s / CFM == pytest.approx(60.0)
    assert outcome.least_share == pytest.approx(minutes / 60)
    assert not outcome.too_short


def test_factors_are_used_as_printed() -> None:
    # 75 % of the hour at 78 cfm delivers 58.5 cfm on average, and counts as 60 by the printed 1.3.
    outcome = judged([_unit((78.0, 45))], _irc("2021"))
    assert _cfm(outcome) == (58.5, 60.0, 60.0)


def test_two_stages_count_by_their_average_while_running() -> None:
    # 15 min at 90 and 15 min at 150 cfm: 120 cfm for half of the hour, factor 2.
    assert _cfm(judged([_unit((90.0, 15), (150.0, 15))], _irc("2021"))) == (60.0, 60.0, 60.0)


@pytest.mark.parametrize("edition", ["2015", "2018", "2021", "2024"])
def test_below_a_quarter_of_the_segment_nothing_counts(edition: str) -> None:
    # IRC M1507.3.3 (2015), M1505.4.3 (2018 on): at least 25 % of each 4-hour segment, whatever the airflow.
    outcome = judged([_unit((1000.0, 10))], _irc(edition))
    assert outcome.too_short
    assert outcome.equivalent_m3s == 0.0
    assert outcome.least_share == pytest.approx(1 / 6)


def test_one_hour_on_and_three_off() -> None:
    # Lawrence Berkeley National Laboratory, guide to ventilation control strategies (archived 2016): four
    # times the continuous airflow.
    outcome = judged([_unit((240.0, 60), cycle_min=240)], _irc("2021"))
    assert _cfm(outcome) == (60.0, 60.0, 60.0)


def test_a_segment_may_fall_across_a_cycle_at_the_worst_place() -> None:
    # 1 h on, 2 h off: a 4 h segment may hold one on-hour only (25 %), although the share is 33 1/3 %.
    outcome = judged([_unit((240.0, 60), cycle_min=180)], _irc("2021"))
    assert outcome.least_share == pytest.approx(0.25)
    assert outcome.equivalent_m3s / CFM == pytest.approx(60.0)
    # 4 h on, 4 h off: a segment may hold nothing at all.
    outcome = judged([_unit((240.0, 240), cycle_min=480)], _irc("2021"))
    assert outcome.least_share == 0.0
    assert outcome.too_short


def test_2018_asks_for_the_table_rate_only_when_run_intermittently() -> None:
    # IRC 2018, M1505.4.3: equation 54 cfm continuous; the factor multiplies the table's 60 cfm.
    need = _irc("2018", Route.EQUATION)
    assert judged([_unit((54.0, 60))], need).required_m3s / CFM == pytest.approx(54.0)
    assert judged([_unit((54.0, 45))], need).required_m3s / CFM == pytest.approx(60.0)
    # The one that never stops meets the continuous rate by itself; beside a smaller one it does not.
    assert judged([_unit((54.0, 60)), _unit((54.0, 45))], need).required_m3s / CFM == pytest.approx(54.0)
    assert judged([_unit((50.0, 60)), _unit((54.0, 45))], need).required_m3s / CFM == pytest.approx(60.0)


def test_two_ventilators_are_added() -> None:
    # 60 cfm half of the time counts as 30, and 30 cfm all of the time as 30.
    outcome = judged([_unit((60.0, 30)), _unit((30.0, 60))], _irc("2021"))
    assert _cfm(outcome) == (60.0, 60.0, 60.0)
    assert outcome.least_share == pytest.approx(0.5)


def test_one_ventilator_that_runs_too_seldom_is_hidden_only_by_one_that_suffices() -> None:
    outcome = judged([_unit((59.0, 60)), _unit((60.0, 10))], _irc("2021"))
    assert outcome.too_short
    assert outcome.equivalent_m3s / CFM == pytest.approx(59.0)
    assert outcome.least_share == pytest.approx(1 / 6)
    assert judged([_unit((60.0, 60)), _unit((60.0, 10))], _irc("2021")).enough


def test_a_ventilator_that_is_off_takes_no_part() -> None:
    assert judged([_unit((60.0, 60)), _unit()], _irc("2021")) == judged([_unit((60.0, 60))], _irc("2021"))
    nothing = judged([_unit()], _irc("2021"))
    assert (nothing.equivalent_m3s, nothing.delivered_m3s, nothing.least_share) == (0.0, 0.0, 0.0)
    assert not nothing.too_short


def test_an_average_over_a_window_is_judged_by_its_worst_window() -> None:
    # 100 cfm for 45 min of each hour: 75 over any 4 h; over 90 min at worst (45 + 15) / 90 of 100.
    unit = _unit((100.0, 45))
    assert judged([unit], _average(75.0, 4.0)).equivalent_m3s / CFM == pytest.approx(75.0)
    assert judged([unit], _average(75.0, 1.5)).equivalent_m3s / CFM == pytest.approx(100 * 60 / 90)
    assert not judged([unit], _average(75.0, 0.1)).too_short


editions = st.sampled_from([_irc("2015"), _irc("2018", Route.EQUATION), _irc("2021"), _average(75.0, 4.0)])
runs = st.tuples(st.integers(1, 300), st.integers(1, 30))
units = st.lists(st.lists(runs, max_size=2).map(lambda pairs: _unit(*pairs)), max_size=4)


@given(editions, units.flatmap(lambda found: st.tuples(st.just(found), st.permutations(found))))
def test_the_order_of_the_ventilators_does_not_matter(
    need: Requirement, orders: tuple[Sequence[Delivery], Sequence[Delivery]]
) -> None:
    one, other = (judged(deliveries, need) for deliveries in orders)
    assert one.equivalent_m3s == pytest.approx(other.equivalent_m3s)
    assert (one.required_m3s, one.least_share, one.too_short) == (
        other.required_m3s,
        other.least_share,
        other.too_short,
    )


@given(editions, st.lists(runs, min_size=1, max_size=2), st.integers(1, 4))
def test_equal_units_in_step_count_as_one_of_their_sum(
    need: Requirement, pairs: list[tuple[int, int]], count: int
) -> None:
    together = judged([_unit(*((cfm * count, minutes) for cfm, minutes in pairs))], need)
    apart = judged([_unit(*pairs)] * count, need)
    assert apart.equivalent_m3s == pytest.approx(together.equivalent_m3s)
    assert apart.delivered_m3s == pytest.approx(together.delivered_m3s)
    assert (apart.required_m3s, apart.too_short) == (together.required_m3s, together.too_short)


@given(editions, runs, st.integers(0, 200))
def test_more_airflow_for_the_same_time_never_counts_for_less(
    need: Requirement, run: tuple[int, int], more: int
) -> None:
    cfm, minutes = run
    assert (
        judged([_unit((cfm + more, minutes))], need).equivalent_m3s
        >= judged([_unit((cfm, minutes))], need).equivalent_m3s
    )


@given(editions, st.integers(1, 300), st.integers(15, 60), st.integers(15, 60))
def test_more_time_at_the_same_airflow_never_counts_for_less(need: Requirement, cfm: int, one: int, other: int) -> None:
    less, more = sorted((one, other))
    assert judged([_unit((cfm, more))], need).equivalent_m3s >= judged([_unit((cfm, less))], need).equivalent_m3s * (
        1 - 1e-12
    )
