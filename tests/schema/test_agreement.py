"""Schema and reader agree: what one of them takes, the other takes, but for what is between parts.

The reader refuses more than a schema can say: a name that is not there, a file that cannot be used, and values that
contradict each other. These problems have kinds of their own, and all of them are listed on the page about schemas.
"""

from collections.abc import Mapping
from typing import Final

import jsonschema_rs
import pytest
from hypothesis import HealthCheck, given, settings

import ventrules
from tests.schema.documents import PROBLEMS, at, changes, mutated, of_shape, valid
from tests.schema.generated import whole, with_a_part
from tests.schema.sound import documents, every
from ventrules.engine.findings import Document

KINDS = sorted(PROBLEMS)
SLOW = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much, HealthCheck.large_base_example]


def assert_agreement(kind: str, document: Document) -> None:
    said = of_shape(PROBLEMS[kind](document))
    if valid(kind, document):
        assert said == []
    else:
        assert said != []


@pytest.mark.parametrize("kind", KINDS)
def test_sound_documents_are_what_both_take(kind: str) -> None:
    @settings(max_examples=10)
    @given(documents(kind))
    def sound(document: dict[str, Document]) -> None:
        assert PROBLEMS[kind](document) == ()
        assert valid(kind, document)

    sound()


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_is_taken_by_both_or_by_none_at_the_edges_of_what_it_takes(kind: str) -> None:
    taken = {True: 0, False: 0}
    for document in changes(kind, every(kind)):
        assert_agreement(kind, document)
        taken[valid(kind, document)] += 1
    assert taken[True] > 30
    assert taken[False] > 50


FORGOTTEN: Final[Mapping[str, tuple[str, str, str]]] = {
    "that a target is a code or an airflow": ("job", "Target", "allOf"),
    "that an unknown key is an error": ("job", "Cable", "additionalProperties"),
    "that a key is needed": ("job", "Room", "required"),
    "that a ventilator has stages": ("catalog", "Model", "allOf"),
    "that an area goes with an airflow": ("code", "Equation", "allOf"),
    "that a limit has its basis": ("policy", "Limits/properties/surplus", "dependentRequired"),
}


@pytest.mark.parametrize(("kind", "name", "what"), FORGOTTEN.values(), ids=FORGOTTEN)
def test_what_a_schema_forgets_is_found_out(kind: str, name: str, what: str) -> None:
    schema = ventrules.schema(kind)
    part = at(schema, ("$defs", *name.split("/")))
    assert isinstance(part, dict)
    del part[what]
    forgetful = jsonschema_rs.Draft202012Validator(schema)
    found = [each for each in changes(kind, every(kind)) if forgetful.is_valid(each) and not valid(kind, each)]
    assert found
    assert of_shape(PROBLEMS[kind](found[0]))


@pytest.mark.parametrize("kind", KINDS)
def test_changed_documents_are_taken_by_both_or_by_none(kind: str) -> None:
    @settings(max_examples=60, suppress_health_check=SLOW)
    @given(mutated(kind, documents(kind)))
    def changed(document: dict[str, Document]) -> None:
        assert_agreement(kind, document)

    changed()


@pytest.mark.parametrize("kind", KINDS)
def test_generated_parts_of_documents_are_taken_by_both_or_by_none(kind: str) -> None:
    @settings(max_examples=20, suppress_health_check=SLOW)
    @given(with_a_part(kind, documents(kind)))
    def generated(document: dict[str, Document]) -> None:
        assert_agreement(kind, document)

    generated()


@pytest.mark.parametrize(("kind", "examples"), [("job", 5), ("code", 5), ("profile", 12), ("policy", 8)])
def test_generated_documents_are_taken_by_both_or_by_none(kind: str, examples: int) -> None:
    @settings(max_examples=examples, suppress_health_check=SLOW)
    @given(whole(kind))
    def generated(document: Document) -> None:
        assert_agreement(kind, document)

    generated()
