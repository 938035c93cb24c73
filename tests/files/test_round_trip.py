"""Jobs to plain data and text and back: nothing is lost, nothing is shared."""

import copy
import json
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from tests.files.samples import AWKWARD, SOUND, parts, texts
from ventrules.engine.findings import Document
from ventrules.files import (
    JobFileError,
    job_document,
    job_from_document,
    job_json,
    job_yaml,
    parse_job,
    read_job,
    rebuilt,
    write_text,
)
from ventrules.files.yaml_text import load_yaml
from ventrules.units import Airflow, Area, Duration, Length, Period, Quantity, Temperature, WireSize

# Names that a careless writer or reader would take for something else; names, unlike titles, have an alphabet.
NAMES = ("off", "on", "no", "y", "null", "true", "1", "012", "0o14", "0x1F", "1e3", "1_000", "2001-12-14", "_", "a b",
         "caf\u00e9", "\u6e29\u5ea6", "a-b", "1+1", "managed", "x" * 63)  # fmt: skip
LEFT_OUT = (
    ("site",), ("notes",), ("readings",), ("dwelling", "ceiling_height"), ("settings", "ventilator", "cycle"),
    ("settings", "ventilator", "outdoor_limits"), ("settings", "ventilator", "outdoor_limits", "off_at_or_below"),
    ("settings", "ventilator", "filter_reminder"), ("settings", "ventilator", "programs", "out", "heating"),
    ("cables", 2, "conductors"), ("cables", 2, "gauge"), ("cables", 0, "length"), ("cables", 1),
    ("calendar", "weekend"),
)  # fmt: skip
LOW = ("settings", "ventilator", "programs", "day", "heating", "low")
QUANTITIES: dict[tuple[str | int, ...], type[Quantity]] = {
    ("dwelling", "floor_area"): Area,
    ("cables", 0, "length"): Length,
    ("cables", 0, "gauge"): WireSize,
    ("site", "winter_design"): Temperature,
    ("settings", "ventilator", "filter_reminder"): Period,
    LOW: Duration,
    ("readings", "ventilator", "low", "supply"): Airflow,
}


def sound() -> dict[str, Document]:
    document = load_yaml(SOUND)
    assert isinstance(document, dict)
    return document


def inside(document: Document, path: tuple[str | int, ...]) -> Document:
    """What stands at a path; None where there is nothing."""
    for step in path:
        if isinstance(document, dict) and isinstance(step, str):
            document = document.get(step)
        elif isinstance(document, list) and isinstance(step, int) and step < len(document):
            document = document[step]
        else:
            return None
    return document


def put(document: Document, path: tuple[str | int, ...], value: Document) -> None:
    """Set what stands at a path, where it stands at all; take it away where the value is None."""
    parent, last = inside(document, path[:-1]), path[-1]
    if isinstance(parent, dict) and last in parent and isinstance(last, str):
        parent.pop(last) if value is None else parent.update({last: value})
    elif isinstance(parent, list) and isinstance(last, int) and value is None and last < len(parent):
        parent.pop(last)


def renamed(document: Document, old: str, new: str) -> Document:
    """The document with a name changed wherever it stands, as a key, as a value or before a dot."""
    if isinstance(document, dict):
        return {new if key == old else key: renamed(value, old, new) for key, value in document.items()}
    if isinstance(document, list):
        return [renamed(value, old, new) for value in document]
    if isinstance(document, str):
        device, dot, port = document.partition(".")
        return new + dot + port if device == old else document
    return document


@st.composite
def written_quantities(draw: st.DrawFn, kind: type[Quantity]) -> str:
    """A quantity as a person may write it."""
    unit = draw(st.sampled_from(sorted(kind.units)))
    number = draw(st.floats(1, 30) | st.integers(1, 30))
    return f"{number!r}{draw(st.sampled_from(['', ' ', '  ']))}{unit}"


@st.composite
def sound_documents(draw: st.DrawFn) -> dict[str, Document]:
    """The sound job with other titles, names and quantities, and without what may be left out."""
    document: Document = sound()
    mode, device = draw(st.lists(st.sampled_from(NAMES), min_size=2, max_size=2, unique=True))
    document = renamed(document, "out", mode)
    for path, kind in QUANTITIES.items():
        if draw(st.booleans()):
            put(document, path, draw(written_quantities(kind)))
    for path in draw(st.sets(st.sampled_from(LEFT_OUT), max_size=4)):
        put(document, path, None)
    document = renamed(document, "furnace", device)
    assert isinstance(document, dict)
    document["job"] = draw(texts)
    document["notes"] = draw(texts.filter(bool))
    return document


@given(sound_documents())
def test_a_job_says_all_that_its_document_says(document: dict[str, Document]) -> None:
    job = job_from_document(document)
    assert job_document(job) == document
    assert list(job_document(job)) == [key for key in job_document(parse_job(SOUND)) if key in document]


@given(sound_documents())
def test_a_job_comes_back_from_text(document: dict[str, Document]) -> None:
    job = job_from_document(document)
    assert parse_job(job_yaml(job)) == job
    assert parse_job(job_json(job), name="job.json") == job
    assert parse_job(job_json(job)) == job
    assert job_from_document(json.loads(job_json(job))) == job
    assert job_yaml(parse_job(job_yaml(job))) == job_yaml(job)


@pytest.mark.parametrize("text", AWKWARD)
def test_awkward_titles_and_notes_come_back_from_a_file(tmp_path: Path, text: str) -> None:
    job = job_from_document({**sound(), "job": text, "notes": f"{text}\n{text}"})
    assert job.title == text
    for name, written in (("job.yaml", job_yaml(job)), ("job.json", job_json(job))):
        write_text(tmp_path / name, written)
        assert read_job(tmp_path / name) == job


@given(st.text(), st.text(min_size=1))
@example(title="\x85", notes="a\x85b")
def test_any_title_and_notes_come_back(title: str, notes: str) -> None:
    job = job_from_document({**sound(), "job": title, "notes": notes})
    assert parse_job(job_yaml(job)) == job == parse_job(job_json(job), name="job.json")


def test_half_a_surrogate_pair_is_refused_in_plain_data_as_it_is_in_text() -> None:
    document = {**sound(), "job": "\ud800"}
    with pytest.raises(JobFileError, match="surrogate"):
        parse_job(json.dumps(document), name="job.json")
    with pytest.raises(JobFileError, match="surrogate"):  # nothing could write such a job
        job_from_document(document)


def test_a_written_job_leaves_out_what_was_left_out() -> None:
    least = {
        key: value for key, value in sound().items() if key in ("ventrules", "job", "dwelling", "target", "devices")
    }
    least["devices"] = {}
    assert job_document(job_from_document(least)) == least


def containers(document: Document) -> set[int]:
    return {id(part) for _path, part in parts(document) if isinstance(part, dict | list)}


def wreck(document: Document) -> None:
    """Empty every container of a document."""
    for _path, part in list(parts(document)):
        if isinstance(part, dict | list):
            part.clear()


@given(sound_documents())
def test_a_document_of_a_job_is_nobody_elses(document: dict[str, Document]) -> None:
    job = job_from_document(document)
    one, other = job_document(job), job_document(job)
    assert not containers(one) & containers(other)
    wreck(one)
    assert one == {}
    assert job_document(job) == other


@given(sound_documents())
def test_a_document_is_neither_changed_nor_kept_by_reading_it(document: dict[str, Document]) -> None:
    before = copy.deepcopy(document)
    job = job_from_document(document)
    assert document == before
    wreck(document)
    assert job_document(job) == before


@given(sound_documents())
def test_a_job_is_rebuilt_with_its_own_catalog(document: dict[str, Document]) -> None:
    job = job_from_document(document)
    assert rebuilt(job_document(job), job) == job
    changed: dict[str, Document] = {**job_document(job), "notes": "Changed.", "catalogs": ["gone"]}
    again = rebuilt(changed, job)
    assert again.notes == "Changed."
    assert again.catalog.models == job.catalog.models
    with pytest.raises(JobFileError, match="missing"):
        rebuilt({**changed, "dwelling": {}}, job)
