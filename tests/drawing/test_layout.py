"""Nothing in a picture lies on anything else, and the same job has the same picture."""

from collections.abc import Sequence
from pathlib import Path

import attrs
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.cli.running import SOUND
from tests.drawing.drawn import CROSSED, JOBS, bare, drawn, example, parsed, wild_jobs
from tests.drawing.geometry import assert_clear, assert_letters_fit, assert_told_apart, through
from ventrules import check, read_job
from ventrules.engine import Place
from ventrules.engine.findings import Document
from ventrules.files import job_document, job_from_document
from ventrules.job import Job
from ventrules.outputs.draw_boxes import picture
from ventrules.outputs.draw_marks import drawing
from ventrules.outputs.draw_mermaid import mermaid
from ventrules.outputs.draw_svg import svg
from ventrules.outputs.draw_table import wiring_csv
from ventrules.survey import Survey
from ventrules.testing import jobs

# Where things lie


@pytest.mark.parametrize(
    ("piece", "entering"),
    [
        (((0.0, 5.0), (20.0, 5.0)), True),
        (((0.0, 0.0), (20.0, 20.0)), True),
        (((0.0, 10.0), (20.0, 10.0)), False),
        (((0.0, 5.0), (4.0, 5.0)), False),
        (((5.0, -1.0), (5.0, 20.0)), False),
    ],
)
def test_the_search_for_lines_through_boxes_finds_them(
    piece: tuple[tuple[float, float], tuple[float, float]], entering: bool
) -> None:
    assert through(piece, (5.0, 0.0, 15.0, 10.0)) is entering


@settings(max_examples=40)
@given(wild_jobs())
def test_nothing_lies_on_anything_else_however_devices_are_joined(job: Job) -> None:
    found = picture(bare(job))
    assert set(found.boxes) == set(job.devices)
    assert sorted(run.cable.view.index for run in found.runs) == list(range(len(job.cables)))
    assert_clear(found)
    assert_told_apart(found)
    assert_letters_fit(found)


@settings(max_examples=25)
@given(jobs())
def test_nothing_lies_on_anything_else_in_sound_jobs(job: Job) -> None:
    found = picture(drawn(job))
    assert_clear(found)
    assert_told_apart(found)


@pytest.mark.parametrize("path", JOBS, ids=lambda path: str(path.name))
def test_nothing_lies_on_anything_else_in_the_examples(path: Path) -> None:
    found = picture(example(path))
    assert_clear(found)
    assert_letters_fit(found)


def test_many_cables_on_one_port_and_many_findings_at_one_place_keep_clear() -> None:
    job = read_job(SOUND / "number-02.yaml")
    many = attrs.evolve(job, cables=job.cables * 12)
    (like, *_rest) = check(read_job(CROSSED)).findings
    survey = Survey(many)
    places = [conductor.place for view in survey.cables[:3] for conductor in view.conductors]
    places += [view.place for view in survey.cables] * 2 + [Place.at("devices", "furnace")] * 120
    findings = [attrs.evolve(like, place=place, related=()) for place in places]
    found = drawing(survey, findings)
    assert_clear(picture(found))
    assert_letters_fit(picture(found))
    numbers = {mark.get("data-finding") for mark in parsed(svg(found)).iter("g") if mark.get("class") == "mark"}
    assert numbers >= {str(number) for number in range(1, len(findings) + 1)}


# The same for the same job


def turned(job: Job, order: Sequence[int]) -> Job:
    """Return a job with its devices and its cables in another order."""
    devices = [(name, job.devices[name]) for name in sorted(job.devices)]
    ranks = [order[at % len(order)] for at in range(max(len(devices), len(job.cables), 1))]
    devices = [devices[at] for at in sorted(range(len(devices)), key=lambda at: (ranks[at], -at))]
    cables = [job.cables[at] for at in sorted(range(len(job.cables)), key=lambda at: (ranks[at], -at))]
    return attrs.evolve(job, devices=dict(devices), cables=tuple(cables))


@settings(max_examples=40)
@given(wild_jobs(), st.permutations(range(9)))
def test_a_picture_is_the_same_in_whatever_order_devices_and_cables_stand(job: Job, order: Sequence[int]) -> None:
    one, other = bare(job), bare(turned(job, order))
    assert svg(one) == svg(other)
    assert mermaid(one) == mermaid(other)
    assert wiring_csv(one) == wiring_csv(other)


def backward(value: Document) -> Document:
    """Return a document with all keys the other way round."""
    if isinstance(value, dict):
        return {key: backward(value[key]) for key in reversed(value)}
    return [backward(item) for item in value] if isinstance(value, list) else value


@pytest.mark.parametrize("path", JOBS[::5], ids=lambda path: str(path.name))
def test_findings_have_the_same_numbers_in_whatever_order_keys_stand(path: Path) -> None:
    job = read_job(path)
    document = backward(job_document(job))
    assert isinstance(document, dict)
    other = job_from_document(document, folder=path.parent)
    for writer in (svg, mermaid, wiring_csv):
        assert writer(drawn(job)) == writer(drawn(other))
