"""What a job would show if some parts had failed: who has its supply, and who exchanges messages.

Faults only take away, so whatever works without a fault in any part of the way it works by, works. That is what makes
the search complete: the parts of one way by which a device would work are a conflict with its having failed.

Two things are simplified so that this holds. A short stops the net as it is recorded, also where an open conductor
would keep it away from a part of the net. And two crossed cables in a row do not make up for each other.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import Final, NamedTuple, TypeAlias

from attrs import field, frozen

from ventrules.diagnosis.wires import TALKING, PortNode, Wires
from ventrules.job import BusKind
from ventrules.survey import PortRef


class Part(NamedTuple):
    """One part that may fail: a conductor, a data net, a power net, a device, a transceiver, a source."""

    what: str
    which: int | str | PortRef


Parts: TypeAlias = frozenset[Part]
"""Parts that have failed, or that something works by."""

NOTHING: Final[Parts] = frozenset()
LEAD: Final = "lead"
DATA_NET: Final = "data net"
POWER_NET: Final = "power net"
DEVICE: Final = "device"
TRANSCEIVER: Final = "transceiver"
SOURCE: Final = "source"

_Talkers: TypeAlias = Mapping[tuple[BusKind, str, int], Sequence[PortNode]]


@frozen(eq=False)
class _Wiring:
    """What is still joined: the label of each node, and by kind, role and label the ports that can talk there."""

    labels: list[int]
    talkers: _Talkers


@frozen(eq=False, slots=False)
class Simulation:
    """Works out worlds of one job, each once."""

    wires: Wires = field(repr=False)
    _worlds: dict[Parts, World] = field(factory=dict, init=False, repr=False)
    _wirings: dict[frozenset[int], _Wiring] = field(factory=dict, init=False, repr=False)

    def world(self, failed: Parts = NOTHING) -> World:
        """Return the world in which some parts have failed."""
        found = self._worlds.get(failed)
        if found is None:
            found = self._worlds[failed] = World(self, failed)
        return found

    @property
    def worked_out(self) -> int:
        """How many worlds were worked out so far."""
        return len(self._worlds)

    def wiring(self, cuts: frozenset[int]) -> _Wiring:
        """Return what is joined when some conductors are cut."""
        found = self._wirings.get(cuts)
        if found is None:
            labels = self.wires.labels(cuts).of
            talkers: dict[tuple[BusKind, str, int], list[PortNode]] = {}
            for port in self.talking:
                for role, node in port.data.items():
                    talkers.setdefault((port.port.bus, role, labels[node]), []).append(port)
            found = self._wirings[cuts] = _Wiring(labels, talkers)
        return found

    @cached_property
    def talking(self) -> tuple[PortNode, ...]:
        """Ports that messages can pass."""
        return tuple(port for port in self.wires.ports.values() if port.port.bus in TALKING and port.wired)

    @cached_property
    def talking_of(self) -> Mapping[str, tuple[PortNode, ...]]:
        """Those ports by device."""
        found: dict[str, list[PortNode]] = {}
        for port in self.talking:
            found.setdefault(port.ref.device, []).append(port)
        return {name: tuple(ports) for name, ports in found.items()}

    @cached_property
    def sources(self) -> tuple[PortNode, ...]:
        """Ports that supply."""
        return tuple(port for port in self.wires.ports.values() if port.port.supplies is not None)

    @cached_property
    def takers(self) -> tuple[PortNode, ...]:
        """Ports at which there can be a supply."""
        return tuple(port for port in self.wires.ports.values() if port.supply and port.wired)

    @cached_property
    def drawing(self) -> Mapping[str, tuple[PortNode, ...]]:
        """Ports that each device lives on: those with a cable, or all where none has one."""
        found = {}
        for name in self.wires.observable:
            ports = [port for port in self.wires.ports_of(name) if port.draws]
            found[name] = tuple([port for port in ports if port.wired] or ports)
        return found

    @cached_property
    def bridges(self) -> frozenset[str]:
        """Devices that pass messages on."""
        return frozenset(self.wires.survey.topology.bridges)


def _feeds(source: PortNode, taker: PortNode, labels: list[int]) -> bool:
    """Say whether every conductor that a port needs of a supply leads to one source."""
    needed = source.power.keys() & taker.power.keys()
    if not (taker.open or source.open) and len(needed) < len(taker.power):
        return False
    return all(labels[source.power[role]] == labels[taker.power[role]] for role in needed)


def _talk(one: PortNode, other: PortNode, labels: list[int]) -> bool:
    """Say whether messages pass between two ports."""
    roles = one.data.keys() & other.data.keys()
    if not (one.open or other.open) and len(roles) < max(len(one.data), len(other.data)):
        return False
    theirs, own = one.port.dialects, other.port.dialects
    if theirs and own and not set(theirs) & set(own):
        return False
    return all(labels[one.data[role]] == labels[other.data[role]] for role in roles)


class World:
    """What a job shows when some parts have failed."""

    def __init__(self, simulation: Simulation, failed: Parts) -> None:
        self._simulation: Final = simulation
        self._wires: Final = simulation.wires
        self.failed: Final = failed
        self._cuts: Final = frozenset(
            part.which for part in failed if part.what == LEAD and isinstance(part.which, int)
        )
        self._wiring: Final = simulation.wiring(self._cuts)
        self._fed: Final[dict[PortRef, PortNode]] = {}
        self._live: Final[dict[PortRef, PortNode | None]] = {}
        self._reached: Final[dict[str, tuple[PortNode, PortNode] | None]] = {}
        self._supply()
        self._powered: Final = {name: self._lives(name) for name in self._wires.observable}
        self._spread()

    # What works

    def powered(self, device: str) -> bool:
        """Say whether a device shows that it has its supply."""
        return self._powered[device]

    def reachable(self, device: str) -> bool:
        """Say whether a device exchanges messages with a controller; a controller does while it is powered."""
        return device in self._reached

    def voltage(self, port: PortRef) -> bool:
        """Say whether there is a supply at a port's terminals."""
        return port in self._fed or port in self._live

    def _supply(self) -> None:
        """Find the sources that live and the ports that they feed; sources fed from others follow these."""
        labels, waiting = self._wiring.labels, list(self._simulation.takers)
        new = [source for source in self._simulation.sources if source.port.fed_from is None and self._gives(source)]
        self._live.update((source.ref, None) for source in new)
        while new:
            at: dict[tuple[str, int], list[PortNode]] = {}
            for source in new:
                for role, node in source.supply.items():
                    at.setdefault((role, labels[node]), []).append(source)
            still = []
            for taker in waiting:
                near = [s for role, node in taker.supply.items() for s in at.get((role, labels[node]), ())]
                found = next((s for s in near if s.ref != taker.ref and _feeds(s, taker, labels)), None)
                if found is None:
                    still.append(taker)
                else:
                    self._fed[taker.ref] = found
            waiting = still
            new = list(self._follow())

    def _follow(self) -> list[PortNode]:
        """Add the sources that live by what is fed so far, and return them."""
        found = []
        for source in self._simulation.sources:
            if source.port.fed_from is None or source.ref in self._live:
                continue
            by = PortRef(source.ref.device, source.port.fed_from)
            if (by in self._fed or by in self._live) and self._works(source.ref.device) and self._gives(source):
                found.append((source, self._fed.get(by)))
        self._live.update((source.ref, by) for source, by in found)
        return [source for source, _by in found]

    def _works(self, device: str) -> bool:
        return Part(DEVICE, device) not in self.failed

    def _gives(self, source: PortNode) -> bool:
        if Part(SOURCE, source.ref) in self.failed:
            return False
        nets = [self._wires.nets[node] for node in source.supply.values()]
        return not any(net in self._wires.shorted or Part(POWER_NET, net) in self.failed for net in nets)

    def _lives(self, device: str) -> bool:
        return self._works(device) and all(port.ref in self._fed for port in self._simulation.drawing[device])

    def _speaks(self, port: PortNode) -> bool:
        if Part(TRANSCEIVER, port.ref) in self.failed or not port.data:
            return False
        nets = [self._wires.nets[node] for node in port.data.values()]
        return not any(net in self._wires.stopped or Part(DATA_NET, net) in self.failed for net in nets)

    def _spread(self) -> None:
        """Follow messages from every powered controller over powered bridges."""
        labels, talkers = self._wiring.labels, self._wiring.talkers
        queue = [name for name in self._wires.survey.topology.controllers if self._powered.get(name, False)]
        self._reached.update(dict.fromkeys(queue))
        done = set()
        for device in queue:  # grows as bridges are reached
            for own in self._simulation.talking_of.get(device, ()):
                here = tuple((role, labels[node]) for role, node in own.data.items())
                alike = (own.port.bus, own.open, own.port.dialects, here)
                if alike in done or not self._speaks(own):
                    continue
                done.add(alike)
                for role, label in here:
                    for other in talkers.get((own.port.bus, role, label), ()):
                        name = other.ref.device
                        if name in self._reached or not self._powered[name] or not self._speaks(other):
                            continue
                        if _talk(own, other, labels):
                            self._reached[name] = (own, other)
                            if name in self._simulation.bridges:
                                queue.append(name)

    # By what it works

    def why_powered(self, device: str) -> set[Part]:
        """Return the parts by which a device has its supply, which it has."""
        parts = {Part(DEVICE, device)}
        for port in self._simulation.drawing[device]:
            parts |= self._why_fed(port.ref)
        return parts

    def why_reachable(self, device: str) -> set[Part]:
        """Return the parts by which a device exchanges messages, which it does."""
        parts = self.why_powered(device)
        while (way := self._reached[device]) is not None:
            own, other = way
            parts |= {Part(TRANSCEIVER, own.ref), Part(TRANSCEIVER, other.ref)}
            for role in own.data.keys() & other.data.keys():
                parts |= self._way(own.data[role], other.data[role])
                parts.add(Part(DATA_NET, self._wires.nets[own.data[role]]))
            device = own.ref.device
            parts |= self.why_powered(device)
        return parts

    def why_voltage(self, port: PortRef) -> set[Part]:
        """Return the parts by which there is a supply at a port, which there is."""
        return self._why_fed(port) if port in self._fed else self._why_live(port)

    def _why_fed(self, port: PortRef) -> set[Part]:
        source, taker = self._fed[port], self._wires.ports[port]
        parts = self._why_live(source.ref)
        for role in source.power.keys() & taker.power.keys():
            parts |= self._way(source.power[role], taker.power[role])
        return parts

    def _why_live(self, source: PortRef) -> set[Part]:
        node = self._wires.ports[source]
        parts = {Part(SOURCE, source)}
        parts |= {Part(POWER_NET, self._wires.nets[supply]) for supply in node.supply.values()}
        if node.port.fed_from is not None:
            by = PortRef(source.device, node.port.fed_from)
            parts.add(Part(DEVICE, source.device))
            # a source that came to life by another source at the port itself has none that feeds this port
            parts |= self._why_fed(by) if self._live[source] is not None else self._why_live(by)
        return parts

    def _way(self, start: int, end: int) -> set[Part]:
        """Return the conductors of a shortest way between two joined nodes."""
        if start == end:
            return set()
        came: dict[int, tuple[int, int]] = {start: (-1, -1)}
        queue = deque([start])
        while queue and end not in came:
            here = queue.popleft()
            for lead, there in self._wires.near.get(here, ()):
                if there not in came and lead not in self._cuts:
                    came[there] = (lead, here)
                    queue.append(there)
        parts = set()
        while end != start:
            lead, end = came[end]
            parts.add(Part(LEAD, lead))
        return parts
