"""The worst window of a week against a scan over every minute at which it can start."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import accumulate, pairwise
from operator import sub

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventrules.survey import Gap, Span, Week, Window, worst_window

WEEK = 7 * 24 * 60


def worst(week: Week, wanted: Callable[[str], bool], value: Mapping[str, float], length: float) -> Window | None:
    """The window with the least mean of one quantity."""
    return worst_window(week, wanted, {mode: (v,) for mode, v in value.items()}, length, lambda means: means[0])


MODES = ("day", "night", "out", "work", "guests", "late")
LENGTHS = (60, 180, 240, 480, 720, 1440, 2880, WEEK, 2 * WEEK + 60)

Wanted = Callable[[str], bool]


cuts = st.integers(0, WEEK - 1) | st.integers(0, 100).map(lambda part: part * 15)


def _week(at: set[int], kinds: list[str]) -> Week:
    """Return a week cut at some minutes; each part in one mode or in none."""
    starts = sorted(at)
    spans, gaps = [], []
    for start, end, mode in zip(starts, [*starts[1:], starts[0] + WEEK], kinds, strict=False):
        if mode:
            spans.append(Span(start, end, mode))
        else:
            gaps.append(Gap(start, end))
    return Week(tuple(spans), tuple(gaps))


def _weeks(modes: tuple[str, ...]) -> st.SearchStrategy[Week]:
    orders = st.permutations(modes).map(lambda order: [*order, *order][:6])
    kinds = orders | st.lists(st.sampled_from(modes), min_size=6, max_size=6)
    return st.builds(_week, st.sets(cuts, min_size=3, max_size=6) | st.sets(cuts, min_size=1, max_size=2), kinds)


whole_weeks = _weeks(MODES)
weeks = whole_weeks | _weeks((*MODES, ""))


def _moved(week: Week, shift: int) -> Week:
    """Return the same week with everything in it so many minutes later."""
    spans = [Span((s.start + shift) % WEEK, (s.start + shift) % WEEK + s.length, s.mode) for s in week.spans]
    gaps = [Gap((g.start + shift) % WEEK, (g.start + shift) % WEEK + g.end - g.start) for g in week.gaps]
    return Week(tuple(sorted(spans)), tuple(sorted(gaps)))


def _minutes(week: Week) -> list[str]:
    found = [""] * WEEK
    for span in week.spans:
        for minute in range(span.start, span.end):
            found[minute % WEEK] = span.mode
    return found


def _stretches(minutes: list[str], wanted: Wanted) -> Iterator[list[str]]:
    """Yield each unbroken stretch of wanted minutes; nothing when the whole week is wanted."""
    unwanted = [at for at, mode in enumerate(minutes) if not mode or not wanted(mode)]
    for before, after in pairwise([*unwanted, unwanted[0] + WEEK]):
        if after - before > 1:
            yield [minutes[at % WEEK] for at in range(before + 1, after)]


def scanned(week: Week, wanted: Wanted, value: Mapping[str, float], length: int) -> float | None:
    """Return the least mean over every window of whole minutes, or None when no wanted mode comes up."""
    minutes = _minutes(week)
    if all(mode and wanted(mode) for mode in minutes):
        sums = _sums([value[mode] for mode in minutes] * (length // WEEK + 2))
        return _least(sums[: WEEK + length], length)
    means = (
        _least(_sums(value[mode] for mode in stretch), min(length, len(stretch)))
        for stretch in _stretches(minutes, wanted)
    )
    return min(means, default=None)


def _sums(values: Iterable[float]) -> list[float]:
    return [0.0, *accumulate(values)]


def _least(sums: list[float], length: int) -> float:
    """Return the least mean over windows of this length, by running sums."""
    least: float = min(map(sub, sums[length:], sums))
    return least / length


values = st.permutations([0.0, 1.0, 2.0, 3.0, 5.0, 8.0]).map(lambda order: dict(zip(MODES, order, strict=True))) | (
    st.fixed_dictionaries({mode: st.integers(0, 3).map(float) for mode in MODES})
)
lengths = st.sampled_from(LENGTHS) | st.integers(1, 3 * WEEK)
modes_wanted = st.sets(st.sampled_from(MODES), min_size=1) | st.just(set(MODES))


@given(weeks, modes_wanted, values, lengths)
def test_worst_window_agrees_with_the_scan(week: Week, wanted: set[str], value: dict[str, float], length: int) -> None:
    found = worst(week, wanted.__contains__, value, float(length))
    least = scanned(week, wanted.__contains__, value, length)
    assert (found.score if found else None) == (least if least is None else pytest.approx(least))


@given(whole_weeks, values)
def test_wherever_a_week_without_a_break_starts_its_worst_window_is_the_scans(
    week: Week, value: dict[str, float]
) -> None:
    sums = _sums([value[mode] for mode in _minutes(week)] * (max(LENGTHS) // WEEK + 2))
    for length in LENGTHS:
        least = _least(sums[: WEEK + length], length)
        for first in week.spans:
            found = worst(_moved(week, -first.start), lambda _mode: True, value, float(length))
            assert found is not None
            assert found.score == pytest.approx(least), (length, first)


@given(weeks, modes_wanted, values, lengths)
def test_the_window_is_what_it_says(week: Week, wanted: set[str], value: dict[str, float], length: int) -> None:
    found = worst(week, wanted.__contains__, value, float(length))
    if found is None:
        assert not week.modes & wanted
        return
    minutes = _minutes(week)
    inside = [minutes[at % WEEK] for at in range(round(found.start), round(found.end))]
    assert 0 < len(inside) <= length
    assert set(inside) == found.modes <= wanted
    assert sum(value[mode] for mode in inside) / len(inside) == pytest.approx(found.score)


@given(weeks, values, lengths, st.integers(1, WEEK - 1))
def test_it_does_not_matter_where_the_week_is_cut(week: Week, value: dict[str, float], length: int, shift: int) -> None:
    one = worst(week, MODES.__contains__, value, float(length))
    other = worst(_moved(week, shift), MODES.__contains__, value, float(length))
    assert (one is None) is (other is None)
    if one is not None and other is not None:
        assert one.score == pytest.approx(other.score)


@given(weeks, modes_wanted, values, lengths)
def test_no_window_is_worse_than_the_worst_mode_nor_better_than_the_best(
    week: Week, wanted: set[str], value: dict[str, float], length: int
) -> None:
    found = worst(week, wanted.__contains__, value, float(length))
    if found is not None:
        inside = [value[mode] for mode in found.modes]
        assert min(inside) - 1e-9 <= found.score <= max(inside) + 1e-9


DAY_AND_NIGHT = Week((Span(0, 600, "day"), Span(600, 900, "night"), Span(900, WEEK, "work")), ())
"""10 h of one mode, 5 h of another, and a third for the rest."""


@pytest.mark.parametrize(
    ("value", "length", "mean"),
    [
        # 4 h fit into the weakest mode whole
        ({"day": 2.0, "night": 1.0, "work": 2.0}, 240.0, 1.0),
        # 10 h do not: 5 h of night and 5 h of either neighbor
        ({"day": 2.0, "night": 1.0, "work": 3.0}, 600.0, 1.5),
        # the neighbor after it is the weaker one
        ({"day": 3.0, "night": 1.0, "work": 2.0}, 600.0, 1.5),
        # across the end of the week: 10 h of day and 2 h of the weaker work before it
        ({"day": 0.0, "night": 6.0, "work": 3.0}, 720.0, 0.5),
    ],
)
def test_by_hand(value: dict[str, float], length: float, mean: float) -> None:
    found = worst(DAY_AND_NIGHT, lambda _mode: True, value, length)
    assert found is not None
    assert found.score == pytest.approx(mean)


def test_a_stretch_shorter_than_the_window_is_judged_as_a_whole() -> None:
    found = worst(DAY_AND_NIGHT, lambda mode: mode == "night", {"night": 1.0}, 600.0)
    assert found is not None
    assert found == (600.0, 900.0, 1.0, frozenset({"night"}))


def test_no_wanted_mode_no_window() -> None:
    assert worst(DAY_AND_NIGHT, lambda mode: mode == "out", {"out": 1.0}, 60.0) is None
