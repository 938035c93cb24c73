"""Quantities as people write them: a number and a unit, as text.

Each kind of quantity has a small closed table of units. SI is held inside; the text that was written
is kept for messages. Conversion factors are exact definitions: 1 ft = 0.3048 m and 1 in = 0.0254 m
(international yard and pound agreement, 1959), 1 degF = 5/9 K (NIST SP 811, appendix B). The inch of
water gauge is the conventional one, 1000 kg/m3 times 9.80665 m/s2 times 0.0254 m (NIST SP 811,
appendix B.8). Wire gauge is the ASTM B258 series: d = 0.127 mm x 92^((36 - n)/39).
"""

import math
import re
from collections.abc import Mapping
from typing import ClassVar, Final, NewType, Self, TypeVar, cast

from attrs import field, frozen

from ventrules.words import clipped, listed, nearest

_WRITTEN: Final = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(\S.*?)?\s*", re.DOTALL)
_LONGEST_WRITTEN: Final = 80
_RELATIVE_DUST: Final = 1e-9

_FOOT: Final = 0.3048
_INCH: Final = 0.0254


Factor = NewType("Factor", float)
"""A plain multiplier, 0 to 1000."""


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
    highest: ClassVar[float] = 1e12
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
        if value > 0.0 and not float(number):
            number = f"{value:.3g}"  # too small for the usual decimals, and not nothing
        if "." in number:
            number = number.rstrip("0").rstrip(".")
        return f"{'0' if number == '-0' else number} {self.unit}"


_Q = TypeVar("_Q", bound=Quantity)
_MOST_CACHED: Final = 8192
_cache: dict[tuple[type[Quantity], str], Quantity] = {}


def _parsed(cls: type[_Q], text: str) -> _Q:
    expected = f"{cls.kind} with its unit ({listed(cls.units, 'or')})"
    if len(text) > _LONGEST_WRITTEN:
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
    try:
        si = cls.units[unit].to_si(float(number))
    except OverflowError:
        si = math.inf
    if not at_least(si, cls.lowest) or (si == cls.lowest and not cls.lowest_allowed):
        above = cls.least_words if cls.lowest_allowed else "more than"
        bound = f"{cls.units[unit].from_si(cls.lowest):.10g} {unit}"
        raise UnitError(f"{clipped(text)!r} is too low: {cls.kind} must be {above} {bound}")
    if not at_most(si, cls.highest):
        raise UnitError(f"{clipped(text)!r} is too large for {cls.kind}")
    return cls(si, unit, text)


def at_least(value: float, bound: float) -> bool:
    """Say whether value >= bound, forgiving only what floating point itself adds (1e-9, relative)."""
    return value >= bound or math.isclose(value, bound, rel_tol=_RELATIVE_DUST)


def at_most(value: float, bound: float) -> bool:
    """Say whether value <= bound, forgiving only what floating point itself adds (1e-9, relative)."""
    return at_least(bound, value)


class Airflow(Quantity):
    """Volume flow of air, m3/s inside."""

    __slots__ = ()

    kind = "an airflow"
    si_unit = "m3/s"
    units: ClassVar[Mapping[str, Unit]] = {
        "cfm": Unit(_FOOT**3 / 60.0),
        "L/s": Unit(1e-3),
        "m3/h": Unit(1.0 / 3600.0),
        "m3/s": Unit(1.0, decimals=5),
    }

    @property
    def m3s(self) -> float:
        """Airflow in m3/s."""
        return self.si


class Length(Quantity):
    """Length, m inside; always more than nothing."""

    __slots__ = ()

    kind = "a length"
    si_unit = "m"
    lowest_allowed = False
    units: ClassVar[Mapping[str, Unit]] = {
        "ft": Unit(_FOOT),
        "in": Unit(_INCH),
        "m": Unit(1.0),
        "mm": Unit(1e-3),
    }

    @property
    def m(self) -> float:
        """Length in m."""
        return self.si


class Area(Quantity):
    """Floor area, m2 inside; always more than nothing."""

    __slots__ = ()

    kind = "an area"
    si_unit = "m2"
    lowest_allowed = False
    units: ClassVar[Mapping[str, Unit]] = {"ft2": Unit(_FOOT**2), "m2": Unit(1.0)}

    @property
    def m2(self) -> float:
        """Area in m2."""
        return self.si


class Volume(Quantity):
    """Volume, m3 inside; always more than nothing."""

    __slots__ = ()

    kind = "a volume"
    si_unit = "m3"
    lowest_allowed = False
    units: ClassVar[Mapping[str, Unit]] = {"ft3": Unit(_FOOT**3), "m3": Unit(1.0)}

    @property
    def m3(self) -> float:
        """Volume in m3."""
        return self.si


class Pressure(Quantity):
    """Static pressure, Pa inside."""

    __slots__ = ()

    kind = "a pressure"
    si_unit = "Pa"
    units: ClassVar[Mapping[str, Unit]] = {
        "inwg": Unit(1000.0 * 9.80665 * _INCH, decimals=3),
        "Pa": Unit(1.0),
    }

    @property
    def pa(self) -> float:
        """Pressure in Pa."""
        return self.si


class Temperature(Quantity):
    """Temperature, kelvin inside; not below absolute zero."""

    __slots__ = ()

    kind = "a temperature"
    si_unit = "K"
    units: ClassVar[Mapping[str, Unit]] = {
        "degF": Unit(5.0 / 9.0, decimals=1, shift=459.67),
        "degC": Unit(1.0, decimals=1, shift=273.15),
    }

    @property
    def kelvin(self) -> float:
        """Temperature in kelvin."""
        return self.si


class Duration(Quantity):
    """Length of time, seconds inside."""

    __slots__ = ()

    kind = "a duration"
    si_unit = "s"
    units: ClassVar[Mapping[str, Unit]] = {
        "min": Unit(60.0),
        "h": Unit(3600.0),
        "days": Unit(86400.0),
    }

    @property
    def s(self) -> float:
        """Duration in seconds."""
        return self.si


class Period(Duration):
    """A duration that must be more than nothing: a cycle, a window, an interval."""

    __slots__ = ()

    kind = "a period"
    lowest_allowed = False


class Power(Quantity):
    """Electrical power: watts, or volt-amperes where a transformer is loaded."""

    __slots__ = ()

    kind = "a power"
    si_unit = "W"
    units: ClassVar[Mapping[str, Unit]] = {"W": Unit(1.0), "VA": Unit(1.0)}

    @property
    def w(self) -> float:
        """Power in W (or VA, as the unit says)."""
        return self.si


class Voltage(Quantity):
    """Voltage, V inside."""

    __slots__ = ()

    kind = "a voltage"
    si_unit = "V"
    units: ClassVar[Mapping[str, Unit]] = {"V": Unit(1.0)}

    @property
    def v(self) -> float:
        """Voltage in V."""
        return self.si


class Current(Quantity):
    """Current, A inside."""

    __slots__ = ()

    kind = "a current"
    si_unit = "A"
    units: ClassVar[Mapping[str, Unit]] = {"A": Unit(1.0, decimals=3), "mA": Unit(1e-3)}

    @property
    def a(self) -> float:
        """Current in A."""
        return self.si


class WireSize(Quantity):
    """Conductor size, as its cross-section in m2; from No. 40 to 120 mm2."""

    __slots__ = ()

    kind = "a wire size"
    si_unit = "m2"
    lowest = AwgUnit(1.0).to_si(40.0)
    highest = 1.2e-4
    least_words = "no thinner than"
    units: ClassVar[Mapping[str, Unit]] = {
        "AWG": AwgUnit(1.0, decimals=0),
        "mm2": Unit(1e-6, decimals=3),
    }

    @property
    def m2(self) -> float:
        """Cross-section in m2."""
        return self.si


class Share(Quantity):
    """A share of something, shown in percent; evidence has it, files write fractions."""

    __slots__ = ()

    kind = "a share"
    si_unit = "1"
    units: ClassVar[Mapping[str, Unit]] = {"%": Unit(0.01, decimals=2)}


KINDS: Final[tuple[type[Quantity], ...]] = (
    Airflow,
    Length,
    Area,
    Volume,
    Pressure,
    Temperature,
    Duration,
    Period,
    Power,
    Voltage,
    Current,
    WireSize,
)
