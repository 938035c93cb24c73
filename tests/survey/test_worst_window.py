"""The worst window of a week against a scan over every minute at which it can start."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import accumulate, groupby, pairwise
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


ROWS = tuple(length for length in range(60, WEEK + 1) if WEEK % length == 0)
"""Lengths of windows that lie in a row and fill the week."""


def in_a_row(week: Week, wanted: Wanted, value: Mapping[str, float], length: int) -> float | None:
    """Return the least mean of what each window in a row from Monday 00:00 has of each stretch of wanted minutes."""
    minutes = _minutes(week)
    means = []
    for start in range(0, WEEK, length):
        inside = [mode if mode and wanted(mode) else "" for mode in minutes[start : start + length]]
        for kept, run in groupby(inside, key=bool):
            if kept:
                flows = [value[mode] for mode in run]
                means.append(sum(flows) / len(flows))
    return min(means, default=None)


def worst_in_a_row(week: Week, wanted: Wanted, value: Mapping[str, float], length: float) -> float | None:
    values = {mode: (v,) for mode, v in value.items()}
    found = worst_window(week, wanted, values, length, lambda means: means[0], fixed=True)
    return found.score if found is not None else None


@given(weeks, modes_wanted, values, st.sampled_from(ROWS))
def test_windows_in_a_row_agree_with_the_scan(
    week: Week, wanted: set[str], value: dict[str, float], length: int
) -> None:
    found = worst_in_a_row(week, wanted.__contains__, value, float(length))
    least = in_a_row(week, wanted.__contains__, value, length)
    assert found == (least if least is None else pytest.approx(least))


@given(st.lists(st.integers(1, 3000), min_size=2, max_size=5), values, st.integers(1, WEEK))
def test_windows_in_a_row_of_any_length_agree_with_the_scan(
    parts: list[int], value: dict[str, float], length: int
) -> None:
    edges = [edge for edge in accumulate(parts) if edge < WEEK]
    spans = [Span(start, end, mode) for (start, end), mode in zip(pairwise(edges), MODES, strict=False)]
    ends = (edges or [0])[-1]
    week = Week(tuple(spans), (Gap(ends, WEEK + (edges or [0])[0]),))
    assert worst_in_a_row(week, MODES.__contains__, value, float(length)) == pytest.approx(
        in_a_row(week, MODES.__contains__, value, length)
    )


@given(whole_weeks, values, st.sampled_from(ROWS))
def test_windows_in_a_row_are_never_worse_than_sliding_ones(week: Week, value: dict[str, float], length: int) -> None:
    sliding = worst(week, MODES.__contains__, value, float(length))
    fixed = worst_in_a_row(week, MODES.__contains__, value, float(length))
    assert sliding is not None
    assert fixed is not None
    assert fixed >= sliding.score - 1e-9


@given(weeks, modes_wanted, values, st.sampled_from([60, 240, 480, 720, 1440]), st.integers(1, 6))
def test_whole_days_later_windows_in_a_row_are_the_same(
    week: Week, wanted: set[str], value: dict[str, float], length: int, days: int
) -> None:
    one = worst_in_a_row(week, wanted.__contains__, value, float(length))
    other = worst_in_a_row(_moved(week, days * 1440), wanted.__contains__, value, float(length))
    assert other == (one if one is None else pytest.approx(one))


@given(weeks, modes_wanted, values, lengths, st.booleans(), st.tuples(st.sampled_from(MODES), st.floats(0.0, 5.0)))
def test_more_airflow_in_a_mode_never_lowers_the_worst_window(
    week: Week, wanted: set[str], value: dict[str, float], length: int, fixed: bool, raised: tuple[str, float]
) -> None:
    def least(flows: Mapping[str, float]) -> float:
        if fixed:
            return worst_in_a_row(week, wanted.__contains__, flows, float(length)) or 0.0
        found = worst(week, wanted.__contains__, flows, float(length))
        return found.score if found is not None else 0.0

    mode, more = raised
    assert least({**value, mode: value[mode] + more}) >= least(value) - 1e-9


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


def test_a_day_from_midnight_is_judged_whole_though_the_week_begins_later() -> None:
    # 06:00 to 22:00 at 0.9 and 22:00 to 06:00 at 1.2: each day from midnight has 1; Monday's from 06:00 less
    days = [Span(day * 1440 + 360, day * 1440 + 1320, "day") for day in range(7)]
    nights = [Span(day * 1440 + 1320, day * 1440 + 1800, "night") for day in range(7)]
    week = Week(tuple(sorted([*days, *nights])), ())
    assert worst_in_a_row(week, MODES.__contains__, {"day": 0.9, "night": 1.2}, 1440.0) == pytest.approx(1.0)
