"""Supply nets: what feeds what, what is drawn, and the voltage that is left at each device.

A net is what cables with both a supply and a common conductor join. A source holds its nominal voltage; a source that
is fed from another port of its device passes what its net takes, with what the wires lose, on to that port's net.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cached_property
from typing import TYPE_CHECKING, Final

from attrs import evolve, field, frozen

from ventrules.engine import Place
from ventrules.job import Port, VoltageWindow
from ventrules.sources import Basis, Known
from ventrules.survey.circuit import Circuit, Collapse, Solution, Wire, solve
from ventrules.survey.feeding import Draw, Feeding, loop_of, nets
from ventrules.survey.topology import PortRef
from ventrules.units import Voltage, WireSize

if TYPE_CHECKING:
    from ventrules.survey.bus_views import CableView
    from ventrules.survey.survey import Survey

_CATALOG: Final = Basis("catalog entry of the model: the voltages at which it works", Known.CATALOG)
_ALIKE_V: Final = 1e-6  # devices whose margins differ by less are equally badly off; the first is named


@frozen
class Step:
    """One cable on the way from a source to a device: its loop, what flows in it, and what is lost."""

    cable: CableView
    ohm: float
    ampere: float
    volt: float


@frozen(eq=False, slots=False)
class SupplyView:
    """One supply net.

    Attributes:
        survey: The survey.
        ports: Its ports, sorted.
        cables: The cables that carry its supply, in the job's order.
        draws: What is drawn, by port.
        doubtful: True when a conductor of a cable at it is not as it should be; then nothing is told of it.
        powered: True when a source that is fed from nowhere stands at the head of it.
        circular: True when all its sources are, in the end, fed from itself.
    """

    survey: Survey = field(repr=False)
    ports: tuple[PortRef, ...]
    cables: tuple[CableView, ...]
    draws: tuple[Draw, ...]
    doubtful: bool
    powered: bool
    circular: bool

    def port(self, ref: PortRef) -> Port:
        """Return the catalog entry of a port."""
        return self.survey.models[ref.device].ports[ref.port]

    @cached_property
    def sources(self) -> tuple[PortRef, ...]:
        """The ports that can feed it, sorted."""
        return tuple(ref for ref in self.ports if self.port(ref).supplies is not None)

    @property
    def source(self) -> PortRef | None:
        """The port that feeds it; None where there is none, or more than one."""
        return self.sources[0] if len(self.sources) == 1 else None

    @property
    def place(self) -> Place:
        """The device that feeds it, else the only one on it; by meaning, the ports that feed it, else those that draw.

        Where several devices take part, all of them.
        """
        refs = self.sources or tuple(draw.port for draw in self.draws) or self.ports
        devices = sorted({ref.device for ref in refs})
        path = ("devices", devices[0]) if len(devices) == 1 else ("devices",)
        return Place(path, f"devices / {' + '.join(str(ref) for ref in refs)}")

    @property
    def wired(self) -> bool:
        """True when there is a cable at any of its ports."""
        return any(ref in self.survey.topology.cables_at for ref in self.ports)

    @property
    def untold(self) -> tuple[PortRef, ...]:
        """Ports on it, or at the other end of a cable at it, whose terminals the catalog does not give, sorted."""
        topology = self.survey.topology
        at = {index for ref in self.ports for index in topology.cables_at.get(ref, ())}
        beside = {end for index in at for end in topology.ends[index]}
        return tuple(sorted(ref for ref in beside if not self.port(ref).terminals))

    @property
    def voltage(self) -> Voltage | None:
        """The nominal voltage of its only source, or None where the catalog gives none."""
        if self.source is None:
            return None
        voltage = self.port(self.source).voltage
        return voltage if voltage is not None and voltage.v > 0.0 else None

    def window(self, ref: PortRef) -> tuple[VoltageWindow, Basis] | None:
        """Return the voltages at which a device works, and where they come from, as `working_window` does."""
        return working_window(self.survey, ref)

    @cached_property
    def carrying(self) -> tuple[CableView, ...]:
        """The cables that a current flows in: all but those to ports at the end of the net that draw nothing."""
        keep = {*self.sources, *(draw.port for draw in self.draws)}
        at: dict[PortRef, set[int]] = {}
        by_index = {cable.index: cable for cable in self.cables}
        for cable in self.cables:
            for ref in cable.ends:
                at.setdefault(ref, set()).add(cable.index)
        leaves = [ref for ref, indexes in at.items() if len(indexes) == 1 and ref not in keep]
        for leaf in leaves:  # grows as leaves are taken off
            if len(at[leaf]) != 1:
                continue
            (index,) = at[leaf]
            del by_index[index]
            for ref in self.survey.topology.ends[index]:
                at[ref].discard(index)
                if ref != leaf and len(at[ref]) == 1 and ref not in keep:
                    leaves.append(ref)
        return tuple(by_index.values())

    @cached_property
    def unknown(self) -> tuple[CableView, ...]:
        """The cables in which a current flows and whose resistance the job does not tell."""
        return tuple(cable for cable in self.carrying if loop_of(cable) is None)

    @cached_property
    def outcome(self) -> Solution[PortRef] | Collapse[PortRef] | None:
        """The voltages that it settles at, or what gives way; None where that cannot be told."""
        if self.doubtful or self.source is None or self.voltage is None or self.unknown:
            return None
        wires = tuple(Wire(*cable.ends, ohm) for cable in self.carrying if (ohm := loop_of(cable)) is not None)
        return solve(Circuit(self.source, self.voltage.v, wires, {draw.port: draw.va for draw in self.draws}))

    @cached_property
    def voltages_v(self) -> Mapping[PortRef, float]:
        """The voltage at each port, V; empty where it cannot be told."""
        if not isinstance(self.outcome, Solution):
            return {}
        found = dict(self.outcome.voltages_v)
        reached = list(found)
        for ref in reached:  # grows along the cables that no current flows in
            for other in self._beside.get(ref, ()):
                if other not in found:
                    found[other] = found[ref]
                    reached.append(other)
        return found

    @cached_property
    def _beside(self) -> Mapping[PortRef, tuple[PortRef, ...]]:
        found: dict[PortRef, list[PortRef]] = {}
        for cable in self.cables:
            start, end = cable.ends
            found.setdefault(start, []).append(end)
            found.setdefault(end, []).append(start)
        return {ref: tuple(others) for ref, others in found.items()}

    @cached_property
    def drawn_va(self) -> float:
        """All that is drawn at its ports, VA."""
        return math.fsum(draw.va for draw in self.draws)

    @property
    def taken_va(self) -> float:
        """What its sources have to give, VA: the draws, and what the wires lose where that can be told."""
        return self.outcome.source_va if isinstance(self.outcome, Solution) else self.drawn_va

    @cached_property
    def margins_v(self) -> Mapping[PortRef, float]:
        """How far above the lowest that it works at each drawing port is, V, by port; where both are known."""
        return {
            draw.port: self.voltages_v[draw.port] - known[0].lowest.v
            for draw in self.draws
            if draw.port in self.voltages_v and (known := self.window(draw.port)) is not None
        }

    @property
    def worst(self) -> PortRef | None:
        """The drawing port with the least margin; None where no margin is known."""
        if not self.margins_v:
            return None
        least = min(self.margins_v.values())
        return next(ref for ref, margin in self.margins_v.items() if margin <= least + _ALIKE_V)

    def path_to(self, ref: PortRef) -> tuple[CableView, ...]:
        """Return the cables on the shortest way from the source to a port, the source's first; none where it is one."""
        came: dict[PortRef, tuple[PortRef, CableView] | None] = dict.fromkeys(self.sources)
        at: dict[PortRef, list[CableView]] = {}
        for cable in self.carrying:
            for end in cable.ends:
                at.setdefault(end, []).append(cable)
        reached = list(came)
        for here in reached:  # grows by what is next to it
            for cable in at.get(here, ()):
                other = _beyond(cable, here)
                if other not in came:
                    came[other] = (here, cable)
                    reached.append(other)
        found, here = [], ref
        while (before := came.get(here)) is not None:
            here, cable = before
            found.append(cable)
        return tuple(reversed(found))

    def way_to(self, ref: PortRef) -> tuple[Step, ...]:
        """Return what is lost on the shortest way from the source to a port; nothing where it cannot be told."""
        source, volts = self.source, self.voltages_v
        if source is None or ref not in volts:
            return ()
        steps, here = [], source
        for cable in self.path_to(ref):
            there, ohm = _beyond(cable, here), loop_of(cable)
            if ohm is not None:
                lost = volts[here] - volts[there]
                steps.append(Step(cable, ohm, lost / ohm, lost))
            here = there
        return tuple(steps)

    def with_gauges(self, gauges: Mapping[int, WireSize]) -> SupplyView:
        """Return the net with other conductor sizes in some of its cables, by their index; draws stay as they are."""
        cables = (
            evolve(cable, cable=evolve(cable.cable, gauge=gauges[cable.index])) if cable.index in gauges else cable
            for cable in self.cables
        )
        return evolve(self, cables=tuple(cables))


def working_window(survey: Survey, ref: PortRef) -> tuple[VoltageWindow, Basis] | None:
    """Return the voltages at which a port works, and where they come from.

    They are the catalog's, else common practice from its nominal voltage; None where it gives neither.
    """
    port, usual = survey.models[ref.device].ports[ref.port], survey.limits.voltage_window
    if port.window is not None:
        return port.window, _CATALOG
    nominal = port.voltage
    if nominal is None or nominal.v <= 0.0:
        return None
    lowest, highest = (Voltage.shown(nominal.v * part, nominal.unit) for part in (usual.lowest, usual.highest))
    return VoltageWindow(lowest, highest), usual.basis


def _beyond(cable: CableView, ref: PortRef) -> PortRef:
    start, end = cable.ends
    return end if ref == start else start


def supplies(survey: Survey) -> tuple[SupplyView, ...]:
    """Return every supply net of a job, by its first port; a port that draws or feeds alone is one of its own.

    What is fed comes before what it is fed from, since that has to bear the losses too. Nets that feed each other in a
    circle, and those above them, bear the nominal draws instead.
    """
    feeding = Feeding(survey.models, nets(survey))
    taken_va: dict[int, float] = {}
    views: dict[int, SupplyView] = {}
    for number in feeding.fed_first:
        views[number] = _view(survey, feeding, number, taken_va)
        if feeding.is_fed(number):
            taken_va[number] = views[number].taken_va
    return tuple(
        views[number] if number in views else _view(survey, feeding, number, taken_va)
        for number in range(len(feeding.nets))
    )


def _view(survey: Survey, feeding: Feeding, number: int, taken_va: Mapping[int, float]) -> SupplyView:
    net = feeding.nets[number]
    return SupplyView(
        survey,
        net.ports,
        net.cables,
        tuple(feeding.draws(net, taken_va)),
        net.doubtful,
        number in feeding.powered,
        number in feeding.circular,
    )
