"""The kinds of quantity, each with a small closed table of units.

Conversion factors are exact definitions: 1 ft = 0.3048 m and 1 in = 0.0254 m (international yard and
pound agreement, 1959), 1 degF = 5/9 K (NIST SP 811, appendix B). The inch of water gauge is the
conventional one, 1000 kg/m3 times 9.80665 m/s2 times 0.0254 m (NIST SP 811, appendix B.8).
"""

from collections.abc import Mapping
from typing import ClassVar, Final, NewType

from ventrules.units.quantity import AwgUnit, Quantity, Unit

_FOOT: Final = 0.3048
_INCH: Final = 0.0254

Factor = NewType("Factor", float)
"""A plain multiplier, 0 to 1000."""


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


class Resistance(Quantity):
    """Electrical resistance, ohm inside; always more than nothing."""

    __slots__ = ()

    kind = "a resistance"
    si_unit = "ohm"
    lowest_allowed = False
    units: ClassVar[Mapping[str, Unit]] = {"ohm": Unit(1.0), "kohm": Unit(1e3, decimals=3)}

    @property
    def ohm(self) -> float:
        """Resistance in ohm."""
        return self.si


class WireSize(Quantity):
    """Conductor size, as its cross-section in m2; from No. 40 to 120 mm2."""

    __slots__ = ()

    kind = "a wire size"
    si_unit = "m2"
    lowest: ClassVar[float] = AwgUnit(1.0).to_si(40.0)
    highest: ClassVar[float] = 1.2e-4
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
    Resistance,
    WireSize,
)
