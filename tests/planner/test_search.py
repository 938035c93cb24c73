"""The search over modes that are tied together, against every choice there is."""

import math
from collections.abc import Callable, Iterator, Sequence
from itertools import product
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import event, given
from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from tests.planner.exhaustive import cheaper
from tests.planner.planner import Floats, Found, Row, Side, search, searching

DUST = 1e-9


class Problem(NamedTuple):
    """Options of each mode: cost of three columns and what they give; rows to reach; and what else a verdict asks.

    The verdict asks for the rows. If it is not monotone it also turns down one choice in three.
    """

    costs: list[list[tuple[float, float, float]]]
    gives: list[list[tuple[float, ...]]]
    rows: list[Row]
    curved: float
    monotone: bool

    def sides(self) -> list[Side]:
        return [side(np.array(costs), np.array(gives)) for costs, gives in zip(self.costs, self.gives, strict=True)]

    def choices(self) -> Iterator[tuple[int, ...]]:
        return product(*(range(len(options)) for options in self.costs))

    def cost(self, choice: Sequence[int]) -> tuple[float, float, float]:
        each = [options[option] for options, option in zip(self.costs, choice, strict=True)]
        air, power, changes = (math.fsum(column) for column in zip(*each, strict=True))
        return air, power, changes

    def accepts(self, choice: Sequence[int]) -> bool:
        given = [options[option] for options, option in zip(self.gives, choice, strict=True)]
        for row in self.rows:
            reached = math.fsum(share * each[row.kind] for share, each in zip(row.shares, given, strict=True))
            if reached < row.bound - DUST * abs(row.bound):
                return False
        if math.fsum(math.sqrt(each[0]) for each in given) < self.curved:
            return False
        return self.monotone or sum((place + 1) * option for place, option in enumerate(choice)) % 3 != 2

    def found(self) -> Found:
        return search(self.sides(), self.rows, self.accepts, monotone=self.monotone)


def side(cost: Floats, gives: Floats) -> Side:
    return Side(cost[:, 0].copy(), gives, lambda rows: cost[rows])


whole = st.integers(0, 6).map(float)
numbers = st.one_of(
    whole, whole, st.integers(0, 6000).map(lambda thousandths: thousandths / 1000)
)  # apart by more than a tie


@st.composite
def problems(draw: DrawFn) -> Problem:
    """Draw whole numbers, so that choices tie, or any; rows ask for what some choice gives, or for a little more."""
    number = draw(st.sampled_from([whole, numbers]))
    kinds = draw(st.sampled_from([1, 1, 2]))
    sizes = draw(st.lists(st.integers(1, 6), min_size=1, max_size=4))
    costs = [[draw(st.tuples(number, number, number)) for _option in range(size)] for size in sizes]
    gives = [[tuple(draw(number) for _kind in range(kinds)) for _option in range(size)] for size in sizes]
    some = [draw(st.integers(0, size - 1)) for size in sizes]
    rows = []
    for _row in range(draw(st.integers(0, 4))):
        parts = [draw(st.integers(0, 4)) for _side in sizes]
        shares = tuple(part / max(sum(parts), 1) for part in parts)
        kind = draw(st.integers(0, kinds - 1))
        reached = sum(
            share * gives[at][option][kind] for at, (share, option) in enumerate(zip(shares, some, strict=True))
        )
        rows.append(Row(shares, kind, reached * draw(st.sampled_from([1.0, 1.0, 1.0, 0.8, 1.05, 1.6]))))
    return Problem(costs, gives, rows, draw(st.sampled_from([0.0, 0.0, 1.0, 3.0])), draw(st.booleans()))


def optimum(problem: Problem) -> tuple[float, float, float] | None:
    """Return the cost of the cheapest choice that the verdict accepts."""
    best: tuple[float, float, float] | None = None
    for choice in problem.choices():
        cost = problem.cost(choice)
        if (best is None or cheaper(cost, best, range(3))) and problem.accepts(choice):
            best = cost
    return best


def same(one: Sequence[float], other: Sequence[float]) -> bool:
    return all(math.isclose(a, b, rel_tol=1e-7, abs_tol=1e-9) for a, b in zip(one, other, strict=True))


@given(problems())
def test_the_choice_is_the_cheapest_that_the_verdict_accepts(problem: Problem) -> None:
    found, best = problem.found(), optimum(problem)
    event("none" if best is None else "some")
    assert found.ended
    if best is None:
        assert found.choice is None
        return
    assert found.choice is not None
    assert problem.accepts(found.choice)
    assert same(problem.cost(found.choice), best), (problem.cost(found.choice), best)


@given(problems())
def test_the_bound_is_never_above_the_cheapest(problem: Problem) -> None:
    found, best = problem.found(), optimum(problem)
    if best is not None:
        assert found.bound <= best[0] + 1e-9 * max(abs(best[0]), 1.0)


def tiny(tries: int, looked: int) -> Callable[[pytest.MonkeyPatch], None]:
    def patch(patching: pytest.MonkeyPatch) -> None:
        patching.setattr(searching, "_MOST_TRIES", tries)
        patching.setattr(searching, "_MOST_LOOKED", looked)

    return patch


@given(problems(), st.integers(0, 4), st.sampled_from([0, 3, 20, 10_000]))
def test_broken_off_it_says_so_and_what_it_has_is_accepted(problem: Problem, tries: int, looked: int) -> None:
    with pytest.MonkeyPatch.context() as patching:
        tiny(tries, looked)(patching)
        found = problem.found()
    best = optimum(problem)
    event("came to its end" if found.ended else "broken off")
    if found.choice is not None:
        assert problem.accepts(found.choice)
        assert best is not None
        assert not cheaper(problem.cost(found.choice), best, range(3))
    if best is not None:
        assert found.bound <= best[0] + 1e-9 * max(abs(best[0]), 1.0)
    if found.ended:
        assert (found.choice is None) == (best is None)
        assert found.choice is None or best is None or same(problem.cost(found.choice), best)


HARD = Problem(
    costs=[[(float(option), 0.0, 0.0) for option in range(6)] for _mode in range(3)],
    gives=[[(float(option),) for option in range(6)] for _mode in range(3)],
    rows=[Row((1.0, 1.0, 1.0), 0, 7.0)],
    curved=4.5,  # only what is spread evenly is enough: 2, 2 and 3 come to 4.56; 1, 3 and 3 to 4.46
    monotone=False,
)


def test_a_search_that_may_not_look_is_not_proved() -> None:
    assert HARD.found().ended
    with pytest.MonkeyPatch.context() as patching:
        tiny(1, 10_000)(patching)
        found = HARD.found()
    assert not found.ended
    assert found.choice is None or HARD.accepts(found.choice)
    assert found.bound <= 7.0


def test_a_mode_without_options_leaves_nothing() -> None:
    none = np.zeros((0, 3))
    found = search([side(none, np.zeros((0, 1))), HARD.sides()[0]], [], lambda _choice: True)
    assert (found.choice, found.bound, found.ended) == (None, math.inf, True)


def test_what_no_choice_can_reach_is_told_without_a_verdict() -> None:
    def never(_choice: object) -> bool:
        pytest.fail("no verdict is needed")

    assert search(HARD.sides(), [Row((1.0, 1.0, 1.0), 0, 15.001)], never).choice is None
