"""Whatever is read is a job or a JobFileError, and nothing else."""

import copy
import json

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from tests.files.samples import SOUND, documents, parts, texts
from ventrules.engine import Path
from ventrules.engine.findings import Document
from ventrules.files import (
    JobFileError,
    Problem,
    decode,
    job_document,
    job_from_document,
    job_json,
    job_yaml,
    parse_job,
    to_yaml,
)
from ventrules.files.yaml_text import load_yaml
from ventrules.job import Job

NAMES = st.sampled_from(["job.yaml", "job.json", "<text>"])
SOUND_BYTES = SOUND.encode()
TOKENS = ["70 cfm", "-1 ft", "18 AWG", "demo", "demo-erv-130", "ventilator.bus", "control.system", ".", "a.", "managed",
          "day", "heating", "low", "06:00", "us-irc-2021", "occupied", "every-day", "../x.yaml", "\ud800"]  # fmt: skip

# What is put in: any JSON value, what a job is made of, and what JSON does not know but Python does.
values: st.SearchStrategy[Document] = st.one_of(
    documents,
    st.sampled_from(TOKENS),
    st.floats(),
    st.sampled_from([10**300, -(10**400), 2**63, [], {}, [[[]]], {"": {}}]),
)


def outcome(data: bytes, name: str) -> Job | tuple[Problem, ...]:
    try:
        return parse_job(decode(data, name), name=name)
    except JobFileError as error:
        return error.problems


def hold(result: Job | tuple[Problem, ...]) -> None:
    """What holds of any outcome: a job can be written and read back; problems are said on a line each."""
    if isinstance(result, Job):
        assert parse_job(job_yaml(result)) == result
        return
    assert result
    for problem in result:
        assert problem.message
        assert len(problem.message) < 1000
        if problem.position is not None:
            assert min(problem.position.line, problem.position.column) >= 1


@given(st.binary(), NAMES)
@example(b"\xff\xfe", "job.yaml")
@example(b"\xef\xbb\xbf", "job.json")
@example(b"\x00", "<text>")
def test_arbitrary_bytes(data: bytes, name: str) -> None:
    hold(outcome(data, name))


@given(st.text(), NAMES)
def test_arbitrary_text(text: str, name: str) -> None:
    hold(outcome(text.encode(), name))


@example(start=0, length=0, splice=b"NaN", name="job.json")
@given(st.integers(0, len(SOUND_BYTES)), st.integers(0, 40), st.binary(max_size=6) | texts.map(str.encode), NAMES)
def test_a_job_with_a_splice(start: int, length: int, splice: bytes, name: str) -> None:
    hold(outcome(SOUND_BYTES[:start] + splice + SOUND_BYTES[start + length :], name))


@given(st.lists(st.sampled_from(SOUND.splitlines(keepends=True)), max_size=20))
def test_lines_of_a_job_in_any_order(lines: list[str]) -> None:
    hold(outcome("".join(lines).encode(), "job.yaml"))


def at(document: Document, path: Path) -> Document:
    for step in path:
        if isinstance(document, dict):
            document = document[str(step)]
        elif isinstance(document, list):
            document = document[int(step)]
    return document


@st.composite
def damaged_documents(draw: st.DrawFn, values: st.SearchStrategy[Document] = values) -> dict[str, Document]:
    """The sound job with up to three parts replaced, taken away, put in, moved or keyed anew."""
    document = load_yaml(SOUND)
    assert isinstance(document, dict)
    for _time in range(draw(st.integers(1, 3))):
        paths = [path for path, _part in parts(document)][1:]
        if not paths:
            break
        path = draw(st.sampled_from(paths))
        parent, last = at(document, path[:-1]), path[-1]
        how = draw(st.sampled_from(["replace", "delete", "insert", "move", "rename"]))
        value = copy.deepcopy(at(document, draw(st.sampled_from(paths)))) if how == "move" else draw(values)
        if isinstance(parent, dict):
            key = str(last) if how in ("replace", "move", "delete") else draw(texts | st.sampled_from(TOKENS[:-1]))
            if how == "rename":
                value = parent.pop(str(last))
            parent[key] = value
            if how == "delete":
                del parent[key]
        elif isinstance(parent, list):
            index = int(last)
            parent[index : index + (how != "insert")] = [] if how == "delete" else [value]
    return document


@given(damaged_documents())
def test_a_damaged_document_is_a_job_or_a_job_file_error(document: dict[str, Document]) -> None:
    before = repr(document)
    try:
        job = job_from_document(document)
    except JobFileError as error:
        hold(error.problems)
    else:
        assert job_from_document(job_document(job)) == job
    assert repr(document) == before


def finite(document: Document) -> bool:
    """Whether a text can hold a document as it is."""
    try:
        json.dumps(document, allow_nan=False, ensure_ascii=False).encode()
    except ValueError:
        return False
    return all(
        isinstance(part, bool) or not isinstance(part, int) or abs(part) < 10**290 for _p, part in parts(document)
    )


@given(damaged_documents(values.filter(finite)))
def test_data_json_and_yaml_have_the_same_problems(document: dict[str, Document]) -> None:
    try:
        job = job_from_document(document)
    except JobFileError as error:
        expected = {(problem.path, problem.message) for problem in error.problems}
        hold(error.problems)
    else:
        for text in (job_yaml(job), job_json(job), to_yaml(document)):
            assert parse_job(text) == job
        return
    for name, text in (("job.yaml", to_yaml(document)), ("job.json", json.dumps(document))):
        problems = outcome(text.encode(), name)
        assert not isinstance(problems, Job)
        assert {(problem.path, problem.message) for problem in problems} == expected
        hold(problems)
        order = [(p.position.line, p.position.column) for p in problems if p.position]
        assert order == sorted(order)
        assert len(order) == len(problems)


def read_and_held(document: dict[str, Document]) -> None:
    try:
        job = job_from_document(document)
    except JobFileError as error:
        hold(error.problems)
    else:
        assert job_from_document(job_document(job)) == job


@given(values)
def test_anything_at_all_in_place_of_each_part(value: Document) -> None:
    sound = load_yaml(SOUND)
    assert isinstance(sound, dict)
    for key in sound:
        read_and_held({**sound, key: value})
        read_and_held({**sound, key: {key: value}})


@pytest.mark.parametrize("long", ["x" * 3000, "1" * 3000, "x." * 1500])
def test_endless_names_and_values_make_no_endless_messages(long: str) -> None:
    sound = load_yaml(SOUND)
    tried = 0
    for path, part in parts(sound):
        if not path:
            continue
        for as_key in (False, True):
            document = copy.deepcopy(sound)
            parent = at(document, path[:-1])
            if isinstance(parent, dict) and isinstance(path[-1], str):
                parent[long if as_key else path[-1]] = parent.pop(path[-1]) if as_key else long
            elif isinstance(parent, list) and isinstance(path[-1], int):
                parent[path[-1]] = long
            assert isinstance(document, dict)
            read_and_held(document)
            tried += part is not None
    assert tried > 100


@pytest.mark.parametrize("name", ["two\nlines", "\x1b[2J", "\r", "\u2028"])
def test_what_does_not_print_is_escaped_in_what_is_said(name: str) -> None:
    # Problems are read on terminals and by programs that take one for each line.
    sound = load_yaml(SOUND)
    assert isinstance(sound, dict)
    devices: dict[str, Document] = {name: {"model": "none"}, "control": {"model": name}}
    for document in ({**sound, name: 1}, {**sound, "devices": devices}, {**sound, "modes": {name: name}}):
        problems = outcome(json.dumps(document).encode(), "job.json")
        assert not isinstance(problems, Job)
        assert all(str(problem).isprintable() for problem in problems)


def test_integers_without_end_in_plain_data() -> None:
    # Python itself refuses to print such a number; a message about it must not.
    sound = load_yaml(SOUND)
    assert isinstance(sound, dict)
    for key in sound:
        read_and_held({**sound, key: 10**5000})
        read_and_held({**sound, key: {key: -(10**5000)}})
