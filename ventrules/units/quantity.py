"""A quantity as people write it: a number and a unit, as text.

SI is held inside; the text that was written is kept for messages. Wire gauge is the ASTM B258 series:
d = 0.127 mm x 92^((36 - n)/39).
"""

import math
import re
from collections.abc import Mapping
from decimal import ROUND_CEILING, ROUND_FLOOR, Context, Decimal
from typing import ClassVar, Final, Self, TypeVar, cast

from attrs import field, frozen

from ventrules.units.patterns import BLANK, PLAIN, numbers
from ventrules.words import clipped, listed, nearest

LONGEST_WRITTEN: Final = 80
"""The most characters of a written quantity."""

_WRITTEN: Final = re.compile(
    rf"{BLANK}*([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?){BLANK}*(\S.*?)?{BLANK}*", re.DOTALL
)
_PLAIN: Final = re.compile(PLAIN)
_UP: Final = Context(prec=5, rounding=ROUND_CEILING)
_DOWN: Final = Context(prec=5, rounding=ROUND_FLOOR)
_RELATIVE_DUST: Final = 1e-9


class UnitError(ValueError):
    """A quantity that cannot be read: no unit, an unknown unit, or a number out of bounds."""


@frozen
class Unit:
    """One unit of a kind: SI value = (number + shift) * scale, shown with so many decimals."""

    scale: float
    decimals: int = 2
    shift: float = 0.0

    def to_si(self, number: float) -> float:
        """Return the SI value of a number in this unit."""
        return (number + self.shift) * self.scale

    def from_si(self, si: float) -> float:
        """Return the number in this unit of an SI value."""
        return si / self.scale - self.shift


@frozen
class AwgUnit(Unit):
    """American wire gauge: a number that stands for a conductor's area in m2 (ASTM B258)."""

    def to_si(self, number: float) -> float:
        """Return the conductor's area, m2."""
        diameter_m = 0.127e-3 * math.pow(92.0, (36.0 - number) / 39.0)
        return math.pi / 4.0 * diameter_m**2

    def from_si(self, si: float) -> float:
        """Return the gauge number of an area in m2."""
        diameter_m = math.sqrt(si * 4.0 / math.pi)
        return 36.0 - 39.0 * math.log(diameter_m / 0.127e-3, 92.0)


@frozen
class Quantity:
    """A number with a unit.

    Attributes:
        si: The value in SI; the property named after the unit (`Airflow.m3s`) is the same number.
        unit: The unit it is shown in.
        written: The text as it stood in a file, or None when the value was worked out.
    """

    kind: ClassVar[str] = "a quantity"
    si_unit: ClassVar[str] = ""
    units: ClassVar[Mapping[str, Unit]] = {}
    lowest: ClassVar[float] = 0.0
    lowest_allowed: ClassVar[bool] = True
    highest: ClassVar[float] = 1e30
    least_words: ClassVar[str] = "at least"

    si: float
    unit: str
    written: str | None = field(default=None)

    @classmethod
    def parse(cls, text: str) -> Self:
        """Read a written quantity.

        Raises:
            UnitError: No unit, an unknown unit, or a number that this kind cannot have.
        """
        key = (cls, text)
        found = _cache.get(key)
        if found is None:
            found = _parsed(cls, text)
            if len(_cache) < _MOST_CACHED:
                _cache[key] = found
        return cast("Self", found)

    @classmethod
    def bounds(cls, unit: str) -> tuple[Decimal, Decimal | None]:
        """Return the lowest and the highest number in a unit; None where only the number of digits is limited."""
        found = _bounds.get((cls, unit))
        if found is None:
            found = _bounds[cls, unit] = _bounds_of(cls, unit)
        return found

    @classmethod
    def pattern(cls) -> str:
        """Return the regular expression of all texts that `parse` takes, but for their length."""
        by_numbers: dict[str, list[str]] = {}
        for unit in cls.units:
            by_numbers.setdefault(numbers(*cls.bounds(unit), lowest_allowed=cls.lowest_allowed), []).append(unit)
        choices = [f"{number}{BLANK}*(?:{'|'.join(units)})" for number, units in by_numbers.items()]
        return f"^{BLANK}*(?:{'|'.join(choices)}){BLANK}*$"

    @classmethod
    def of(cls, number: float, unit: str) -> Self:
        """Return a worked-out quantity from a number in one of the kind's units."""
        return cls(cls.units[unit].to_si(number), unit)

    @classmethod
    def shown(cls, si: float, unit: str) -> Self:
        """Return a worked-out quantity from its SI value, to be shown in `unit`."""
        return cls(si, unit)

    def to(self, unit: str) -> float:
        """Return the number in another unit of the same kind."""
        return self.units[unit].from_si(self.si)

    def __str__(self) -> str:
        if self.written is not None:
            return self.written
        table = self.units[self.unit]
        value = table.from_si(self.si)
        number = f"{value:.{table.decimals}f}"
        if value > 0.0 and not float(number):  # too small for the usual decimals, and not nothing
            number = f"{value:.3g}" if self.bounds(self.unit)[1] is None else f"{value:.{_MOST_DECIMALS}f}"
        if "." in number:
            number = number.rstrip("0").rstrip(".")
        return f"{'0' if number == '-0' else number} {self.unit}"


_Q = TypeVar("_Q", bound=Quantity)
_MOST_DECIMALS: Final = 12  # of a kind that is written without an exponent
_MOST_CACHED: Final = 8192
_cache: dict[tuple[type[Quantity], str], Quantity] = {}


def _parsed(cls: type[_Q], text: str) -> _Q:
    expected = f"{cls.kind} with its unit ({listed(cls.units, 'or')})"
    if len(text) > LONGEST_WRITTEN:
        raise UnitError(f"{clipped(text)!r} is too long; expected {expected}")
    match = _WRITTEN.fullmatch(text)
    if match is None:
        raise UnitError(f"{clipped(text)!r} is not {expected}")
    number, unit = match.groups()
    if unit is None:
        raise UnitError(f"{clipped(text)!r} has no unit; expected {expected}")
    if unit not in cls.units:
        close = nearest(unit, cls.units)
        hint = f"; nearest is {close!r}" if close else ""
        raise UnitError(f"unknown unit {clipped(unit)!r}; expected {expected}{hint}")
    refusal = _refusal(cls, number, unit)
    if refusal:
        raise UnitError(f"{clipped(text)!r} {refusal}")
    return cls(cls.units[unit].to_si(float(number)), unit, text)


_bounds: dict[tuple[type[Quantity], str], tuple[Decimal, Decimal | None]] = {}


def _bounds_of(cls: type[Quantity], unit: str) -> tuple[Decimal, Decimal | None]:
    ends = [cls.lowest] if cls.highest == Quantity.highest else [cls.lowest, cls.highest]
    low, *high = sorted(Decimal(f"{cls.units[unit].from_si(end):.10g}") for end in ends)
    return _UP.plus(low), _DOWN.plus(high[0]) if high else None


def _refusal(cls: type[Quantity], number: str, unit: str) -> str:
    """Return what is wrong with a written number, or nothing."""
    low, high = cls.bounds(unit)
    value = float(number)
    plain = _PLAIN.fullmatch(number) is not None
    lowest, highest = float(low), math.inf if high is None else float(high)
    below, above = value < lowest, value > highest
    if plain and value in (lowest, highest):  # so near that only the digits tell
        below, above = Decimal(number) < low, high is not None and Decimal(number) > high
    below = below or (value == lowest and not cls.lowest_allowed)
    bound = low
    if high is not None and isinstance(cls.units[unit], AwgUnit):  # the higher the number, the less copper
        below, above, bound = above, below, high
    if below:
        least = cls.least_words if cls.lowest_allowed else "more than"
        return f"is too low: {cls.kind} must be {least} {bound:f} {unit}"
    if above or (not plain and abs(value) >= 1.0):
        return f"is too large for {cls.kind}"
    if not plain or (high is not None and "e" in number.lower()):
        return f"has an exponent that cannot be used for {cls.kind}"
    return ""


def at_least(value: float, bound: float) -> bool:
    """Say whether value >= bound, forgiving only what floating point itself adds (1e-9, relative)."""
    return value >= bound or math.isclose(value, bound, rel_tol=_RELATIVE_DUST)


def at_most(value: float, bound: float) -> bool:
    """Say whether value <= bound, forgiving only what floating point itself adds (1e-9, relative)."""
    return value <= bound or math.isclose(value, bound, rel_tol=_RELATIVE_DUST)
