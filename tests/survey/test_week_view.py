"""Laws of a job's week: cutting a mode in two, moving the calendar by whole days, raising a program."""

from collections.abc import Mapping, Sequence
from copy import deepcopy
from typing import TypeVar

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from ventrules import check, job_from_document
from ventrules.engine.findings import Document
from ventrules.job import Calendar
from ventrules.survey import Span, Survey, WeekView, week_of
from ventrules.testing import FAULTS, job_documents
from ventrules.units import Duration

DAY = 24 * 60
DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
CYCLE = 120
"""Minutes; a whole number of every controller's cycles."""

Job = dict[str, Document]
T = TypeVar("T")
few = settings(max_examples=max(settings().max_examples // 2, 1))


@st.composite
def documents(draw: st.DrawFn) -> Job:
    """A sound job, or one whose airflow has a fault, always with a volume."""
    document = draw(job_documents())
    home = document["dwelling"]
    assert isinstance(home, dict)
    home.setdefault("ceiling_height", "8 ft")

    def pick(choices: Sequence[T]) -> T:
        return draw(st.sampled_from(choices))

    faults = [f for f in FAULTS if f.rule in {"airflow/below-target", "airflow/window-below-target"}]
    made = draw(st.sampled_from([None, None, *faults]))
    faulted = made.apply(document, pick) if made is not None else None
    return faulted.document if faulted is not None else document


def part(document: Job, *path: str) -> dict[str, Document]:
    here: Document = document
    for step in path:
        assert isinstance(here, dict)
        here = here[step]
    assert isinstance(here, dict)
    return here


def calendar_of(document: Job) -> Calendar:
    calendar = job_from_document(document).calendar
    assert calendar is not None
    return calendar


def written(spans: Sequence[Span]) -> dict[str, dict[str, str]]:
    """A calendar given day by day: each span where it starts, and at each midnight the mode that goes on."""
    days: dict[str, dict[str, str]] = {day: {} for day in DAYS}
    for span in spans:
        midnights = range(-(-span.start // DAY) * DAY, span.end, DAY)
        for at in (span.start, *midnights):
            day, minute = divmod(at % (7 * DAY), DAY)
            days[DAYS[day]][f"{minute // 60:02d}:{minute % 60:02d}"] = span.mode
    return days


def with_calendar(document: Job, days: Mapping[str, Mapping[str, str]]) -> Job:
    return {**document, "calendar": {day: dict(times) for day, times in days.items()}}


def numbers(week: WeekView) -> list[float | None]:
    """The worst window's score, then relative exposure: mean, mean with people, peak."""
    courses = week.courses
    worst = week.worst(courses) if courses is not None else None
    airing = week.airing
    exposure = airing.exposure if airing is not None else None
    found = [exposure.mean, exposure.mean_present, exposure.peak] if exposure is not None else [None, None, None]
    return [worst.score if worst is not None else None, *found]


def told(document: Job) -> list[list[float | None]]:
    survey = Survey(job_from_document(document))
    return [numbers(week) for week in survey.weeks]


def assert_same(one: list[list[float | None]], other: list[list[float | None]]) -> None:
    for left, right in zip(one, other, strict=True):
        for before, after in zip(left, right, strict=True):
            assert (before is None) is (after is None)
            assert before is None or after == pytest.approx(before, rel=1e-6, abs=1e-9)


def said(document: Job, names: Mapping[str, str]) -> set[tuple[str, tuple[str, ...]]]:
    """Rules and places, some names in them replaced by others."""
    return {
        (f.rule, tuple(names.get(step, step) for step in f.place.name.split(" / ")))
        for f in check(job_from_document(document)).findings
    }


@st.composite
def cut_in_two(draw: st.DrawFn) -> tuple[Job, Job, str]:
    """A job, the same with one mode cut in two equal ones, and that mode."""
    document = draw(documents())
    week = week_of(calendar_of(document))
    mode = draw(st.sampled_from(sorted(week.modes)))
    spans: list[Span] = []
    for span in week.spans:
        turns = (span.length - 1) // CYCLE
        at = span.start + CYCLE * draw(st.integers(0, turns)) if span.mode == mode else span.start
        spans += [Span(span.start, at, "twin")] if at > span.start else []
        spans.append(Span(at, span.end, span.mode))
    assume(any(span.mode == "twin" for span in spans))
    other = deepcopy(with_calendar(document, written(spans)))
    part(other, "modes")["twin"] = part(other, "modes")[mode]
    for name in part(other, "settings"):
        programs = part(other, "settings", name, "programs")
        programs["twin"] = programs[mode]
    return with_calendar(document, written(week.spans)), other, mode


@few
@given(cut_in_two())
def test_cutting_a_mode_in_two_equal_ones_changes_no_number_and_no_verdict(jobs: tuple[Job, Job, str]) -> None:
    one, other, mode = jobs
    assert_same(told(one), told(other))
    before, after = check(job_from_document(one)), check(job_from_document(other))
    assert before.ok is after.ok
    if before.ok:
        assert said(one, {}) == said(other, {"twin": mode})


@few
@given(documents(), st.integers(1, 6))
def test_a_calendar_moved_by_whole_days_is_judged_alike(document: Job, days: int) -> None:
    spans = week_of(calendar_of(document)).spans
    one = written(spans)
    other = {DAYS[(number + days) % 7]: one[day] for number, day in enumerate(DAYS)}
    assert_same(told(with_calendar(document, one)), told(with_calendar(document, other)))
    assert said(with_calendar(document, one), {}) == said(with_calendar(document, other), {})


@few
@given(documents(), st.data())
def test_more_minutes_never_lower_the_worst_window_nor_raise_exposure(document: Job, data: st.DataObject) -> None:
    survey = Survey(job_from_document(document))
    fits = [p for p in survey.programs if p.program is not None and 0.0 < p.run_s < p.ventilator.cycle_s]
    assume(fits and survey.requirement.run_time is None)
    program = data.draw(st.sampled_from(fits))
    assert program.program is not None
    stage = data.draw(st.sampled_from(sorted(program.program.stages)))
    most = program.ventilator.cycle_s - program.run_s
    time_s = program.program.stages[stage].s + most * data.draw(st.sampled_from([0.1, 0.5, 1.0]))
    more = deepcopy(document)
    place = ("settings", program.ventilator.name, "programs", program.mode.name, program.season.value)
    part(more, *place)[stage] = str(Duration.shown(time_s, "min"))
    for before, after in zip(told(document), told(more), strict=True):
        (score, *exposure), (score_after, *exposure_after) = before, after
        assert (score is None) is (score_after is None)
        assert score is None or score_after is None or score_after >= score - 1e-9
        for was, now in zip(exposure, exposure_after, strict=True):
            assert was is None or (now is not None and now <= was * (1.0 + 1e-9))
