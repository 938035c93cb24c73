"""The week: which mode is on when, and the worst window in it.

Times are minutes from Monday 00:00. The week repeats.
"""

from bisect import bisect_right
from collections.abc import Callable, Container, Iterator, Mapping, Sequence
from functools import cached_property
from itertools import accumulate
from math import ceil
from typing import Final, NamedTuple, TypeAlias

from attrs import frozen

from ventrules.files.references import DAYS, GROUPS
from ventrules.job import Calendar

DAY_MIN: Final = 24 * 60
WEEK_MIN: Final = 7 * DAY_MIN
_DUST: Final = 1e-12


class Span(NamedTuple):
    """A stretch of the week in one mode; `end` may pass the end of the week."""

    start: int
    end: int
    mode: str

    @property
    def length(self) -> int:
        """Its length in minutes."""
        return self.end - self.start


class Gap(NamedTuple):
    """A stretch of the week in no mode; `end` may pass the end of the week."""

    start: int
    end: int


@frozen(slots=False)
class Week:
    """The week as the calendar fills it.

    Attributes:
        spans: Stretches in one mode, in order, neighbors in the same mode joined.
        gaps: Stretches in none.
    """

    spans: tuple[Span, ...]
    gaps: tuple[Gap, ...]

    @cached_property
    def modes(self) -> frozenset[str]:
        """The modes that come up."""
        return frozenset(span.mode for span in self.spans)

    def stretches(self, wanted: Callable[[str], bool]) -> Iterator[tuple[Span, ...]]:
        """Yield each unbroken run of spans whose modes are wanted; one that spans the week comes whole."""
        kept = [span for span in self.spans if wanted(span.mode)]
        runs: list[list[Span]] = []
        for span in kept:
            if runs and runs[-1][-1].end == span.start:
                runs[-1].append(span)
            else:
                runs.append([span])
        if len(runs) > 1 and runs[-1][-1].end == runs[0][0].start + WEEK_MIN:
            first = runs.pop(0)
            runs[-1].extend(Span(s.start + WEEK_MIN, s.end + WEEK_MIN, s.mode) for s in first)
        yield from (tuple(run) for run in runs)


def week_of(calendar: Calendar) -> Week:
    """Return the week that a calendar describes.

    A single day beats a group (`weekdays`, `weekend`), and a group beats `every-day`. A mode holds until
    the next time in the calendar, also past midnight; a day that the calendar does not cover has none,
    and neither has the next morning until its first time.
    """
    minutes = {
        key: sorted((_minute(time), mode) for time, mode in times.items()) for key, times in calendar.days.items()
    }
    events: list[tuple[int, str]] = []
    for day in range(len(DAYS)):
        times = minutes.get(_key(minutes, day), [])
        events += [(day * DAY_MIN + minute, mode) for minute, mode in times] or [(day * DAY_MIN, _NO_MODE)]
    if all(mode == _NO_MODE for _at, mode in events):
        return Week((), (Gap(0, WEEK_MIN),))
    return _filled(events)


_KEYS: Final = tuple(
    (day, *sorted((group for group, members in GROUPS.items() if day in members), key=lambda group: len(GROUPS[group])))
    for day in DAYS
)
_NO_MODE: Final = ""


def _key(days: Container[str], day: int) -> str:
    """Return the key of the calendar that a day goes by: its own, else its narrowest group."""
    return next((key for key in _KEYS[day] if key in days), "")


def _minute(time: str) -> int:
    hours, _colon, minutes = time.partition(":")
    return int(hours) * 60 + int(minutes)


def _filled(events: Sequence[tuple[int, str]]) -> Week:
    changes = [
        (at, mode) for index, (at, mode) in enumerate(events) if mode != events[index - 1][1] or len(events) == 1
    ] or [events[0]]
    spans: list[Span] = []
    gaps: list[Gap] = []
    for index, (at, mode) in enumerate(changes):
        following = changes[(index + 1) % len(changes)][0]
        end = following if following > at else following + WEEK_MIN
        if mode:
            spans.append(Span(at, end, mode))
        else:
            gaps.append(Gap(at, end))
    return Week(tuple(spans), tuple(gaps))


class Window(NamedTuple):
    """A window of the week, minutes, with its score and the modes in it."""

    start: float
    end: float
    score: float
    modes: frozenset[str]


Means: TypeAlias = tuple[float, ...]


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

    The quantities are constant in each mode, so their means are piecewise linear in the window's start,
    with breaks where the window starts or ends at a change of mode; the score is looked at there. That is
    exact for a score that is itself a mean.

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
    worst: tuple[float, float, float] | None = None
    within: Sequence[Span] = ()
    for stretch in week.stretches(wanted):
        course = _Course(stretch, values, length)
        for start, end in course.windows(fixed=fixed):
            value = score(course.means(start, end))
            if worst is None or value < worst[0] - _DUST * abs(worst[0]):  # equal windows: the first one is named
                worst, within = (value, start, end), course.spans
    if worst is None:
        return None
    lowest, start, end = worst
    modes = frozenset(span.mode for span in within if span.start < end and span.end > start)
    return Window(start, end, lowest, modes)


class _Course:
    """The quantities along one stretch, as running totals, so that any window's means are two look-ups.

    A stretch without a break is repeated once, so that windows can run across the week's end; a window longer
    than a week is made of whole weeks and a rest.
    """

    def __init__(self, stretch: Sequence[Span], values: Mapping[str, Means], length: float) -> None:
        endless = stretch[-1].end - stretch[0].start >= WEEK_MIN
        again = [Span(s.start + WEEK_MIN, s.end + WEEK_MIN, s.mode) for s in stretch] if endless else []
        self.spans = [*stretch, *again]
        self._endless = endless
        self._first, self._end = self.spans[0].start, self.spans[-1].end
        self._values = [values[span.mode] for span in self.spans]
        self._starts = [span.start for span in self.spans]
        columns = range(len(self._values[0]))
        self._totals = [
            list(accumulate((s.length * v[column] for s, v in zip(self.spans, self._values, strict=True)), initial=0.0))
            for column in columns
        ]
        self._weeks, self._rest = divmod(length, WEEK_MIN) if endless else (0.0, length)
        self._length = length if endless else min(length, self._end - self._first)

    def windows(self, *, fixed: bool) -> Iterator[tuple[float, float]]:
        """Yield the windows that start or end at a change of mode, or those that lie in a row."""
        if fixed and not self._weeks:
            yield from self._fixed()
            return
        rest = self._rest if self._weeks else self._length
        edges = {float(edge) for span in self.spans for edge in (span.start, span.end)}
        for start in sorted(edges | {edge - rest for edge in edges}):
            if self._first <= start and start + rest <= self._end and start - self._first <= WEEK_MIN:
                yield start, start + self._length

    def _fixed(self) -> Iterator[tuple[float, float]]:
        """Yield the windows in a row from Monday 00:00, each cut off where the stretch or the week ends."""
        length = self._rest or self._length
        for number in range(ceil(WEEK_MIN / length)):
            start, end = number * length, min((number + 1) * length, WEEK_MIN)
            for shift in (0, WEEK_MIN):  # a stretch may run on past the end of the week
                low, high = max(start + shift, self._first), min(end + shift, self._end)
                whole = high - low == end - start
                if low < high and (whole or not self._endless):
                    yield low, high
                    if whole:
                        break

    def means(self, start: float, end: float) -> Means:
        """Return the means over a window."""
        length = end - start
        if self._weeks:
            end -= self._weeks * WEEK_MIN
        i, j = self._index(start), self._index(end)
        means = []
        for column, totals in enumerate(self._totals):
            low = totals[i] + (start - self._starts[i]) * self._values[i][column]
            high = totals[j] + (end - self._starts[j]) * self._values[j][column]
            whole = self._weeks * totals[len(totals) // 2] if self._weeks else 0.0
            means.append((whole + high - low) / length)
        return tuple(means)

    def _index(self, at: float) -> int:
        return max(bisect_right(self._starts, at) - 1, 0)


def clock(minute: float) -> str:
    """Return a minute of the week as people say it: `Monday 06:00`."""
    whole = round(minute) % WEEK_MIN
    day, rest = divmod(whole, DAY_MIN)
    return f"{DAYS[day].capitalize()} {rest // 60:02d}:{rest % 60:02d}"
