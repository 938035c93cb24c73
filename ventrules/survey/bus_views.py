"""What rules judge about wiring: typed views of cables, segments, rings and hops."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from attrs import field, frozen

from ventrules.engine import Place
from ventrules.job import BusKind, Cable, Role
from ventrules.survey.conductors import ConductorView, conductors
from ventrules.survey.feeding import Carried, carried
from ventrules.survey.topology import Hop, PortRef, Segment, cable_name
from ventrules.survey.views import VentilatorView
from ventrules.units import Voltage

if TYPE_CHECKING:
    from ventrules.survey.survey import Survey


@frozen(eq=False, slots=False)
class CableView:
    """One cable.

    Attributes:
        survey: The survey.
        index: Its number in the job.
        cable: The cable.
        name: Its two ends, whichever way it was drawn; numbered where several join the same two.
    """

    survey: Survey = field(repr=False)
    index: int
    cable: Cable
    name: str

    @property
    def place(self) -> Place:
        """Where it stands; by meaning, its name."""
        return Place(("cables", self.index), f"cables / {self.name}")

    @property
    def ends(self) -> tuple[PortRef, PortRef]:
        """Its two ports."""
        return self.survey.topology.ends[self.index]

    @property
    def kinds(self) -> tuple[BusKind, BusKind]:
        """The kinds of its two ports."""
        start, end = self.ends
        return self.survey.topology.kind(start), self.survey.topology.kind(end)

    @cached_property
    def conductors(self) -> tuple[ConductorView, ...]:
        """Its conductors."""
        return conductors(self)

    @cached_property
    def carried(self) -> Carried:
        """How it carries power."""
        return carried(self)

    @property
    def voltages(self) -> tuple[Voltage, ...]:
        """The nominal supply voltages of its two ports, as far as the catalog gives them."""
        ports = (self.survey.models[end.device].ports[end.port] for end in self.ends)
        return tuple(port.voltage for port in ports if port.voltage is not None)


@frozen(eq=False, slots=False)
class SegmentView:
    """One segment of a bus."""

    survey: Survey = field(repr=False)
    segment: Segment

    @property
    def place(self) -> Place:
        """Its devices; by meaning, its controllers, or all of them where it has none."""
        return Place(("devices",), f"devices / {' + '.join(self.controllers or self.segment.devices)}")

    @property
    def controllers(self) -> tuple[str, ...]:
        """The controllers on it, sorted."""
        models = self.survey.models
        return tuple(name for name in self.segment.devices if models[name].role is Role.CONTROLLER)


@frozen(eq=False, slots=False)
class RingView:
    """One ring of cables."""

    survey: Survey = field(repr=False)
    cables: tuple[CableView, ...]

    @property
    def place(self) -> Place:
        """Its cables; by meaning, all of them."""
        names = sorted(cable_name(cable.cable) for cable in self.cables)
        return Place(("cables",), f"cables / {' + '.join(names)}")


@frozen(eq=False, slots=False)
class HopView:
    """One hop of the routes of one or more ventilators."""

    survey: Survey = field(repr=False)
    ventilators: tuple[VentilatorView, ...]
    hop: Hop

    @property
    def ventilator(self) -> VentilatorView:
        """The first of the ventilators whose routes take this hop."""
        return self.ventilators[0]

    @property
    def place(self) -> Place:
        """The device that the hop starts from; by meaning, both ports."""
        return Place(("devices", self.hop.start.device), f"devices / {self.hop.start.device} / {self.hop}")

    def dialects(self, port: PortRef) -> tuple[str, ...]:
        """Return the dialects of a port."""
        return self.survey.models[port.device].ports[port.port].dialects

    @property
    def shared(self) -> tuple[str, ...]:
        """Dialects that both ends understand, sorted."""
        return tuple(sorted(set(self.dialects(self.hop.start)) & set(self.dialects(self.hop.end))))
