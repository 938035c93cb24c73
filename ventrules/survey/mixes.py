"""What windows of the week are made of, the part of each mode in them, and which of them is the worst.

A window's airflow depends on how much of it lies in which mode, and on nothing else. Windows of the same mix are worth
the same, so that a week has few that differ; they are found once, whatever is asked of them.
"""

from bisect import bisect_right
from collections.abc import Callable, Container, Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import chain
from math import ceil
from operator import mul
from typing import Final, TypeAlias

from ventrules.survey.week import FEW_SPANS, WEEK_MIN, Means, Span, Week, Window

_DUST: Final = 1e-12  # relative; windows that differ by no more are worth the same

Mix: TypeAlias = tuple[float, ...]
"""The part of a window in each kind of mode."""

First: TypeAlias = tuple[float, float, float]
"""Where a window comes among others, its start and its end, minutes of the week."""

Mixes: TypeAlias = Mapping[Mix, First]
"""Mixes, each with the first window of its kind."""


def modes_in(week: Week, wanted: Container[str], start: float, end: float) -> Iterator[str]:
    """Yield the wanted modes that a window lies in."""
    end = min(end, start + WEEK_MIN)  # what follows has come up before
    for shift in range(0, int(end) + 1, WEEK_MIN):
        for since, until, mode in week.spans:
            if since + shift < end and until + shift > start and mode in wanted:
                yield mode


def mixes(week: Week, columns: Mapping[str, int], length: float, *, fixed: bool) -> Mixes:
    """Return what the windows that can be the worst are made of.

    What modes give is constant in each, so that its means over a window are piecewise linear in the window's start,
    with breaks where it starts or ends at a change of mode; those windows are found. That is exact for a score that
    is itself a mean.

    Args:
        week: The week.
        columns: The modes that a window may lie in, each with its place in a mix, from 0.
        length: The window's length, minutes.
        fixed: True when windows lie one after the other from Monday 00:00.
    """
    places = tuple(columns.items())
    few = len(week.spans) <= FEW_SPANS
    return _mixes(week, places, length, fixed) if few else _mixes.__wrapped__(week, places, length, fixed)


@lru_cache(maxsize=64)
def _mixes(week: Week, places: tuple[tuple[str, int], ...], length: float, fixed: bool) -> Mixes:
    columns = dict(places)
    count = max(columns.values(), default=0) + 1
    found: dict[Mix, First] = {}
    for stretch in week.stretches(columns.__contains__):
        held = [(span.length, columns[span.mode]) for span in stretch]
        endless = stretch[-1].end - stretch[0].start >= WEEK_MIN
        weeks, rest = divmod(length, WEEK_MIN) if endless else (0.0, length)
        whole_weeks = [(weeks * time, column) for time, column in held] if weeks else []
        windows = _fixed(stretch, held, rest) if fixed and not weeks else _sliding(stretch, held, rest)
        for place, start, end, within in windows:
            parts = [0.0] * count
            for time, column in chain(within, whole_weeks):
                parts[column] += time
            whole = sum(parts)
            mix = tuple([part / whole for part in parts])
            window = (place, start, end + weeks * WEEK_MIN)
            if mix not in found or window < found[mix]:
                found[mix] = window
    return found


def weakest(found: Mixes, values: Sequence[Means], score: Callable[[Means], float]) -> tuple[float, First] | None:
    """Return the least score of windows and the first window that has it, or None where there are no windows.

    Args:
        found: What the windows are made of.
        values: The quantities in each mode, by its place in a mix.
        score: What the means of the quantities over a window amount to.
    """
    columns = list(zip(*values, strict=True))
    scored = [(score(tuple([sum(map(mul, mix, each)) for each in columns])), window) for mix, window in found.items()]
    if not scored:
        return None
    lowest = min(value for value, _window in scored)
    first, value = min((window, value) for value, window in scored if value <= lowest + _DUST * abs(lowest))
    return value, first


def worst_window(
    week: Week,
    wanted: Callable[[str], bool],
    values: Mapping[str, Means],
    length: float,
    score: Callable[[Means], float],
    *,
    fixed: bool = False,
) -> Window | None:
    """Return the window with the least score, within the wanted modes.

    Args:
        week: The week.
        wanted: Which modes a window may lie in; a shorter stretch of them is judged as a whole.
        values: The quantities in each wanted mode.
        length: The window's length, minutes.
        score: What the means of the quantities over a window amount to.
        fixed: True when windows lie one after the other from Monday 00:00 instead of sliding; what a stretch
            cuts off a window is judged as a shorter one.

    Returns:
        The window, or None when no wanted mode ever comes up.
    """
    columns = {mode: column for column, mode in enumerate(sorted(filter(wanted, week.modes)))}
    found = weakest(mixes(week, columns, length, fixed=fixed), [values[mode] for mode in columns], score)
    if found is None:
        return None
    lowest, (_place, start, end) = found
    return Window(start, end, lowest, frozenset(modes_in(week, columns, start, end)))


_Held: TypeAlias = tuple[float, int]
"""Minutes in a mode, by the mode's place in a mix."""

_Within: TypeAlias = tuple[float, float, float, Iterable[_Held]]
"""Where a window comes among others, its start and its end, minutes of the week, and what lies between."""


def _sliding(stretch: Sequence[Span], held: Sequence[_Held], length: float) -> Iterator[_Within]:
    """Yield the windows in a stretch that begin or end at a change of mode; an endless one goes on from its start."""
    first, last = stretch[0].start, stretch[-1].end
    endless, length = last - first >= WEEK_MIN, min(length, last - first)
    seen: set[int] = set()
    for index, (span, (time, column)) in enumerate(zip(stretch, held, strict=True)):
        if time >= length > 0.0:  # of windows within one mode the first is enough
            if column not in seen:
                seen.add(column)
                yield span.start, span.start, span.start + length, ((length, column),)
            continue
        if endless or span.start + length <= last:
            yield span.start, span.start, span.start + length, _along(held, index, 1, length)
        start = span.end - length
        if endless or start >= first:
            start += 0 if start >= first else WEEK_MIN
            yield start, start, start + length, _along(held, index, -1, length)


def _fixed(stretch: Sequence[Span], held: Sequence[_Held], length: float) -> Iterator[_Within]:
    """Yield the windows in a row from Monday 00:00, each cut off where the stretch or the week ends."""
    first, last = stretch[0].start, stretch[-1].end
    endless, starts = last - first >= WEEK_MIN, [span.start for span in stretch]
    for number in range(ceil(WEEK_MIN / length)):
        since, until = number * length, min((number + 1) * length, WEEK_MIN)
        for shift in (0, WEEK_MIN):  # a stretch may run on past the end of the week
            start = max(since + shift, first)
            end = until + shift if endless else min(until + shift, last)
            whole = end - start == until - since
            if start < end and (whole or not endless):
                index = bisect_right(starts, start) - 1
                yield since, start, end, _along(held, index, 1, end - start, passed=start - starts[index])
                if whole:
                    break


def _along(held: Sequence[_Held], index: int, step: int, length: float, *, passed: float = 0.0) -> Iterator[_Held]:
    """Yield what lies along a length of time from a place in a stretch, forward or backward, round and round."""
    count = len(held)
    time, column = held[index]
    time -= passed
    while time < length:
        yield time, column
        length -= time
        index = (index + step) % count
        time, column = held[index]
    yield length, column
