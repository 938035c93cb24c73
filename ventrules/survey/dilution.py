"""What airflow does to the relative exposure in one dwelling: maps of stretches of time, put one after the other.

The equations are in `exposure`, which asks for a whole week of this: it is arithmetic that every check of a week goes
through many times, so that nothing here is worked out twice for equal cycles, or asked for by more calls than needed.
"""

import math
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from typing import Final, NamedTuple, TypeAlias

DUST: Final = 1e-9
"""Relative; what floating point adds is never told from nothing."""
_SMALL: Final = 0.01  # below it phi2 is summed as a series: the plain form cancels


class Flow(NamedTuple):
    """A constant total outdoor airflow, m3/s, for a time, s; neither is negative."""

    airflow_m3s: float
    time_s: float


Cycle: TypeAlias = tuple[Flow, ...]

Map: TypeAlias = tuple[float, float, float, float, float]
"""(x, a, b, c, d): what a stretch of time does. R at its end is aR + b, the integral of R cR + d; a = exp(-x)."""

Point: TypeAlias = tuple[float, float, float]
"""(offset_s, slope, base): R so long after a block's start is slope x R + base."""

Stretch: TypeAlias = tuple[Map, Sequence[Point], float]
"""A block's map, the points among which its highest value is, and the greatest base of these."""

_SAME: Final[Map] = (0.0, 1.0, 0.0, 0.0, 0.0)


class _Turned(NamedTuple):
    """One cycle.

    Attributes:
        pieces: Its constant airflows, each with its own map.
        ends: Where each of them ends, s, with the map of the cycle up to there.
        points: The same, as points of the first cycle of a block.
        doubled: The whole cycle once, twice, 4 times, ...; filled as far as it was asked for.
    """

    pieces: list[tuple[Flow, Map]]
    ends: list[tuple[float, Map]]
    points: list[Point]
    doubled: list[Map]


def _then(first: Map, second: Map) -> Map:
    """Return two maps as one. All terms are positive: nothing cancels."""
    x1, a1, b1, c1, d1 = first
    x2, a2, b2, c2, d2 = second
    x = x1 + x2
    return x, math.exp(-x), a2 * b1 + b2, c1 + c2 * a1, d1 + c2 * b1 + d2


def _repeated(doubled: list[Map], times: int) -> Map:
    """Return a map so many times in a row, more than none, by repeated squaring.

    Args:
        doubled: The map once, twice, 4 times, ...; what is missing is filled in.
        times: How many times.
    """
    result = None
    power = 0
    while times:
        if power == len(doubled):
            doubled[power:] = [_then(doubled[power - 1], doubled[power - 1])]  # the same, should two threads do it
        if times & 1:
            result = doubled[power] if result is None else _then(result, doubled[power])
        times >>= 1
        power += 1
    return result if result is not None else _SAME


def turns(length_s: float, cycle_s: float) -> tuple[int, float]:
    """Return the whole cycles in a length of time, and the rest, s; a rest that rounding made is none."""
    whole = int(length_s / cycle_s)
    rest_s = length_s - whole * cycle_s
    return whole, rest_s if rest_s > DUST * cycle_s or not whole else 0.0


def cut(cycle: Iterable[Flow], length_s: float) -> Iterator[Flow]:
    """Yield the flows of a cycle up to a time at which it is cut off."""
    for flow in cycle:
        if length_s <= 0.0:
            return
        yield flow if flow.time_s <= length_s else Flow(flow.airflow_m3s, length_s)
        length_s -= flow.time_s


class Dilution:
    """Works out what airflow does to one dwelling, once for equal cycles.

    Args:
        reference_m3s: The required total airflow, infiltration included.
        volume_m3: The dwelling's volume.

    Raises:
        ValueError: The volume is not more than nothing.
    """

    def __init__(self, reference_m3s: float, volume_m3: float) -> None:
        if not volume_m3 > 0.0:
            raise ValueError(f"a dwelling's volume must be more than nothing, not {volume_m3} m3")
        self._reference_m3s, self._volume_m3 = reference_m3s, volume_m3
        self._cycles: dict[Cycle, _Turned] = {}
        self._stretches: dict[tuple[float, Cycle], Stretch] = {}

    def piece(self, airflow_m3s: float, time_s: float) -> Map:
        """Return the map of a constant airflow."""
        x = airflow_m3s * time_s / self._volume_m3
        phi1 = -math.expm1(-x) / x if x else 1.0
        if x < _SMALL:
            phi2 = (1.0 - x / 3.0 * (1.0 - x / 4.0 * (1.0 - x / 5.0 * (1.0 - x / 6.0 * (1.0 - x / 7.0))))) / 2.0
        else:
            phi2 = (1.0 - phi1) / x
        gain = self._reference_m3s / self._volume_m3 * time_s
        return x, math.exp(-x), gain * phi1, time_s * phi1, gain * time_s * phi2

    def stretch(self, length_s: float, cycle: Cycle) -> Stretch:
        """Return what a block does; the seasons of one week share most of theirs."""
        found = self._stretches.get((length_s, cycle))
        if found is None:
            change, points = self._stretch(length_s, cycle)
            found = change, points, max([base for _at_s, _slope, base in points])
            self._stretches[length_s, cycle] = found
        return found

    def _stretch(self, length_s: float, cycle: Cycle) -> tuple[Map, Sequence[Point]]:
        """Return a block's map, and the points among which its highest value is.

        R goes one way while the airflow stays the same, and one way from each cycle to the next; so its highest
        value is where a constant airflow ends in the first or the last whole cycle or in what is left after it.
        """
        turned = self._cycles.get(cycle) or self._cycle(cycle)
        cycle_s, turn = turned.ends[-1]
        whole, rest_s = turns(length_s, cycle_s)
        points: list[Point] = [(0.0, 1.0, 0.0)]
        before = _SAME
        if whole:
            points += turned.points
            before = turn
        if whole > 1:
            last = _repeated(turned.doubled, whole - 1)
            _x, slope, base, _c, _d = last
            starts_s = (whole - 1) * cycle_s
            points += [(starts_s + end_s, a * slope, a * base + b) for end_s, a, b in turned.points]
            before = _then(last, turn)
        passed_s = whole * cycle_s
        for flow, piece in turned.pieces:
            if rest_s <= 0.0:
                break
            airflow_m3s, time_s = flow
            if time_s > rest_s:
                time_s, piece = rest_s, self.piece(airflow_m3s, rest_s)  # noqa: PLW2901 - the cycle is cut off
            before = _then(before, piece) if before is not _SAME else piece
            passed_s += time_s
            rest_s -= flow.time_s
            points.append((passed_s, before[1], before[2]))
        return before, points

    def _cycle(self, cycle: Cycle) -> _Turned:
        found = self._cycles.get(cycle)
        if found is None:
            so_far, end_s = _SAME, 0.0
            ends: list[tuple[float, Map]] = []
            points: list[Point] = []
            pieces: list[tuple[Flow, Map]] = []
            for flow in cycle:
                piece = self.piece(*flow)
                so_far = _then(so_far, piece) if ends else piece
                end_s += flow.time_s
                ends.append((end_s, so_far))
                points.append((end_s, so_far[1], so_far[2]))
                pieces.append((flow, piece))
            found = self._cycles[cycle] = _Turned(pieces, ends, points, [so_far])
        return found

    def reached_s(self, length_s: float, cycle: Cycle, start: float, bound: float) -> float | None:
        """Return the time from a block's start, where R is given, until it is first at or below a bound, s."""
        if start <= bound:
            return 0.0
        turned = self._cycle(cycle)
        cycle_s, (x, _a, gained, _c, _d) = turned.ends[-1]
        if x <= 0.0:
            return None

        def after(cycles: int) -> float:
            return start * math.exp(-cycles * x) + gained * math.expm1(-cycles * x) / math.expm1(-x)

        def dips(cycles: int) -> bool:
            value = after(cycles)
            return any(slope * value + base <= bound for _end_s, slope, base in turned.points)

        whole = turns(length_s, cycle_s)[0]
        # from cycle to cycle R goes one way: where it rises, the first cycle settles it, and where it falls, the last
        if not whole or dips(0):
            skipped = 0
        elif not dips(whole - 1):
            skipped = whole
        else:
            skipped = bisect_left(range(whole), x=True, key=dips)
        value, passed_s = after(skipped), skipped * cycle_s
        for airflow_m3s, time_s in cut(cycle, length_s - passed_s):
            after_s = self._falls_s(value, airflow_m3s, bound)
            if after_s is not None and after_s <= time_s:
                return passed_s + after_s
            _x, a, b, _c, _d = self.piece(airflow_m3s, time_s)
            value = a * value + b
            passed_s += time_s
        return None

    def _falls_s(self, value: float, airflow_m3s: float, bound: float) -> float | None:
        """Return the time in which R falls to a bound below it under a constant airflow, s, or None."""
        level = self._reference_m3s / airflow_m3s if airflow_m3s > 0.0 else math.inf
        if level >= bound:
            return None
        return self._volume_m3 / airflow_m3s * math.log1p(max(value - bound, 0.0) / (bound - level))
