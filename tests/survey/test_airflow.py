"""Delivered airflow against brute force over every order of the stages within a cycle."""

from collections.abc import Iterator, Sequence
from itertools import accumulate, permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventrules.codes import Counts
from ventrules.files import job_from_document
from ventrules.survey import Delivery, Run, StageFlow, Survey

Minutes = tuple[float, ...]
"""Airflow in each minute of one cycle."""


@st.composite
def deliveries(draw: st.DrawFn) -> Delivery:
    """Up to three stages with whole minutes in a short cycle."""
    cycle = draw(st.integers(1, 24))
    left, runs = cycle, []
    for stage in ("low", "medium", "high")[: draw(st.integers(0, 3))]:
        minutes = draw(st.integers(0, left))
        if minutes:
            left -= minutes
            runs.append(Run(stage, draw(st.integers(0, 40)) / 4.0, minutes * 60.0))
    return Delivery(tuple(draw(st.permutations(runs))), cycle * 60.0)


def _blocks(delivery: Delivery) -> list[Minutes]:
    """Return the cycle's blocks, one per stage and one for the time off."""
    blocks = [(run.airflow_m3s,) * round(run.time_s / 60) for run in delivery.runs]
    off = round((delivery.cycle_s - delivery.run_s) / 60)
    return [(0.0,) * off, *blocks]


def _arrangements(delivery: Delivery) -> Iterator[Minutes]:
    for order in permutations(_blocks(delivery)):
        yield tuple(flow for block in order for flow in block)


def _running(delivery: Delivery) -> Delivery:
    """Return the same program with one unit of airflow whenever it runs, so that airflow is run time."""
    return Delivery(tuple(Run(run.stage, 1.0, run.time_s) for run in delivery.runs), delivery.cycle_s)


def _least(cycle: Sequence[float], window: int) -> float:
    """Return the least mean of a repeating cycle over a sliding window of whole minutes."""
    turns = window // len(cycle) + 2
    sums = [0.0, *accumulate(list(cycle) * turns)]
    return min(sums[start + window] - sums[start] for start in range(len(cycle))) / window


windows = st.integers(1, 80)


@given(deliveries(), windows)
def test_least_average_is_the_least_over_every_order_of_the_stages(delivery: Delivery, window: int) -> None:
    least = min(_least(cycle, window) for cycle in _arrangements(delivery))
    assert delivery.least_average_m3s(window * 60.0) == pytest.approx(least, rel=1e-9, abs=1e-12)


@given(deliveries(), windows)
def test_least_share_is_the_least_over_every_order_of_the_stages(delivery: Delivery, window: int) -> None:
    least = min(_least(cycle, window) for cycle in _arrangements(_running(delivery)))
    assert delivery.least_share(window * 60.0) == pytest.approx(least, rel=1e-9, abs=1e-12)


@given(deliveries(), windows)
def test_off_first_and_then_rising_airflow_is_the_worst_order(delivery: Delivery, window: int) -> None:
    cycle = [flow for block in sorted(_blocks(delivery), key=lambda block: block[:1]) for flow in block]
    assert _least(cycle, window) == pytest.approx(delivery.least_average_m3s(window * 60.0), rel=1e-9, abs=1e-12)


@given(deliveries(), windows, st.data())
def test_no_way_of_spreading_the_minutes_is_worse(delivery: Delivery, window: int, data: st.DataObject) -> None:
    minutes = [flow for block in _blocks(delivery) for flow in block]
    spread = data.draw(st.permutations(minutes))
    assert delivery.least_average_m3s(window * 60.0) <= _least(spread, window) + 1e-9


@given(deliveries(), st.integers(1, 5))
def test_whole_cycles_average_out(delivery: Delivery, cycles: int) -> None:
    window_s = cycles * delivery.cycle_s
    assert delivery.least_average_m3s(window_s) == pytest.approx(delivery.average_m3s)
    assert delivery.least_share(window_s) == pytest.approx(delivery.share)


@given(deliveries(), st.floats(1.0, 10_000.0))
def test_the_least_never_passes_the_average(delivery: Delivery, window_s: float) -> None:
    assert 0.0 <= delivery.least_average_m3s(window_s) <= delivery.average_m3s * (1 + 1e-9)
    assert 0.0 <= delivery.least_share(window_s) <= delivery.share * (1 + 1e-9)


@pytest.mark.parametrize(
    ("minutes", "share"),
    [
        # common practice: minutes of low per hour as a share of the airflow at low.
        (60, 1.0),
        (45, 0.75),
        (30, 0.50),
        (15, 0.25),
    ],
)
def test_minutes_of_low_per_hour(minutes: int, share: float) -> None:
    delivery = Delivery((Run("low", 65.0, minutes * 60.0),), 3600.0)
    assert delivery.average_m3s == pytest.approx(65.0 * share)
    assert delivery.share == share


def test_half_the_cycle_at_each_of_two_stages_gives_their_mean() -> None:
    # common practice
    delivery = Delivery((Run("low", 50.0, 1800.0), Run("high", 100.0, 1800.0)), 3600.0)
    assert delivery.average_m3s == 75.0
    assert delivery.share == 1.0


def test_a_window_that_cuts_a_cycle_is_worked_by_hand() -> None:
    # 15 min at 80 and 30 min at 40 in each hour, 90 min window: a whole hour gives 40 x 30 + 80 x 15 = 2400;
    # the other 30 min find 15 min off and 15 min at 40 = 600. Together 3000 / 90.
    delivery = Delivery((Run("high", 80.0, 900.0), Run("low", 40.0, 1800.0)), 3600.0)
    assert delivery.least_average_m3s(5400.0) == pytest.approx(3000 / 90)
    assert delivery.least_share(5400.0) == pytest.approx(60 / 90)


def test_what_counts_of_a_stage() -> None:
    flow = StageFlow("low", supply_m3s=0.040, exhaust_m3s=0.030, net_supply_m3s=0.036, measured=False)
    counted = {counts: flow.counted(counts) for counts in Counts}
    assert counted == {
        Counts.SUPPLY: 0.036,
        Counts.EXHAUST: 0.030,
        Counts.LESSER: 0.030,
        Counts.LARGER: 0.036,
        Counts.MEAN: pytest.approx(0.033),
    }


def test_from_catalog_and_readings_to_the_airflow_that_counts() -> None:
    """ERV of the demo catalog, low: 65 / 66 cfm, 2 % transfer; high measured at 120 / 118 cfm."""
    job = job_from_document(
        {
            "ventrules": 1,
            "job": "Quarry Lane 3",
            "catalogs": ["demo"],
            "dwelling": {"floor_area": "1800 ft2", "bedrooms": 3},
            "target": {"airflow": "40 cfm", "window": "3 h"},
            "devices": {"control": {"model": "demo-control"}, "unit": {"model": "demo-erv-130"}},
            "modes": {"day": "occupied"},
            "settings": {"unit": {"programs": {"day": {"heating": {"low": "30 min", "high": "15 min"}}}}},
            "readings": {"unit": {"high": {"supply": "120 cfm", "exhaust": "118 cfm"}}},
        }
    )
    survey = Survey(job)
    delivery = next(program.delivery for program in survey.programs if program.program is not None)
    assert delivery is not None
    cfm = 0.3048**3 / 60
    # net supply: 65 x 0.98 = 63.7 for half the hour, 120 x 0.98 = 117.6 for a quarter of it
    assert delivery.average_m3s == pytest.approx((63.7 * 30 + 117.6 * 15) / 60 * cfm)
    assert delivery.cycle_s == 3600.0
    flows = survey.ventilators[0].stages
    assert [flows[stage].measured for stage in ("low", "medium", "high")] == [False, False, True]
