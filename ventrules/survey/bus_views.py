"""What rules judge about wiring: typed views of cables, segments, rings and hops."""

from __future__ import annotations

from typing import TYPE_CHECKING

from attrs import field, frozen

from ventrules.engine import Place
from ventrules.engine.once import once
from ventrules.job import BusKind, Cable, Port, Role
from ventrules.survey.conductors import ConductorView, conductors
from ventrules.survey.feeding import Carried, carried, reckoned_loop
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
    """

    survey: Survey = field(repr=False)
    index: int
    cable: Cable

    @property
    def name(self) -> str:
        """Its two ends, whichever way it was drawn; numbered where several join the same two."""
        return self.survey.topology.cable_names[self.index]

    @property
    def place(self) -> Place:
        """Where it stands; by meaning, its name."""
        return Place(("cables", self.index), f"cables / {self.name}")

    @once
    def ends(self) -> tuple[PortRef, PortRef]:
        """Its two ports."""
        return self.survey.topology.ends[self.index]

    @once
    def ports(self) -> tuple[Port, Port]:
        """Its two ports in the catalog's words."""
        start, end = self.ends
        ports = self.survey.topology.ports
        return ports[start], ports[end]

    @property
    def kinds(self) -> tuple[BusKind, BusKind]:
        """The kinds of its two ports."""
        start, end = self.ports
        return start.bus, end.bus

    @once
    def plain(self) -> bool:
        """True when it is straight through between ports of the same terminals, so that nothing can be wrong."""
        start, end = self.ports
        return self.cable.conductors is None and start.terminals == end.terminals

    @once
    def conductors(self) -> tuple[ConductorView, ...]:
        """Its conductors."""
        return conductors(self)

    @once
    def carried(self) -> Carried:
        """How it carries power."""
        return carried(self)

    @once
    def loop_ohm(self) -> float | None:
        """Its loop resistance, ohm; None where the job does not tell enough for it."""
        return reckoned_loop(self)

    @property
    def voltages(self) -> tuple[Voltage, ...]:
        """The nominal supply voltages of its two ports, as far as the catalog gives them."""
        return tuple(port.voltage for port in self.ports if port.voltage is not None)


@frozen(eq=False, slots=False)
class SegmentView:
    """One segment of a bus."""

    survey: Survey = field(repr=False)
    segment: Segment

    @property
    def place(self) -> Place:
        """Its devices; by meaning, what it is called by, with the ports where another one is called by the same."""
        topology, names = self.survey.topology, self.survey.topology.called_by(self.segment)
        if names in topology.called_alike:
            names = tuple(str(port) for port in self.segment.ports if port.device in names)
        return Place(("devices",), f"devices / {' + '.join(names)}")

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
