"""Documents generated from the published schemas."""

from collections.abc import Iterator, Mapping
from copy import deepcopy
from functools import cache
from types import SimpleNamespace
from typing import Any, Final

import hypothesis_jsonschema._from_schema as generator
from hypothesis import strategies as st
from hypothesis.internal.conjecture import utils
from hypothesis_jsonschema import from_schema

import ventrules
from tests.schema.documents import Path, definitions_of, holders, put
from ventrules.engine.findings import Document

_LEFT_OUT: Final = frozenset({"$defs", "$schema", "$id", "title", "description", "default", "format", "examples"})
_TEXTS: Final = {  # expressions are tested by themselves; to draw from each of them takes long
    "Name": ["control", "ventilator", "x y", "\u00e9tage"],
    "Place": ["control.system", "ventilator.bus", "x.y"],
}


class _Many(utils.many):
    """Draws collections as the generator expects it, which knows an older Hypothesis."""

    _waiting: Iterator[None] | None = None

    def more(self) -> bool:
        """Say whether there is to be another element."""
        if self._waiting is None:
            self.__enter__()
            self._waiting = iter(self)
        return next(self._waiting, StopIteration) is not StopIteration


if not hasattr(utils.many, "more"):
    vars(generator)["cu"] = SimpleNamespace(many=_Many)


def plain(part: Document, definitions: Mapping[str, Document]) -> Any:
    """Return a schema without references, for the generator.

    What keys ask of each other is left out: documents that keep to it and such that don't are both wanted.
    """
    if isinstance(part, list):
        return [plain(inner, definitions) for inner in part]
    if not isinstance(part, dict):
        return part
    if "$ref" in part:
        name = str(part["$ref"]).rpartition("/")[2]
        return {"enum": _TEXTS[name]} if name in _TEXTS else plain(definitions[name], definitions)
    if "pattern" in part and "type" in part:
        examples = part.get("examples", ["x"])
        assert isinstance(examples, list)
        return {"enum": [*examples, *([None] if "null" in str(part["type"]) else [])]}
    claims = {"allOf", "dependentRequired"} if "properties" in part else set()
    done: dict[str, Any] = {}
    for key, inner in part.items():
        if key == "properties" and isinstance(inner, dict):
            done[key] = {name: plain(value, definitions) for name, value in inner.items()}
        elif key not in _LEFT_OUT and key not in claims:
            done[key] = plain(inner, definitions)
    return done


@cache
def whole(kind: str) -> st.SearchStrategy[Any]:
    """Strategy for whole documents of a kind."""
    return from_schema(plain(ventrules.schema(kind), definitions_of(kind)))


@cache
def part(kind: str, name: str) -> st.SearchStrategy[Any]:
    """Strategy for one part of a kind of documents, by the name of its definition."""
    definitions = definitions_of(kind)
    return from_schema(plain(definitions[name], definitions))


@st.composite
def with_a_part(draw: st.DrawFn, kind: str, sound: st.SearchStrategy[dict[str, Document]]) -> dict[str, Document]:
    """Draw a sound document in which one part is another of the same definition."""
    document = deepcopy(draw(sound))
    by_name: dict[str, list[Path]] = {}
    for path, schema in holders(kind, document):
        name = str(schema.get("$ref", "")).rpartition("/")[2]
        if name and name not in _TEXTS:
            by_name.setdefault(name, []).append(path)
    name = draw(st.sampled_from(sorted(by_name)))
    put(document, draw(st.sampled_from(by_name[name])), deepcopy(draw(part(kind, name))))
    return document
