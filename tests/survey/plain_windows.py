"""The worst window by running totals along each stretch of the week: a second way to work it out, for comparison."""

from bisect import bisect_right
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import accumulate
from math import ceil
from typing import Final

from ventrules.survey import Span, Week, Window
from ventrules.survey.week import WEEK_MIN, Means

_DUST: Final = 1e-12


def plain_worst_window(
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
