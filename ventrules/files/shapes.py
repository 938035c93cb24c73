"""Plain data to model and back (attrs + cattrs), with every problem collected.

A sound document goes through a converter without any error bookkeeping. Only when that one objects
does a second converter walk the document again and collect all that is wrong.
"""

from collections.abc import Callable, Mapping
from enum import StrEnum
from functools import cache
from typing import Any, Final, TypeVar, get_args

import attrs
from cattrs import Converter, IterableValidationError
from cattrs.errors import ClassValidationError, ForbiddenExtraKeysError
from cattrs.gen import make_dict_structure_fn, make_dict_unstructure_fn, mapping_structure_factory, override

from ventrules.engine import Path
from ventrules.engine.findings import Document
from ventrules.files.problems import Problem
from ventrules.job import Cable, Calendar, Catalog, Conductor, Conductors, Job, Program, Shown
from ventrules.units import Duration, Factor, Quantity, UnitError
from ventrules.words import clipped, listed, nearest

T = TypeVar("T")
Hook = Callable[[Any, Any], Any]

MANAGED: Final = "managed"
_MOST: Final = 10_000
_LARGEST_FACTOR: Final = 1_000

_RENAMED: Final[Mapping[type, Mapping[str, str]]] = {
    Cable: {"start": "from", "end": "to"},
    Conductor: {"start": "from", "end": "to"},
    Job: {"title": "job"},
    Catalog: {"name": "catalog"},
}
_NOT_WRITTEN: Final[Mapping[type, frozenset[str]]] = {Job: frozenset({"catalog", "code_file", "origin"})}


class ShapeError(ValueError):
    """A value of the wrong shape; the message says what was found and what was expected."""


def found(value: object) -> str:
    """Return a short description of a value, safe for any depth or size."""
    if value is None:
        return "nothing (null)"
    if isinstance(value, bool):
        return f"the truth value {str(value).lower()}"
    if isinstance(value, dict):
        return "a mapping"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, str):
        return f"the text {clipped(value)!r}"
    return f"the number {_number(value)}"


def _number(value: object) -> str:
    try:
        return clipped(repr(value))
    except ValueError:  # Python prints no integer of more than 4300 digits
        return "of thousands of digits"


def structure(document: Document, shape: type[T]) -> T | list[Problem]:
    """Return the model of a document, or every problem in it.

    Args:
        document: Plain data.
        shape: The attrs class to build.
    """
    try:
        return _fast().structure(document, shape)
    except Exception:  # noqa: S110 - whatever it was, the second converter says it in full
        pass
    try:
        return _thorough().structure(document, shape)
    except Exception as error:  # cattrs raises groups of anything
        problems: list[Problem] = []
        _flatten(error, (), problems)
        return problems


def unstructure(model: object) -> dict[str, Document]:
    """Return a model as plain data, without what is left at its default."""
    data: dict[str, Document] = _fast().unstructure(model)
    return data


@cache
def _fast() -> Converter:
    return _converter(detailed=False)


@cache
def _thorough() -> Converter:
    return _converter(detailed=True)


def _converter(*, detailed: bool) -> Converter:
    converter = Converter(detailed_validation=detailed, forbid_extra_keys=True, omit_if_default=True)
    converter.register_structure_hook_func(_is_quantity, _quantity)
    # By class: what cattrs itself knows by class goes before any predicate.
    converter.register_structure_hook(StrEnum, _word)
    converter.register_unstructure_hook_func(_is_quantity, str)
    converter.register_unstructure_hook(StrEnum, lambda word: word.value)
    converter.register_structure_hook(str, _text)
    converter.register_structure_hook(bool, _truth)
    converter.register_structure_hook(int, _count)
    converter.register_structure_hook(float, _fraction)
    converter.register_structure_hook_func(lambda shape: shape is Factor, _factor)
    converter.register_structure_hook_factory(_is_mapping, lambda t: _checked_mapping(t, converter))
    converter.register_structure_hook_factory(_is_tuple, lambda t: _checked_tuple(t, converter))
    converter.register_structure_hook_factory(_is_class, lambda t: _checked_class(t, converter))
    converter.register_unstructure_hook_factory(_is_class, lambda t: _class_out(t, converter))
    _register_bare_mappings(converter)
    _register_conductors(converter)
    return converter


def _register_conductors(converter: Converter) -> None:
    """Conductors stand in a file as a mapping of terminals or as a list; what an indicator shows, as it is."""
    terminals = converter.get_structure_hook(Mapping[str, str])
    items = converter.get_structure_hook(tuple[Conductor, ...])
    item_out = converter.get_unstructure_hook(Conductor)

    def conductors(value: Any, _shape: Any) -> Conductors:
        if isinstance(value, dict):
            pairs = terminals(value, Mapping[str, str])
            return Conductors(tuple(Conductor(start, end) for start, end in pairs.items()))
        if isinstance(value, list):
            return Conductors(items(value, tuple[Conductor, ...]), listed=True)
        raise ShapeError(f"expected a mapping of terminal to terminal, or a list of conductors; found {found(value)}")

    def out(conductors: Conductors) -> Any:
        if conductors.listed:
            return [item_out(item) for item in conductors.items]
        return {item.start: item.end for item in conductors.items}

    def shown(value: Any, _shape: Any) -> Shown:
        if isinstance(value, str):
            return Shown(value)
        if isinstance(value, int) and not isinstance(value, bool):
            return Shown(_count(value, int))
        raise ShapeError(f"expected a state in words or a number of flashes; found {found(value)}")

    converter.register_structure_hook(Conductors, conductors)
    converter.register_unstructure_hook(Conductors, out)
    converter.register_structure_hook(Shown, shown)
    converter.register_unstructure_hook(Shown, lambda shown: shown.state)


def _register_bare_mappings(converter: Converter) -> None:
    """Programs and calendars stand in a file as plain mappings, without a key of their own."""
    stages = converter.get_structure_hook(Mapping[str, Duration])
    days = converter.get_structure_hook(Mapping[str, Mapping[str, str]])

    def program(value: Any, _shape: Any) -> Program:
        if value == MANAGED:
            return Program(managed=True)
        if not isinstance(value, dict):
            raise ShapeError(f"expected a mapping of stage to minutes, or {MANAGED!r}; found {found(value)}")
        return Program(stages=stages(value, Mapping[str, Duration]))

    converter.register_structure_hook(Program, program)
    converter.register_unstructure_hook(
        Program, lambda p: MANAGED if p.managed else {name: str(time) for name, time in p.stages.items()}
    )
    converter.register_structure_hook(
        Calendar, lambda value, _shape: Calendar(days(value, Mapping[str, Mapping[str, str]]))
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


def _quantity(value: Any, shape: type[Quantity]) -> Quantity:
    if isinstance(value, str):
        return shape.parse(value)
    units = listed(shape.units, "or")
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        raise ShapeError(f"{found(value)} needs a unit ({units}), written as text")
    raise ShapeError(f"expected {shape.kind} with its unit ({units}); found {found(value)}")


def _word(value: Any, shape: type[StrEnum]) -> StrEnum:
    words = [word.value for word in shape]
    if isinstance(value, str):
        if value in words:
            return shape(value)
        close = nearest(value, words)
        hint = f"; nearest is {close!r}" if close else ""
        raise ShapeError(f"unknown word {clipped(value)!r}; expected {listed(words, 'or')}{hint}")
    raise ShapeError(f"expected one of the words {listed(words, 'or')}; found {found(value)}")


def _text(value: Any, _shape: Any) -> str:
    if not isinstance(value, str):
        raise ShapeError(f"expected text; found {found(value)}")
    return value


def _truth(value: Any, _shape: Any) -> bool:
    if not isinstance(value, bool):
        raise ShapeError(f"expected true or false; found {found(value)}")
    return value


def _count(value: Any, _shape: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise ShapeError(f"expected a whole number; found {found(value)}")
    if not 0 <= value <= _MOST:
        raise ShapeError(f"expected a whole number from 0 to {_MOST}; found {_number(value)}")
    return value


def _fraction(value: Any, _shape: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise ShapeError(f"expected a fraction from 0 to 1; found {found(value)}")
    if not 0 <= value <= 1:
        hint = "; write 0.65 for 65 %" if value > 1 else ""
        raise ShapeError(f"expected a fraction from 0 to 1; found {found(value)}{hint}")
    return float(value)


def _factor(value: Any, _shape: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 <= value <= _LARGEST_FACTOR:
        raise ShapeError(f"expected a factor from 0 to {_LARGEST_FACTOR}; found {found(value)}")
    return float(value)


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
    named = {name: override(rename=key) for name, key in _RENAMED.get(shape, {}).items()}
    return named | {name: override(omit=True) for name in _NOT_WRITTEN.get(shape, ())}


def _checked_class(shape: Any, converter: Converter) -> Hook:
    inner = make_dict_structure_fn(shape, converter, **_overrides(shape))

    def instance(value: Any, given: Any) -> Any:
        if not isinstance(value, dict):
            raise ShapeError(f"expected a mapping with {_keys_line(shape)}; found {found(value)}")
        return inner(value, given)

    return instance


def _class_out(shape: Any, converter: Converter) -> Callable[[Any], Any]:
    return make_dict_unstructure_fn(shape, converter, _cattrs_omit_if_default=True, **_overrides(shape))


def written_keys(shape: type) -> list[str]:
    """Return the keys that a class has in a file, in order."""
    renamed, left_out = _RENAMED.get(shape, {}), _NOT_WRITTEN.get(shape, frozenset())
    names = (attribute.name for attribute in attrs.fields(shape))
    return [renamed.get(name, name) for name in names if name not in left_out]


def _keys_line(shape: type) -> str:
    return f"the keys {listed(written_keys(shape), 'or')}"


def _flatten(error: BaseException, path: Path, problems: list[Problem], shape: Any = None) -> None:
    if isinstance(error, ClassValidationError):
        renamed = _RENAMED.get(error.cl, {})
        placed, loose = error.group_exceptions()
        for inner, note in placed:
            name = renamed.get(note.name, note.name)
            _flatten(inner, (*path, name), problems, note.type)
        for inner in loose:
            _flatten(inner, path, problems, error.cl)
    elif isinstance(error, IterableValidationError):
        items, loose = error.group_exceptions()
        for inner, item_note in items:
            said: list[Problem] = []
            _flatten(inner, (*path, item_note.index), said, item_note.type)
            at_key = item_note.startswith("Structuring mapping key")  # cattrs tells keys and values apart here only
            problems.extend(attrs.evolve(problem, at_key=True) if at_key else problem for problem in said)
        for inner in loose:
            _flatten(inner, path, problems)
    elif isinstance(error, ForbiddenExtraKeysError):
        problems.extend(_unknown_key(path, key, error.cl) for key in sorted(error.extra_fields))
    elif isinstance(error, KeyError):
        problems.append(Problem(f"missing; expected {_expected(shape)}", path, at_key=True))
    elif isinstance(error, (ShapeError, UnitError)):
        problems.append(Problem(str(error), path))
    else:
        problems.append(Problem(f"cannot be used: {clipped(str(error), 200)}", path))


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
    return {str: "text", bool: "true or false", int: "a whole number", float: "a fraction from 0 to 1"}.get(
        shape, "a mapping"
    )
