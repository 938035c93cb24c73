"""Every program at once, as arrays, against the programs one by one."""

import math
from collections.abc import Sequence
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.planner.exhaustive import cheaper
from tests.planner.planner import Combined, Gives, Kit, Least, Options, Truths, as_set, in_time, options
from tests.planner.weighed import OCCUPANCIES, every_requirement, kits, requirements
from ventrules.codes import CodeKind, Requirement, run_time_factor
from ventrules.job import Occupancy
from ventrules.survey import Delivery, Run, judged

some = settings(max_examples=max(settings().max_examples * 6 // 10, 5))
asked_with_kits = requirements().flatmap(lambda asked: st.tuples(st.just(asked), kits(asked)))
asked_with_several = requirements().flatmap(
    lambda asked: st.tuples(st.just(asked), st.lists(kits(asked, stages=2, most_steps=3), min_size=2, max_size=3))
)


def test_every_kind_of_requirement_comes_up() -> None:
    assert {asked.kind for asked in every_requirement()} == set(CodeKind)


def close(value: float) -> object:
    return pytest.approx(value, rel=1e-9, abs=1e-12)


def agree(found: Options, row: int, kit: Kit, asked: Requirement) -> None:
    """Hold one row against its delivery."""
    one, gives = found.delivery(row), found.gives[row]
    assert gives[Gives.AIR] == close(one.average_m3s)
    assert gives[Gives.SHARE] == close(one.share)
    assert gives[Gives.LEAST] == close(one.least_m3s)
    assert gives[Gives.RUNS] == bool(one.runs)
    if asked.window_s > 0.0:
        average, share = one.least_average_m3s(asked.window_s), min(one.least_share(asked.window_s), 1.0)
        assert gives[Gives.HELD] == close(share)
        if asked.run_time is None:
            assert gives[Gives.EQUIVALENT] == close(average)
        else:
            factor = run_time_factor(asked.run_time, share) if one.runs else None
            assert gives[Gives.SHORT] == (factor is None and bool(one.runs))
            assert gives[Gives.EQUIVALENT] == close(average / share / factor if factor and share else 0.0)
            steady = bool(one.runs) and share >= 1.0 - 1e-9
            assert gives[Gives.STEADY] == close(average if steady else 0.0)
            assert gives[Gives.STOPS] == (bool(one.runs) and not steady)
    pieces = len(one.runs) + (one.run_s < kit.cycle_s - 1e-6)
    power = math.fsum(kit.powers_w.get(run.stage, 0.0) * run.time_s for run in one.runs) / one.cycle_s
    changes = (pieces if pieces > 1 else 0) * 3600.0 / kit.cycle_s
    assert list(found.cost[row]) == [close(one.average_m3s), close(power), close(changes)]


@some
@given(asked_with_kits, OCCUPANCIES)
def test_a_row_is_what_its_delivery_comes_to(drawn: tuple[Requirement, Kit], occupancy: Occupancy) -> None:
    asked, kit = drawn
    found = options(kit, asked)
    passed = Combined([found]).enough(asked, occupancy)
    for row in range(len(found)):
        agree(found, row, kit, asked)
        assert passed[row] == judged([found.delivery(row)], asked, occupancy).enough, found.minutes(row)


@some
@given(asked_with_kits)
def test_there_are_as_many_programs_as_ways_to_fill_a_cycle_and_each_is_there_once(
    drawn: tuple[Requirement, Kit],
) -> None:
    asked, kit = drawn
    found = options(kit, asked)
    steps = int(kit.cycle_s / kit.step_s + 1e-9)
    every = {found.minutes(row) for row in range(len(found))}
    assert found.whole
    assert len(every) == len(found)
    assert all(len(program) <= kit.most_stages for program in every)
    for program in every:
        assert sum(time for _stage, time in program) <= kit.cycle_s + 1e-6
        assert all(time / kit.step_s == pytest.approx(round(time / kit.step_s)) and time > 0.0 for _s, time in program)
    if not kit.unbroken:
        # so many stages of those there are, and their times and the rest as parts of the steps: stars and bars
        stages = len(kit.flows_m3s)
        ways = [math.comb(stages, used) * math.comb(steps, used) for used in range(min(stages, kit.most_stages) + 1)]
        assert len(found) == sum(ways)
        assert () in every
    for program in every if kit.unbroken else ():
        assert sum(time for stage, time in program if stage in kit.unbroken) == pytest.approx(kit.cycle_s)


def test_of_too_many_programs_those_of_the_fewest_stages_are_taken() -> None:
    flows = {f"stage {number}": 0.01 * number for number in range(1, 6)}
    found = options(Kit(flows, {}, 3600.0, 60.0, 3), every_requirement()[0])
    assert not found.whole
    assert len(found) == 1 + 5 * 60 + math.comb(5, 2) * math.comb(60, 2)


@some
@given(asked_with_kits, st.data())
def test_what_is_kept_is_weighed_like_any_other(drawn: tuple[Requirement, Kit], data: st.DataObject) -> None:
    asked, kit = drawn
    runs = [
        Run(stage, flow, time)
        for stage, flow in kit.flows_m3s.items()
        if (time := kit.cycle_s * data.draw(st.sampled_from([0.0, 0.1, 0.25, 1.0 / len(kit.flows_m3s)]))) > 0.0
    ]
    kept = Delivery(tuple(runs), kit.cycle_s)
    found = as_set(kept, kit.powers_w, asked)
    assert len(found) == 1
    assert sorted(found.delivery(0).runs, key=str) == sorted(runs, key=str)
    agree(found, 0, kit, asked)


def weighed(parts: Sequence[Options], rows: Sequence[int], asked: Requirement, occupancy: Occupancy) -> bool:
    """Say whether programs together are enough, one by one."""
    deliveries = [part.delivery(row) for part, row in zip(parts, rows, strict=True)]
    return judged(deliveries, asked, occupancy).enough


@some
@given(asked_with_several, OCCUPANCIES)
def test_several_ventilators_are_what_their_deliveries_come_to_together(
    drawn: tuple[Requirement, list[Kit]], occupancy: Occupancy
) -> None:
    asked, several = drawn
    parts = [options(kit, asked) for kit in several]
    together = Combined(parts)
    passed, runs = together.enough(asked, occupancy), together.run()
    columns = [together.cost(column) for column in range(3)]
    assert len(together) == len(passed) == math.prod(map(len, parts))
    for number in range(0, len(together), max(len(together) // 150, 1)):
        rows = together.picked(number)
        programs = [part.minutes(row) for part, row in zip(parts, rows, strict=True)]
        assert passed[number] == weighed(parts, rows, asked, occupancy), programs
        assert runs[number] == any(programs)
        cost = [
            close(math.fsum(float(part.cost[row][column]) for part, row in zip(parts, rows, strict=True)))
            for column in range(3)
        ]
        assert [float(column[number]) for column in columns] == cost
        assert list(together.costs(np.array([number]), range(3))[0]) == cost


@some
@given(asked_with_several, OCCUPANCIES, st.sampled_from(list(Least)))
def test_the_cheapest_of_several_is_the_cheapest_of_all(
    drawn: tuple[Requirement, list[Kit]], occupancy: Occupancy, least: Least
) -> None:
    asked, several = drawn
    parts = [options(kit, asked).only(some_rows(kit, asked)) for kit in several]
    together = Combined(parts)
    among = together.enough(asked, occupancy)
    if occupancy is Occupancy.OCCUPIED:
        among &= together.run()
    found = together.cheapest(among, least)

    def cost(rows: Sequence[int]) -> tuple[float, float, float]:
        each = [part.cost[row] for part, row in zip(parts, rows, strict=True)]
        air, power, changes = (math.fsum(float(one[column]) for one in each) for column in range(3))
        return air, power, changes

    every = [
        rows
        for rows in product(*(range(len(part)) for part in parts))
        if occupancy is not Occupancy.OCCUPIED or any(part.minutes(row) for part, row in zip(parts, rows, strict=True))
    ]
    if found is None:
        assert not any(weighed(parts, rows, asked, occupancy) for rows in every)
        return
    assert weighed(parts, found, asked, occupancy)
    less = [rows for rows in every if cheaper(cost(rows), cost(found), least.columns)]
    assert not any(weighed(parts, rows, asked, occupancy) for rows in less)


def some_rows(kit: Kit, asked: Requirement) -> Truths:
    """Return which of the programs are looked at, so that there are not too many together."""
    found = options(kit, asked)
    every = max(len(found) // 7, 1)
    rows: Truths = np.arange(len(found)) % every == 0
    return rows


@some
@given(asked_with_kits, st.integers(1, 400))
def test_a_stretch_of_time_by_the_minute(drawn: tuple[Requirement, Kit], length_min: int) -> None:
    asked, kit = drawn
    found = options(kit, asked)
    averages = in_time(found, length_min * 60.0)
    for row in range(0, len(found), max(len(found) // 20, 1)):
        minutes: list[float] = []
        for stage, time_s in sorted(found.minutes(row), key=lambda run: -kit.flows_m3s[run[0]]):
            minutes += [kit.flows_m3s[stage]] * round(time_s / 60.0)
        minutes += [0.0] * (round(kit.cycle_s / 60.0) - len(minutes))
        stretch = [minutes[minute % len(minutes)] for minute in range(length_min)]
        assert averages[row] == close(math.fsum(stretch) / length_min)


@some
@given(asked_with_kits, st.integers(1, 400))
def test_no_stretch_from_the_start_of_a_cycle_has_less_than_the_average(
    drawn: tuple[Requirement, Kit], length_min: int
) -> None:
    asked, kit = drawn
    found = options(kit, asked)
    assert (in_time(found, length_min * 60.0) >= found.gives[:, Gives.AIR] * (1.0 - 1e-12)).all()
