"""The week: which mode is on when.

Times are minutes from Monday 00:00. The week repeats.
"""

from collections.abc import Callable, Container, Iterator, Sequence
from functools import cached_property
from typing import Final, NamedTuple, TypeAlias

from attrs import frozen

from ventrules.files.references import DAYS, GROUPS
from ventrules.job import Calendar

DAY_MIN: Final = 24 * 60
WEEK_MIN: Final = 7 * DAY_MIN


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


def clock(minute: float) -> str:
    """Return a minute of the week as people say it: `Monday 06:00`."""
    whole = round(minute) % WEEK_MIN
    day, rest = divmod(whole, DAY_MIN)
    return f"{DAYS[day].capitalize()} {rest // 60:02d}:{rest % 60:02d}"
