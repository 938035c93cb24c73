"""The week: which mode is on when.

Times are minutes from Monday 00:00. The week repeats.
"""

from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from typing import Final, NamedTuple, TypeAlias

from attrs import frozen

from ventrules.engine.once import once
from ventrules.files.schema_words import DAYS, GROUPS
from ventrules.job import Calendar

DAY_MIN: Final = 24 * 60
WEEK_MIN: Final = 7 * DAY_MIN
FEW_SPANS: Final = 7 * 24
"""Facts of a week with more changes of mode than that are not kept for other jobs: it would take much memory."""


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


@frozen(slots=False, cache_hash=True)
class Week:
    """The week as the calendar fills it.

    Attributes:
        spans: Stretches in one mode, in order, neighbors in the same mode joined.
        gaps: Stretches in none.
    """

    spans: tuple[Span, ...]
    gaps: tuple[Gap, ...]

    @once
    def modes(self) -> frozenset[str]:
        """The modes that come up."""
        return frozenset([span.mode for span in self.spans])

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

    Homes of a district share a few calendars: equal ones give the same object, as long as they are not too many.
    """
    days = tuple([(key, tuple(times.items())) for key, times in calendar.days.items()])
    few = sum([len(times) for _key, times in days]) <= FEW_SPANS
    return _week_of(days) if few else _week_of.__wrapped__(days)


@lru_cache(maxsize=64)
def _week_of(days: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]) -> Week:
    minutes = {key: sorted([(_minute(time), mode) for time, mode in times]) for key, times in days}
    events: list[tuple[int, str]] = []
    for day, keys in enumerate(_KEYS):
        start = day * DAY_MIN
        for key in keys:  # its own, else its narrowest group
            if key in minutes:
                events += [(start + minute, mode) for minute, mode in minutes[key]] or [(start, _NO_MODE)]
                break
        else:
            events.append((start, _NO_MODE))
    if all(mode == _NO_MODE for _at, mode in events):
        return Week((), (Gap(0, WEEK_MIN),))
    return _filled(events)


_KEYS: Final = tuple(
    (day, *sorted((group for group, members in GROUPS.items() if day in members), key=lambda group: len(GROUPS[group])))
    for day in DAYS
)
_NO_MODE: Final = ""


@lru_cache(maxsize=DAY_MIN)
def _minute(time: str) -> int:
    hours, _colon, minutes = time.partition(":")
    return int(hours) * 60 + int(minutes)


def _filled(events: Sequence[tuple[int, str]]) -> Week:
    changes: list[tuple[int, str]] = []
    before = events[-1][1]
    for event in events:
        if event[1] != before:
            changes.append(event)
            before = event[1]
    changes = changes or [events[0]]
    spans: list[Span] = []
    gaps: list[Gap] = []
    ends = [at for at, _mode in changes[1:]]
    ends.append(changes[0][0] + WEEK_MIN)
    for (at, mode), end in zip(changes, ends, strict=True):
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


def clock(minute: float) -> str:
    """Return a minute of the week as people say it: `Monday 06:00`."""
    whole = round(minute) % WEEK_MIN
    day, rest = divmod(whole, DAY_MIN)
    return f"{DAYS[day].capitalize()} {rest // 60:02d}:{rest % 60:02d}"
