"""JSON text to data, held to Python's own `json` (RFC 8259) and to YAML's flow style."""

import json
import sys
from pathlib import Path
from typing import Final, NoReturn

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from tests.files.samples import (
    SOUND,
    documents,
    mark_at,
    mark_of,
    names,
    parts,
    printed,
    rest_of_line,
    same,
    starts_with_text,
    starts_with_value,
)
from ventrules.engine.findings import Document
from ventrules.files import DocumentError, JobFileError, Marks, decode, load_text, marks_of, parse_job, read_job
from ventrules.files.json_text import load_json, mark_json
from ventrules.files.yaml_text import load_yaml

indents = st.sampled_from([None, 0, 2, "\t"])
SOUND_JSON: Final = json.dumps(load_yaml(SOUND), indent=2)


@given(documents, indents, st.booleans())
def test_reads_what_json_reads(document: Document, indent: int | str | None, ascii_only: bool) -> None:
    text = json.dumps(document, indent=indent, ensure_ascii=ascii_only)
    assert same(load_json(text), document)
    assert same(load_json(f" \r\n\t{text}\n"), json.loads(text))


def as_json_reads(text: str) -> Document:
    """What `json` makes of a text; ValueError for what is no JSON, and for what RFC 8259 does not know."""

    def refuse(constant: str) -> NoReturn:
        raise ValueError(constant)

    def once(pairs: list[tuple[str, Document]]) -> dict[str, Document]:
        if len({key for key, _value in pairs}) < len(pairs):
            raise ValueError("a key twice")
        return dict(pairs)

    document: Document = json.loads(text, parse_constant=refuse, object_pairs_hook=once)
    json.dumps(document, allow_nan=False)  # a number too large for a float
    return document


@given(st.text() | st.text('{}[]:,"\\ab01e+-. \nNtrufals', max_size=20))
@example('{"a": 1, "a": 2}')
@example("NaN")
def test_arbitrary_text_is_read_as_json_reads_it_or_refused(text: str) -> None:
    try:
        expected = as_json_reads(text)
    except ValueError:
        with pytest.raises(DocumentError):
            load_json(text)
    else:
        assert same(load_json(text), expected)


# text, a piece of the message, and the last piece of the text that is pointed at
REFUSED: Final = [
    ('{"a": 1,\n "b": 2,\n "a": 3}', "key 'a' appears twice", '"a"'),
    ('{"a": 1, "\\u0061": 3}', "key 'a' appears twice", '"\\u0061"'),
    ('[{"x": {"b": [], "b": {}}}]', "key 'b' appears twice", '"b"'),
    ('{"k": [1, {"": 0,\n\n  "": 0}]}', "key '' appears twice", '""'),
    ('{"a": {"k": 1}, "b": {"k": 1}, "a": 1}', "key 'a' appears twice", '"a"'),
    ('["{", "}", {"[": 1, "[": 2}]', "key '[' appears twice", '"["'),
    ('{"a": NaN}', "NaN is not a number that can be used", "NaN"),
    ('[1,\n Infinity]', "Infinity is not a number that can be used", "Infinity"),
    ("-Infinity", "-Infinity is not a number that can be used", "-Infinity"),
    ('{"NaN": "NaN", "b": [NaN]}', "NaN is not a number that can be used", "NaN"),
    ('{"a": 1e400}', "too large", "1e400"),
    ('[0,\n -1E+309]', "too large", "-1E+309"),
    ('{"a": 1,}', "not valid JSON", None),
    ("{'a': 1}", "not valid JSON", "'a'"),
    ('{"a" 1}', "not valid JSON", "1"),
    ('{"a": 1} {"b": 2}', "not valid JSON", '{"b"'),
    ('{"a": tru}', "not valid JSON", "tru"),
    ('["a\nb"]', "not valid JSON", "\n"),
    ('{"a": [1, 2', "not valid JSON", None),
]  # fmt: skip


@pytest.mark.parametrize(("text", "piece", "at"), REFUSED, ids=[row[0] for row in REFUSED])
def test_what_is_refused_is_pointed_at(text: str, piece: str, at: str | None) -> None:
    with pytest.raises(DocumentError) as caught:
        load_json(text)
    problem = caught.value
    assert piece in problem.message
    assert problem.line >= 1
    if at is not None:
        assert (problem.line, problem.column) == mark_at(text, text.rindex(at))


@given(documents, st.data())
def test_a_key_written_twice_is_pointed_at_wherever_it_is(document: Document, data: st.DataObject) -> None:
    mappings = [path for path, part in parts(document) if isinstance(part, dict) and part]
    assume(mappings)
    chosen = data.draw(st.sampled_from(mappings))
    text = json.dumps(document, indent=1)
    marks = Marks()
    mark_json(text, marks)
    part = next(part for path, part in parts(document) if path == chosen)
    assert isinstance(part, dict)
    first = next(iter(part))
    mark = marks.keys[*chosen, first]
    lines = text.split("\n")
    start = sum(len(line) + 1 for line in lines[: mark.line - 1]) + mark.column - 1
    pair = f"{json.dumps(first)}: 0,\n"
    doubled = text[:start] + pair + text[start:]
    with pytest.raises(DocumentError, match="appears twice") as caught:
        load_json(doubled)
    assert (caught.value.line, caught.value.column) == (mark.line + 1, 1)
    assert caught.value.path == (*chosen, first)


@pytest.mark.parametrize("text", ["[" * 100_000 + "]" * 100_000, "[" * 100_000, '{"a":' * 100_000,
                                  '{"a":' * 100_000 + "1" + "}" * 100_000, '[{"a":' * 50_000])  # fmt: skip
def test_bottomless_nesting_is_refused_in_peace(text: str) -> None:
    for name in ("job.json", "job.yaml", "<text>"):
        with pytest.raises(DocumentError):
            load_text(text, name)
        with pytest.raises(JobFileError):
            parse_job(text, name=name)


@pytest.mark.parametrize("number", ["9" * 5000, "-" + "1" * 4301, "1" + "0" * 100_000])
def test_endless_integers_are_refused(number: str) -> None:
    text = f'{{"ventrules": {number}}}'
    with pytest.raises(DocumentError) as caught:
        load_json(text)
    assert len(caught.value.message) < 300
    with pytest.raises(JobFileError):
        parse_job(text)


def test_large_integers_are_read_whole() -> None:
    assert load_json("9" * 300) == int("9" * 300)


@pytest.mark.parametrize("half", ["\\ud800", "\\uDFFF", "\\udc00\\ud800", "a\\uD83D", "\\ud83d\\u0041"])
@pytest.mark.parametrize("form", ['"{}"', '["{}"]', '{{"{}": 1}}', '{{"a": [{{"b": "{}"}}]}}'])
def test_half_of_a_surrogate_pair_is_refused(half: str, form: str) -> None:
    # RFC 8259, section 8.2: an escape may name half of a pair; such text cannot be encoded, so nothing could write it.
    with pytest.raises(DocumentError, match="surrogate"):
        load_text(form.format(half), "job.json")


@pytest.mark.parametrize(("written", "value"), [("\\ud83c\\udf00", "\U0001f300"), ("\\\\ud800", "\\ud800")])
def test_whole_pairs_and_escaped_backslashes_are_read(written: str, value: str) -> None:
    assert load_text(f'{{"{written}": ["{written}"]}}', "job.json") == {value: [value]}


@given(printed, indents)
def test_yaml_reads_json_text_alike(document: Document, indent: int | str | None) -> None:
    assume(indent != "\t")  # YAML does not indent with tabs
    text = json.dumps(document, indent=indent, ensure_ascii=False)
    by_json, by_yaml = Marks(), Marks()
    mark_json(text, by_json)
    assert same(load_yaml(text, by_yaml), load_json(text))
    assert by_json == by_yaml


@given(printed, indents)
def test_marks_point_at_keys_and_values(document: Document, indent: int | str | None) -> None:
    text = json.dumps(document, indent=indent, ensure_ascii=False)
    marks = marks_of(text, "job.json")
    expected = dict(parts(document))
    assert marks.keys.keys() == marks.values.keys() == expected.keys()
    for path, value in expected.items():
        assert starts_with_value(rest_of_line(text, marks.values[path]), value)
        if path and isinstance(path[-1], str):
            assert starts_with_text(rest_of_line(text, marks.keys[path]), path[-1])
        else:
            assert marks.keys[path] == marks.values[path]


@given(documents, indents, st.data())
def test_positions_found_one_by_one_are_those_of_the_whole_text(
    document: Document, indent: int | str | None, data: st.DataObject
) -> None:
    text = data.draw(st.sampled_from(["", " ", "\r\n\t"])) + json.dumps(document, indent=indent)
    whole, one_by_one = Marks(), marks_of(text, "job.json")
    mark_json(text, whole)
    paths = [path for path, _part in parts(document)]
    strange = [(*path, step) for path in paths for step in ("", "a", 0, 7, -1)]
    for path in data.draw(st.permutations(paths + strange)):
        for at_value in (False, True):
            expected = whole.position("job.json", path, at_value=at_value)
            assert one_by_one.position("job.json", path, at_value=at_value) == expected


@pytest.mark.parametrize("text", ["", " ", "{", '{"a"', '{"a": ', '{"a": [1, ', '{"a" 1}', "[,]", "}"])
def test_positions_in_a_broken_text_are_missing_or_inside(text: str) -> None:
    found = marks_of(text, "job.json").position("job.json", ("a", 1, "b"))
    assert found is None or text[found.column - 1 :]


@given(documents)
def test_marks_are_made_for_any_sound_text(document: Document) -> None:
    marks = Marks()
    mark_json(json.dumps(document), marks)
    assert marks.keys.keys() == dict(parts(document)).keys()


def test_marks_of_a_job() -> None:
    marks = marks_of(SOUND_JSON, "job.json")
    path = ("settings", "ventilator", "outdoor_limits", "off_at_or_above")
    assert marks.keys[path] == mark_of(SOUND_JSON, '"off_at_or_above"')
    assert marks.values[path] == mark_of(SOUND_JSON, '"100 degF"')
    assert marks.values["cables", 1, "length"] == mark_of(SOUND_JSON, '"2 m"')


def test_a_clean_text_is_read_without_looking_for_positions(monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_arguments: object) -> NoReturn:
        raise AssertionError("positions were looked for")

    monkeypatch.setattr(sys.modules[load_json.__module__], "mark_json", never)
    monkeypatch.setattr(sys.modules[load_text.__module__], "JsonMarks", never)
    assert parse_job(SOUND_JSON, name="job.json").title == "Quarry Lane 7"
    with pytest.raises(AssertionError, match="positions"):  # the patch does bite
        parse_job(SOUND_JSON.replace('"bedrooms": 3', '"bedrooms": null'), name="job.json")


@given(st.integers(0, len(SOUND_JSON) - 1))
@example(0)
@example(len(SOUND_JSON) - 1)
def test_a_half_written_job_is_refused_inside_its_text(length: int) -> None:
    begun = SOUND_JSON[:length]
    with pytest.raises(DocumentError) as caught:
        load_text(begun, "job.json")
    problem = caught.value
    lines = begun.split("\n")
    assert 1 <= problem.line <= len(lines)
    assert 1 <= problem.column <= len(lines[problem.line - 1]) + 1


@given(names)
def test_a_name_that_ends_in_json_is_read_as_json_only(name: str) -> None:
    text = "{key: [1,]}"
    assert load_text(text, f"{name}.yaml") == {"key": [1]}
    with pytest.raises(DocumentError, match="not valid JSON"):
        load_text(text, f"{name}.json")


def test_text_that_is_neither_gets_the_complaint_of_json() -> None:
    with pytest.raises(DocumentError, match="not valid JSON"):
        load_text('{"a": [1, 2}', "<text>")
    with pytest.raises(DocumentError, match="not valid YAML"):
        load_text("a: [1, 2", "<text>")


def test_flow_style_of_yaml_is_read_where_json_is_not_asked_for() -> None:
    text = "{ventrules: 1, job: off, # a comment\n  catalogs: [demo,]}"
    assert load_text(text, "<text>") == {"ventrules": 1, "job": "off", "catalogs": ["demo"]}
    assert marks_of(text, "<text>").keys["catalogs",] == mark_of(text, "catalogs")


@pytest.mark.parametrize("start", [b"", b"\xef\xbb\xbf"])
def test_a_byte_order_mark_does_not_count(start: bytes) -> None:
    assert load_json(decode(start + SOUND_JSON.encode(), "job.json")) == load_yaml(SOUND)


def test_a_file_in_json_is_a_job(tmp_path: Path) -> None:
    file = tmp_path / "job.json"
    file.write_text(SOUND_JSON)
    assert read_job(file) == parse_job(SOUND)
