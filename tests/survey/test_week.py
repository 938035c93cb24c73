"""The calendar's week against a painter that goes through it minute by minute."""

from collections.abc import Mapping
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventrules.job import Calendar
from ventrules.survey import Gap, Span, Week, clock, week_of

DAY = 24 * 60
WEEK = 7 * DAY
DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
MODES = ("day", "night", "out", "work", "guests")

Days = Mapping[str, Mapping[str, str]]
Painted = list[str | None]


def _times(days: Days, day: int) -> Mapping[str, str]:
    """Return a day's own times: the day by name, else its half of the week, else every day."""
    half = "weekdays" if day < 5 else "weekend"
    return days.get(DAYS[day], days.get(half, days.get("every-day", {})))


def painted(days: Days) -> Painted:
    """Return the mode of every minute: go through two weeks and keep the second."""
    minutes: Painted = []
    mode: str | None = None
    for day in (*range(7), *range(7)):
        times = _times(days, day)
        if not times:
            mode = None
        for minute in range(DAY):
            mode = times.get(f"{minute // 60:02d}:{minute % 60:02d}", mode)
            minutes.append(mode)
    return minutes[WEEK:]


def filled(week: Week) -> Painted:
    """Return the mode of every minute of a week; no minute is covered twice or not at all."""
    seen: dict[int, str | None] = {}
    parts = [(span.start, span.end, span.mode) for span in week.spans]
    for start, end, mode in (*parts, *((gap.start, gap.end, None) for gap in week.gaps)):
        assert 0 <= start < WEEK
        assert start < end <= start + WEEK
        for minute in range(start, end):
            assert minute % WEEK not in seen
            seen[minute % WEEK] = mode
    assert len(seen) == WEEK
    return [seen[minute] for minute in range(WEEK)]


times = st.dictionaries(
    st.builds("{:02d}:{:02d}".format, st.integers(0, 23), st.sampled_from([0, 0, 1, 30, 59])),
    st.sampled_from(MODES),
    max_size=4,
)
calendars = st.dictionaries(st.sampled_from([*DAYS, "every-day", "weekdays", "weekend"]), times, max_size=6)


@given(calendars)
def test_week_agrees_with_the_painter(days: dict[str, dict[str, str]]) -> None:
    assert filled(week_of(Calendar(days))) == painted(days)


@given(calendars)
def test_neighbors_differ_and_stand_in_order(days: dict[str, dict[str, str]]) -> None:
    week = week_of(Calendar(days))
    assert list(week.spans) == sorted(week.spans)
    assert list(week.gaps) == sorted(week.gaps)
    parts = sorted([*((s.start, s.end, s.mode) for s in week.spans), *((g.start, g.end, "") for g in week.gaps)])
    for (_start, end, mode), (start, _end, following) in zip(parts, [*parts[1:], parts[0]], strict=True):
        assert end % WEEK == start % WEEK
        assert mode != following or len(parts) == 1
    assert week.modes == {mode for mode in painted(days) if mode is not None}


@given(calendars, st.data())
def test_the_order_in_which_a_calendar_is_written_does_not_matter(
    days: dict[str, dict[str, str]], data: st.DataObject
) -> None:
    turned = {
        day: dict(data.draw(st.permutations(list(days[day].items())))) for day in data.draw(st.permutations(list(days)))
    }
    assert week_of(Calendar(turned)) == week_of(Calendar(days))


@given(times.filter(bool))
def test_ways_of_writing_the_same_week(day: dict[str, str]) -> None:
    week = week_of(Calendar({"every-day": day}))
    assert week_of(Calendar({"weekdays": day, "weekend": day})) == week
    assert week_of(Calendar(dict.fromkeys(DAYS, day))) == week
    assert not week.gaps


@given(calendars)
def test_stretches_of_everything_are_what_the_gaps_leave(days: dict[str, dict[str, str]]) -> None:
    week = week_of(Calendar(days))
    stretches = list(week.stretches(lambda _mode: True))
    assert len(stretches) == (len(week.gaps) or 1 if week.spans else 0)
    assert sum(span.length for stretch in stretches for span in stretch) == sum(span.length for span in week.spans)
    for stretch in stretches:
        for before, after in pairwise(stretch):
            assert before.end == after.start


def test_a_week_by_hand() -> None:
    """Night holds past midnight; Saturday's own times beat the weekend's; Sunday is left to the weekend."""
    week = week_of(
        Calendar(
            {
                "weekdays": {"06:00": "day", "22:30": "night"},
                "weekend": {"08:00": "day"},
                "saturday": {"09:00": "guests"},
            }
        )
    )
    assert not week.gaps
    nights = tuple(Span(day * DAY + 1350, (day + 1) * DAY + 360, "night") for day in range(4))
    days = tuple(Span(day * DAY + 360, day * DAY + 1350, "day") for day in range(1, 5))
    assert week.spans == (
        *sorted(nights + days),
        Span(4 * DAY + 1350, 5 * DAY + 540, "night"),
        Span(5 * DAY + 540, 6 * DAY + 480, "guests"),
        Span(6 * DAY + 480, WEEK + 1350, "day"),  # Sunday's mode is Monday's as well
    )


def test_a_day_that_is_not_covered_has_no_mode_nor_has_the_next_morning() -> None:
    week = week_of(Calendar({"weekdays": {"06:00": "day", "22:00": "night"}}))
    # Friday's night ends with the day; Saturday, Sunday and Monday until 06:00 have none.
    assert week.gaps == (Gap(5 * DAY, WEEK + 6 * 60),)
    assert week.spans[-1] == Span(4 * DAY + 22 * 60, 5 * DAY, "night")


@pytest.mark.parametrize("days", [{}, {"monday": {}}, {"weekdays": {}, "weekend": {}}])
def test_an_empty_calendar_is_one_gap(days: dict[str, dict[str, str]]) -> None:
    assert week_of(Calendar(days)) == Week((), (Gap(0, WEEK),))


def test_one_mode_all_week_is_one_span() -> None:
    for days in ({"every-day": {"07:00": "day"}}, {"weekdays": {"07:00": "day"}, "weekend": {"09:00": "day"}}):
        (span,) = week_of(Calendar(days)).spans
        assert (span.length, span.mode) == (WEEK, "day")


@pytest.mark.parametrize(
    ("minute", "said"),
    [(0, "Monday 00:00"), (DAY + 6 * 60 + 5, "Tuesday 06:05"), (WEEK - 1, "Sunday 23:59"), (WEEK + 60, "Monday 01:00")],
)
def test_clock(minute: float, said: str) -> None:
    assert clock(minute) == said
