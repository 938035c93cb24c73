"""The shape of a bus: what a serial line allows, as a published guide or a catalog states it."""

from enum import StrEnum

from attrs import frozen

from ventrules.sources import Basis
from ventrules.units import Factor, Length, Resistance, WireSize


class Layout(StrEnum):
    """How the cables of a bus may run: one line, a line with stubs, or any tree."""

    LINE = "line"
    STUBS = "line-with-stubs"
    FREE = "free"


@frozen
class Trunk:
    """How long the line may be, from end to end.

    Attributes:
        longest: Its length.
        thinnest: The conductor size from which on that length holds.
        together: All cables of the bus together, stubs and branches as well.
        basis: Where it comes from.
    """

    longest: Length
    thinnest: WireSize | None = None
    together: Length | None = None
    basis: Basis | None = None


@frozen
class Stubs:
    """How long a stub may be.

    Attributes:
        longest: One stub.
        shared: Of several stubs that leave the line at one place, each at most this divided by their number.
        basis: Where they come from.
    """

    longest: Length
    shared: Length | None = None
    basis: Basis | None = None


@frozen
class Loads:
    """How many devices a bus bears.

    Attributes:
        unit_loads: The most unit loads together.
        devices: The most devices.
        basis: Where they come from.
    """

    unit_loads: Factor | None = None
    devices: int | None = None
    basis: Basis | None = None


@frozen
class Resistors:
    """Terminating or bias resistors of a bus.

    Attributes:
        least: The fewest places that have one.
        most: The most places that have one.
        lowest: The least value.
        highest: The largest value.
        usual: The value to fit, where one is usual.
        takes_devices: How many devices fewer the bus bears where there are any.
        basis: Where it comes from.
    """

    least: int
    most: int
    lowest: Resistance
    highest: Resistance
    usual: Resistance | None = None
    takes_devices: int = 0
    basis: Basis | None = None


@frozen
class Addresses:
    """Addresses that a device may have; each once on a bus.

    Attributes:
        lowest: The lowest.
        highest: The highest.
        bridges: False where a bridge or controller, which asks the others, needs none.
        basis: Where they come from.
    """

    lowest: int
    highest: int
    bridges: bool = True
    basis: Basis | None = None


@frozen
class Shield:
    """At how many places the shield of a bus is to be earthed.

    Attributes:
        least: The fewest places where it is earthed.
        most: The most places; at least `least`.
        basis: Where that comes from; none: the catalog itself.
    """

    least: int
    most: int
    basis: Basis | None = None


@frozen
class BusProfile:
    """What one kind of bus allows. A part that is left out is not judged.

    Attributes:
        title: Its name for people.
        basis: The publication; None where a catalog brings the profile.
        layout: How cables may run.
        layout_basis: Where that comes from.
        trunk: Length of the line.
        stubs: Length of stubs.
        loads: Devices and unit loads.
        termination: Terminating resistors, which belong at the two ends.
        bias: Bias resistors.
        addresses: Addresses.
        shield: Earthing of the shield.
    """

    title: str
    basis: Basis | None = None
    layout: Layout = Layout.FREE
    layout_basis: Basis | None = None
    trunk: Trunk | None = None
    stubs: Stubs | None = None
    loads: Loads | None = None
    termination: Resistors | None = None
    bias: Resistors | None = None
    addresses: Addresses | None = None
    shield: Shield | None = None
