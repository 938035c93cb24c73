"""What readers and schemas say of one document, and documents with something wrong."""

import json
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from copy import deepcopy
from functools import cache
from pathlib import Path as FilePath
from tempfile import TemporaryDirectory
from typing import Final, TypeAlias

import jsonschema_rs
from hypothesis import strategies as st

import ventrules
from ventrules.engine.findings import Document
from ventrules.files import JobFileError, Problem, ProblemKind, job_from_document, parse_catalog
from ventrules.files.bus_files import DataFileError, parse_bus_profile
from ventrules.files.code_files import CodeFileError, parse_code
from ventrules.policy import read_policy

Path: TypeAlias = tuple[str | int, ...]

BETWEEN_PARTS: Final = frozenset({ProblemKind.REFERENCE, ProblemKind.CONTRADICTION, ProblemKind.FILE})
"""What no schema can say: that a name or a file is not there, and that values contradict each other."""


@cache
def validator(kind: str) -> jsonschema_rs.Draft202012Validator:
    """Return the validator of a published schema."""
    return jsonschema_rs.Draft202012Validator(ventrules.schema(kind))


def valid(kind: str, document: Document) -> bool:
    """Say whether a document keeps to a schema."""
    return validator(kind).is_valid(document)


def job_problems(document: Document) -> tuple[Problem, ...]:
    assert isinstance(document, dict)
    try:
        job_from_document(document)
    except JobFileError as error:
        return error.problems
    return ()


def catalog_problems(document: Document) -> tuple[Problem, ...]:
    try:
        parse_catalog(json.dumps(document), "catalog.json")
    except JobFileError as error:
        return error.problems
    return ()


def code_problems(document: Document) -> tuple[Problem, ...]:
    try:
        parse_code(toml(document), "code.toml")
    except CodeFileError as error:
        return error.problems
    return ()


def profile_problems(document: Document) -> tuple[Problem, ...]:
    try:
        parse_bus_profile(toml(document), "bus.toml")
    except DataFileError as error:
        return error.problems
    return ()


def policy_problems(document: Document) -> tuple[Problem, ...]:
    with TemporaryDirectory() as folder:
        file = FilePath(folder, ".ventrules.toml")
        file.write_text(toml(document), encoding="utf-8")
        try:
            read_policy(file)
        except JobFileError as error:
            return error.problems
    return ()


PROBLEMS: Final[Mapping[str, Callable[[Document], tuple[Problem, ...]]]] = {
    "job": job_problems,
    "catalog": catalog_problems,
    "code": code_problems,
    "profile": profile_problems,
    "policy": policy_problems,
}
IN_TOML: Final = frozenset({"code", "profile", "policy"})


def of_shape(problems: tuple[Problem, ...]) -> list[str]:
    """Return the problems that a schema can see, too."""
    return [str(problem) for problem in problems if problem.kind not in BETWEEN_PARTS]


def toml(document: Document) -> str:
    """Return plain data as TOML: tables within braces."""
    assert isinstance(document, dict)
    return "".join(f"{_quoted(key)} = {_toml(value)}\n" for key, value in document.items())


def _toml(value: Document) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_quoted(key)} = {_toml(inner)}" for key, inner in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    if isinstance(value, str):
        return _quoted(value)
    assert value is not None
    return json.dumps(value)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def at(document: Document, path: Path) -> Document:
    """Return what stands at a path."""
    for step in path:
        if isinstance(document, dict):
            document = document[str(step)]
        else:
            assert isinstance(document, list)
            assert isinstance(step, int)
            document = document[step]
    return document


def put(document: Document, path: Path, value: Document) -> None:
    """Put something at a path."""
    holder, step = at(document, path[:-1]), path[-1]
    if isinstance(holder, dict):
        holder[str(step)] = value
    else:
        assert isinstance(holder, list)
        assert isinstance(step, int)
        holder[step] = value


TEXTS: Final = (
    "", " ", "x", "0 cfm", "70cfm", "70 furlongs", "1e40 cfm", "-459.68 degF", "-4e1 degC", "41 AWG", "120.1 mm2",
    "06:00", "24:00", "every-day", "funday", "managed", "control.system", "control", ".system", "control.", "a b", "a ",
    "a/b", "\u00e9tage", "\u202eab", "n" * 63, "n" * 64, "demo", "own.yaml", "own.toml", "us-irc-2021", "726580",
    "heating", "occupied", "2027-06-30", "2027-02-29", "2028-02-29", "3027-01-01", "../x", "a/../b", "/a", "a//b",
    "**/*.yaml", "engine/rule-failed", "wiring", "table", "seen",
)  # fmt: skip
_QUANTITY: Final = re.compile(r"[0-9.]+ (\S+)")
_DEEPEST: Final = 4
_MOST_WORDS: Final = 8


def candidates(schema: Document, definitions: Mapping[str, Document], depth: int = 0) -> list[Document]:
    """Return values at the edges of what a schema takes, the first of them within."""
    if not isinstance(schema, dict) or depth > _DEEPEST:
        return ["x"]
    if "$ref" in schema:
        return candidates(definitions[str(schema["$ref"]).rpartition("/")[2]], definitions, depth)
    choices, words, types = schema.get("anyOf"), schema.get("enum"), schema.get("type")
    if isinstance(choices, list):
        return [value for choice in choices for value in candidates(choice, definitions, depth)]
    if "const" in schema:
        words = [schema["const"]]
    if isinstance(words, list):
        return [*words[:_MOST_WORDS], "no-such-word", 2]
    kind = next((each for each in types if each != "null"), "") if isinstance(types, list) else types
    if kind in {"array", "object"}:
        return _collections(schema, definitions, depth)
    return _texts(schema) if kind == "string" else _numbers(schema)


def _numbers(schema: dict[str, Document]) -> list[Document]:
    most = schema.get("maximum", 0)
    assert isinstance(most, (int, float))
    by_kind: dict[str, list[Document]] = {
        "integer": [1, 0, 2, 3, 2.0, 2.5, "2", -1, most, most + 1],
        "number": [0.5, 0, 1, 1.5, most, most + 1, -0.1, "1"],
        "boolean": [True, False, "yes", 1],
    }
    return by_kind.get(str(schema.get("type")), ["x"])


def _texts(schema: dict[str, Document]) -> list[Document]:
    examples = schema.get("examples", ["x"])
    assert isinstance(examples, list)
    unit = _QUANTITY.fullmatch(str(examples[0]))
    if unit is None:
        return [*examples, "", " "]
    return [*examples, *(number + unit[1] for number in ("0 ", "-1 ", "1e2 ", "")), "5", "5 zz", 5]


def _collections(schema: dict[str, Document], definitions: Mapping[str, Document], depth: int) -> list[Document]:
    if "items" in schema:
        inner = candidates(schema["items"], definitions, depth + 1)
        return [[inner[0]], [], [inner[0], deepcopy(inner[0])], [inner[-1]]]
    return [*_mappings(schema, definitions, depth), {}, {"zzz": 1}]


def _mappings(schema: dict[str, Document], definitions: Mapping[str, Document], depth: int) -> list[Document]:
    properties, required, others = (schema.get(key) for key in ("properties", "required", "additionalProperties"))
    if isinstance(properties, dict):
        keys = [str(key) for key in (required if isinstance(required, list) else [])]
        return [{key: candidates(properties[key], definitions, depth + 1)[0] for key in keys}]
    return [{"x": value} for value in candidates(others, definitions, depth + 1)[:2]]


def holders(kind: str, document: Document) -> list[tuple[Path, dict[str, Document]]]:
    """Return each place of a document, with the part of the schema that is for it."""
    schema = ventrules.schema(kind)
    return list(_holders(document, schema, definitions_of(kind), ()))


@cache
def definitions_of(kind: str) -> Mapping[str, Document]:
    """Return the definitions of a schema."""
    found = ventrules.schema(kind)["$defs"]
    assert isinstance(found, dict)
    return found


def _holders(
    value: Document, schema: Document, definitions: Mapping[str, Document], path: Path
) -> Iterator[tuple[Path, dict[str, Document]]]:
    if not isinstance(schema, dict):
        return
    yield path, schema
    if "$ref" in schema:
        schema = definitions[str(schema["$ref"]).rpartition("/")[2]]
        assert isinstance(schema, dict)
    choices = schema.get("anyOf", [])
    for choice in choices if isinstance(choices, list) else ():
        yield from _holders(value, choice, definitions, path)
    properties, others = schema.get("properties", {}), schema.get("additionalProperties")
    if isinstance(value, dict) and isinstance(properties, dict):
        for key, inner in value.items():
            yield from _holders(inner, properties.get(key, others), definitions, (*path, key))
    elif isinstance(value, list):
        for number, inner in enumerate(value):
            yield from _holders(inner, schema.get("items"), definitions, (*path, number))


def changes(kind: str, sound: Iterable[dict[str, Document]]) -> Iterator[dict[str, Document]]:
    """Yield documents with one change each: every key of every form of mapping, at the edges of what it takes.

    Args:
        kind: Their kind.
        sound: Sound documents; of each form of mapping the first place among them is taken.
    """
    definitions = definitions_of(kind)
    seen: set[str] = set()
    for document in sound:
        for path, schema in holders(kind, document):
            name = str(schema.get("$ref", path[-1:]))
            whole = definitions.get(name.rpartition("/")[2], schema)
            assert isinstance(whole, dict)
            value = at(document, path)
            if name not in seen and isinstance(value, dict) and "object" in str(whole.get("type")):
                seen.add(name)
                for key, new in _items(kind, value, whole):
                    changed = deepcopy(document)
                    mapping = at(changed, path)
                    assert isinstance(mapping, dict)
                    if new is _GONE:
                        del mapping[key]
                    else:
                        mapping[key] = deepcopy(new)
                    yield changed


_GONE: Final[Document] = "gone"


def _items(kind: str, value: dict[str, Document], schema: dict[str, Document]) -> Iterator[tuple[str, Document]]:
    """Yield keys of a mapping, each with what is to stand there; `_GONE` takes it away."""
    yield from ((key, _GONE) for key in value)
    properties = schema.get("properties")
    if isinstance(properties, dict):
        for key, inner in {**properties, "zzz": True}.items():
            found = candidates(inner, definitions_of(kind))
            yield from ((key, each) for each in (found if kind in IN_TOML else [*found, None]))
    else:
        first = candidates(schema.get("additionalProperties"), definitions_of(kind))[0]
        yield from ((key, first) for key in TEXTS)


@st.composite
def mutated(draw: st.DrawFn, kind: str, sound: st.SearchStrategy[dict[str, Document]]) -> dict[str, Document]:
    """Draw a sound document with one to three changes, each of which may or may not do harm."""
    document: dict[str, Document] = deepcopy(draw(sound))
    for _ in range(draw(st.sampled_from((1, 1, 2, 3)))):
        _change(draw, kind, document)
    return document


def _change(draw: st.DrawFn, kind: str, document: dict[str, Document]) -> None:
    by_form: dict[str, list[tuple[Path, dict[str, Document]]]] = {}
    for path, schema in holders(kind, document):
        by_form.setdefault(str(schema.get("$ref") or (path[-1:], schema.get("type"))), []).append((path, schema))
    path, schema = draw(st.sampled_from(by_form[draw(st.sampled_from(sorted(by_form)))]))
    what = draw(st.sampled_from(("edge", "edge", "key", "key", "drop", "text", "moved")))
    value = at(document, path)
    definitions = definitions_of(kind)
    whole = definitions.get(str(schema.get("$ref", "")).rpartition("/")[2], schema)
    assert isinstance(whole, dict)
    properties = whole.get("properties")
    if what == "key" and isinstance(value, dict):
        known = [*properties] if isinstance(properties, dict) else [*TEXTS]
        key = draw(st.sampled_from([*known, "zzz"]))
        inner = properties.get(key) if isinstance(properties, dict) else whole.get("additionalProperties")
        value[key] = _drawn(draw, kind, candidates(inner, definitions))
    elif what == "drop" and isinstance(value, (dict, list)) and value:
        if isinstance(value, dict):
            value.pop(draw(st.sampled_from(sorted(value))))
        else:
            value.pop()
    elif path and what == "moved":
        other, _schema = draw(st.sampled_from(holders(kind, document)))
        put(document, path, deepcopy(at(document, other)))
    elif path:
        values: list[Document] = [*TEXTS] if what == "text" else candidates(schema, definitions)
        put(document, path, _drawn(draw, kind, values))


def _drawn(draw: st.DrawFn, kind: str, values: list[Document]) -> Document:
    """Draw one of some values, or nothing at all where a format knows that; as a copy."""
    return deepcopy(draw(st.sampled_from(values if kind in IN_TOML else [*values, None])))
