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
from collections.abc import Sequence
from functools import lru_cache
from typing import Final, NamedTuple

from attrs import frozen

from ventrules.survey.dilution import DUST, Cycle, Dilution, Flow, cut, turns

_FEW: Final = 7 * 24  # blocks; homes of a district share weeks, but facts of larger ones would take too much memory

__all__ = [
    "Block",
    "Cycle",
    "Exposure",
    "Flow",
    "Homecoming",
    "Unventilated",
    "exposure_after",
    "homecomings",
    "relative_exposure",
    "unventilated",
    "with_infiltration",
    "worst_homecoming",
]


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
    _x, a, b, *_ = Dilution(reference_m3s, volume_m3).piece(*flow)
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
    return settled_exposure(blocks, Dilution(reference_m3s, volume_m3))


def settled_exposure(blocks: Sequence[Block], dilution: Dilution) -> Exposure | None:
    """Return what `relative_exposure` does, for several weeks of one dwelling, whose dilution is handed on.

    Raises:
        ValueError: No blocks, or a block's or a cycle's length is not more than nothing.
    """
    period_s, kinds, kind_of = _course(blocks)
    stretch_of = [dilution.stretch(length_s, cycle) for length_s, cycle in kinds]
    stretches = [stretch_of[kind] for kind in kind_of]
    x = b = 0.0
    for (more, a, gained, _c, _d), _points, _most in stretches:
        x += more
        b = a * b + gained
    if x <= 0.0:
        return None
    value = b / -math.expm1(-x)  # 1 - a as such would cancel when the week's airflow is tiny
    starts: list[float] = []
    total = total_present = present_s = peak = highest = at_s = 0.0
    for block, ((_x, a, b, c, d), points, most) in zip(blocks, stretches, strict=True):
        start_s, length_s, _cycle, present = block
        starts.append(value)
        # no slope is above 1, so that most blocks are known to stay below a peak that came before
        for offset_s, slope, base in points if value + most > peak else ():
            height = slope * value + base
            if height > peak:
                peak = height
                if height > highest * (1.0 + DUST):  # a tie but for rounding stays where it came first
                    highest, at_s = height, start_s + offset_s
        integral = c * value + d
        total += integral
        if present:
            total_present += integral
            present_s += length_s
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
    return _unventilated(tuple(blocks)) if len(blocks) <= _FEW else _unventilated.__wrapped__(blocks)


@lru_cache(maxsize=64)
def _unventilated(blocks: Sequence[Block]) -> Unventilated:
    period_s, kinds, kind_of = _course(blocks)
    lulls_of = [_lulls(length_s, cycle) for length_s, cycle in kinds]
    parts = [(block.length_s, block.present, lulls_of[kind]) for block, kind in zip(blocks, kind_of, strict=True)]
    time_s, off_s = {True: 0.0, False: 0.0}, {True: 0.0, False: 0.0}
    for length_s, present, still in parts:
        time_s[present] += length_s
        off_s[present] += still.off_s
    longest_s = _longest(parts)
    results: list[float | None] = []
    for present in (True, False):
        whole_s = time_s[present]
        results += (off_s[present] / whole_s, min(longest_s[present], period_s)) if whole_s else (None, None)
    return Unventilated(*results)


def _longest(parts: Sequence[tuple[float, bool, "_Lulls"]]) -> dict[bool, float]:
    """Return the longest stretches without airflow, with people and without; of an endless one, more than a period."""
    # Begun where no stretch goes on from before, once round the week will do; where there is no such place, twice.
    breaks = (number for number, part in enumerate(parts) if part[1] is not parts[number - 1][1])
    start = next(breaks, None)
    longest_s = {True: 0.0, False: 0.0}
    stretch_s, before = 0.0, parts[-1][1]
    turned = (*parts, *parts) if start is None else (*parts[start:], *parts[:start])
    for _length_s, present, still in turned:
        if present is not before:
            stretch_s, before = 0.0, present
        for flow_s in still.first_s:
            stretch_s += flow_s
        if still.broken:
            longest_s[before] = max(longest_s[before], stretch_s, still.longest_s)
            stretch_s = 0.0
            for flow_s in still.last_s:
                stretch_s += flow_s
        longest_s[before] = max(longest_s[before], stretch_s)
    return longest_s


class _Returns:
    """What people find when they come; the arguments are those of `homecomings`."""

    def __init__(
        self, blocks: Sequence[Block], exposure: Exposure, reference_m3s: float, volume_m3: float, recovered: float
    ) -> None:
        self._blocks, self._starts, self._bound = blocks, exposure.starts, recovered * (1.0 + DUST)
        self._dilution = Dilution(reference_m3s, volume_m3)
        self._reached_s: dict[int, float | None] = {}
        self.arrivals = [index for index, block in enumerate(blocks) if block.present and not blocks[index - 1].present]

    def __call__(self, index: int) -> Homecoming:
        block = self._blocks[index]
        airflow_m3s = next(flow.airflow_m3s for flow in block.cycle if flow.time_s > 0.0)
        return Homecoming(block.start_s, airflow_m3s, self._starts[index], self._recovery_s(index))

    def _recovery_s(self, first: int) -> float | None:
        passed_s = 0.0
        for index in (*range(first, len(self._blocks)), *range(first)):
            block = self._blocks[index]
            if index not in self._reached_s:
                self._reached_s[index] = self._dilution.reached_s(
                    block.length_s, block.cycle, self._starts[index], self._bound
                )
            after_s = self._reached_s[index]
            if after_s is not None:
                return passed_s + after_s
            passed_s += block.length_s
        return None


def homecomings(
    blocks: Sequence[Block], exposure: Exposure, reference_m3s: float, volume_m3: float, recovered: float
) -> tuple[Homecoming, ...]:
    """Return each change from nobody there to people there.

    `exposure` is the blocks' own; at or below `recovered` it counts as recovered. The rest: `relative_exposure`.
    """
    _period(blocks)
    returns = _Returns(blocks, exposure, reference_m3s, volume_m3, recovered)
    return tuple(map(returns, returns.arrivals))


def worst_homecoming(
    blocks: Sequence[Block], exposure: Exposure, reference_m3s: float, volume_m3: float, recovered: float
) -> Homecoming | None:
    """Return the homecoming at which the air is worst, of equal ones (to nine digits) the first; None where none is.

    The arguments are those of `homecomings`; the recovery of the others is not worked out.
    """
    returns = _Returns(blocks, exposure, reference_m3s, volume_m3, recovered)
    if not returns.arrivals:
        return None
    return returns(
        max(
            returns.arrivals,
            key=lambda index: (float(f"{exposure.starts[index]:.9g}"), -blocks[index].start_s),
        )
    )


class _Course(NamedTuple):
    """How a week is made up.

    Attributes:
        period_s: Its length, s.
        kinds: Length, s, and cycle of its blocks: most share a few.
        kind_of: The kind of each block, by its place among `kinds`.
    """

    period_s: float
    kinds: Sequence[tuple[float, Cycle]]
    kind_of: Sequence[int]


def _course(blocks: Sequence[Block]) -> _Course:
    return _made_up(tuple(blocks)) if len(blocks) <= _FEW else _made_up.__wrapped__(blocks)


@lru_cache(maxsize=64)
def _made_up(blocks: Sequence[Block]) -> _Course:
    period_s = _period(blocks)
    numbers: dict[tuple[float, int], int] = {}  # a cycle by its identity, which is soon told
    kinds: list[tuple[float, Cycle]] = []
    kind_of: list[int] = []
    for _start_s, length_s, cycle, _present in blocks:
        number = numbers.setdefault((length_s, id(cycle)), len(kinds))
        if number == len(kinds):
            kinds.append((length_s, cycle))
        kind_of.append(number)
    return _Course(period_s, kinds, kind_of)


def _period(blocks: Sequence[Block]) -> float:
    if not blocks:
        raise ValueError("a week needs at least one block")
    lengths_s = [block.length_s for block in blocks]
    if not min(lengths_s) > 0.0:
        raise ValueError(f"a block must take more than no time, not {min(lengths_s)} s")
    for cycle in {id(block.cycle): block.cycle for block in blocks}.values():
        if not sum([flow.time_s for flow in cycle]) > 0.0:
            raise ValueError("a cycle must take more than no time")
    return math.fsum(lengths_s)


class _Lulls(NamedTuple):
    """Time without airflow in a block.

    Attributes:
        off_s: All of it, s.
        first_s: What it begins with, flow by flow, s; all of it where nothing breaks it.
        broken: True when there is airflow in the block.
        longest_s: The longest stretch between two airflows of the block, s.
        last_s: What it ends with, flow by flow, s.
    """

    off_s: float
    first_s: Sequence[float]
    broken: bool = False
    longest_s: float = 0.0
    last_s: Sequence[float] = ()


def _lulls(length_s: float, cycle: Cycle) -> _Lulls:
    cycle_s = off_s = off_rest_s = 0.0
    flows, moving = [], False
    for flow in cycle:
        airflow_m3s, time_s = flow
        if time_s > 0.0:
            flows.append(flow)
            cycle_s += time_s
            if airflow_m3s > 0.0:
                moving = True
            else:
                off_s += time_s
    if not moving:
        return _Lulls(length_s, (length_s,))
    whole, rest_s = turns(length_s, cycle_s)
    stretches: list[list[float]] = [[]]
    for airflow_m3s, time_s in flows * min(whole, 2):  # no stretch in more cycles is longer than in two
        if airflow_m3s > 0.0:
            stretches.append([])
        else:
            stretches[-1].append(time_s)
    for airflow_m3s, time_s in cut(flows, rest_s):
        if airflow_m3s > 0.0:
            stretches.append([])
        else:
            stretches[-1].append(time_s)
            off_rest_s += time_s
    longest_s = max(map(sum, stretches[1:-1])) if len(stretches) > 2 else 0.0
    return _Lulls(whole * off_s + off_rest_s, stretches[0], len(stretches) > 1, longest_s, stretches[-1])
