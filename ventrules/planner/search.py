"""The cheapest choice of one option for each mode where windows, or the whole week, tie the modes together.

A linear relaxation, solved by HiGHS, gives a bound below which no choice can be, and its dual prices tell how much
each option costs beyond that bound. Options that cost more than the best choice so far are passed over; what is left is
gone through, and each choice that would be better is put to the verdict itself. So the answer is exact where the
search comes to its end, and lies within a stated distance of the least where it is broken off.
"""

from collections.abc import Callable, Iterator, Sequence
from itertools import permutations
from math import prod
from typing import Final, TypeAlias

import numpy as np
from attrs import frozen

from ventrules.planner.options import Counts, Floats, Truths, rank_keys
from ventrules.planner.orders import DUST
from ventrules.planner.steady import giving

_MOST_TRIES: Final = 2_000  # verdicts, for each part of the search
_MOST_LOOKED: Final = 20_000_000  # options looked at, of all choices together
_BRANCH: Final = 1_000  # what going one mode deeper costs, in options looked at
_HALVINGS: Final = 24
_MOST_EVENLY: Final = 2_000_000  # options among which a first choice is looked for
_INFEASIBLE: Final = 2  # what `linprog` calls a relaxation without a solution

Choice: TypeAlias = tuple[int, ...]
"""An option of each mode."""


@frozen(eq=False)
class Side:
    """The options of one mode.

    Attributes:
        cost: Their cost in what counts most; weighted, so that modes add up.
        gives: The most that each can be worth in a row, options x kinds.
        costs: Returns the whole cost of some options, options x 3, in the order in which it counts.
    """

    cost: Floats
    gives: Floats
    costs: Callable[[Counts], Floats]


@frozen
class Row:
    """What every choice has to reach: shares of the modes x what they give.

    Attributes:
        shares: Share of each mode.
        kind: Which column of what the options give.
        bound: What has to be reached.
    """

    shares: tuple[float, ...]
    kind: int
    bound: float


@frozen
class Found:
    """The outcome of a search.

    Attributes:
        choice: The best choice; None when none was found.
        bound: What no choice costs less than, in what counts most.
        ended: True when the search came to its end, so that nothing better exists.
    """

    choice: Choice | None
    bound: float
    ended: bool


def search(
    sides: Sequence[Side],
    rows: Sequence[Row],
    accept: Callable[[Choice], bool],
    starts: Sequence[Choice] = (),
    *,
    monotone: bool = False,
) -> Found:
    """Return the cheapest choice that a verdict accepts.

    Args:
        sides: The options of each mode.
        rows: What an accepted choice is sure to reach; a relaxation of the verdict.
        accept: The verdict.
        starts: Choices to begin with, if any are known; those that are accepted count.
        monotone: True when an option that gives no less in every kind of row is always as good for the verdict.
    """
    priced = _priced(sides, rows) if all(len(side.cost) for side in sides) else None
    if priced is None:
        return Found(None, np.inf, ended=True)
    bound, beyond = priced
    evenly = _evenly(sides, rows, accept)
    firsts = [*filter(accept, starts), *([evenly] if evenly is not None else [])]
    first = min(firsts, key=lambda choice: _spent(sides, choice), default=None)
    room = np.inf
    if first is not None:
        spent = _spent(sides, first)
        room = spent - bound + DUST * (abs(spent) + sum(float(np.abs(side.cost).max()) for side in sides))
    kept = [
        _kept(side, each, room, monotone=monotone, also=first[index] if first is not None else None)
        for index, (side, each) in enumerate(zip(sides, beyond, strict=True))
    ]
    run = _Search(sides, kept, [each[some] for each, some in zip(beyond, kept, strict=True)], rows, accept, bound)
    if first is not None:
        run.offer(tuple(int(np.flatnonzero(some == option)[0]) for some, option in zip(kept, first, strict=True)))
        if prod(map(len, kept)) > _MOST_TRIES:
            run.improve()
    run.walk()
    best = None if run.best is None else tuple(int(s[option]) for s, option in zip(kept, run.best, strict=True))
    return Found(best, bound, run.ended)


def _spent(sides: Sequence[Side], choice: Choice) -> float:
    return sum(float(side.cost[option]) for side, option in zip(sides, choice, strict=True))


def _priced(sides: Sequence[Side], rows: Sequence[Row]) -> tuple[float, list[Floats]] | None:
    """Return the bound of the relaxation, and what each option costs beyond it; None when nothing can be enough."""
    prices = _prices(sides, rows)
    if prices is None:
        return None
    bound, beyond = sum(price * row.bound for price, row in zip(prices, rows, strict=True)), []
    for index, side in enumerate(sides):
        reduced = side.cost.copy()
        for price, row in zip(prices, rows, strict=True):
            if price > 0.0:
                reduced -= price * row.shares[index] * side.gives[:, row.kind]
        least = float(reduced.min())
        bound += least
        reduced -= least
        beyond.append(reduced)
    return float(bound), beyond


def _prices(sides: Sequence[Side], rows: Sequence[Row]) -> list[float] | None:
    """Return the dual price of each row; None when the relaxation has no solution. Any prices give a true bound."""
    if not rows:
        return []
    from scipy.optimize import linprog  # noqa: PLC0415 - slow to import, and most weeks need no relaxation

    hulls = [_hull(side) for side in sides]
    costs = np.concatenate([side.cost[some] for side, some in zip(sides, hulls, strict=True)])
    scale = max(float(np.abs(costs).max()), DUST)
    blocks = [
        np.array([row.shares[index] * side.gives[some, row.kind] for row in rows])
        for index, (side, some) in enumerate(zip(sides, hulls, strict=True))
    ]
    reach = np.concatenate(blocks, axis=1)
    sizes = np.maximum(np.abs(reach).max(axis=1), DUST)
    one = np.concatenate(
        [np.repeat(np.eye(len(sides))[:, [index]], len(some), axis=1) for index, some in enumerate(hulls)], axis=1
    )
    found = linprog(
        costs / scale,
        A_ub=-reach / sizes[:, None],
        b_ub=-np.array([row.bound for row in rows]) / sizes,
        A_eq=one,
        b_eq=np.ones(len(sides)),
        method="highs",
    )
    if found.status == _INFEASIBLE:
        return None
    if found.status != 0:
        return [0.0] * len(rows)
    return [float(max(-price, 0.0) * scale / size) for price, size in zip(found.ineqlin.marginals, sizes, strict=True)]


def _hull(side: Side) -> Counts:
    """Return the options among which the relaxation's solution is: for one kind of row the lower hull, else all."""
    if side.gives.shape[1] != 1:
        return np.arange(len(side.cost))
    order = np.lexsort((-side.gives[:, 0], side.cost))
    given = side.gives[order, 0]
    best = np.maximum.accumulate(given)
    hull: list[int] = []
    for row in map(int, order[np.concatenate([[True], given[1:] > best[:-1]])]):  # each gives more and costs more
        while len(hull) > 1 and _above(side, hull[-2], hull[-1], row):
            hull.pop()
        hull.append(row)
    return np.array(hull)


def _above(side: Side, first: int, middle: int, last: int) -> bool:
    """Say whether the middle option costs no less than the line between the two others."""
    (x0, x1, x2), (y0, y1, y2) = (column[[first, middle, last]] for column in (side.gives[:, 0], side.cost))
    return bool((y1 - y0) * (x2 - x0) >= (y2 - y0) * (x1 - x0))


def _evenly(sides: Sequence[Side], rows: Sequence[Row], accept: Callable[[Choice], bool]) -> Choice | None:
    """Return a first choice: the cheapest options that each give the same part of what has to be reached."""
    if not rows or sum(len(side.cost) for side in sides) > _MOST_EVENLY:
        return None
    column, best, costs = rows[0].kind, None, [side.cost for side in sides]
    low, high = 0.0, max(float(side.gives[:, column].max()) for side in sides)
    for halving in range(_HALVINGS):
        middle = high if halving == 0 else (low + high) / 2.0
        choice = giving([side.gives[:, column] for side in sides], costs, [middle] * len(sides))
        if accept(choice):
            best, high = choice, middle
        else:
            low = middle
            if halving == 0:
                return None
    return best


def _kept(side: Side, beyond: Floats, room: float, *, monotone: bool, also: int | None) -> Counts:
    """Return the options that are worth looking at."""
    kept = np.flatnonzero(beyond <= room)
    if monotone and side.gives.shape[1] == 1:
        order = kept[np.lexsort((-side.gives[kept, 0], *rank_keys(side.costs(kept)).T[::-1]))]
        given = side.gives[order, 0]
        best = np.maximum.accumulate(given)
        kept = order[np.concatenate([[True], given[1:] > best[:-1]])] if len(order) else order
    return kept if also is None or also in kept else np.append(kept, also)


class _Search:
    """Goes through the choices that the bound leaves; options by their number among those kept."""

    def __init__(
        self,
        sides: Sequence[Side],
        kept: Sequence[Counts],
        beyond: Sequence[Floats],
        rows: Sequence[Row],
        accept: Callable[[Choice], bool],
        bound: float,
    ) -> None:
        self._kept, self._beyond, self._rows, self._accept, self._bound = kept, beyond, rows, accept, bound
        self._costs = [side.costs(some) for side, some in zip(sides, kept, strict=True)]
        self._gives = [side.gives[some] for side, some in zip(sides, kept, strict=True)]
        self._scale = sum(float(np.abs(cost[:, 0]).max(initial=0.0)) for cost in self._costs)
        self._order = sorted(range(len(sides)), key=lambda index: len(kept[index]))  # the longest comes last
        keys = [rank_keys(cost) for cost in self._costs]
        self._ranked = [np.lexsort(each.T[::-1]) for each in keys]
        self._sorted = [np.lexsort((*each.T[::-1], b)) for each, b in zip(keys, beyond, strict=True)]
        self._most = [
            [row.shares[i] * float(gives[:, row.kind].max(initial=0.0)) for i, gives in enumerate(self._gives)]
            for row in rows
        ]
        self._tries = self._looked = 0
        self._most_looked, self._most_tries = _MOST_LOOKED, _MOST_TRIES
        self.best: Choice | None = None
        self._cost: Floats = np.full(3, np.inf)
        self.ended = True

    def offer(self, choice: Choice) -> bool:
        """Put a choice to the verdict; keep it when it is accepted and better."""
        self._tries += 1
        if not self._accept(tuple(int(some[option]) for some, option in zip(self._kept, choice, strict=True))):
            return False
        cost = np.sum([costs[option] for costs, option in zip(self._costs, choice, strict=True)], axis=0)
        if self._better(cost):
            self.best, self._cost = choice, cost
        return True

    def _better(self, cost: Floats) -> bool:
        for mine, least in zip(cost, self._cost, strict=True):
            dust = DUST * abs(least) if np.isfinite(least) else 0.0
            if mine < least - dust:
                return True
            if mine > least + dust:
                return False
        return False

    @property
    def _room(self) -> float:
        """What a choice may cost beyond the bound."""
        return float(self._cost[0]) - self._bound + DUST * self._scale

    def _stop(self, looked: int) -> bool:
        self._looked += looked
        if self._looked > self._most_looked or self._tries >= self._most_tries:
            self.ended = False
        return not self.ended

    def walk(self) -> None:
        """Go through the choices."""
        if all(map(len, self._kept)):
            self._most_looked, self._most_tries = self._looked + _MOST_LOOKED, self._tries + _MOST_TRIES
            self._walk(self._order, {}, 0.0, [row.bound for row in self._rows])

    def improve(self) -> None:
        """Exchange the options of two modes at a time as long as that is cheaper, within a part of the effort."""
        before = None
        while self.best is not None and self.best != before and self.ended:
            before = self.best
            for pair in permutations(self._order, 2):
                self._exchange(pair)
        self.ended = True

    def _exchange(self, pair: tuple[int, int]) -> None:
        """Try other options of a pair's first mode, the nearest in cost first, each with the best of the second."""
        first, second = pair
        own = (self.best or ())[first]
        chosen = {index: option for index, option in enumerate(self.best or ()) if index not in pair}
        beyond = sum(float(self._beyond[index][option]) for index, option in chosen.items())
        missing: Sequence[float] = [row.bound for row in self._rows]
        for index, option in chosen.items():
            missing = self._left(missing, index, option)
        cost = self._costs[first][:, 0]
        for option in map(int, np.argsort(np.abs(cost - cost[own]), kind="stable")):
            more = beyond + float(self._beyond[first][option])
            if more > self._room:
                continue
            if self._stop(_BRANCH + len(cost)):
                return
            self._lowest(second, {**chosen, first: option}, more, self._left(missing, first, option))

    def _lowest(self, index: int, chosen: dict[int, int], beyond: float, missing: Sequence[float]) -> None:
        """Look for the cheapest option of a last mode by halving, as if what costs more were always as good."""
        rows, so_far = self._open(index, chosen, beyond, missing)
        ranked = self._ranked[index]
        left = ranked[rows[ranked]]
        most = float(self._cost[0] - so_far[0])
        left = left[: int(np.searchsorted(self._costs[index][left, 0], most - DUST * abs(most)))]
        low, high = 0, len(left)
        while low < high and not self._stop(0):
            # the dearest first: where that will not do, hardly anything cheaper will
            middle = high - 1 if high == len(left) else (low + high) // 2
            choice = {**chosen, index: int(left[middle])}
            if self.offer(tuple(choice[each] for each in range(len(self._costs)))):
                high = middle
            elif high == len(left):
                return
            else:
                low = middle + 1

    def _left(self, missing: Sequence[float], index: int, option: int) -> list[float]:
        """Return what is still to be reached with an option of a mode."""
        gives = self._gives[index]
        return [
            need - row.shares[index] * float(gives[option, row.kind])
            for need, row in zip(missing, self._rows, strict=True)
        ]

    def _walk(self, order: Sequence[int], chosen: dict[int, int], beyond: float, missing: Sequence[float]) -> None:
        index, rest = order[0], order[1:]
        if not rest:
            self._last(index, chosen, beyond, missing)
            return
        for option in map(int, self._sorted[index]):
            more = beyond + float(self._beyond[index][option])
            if more > self._room or self._stop(_BRANCH):
                return
            left = self._left(missing, index, option)
            if not self._hopeless(left, rest):
                self._walk(rest, {**chosen, index: option}, more, left)

    def _hopeless(self, missing: Sequence[float], rest: Sequence[int]) -> bool:
        return any(
            need > sum(most[index] for index in rest) + DUST * abs(row.bound)
            for need, row, most in zip(missing, self._rows, self._most, strict=True)
        )

    def _last(self, index: int, chosen: dict[int, int], beyond: float, missing: Sequence[float]) -> None:
        """Try the options of the last mode, the cheapest first, up to the first that is accepted."""
        if self._stop(len(self._ranked[index])):
            return
        rows, so_far = self._open(index, chosen, beyond, missing)
        for option in self._by_cost(index, rows):
            if not self._better(so_far + self._costs[index][option]) or self._stop(0):
                return
            choice = {**chosen, index: option}
            if self.offer(tuple(choice[each] for each in range(len(self._costs)))):
                return

    def _open(
        self, index: int, chosen: dict[int, int], beyond: float, missing: Sequence[float]
    ) -> tuple[Truths, Floats]:
        """Return which options of a last mode are left, and what the others cost together."""
        gives = self._gives[index]
        rows: Truths = self._beyond[index] + beyond <= self._room
        for need, row in zip(missing, self._rows, strict=True):
            rows &= row.shares[index] * gives[:, row.kind] >= need - DUST * abs(row.bound)
        so_far: Floats = np.sum([self._costs[other][option] for other, option in chosen.items()], axis=0)
        return rows, so_far

    def _by_cost(self, index: int, rows: Truths) -> Iterator[int]:
        ranked = self._ranked[index]
        yield from map(int, ranked[rows[ranked]])
