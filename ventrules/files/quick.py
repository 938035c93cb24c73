"""Plain data to model where nothing is wrong: the first thing in it that is ends the attempt, without a word about it.

Only what a document holds is prepared for: a code has two dozen classes, and most files use a few of them.
"""

from collections.abc import Mapping
from enum import StrEnum
from functools import cache
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin

import attrs

from ventrules.files.keys import keys_by_name
from ventrules.files.leaves import LEAVES, Hook, quantity, unlike_their_classes, word
from ventrules.units import Quantity

_others: dict[object, Hook] = {}


def quick(document: object, shape: object) -> object:
    """Return the model of a document.

    Args:
        document: Plain data.
        shape: The attrs class to build.

    Raises:
        Exception: Of any kind: something is wrong with the document.
    """
    return _hook(shape)(document, shape)


@cache
def _hook(shape: object) -> Hook:
    """Return what makes the values of a type."""
    leaf = LEAVES.get(shape)
    if leaf is not None:
        return leaf
    origin, inner = get_origin(shape), get_args(shape)
    if origin in (Union, UnionType):
        (kind,) = (arg for arg in inner if arg is not NoneType)
        return _optional(kind)
    if origin is Mapping:
        return _mapping(*inner)
    if origin is tuple:
        return _sequence(inner[0])
    if isinstance(shape, type) and issubclass(shape, (Quantity, StrEnum)):
        return quantity if issubclass(shape, Quantity) else word
    return _others.get(shape) or _class(shape)


def _optional(kind: object) -> Hook:
    hook = _hook(kind)

    def optional(value: object, _shape: object) -> object:
        return None if value is None else hook(value, kind)

    return optional


def _mapping(key_kind: object, kind: object) -> Hook:
    key_hook, hook = _hook(key_kind), _hook(kind)

    def mapping(value: Mapping[object, object], _shape: object) -> object:
        _expect(value, dict)
        return {key_hook(key, key_kind): hook(part, kind) for key, part in value.items()}

    return mapping


def _sequence(kind: object) -> Hook:
    hook = _hook(kind)

    def sequence(value: list[object], _shape: object) -> object:
        _expect(value, list)
        return tuple([hook(part, kind) for part in value])

    return sequence


def _class(shape: Any) -> Hook:
    names: dict[object, str] = {key: name for name, key in keys_by_name(shape).items()}
    kinds = {attribute.name: attribute.type for attribute in attrs.fields(shape)}
    ready: dict[object, tuple[str, Hook, object]] = {}

    def prepared(key: object) -> tuple[str, Hook, object]:
        name = names[key]
        ready[key] = name, _hook(kinds[name]), kinds[name]
        return ready[key]

    def instance(value: Mapping[object, object], _shape: object) -> object:
        _expect(value, dict)
        given = {}
        for key, part in value.items():
            name, hook, kind = ready.get(key) or prepared(key)
            given[name] = hook(part, kind)
        return shape(**given)

    return instance


def _expect(value: object, kind: type) -> None:
    if not isinstance(value, kind):
        raise TypeError(value)


_others.update(unlike_their_classes(_hook))
