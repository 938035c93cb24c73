"""YAML text to data, held to the YAML 1.2.2 specification, to PyYAML's own writer and to JSON."""

import json
import re
import sys
from collections.abc import Callable
from typing import Final

import pytest
import yaml
from hypothesis import assume, example, given
from hypothesis import strategies as st

from tests.files.samples import (
    AWKWARD,
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
from ventrules.engine import Path, Position
from ventrules.engine.findings import Document
from ventrules.files import DocumentError, Marks, load_text, marks_of, to_yaml
from ventrules.files.yaml_text import DEEPEST, MOST_ALIASED, load_yaml

# YAML 1.2.2, section 10.3.2 "Tag Resolution": the table of the core schema, row by row. What it makes infinite or not
# a number is refused here, and whatever matches no row is text.
CORE_SCHEMA: Final = [
    (r"null|Null|NULL|~|", "null"),
    (r"true|True|TRUE|false|False|FALSE", "bool"),
    (r"[-+]?[0-9]+", "int"),
    (r"0o[0-7]+", "octal"),
    (r"0x[0-9a-fA-F]+", "hexadecimal"),
    (r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?", "float"),
    (r"[-+]?(\.inf|\.Inf|\.INF)", "refused"),
    (r"\.nan|\.NaN|\.NAN", "refused"),
]


def resolved(plain: str) -> Document:
    """What the table says of a plain scalar; raises LookupError where it is no finite value."""
    row = next((row for pattern, row in CORE_SCHEMA if re.fullmatch(pattern, plain)), "text")
    if row == "refused":
        raise LookupError(plain)
    value: Document = plain
    if row == "null":
        value = None
    elif row == "bool":
        value = plain.lower() == "true"
    elif row == "int":
        value = int(plain, 10)
    elif row in ("octal", "hexadecimal"):
        value = int(plain, 0)
    elif row == "float":
        value = float(plain)
    if value in (float("inf"), float("-inf")):
        raise LookupError(plain)
    return value


PLAIN_ALPHABET: Final = "+-.0123456789xoeEabfinNuUlLsSA~trTR_"


@given(st.text(PLAIN_ALPHABET, max_size=7) | st.sampled_from(["NaN", ".NaN", "-.inf", "TRUE", "Null", "0o17", "+.Inf"]))
@example("1e400")
@example("1e999999999")
@example("-0")
@example("00")
@example(".")
@example("1.e1")
def test_plain_scalars_are_resolved_by_the_table_of_the_core_schema(plain: str) -> None:
    assume(plain != "-")  # an entry of a list, not a scalar
    try:
        expected = resolved(plain)
    except LookupError:
        with pytest.raises(DocumentError, match=r"cannot|can be used|too large"):
            load_yaml(f"key: {plain}")
    else:
        assert same(load_yaml(f"key: {plain}"), {"key": expected})
        assert same(load_yaml(f"[{plain or '~'}, 1]"), [expected, 1])


@given(st.text(PLAIN_ALPHABET, max_size=7))
def test_quoted_scalars_are_text(inner: str) -> None:
    assert load_yaml(f"- '{inner}'\n- \"{inner}\"") == [inner, inner]


# YAML 1.1 took these for true, false, numbers, times of day in base 60, dates and merges; YAML 1.2 takes them for text.
ONLY_1_1: Final = ["off", "on", "yes", "no", "y", "n", "Off", "ON", "YES", "No", "06:00", "22:30", "190:20:30", "1:30",
                   "2001-12-14", "1_000", "0b11", "+0o7", "-0xC", "0o8", "=", "<<"]  # fmt: skip


@pytest.mark.parametrize("plain", ONLY_1_1)
def test_what_only_yaml_1_1_took_for_something_else_is_text(plain: str) -> None:
    assert load_yaml(f"key: {plain}") == {"key": plain}
    assert load_yaml(f"{plain}: key") == {plain: "key"}


@pytest.mark.parametrize(
    ("plain", "value"),
    [("0o14", 12), ("0xC", 12), ("012", 12), (".5", 0.5), ("1e3", 1000.0), ("~", None), ("null", None), ("True", True)],
)
def test_values_of_the_core_schema(plain: str, value: Document) -> None:
    assert same(load_yaml(f"key: {plain}"), {"key": value})


# Examples printed in YAML 1.2.2 (from memory): number, text, and the data it stands for.
CORE_TAGS: Final = """\
A null: null
Booleans: [ true, True, false, FALSE ]
Integers: [ 0, 0o7, 0x3A, -19 ]
Floats: [
  0., -0.0, .5, +12e03, -2E+05 ]
"""
ENTRY_TYPES: Final = """\
- # Empty
- |
 block node
- - one # Compact
  - two # sequence
- one: two
"""
SPECIFICATION: Final[dict[str, tuple[str, Document]]] = {
    "5.7 block scalar indicators": (
        "literal: |\n  some\n  text\nfolded: >\n  some\n  text\n",
        {"literal": "some\ntext\n", "folded": "some text\n"},
    ),
    "5.8 quoted scalar indicators": ("single: 'text'\ndouble: \"text\"\n", {"single": "text", "double": "text"}),
    "6.9 separated comment": ("key:    # Comment\n  value", {"key": "value"}),
    "7.5 double-quoted line breaks": (
        '"folded \nto a space,\t\n \nto a line feed, or \t\\\n \\ \tnon-content"',
        "folded to a space,\nto a line feed, or \t \tnon-content",
    ),
    "7.13 flow sequence": ("- [ one, two, ]\n- [three ,four]\n", [["one", "two"], ["three", "four"]]),
    "7.15 flow mappings": (
        "- { one : two , three: four , }\n- {five: six,seven : eight}\n",
        [{"one": "two", "three": "four"}, {"five": "six", "seven": "eight"}],
    ),
    "8.5 chomping, shortened": (
        "strip: |-\n  text\nclip: |\n  text\nkeep: |+\n  text\n",
        {"strip": "text", "clip": "text\n", "keep": "text\n"},
    ),
    "8.15 block sequence entry types": (ENTRY_TYPES, [None, "block node\n", ["one", "two"], {"one": "two"}]),
    "10.9 core tag resolution, its finite part": (
        CORE_TAGS,
        {
            "A null": None,
            "Booleans": [True, True, False, False],
            "Integers": [0, 7, 58, -19],
            "Floats": [0.0, -0.0, 0.5, 12000.0, -200000.0],
        },
    ),
}


@pytest.mark.parametrize(("text", "data"), SPECIFICATION.values(), ids=SPECIFICATION.keys())
def test_examples_of_the_specification(text: str, data: Document) -> None:
    assert same(load_yaml(text), data)


@given(documents)
@example(list(AWKWARD))
@example({"a": "\x85", "b": "c\x85d"})
@example({text: text for text in AWKWARD})
def test_what_is_written_reads_back(document: Document) -> None:
    assume(all(not isinstance(part, int) or len(str(part)) < 300 for _path, part in parts(document)))
    assert same(load_yaml(to_yaml(document)), document)


@given(documents)
def test_both_of_pyyamls_parsers_give_the_same(document: Document) -> None:
    assume(all(not isinstance(part, int) or len(str(part)) < 300 for _path, part in parts(document)))
    text = to_yaml(document)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys.modules[load_yaml.__module__], "_LOADER", yaml.SafeLoader)
        assert same(load_yaml(text), document)


def refusal(text: str) -> DocumentError:
    with pytest.raises(DocumentError) as caught:
        load_yaml(text)
    return caught.value


# text, a piece of the message, and the piece of the text that is pointed at
REFUSED: Final = [
    ("a: !!int '3'", "tag", "!!int"),
    ("a: !!python/object/apply:os.getcwd []", "tag", "!!python"),
    ("a: !!python/name:os.getcwd", "tag", "!!python"),
    ("a: !local text", "tag '!local'", "!local"),
    ("a: !!set {b}", "tag", "!!set"),
    ("a: !!omap [b: c]", "tag", "!!omap"),
    ("a: !!binary aGk=", "tag", "!!binary"),
    ("a: !!timestamp 2001-12-14", "tag", "!!timestamp"),
    ("a: !!null x", "tag", "!!null"),
    ("a: 1\nb: 2\na: 3", "key 'a' appears twice", "a: 3"),
    ("a: 1\n'a': 3", "key 'a' appears twice", "'a'"),
    ("{a: 1, \"\\x61\": 3}", "key 'a' appears twice", '"\\x61'),
    ("<<: {a: 1}\n<<: {b: 2}", "key '<<' appears twice", "<<: {b"),
    ("x: {a: 1,\n  a: 2}", "key 'a' appears twice", "a: 2"),
    ("1: a", "key '1' is a int; put it in quotes", "1"),
    ("a: {1.5: a}", "key '1.5' is a float", "1.5"),
    ("true: a", "key 'true' is a bool", "true"),
    ("? ~\n: a", "key '~' is a NoneType", "~"),
    ("? [a]\n: b", "a key must be text", "[a]"),
    ("? {a: b}\n: c", "a key must be text", "{a"),
    ("- &x a\n- *x : b", "a key must be text", "*x"),
    ("a: .inf", ".inf is not a number that can be used", ".inf"),
    ("a: [-.INF]", "-.INF is not a number that can be used", "-.INF"),
    ("a: .nan", ".nan is not a number that can be used", ".nan"),
    ("a: 1e309", "too large", "1e309"),
    ("a: &x [*x]", "alias 'x' contains itself", "*x"),
    ("&x a: {b: &y {c: *y}}", "alias 'y' contains itself", "*y"),
    ("a: *x", "alias 'x' has no anchor", "*x"),
    ("a: [*x]\nb: &x 1", "alias 'x' has no anchor", "*x"),
    ("a: 1\n--- \nb: 2", "more than one document", "---"),
    ("a: 1\n...\n---\nb: 2", "more than one document", "---"),
    ("", "the file is empty", ""),
    ("# only\n# comments\n", "the file is empty", "# only"),
    ("a: [1, 2", "not valid YAML", None),
    ("a: 'b", "not valid YAML", None),
    ("a: b: c", "not valid YAML", ": c"),
    ("a: 1\n\tb: 2", "not valid YAML", "\tb"),
    ("%YAML 3.0\n--- a", "not valid YAML", "%YAML"),
    ("a: @b", "not valid YAML", "@b"),
    (f"a: {'9' * 5000}", "too long", "999"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "piece", "at"), REFUSED, ids=[row[0][:30] for row in REFUSED])
def test_what_is_refused_is_pointed_at(text: str, piece: str, at: str | None) -> None:
    problem = refusal(text)
    assert piece in problem.message
    if at is not None:
        assert (problem.line, problem.column) == mark_at(text, text.rindex(at) if "999" not in at else text.index(at))
    assert len(problem.message) < 300


def test_tags_that_say_what_a_plain_reader_would_say_anyway_are_read() -> None:
    assert load_yaml("!!map {a: !!seq [!!str 12, !!str b]}") == {"a": ["12", "b"]}


def test_the_non_specific_tag_makes_text() -> None:
    # YAML 1.2.2, section 6.9.1: a scalar with the non-specific tag "!" is text; its example 6.28 shows it.
    assert load_yaml("- a\n- ! b\n- ! '12'") == ["a", "b", "12"]


@pytest.mark.parametrize("text", ["--- {a: 1}", "%YAML 1.2\n---\na: 1\n...\n", "a: 1\n...\n# done\n", "\r\na: 1\r\n"])
def test_one_document_with_its_markers_is_read(text: str) -> None:
    assert load_yaml(text) == {"a": 1}


@pytest.mark.parametrize("text", ["a: \x07", "a: b\nc: \x7f", "\x00"])
def test_control_characters_are_refused_on_one_line_with_their_place(text: str) -> None:
    problem = refusal(text)
    assert "\n" not in problem.message
    assert problem.line == text.count("\n") + 1


def flow_list(levels: int) -> str:
    return "[" * levels + "]" * levels


def flow_map(levels: int) -> str:
    return "{a: " * levels + "1" + "}" * levels


def block_list(levels: int) -> str:
    return "- " * levels + "a"


def block_map(levels: int) -> str:
    return "".join(f"{' ' * level}a:\n" for level in range(levels))


NESTS: Final = [flow_list, flow_map, block_list, block_map]


@pytest.mark.parametrize("nest", NESTS)
def test_nesting_is_read_to_the_limit_and_refused_beyond_it(nest: Callable[[int], str]) -> None:
    value = load_yaml(nest(DEEPEST))
    levels = 0
    while isinstance(value, list | dict) and value:
        value = value[0] if isinstance(value, list) else value["a"]
        levels += 1
    assert levels == DEEPEST - (nest is flow_list)  # the innermost brackets hold nothing
    assert f"deeper than {DEEPEST} levels" in refusal(nest(DEEPEST + 1)).message


@pytest.mark.parametrize("text", [flow_list(100_000), "[" * 100_000, block_list(100_000), "{a: " * 100_000,
                                  "? " * 100_000, block_map(1_000), "- ? " * 50_000, "[{a: " * 50_000])  # fmt: skip
def test_bottomless_nesting_is_refused_in_peace(text: str) -> None:
    assert refusal(text).line >= 1
    with pytest.raises(DocumentError):
        load_text(text, "job.yaml")


def test_aliases_that_multiply_are_refused() -> None:
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, 10)]
    problem = refusal("\n".join(lines))
    assert f"aliases repeat more than {MOST_ALIASED} values" in problem.message
    assert 4 <= problem.line <= 5  # 11 times 10 times 10 times 10, and so on: stopped long before the billion


@given(st.integers(1, 40), st.integers(1, 40))
def test_aliases_say_what_writing_out_would_say(items: int, uses: int) -> None:
    inner = f"[{', '.join(map(str, range(items)))}]"
    aliased = f"a: &a {inner}\n" + "".join(f"u{n}: *a\n" for n in range(uses))
    assert same(load_yaml(aliased), load_yaml(aliased.replace("&a ", "").replace("*a", inner)))


def test_the_limit_on_aliases_counts_what_they_repeat() -> None:
    block = "a: &a [" + ", ".join(["x"] * 99) + "]\n"  # with the list itself, a hundred values
    uses = MOST_ALIASED // 100
    assert len(str(load_yaml(block + "".join(f"u{n}: *a\n" for n in range(uses))))) > MOST_ALIASED
    assert "aliases repeat" in refusal(block + "".join(f"u{n}: *a\n" for n in range(uses + 1))).message


@pytest.mark.parametrize("text", [SOUND, SOUND.replace("\n", "\r\n")], ids=["LF", "CRLF"])
def test_every_half_written_job_is_read_or_refused_inside_its_text(text: str) -> None:
    refused = 0
    for length in range(0, len(text), 2):
        begun = text[:length]
        try:
            load_text(begun, "job.yaml")
        except DocumentError as problem:
            refused += 1
            place = (problem.line, problem.column)
        else:
            continue
        lines = begun.split("\n")
        assert (1, 1) <= place <= (len(lines) + 1, 200)
    assert 100 < refused < len(text) / 2


@given(st.text() | st.text("{}[],:-?&*!|>'\"%@#ab1 \n\t"))
def test_arbitrary_text_is_a_json_value_or_a_document_error(text: str) -> None:
    try:
        document = load_yaml(text)
    except DocumentError:
        return
    json.dumps(document, allow_nan=False)
    assert same(load_yaml(to_yaml(document)), document)


@given(printed)
def test_marks_point_at_keys_and_values(document: Document) -> None:
    text = to_yaml(document)
    marks = Marks()
    assert same(load_yaml(text, marks), document)
    expected = dict(parts(document))
    assert marks.keys.keys() == marks.values.keys() == expected.keys()
    for path, value in expected.items():
        assert starts_with_value(rest_of_line(text, marks.values[path]), value)
        if path and isinstance(path[-1], str):
            assert starts_with_text(rest_of_line(text, marks.keys[path]), path[-1])
        else:
            assert marks.keys[path] == marks.values[path]


@given(printed, st.lists(names | st.integers(0, 3), min_size=1, max_size=3))
def test_what_is_missing_is_placed_at_its_nearest_parent(document: Document, further: list[str | int]) -> None:
    text = to_yaml(document)
    marks = marks_of(text, "job.yaml")
    paths = {path for path, _value in parts(document)}
    for path in paths:
        sought: Path = (*path, *further)
        parent = sought
        while parent not in paths:
            parent = parent[:-1]
        mark = (marks.keys if parent != sought else marks.values)[parent]
        assert marks.position("job.yaml", sought, at_value=True) == Position("job.yaml", *mark)
    assert paths


def test_marks_of_a_job() -> None:
    marks = marks_of(SOUND, "job.yaml")
    limit = ("settings", "ventilator", "outdoor_limits", "off_at_or_above")
    assert marks.keys[limit] == mark_of(SOUND, "off_at_or_above")
    assert marks.values[limit] == mark_of(SOUND, "100 degF")
    assert marks.values["cables", 2] == mark_of(SOUND, "from: module.ventilator")
    assert marks.keys["calendar", "weekend", "23:00"] == mark_of(SOUND, "23:00")
    assert marks.keys[()] == mark_of(SOUND, "ventrules: 1")


def test_marks_of_a_broken_text_are_none() -> None:
    assert marks_of("a: [", "job.yaml").position("job.yaml", ("a",)) is None
