"""Plain data to model, with every problem collected, and back: attrs and cattrs."""

from collections.abc import Callable, Mapping
from datetime import date
from enum import StrEnum
from functools import cache
from typing import Any, TypeVar, get_args

import attrs
from cattrs import Converter, IterableValidationError
from cattrs.errors import ClassValidationError, ForbiddenExtraKeysError
from cattrs.gen import make_dict_structure_fn, make_dict_unstructure_fn, mapping_structure_factory, override

from ventrules.engine import Path
from ventrules.engine.findings import Document
from ventrules.files.bounds import MOST_PROBLEMS
from ventrules.files.keys import NOT_WRITTEN, RENAMED, written_keys
from ventrules.files.leaves import (
    LEAVES,
    MANAGED,
    Hook,
    ShapeError,
    factor,
    found,
    quantity,
    unlike_their_classes,
    word,
)
from ventrules.files.problems import Problem
from ventrules.job import Calendar, Conductor, Conductors, Program, Shown
from ventrules.units import Factor, Quantity, UnitError
from ventrules.words import clipped, listed, nearest

T = TypeVar("T")


def structured(document: Document, shape: type[T]) -> T | list[Problem]:
    """Return the model of a document, or every problem in it.

    Args:
        document: Plain data.
        shape: The attrs class to build.
    """
    try:
        return _converter().structure(document, shape)
    except Exception as error:  # cattrs raises groups of anything
        problems: list[Problem] = []
        _flatten(error, (), problems)
        return problems[:MOST_PROBLEMS]


def unstructured(model: object) -> dict[str, Document]:
    """Return a model as plain data, without what is left at its default."""
    data: dict[str, Document] = _converter().unstructure(model)
    return data


@cache
def _converter() -> Converter:
    converter = Converter(detailed_validation=True, forbid_extra_keys=True, omit_if_default=True)
    converter.register_structure_hook_func(_is_quantity, quantity)
    # By class: what cattrs itself knows by class goes before any predicate.
    converter.register_structure_hook(StrEnum, word)
    converter.register_unstructure_hook_func(_is_quantity, str)
    converter.register_unstructure_hook(StrEnum, lambda word: word.value)
    for shape, leaf in LEAVES.items():
        if isinstance(shape, type):
            converter.register_structure_hook(shape, leaf)
    converter.register_structure_hook_func(lambda shape: shape is Factor, factor)
    converter.register_unstructure_hook(date, date.isoformat)
    converter.register_structure_hook_factory(_is_mapping, lambda t: _checked_mapping(t, converter))
    converter.register_structure_hook_factory(_is_tuple, lambda t: _checked_tuple(t, converter))
    converter.register_structure_hook_factory(_is_class, lambda t: _checked_class(t, converter))
    converter.register_unstructure_hook_factory(_is_class, lambda t: _class_out(t, converter))
    _register_others(converter)
    return converter


def _register_others(converter: Converter) -> None:
    """Register those that stand in a file otherwise than as a mapping of their attributes."""
    for shape, hook in unlike_their_classes(converter.get_structure_hook).items():
        if isinstance(shape, type):
            converter.register_structure_hook(shape, hook)
    item_out = converter.get_unstructure_hook(Conductor)

    def conductors_out(conductors: Conductors) -> Any:
        if conductors.listed:
            return [item_out(item) for item in conductors.items]
        return {item.start: item.end for item in conductors.items}

    converter.register_unstructure_hook(Conductors, conductors_out)
    converter.register_unstructure_hook(Shown, lambda shown: shown.state)
    converter.register_unstructure_hook(
        Program, lambda p: MANAGED if p.managed else {name: str(time) for name, time in p.stages.items()}
    )
    converter.register_unstructure_hook(
        Calendar, lambda calendar: {day: dict(times) for day, times in calendar.days.items()}
    )


def _is_quantity(shape: Any) -> bool:
    return isinstance(shape, type) and issubclass(shape, Quantity)


def _is_enum(shape: Any) -> bool:
    return isinstance(shape, type) and issubclass(shape, StrEnum)


def _is_class(shape: Any) -> bool:
    return attrs.has(shape) and not _is_quantity(shape)


def _is_mapping(shape: Any) -> bool:
    return getattr(shape, "__origin__", None) is Mapping


def _is_tuple(shape: Any) -> bool:
    return getattr(shape, "__origin__", None) is tuple


def _checked_mapping(shape: Any, converter: Converter) -> Hook:
    inner = mapping_structure_factory(shape, converter, structure_to=dict)

    def mapping(value: Any, given: Any) -> Any:
        if not isinstance(value, dict):
            raise ShapeError(f"expected a mapping; found {found(value)}")
        return inner(value, given)

    return mapping


def _checked_tuple(shape: Any, converter: Converter) -> Hook:
    list_shape: Any = list.__class_getitem__(get_args(shape)[0])
    as_list = converter.get_structure_hook(list_shape)

    def sequence(value: Any, _given: Any) -> Any:
        if not isinstance(value, list):
            raise ShapeError(f"expected a list; found {found(value)}")
        return tuple(as_list(value, list_shape))

    return sequence


def _overrides(shape: type) -> dict[str, Any]:
    named = {name: override(rename=key) for name, key in RENAMED.get(shape, {}).items()}
    return named | {name: override(omit=True) for name in NOT_WRITTEN.get(shape, ())}


def _checked_class(shape: Any, converter: Converter) -> Hook:
    inner = make_dict_structure_fn(shape, converter, **_overrides(shape))

    def instance(value: Any, given: Any) -> Any:
        if not isinstance(value, dict):
            raise ShapeError(f"expected a mapping with {_keys_line(shape)}; found {found(value)}")
        return inner(value, given)

    return instance


def _class_out(shape: Any, converter: Converter) -> Callable[[Any], Any]:
    return make_dict_unstructure_fn(shape, converter, _cattrs_omit_if_default=True, **_overrides(shape))


def _keys_line(shape: type) -> str:
    return f"the keys {listed(written_keys(shape), 'or')}"


def _flatten(error: BaseException, path: Path, problems: list[Problem], shape: Any = None) -> None:
    if len(problems) >= MOST_PROBLEMS:
        return
    if isinstance(error, ClassValidationError):
        renamed = RENAMED.get(error.cl, {})
        placed, loose = error.group_exceptions()
        for inner, note in placed:
            name = renamed.get(note.name, note.name)
            _flatten(inner, (*path, name), problems, note.type)
        for inner in loose:
            _flatten(inner, path, problems, error.cl)
    elif isinstance(error, IterableValidationError):
        _flatten_items(error, path, problems)
    elif isinstance(error, ForbiddenExtraKeysError):
        problems.extend(_unknown_key(path, key, error.cl) for key in sorted(error.extra_fields)[:MOST_PROBLEMS])
    elif isinstance(error, KeyError):
        problems.append(Problem(f"missing; expected {_expected(shape)}", path, at_key=True))
    elif isinstance(error, (ShapeError, UnitError)):
        problems.append(Problem(str(error), path))
    else:
        problems.append(Problem(f"cannot be used: {clipped(str(error), 200)}", path))


def _flatten_items(error: IterableValidationError, path: Path, problems: list[Problem]) -> None:
    items, loose = error.group_exceptions()
    for inner, item_note in items:
        before = len(problems)
        _flatten(inner, (*path, item_note.index), problems, item_note.type)
        if item_note.startswith("Structuring mapping key"):  # cattrs tells keys and values apart here only
            problems[before:] = [attrs.evolve(problem, at_key=True) for problem in problems[before:]]
    for inner in loose:
        _flatten(inner, path, problems)


def _unknown_key(path: Path, key: str, shape: type | None) -> Problem:
    keys = written_keys(shape) if shape else []
    close = nearest(key, keys)
    hint = f"; nearest is {close!r}" if close else ""
    expected = f"; expected {listed(keys, 'or')}" if keys else ""
    return Problem(f"unknown key {clipped(key)!r}{expected}{hint}", (*path, key), at_key=True)


def _expected(shape: Any) -> str:
    if _is_quantity(shape):
        return f"{shape.kind} with its unit ({listed(shape.units, 'or')})"
    if _is_enum(shape):
        return f"one of the words {listed([word.value for word in shape], 'or')}"
    if attrs.has(shape):
        return f"a mapping with {_keys_line(shape)}"
    said = {
        date: "a date such as 2027-06-30",
        str: "text",
        bool: "true or false",
        int: "a whole number",
        float: "a fraction from 0 to 1",
    }
    return said.get(shape, "a mapping")
