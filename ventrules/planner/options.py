"""Every program that a ventilator can be set to on its controller's grid: what each costs, and what it gives.

Programs are rows of arrays. What several ventilators cost and give together is the sum of theirs, so that every
combination can be weighed at once; the verdict itself stays with the survey's own functions.
"""

from collections.abc import Iterator, Mapping, Sequence
from enum import IntEnum
from functools import lru_cache, reduce
from itertools import combinations
from math import comb, prod
from typing import Final, TypeAlias

import numpy as np
from attrs import frozen

from ventrules.codes import CodeKind, Requirement
from ventrules.job import Occupancy
from ventrules.planner.kits import Kit
from ventrules.planner.orders import DUST, Least
from ventrules.survey import Delivery, Run

Floats: TypeAlias = np.ndarray[tuple[int, ...], np.dtype[np.float64]]
Counts: TypeAlias = np.ndarray[tuple[int, ...], np.dtype[np.int64]]
Truths: TypeAlias = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]

_MOST_PROGRAMS: Final = 200_000  # of one ventilator; above it fewer stages in a cycle are tried
_FEW: Final = 10_000
_HOUR_S: Final = 3600.0


class Gives(IntEnum):
    """Columns of what a program gives. They add up over ventilators.

    AIR to SHARE are averages over a cycle; EQUIVALENT and HELD are those over the worst window, by the requirement's
    own rules for one mode. STEADY is the airflow of a program that never stops, RUNS to SHORT are 1 or 0.
    """

    AIR = 0
    SHARE = 1
    EQUIVALENT = 2
    HELD = 3
    LEAST = 4
    STEADY = 5
    RUNS = 6
    STOPS = 7
    SHORT = 8


@frozen(eq=False)
class Options:
    """Programs of one ventilator.

    Attributes:
        stages: Its stages, by name.
        flows_m3s: Their airflow, m3/s, stages long.
        times_s: Time at each stage in a cycle, s, programs x stages.
        cycle_s: Length of a cycle, s.
        cost: Delivered airflow, m3/s, fan power, W, and stage changes an hour, programs x 3: averages.
        gives: What they give, programs x columns of `Gives`.
        whole: False where the grid has more programs than these.
    """

    stages: tuple[str, ...]
    flows_m3s: tuple[float, ...]
    times_s: Floats
    cycle_s: float
    cost: Floats
    gives: Floats
    whole: bool = True

    def __len__(self) -> int:
        return len(self.times_s)

    def minutes(self, index: int) -> tuple[tuple[str, float], ...]:
        """Return a program as stages with their time in a cycle, s."""
        times = zip(self.stages, self.times_s[index], strict=True)
        return tuple((stage, float(time)) for stage, time in times if time > 0.0)

    def delivery(self, index: int) -> Delivery:
        """Return what a program delivers."""
        times = zip(self.stages, self.flows_m3s, self.times_s[index], strict=True)
        runs = tuple(Run(stage, flow, float(time)) for stage, flow, time in times if time > 0.0)
        return Delivery(runs, self.cycle_s)

    def row(self, delivery: Delivery) -> int:
        """Return the number of the program that delivers what is given."""
        own = {run.stage: run.time_s for run in delivery.runs}
        times = np.array([own.get(stage, 0.0) for stage in self.stages])
        return int(np.abs(self.times_s - times).sum(axis=1).argmin())

    def cheaper(self, index: int, columns: Sequence[int]) -> Iterator[int]:
        """Yield the numbers of the programs that cost less than one of them, the next cheaper first.

        Args:
            index: The number of the program.
            columns: The columns of cost, what counts most first.
        """
        ranked, keys = _ranking(self, tuple(columns))
        place = int(np.flatnonzero(ranked == index)[0])
        yield from (int(other) for other in ranked[:place][::-1] if tuple(keys[other]) < tuple(keys[index]))

    def only(self, rows: Truths) -> "Options":
        """Return the options of some rows."""
        return Options(
            self.stages, self.flows_m3s, self.times_s[rows], self.cycle_s, self.cost[rows], self.gives[rows], self.whole
        )


def options(kit: Kit, requirement: Requirement) -> Options:
    """Return every program that a ventilator can be set to, off first.

    Args:
        kit: What it can be set to.
        requirement: What the programs are weighed by.
    """
    flows, powers = (tuple(sorted(each.items())) for each in (kit.flows_m3s, kit.powers_w))
    grid = (kit.cycle_s, kit.step_s, kit.most_stages)
    return _options(flows, powers, grid, kit.unbroken, _Scale.of(requirement))


def as_set(delivery: Delivery, powers_w: Mapping[str, float], requirement: Requirement) -> Options:
    """Return the one program that a ventilator keeps.

    Args:
        delivery: What it delivers.
        powers_w: Stage to the power that it takes, W; 0 where it is not told.
        requirement: What it is weighed by.
    """
    flows = {run.stage: run.airflow_m3s for run in delivery.runs}
    stages = tuple(sorted(flows))
    times = {run.stage: run.time_s for run in delivery.runs}
    rows: Floats = np.array([[times[stage] for stage in stages]], dtype=np.float64).reshape(1, len(stages))
    return Options(*_weighed(flows, powers_w, delivery.cycle_s, rows, _Scale.of(requirement)))


@frozen
class _Scale:
    """What the worth of a program depends on beside the program."""

    window_s: float
    shares: tuple[float, ...]
    factors: tuple[float, ...]

    @classmethod
    def of(cls, requirement: Requirement) -> "_Scale":
        run = requirement.run_time
        return cls(requirement.window_s, tuple(run.shares) if run else (), tuple(run.factors) if run else ())


@lru_cache(maxsize=8)
def _options(
    flows: tuple[tuple[str, float], ...],
    powers: tuple[tuple[str, float], ...],
    grid: tuple[float, float, int],
    unbroken: frozenset[str],
    scale: _Scale,
) -> Options:
    stages, (cycle_s, step_s, most_stages) = tuple(stage for stage, _flow in flows), grid
    counts, whole = _counts(int(cycle_s / step_s + DUST), len(stages), most_stages)
    times_s: Floats = counts * np.float64(step_s)
    found = Options(*_weighed(dict(flows), dict(powers), cycle_s, times_s, scale), whole)
    if not unbroken:
        return found
    held = [stage in unbroken for stage in stages]
    return found.only(found.times_s[:, held].sum(axis=1) >= cycle_s * (1.0 - DUST))


@lru_cache(maxsize=64)
def _counts(steps: int, stages: int, most: int) -> tuple[Counts, bool]:
    """Return the steps at each stage of every program, programs x stages; and whether these are all of them."""
    most = min(most, stages)
    sizes = [comb(stages, used) * comb(steps, used) for used in range(most + 1)]
    kept = max(used for used in range(most + 1) if used <= 1 or sum(sizes[: used + 1]) <= _MOST_PROGRAMS)
    blocks = [np.zeros((1, stages), dtype=np.int64)]
    for used in range(1, kept + 1):
        cuts = np.array(list(combinations(range(1, steps + 1), used)), dtype=np.int64).reshape(-1, used)
        lengths = np.diff(cuts, axis=1, prepend=0)
        for chosen in combinations(range(stages), used):
            block = np.zeros((len(lengths), stages), dtype=np.int64)
            block[:, chosen] = lengths
            blocks.append(block)
    return np.concatenate(blocks), kept == most


def _weighed(
    flows_m3s: Mapping[str, float], powers_w: Mapping[str, float], cycle_s: float, times_s: Floats, scale: _Scale
) -> tuple[tuple[str, ...], tuple[float, ...], Floats, float, Floats, Floats]:
    stages = tuple(sorted(flows_m3s))
    flows = np.array([flows_m3s[stage] for stage in stages], dtype=np.float64)
    powers = np.array([powers_w.get(stage, 0.0) for stage in stages], dtype=np.float64)
    run_s = times_s.sum(axis=1)
    parts = (times_s > 0.0).sum(axis=1) + (run_s < cycle_s * (1.0 - DUST))
    changes = np.where(parts > 1, parts, 0) * (_HOUR_S / cycle_s)
    air = times_s @ flows / cycle_s
    cost = np.column_stack([air, times_s @ powers / cycle_s, changes])
    return stages, tuple(map(float, flows)), times_s, cycle_s, cost, _given(times_s, flows, cycle_s, scale)


def _given(times_s: Floats, flows: Floats, cycle_s: float, scale: _Scale) -> Floats:
    """Return what programs give, as `Delivery` and `judged` work it out for one ventilator."""
    run_s = times_s.sum(axis=1)
    air, share = times_s @ flows / cycle_s, run_s / cycle_s
    runs = run_s > 0.0
    never_stops = run_s >= cycle_s * (1.0 - DUST)
    lowest = np.where(times_s > 0.0, flows, np.inf).min(axis=1, initial=np.inf)
    least = np.where(never_stops & runs, lowest, 0.0)
    held, held_share = _over_window(times_s, flows, cycle_s, scale.window_s)
    steady = held_share >= 1.0 - DUST
    equivalent, short = held, np.zeros(len(times_s), dtype=np.bool_)
    if scale.shares:
        factors = np.interp(held_share, scale.shares, scale.factors)
        short = runs & (held_share < scale.shares[0] * (1.0 - DUST))
        while_on = np.divide(held, held_share, out=np.zeros_like(held), where=held_share > 0.0)
        equivalent = np.where(short, 0.0, while_on / factors)
    columns = [air, share, equivalent, held_share, least, np.where(steady, held, 0.0), runs, runs & ~steady, short]
    return np.column_stack([np.asarray(column, dtype=np.float64) for column in columns])


def _over_window(times_s: Floats, flows: Floats, cycle_s: float, window_s: float) -> tuple[Floats, Floats]:
    """Return the least average and the least share of run time over a window, wherever it falls."""
    run_s = times_s.sum(axis=1)
    if window_s <= 0.0:
        return times_s @ flows / cycle_s, np.minimum(run_s / cycle_s, 1.0)
    whole, rest_s = divmod(window_s, cycle_s)
    off_s = np.maximum(cycle_s - run_s, 0.0)
    air_m3, left_s = whole * (times_s @ flows), rest_s - off_s
    for stage in np.argsort(flows, kind="stable"):
        taken_s = np.clip(left_s, 0.0, times_s[:, stage])
        air_m3 = air_m3 + flows[stage] * taken_s
        left_s = left_s - taken_s
    share = (whole * run_s + np.maximum(rest_s - off_s, 0.0)) / window_s
    return air_m3 / window_s, np.minimum(share, 1.0)


def in_time(part: Options, length_s: float) -> Floats:
    """Return the average airflow of programs in a stretch of time that begins with a cycle, its highest stage first.

    Where the stretch ends within a cycle, that is more than the average over whole cycles.

    Args:
        part: The programs.
        length_s: The length of the stretch, s.
    """
    flows = np.array(part.flows_m3s, dtype=np.float64)
    whole, left_s = divmod(length_s, part.cycle_s)
    air_m3 = whole * (part.times_s @ flows)
    left = np.full(len(part), left_s)
    for stage in np.argsort(-flows, kind="stable"):
        taken_s = np.clip(left, 0.0, part.times_s[:, stage])
        air_m3 = air_m3 + flows[stage] * taken_s
        left = left - taken_s
    average: Floats = air_m3 / length_s
    return average


class Combined:
    """Every combination of several ventilators' programs, by number; what they cost and give is the sum of theirs.

    Args:
        parts: Each ventilator's programs.
    """

    def __init__(self, parts: Sequence[Options]) -> None:
        self.parts: tuple[Options, ...] = tuple(parts)
        # Who has one program only needs no dimension; arrays have a few dozen at most.
        self._open = [index for index, part in enumerate(self.parts) if len(part) != 1]
        self._shape = tuple(len(self.parts[index]) for index in self._open)

    def __len__(self) -> int:
        return prod(self._shape)

    def _rows(self, numbers: Counts) -> list[Counts]:
        """Return the program of each ventilator in some of them, ventilators x numbers."""
        rows: list[Counts] = [np.zeros_like(numbers) for _part in self.parts]
        if self._open:
            for index, own in zip(self._open, np.unravel_index(numbers, self._shape), strict=True):
                rows[index] = own
        return rows

    def total(self, values: Sequence[Floats]) -> Floats:
        """Return the sums of a value that each ventilator's programs have, combinations long."""
        found: Floats = reduce(_added, values, np.zeros(()))
        return found.ravel()

    def cost(self, column: int) -> Floats:
        """Return one column of their cost."""
        return self.total([part.cost[:, column] for part in self.parts])

    def gives(self, column: Gives) -> Floats:
        """Return one column of what they give."""
        return self.total([part.gives[:, column] for part in self.parts])

    def costs(self, numbers: Counts, columns: Sequence[int]) -> Floats:
        """Return the cost of some of them, numbers x columns."""
        costs = [part.cost[rows][:, list(columns)] for part, rows in zip(self.parts, self._rows(numbers), strict=True)]
        found: Floats = np.sum(costs, axis=0)
        return found

    def picked(self, number: int) -> tuple[int, ...]:
        """Return the program of each ventilator in one of them."""
        return tuple(int(row[0]) for row in self._rows(np.array([number])))

    def number(self, rows: Sequence[int]) -> int:
        """Return the number of one of them, by the program of each ventilator."""
        open_rows = tuple(rows[index] for index in self._open)
        return int(np.ravel_multi_index(open_rows, self._shape)) if open_rows else 0

    def enough(self, requirement: Requirement, occupancy: Occupancy) -> Truths:
        """Say of which `judged` says that they meet a requirement in a mode by themselves.

        Args:
            requirement: The requirement.
            occupancy: The mode's occupancy.
        """
        if requirement.unbroken or requirement.kind is CodeKind.CAPACITY:
            return reach(self.gives(Gives.LEAST), requirement.at(occupancy))
        asked, met = requirement.continuous_m3s, np.ones(len(self), dtype=np.bool_)
        if requirement.floor is not None:
            met &= reach(self.gives(Gives.LEAST), requirement.floor.airflow_m3s)
        if requirement.run_time is None:
            if requirement.least_share > 0.0:
                met &= reach(self.gives(Gives.HELD), requirement.least_share)
            met &= reach(self.gives(Gives.EQUIVALENT), asked)
            return met
        part_time = np.where(self.gives(Gives.STOPS) > 0.0, requirement.intermittent_m3s, asked)
        by_run_time = (self.gives(Gives.SHORT) == 0.0) & reach(self.gives(Gives.EQUIVALENT), part_time)
        met &= reach(self.gives(Gives.STEADY), asked) | by_run_time
        return met

    def run(self) -> Truths:
        """Say in which of them any ventilator runs."""
        return self.gives(Gives.RUNS) > 0.0

    def cheapest(self, among: Truths, least: Least) -> tuple[int, ...] | None:
        """Return the cheapest of some of them as the program of each ventilator; of equal ones the first.

        Args:
            among: Which of them.
            least: What is spent least of first; what ties in it goes by the next.
        """
        numbers = np.flatnonzero(among)
        for column in least.columns:
            if len(numbers) < 2:
                break
            cost = self.cost(column)[numbers] if len(numbers) > _FEW else self.costs(numbers, [column])[:, 0]
            numbers = numbers[cost <= float(cost.min()) * (1.0 + DUST)]
        return self.picked(int(numbers[0])) if len(numbers) else None


def _added(together: Floats, own: Floats) -> Floats:
    """Return the sums of what was added so far and one ventilator's values; one value alone adds no dimension."""
    found: Floats = together + own[0] if len(own) == 1 else np.add.outer(together, own)
    return found


def rank_keys(cost: Floats) -> Floats:
    """Return cost to sort by: what differs by no more than floating point adds is the same."""
    sizes = np.maximum(np.abs(cost).max(axis=0, initial=0.0), DUST)
    keys: Floats = np.rint(cost / (sizes * DUST))
    return keys


@lru_cache(maxsize=4)
def _ranking(part: Options, columns: tuple[int, ...]) -> tuple[Counts, Floats]:
    """Return the numbers of a ventilator's programs by their cost, and what they are sorted by."""
    keys = rank_keys(part.cost[:, list(columns)])
    return np.lexsort(keys.T[::-1]), keys


def reach(values: Floats, bound: float | Floats) -> Truths:
    """Say which values are at least a bound, as `units.at_least` does."""
    least: Floats = np.asarray(bound, dtype=np.float64)
    dust: Floats = DUST * np.maximum(np.abs(values), np.abs(least))
    reached: Truths = values + dust >= least
    return reached
