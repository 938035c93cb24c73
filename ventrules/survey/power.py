"""Supply nets: what feeds what, what is drawn, and the voltage that is left at each device.

A net is what cables with both a supply and a common conductor join. A source holds its nominal voltage; a source that
is fed from another port of its device passes what its net takes, with what the wires lose, on to that port's net.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Final

from attrs import evolve, field, frozen

from ventrules.engine import Place
from ventrules.engine.once import once
from ventrules.job import Port, VoltageWindow
from ventrules.sources import Basis
from ventrules.survey.circuit import Circuit, Collapse, Solution, Wire, solve
from ventrules.survey.drawn import AtMost
from ventrules.survey.feeding import Draw, Feeding, loop_of, nets
from ventrules.survey.topology import PortRef
from ventrules.units import Voltage, WireSize

if TYPE_CHECKING:
    from ventrules.survey.bus_views import CableView
    from ventrules.survey.survey import Survey

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
        number: Its number among the job's nets.
        feeding: Which nets are fed from which.
        ports: Its ports, sorted.
        cables: The cables that carry its supply, in the job's order.
        doubtful: True when a conductor of a cable at it is not as it should be; then nothing is told of it.
    """

    survey: Survey = field(repr=False)
    number: int
    feeding: Feeding = field(repr=False)
    ports: tuple[PortRef, ...]
    cables: tuple[CableView, ...]
    doubtful: bool

    @property
    def powered(self) -> bool:
        """True when a source that is fed from nowhere stands at the head of it."""
        return self.number in self.feeding.powered

    @property
    def circular(self) -> bool:
        """True when all its sources are, in the end, fed from itself."""
        return self.number in self.feeding.circular

    @once
    def draws(self) -> tuple[Draw, ...]:
        """What is drawn, by port."""
        return self.survey.drawn.draws(self.number)

    @property
    def drawing(self) -> tuple[PortRef, ...]:
        """The ports that draw; unlike what they draw, that is known without the voltages."""
        return self._at_most.drawing

    @property
    def most_va(self) -> float:
        """A bound of what its sources have to give, VA, without the voltages; infinite where it takes those."""
        return self._at_most.most_va

    @property
    def surely_fed(self) -> bool:
        """True when every device on it has voltage enough, by a bound that does without the voltages themselves."""
        return self._at_most.fed

    @once
    def _at_most(self) -> AtMost:
        found = self.survey.drawn.at_most(self.number)
        own = self.survey.supplies[self.number] is self  # not with other gauges than the job's
        return found if own else AtMost(found.drawing, math.inf, fed=False)

    def port(self, ref: PortRef) -> Port:
        """Return the catalog entry of a port."""
        return self.survey.topology.ports[ref]

    @once
    def sources(self) -> tuple[PortRef, ...]:
        """The ports that can feed it, sorted."""
        ports = self.survey.topology.ports
        return tuple([ref for ref in self.ports if ports[ref].supplies is not None])

    @once
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

    @once
    def voltage(self) -> Voltage | None:
        """The nominal voltage of its only source, or None where the catalog gives none."""
        if self.source is None:
            return None
        voltage = self.port(self.source).voltage
        return voltage if voltage is not None and voltage.v > 0.0 else None

    def window(self, ref: PortRef) -> tuple[VoltageWindow, Basis] | None:
        """Return the voltages at which a device works, and where they come from, as `working_window` does."""
        known = self._windows
        return known[ref] if ref in known else self.survey.port_facts.window(ref)

    @once
    def _windows(self) -> Mapping[PortRef, tuple[VoltageWindow, Basis] | None]:
        facts = self.survey.port_facts
        return {ref: facts.window(ref) for ref in self.drawing}

    @once
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

    @once
    def unknown(self) -> tuple[CableView, ...]:
        """The cables in which a current flows and whose resistance the job does not tell."""
        return tuple([cable for cable in self.carrying if cable.loop_ohm is None])

    @once
    def outcome(self) -> Solution[PortRef] | Collapse[PortRef] | None:
        """The voltages that it settles at, or what gives way; None where that cannot be told."""
        if self.doubtful or self.source is None or self.voltage is None or self.unknown:
            return None
        wires = tuple([Wire(*cable.ends, ohm) for cable in self.carrying if (ohm := cable.loop_ohm) is not None])
        return solve(Circuit(self.source, self.voltage.v, wires, {draw.port: draw.va for draw in self.draws}))

    @once
    def voltages_v(self) -> Mapping[PortRef, float]:
        """The voltage at each port, V; empty where it cannot be told."""
        if not isinstance(self.outcome, Solution):
            return {}
        found = dict(self.outcome.voltages_v)
        if len(found) == len(self.ports):
            return found
        reached = list(found)
        for ref in reached:  # grows along the cables that no current flows in
            for other in self._beside.get(ref, ()):
                if other not in found:
                    found[other] = found[ref]
                    reached.append(other)
        return found

    @once
    def _beside(self) -> Mapping[PortRef, tuple[PortRef, ...]]:
        found: dict[PortRef, list[PortRef]] = {}
        for cable in self.cables:
            start, end = cable.ends
            found.setdefault(start, []).append(end)
            found.setdefault(end, []).append(start)
        return {ref: tuple(others) for ref, others in found.items()}

    @once
    def drawn_va(self) -> float:
        """All that is drawn at its ports, VA."""
        return math.fsum([draw.va for draw in self.draws])

    @property
    def taken_va(self) -> float:
        """What its sources have to give, VA: the draws, and what the wires lose where that can be told."""
        return self.outcome.source_va if isinstance(self.outcome, Solution) else self.drawn_va

    @once
    def margins_v(self) -> Mapping[PortRef, float]:
        """How far above the lowest that it works at each drawing port is, V, by port; where both are known."""
        found, volts = {}, self.voltages_v
        for draw in self.draws:
            known = self.window(draw.port) if draw.port in volts else None
            if known is not None:
                found[draw.port] = volts[draw.port] - known[0].lowest.v
        return found

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


def _beyond(cable: CableView, ref: PortRef) -> PortRef:
    start, end = cable.ends
    return end if ref == start else start


def supplies(survey: Survey) -> tuple[SupplyView, ...]:
    """Return every supply net of a job, by its first port; a port that draws or feeds alone is one of its own."""
    feeding = Feeding(survey.topology.ports, nets(survey))
    return tuple(
        [
            SupplyView(survey, number, feeding, net.ports, net.cables, net.doubtful)
            for number, net in enumerate(feeding.nets)
        ]
    )
