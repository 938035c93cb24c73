"""Relative exposure over a repeating week, exactly: no time step.

Relative exposure R is the concentration of an evenly emitted contaminant, over what it would be under a
steady total outdoor airflow at the required rate, Qref. While the airflow Q stays the same, in a volume V,

    R(t) = Qref/Q + (R(0) - Qref/Q) exp(-Q t/V)        and, when Q = 0,        R(t) = R(0) + Qref t/V

Source: form as in ANSI/ASHRAE 62.2-2016, Normative Appendix C, as the research simulation program REGCAP
(Lawrence Berkeley National Laboratory) has it; the standard itself was not seen. The rest of this module is
computed from that recurrence. With x = Q t/V, phi1(x) = (1 - exp(-x))/x and phi2(x) = (1 - phi1(x))/x it reads

    R(t) = R(0) exp(-x) + (Qref/V) t phi1(x)           integral = R(0) t phi1(x) + (Qref/V) t^2 phi2(x)

for any airflow, none included. So each stretch of time is a map R -> (aR + b, cR + d), stretches in a row
are maps one after the other, and the settled week is the value that the week's map leaves as it is.
"""

import math
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from typing import Final, NamedTuple, TypeAlias

from attrs import frozen

_DUST: Final = 1e-9  # relative; what floating point adds is never told from nothing
_SMALL: Final = 0.01  # below it phi2 is summed as a series: the plain form cancels


class Flow(NamedTuple):
    """A constant total outdoor airflow, m3/s, for a time, s; neither is negative."""

    airflow_m3s: float
    time_s: float


Cycle: TypeAlias = tuple[Flow, ...]


class Block(NamedTuple):
    """A stretch of the week in one mode.

    Attributes:
        start_s: Its start, s from Monday 00:00.
        length_s: Its length, s; more than nothing.
        cycle: The program's cycle, repeated from the block's start; the last one is cut off where the block
            ends. It takes more than no time.
        present: True when people are there or may be.
    """

    start_s: float
    length_s: float
    cycle: Cycle
    present: bool


@frozen
class Exposure:
    """Relative exposure over a settled week.

    Attributes:
        mean: Its mean over the week.
        mean_present: Its mean over the time when people are or may be there; None when there is no such time.
        peak: Its highest value.
        peak_s: When it is highest for the first time, s of the week.
        starts: Its value at the start of each block.
    """

    mean: float
    mean_present: float | None
    peak: float
    peak_s: float
    starts: tuple[float, ...]


@frozen
class Unventilated:
    """Time without any airflow; None where nobody is ever there, or never away.

    Attributes:
        share_present: Share of the time when people are or may be there that has no airflow.
        longest_present_s: Longest stretch without airflow in that time, s.
        share_absent: Share of the time when nobody is there that has no airflow.
        longest_absent_s: Longest stretch without airflow in that time, s.
    """

    share_present: float | None
    longest_present_s: float | None
    share_absent: float | None
    longest_absent_s: float | None


@frozen
class Homecoming:
    """People come, or may come, after an absence.

    Attributes:
        at_s: When, s of the week.
        airflow_m3s: The airflow from that moment on, m3/s.
        exposure: The relative exposure that they find.
        recovery_s: Time until it is first as low as wanted, s: 0 when it already is, None when it does not get
            there within the week that follows.
    """

    at_s: float
    airflow_m3s: float
    exposure: float
    recovery_s: float | None


def with_infiltration(fan_m3s: float, infiltration_m3s: float, *, balanced: bool) -> float:
    """Return the total outdoor airflow of fan and infiltration together, m3/s.

    Fan off: Qinf. Balanced: Qfan + Qinf. Otherwise Qfan + phi Qinf with phi = Qinf/(Qinf + Qfan). Source: form
    as in ANSI/RESNET/ICC 301-2019, by the hour, as the National Renewable Energy Laboratory's rating library
    has it, and as in REGCAP (Lawrence Berkeley National Laboratory); the standard was not seen.
    """
    if fan_m3s <= 0.0:
        return infiltration_m3s
    part = 1.0 if balanced else infiltration_m3s / (infiltration_m3s + fan_m3s)
    return fan_m3s + part * infiltration_m3s


def exposure_after(exposure: float, flow: Flow, reference_m3s: float, volume_m3: float) -> float:
    """Return the relative exposure at the end of a constant airflow, given the one at its start.

    The other arguments and the errors are as for `relative_exposure`.
    """
    _x, a, b, *_ = _Dwelling(reference_m3s, volume_m3).piece(*flow)
    return a * exposure + b


def relative_exposure(blocks: Sequence[Block], reference_m3s: float, volume_m3: float) -> Exposure | None:
    """Return the relative exposure over a week that repeats for ever.

    Args:
        blocks: The blocks of the week in order, without a gap; together they make the period that repeats.
        reference_m3s: The required total airflow, infiltration included.
        volume_m3: The dwelling's volume.

    Returns:
        The exposure, or None when there is no airflow in the week, so that it grows without limit.

    Raises:
        ValueError: No blocks, or a block's length, a cycle's length or the volume is not more than nothing.
    """
    period_s = _period(blocks)
    dwelling = _Dwelling(reference_m3s, volume_m3)
    distinct = {kind: dwelling.stretch(*kind) for kind in {(block.length_s, block.cycle) for block in blocks}}
    stretches = [distinct[block.length_s, block.cycle] for block in blocks]
    x = b = 0.0
    for (more, a, gained, _c, _d), _points in stretches:
        x += more
        b = a * b + gained
    if x <= 0.0:
        return None
    value = b / -math.expm1(-x)  # 1 - a as such would cancel when the week's airflow is tiny
    starts: list[float] = []
    total = total_present = present_s = peak = highest = at_s = 0.0
    for block, ((_x, a, b, c, d), points) in zip(blocks, stretches, strict=True):
        starts.append(value)
        for offset_s, slope, base in points:
            height = slope * value + base
            if height > peak:
                peak = height
                if height > highest * (1.0 + _DUST):  # a tie but for rounding stays where it came first
                    highest, at_s = height, block.start_s + offset_s
        integral = c * value + d
        total += integral
        if block.present:
            total_present += integral
            present_s += block.length_s
        value = a * value + b
    if not math.isfinite(total):
        return None
    mean_present = total_present / present_s if present_s else None
    return Exposure(total / period_s, mean_present, peak, at_s % period_s, tuple(starts))


def unventilated(blocks: Sequence[Block]) -> Unventilated:
    """Return how much of the week has no airflow, and for how long at a stretch.

    A stretch runs on across blocks and across the end of the week, and breaks where people come or leave. One
    that never ends counts as one period.

    Args:
        blocks: The blocks of the week in order, without a gap.

    Raises:
        ValueError: No blocks, or a block's or a cycle's length is not more than nothing.
    """
    period_s = _period(blocks)
    distinct = {kind: _lulls(*kind) for kind in {(block.length_s, block.cycle) for block in blocks}}
    lulls = [(block, *distinct[block.length_s, block.cycle]) for block in blocks]
    longest_s = {True: 0.0, False: 0.0}
    stretch_s, before = 0.0, blocks[-1].present
    for block, _off_s, flows in (*lulls, *lulls):  # twice: a stretch may run across the end of the week
        stretch_s = stretch_s if block.present is before else 0.0
        before = block.present
        for airflow_m3s, flow_s in flows:
            stretch_s = 0.0 if airflow_m3s > 0.0 else stretch_s + flow_s
            longest_s[before] = max(longest_s[before], min(stretch_s, period_s))
    results: list[float | None] = []
    for present in (True, False):
        time_s = sum(block.length_s for block in blocks if block.present is present)
        off_s = sum(off_s for block, off_s, _flows in lulls if block.present is present)
        results += (off_s / time_s, longest_s[present]) if time_s else (None, None)
    return Unventilated(*results)


def homecomings(
    blocks: Sequence[Block], exposure: Exposure, reference_m3s: float, volume_m3: float, recovered: float
) -> tuple[Homecoming, ...]:
    """Return each change from nobody there to people there.

    `exposure` is the blocks' own; at or below `recovered` it counts as recovered. The rest: `relative_exposure`.
    """
    _period(blocks)
    dwelling = _Dwelling(reference_m3s, volume_m3)

    @cache
    def reached_s(index: int) -> float | None:
        return dwelling.reached_s(blocks[index], exposure.starts[index], recovered * (1.0 + _DUST))

    def recovery_s(first: int) -> float | None:
        passed_s = 0.0
        for index in (*range(first, len(blocks)), *range(first)):
            after_s = reached_s(index)
            if after_s is not None:
                return passed_s + after_s
            passed_s += blocks[index].length_s
        return None

    return tuple(
        Homecoming(
            block.start_s,
            next(flow.airflow_m3s for flow in block.cycle if flow.time_s > 0.0),
            exposure.starts[index],
            recovery_s(index),
        )
        for index, block in enumerate(blocks)
        if block.present and not blocks[index - 1].present
    )


def _period(blocks: Sequence[Block]) -> float:
    if not blocks:
        raise ValueError("a week needs at least one block")
    for block in blocks:
        if not block.length_s > 0.0:
            raise ValueError(f"a block must take more than no time, not {block.length_s} s")
    for cycle in {block.cycle for block in blocks}:
        if not sum(flow.time_s for flow in cycle) > 0.0:
            raise ValueError("a cycle must take more than no time")
    return math.fsum(block.length_s for block in blocks)


def _turns(length_s: float, cycle_s: float) -> tuple[int, float]:
    """Return the whole cycles in a length of time, and the rest, s; a rest that rounding made is none."""
    whole = int(length_s / cycle_s)
    rest_s = length_s - whole * cycle_s
    return whole, rest_s if rest_s > _DUST * cycle_s or not whole else 0.0


_Map: TypeAlias = tuple[float, float, float, float, float]
"""(x, a, b, c, d): what a stretch of time does. R at its end is aR + b, the integral of R cR + d; a = exp(-x)."""

_Point: TypeAlias = tuple[float, float, float]
"""(offset_s, slope, base): R so long after a block's start is slope x R + base."""

_SAME: Final[_Map] = (0.0, 1.0, 0.0, 0.0, 0.0)


def _then(first: _Map, second: _Map) -> _Map:
    """Return two maps as one. All terms are positive: nothing cancels."""
    x1, a1, b1, c1, d1 = first
    x2, a2, b2, c2, d2 = second
    x = x1 + x2
    return x, math.exp(-x), a2 * b1 + b2, c1 + c2 * a1, d1 + c2 * b1 + d2


def _repeated(doubled: list[_Map], times: int) -> _Map:
    """Return a map so many times in a row, by repeated squaring; `doubled` has it once, twice, 4 times, ..."""
    result = _SAME
    for power in range(times.bit_length()):
        if power == len(doubled):
            doubled.append(_then(doubled[-1], doubled[-1]))
        if times >> power & 1:
            result = _then(result, doubled[power])
    return result


class _Dwelling:
    """Works out what airflow does to one dwelling, once for equal cycles."""

    def __init__(self, reference_m3s: float, volume_m3: float) -> None:
        if not volume_m3 > 0.0:
            raise ValueError(f"a dwelling's volume must be more than nothing, not {volume_m3} m3")
        self._reference_m3s, self._volume_m3 = reference_m3s, volume_m3
        self._cycles: dict[Cycle, tuple[list[tuple[float, _Map]], list[_Map]]] = {}

    def piece(self, airflow_m3s: float, time_s: float) -> _Map:
        """Return the map of a constant airflow."""
        x = airflow_m3s * time_s / self._volume_m3
        phi1 = -math.expm1(-x) / x if x else 1.0
        if x < _SMALL:
            phi2 = (1.0 - x / 3.0 * (1.0 - x / 4.0 * (1.0 - x / 5.0 * (1.0 - x / 6.0 * (1.0 - x / 7.0))))) / 2.0
        else:
            phi2 = (1.0 - phi1) / x
        gain = self._reference_m3s / self._volume_m3 * time_s
        return x, math.exp(-x), gain * phi1, time_s * phi1, gain * time_s * phi2

    def stretch(self, length_s: float, cycle: Cycle) -> tuple[_Map, Sequence[_Point]]:
        """Return a block's map, and the points among which its highest value is.

        R goes one way while the airflow stays the same, and one way from each cycle to the next; so its highest
        value is where a constant airflow ends in the first or the last whole cycle or in what is left after it.
        """
        ends, doubled = self._cycle(cycle)
        cycle_s, turn = ends[-1]
        whole, rest_s = _turns(length_s, cycle_s)
        points: list[_Point] = [(0.0, 1.0, 0.0)]
        before = _SAME
        for turns in sorted({0, whole - 1} if whole else ()):
            before = _x, slope, base, _c, _d = _repeated(doubled, turns)
            points += [(turns * cycle_s + end_s, a * slope, a * base + b) for end_s, (_x, a, b, _c, _d) in ends]
        if whole:
            before = _then(before, turn)
        passed_s = whole * cycle_s
        for flow in _cut(cycle, rest_s):
            before = _then(before, self.piece(*flow))
            passed_s += flow.time_s
            points.append((passed_s, before[1], before[2]))
        return before, points

    def _cycle(self, cycle: Cycle) -> tuple[list[tuple[float, _Map]], list[_Map]]:
        """Return where each constant airflow of a cycle ends, s, with the map up to there; and a place for repeats."""
        if cycle not in self._cycles:
            so_far, end_s, ends = _SAME, 0.0, []
            for airflow_m3s, time_s in cycle:
                so_far = _then(so_far, self.piece(airflow_m3s, time_s))
                end_s += time_s
                ends.append((end_s, so_far))
            self._cycles[cycle] = ends, [so_far]
        return self._cycles[cycle]

    def reached_s(self, block: Block, start: float, bound: float) -> float | None:
        """Return the time from a block's start, where R is given, until it is first at or below a bound, s."""
        if start <= bound:
            return 0.0
        ends, _doubled = self._cycle(block.cycle)
        cycle_s, (x, _a, gained, _c, _d) = ends[-1]
        if x <= 0.0:
            return None

        def after(cycles: int) -> float:
            return start * math.exp(-cycles * x) + gained * math.expm1(-cycles * x) / math.expm1(-x)

        def dips(cycles: int) -> bool:
            value = after(cycles)
            return any(a * value + b <= bound for _end_s, (_x, a, b, _c, _d) in ends)

        # from cycle to cycle R goes one way: where it rises, the first cycle settles it
        skipped = bisect_left(range(_turns(block.length_s, cycle_s)[0]), x=True, key=dips) if not dips(0) else 0
        value, passed_s = after(skipped), skipped * cycle_s
        for airflow_m3s, time_s in _cut(block.cycle, block.length_s - passed_s):
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


def _cut(cycle: Iterable[Flow], length_s: float) -> Iterator[Flow]:
    """Yield the flows of a cycle up to a time at which it is cut off."""
    for flow in cycle:
        if length_s <= 0.0:
            return
        yield flow if flow.time_s <= length_s else Flow(flow.airflow_m3s, length_s)
        length_s -= flow.time_s


def _lulls(length_s: float, cycle: Cycle) -> tuple[float, Sequence[Flow]]:
    """Return a block's time without airflow, s, and flows whose longest stretches without it are the block's own."""
    flows = [flow for flow in cycle if flow.time_s > 0.0]
    whole, rest_s = _turns(length_s, sum(flow.time_s for flow in flows))
    if not any(flow.airflow_m3s > 0.0 for flow in flows):
        return length_s, [Flow(0.0, length_s)]
    rest = list(_cut(flows, rest_s))
    off_s, off_rest_s = (sum(flow.time_s for flow in some if flow.airflow_m3s <= 0.0) for some in (flows, rest))
    return whole * off_s + off_rest_s, flows * min(whole, 2) + rest
