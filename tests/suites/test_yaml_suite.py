"""The YAML 1.2 test suite: what is read has the suite's value, and every gap is listed by name with its reason.

The lists are exact: a case that is listed and behaves fails the test.
"""

import json
from pathlib import Path
from typing import Any, Final

import pytest

from ventrules.engine.findings import Document
from ventrules.files import DocumentError
from ventrules.files.yaml_text import load_yaml

CASES: Final[dict[str, dict[str, Any]]] = json.loads(
    Path(__file__).with_name("yaml_1_2.json").read_text(encoding="utf-8")
)

# Refused though valid YAML, by rules of ours: what is said, and of what.
OURS: Final = {
    "is empty|did not find expected node content": "HWV9 QT73 AVM7 8G76 98YD",  # no document
    "more than one document|not valid YAML|tag '": (
        "6XDY L383 PUW8 KSS4 U9NS JHB9 7Z25 M7A3 UT92 W4TN 9WXW 6WLZ 5TYM 6ZKB 9DXL 35KP RZT7 9KAX"
    ),
    "tag '": "7FWL Z67P M5C3 CUP7 6CK3 UGM3 C4HZ CC74 Z9M4 P76L 565N 33X3 L94M F2C7 74H7 2AUY J7PZ 2XXW",
    "a key must be text|put it in quotes|has no anchor": "E76Z 26DV 2SXE HMQ5",  # keys with anchors, keys by alias
}

# Refused though valid YAML: libyaml, which PyYAML reads with, follows YAML 1.1 there.
PARSER_REFUSES: Final = {
    "two block scalars' lines that look like comments": "DK3J FP8R",
    "a later version of YAML": "BEC7",
    "a colon on the line after its key in a flow mapping": "4MUZ/0 4MUZ/2 VJP3/1 5MUD K3WX NJ66 9SA2",
    "a plain scalar that begins with a colon, in flow style": "HM87/0 58MP 5T43 DBG4",
    "tabs as white space": "Y79Y/1 96NN/0 R4YG DK95/4 6CA3 Q5MG DK95/3 Y79Y/10 DK95/0 A2M4 6BCT",
    "directives nobody knows": "2LFX 6LVF",
    "anchors of other than letters, digits, - and _": "W5VH 8XYN",
}

# Read though not valid YAML, as libyaml reads it.
PARSER_LETS_PASS: Final = {
    "a comment without a space before it": "MUS6/0 9JBA CVW2 X4QW SU5Z",
    "flow style or quotes indented too little": "9C9N QB6E DK95/1",
    "a tab before what is in flow style": "Y79Y/3",
    "a dash alone in flow style": "G5U8 YJV2",
    "a block scalar whose first empty lines are indented more": "S98Z",
}

# Read with another value, as libyaml reads it.
PARSER_DIFFERS: Final = {
    "an anchor ends at a colon": "Y2GN",
    "a question mark in flow style needs no space to be an indicator": "HM87/1 652Z",
    "white space behind the last line of a block scalar, when no line break ends the file": "L24T/1",
}


def _names(*gaps: dict[str, str]) -> dict[str, str]:
    """Return each name with what is said of it."""
    return {name: said for each in gaps for said, names in each.items() for name in names.split()}


REFUSED: Final = {**_names(OURS), **dict.fromkeys(_names(PARSER_REFUSES), "not valid YAML")}


def values(text: str) -> list[Document]:
    """Return the values of a stream of JSON texts."""
    decoder, found, rest = json.JSONDecoder(), [], text.strip()
    while rest:
        value, end = decoder.raw_decode(rest)
        found.append(value)
        rest = rest[end:].strip()
    return found


def outcome(name: str) -> tuple[Document, DocumentError | None]:
    try:
        return load_yaml(CASES[name]["yaml"]), None
    except DocumentError as problem:
        return None, problem


def hold_place(problem: DocumentError, text: str) -> None:
    lines = text.split("\n")
    assert 1 <= problem.line <= len(lines)
    assert 1 <= problem.column <= len(lines[problem.line - 1]) + 1


VALID: Final = {name: values(case["json"]) for name, case in CASES.items() if case.get("json") is not None}
BROKEN: Final = [name for name, case in CASES.items() if case.get("refused")]
UNTOLD: Final = [name for name in CASES if name not in VALID and name not in BROKEN]


def test_the_suite_is_whole_and_the_lists_name_its_cases() -> None:
    assert (len(CASES), len(VALID), len(BROKEN), len(UNTOLD)) == (402, 271, 94, 37)
    assert {*REFUSED, *_names(PARSER_DIFFERS)} <= VALID.keys()
    assert _names(PARSER_LETS_PASS).keys() <= set(BROKEN)
    assert {name for name, found in VALID.items() if len(found) > 1} <= REFUSED.keys()


@pytest.mark.parametrize("name", VALID)
def test_a_valid_text_has_its_value_or_is_listed(name: str) -> None:
    value, problem = outcome(name)
    if problem is not None:
        assert name in REFUSED, f"refused: {problem}"
        assert any(words in problem.message for words in REFUSED[name].split("|"))
        hold_place(problem, CASES[name]["yaml"])
    else:
        assert name not in REFUSED, "listed as refused, and read"
        as_told = [json.dumps(each, sort_keys=True) for each in VALID[name]] == [json.dumps(value, sort_keys=True)]
        assert as_told is (name not in _names(PARSER_DIFFERS)), f"read as {value!r}"


@pytest.mark.parametrize("name", BROKEN)
def test_a_text_that_is_not_yaml_is_refused_with_its_place_or_is_listed(name: str) -> None:
    value, problem = outcome(name)
    assert (problem is None) is (name in _names(PARSER_LETS_PASS)), f"read as {value!r}"
    if problem is not None:
        hold_place(problem, CASES[name]["yaml"])


@pytest.mark.parametrize("name", UNTOLD)
def test_a_text_of_which_the_suite_tells_no_value_is_plain_data_or_refused(name: str) -> None:
    # Nearly all have keys that are no text, which no JSON can hold.
    value, problem = outcome(name)
    if problem is None:
        assert json.loads(json.dumps(value, allow_nan=False)) == value
    else:
        hold_place(problem, CASES[name]["yaml"])
