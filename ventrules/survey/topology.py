"""The bus graph: ports joined by cables into segments, segments joined by bridges, routes to a controller.

networkx is used behind this typed door only. Everything here is worked out in one pass each over
devices and cables.
"""

from collections import Counter
from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, Final, NamedTuple

from attrs import field, frozen

from ventrules.engine.once import once
from ventrules.job import BusKind, Cable, Job, Model, Port, Role
from ventrules.survey.rings import rings_of

if TYPE_CHECKING:
    import networkx as nx

_FEW: Final = 100  # devices and cables; the topology of a larger job is not kept for others: little memory is held
BRIDGE_ROLES = frozenset({Role.INTERFACE_MODULE, Role.ZONE_PANEL})


class PortRef(NamedTuple):
    """One port of one device."""

    device: str
    port: str

    def __str__(self) -> str:
        return f"{self.device}.{self.port}"

    @classmethod
    def of(cls, end: str) -> "PortRef":
        """Return the port that a cable's end names."""
        return _named(end)


@lru_cache(maxsize=4096)
def _named(end: str) -> PortRef:
    """Return the port of a name; jobs use the same few names over and over."""
    device, _dot, port = end.partition(".")
    return PortRef(device, port)


_ref: Final = lru_cache(maxsize=4096)(PortRef)
"""The port of a device's and a port's name, likewise."""


@frozen
class Segment:
    """Ports joined by cables, all of one kind: one electrical bus, or one contact circuit.

    Attributes:
        number: Its index in the topology.
        kind: The kind of its ports.
        ports: The ports, sorted.
        cables: Indexes of its cables.
    """

    number: int
    kind: BusKind
    ports: tuple[PortRef, ...]
    cables: tuple[int, ...]

    @property
    def devices(self) -> tuple[str, ...]:
        """The devices on it, sorted."""
        return tuple(sorted({port.device for port in self.ports}))


@frozen
class Hop:
    """One step of a route: from port to port across one segment."""

    start: PortRef
    end: PortRef
    segment: int

    def __str__(self) -> str:
        return f"{self.start} to {self.end}"


@frozen
class Route:
    """The way a ventilator's messages take to a controller."""

    ventilator: str
    controller: str
    hops: tuple[Hop, ...]

    @property
    def bridges(self) -> tuple[str, ...]:
        """The devices that carry messages from one bus to the next, from the ventilator on."""
        return tuple(hop.end.device for hop in self.hops[:-1])

    def __str__(self) -> str:
        return " → ".join((self.ventilator, *self.bridges, self.controller))


@frozen
class _Layout:
    """All that a topology follows from; models are told apart by identity, which is theirs as long as this has them.

    Attributes:
        devices: Each device, with the identity of its model.
        ends: The two ends of each cable, as they are written.
        models: The model of each device.
    """

    devices: tuple[tuple[str, int], ...]
    ends: tuple[tuple[str, str], ...]
    models: Mapping[str, Model] = field(eq=False, repr=False)


@frozen(eq=False, slots=False)
class Topology:
    """The bus graph of the jobs with one layout.

    Attributes:
        models: The model of each device.
        written: The two ends of each cable, as they are written.
        ports: Every port in the catalog's words.
    """

    models: Mapping[str, Model]
    written: tuple[tuple[str, str], ...]
    ports: Mapping[PortRef, Port] = field(repr=False)

    @classmethod
    def of(cls, job: Job, models: Mapping[str, Model]) -> "Topology":
        """Return the topology of a job; homes of a district that are wired alike share one."""
        devices = tuple([(name, id(model)) for name, model in models.items()])
        layout = _Layout(devices, tuple([(cable.start, cable.end) for cable in job.cables]), models)
        return _laid_out(layout) if len(devices) + len(layout.ends) <= _FEW else _laid_out.__wrapped__(layout)

    @once
    def names(self) -> tuple[str, ...]:
        """The devices, sorted."""
        return tuple(sorted(self.models))

    @once
    def ends(self) -> tuple[tuple[PortRef, PortRef], ...]:
        """The two ports of each cable, by the cable's index."""
        return tuple([(_named(start), _named(end)) for start, end in self.written])

    @once
    def cable_names(self) -> tuple[str, ...]:
        """The name of each cable, by its index: its two ends, numbered where several join the same two."""
        seen: dict[str, int] = {}
        names = []
        for start, end in self.written:
            name = _joining(start, end)
            seen[name] = seen.get(name, 0) + 1
            names.append(f"{name} ({seen[name]})" if seen[name] > 1 else name)
        return tuple(names)

    @once
    def graph(self) -> "nx.MultiGraph[PortRef | str]":
        """Devices, ports and cables as one multigraph: nodes are device names and ports."""
        import networkx as nx  # noqa: PLC0415 - slow to import, and most checks need no more than segments

        graph: nx.MultiGraph[PortRef | str] = nx.MultiGraph()
        graph.add_nodes_from(self.models, what="device")
        for port, described in self.ports.items():
            graph.add_node(port, what="port", kind=described.bus)
            graph.add_edge(port.device, port, what="port")
        for index, (start, end) in enumerate(self.ends):
            graph.add_edge(start, end, what="cable", cable=index)
        return graph

    def kind(self, port: PortRef) -> BusKind:
        """Return the kind of a port."""
        return self.ports[port].bus

    @once
    def mismatched(self) -> tuple[int, ...]:
        """Indexes of the cables whose two ports are of different kinds."""
        ports = self.ports
        return tuple([index for index, (a, b) in enumerate(self.ends) if ports[a].bus is not ports[b].bus])

    @once
    def cables_at(self) -> Mapping[PortRef, tuple[int, ...]]:
        """Indexes of the cables at each port that has any."""
        found: dict[PortRef, list[int]] = {}
        for index, (start, end) in enumerate(self.ends):
            found.setdefault(start, []).append(index)
            if end != start:
                found.setdefault(end, []).append(index)
        return {port: tuple(indexes) for port, indexes in found.items()}

    @once
    def segments(self) -> tuple[Segment, ...]:
        """Every segment, in the order of its first port; a port without a sound cable is one of its own."""
        found = [tuple(sorted(ports)) for ports in self._joined()]
        found.sort()
        number_of = {port: number for number, ports in enumerate(found) for port in ports}
        cables: list[list[int]] = [[] for _ in found]
        wrong = frozenset(self.mismatched)
        for index, (start, _end) in enumerate(self.ends):
            if index not in wrong:
                cables[number_of[start]].append(index)
        described = self.ports
        return tuple(
            [
                Segment(number, described[ports[0]].bus, ports, tuple(cables[number]))
                for number, ports in enumerate(found)
            ]
        )

    def _joined(self) -> Iterator[list[PortRef]]:
        """Yield the ports that sound cables join, each port once."""
        wrong = frozenset(self.mismatched)
        beside: dict[PortRef, list[PortRef]] = {}
        for index, (start, end) in enumerate(self.ends):
            if index not in wrong:
                beside.setdefault(start, []).append(end)
                beside.setdefault(end, []).append(start)
        seen: set[PortRef] = set()
        for port in self.ports:
            if port not in seen:
                ports = [port]
                if port in beside:
                    seen.add(port)
                    for near in ports:  # grows as neighbors are reached
                        for other in beside[near]:
                            if other not in seen:
                                seen.add(other)
                                ports.append(other)
                yield ports

    @once
    def _segment_of(self) -> Mapping[PortRef, Segment]:
        return {port: segment for segment in self.segments for port in segment.ports}

    def segment_of(self, port: PortRef) -> Segment:
        """Return the segment that a port lies on."""
        return self._segment_of[port]

    def ports_of(self, device: str, *kinds: BusKind) -> tuple[PortRef, ...]:
        """Return a device's ports of the given kinds, sorted."""
        ports = self.models[device].ports
        return tuple([_ref(device, name) for name in sorted(ports) if ports[name].bus in kinds])

    def bus_ports(self, device: str) -> tuple[PortRef, ...]:
        """Return a device's ports that carry messages, sorted."""
        return tuple([_ref(device, name) for name in self.models[device].bus_ports])

    @once
    def bridges(self) -> tuple[str, ...]:
        """Interface modules and zone panels with a port on both buses, sorted."""
        return tuple([name for name in self.names if _is_bridge(self.models[name])])

    @once
    def _bridges_by_segment(self) -> Mapping[int, tuple[str, ...]]:
        found: dict[int, list[str]] = {}
        for name in self.bridges:
            for port in self.bus_ports(name):
                found.setdefault(self._segment_of[port].number, []).append(name)
        return {number: tuple(names) for number, names in found.items()}

    @once
    def speakers(self) -> Mapping[int, tuple[PortRef, ...]]:
        """Number of a segment to the ports of bridges and controllers on it, sorted; only where there are any."""
        found: dict[int, list[PortRef]] = {}
        for name in sorted({*self.bridges, *self.controllers}):
            for port in self.bus_ports(name):
                found.setdefault(self._segment_of[port].number, []).append(port)
        return {number: tuple(ports) for number, ports in found.items()}

    @once
    def controllers(self) -> tuple[str, ...]:
        """The controllers, sorted."""
        return tuple([name for name in self.names if self.models[name].role is Role.CONTROLLER])

    @once
    def controllers_on(self) -> Mapping[int, tuple[str, ...]]:
        """Number of a segment to the controllers on it, sorted; only where there are any."""
        found: dict[int, list[str]] = {}
        for name in self.controllers:
            for number in {self._segment_of[port].number for port in self.bus_ports(name)}:
                found.setdefault(number, []).append(name)
        return {number: tuple(names) for number, names in found.items()}

    def called_by(self, segment: Segment) -> tuple[str, ...]:
        """Return what a segment is called by: its controllers, or all its devices where it has none."""
        return self.controllers_on.get(segment.number, ()) or segment.devices

    @once
    def called_alike(self) -> frozenset[tuple[str, ...]]:
        """What more than one system bus that joins ports is called by."""
        buses = [segment for segment in self.segments if segment.kind is BusKind.SYSTEM and len(segment.ports) > 1]
        times = Counter(map(self.called_by, buses))
        return frozenset(names for names, count in times.items() if count > 1)

    def bridges_on(self, segment: Segment) -> tuple[str, ...]:
        """Return the bridges with a port on a segment, sorted."""
        return self._bridges_by_segment.get(segment.number, ())

    @once
    def _onward(self) -> Mapping[int | str, int | str]:
        """For each segment the device, and for each bridge the segment, that is nearer to a controller.

        One breadth-first search from all controllers at once over segments and bridges.
        """
        reached = list(self.controllers)
        onward: dict[int | str, int | str] = {}
        for device in reached:  # grows as bridges are reached
            for port in self.bus_ports(device):
                segment = self._segment_of[port]
                if segment.number not in onward:
                    onward[segment.number] = device
                    fresh = [name for name in self.bridges_on(segment) if name not in onward and name != device]
                    onward.update(dict.fromkeys(fresh, segment.number))
                    reached += fresh
        return onward

    def reaches_controller(self, port: PortRef) -> bool:
        """Say whether messages from a port find a controller."""
        return self._segment_of[port].number in self._onward

    def route(self, ventilator: str) -> Route | None:
        """Return the shortest way from a ventilator to a controller, or None when there is none."""
        if ventilator not in self._routes:
            self._routes[ventilator] = self._shortest(ventilator)
        return self._routes[ventilator]

    @once
    def _routes(self) -> dict[str, Route | None]:
        return {}

    def _shortest(self, ventilator: str) -> Route | None:
        ways = [self._follow(port) for port in self.bus_ports(ventilator)]
        found = [hops for hops in ways if hops]
        if not found:
            return None
        hops = min(found, key=len)
        return Route(ventilator, hops[-1].end.device, tuple(hops))

    def _follow(self, port: PortRef) -> list[Hop]:
        hops: list[Hop] = []
        here = port
        while True:
            segment = self._segment_of[here]
            device = self._onward.get(segment.number)
            if not isinstance(device, str):
                return []
            hops.append(Hop(here, self._port_on(segment, device), segment.number))
            beyond = self._onward.get(device)
            if not isinstance(beyond, int):
                return hops
            here = self._port_on(self.segments[beyond], device)

    def _port_on(self, segment: Segment, device: str) -> PortRef:
        return next(port for port in self.bus_ports(device) if self._segment_of[port].number == segment.number)

    @once
    def rings(self) -> tuple[tuple[int, ...], ...]:
        """For each segment with more cables than a tree has: cables that join the same ports, then one larger ring."""
        ends = self.ends
        buses = [segment for segment in self.segments if segment.kind is not BusKind.CONTACT]
        return tuple([ring for bus in buses for ring in rings_of(len(bus.ports), {i: ends[i] for i in bus.cables})])

    @once
    def isolated(self) -> tuple[str, ...]:
        """Devices with bus ports and no cable on any of them, sorted."""
        wired = {port.device for pair in self.ends for port in pair if self.ports[port].bus is not BusKind.CONTACT}
        return tuple([name for name in self.names if name not in wired and self.models[name].bus_ports])


@lru_cache(maxsize=32)
def _laid_out(layout: _Layout) -> Topology:
    models = layout.models
    ports = {_ref(name, key): port for name, model in models.items() for key, port in model.ports.items()}
    return Topology(models, layout.ends, ports)


def _is_bridge(model: Model) -> bool:
    return model.role in BRIDGE_ROLES and bool(model.system_ports) and bool(model.ventilator_ports)


def cable_name(cable: Cable) -> str:
    """Return a cable's name by meaning: its two ends, whichever way it was drawn."""
    return _joining(cable.start, cable.end)


def _joining(start: str, end: str) -> str:
    first, second = sorted((start, end))
    return f"{first} to {second}"
