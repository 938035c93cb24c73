"""Single values of a document to values of the model, each refused with what was expected and what was found."""

import re
from collections.abc import Callable, Mapping
from datetime import date, datetime
from enum import StrEnum
from functools import cache
from typing import Any, Final, TypeAlias

from ventrules.files.schema_words import DATE
from ventrules.job import Calendar, Conductor, Conductors, Program, Shown
from ventrules.units import Duration, Factor, Quantity
from ventrules.words import clipped, listed, nearest

Hook: TypeAlias = Callable[..., object]
"""Makes a value of the model from one of the document and the type that is wanted."""

MANAGED: Final = "managed"
MOST: Final = 10_000
LARGEST_FACTOR: Final = 1_000
_DATE: Final = re.compile(DATE)


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


def quantity(value: object, shape: type[Quantity]) -> Quantity:
    """Return a quantity with its unit."""
    if isinstance(value, str):
        return shape.parse(value)
    units = listed(shape.units, "or")
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        raise ShapeError(f"{found(value)} needs a unit ({units}), written as text")
    raise ShapeError(f"expected {shape.kind} with its unit ({units}); found {found(value)}")


@cache
def _words(shape: type[StrEnum]) -> Mapping[str, StrEnum]:
    return {word.value: word for word in shape}


def word(value: object, shape: type[StrEnum]) -> StrEnum:
    """Return one of several words."""
    words = _words(shape)
    if isinstance(value, str):
        if value in words:
            return words[value]
        close = nearest(value, words)
        hint = f"; nearest is {close!r}" if close else ""
        raise ShapeError(f"unknown word {clipped(value)!r}; expected {listed(words, 'or')}{hint}")
    raise ShapeError(f"expected one of the words {listed(words, 'or')}; found {found(value)}")


def text(value: object, _shape: object) -> str:
    """Return a text."""
    if not isinstance(value, str):
        raise ShapeError(f"expected text; found {found(value)}")
    return value


def truth(value: object, _shape: object) -> bool:
    """Return a truth value."""
    if not isinstance(value, bool):
        raise ShapeError(f"expected true or false; found {found(value)}")
    return value


def day(value: object, _shape: object) -> date:
    """Return a date."""
    if isinstance(value, date) and not isinstance(value, datetime):  # TOML has dates of its own
        return value
    if isinstance(value, str) and _DATE.fullmatch(value):
        return date.fromisoformat(value)
    raise ShapeError(f"expected a date such as 2027-06-30; found {found(value)}")


def count(value: object, _shape: object) -> int:
    """Return a whole number."""
    if isinstance(value, bool) or not (isinstance(value, int) or (isinstance(value, float) and value.is_integer())):
        raise ShapeError(f"expected a whole number; found {found(value)}")
    if not 0 <= value <= MOST:
        raise ShapeError(f"expected a whole number from 0 to {MOST}; found {_number(value)}")
    return int(value)  # JSON has one kind of number: 3.0 is whole


def fraction(value: object, _shape: object) -> float:
    """Return a number from 0 to 1."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise ShapeError(f"expected a fraction from 0 to 1; found {found(value)}")
    if not 0 <= value <= 1:
        hint = "; write 0.65 for 65 %" if value > 1 else ""
        raise ShapeError(f"expected a fraction from 0 to 1; found {found(value)}{hint}")
    return float(value)


def factor(value: object, _shape: object) -> float:
    """Return a factor."""
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 <= value <= LARGEST_FACTOR:
        raise ShapeError(f"expected a factor from 0 to {LARGEST_FACTOR}; found {found(value)}")
    return float(value)


def shown(value: object, _shape: object) -> Shown:
    """Return what an indicator shows: it stands as it is."""
    if isinstance(value, str):
        return Shown(value)
    if not isinstance(value, bool) and (isinstance(value, int) or (isinstance(value, float) and value.is_integer())):
        return Shown(count(value, int))
    raise ShapeError(f"expected a state in words or a number of flashes; found {found(value)}")


LEAVES: Final[Mapping[object, Hook]] = {
    str: text,
    bool: truth,
    int: count,
    float: fraction,
    date: day,
    Factor: factor,
}
"""What makes a value of each type that is neither a quantity nor a word."""


def unlike_their_classes(hook_of: Callable[[object], Hook]) -> Mapping[object, Hook]:
    """Return what makes those that stand in a file otherwise than as a mapping of their attributes.

    Programs and calendars are plain mappings, without a key of their own; conductors a mapping of terminals or a
    list.

    Args:
        hook_of: Gives what makes the values of a type.
    """
    stages: Any = hook_of(Mapping[str, Duration])
    days: Any = hook_of(Mapping[str, Mapping[str, str]])
    terminals: Any = hook_of(Mapping[str, str])
    items: Any = hook_of(tuple[Conductor, ...])

    def program(value: object, _shape: object) -> Program:
        if value == MANAGED:
            return Program(managed=True)
        if not isinstance(value, dict):
            raise ShapeError(f"expected a mapping of stage to minutes, or {MANAGED!r}; found {found(value)}")
        return Program(stages=stages(value, Mapping[str, Duration]))

    def calendar(value: object, _shape: object) -> Calendar:
        return Calendar(days(value, Mapping[str, Mapping[str, str]]))

    def conductors(value: object, _shape: object) -> Conductors:
        if isinstance(value, dict):
            pairs = terminals(value, Mapping[str, str])
            return Conductors(tuple(Conductor(start, end) for start, end in pairs.items()))
        if isinstance(value, list):
            return Conductors(items(value, tuple[Conductor, ...]), listed=True)
        raise ShapeError(f"expected a mapping of terminal to terminal, or a list of conductors; found {found(value)}")

    return {Program: program, Calendar: calendar, Conductors: conductors, Shown: shown}
