"""Laws of relative exposure: it agrees with small steps and with many digits, and moves as it must.

The recurrence that the oracles step through: form as in ANSI/ASHRAE 62.2-2016, Normative Appendix C, as REGCAP
(Lawrence Berkeley National Laboratory) has it; the standard was not seen.
"""

import math
from collections.abc import Iterator, Sequence
from decimal import Decimal, localcontext
from itertools import accumulate, groupby, pairwise

import pytest
from hypothesis import assume, given, reject, settings
from hypothesis import strategies as st

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

few = settings(max_examples=max(settings().max_examples // 3, 1))

airflows = st.just(0.0) | st.floats(0.002, 0.3)
references = st.floats(0.005, 0.2)
volumes = st.floats(60.0, 1500.0)


@st.composite
def weeks(
    draw: st.DrawFn,
    unit_s: int = 1,
    longest: int = 3000,
    longest_cycle: int = 1200,
    airflow: st.SearchStrategy[float] = airflows,
) -> list[Block]:
    """Return a short period of up to six blocks, in whole units of time; programs may come up again."""
    flow = st.builds(Flow, airflow, st.integers(0, longest_cycle).map(lambda units: float(units * unit_s)))
    programs = st.lists(flow, min_size=1, max_size=3).filter(lambda flows: sum(flow.time_s for flow in flows) > 0)
    cycles = [tuple(flows) for flows in draw(st.lists(programs, min_size=1, max_size=3))]
    blocks, start_s = list[Block](), 0.0
    for units in draw(st.lists(st.integers(1, longest), min_size=1, max_size=6)):
        length_s, cycle = float(units * unit_s), draw(st.sampled_from(cycles))
        cycle_s = sum(flow.time_s for flow in cycle)
        if length_s > cycle_s and draw(st.booleans()):
            length_s -= length_s % cycle_s
        blocks.append(Block(start_s, length_s, cycle, draw(st.booleans())))
        start_s += length_s
    return blocks


@st.composite
def days_out(draw: st.DrawFn) -> list[Block]:
    """Return an absence without airflow, and many short cycles afterwards."""
    away_s, home_s = draw(st.integers(100, 3000)), draw(st.integers(1000, 6000))
    cycle = (
        Flow(draw(st.floats(0.05, 0.5)), float(draw(st.integers(10, 60)))),
        Flow(0.0, float(draw(st.integers(1, 60)))),
    )
    return [
        Block(0.0, float(away_s), (Flow(0.0, 60.0),), present=False),
        Block(float(away_s), float(home_s), cycle, present=True),
    ]


def exposed(blocks: Sequence[Block], reference: float, volume: float) -> Exposure:
    found = relative_exposure(blocks, reference, volume)
    return reject() if found is None else found


def courses(blocks: Sequence[Block], unit_s: int = 1) -> list[float]:
    """Return the airflow in each unit of time, written out."""
    found: list[float] = []
    for block in blocks:
        cycle = [flow.airflow_m3s for flow in block.cycle for _ in range(round(flow.time_s) // unit_s)]
        units = round(block.length_s) // unit_s
        found += (cycle * (units // len(cycle) + 1))[:units]
    return found


def stepped(course: Sequence[float], start: float, reference: float, volume: float, step_s: int = 1) -> list[float]:
    """Return the relative exposure at the start and after each step, by the recurrence."""
    kept = {airflow: math.exp(-airflow * step_s / volume) for airflow in set(course)}
    values, value = [start], start
    for airflow in course:
        if airflow > 0.0:
            level = reference / airflow
            value = level + (value - level) * kept[airflow]
        else:
            value += reference * step_s / volume
        values.append(value)
    return values


def settled(course: Sequence[float], reference: float, volume: float, step_s: int = 1) -> list[float]:
    """Return the steps of the period that ends where it starts: a period's end is linear in its start."""
    from_none, from_one = (stepped(course, start, reference, volume, step_s)[-1] for start in (0.0, 1.0))
    return stepped(course, from_none / (1.0 - (from_one - from_none)), reference, volume, step_s)


def mean(values: Sequence[float]) -> float:
    """Return the mean by trapezoids."""
    return math.fsum((one + other) / 2.0 for one, other in pairwise(values)) / (len(values) - 1)


@few
@given(weeks(), references, volumes)
def test_it_is_what_steps_of_a_second_come_to(blocks: list[Block], reference: float, volume: float) -> None:
    found = exposed(blocks, reference, volume)
    values = settled(courses(blocks), reference, volume)
    assert found.mean == pytest.approx(mean(values), rel=1e-4)
    assert found.peak == pytest.approx(max(values), rel=1e-7)
    assert values[round(found.peak_s)] == pytest.approx(found.peak, rel=1e-7)
    assert found.starts == pytest.approx([values[round(block.start_s)] for block in blocks], rel=1e-7)


@few
@given(weeks(unit_s=300, longest=330, longest_cycle=30), references, st.floats(200.0, 1500.0))
def test_whole_weeks_are_what_steps_of_minutes_come_to(blocks: list[Block], reference: float, volume: float) -> None:
    found = exposed(blocks, reference, volume)
    values = settled(courses(blocks, 300), reference, volume, 300)
    assert found.mean == pytest.approx(mean(values), rel=2e-2)
    assert found.peak == pytest.approx(max(values), rel=1e-7)
    assert found.starts == pytest.approx([values[round(block.start_s) // 300] for block in blocks], rel=1e-7)


def pieces(block: Block) -> Iterator[Flow]:
    """Yield a block's constant airflows one after the other."""
    left_s = block.length_s
    while left_s > 1e-6:
        for flow in block.cycle:
            yield Flow(flow.airflow_m3s, min(flow.time_s, max(left_s, 0.0)))
            left_s -= flow.time_s


def piecewise(
    blocks: Sequence[Block], start: Decimal, reference: Decimal, volume: Decimal
) -> tuple[Decimal, Decimal, Decimal]:
    """Return the value at the end, the integral and the highest value, piece by piece, from a start."""
    value, total, peak = start, Decimal(0), start
    for block in blocks:
        for airflow_m3s, time_s in pieces(block):
            airflow, time = Decimal(airflow_m3s), Decimal(time_s)
            if airflow:
                level = reference / airflow
                rest = (-airflow * time / volume).exp()
                total += level * time + (value - level) * volume / airflow * (1 - rest)
                value = level + (value - level) * rest
            else:
                total += value * time + reference / volume * time * time / 2
                value += reference / volume * time
            peak = max(peak, value)
    return value, total, peak


@few
@given(
    weeks(
        airflow=st.sampled_from([0.0, 1e-18, 1e-12, 1e-6, 0.3, 10.0, 1e4]) | st.floats(1e-18, 1.0),
        longest=6000,
        longest_cycle=3000,
    ).filter(lambda blocks: sum(block.length_s / sum(flow.time_s for flow in block.cycle) for block in blocks) < 60),
    references,
    volumes,
)
def test_it_is_exact_however_little_or_much_air(blocks: list[Block], reference: float, volume: float) -> None:
    found = exposed(blocks, reference, volume)
    with localcontext() as context:
        context.prec = 80
        fixed = Decimal(reference), Decimal(volume)
        from_none, from_one = (piecewise(blocks, Decimal(start), *fixed)[0] for start in (0, 1))
        start = from_none / (1 - (from_one - from_none))
        _end, total, peak = piecewise(blocks, start, *fixed)
        period = sum(Decimal(block.length_s) for block in blocks)
        assert found.mean == pytest.approx(float(total / period), rel=1e-11)
        assert found.peak == pytest.approx(float(peak), rel=1e-11)
        assert found.starts[0] == pytest.approx(float(start), rel=1e-11)


@given(weeks(longest_cycle=3000), references, volumes, st.floats(0.0, 20.0), st.integers(1, 3))
def test_any_start_nears_it_as_fast_as_the_air_turns_over(
    blocks: list[Block], reference: float, volume: float, start: float, weeks_passed: int
) -> None:
    found = exposed(blocks, reference, volume)
    assume(sum(block.length_s / sum(flow.time_s for flow in block.cycle) for block in blocks) < 300)
    turnovers = sum(flow.airflow_m3s * flow.time_s for block in blocks for flow in pieces(block)) / volume
    value = start
    for _ in range(weeks_passed):
        for block in blocks:
            for flow in pieces(block):
                value = exposure_after(value, flow, reference, volume)
    left = (start - found.starts[0]) * math.exp(-turnovers * weeks_passed)
    assert value == pytest.approx(found.starts[0] + left, rel=1e-9)


def numbers(exposure: Exposure) -> list[float]:
    return [exposure.mean, exposure.mean_present or 0.0, exposure.peak, *exposure.starts]


def same(one: Exposure, other: Exposure) -> bool:
    return numbers(other)[:3] == pytest.approx(numbers(one)[:3], rel=1e-9)


@given(weeks(), references, volumes, st.integers(0, 5))
def test_it_does_not_matter_with_which_block_the_week_begins(
    blocks: list[Block], reference: float, volume: float, shift: int
) -> None:
    shift %= len(blocks)
    one, other = exposed(blocks, reference, volume), exposed([*blocks[shift:], *blocks[:shift]], reference, volume)
    assert same(one, other)
    assert other.starts == pytest.approx((*one.starts[shift:], *one.starts[:shift]), rel=1e-9)
    assert unventilated(blocks) == unventilated([*blocks[shift:], *blocks[:shift]])


def turned(cycle: Sequence[Flow], by_s: float) -> tuple[Flow, ...]:
    """Return a cycle from some time in it on."""
    ends = list(accumulate((flow.time_s for flow in cycle), initial=0.0))
    at_s = by_s % ends[-1]
    index = next(index for index, end_s in enumerate(ends[1:]) if end_s > at_s)
    done_s = at_s - ends[index]
    flow = cycle[index]
    begun, left = Flow(flow.airflow_m3s, done_s), Flow(flow.airflow_m3s, flow.time_s - done_s)
    return (left, *cycle[index + 1 :], *cycle[:index], begun)


def cut(blocks: Sequence[Block], index: int, by_s: float) -> list[Block]:
    """Return the same week with one block cut in two."""
    block = blocks[index]
    first = block._replace(length_s=by_s)
    second = Block(block.start_s + by_s, block.length_s - by_s, turned(block.cycle, by_s), block.present)
    return [*blocks[:index], *(part for part in (first, second) if part.length_s > 0.0), *blocks[index + 1 :]]


@given(weeks(), references, volumes, st.data())
def test_it_does_not_matter_where_a_block_is_cut(
    blocks: list[Block], reference: float, volume: float, data: st.DataObject
) -> None:
    index = data.draw(st.integers(0, len(blocks) - 1))
    by_s = float(data.draw(st.integers(0, round(blocks[index].length_s))))
    parts = cut(blocks, index, by_s)
    one, other = exposed(blocks, reference, volume), exposed(parts, reference, volume)
    assert same(one, other)
    assert unventilated(blocks) == unventilated(parts)


@given(weeks(longest_cycle=200), references, volumes, st.data())
def test_a_block_may_be_cut_after_any_whole_cycle(
    blocks: list[Block], reference: float, volume: float, data: st.DataObject
) -> None:
    index = data.draw(st.integers(0, len(blocks) - 1))
    block = blocks[index]
    cycle_s = sum(flow.time_s for flow in block.cycle)
    assume(block.length_s > cycle_s)
    first_s = data.draw(st.integers(1, math.ceil(block.length_s / cycle_s) - 1)) * cycle_s
    first = block._replace(length_s=first_s)
    second = block._replace(start_s=block.start_s + first_s, length_s=block.length_s - first_s)
    one = exposed(blocks, reference, volume)
    other = exposed([*blocks[:index], first, second, *blocks[index + 1 :]], reference, volume)
    assert same(one, other)
    assert (*other.starts[: index + 1], *other.starts[index + 2 :]) == pytest.approx(one.starts, rel=1e-9)


@given(weeks(), references, volumes)
def test_the_peak_is_when_it_is_said_to_be_and_nothing_is_higher(
    blocks: list[Block], reference: float, volume: float
) -> None:
    found = exposed(blocks, reference, volume)
    index = max(i for i, block in enumerate(blocks) if block.start_s <= found.peak_s)
    by_s = found.peak_s - blocks[index].start_s
    parts = cut(blocks, index, by_s)
    there = exposed(parts, reference, volume).starts[index + (by_s > 0.0)]
    assert there == pytest.approx(found.peak, rel=1e-9)
    assert found.peak >= max(*found.starts, found.mean) * (1 - 1e-12)


@given(weeks(), references, volumes, st.data())
def test_more_air_at_any_time_never_raises_it(
    blocks: list[Block], reference: float, volume: float, data: st.DataObject
) -> None:
    index = data.draw(st.integers(0, len(blocks) - 1))
    cycle = list(blocks[index].cycle)
    stage = data.draw(st.integers(0, len(cycle) - 1))
    more = data.draw(st.floats(0.0, 0.5) | st.just(1e-12))
    cycle[stage] = Flow(cycle[stage].airflow_m3s + more, cycle[stage].time_s)
    aired = [*blocks[:index], blocks[index]._replace(cycle=tuple(cycle)), *blocks[index + 1 :]]
    one, other = exposed(blocks, reference, volume), exposed(aired, reference, volume)
    assert all(new <= old * (1 + 1e-10) for new, old in zip(numbers(other), numbers(one), strict=True))


@given(weeks(), references, volumes, st.sampled_from([0.25, 0.5, 2.0, 8.0]))
def test_scaling(blocks: list[Block], reference: float, volume: float, factor: float) -> None:
    """A power of two moves no digit, so that it holds to the last one."""
    found = exposed(blocks, reference, volume)
    assert numbers(exposed(blocks, reference * factor, volume)) == [factor * number for number in numbers(found)]
    larger = [
        block._replace(cycle=tuple(Flow(flow.airflow_m3s * factor, flow.time_s) for flow in block.cycle))
        for block in blocks
    ]
    assert exposed(larger, reference * factor, volume * factor) == found


@given(weeks(), references, volumes, st.floats(0.1, 10.0))
def test_a_steady_airflow_gives_its_ratio_and_the_reference_gives_one(
    blocks: list[Block], reference: float, volume: float, ratio: float
) -> None:
    steady = [
        block._replace(cycle=tuple(Flow(reference / ratio, flow.time_s) for flow in block.cycle)) for block in blocks
    ]
    found = exposed(steady, reference, volume)
    assert (found.mean, found.peak, *found.starts) == pytest.approx([ratio] * (2 + len(blocks)), rel=1e-12)
    assert found.peak_s == 0.0


@given(weeks(), volumes, st.floats(1.0, 3.0))
def test_no_more_air_than_the_reference_on_average_never_brings_the_mean_below_one(
    blocks: list[Block], volume: float, factor: float
) -> None:
    course = courses(blocks)
    average = math.fsum(course) / len(course)
    assert exposed(blocks, average * factor, volume).mean >= factor * (1 - 1e-12)


@given(weeks(), references, volumes)
def test_the_mean_with_people_and_the_mean_without_make_the_mean(
    blocks: list[Block], reference: float, volume: float
) -> None:
    found = exposed(blocks, reference, volume)
    away = exposed([block._replace(present=not block.present) for block in blocks], reference, volume)
    present_s = sum(block.length_s for block in blocks if block.present)
    absent_s = sum(block.length_s for block in blocks if not block.present)
    assert (found.mean_present is None) is (present_s == 0.0)
    assert (away.mean_present is None) is (absent_s == 0.0)
    total = (found.mean_present or 0.0) * present_s + (away.mean_present or 0.0) * absent_s
    assert total == pytest.approx(found.mean * (present_s + absent_s), rel=1e-12)


@given(weeks(), references, volumes)
def test_only_a_week_without_air_has_none(blocks: list[Block], reference: float, volume: float) -> None:
    assert (relative_exposure(blocks, reference, volume) is None) is not any(courses(blocks))


def scanned(blocks: Sequence[Block], *, present: bool) -> tuple[float | None, float | None]:
    """Return the share of time without airflow and its longest stretch, unit by unit."""
    people = [block.present for block in blocks for _ in range(round(block.length_s))]
    off = [airflow == 0.0 and there is present for airflow, there in zip(courses(blocks), people, strict=True)]
    if present not in people:
        return None, None
    runs = [sum(run) for still, run in groupby([*off, *off]) if still]
    return off.count(True) / people.count(present), float(min(max(runs, default=0), len(off)))


@given(weeks(longest=300, longest_cycle=100, airflow=st.sampled_from([0.0, 0.1])))
def test_time_without_airflow_agrees_with_a_scan(blocks: list[Block]) -> None:
    found = unventilated(blocks)
    for present, got in (
        (True, (found.share_present, found.longest_present_s)),
        (False, (found.share_absent, found.longest_absent_s)),
    ):
        share, longest = scanned(blocks, present=present)
        assert got == (share if share is None else pytest.approx(share), longest)


@few
@given(weeks(longest=1500, longest_cycle=600) | days_out(), references, volumes, st.floats(-0.1, 1.1))
def test_recovery_is_when_steps_of_a_second_get_there(
    blocks: list[Block], reference: float, volume: float, height: float
) -> None:
    found = exposed(blocks, reference, volume)
    course = courses(blocks)
    values = settled(course, reference, volume)
    recovered = min(values) + height * (max(values) - min(values))
    slope = (reference + max(course) * max(values)) / volume  # the most that it moves in a second
    homes = homecomings(blocks, found, reference, volume, recovered)
    comes = [block for index, block in enumerate(blocks) if block.present and not blocks[index - 1].present]
    assert [home.at_s for home in homes] == [block.start_s for block in comes]
    for home in homes:
        at = round(home.at_s)
        ahead = [*values[at:-1], *values[: at + 1]]
        assert home.airflow_m3s == course[at]
        assert home.exposure == pytest.approx(ahead[0], rel=1e-7)
        before = len(ahead) if home.recovery_s is None else math.ceil(home.recovery_s)
        assert all(value > recovered * (1 - 1e-6) for value in ahead[:before])
        if home.recovery_s is not None:
            assert home.recovery_s <= len(course)
            assert ahead[math.floor(home.recovery_s)] <= recovered * (1 + 1e-6) + slope


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_infiltration_adds_all_of_itself_to_a_balanced_fan_and_less_to_another(fan: float, infiltration: float) -> None:
    most = with_infiltration(fan, infiltration, balanced=True)
    less = with_infiltration(fan, infiltration, balanced=False)
    assert most == fan + infiltration
    assert fan <= less <= most
    assert (less == most) or (fan > 0.0 and infiltration > 0.0)
    assert less >= max(fan, infiltration) * (1 - 1e-12)
