"""Relative exposure against figures computed from its recurrence, and the rest of its module by hand.

The recurrence: form as in ANSI/ASHRAE 62.2-2016, Normative Appendix C, as REGCAP (Lawrence Berkeley National
Laboratory) has it; the standard was not seen. Every figure here is computed from it; none is published.
"""

import math
from collections.abc import Callable, Iterator

import pytest

from ventrules.survey.exposure import (
    Block,
    Exposure,
    Flow,
    exposure_after,
    homecomings,
    relative_exposure,
    unventilated,
    with_infiltration,
)
from ventrules.units import Airflow, Duration, Volume

CFM = Airflow.of(1.0, "cfm").m3s
HOUR = 3600.0
REFERENCE = Airflow.of(90.0, "cfm").m3s
VOLUME = Volume.of(16_000.0, "ft3").m3
"""2,000 ft2, 8 ft high, 3 bedrooms: 90 cfm (0.03 cfm per ft2 and 7.5 cfm for each bedroom and one more)."""


def hours(*parts: tuple[float, float, bool], each: float | None = None) -> list[Block]:
    """Return blocks of a constant airflow: cfm, hours, whether people are there; in pieces of so many hours."""
    blocks: list[Block] = []
    start_s = 0.0
    for cfm, length, present in parts:
        piece = each or length
        for _ in range(round(length / piece)):
            blocks.append(Block(start_s, piece * HOUR, (Flow(cfm * CFM, piece * HOUR),), present))
            start_s += piece * HOUR
    return blocks


def exposed(blocks: list[Block]) -> Exposure:
    found = relative_exposure(blocks, REFERENCE, VOLUME)
    assert found is not None
    return found


def on_and_off(cfm: float, on_min: float, off_min: float, rest_cfm: float = 0.0) -> list[Block]:
    """Return a day of one cycle: on first."""
    cycle = (Flow(cfm * CFM, on_min * 60.0), Flow(rest_cfm * CFM, off_min * 60.0))
    return [Block(0.0, 24 * HOUR, cycle, present=True)]


@pytest.mark.parametrize(
    ("cfm", "minutes", "after"),
    [
        # computed from the recurrence; R = 1 before
        (0.0, 60.0, 1.337500),
        (90.0, 60.0, 1.000000),
        (180.0, 60.0, 0.754578),
        (0.0, 240.0, 2.350000),
        (0.0, 720.0, 5.050000),
    ],
)
def test_single_steps(cfm: float, minutes: float, after: float) -> None:
    flow = Flow(Airflow.of(cfm, "cfm").m3s, Duration.of(minutes, "min").s)
    assert exposure_after(1.0, flow, REFERENCE, VOLUME) == pytest.approx(after, abs=5e-7)


def test_without_airflow_five_is_reached_after_four_turnovers() -> None:
    # computed from the recurrence: 4 V/Qref = 4 x 16,000 / 90 = 711 min; the ceiling of 5: REGCAP
    flow = Flow(0.0, 4.0 * VOLUME / REFERENCE)
    assert flow.time_s / 60.0 == pytest.approx(711.0, abs=0.5)
    assert exposure_after(1.0, flow, REFERENCE, VOLUME) == pytest.approx(5.0, rel=1e-12)


@pytest.mark.parametrize(
    ("blocks", "mean", "peak"),
    [
        # computed from the recurrence, settled; mean and peak to the decimals given; each has 90 cfm on average
        (hours((90, 24, True)), 1.0000, 1.000),
        (on_and_off(270.0, 20, 40), 1.0042, 1.119),
        (hours((135, 16, True), (0, 8, False)), 1.3392, 3.367),
        (hours((180, 12, True), (0, 12, False)), 1.7631, 4.551),
    ],
)
def test_days_of_the_same_air_are_not_of_the_same_exposure(blocks: list[Block], mean: float, peak: float) -> None:
    found = exposed(blocks)
    assert found.mean == pytest.approx(mean, abs=5e-5)
    assert found.peak == pytest.approx(peak, abs=5e-4)


@pytest.mark.parametrize(
    ("on_cfm", "on_hours", "mean"),
    # computed from the recurrence: mean of the values at the ends of the hours
    [(135, 16, 1.3439), (180, 12, 1.7725)],
)
def test_ends_of_hours(on_cfm: float, on_hours: float, mean: float) -> None:
    found = exposed(hours((on_cfm, on_hours, True), (0.0, 24.0 - on_hours, False), each=1.0))
    assert math.fsum(found.starts) / 24 == pytest.approx(mean, abs=5e-5)


def test_the_mean_while_on_is_that_of_the_air_spread_over_the_day() -> None:
    """Off, R rises by Qref t_off/V, and on it falls by as much: mean while on = Qref (t_on + t_off)/(Qon t_on).

    Sampled at the ends of minutes it comes out lower, at 0.9986: each sample is the lowest of its minute.
    """
    assert exposed(hours((135, 16, True), (0, 8, False))).mean_present == pytest.approx(1.0, rel=1e-12)
    assert exposed(hours((135, 18, True), (0, 6, False))).mean_present == pytest.approx(90 * 24 / 135 / 18, rel=1e-12)
    minutes = exposed(hours((135, 16, True), (0, 8, False), each=1 / 60)).starts
    assert math.fsum(minutes[1:961]) / 960 == pytest.approx(0.9986, abs=5e-5)


def test_an_hour_in_four() -> None:
    # computed from the recurrence: 1.083; 1.111 when sampled at the ends of the hours
    found = exposed(hours((360, 1, True), (0, 3, True), each=1.0))
    assert found.mean == pytest.approx(1.083, abs=5e-4)
    assert math.fsum(found.starts) / 4 == pytest.approx(1.111, abs=5e-4)


def root(value: Callable[[float], float], low: float, high: float) -> float:
    """Return where a rising value is nothing, by bisection."""
    for _ in range(200):
        middle = (low + high) / 2.0
        low, high = (low, middle) if value(middle) > 0.0 else (middle, high)
    return (low + high) / 2.0


@pytest.mark.parametrize(
    ("blocks", "on_cfm"),
    [
        # computed from the recurrence: the airflow while on that makes the mean 1
        (lambda cfm: hours((cfm, 16, True), (0, 8, True)), 218.18),
        (lambda cfm: on_and_off(cfm, 20, 40), 271.15),
        (lambda cfm: hours((cfm, 12, True), (45, 12, True)), 184.00),
    ],
)
def test_airflow_needed_while_on(blocks: Callable[[float], list[Block]], on_cfm: float) -> None:
    assert root(lambda cfm: 1.0 - exposed(blocks(cfm)).mean, 90.0, 1000.0) == pytest.approx(on_cfm, abs=5e-3)


def test_infiltration_softens_the_time_off() -> None:
    # computed from the recurrence: 30 cfm of infiltration, a balanced 80 cfm for 16 h of the day
    on, off = (with_infiltration(fan * CFM, 30.0 * CFM, balanced=True) / CFM for fan in (80.0, 0.0))
    assert on == pytest.approx(110.0)
    assert off == pytest.approx(30.0)
    found = exposed(hours((on, 16, True), (off, 8, False)))
    assert found.mean == pytest.approx(1.1970, abs=5e-5)
    assert found.peak == pytest.approx(2.114, abs=5e-4)
    assert found.peak_s == 0.0  # the end of the day is the start of the next
    (night, day) = (Block(hour * HOUR, 12 * HOUR, (Flow(cfm * CFM, HOUR),), True) for hour, cfm in ((18, 30), (30, 99)))
    assert exposed([night, day]).peak_s == 6 * HOUR  # the night begins at 18:00


def test_fan_and_infiltration_together() -> None:
    # computed from ANSI/RESNET/ICC 301-2019, hourly combination: 99.61 cfm and 35.56 cfm make 108.96 cfm unbalanced
    assert with_infiltration(99.61, 35.56, balanced=False) == pytest.approx(108.96, abs=5e-3)
    assert with_infiltration(99.61, 35.56, balanced=True) == pytest.approx(135.17)
    assert with_infiltration(0.0, 35.56, balanced=False) == 35.56
    assert with_infiltration(99.61, 0.0, balanced=False) == 99.61
    assert with_infiltration(0.0, 0.0, balanced=False) == 0.0


TURNOVERS = (0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0)
NEVER = math.nan
EFFECTIVENESS = {
    # computed from the recurrence: share of time on, and the effectiveness for each number of turnovers in a cycle
    0.10: (0.996, 0.983, 0.929, 0.825, 0.629, NEVER, NEVER, NEVER, NEVER, NEVER),
    0.20: (0.997, 0.987, 0.945, 0.868, 0.742, 0.111, NEVER, NEVER, NEVER, NEVER),
    0.25: (0.997, 0.988, 0.952, 0.886, 0.783, 0.356, NEVER, NEVER, NEVER, NEVER),
    0.30: (0.997, 0.990, 0.958, 0.903, 0.818, 0.511, 0.039, NEVER, NEVER, NEVER),
    0.40: (0.998, 0.992, 0.970, 0.930, 0.873, 0.696, 0.437, NEVER, NEVER, NEVER),
    0.50: (0.999, 0.995, 0.979, 0.953, 0.915, 0.808, 0.663, 0.333, NEVER, NEVER),
    0.60: (0.999, 0.997, 0.987, 0.970, 0.947, 0.885, 0.804, 0.619, 0.429, 0.238),
    0.70: (1.000, 0.998, 0.993, 0.983, 0.971, 0.938, 0.896, 0.802, 0.703, 0.604),
    0.80: (1.000, 0.999, 0.997, 0.993, 0.987, 0.973, 0.956, 0.916, 0.875, 0.833),
    0.90: (1.000, 1.000, 0.999, 0.998, 0.997, 0.993, 0.989, 0.980, 0.970, 0.960),
}


def cells() -> Iterator[tuple[float, float, float]]:
    for share, row in EFFECTIVENESS.items():
        for turnovers, effectiveness in zip(TURNOVERS, row, strict=True):
            yield share, turnovers, effectiveness


def mean_of_cycle(share: float, turnovers: float, on: float) -> float:
    """Return the mean of a cycle that is on at `on` times the reference for a share of the time, else off."""
    cycle_s = turnovers * VOLUME / REFERENCE
    cycle = (Flow(on * REFERENCE, share * cycle_s), Flow(0.0, cycle_s - share * cycle_s))
    return exposed([Block(0.0, cycle_s, cycle, present=True)]).mean


@pytest.mark.parametrize(("share", "turnovers", "effectiveness"), [cell for cell in cells() if cell[2] > 0.0])
def test_effectiveness_of_running_part_of_the_time(share: float, turnovers: float, effectiveness: float) -> None:
    """The closed form for a mean of 1: eps (1 - (1-f)^2) = 1 - (1-f)^2 (n/2) coth(n/(2 eps)), Qon = Qref/(eps f).

    The three quantities are those of M. H. Sherman's model (AIVC Technical Note 60, 2006, abstract seen).
    """
    off = (1.0 - share) ** 2

    def excess(eps: float) -> float:
        return eps * (1.0 - off) - 1.0 + off * turnovers / 2.0 / math.tanh(turnovers / (2.0 * eps))

    eps = root(excess, 1e-9, 1.0)
    assert eps == pytest.approx(effectiveness, abs=5.01e-4)  # a tie may be rounded either way
    assert mean_of_cycle(share, turnovers, 1.0 / (eps * share)) == pytest.approx(1.0, rel=1e-9)


@pytest.mark.parametrize(("share", "turnovers"), [cell[:2] for cell in cells() if math.isnan(cell[2])])
def test_no_airflow_makes_up_for_a_long_time_off(share: float, turnovers: float) -> None:
    # computed from the recurrence: while off alone the mean is at least (1-f)^2 n/2
    least = (1.0 - share) ** 2 * turnovers / 2.0
    assert least >= 1.0 - 1e-12
    means = [mean_of_cycle(share, turnovers, 10.0**power) for power in range(1, 8)]
    assert means == sorted(means, reverse=True)
    assert means[-1] > 1.0
    assert means[-1] == pytest.approx(least, rel=1e-4)


def test_twelve_hours_off_of_a_day_are_beyond_repair() -> None:
    # computed from the recurrence: (1/2)^2 x 8.1/2 = 1.0125
    turnovers = REFERENCE * 24 * HOUR / VOLUME
    assert turnovers == pytest.approx(8.1)
    assert mean_of_cycle(0.5, turnovers, 1e9) == pytest.approx(1.0125, rel=1e-6)
    assert mean_of_cycle(2.0 / 3.0, turnovers, 1.5 / 0.6187) == pytest.approx(1.0, abs=1e-4)


def test_without_any_airflow_there_is_no_exposure_to_speak_of() -> None:
    assert relative_exposure(hours((0, 8, True), (0, 16, False)), REFERENCE, VOLUME) is None


def test_so_little_airflow_that_exposure_is_beyond_numbers_is_none() -> None:
    assert relative_exposure([Block(0.0, HOUR, (Flow(5e-324, HOUR),), present=True)], 1e6, 1.0) is None


def test_nobody_there_no_mean_with_people() -> None:
    assert exposed(hours((90, 24, False))).mean_present is None


def test_a_moment_with_people_has_the_exposure_of_that_moment() -> None:
    found = exposed([*hours((90, 24, False)), Block(24 * HOUR, 1e-7, STEADY, present=True)])
    assert found.mean_present == pytest.approx(1.0)


def test_the_first_of_equal_peaks_is_told() -> None:
    # every hour is like the other
    found = exposed([Block(6 * HOUR, 24 * HOUR, (Flow(0.0, 1800.0), Flow(0.1, 1800.0)), present=True)])
    assert found.peak_s == 6.5 * HOUR


STEADY = (Flow(0.1, HOUR),)

OFF_AT_NIGHT = (
    # by hand: a week in small; on 10 and off 50 of each hour, then off, then on, and off again at the end
    Block(0.0, 2 * HOUR, (Flow(0.1, 600.0), Flow(0.0, 3000.0)), present=True),
    Block(2 * HOUR, HOUR, (Flow(0.0, HOUR),), present=True),
    Block(3 * HOUR, HOUR, (Flow(0.0, HOUR),), present=False),
    Block(4 * HOUR, HOUR, (Flow(0.1, HOUR),), present=False),
    Block(5 * HOUR, HOUR, (Flow(0.1, 1800.0), Flow(0.0, 1800.0)), present=True),
)


def test_time_without_airflow_by_hand() -> None:
    found = unventilated(OFF_AT_NIGHT)
    assert found.share_present == pytest.approx((100 + 60 + 30) / 240)
    assert found.longest_present_s == 3000.0 + HOUR  # on into the next block, and no further: people leave
    assert (found.share_absent, found.longest_absent_s) == (0.5, HOUR)


def test_a_stretch_without_airflow_runs_from_one_cycle_into_the_next() -> None:
    # a stage that takes no time breaks nothing
    cycle = (Flow(0.0, 600.0), Flow(0.1, 1200.0), Flow(0.0, 900.0), Flow(0.2, 0.0), Flow(0.0, 900.0))
    found = unventilated([Block(0.0, 5 * HOUR, cycle, True), Block(5 * HOUR, HOUR, STEADY, True)])
    assert found.share_present == pytest.approx(5 * 40 / 360)
    assert found.longest_present_s == 2400.0


def test_a_stretch_without_airflow_runs_across_the_end_of_the_week() -> None:
    found = unventilated([OFF_AT_NIGHT[1], *OFF_AT_NIGHT[3:]])
    assert found.longest_present_s == 1800.0 + HOUR


def test_never_any_airflow_is_a_stretch_of_one_period() -> None:
    found = unventilated(hours((0, 8, True), (0, 16, True)))
    assert (found.share_present, found.longest_present_s) == (1.0, 24 * HOUR)
    assert (found.share_absent, found.longest_absent_s) == (None, None)


@pytest.mark.parametrize("times", [(0.1, 0.2, 0.3), (0.7, 0.1, 0.3)])
def test_a_rest_that_rounding_made_does_not_break_a_stretch(times: tuple[float, float, float]) -> None:
    # 0.1 + 0.2 + 0.3 come out above 0.6, and 0.7 + 0.1 + 0.3 below 1.1
    cycle_s = round(sum(times), 1)
    assert sum(times) != cycle_s
    on, *off = times
    cycle = (Flow(0.1, on), *(Flow(0.0, time_s) for time_s in off))
    for cycles in range(1, 200):
        length_s = cycles * cycle_s
        blocks = [Block(0.0, length_s, cycle, True), Block(length_s, 9.0, (Flow(0.0, 1.0),), True)]
        assert unventilated(blocks).longest_present_s == pytest.approx(9.0 + sum(off))


def home(recovered: float, *parts: tuple[float, float, bool]) -> list[tuple[float, float, float, float | None]]:
    blocks = hours(*parts)
    found = homecomings(blocks, exposed(blocks), REFERENCE, VOLUME, recovered)
    return [(each.at_s, each.airflow_m3s, each.exposure, each.recovery_s) for each in found]


def test_recovery_after_an_absence() -> None:
    # computed from the recurrence: t = V/Q ln((R - Qref/Q)/(1 - Qref/Q)) with Q = 135 cfm, R = 3.3675
    ((at_s, airflow_m3s, exposure, recovery_s),) = home(1.0, (135, 16, True), (0, 8, False))
    assert at_s == 0.0
    assert airflow_m3s == pytest.approx(135 * CFM)
    assert exposure == pytest.approx(3.36749, abs=5e-6)
    assert recovery_s == pytest.approx(16_000 / 135 * math.log((3.36748647 - 2 / 3) / (1 - 2 / 3)) * 60.0, rel=1e-6)


def test_recovery_in_the_first_of_cycles_that_rise() -> None:
    # computed from the recurrence: 10 min of 400 cfm in each hour bring R down, and 50 min off up by more
    cycle = (Flow(400 * CFM, 600.0), Flow(0.0, 3000.0))
    blocks = [*hours((180, 24, False)), Block(24 * HOUR, 24 * HOUR, cycle, True)]
    found = exposed(blocks)
    assert found.starts[1] == pytest.approx(0.5, abs=1e-3)
    (back,) = homecomings(blocks, found, REFERENCE, VOLUME, 0.48)
    start = found.starts[1] - 90 / 400
    assert back.recovery_s == pytest.approx(16_000 / 400 * math.log(start / (0.48 - 90 / 400)) * 60.0, rel=1e-6)


def test_no_recovery_to_a_level_that_the_airflow_only_nears() -> None:
    # it falls toward 90/135 for ever
    ((_at_s, _airflow, _exposure, recovery_s),) = home(2.0 / 3.0, (135, 16, True), (0, 8, False))
    assert recovery_s is None


def test_nothing_to_recover_from_where_the_absence_was_aired() -> None:
    ((_at_s, _airflow, exposure, recovery_s),) = home(1.0, (90, 16, True), (90, 8, False))
    assert exposure == pytest.approx(1.0)
    assert recovery_s == 0.0
    # nor where it turns bad only later
    assert home(1.0, (300, 10, False), (0, 14, True))[0][3] == 0.0


def test_recovery_may_come_only_with_the_next_absence() -> None:
    # computed from the recurrence: 14 h off from 0.3 on lead to 0.3 + 14 x 0.3375; then 300 cfm
    ((at_s, airflow_m3s, exposure, recovery_s),) = home(0.35, (300, 10, False), (0, 1, False), (0, 13, True))
    assert at_s == 11 * HOUR
    assert airflow_m3s == 0.0
    assert exposure == pytest.approx(0.6375, abs=1e-3)
    assert recovery_s == pytest.approx(13 * HOUR + 16_000 / 300 * math.log(14 * 0.3375 / 0.05) * 60.0, rel=1e-4)


def test_each_homecoming_is_told_and_nothing_else_is() -> None:
    assert [at_s for at_s, *_ in home(1.0, (90, 2, True), (90, 3, False), (90, 4, True), (90, 5, False))] == [
        0.0,
        5 * HOUR,
    ]
    assert home(1.0, (90, 12, True), (120, 12, True)) == []
    assert home(1.0, (90, 12, False), (120, 12, False)) == []


def test_a_stage_that_takes_no_time_is_not_met_on_coming_home() -> None:
    away = Block(0.0, HOUR, (Flow(0.1, HOUR),), present=False)
    back = Block(HOUR, HOUR, (Flow(0.3, 0.0), Flow(0.2, HOUR)), present=True)
    found = relative_exposure([away, back], REFERENCE, VOLUME)
    assert found is not None
    assert homecomings([away, back], found, REFERENCE, VOLUME, 1.0)[0].airflow_m3s == 0.2


@pytest.mark.parametrize(
    ("blocks", "message"),
    [
        ([], "at least one block"),
        ([Block(0.0, 0.0, STEADY, present=True)], "a block must take more than no time"),
        ([Block(0.0, HOUR, (), present=True)], "a cycle must take more than no time"),
        ([Block(0.0, HOUR, (Flow(0.1, 0.0),), present=True)], "a cycle must take more than no time"),
    ],
)
def test_a_week_of_nothing_is_refused(blocks: list[Block], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        relative_exposure(blocks, REFERENCE, VOLUME)
    with pytest.raises(ValueError, match=message):
        unventilated(blocks)
    with pytest.raises(ValueError, match=message):
        homecomings(blocks, Exposure(1.0, 1.0, 1.0, 0.0, (1.0,)), REFERENCE, VOLUME, 1.0)


def test_a_dwelling_without_volume_is_refused() -> None:
    with pytest.raises(ValueError, match="volume must be more than nothing"):
        relative_exposure([Block(0.0, HOUR, STEADY, present=True)], REFERENCE, 0.0)
    with pytest.raises(ValueError, match="volume must be more than nothing"):
        exposure_after(1.0, Flow(0.1, HOUR), REFERENCE, math.nan)
