"""JSON Schemas (2020-12) made from the classes that hold files, by the rules that the reader itself goes by.

What a schema cannot say is a problem of another kind to the reader: that a name is not there, or that two values
contradict each other.
"""

import re
from collections.abc import Mapping
from datetime import date
from enum import StrEnum
from inspect import cleandoc, getdoc
from types import NoneType, UnionType
from typing import Any, Final, Union, get_args, get_origin, get_type_hints

import attrs
from attrs import field, frozen

from ventrules.engine.findings import Document
from ventrules.files.schema_bonds import BONDS
from ventrules.files.schema_claims import Fragment
from ventrules.files.schema_terms import EACH_ONCE, MAPPINGS, NEVER_EMPTY, WORDS, keys_of, text_of
from ventrules.files.schema_words import DATE, anchored
from ventrules.files.shapes import LARGEST_FACTOR, MANAGED, MOST, keys_by_name
from ventrules.job import Calendar, Conductor, Conductors, Program, Shown
from ventrules.units import Duration, Factor, Quantity
from ventrules.units.quantity import LONGEST_WRITTEN
from ventrules.words import listed

DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"
_ATTRIBUTE: Final = re.compile(r"^    (\w+): (.+(?:\n        .+)*)", re.MULTILINE)
_REFERENCE: Final = re.compile(r"#/\$defs/(\w+)")
_DATE: Final[Fragment] = {"type": "string", "format": "date", "pattern": anchored(DATE), "examples": ["2027-06-30"]}
_READ: Final[Mapping[object, Fragment]] = {
    bool: {"type": "boolean"},
    date: _DATE,
    int: {"type": "integer", "minimum": 0, "maximum": MOST},
    Factor: {"type": "number", "minimum": 0, "maximum": LARGEST_FACTOR},
    float: {"type": "number", "minimum": 0, "maximum": 1},
}
_WRITTEN_BY_US: Final[Mapping[object, Fragment]] = {
    bool: {"type": "boolean"},
    date: _DATE,
    int: {"type": "integer"},
    float: {"type": "number"},
}
_FLASHES: Final = "How many flashes in a row."
_EXAMPLES: Final = (0.0, 1.0, 18.0, 60.0)


@frozen
class Format:
    """A kind of document, and the class that holds it.

    Attributes:
        kind: Its name.
        title: What it is, in a few words.
        shape: The class of the whole document.
        version_key: The key that says what the document is.
        version: The version that stands there.
        versioned: Whether that key must be there.
        nulls: Whether what may be left out may be written as null; TOML has no such thing.
        written_by_us: Whether we write it rather than read it: then its numbers have no bounds, and keys may come.
        partial: Classes of which any keys may be left out, and any of what they hold.
        more: What else holds of the mappings of a class.
        texts: What the texts of an attribute have to be.
        names: What the keys of a mapping that an attribute holds have to be.
    """

    kind: str
    title: str
    shape: type
    version_key: str
    version: int = 1
    versioned: bool = True
    nulls: bool = True
    written_by_us: bool = False
    partial: frozenset[type] = frozenset()
    more: Mapping[type, Fragment] = field(factory=dict)
    texts: Mapping[tuple[type, str], Fragment] = field(factory=dict)
    names: Mapping[tuple[type, str], Fragment] = field(factory=dict)


def schema_of(document: Format) -> Fragment:
    """Return the JSON Schema of a kind of document.

    Args:
        document: What is known of it.

    Raises:
        ValueError: Two of its classes have the same name.
    """
    walk = _Walk(document)
    body = walk.mapping(document.shape)
    head: Fragment = {document.version_key: {"const": document.version, "description": "The format's version."}}
    body["properties"] = {**head, **_fragment(body["properties"])}
    if document.versioned:
        body["required"] = [document.version_key, *_list(body.get("required", []))]
    return {
        "$schema": DIALECT,
        "$id": f"urn:ventrules:schema:{document.kind}:{document.version}",
        "title": document.title,
        **body,
        "$defs": _used(body, {**WORDS, **walk.definitions}),
    }


def _used(body: Fragment, definitions: Fragment) -> Fragment:
    """Return the definitions that are referred to, directly or by others, in the order of their names."""
    waiting, found = [body], set[str]()
    while waiting:
        for name in _REFERENCE.findall(str(waiting.pop())):
            if name not in found:
                found.add(name)
                waiting.append(_fragment(definitions[name]))
    return {name: definitions[name] for name in sorted(found)}


def meanings(shape: type) -> dict[str, str]:
    """Return what the docstring of a class says of its attributes."""
    found: dict[str, str] = {}
    for each in reversed(shape.__mro__):
        section = cleandoc(each.__doc__ or "").partition("Attributes:\n")[2].partition("\n\n")[0]
        found |= {name: " ".join(text.split()) for name, text in _ATTRIBUTE.findall(section)}
    return found


def _first_line(shape: type) -> str:
    return (getdoc(shape) or "").partition("\n")[0]


def _fragment(value: Document) -> Fragment:
    return value if isinstance(value, dict) else {}


def _list(value: Document) -> list[Document]:
    return value if isinstance(value, list) else []


class _Walk:
    """One walk through the classes of a document; each class, word list and quantity is defined once."""

    def __init__(self, document: Format) -> None:
        self._format = document
        self.definitions: Fragment = {}
        self._named: dict[str, type] = {}

    def mapping(self, shape: type, *, partial: bool = False) -> Fragment:
        """Return the schema of the mapping that a class stands as; of a partial one any key may be left out."""
        hints, said, keys = get_type_hints(shape), meanings(shape), keys_by_name(shape)
        required: list[Document] = []
        properties: Fragment = {}
        for attribute in attrs.fields(shape):
            if attribute.name not in keys:
                continue
            key = keys[attribute.name]
            properties[key] = self._property(shape, attribute, hints[attribute.name], said.get(attribute.name, ""))
            if attribute.default is attrs.NOTHING and not partial and shape not in self._format.partial:
                required.append(key)
        done: Fragment = {"type": "object", "description": _first_line(shape), "properties": properties}
        if required:
            done["required"] = required
        if not self._format.written_by_us:
            done["additionalProperties"] = False
        if shape in NEVER_EMPTY:
            done["minProperties"] = 1
        claims: list[Document] = (
            [] if self._format.written_by_us else [b.claim.schema(shape) for b in BONDS.get(shape, ())]
        )
        if claims:
            done["allOf"] = claims
        return done | self._format.more.get(shape, {})

    def _property(self, shape: type, attribute: "attrs.Attribute[Any]", hint: Any, said: str) -> Fragment:
        if shape in self._format.partial and isinstance(hint, type):
            made = self.mapping(hint, partial=True)
        else:
            made = self._value(hint, shape, attribute.name)
        if said:
            made = {"description": said, **{key: part for key, part in made.items() if key != "description"}}
        if (shape, attribute.name) in EACH_ONCE:
            made["uniqueItems"] = True
        default = attribute.default
        if isinstance(default, StrEnum):
            default = default.value
        if isinstance(default, (bool, str, int, float)) and default != "" and not self._format.written_by_us:
            made["default"] = default
        return made

    def _value(self, hint: Any, shape: type, name: str) -> Fragment:
        """Return the schema of a value; `shape` and `name` say where it stands."""
        origin, inner = get_origin(hint), get_args(hint)
        if origin in (Union, UnionType):
            choices = [self._value(each, shape, name) for each in inner if each is not NoneType]
            if NoneType in inner and self._format.nulls:
                return _or_null(choices)
            return choices[0] if len(choices) == 1 else {"anyOf": [*choices]}
        if origin is Mapping:
            return self._names_to(inner[0], self._value(inner[1], shape, name), shape, name)
        if origin is tuple:
            return {"type": "array", "items": self._value(inner[0], shape, name)}
        if hint is str:
            return self._format.texts.get((shape, name)) or text_of(shape, name)
        return self._plain(hint)

    def _names_to(self, key: Any, value: Fragment, shape: type, name: str) -> Fragment:
        done: Fragment = {"type": "object"}
        if key is not str:  # a closed list of words
            return done | {"properties": {word.value: value for word in key}, "additionalProperties": False}
        form = keys_of(shape, name)
        if form:
            done["propertyNames"] = {"$ref": f"#/$defs/{form}"}
        elif (shape, name) in self._format.names:
            done["propertyNames"] = self._format.names[shape, name]
        return done | {"additionalProperties": value}

    def _plain(self, hint: Any) -> Fragment:
        simple = (_WRITTEN_BY_US if self._format.written_by_us else _READ).get(hint)
        if simple is not None:
            return {**simple}
        if not isinstance(hint, type):  # any document
            return {}
        if hint in MAPPINGS:
            return self._defined(hint, self._special(hint))
        if issubclass(hint, Quantity):
            return self._defined(hint, _quantity(hint))
        if issubclass(hint, StrEnum):
            return self._defined(hint, {"enum": [word.value for word in hint], "description": _first_line(hint)})
        return self._defined(hint, None)

    def _special(self, hint: type) -> Fragment:
        """Return the schema of what stands in a file without keys of its own."""
        said: Fragment = {"description": _first_line(hint)}
        text: Fragment = {"type": "string"}
        if hint is Program:
            times: Fragment = {"type": "object", "additionalProperties": self._plain(Duration)}
            managed: Fragment = {"const": MANAGED, "description": "The controller decides by its own logic."}
            return said | {"anyOf": [times, managed]}
        if hint is Conductors:
            items: Fragment = {"type": "array", "items": self._plain(Conductor)}
            return said | {"anyOf": [{"type": "object", "additionalProperties": text}, items]}
        if hint is Shown:
            flashes: Fragment = {"type": "integer", "minimum": 0, "maximum": MOST, "description": _FLASHES}
            return said | {"anyOf": [text, flashes]}
        return said | MAPPINGS[Calendar]

    def _defined(self, hint: type, made: Fragment | None) -> Fragment:
        """Return a reference to the definition of a class, which is made where there is none yet."""
        name = hint.__name__
        if self._named.setdefault(name, hint) is not hint:
            raise ValueError(f"two classes are named {name}")
        if name not in self.definitions:
            self.definitions[name] = {}
            self.definitions[name] = self.mapping(hint) if made is None else made
        return {"$ref": f"#/$defs/{name}"}


def _or_null(choices: list[Fragment]) -> Fragment:
    (first, *others) = choices
    if not others and isinstance(first.get("type"), str) and "enum" not in first:
        return {**first, "type": [first["type"], "null"]}
    return {"anyOf": [*choices, {"type": "null"}]}


def _quantity(kind: type[Quantity]) -> Fragment:
    examples: list[Document] = []
    for unit in kind.units:
        low, high = kind.bounds(unit)
        fits = [n for n in _EXAMPLES if n > low and (high is None or n < high)]
        examples.append(str(kind.of(fits[-1] if len(fits) == 1 else fits[-2], unit)))
    return {
        "type": "string",
        "description": f"{kind.kind[0].upper()}{kind.kind[1:]} with its unit: {listed(kind.units, 'or')}.",
        "pattern": kind.pattern(),
        "maxLength": LONGEST_WRITTEN,
        "examples": examples,
    }
