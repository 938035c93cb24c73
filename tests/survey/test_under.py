"""One job under many codes says what each code says by itself; mixes of modes stand for all windows."""

from collections.abc import Mapping, Sequence
from typing import Final

import attrs
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.cli.running import FAULTY, SOUND
from tests.survey.plain_windows import plain_worst_window
from ventrules import Job, JobFileError, Severity, Survey, check, read_job
from ventrules.codes import CodeKind
from ventrules.files import load_code
from ventrules.files.resources import code_names
from ventrules.job import Room, RoomKind, Target
from ventrules.survey import WeekView
from ventrules.survey.airflow import over_modes
from ventrules.survey.mixes import mixes
from ventrules.survey.under import AskedWeek, Comparison, under
from ventrules.survey.week import Means, Span, Week, Window
from ventrules.testing import jobs
from ventrules.units import Area, Length

DAY: Final = 24 * 60
WEEK: Final = 7 * DAY


# Windows are mixes of modes


@st.composite
def weeks(draw: st.DrawFn) -> Week:
    """A week of modes a to d, with gaps or without, its spans in order."""
    lengths = draw(st.lists(st.integers(1, 2 * DAY), min_size=1, max_size=10))
    names = draw(st.lists(st.sampled_from("abcd-"), min_size=len(lengths), max_size=len(lengths)))
    start = draw(st.integers(0, WEEK - 1))
    scale = WEEK / sum(lengths)
    edges = [0]
    for length in lengths[:-1]:
        edges.append(min(max(round(edges[-1] + length * scale), edges[-1] + 1), WEEK - 1))
    edges = sorted(set(edges))
    spans = [
        Span(start + first, start + last, name)
        for first, last, name in zip(edges, [*edges[1:], WEEK], names[: len(edges)], strict=True)
        if name != "-"
    ]
    joined: list[Span] = []
    for span in spans:
        if joined and joined[-1].mode == span.mode and joined[-1].end == span.start:
            joined[-1] = Span(joined[-1].start, span.end, span.mode)
        else:
            joined.append(span)
    return Week(tuple(joined), ())


lengths = st.one_of(st.integers(1, 3 * WEEK), st.sampled_from([60, 180, 240, 720, DAY, WEEK, 2 * WEEK])).map(float)


def lesser_part(means: Means) -> float:
    """A score that is no mean: the larger of two parts, nothing where one of them is small."""
    first, second = means
    return 0.0 if second < 0.2 else max(first, 2.0 * second - 0.5)


def by_mixes(week: Week, values: Mapping[str, Means], length: float, *, fixed: bool) -> tuple[float, Window] | None:
    columns = {name: place for place, name in enumerate(sorted(values))}
    found = []
    for mix, (_place, start, end) in mixes(week, columns, length, fixed=fixed).items():
        parts = dict(zip(sorted(values), mix, strict=True))
        first, second = (sum(part * values[name][column] for name, part in parts.items()) for column in (0, 1))
        modes = frozenset(name for name, part in parts.items() if part > 0.0)
        found.append((lesser_part((first, second)), Window(start, end, 0.0, modes)))
    return min(found, key=lambda each: each[0], default=None)


@settings(max_examples=60)
@given(weeks(), lengths, st.booleans(), st.data())
def test_the_weakest_mix_is_the_weakest_window(week: Week, length: float, fixed: bool, data: st.DataObject) -> None:
    number = st.floats(0.0, 1.0)
    values = {name: (data.draw(number), data.draw(number)) for name in "abc"}  # d is not judged
    worst = plain_worst_window(week, values.__contains__, values, length, lesser_part, fixed=fixed)
    found = by_mixes(week, values, length, fixed=fixed)
    assert (worst is None) == (found is None)
    if worst is not None and found is not None:
        assert found[0] == pytest.approx(worst.score, abs=1e-9)


@settings(max_examples=60)
@given(weeks(), lengths, st.booleans())
def test_a_mix_is_the_whole_window_and_its_window_has_it(week: Week, length: float, fixed: bool) -> None:
    columns = {"a": 0, "b": 1, "c": 0}
    length = max(length, 30.0)
    for mix, (_place, start, end) in mixes(week, columns, length, fixed=fixed).items():
        assert sum(mix) == pytest.approx(1.0)
        assert 0.0 < end - start <= length + 1e-6
        counted = [0.0, 0.0]
        for shift in range(0, int(end) + 1, WEEK):
            for span in week.spans:
                if span.mode in columns:
                    time = min(span.end + shift, end) - max(span.start + shift, start)
                    counted[columns[span.mode]] += max(time, 0.0)
        assert [part / (end - start) for part in counted] == pytest.approx(list(mix), abs=1e-9)


# Under every code the same as by itself


ROOMS: Final = {
    kind.value: Room(kind, area=Area.of(14.0, "m2"))
    for kind in (RoomKind.KITCHEN, RoomKind.BATHROOM, RoomKind.LIVING, RoomKind.BEDROOM, RoomKind.DINING)
}


def usable(paths: Sequence[object]) -> list[Job]:
    found = []
    for path in paths:
        try:
            job = read_job(str(path))
        except JobFileError:
            continue
        dwelling = attrs.evolve(job.dwelling, ceiling_height=Length.of(2.6, "m"), rooms=job.dwelling.rooms or ROOMS)
        found.append(attrs.evolve(job, dwelling=dwelling))
    return found


JOBS: Final = usable(sorted([*SOUND.glob("number-*"), *FAULTY.glob("*.*")]))


def by_itself(job: Job, code: str) -> Survey:
    """The survey of a job whose target names a code, claims and route kept."""
    target = Target(code=code, route=job.target.route, credits=job.target.credits)
    return Survey(attrs.evolve(job, target=target, code_file=None))


def worth(window: Window, view: WeekView, courses: Mapping[str, Means]) -> float:
    """Return the part of what is required that a window has, from what lies between its start and its end."""
    time = dict.fromkeys(courses, 0.0)
    for shift in range(0, int(window.end) + 1, WEEK):
        for span in view.week.spans:
            if span.mode in time:
                time[span.mode] += max(min(span.end + shift, window.end) - max(span.start + shift, window.start), 0.0)
    assert {name for name, within in time.items() if within > 0.0} == window.modes
    length = window.end - window.start
    columns = zip(*courses.values(), strict=True)
    means = [sum(t * v for t, v in zip(time.values(), column, strict=True)) / length for column in columns]
    return over_modes(means, view.survey.requirement)


def assert_same_week(found: AskedWeek, survey: Survey, index: int) -> None:
    view = survey.weeks[index]
    courses = view.courses
    worst = view.worst(courses) if courses and survey.requirement.kind is not CodeKind.CAPACITY else None
    assert (found.window is None) == (worst is None)
    if found.window is not None and worst is not None:
        assert found.window.score == pytest.approx(worst.score, rel=1e-9, abs=1e-12)
        assert courses is not None
        assert worth(found.window, view, courses) == pytest.approx(worst.score, rel=1e-9, abs=1e-12)
    airing = view.airing
    exposure = airing.exposure if airing is not None else None
    assert (found.exposure is None) == (exposure is None)
    if found.exposure is not None and exposure is not None:
        assert found.exposure.mean == pytest.approx(exposure.mean)
        assert found.exposure.peak == pytest.approx(exposure.peak)
        assert found.exposure.peak_s == pytest.approx(exposure.peak_s)
        if found.exposure.mean_present is None:
            assert exposure.mean_present is None
        else:
            assert found.exposure.mean_present == pytest.approx(exposure.mean_present)


def assert_same(job: Job, names: Sequence[str]) -> None:
    compared = Comparison(Survey(job))
    for name in names:
        alone, together = by_itself(job, name), under(Survey(job), load_code(name))
        assert together.unknown == alone.unknown
        if alone.unknown is not None:
            continue
        code = load_code(name)
        assert compared.requirement(code) == together.requirement == alone.requirement
        assert compared.system(code) == together.system == alone.system
        found = compared.weeks(compared.requirement(code), compared.system(code))
        assert [week.season for week in found] == [view.season for view in alone.weeks]
        for index, week in enumerate(found):
            assert_same_week(week, alone, index)


@pytest.mark.parametrize("job", JOBS, ids=lambda job: str(job.title))
def test_each_code_says_the_same_beside_the_others(job: Job) -> None:
    assert_same(job, code_names())


@settings(max_examples=25)
@given(jobs(), st.lists(st.sampled_from(code_names()), min_size=2, max_size=4, unique=True))
def test_drawn_jobs_are_judged_the_same_beside_other_codes(job: Job, names: list[str]) -> None:
    assert_same(job, names)


TOO_SMALL: Final = "airflow/ventilator-too-small"
SAY_NO: Final = {
    TOO_SMALL,
    "airflow/below-target",
    "airflow/below-floor",
    "airflow/cycling-not-allowed",
    "airflow/exposure-too-high",
    "airflow/run-time-too-short",
    "airflow/window-below-target",
    "settings/occupied-mode-off",
}


@pytest.mark.parametrize("name", code_names())
def test_what_is_met_is_what_the_rules_let_pass(name: str) -> None:
    verdicts = set()
    for job in JOBS[::4]:
        alone = by_itself(job, name)
        if alone.unknown is not None:
            continue
        weeks = Comparison(alone).weeks(alone.requirement, alone.system)
        if not weeks or any(week.met is None for week in weeks):
            continue
        met = all(week.met for week in weeks)
        capacity = alone.requirement.kind is CodeKind.CAPACITY
        errors = {f.rule for f in check(alone.job).of(Severity.ERROR)} & ({TOO_SMALL} if capacity else SAY_NO)
        if errors == {TOO_SMALL} and alone.requirement.intermittent_m3s < alone.requirement.continuous_m3s:
            continue  # less is asked of what runs a part of the time; that rule looks at the other rate
        assert met == (not errors), (job.title, errors)
        verdicts.add(met)
    assert verdicts
