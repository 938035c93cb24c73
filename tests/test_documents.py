"""Merge patches, against the table of test cases in the standard and by the law that defines them."""

import json
from copy import deepcopy

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventrules.engine.findings import Document
from ventrules.testing import merged

# RFC 7396, appendix A, "Example Test Cases": original, patch, result. Carried over from memory, all 15 rows.
APPENDIX_A = (
    ('{"a":"b"}', '{"a":"c"}', '{"a":"c"}'),
    ('{"a":"b"}', '{"b":"c"}', '{"a":"b","b":"c"}'),
    ('{"a":"b"}', '{"a":null}', "{}"),
    ('{"a":"b","b":"c"}', '{"a":null}', '{"b":"c"}'),
    ('{"a":["b"]}', '{"a":"c"}', '{"a":"c"}'),
    ('{"a":"c"}', '{"a":["b"]}', '{"a":["b"]}'),
    ('{"a":{"b":"c"}}', '{"a":{"b":"d","c":null}}', '{"a":{"b":"d"}}'),
    ('{"a":[{"b":"c"}]}', '{"a":[1]}', '{"a":[1]}'),
    ('["a","b"]', '["c","d"]', '["c","d"]'),
    ('{"a":"b"}', '["c"]', '["c"]'),
    ('{"a":"foo"}', "null", "null"),
    ('{"a":"foo"}', '"bar"', '"bar"'),
    ('{"e":null}', '{"a":1}', '{"e":null,"a":1}'),
    ("[1,2]", '{"a":"b","c":null}', '{"a":"b"}'),
    ("{}", '{"a":{"bb":{"ccc":null}}}', '{"a":{"bb":{}}}'),
)

_leaves = st.none() | st.booleans() | st.integers(-3, 3) | st.sampled_from("ab")
_keys = st.sampled_from("abc")  # few, so that documents and patches meet
documents: st.SearchStrategy[Document] = st.recursive(
    _leaves, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(_keys, inner, max_size=3), max_leaves=12
)


def parts(value: Document) -> list[int]:
    """Return the identity of every mapping and list in a document."""
    inner = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    own = [id(value)] if isinstance(value, dict | list) else []
    return own + [part for item in inner for part in parts(item)]


def without_null(value: Document) -> Document:
    """Return a document without the mapping entries that are null, which a patch cannot express."""
    if isinstance(value, dict):
        return {key: without_null(item) for key, item in value.items() if item is not None}
    return value


def difference(old: Document, new: Document) -> Document:
    """Return a merge patch from one document to another."""
    if not isinstance(old, dict) or not isinstance(new, dict):
        return new
    patch: dict[str, Document] = dict.fromkeys(old.keys() - new.keys())
    for key, value in new.items():
        if key not in old or old[key] != value:
            patch[key] = difference(old.get(key), value)
    return patch


@pytest.mark.parametrize(("original", "patch", "result"), APPENDIX_A)
def test_the_standards_own_cases(original: str, patch: str, result: str) -> None:
    assert merged(json.loads(original), json.loads(patch)) == json.loads(result)


def test_all_fifteen_cases_of_the_standard_are_here() -> None:
    assert len(set(APPENDIX_A)) == 15


@given(document=documents, patch=documents)
def test_a_patch_changes_neither_input_and_shares_nothing_with_them(document: Document, patch: Document) -> None:
    before = deepcopy((document, patch))
    outcome = merged(document, patch)
    assert (document, patch) == before
    assert not set(parts(outcome)) & {*parts(document), *parts(patch)}


@given(document=documents, patch=documents)
def test_a_patch_applied_twice_does_no_more_than_once(document: Document, patch: Document) -> None:
    once = merged(document, patch)
    assert merged(once, patch) == once


@given(old=documents, new=documents.map(without_null))
def test_the_difference_of_two_documents_leads_from_one_to_the_other(old: Document, new: Document) -> None:
    assert merged(old, difference(old, new)) == new
