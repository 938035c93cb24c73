"""What is installed and how it is joined: devices, cables, conductors."""

from collections.abc import Iterator, Mapping

from attrs import Factory, field, frozen

from ventrules.job.acceptance import Acceptance
from ventrules.units import Length, Resistance, Temperature, WireSize


@frozen
class PortSetting:
    """How one port of a device is set up on site.

    Attributes:
        address: Its address on the bus.
        termination: Terminating resistor that is fitted or switched on there.
        bias: Bias resistor of each conductor of the pair that is fitted or switched on there.
        shield_earthed: True when the shield is joined to earth there.
    """

    address: int | None = None
    termination: Resistance | None = None
    bias: Resistance | None = None
    shield_earthed: bool = False


@frozen
class Device:
    """One installed device.

    Attributes:
        model: The name of its catalog model.
        ports: Port name to how it is set up on site.
        accepted: Findings at it that are let stand.
    """

    model: str
    ports: Mapping[str, PortSetting] = Factory(dict)
    accepted: tuple[Acceptance, ...] = ()


@frozen
class Conductor:
    """One conductor of a cable.

    Attributes:
        start: Terminal at the cable's `from`; None where it is on none.
        end: Terminal at the cable's `to`; None where it is on none.
        color: Its color, free text.
    """

    start: str | None = None
    end: str | None = None
    color: str | None = None


@frozen
class Conductors:
    """The conductors of a cable.

    Attributes:
        items: Each conductor.
        listed: True when a file has them as a list; a plain mapping of terminals says less.
    """

    items: tuple[Conductor, ...] = ()
    listed: bool = False

    def __iter__(self) -> Iterator[Conductor]:
        return iter(self.items)


def _conductors(value: "Conductors | Mapping[str, str] | None") -> Conductors | None:
    if value is None or isinstance(value, Conductors):
        return value
    return Conductors(tuple(Conductor(start, end) for start, end in value.items()))


@frozen
class Cable:
    """One cable between two ports, each written `device.port`.

    Attributes:
        start: The end written `from`.
        end: The end written `to`.
        gauge: Conductor size.
        length: One-way length.
        conductors: What joins what; None means straight through. A mapping of terminals is taken as well.
        cores: Conductors in the cable, used or not.
        stranded: True for stranded conductors, False for solid ones.
        temperature: Temperature of the conductors.
        beside_mains: True when it shares a raceway, box or path with mains conductors.
        accepted: Findings at it that are let stand.
    """

    start: str
    end: str
    gauge: WireSize | None = None
    length: Length | None = None
    conductors: Conductors | None = field(default=None, converter=_conductors)
    cores: int | None = None
    stranded: bool = False
    temperature: Temperature | None = None
    beside_mains: bool = False
    accepted: tuple[Acceptance, ...] = ()
