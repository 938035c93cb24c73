"""The JSON parsing test suite: what must be read is read, what must be refused is refused with its place.

Names that begin with `y_` must be read, `n_` must be refused (RFC 8259), `i_` and `transform_` are left to the reader.
"""

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Final

import pytest

from ventrules.engine.findings import Document
from ventrules.files import DocumentError, load_text


def _text(case: str | Sequence[tuple[str, int]]) -> str:
    return case if isinstance(case, str) else "".join(piece * times for piece, times in case)


CASES: Final[dict[str, str]] = {
    name: _text(case)
    for name, case in json.loads(Path(__file__).with_name("json_parsing.json").read_text(encoding="utf-8")).items()
}

# Where we are stricter than RFC 8259, which lets a reader be: sections 4, 6, 8.2 and 9.
STRICTER: Final = {
    "appears twice": {
        "y_object_duplicated_key",
        "y_object_duplicated_key_and_value",
        "transform_object_same_key_different_values",
        "transform_object_same_key_same_value",
        "transform_object_same_key_unclear_values",
    },
    "is too large": {
        "i_number_huge_exp",
        "i_number_neg_int_huge_exp",
        "i_number_pos_double_huge_exp",
        "i_number_real_neg_overflow",
        "i_number_real_pos_overflow",
    },
    "half of a surrogate pair": {
        "i_object_key_lone_2nd_surrogate",
        "i_string_1st_surrogate_but_2nd_missing",
        "i_string_1st_valid_surrogate_2nd_invalid",
        "i_string_incomplete_surrogate_and_escape_valid",
        "i_string_incomplete_surrogate_pair",
        "i_string_incomplete_surrogates_escape_valid",
        "i_string_invalid_lonely_surrogate",
        "i_string_invalid_surrogate",
        "i_string_inverted_surrogates_U+1D11E",
        "i_string_lone_second_surrogate",
        "transform_string_1_escaped_invalid_codepoint",
        "transform_string_2_escaped_invalid_codepoints",
        "transform_string_3_escaped_invalid_codepoints",
    },
}


def outcome(text: str) -> tuple[Document, DocumentError | None]:
    try:
        return load_text(text, "suite.json"), None
    except DocumentError as problem:
        return None, problem


def stricter(name: str) -> str:
    """Return the words of the rule of ours that refuses a case, or nothing."""
    return next((words for words, names in STRICTER.items() if name in names), "")


def test_the_suite_is_whole() -> None:
    heads = [name.partition("_")[0] for name in CASES]
    assert {head: heads.count(head) for head in heads} == {"i": 35, "n": 188, "y": 95, "transform": 22}
    assert set().union(*STRICTER.values()) <= CASES.keys()


@pytest.mark.parametrize("name", [name for name in CASES if name.startswith("n_")])
def test_what_must_be_refused_is_refused_with_its_place(name: str) -> None:
    _value, found = outcome(CASES[name])
    assert found is not None
    lines = CASES[name].split("\n")
    assert 1 <= found.line <= len(lines)
    assert 1 <= found.column <= len(lines[found.line - 1]) + 1


@pytest.mark.parametrize("name", [name for name in CASES if not name.startswith("n_")])
def test_everything_else_is_read_as_json_loads_reads_it_or_refused_by_a_rule_of_ours(name: str) -> None:
    value, found = outcome(CASES[name])
    words = stricter(name)
    if found is not None:
        try:
            json.loads(CASES[name])
        except ValueError:
            assert name.startswith("i_")  # the standard library reads it no more than we do
            assert not words
        else:
            assert words, f"refused: {found}"
            assert words in found.message
    else:
        assert not words, "listed as refused, and read"
        assert json.dumps(value) == json.dumps(json.loads(CASES[name]))
