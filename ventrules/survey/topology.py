"""The bus graph: ports joined by cables into segments, segments joined by bridges, routes to a controller.

networkx is used behind this typed door only. Everything here is worked out in one pass each over
devices and cables.
"""

from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

from attrs import field, frozen

from ventrules.job import BusKind, Cable, Job, Model, Role

if TYPE_CHECKING:
    import networkx as nx

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
        device, _dot, port = end.partition(".")
        return cls(device, port)


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


@frozen(slots=False)
class Topology:
    """The bus graph of one job."""

    job: Job
    models: Mapping[str, Model]
    _kinds: Mapping[PortRef, BusKind] = field(alias="kinds")

    @classmethod
    def of(cls, job: Job, models: Mapping[str, Model]) -> "Topology":
        """Return the topology of a job."""
        kinds = {
            PortRef(name, port): described.bus
            for name, model in models.items()
            for port, described in model.ports.items()
        }
        return cls(job, models, kinds)

    @cached_property
    def ends(self) -> tuple[tuple[PortRef, PortRef], ...]:
        """The two ports of each cable, by the cable's index."""
        return tuple((PortRef.of(cable.start), PortRef.of(cable.end)) for cable in self.job.cables)

    @cached_property
    def graph(self) -> "nx.MultiGraph[PortRef | str]":
        """Devices, ports and cables as one multigraph: nodes are device names and ports."""
        import networkx as nx  # noqa: PLC0415 - slow to import, and most checks need no more than segments

        graph: nx.MultiGraph[PortRef | str] = nx.MultiGraph()
        graph.add_nodes_from(self.models, what="device")
        for port, kind in self._kinds.items():
            graph.add_node(port, what="port", kind=kind)
            graph.add_edge(port.device, port, what="port")
        for index, (start, end) in enumerate(self.ends):
            graph.add_edge(start, end, what="cable", cable=index)
        return graph

    def kind(self, port: PortRef) -> BusKind:
        """Return the kind of a port."""
        return self._kinds[port]

    @cached_property
    def mismatched(self) -> tuple[int, ...]:
        """Indexes of the cables whose two ports are of different kinds."""
        return tuple(index for index, (a, b) in enumerate(self.ends) if self._kinds[a] is not self._kinds[b])

    @cached_property
    def cables_at(self) -> Mapping[PortRef, tuple[int, ...]]:
        """Indexes of the cables at each port that has any."""
        found: dict[PortRef, list[int]] = {}
        for index, pair in enumerate(self.ends):
            for port in set(pair):
                found.setdefault(port, []).append(index)
        return {port: tuple(indexes) for port, indexes in found.items()}

    @cached_property
    def segments(self) -> tuple[Segment, ...]:
        """Every segment, in the order of its first port; a port without a sound cable is one of its own."""
        found = sorted(tuple(sorted(ports)) for ports in self._joined())
        number_of = {port: number for number, ports in enumerate(found) for port in ports}
        cables: list[list[int]] = [[] for _ in found]
        wrong = frozenset(self.mismatched)
        for index, (start, _end) in enumerate(self.ends):
            if index not in wrong:
                cables[number_of[start]].append(index)
        return tuple(
            Segment(number, self._kinds[ports[0]], ports, tuple(cables[number])) for number, ports in enumerate(found)
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
        for port in self._kinds:
            if port not in seen:
                seen.add(port)
                ports = [port]
                for near in ports:  # grows as neighbors are reached
                    fresh = [other for other in beside.get(near, ()) if other not in seen]
                    seen.update(fresh)
                    ports += dict.fromkeys(fresh)
                yield ports

    @cached_property
    def _segment_of(self) -> Mapping[PortRef, Segment]:
        return {port: segment for segment in self.segments for port in segment.ports}

    def segment_of(self, port: PortRef) -> Segment:
        """Return the segment that a port lies on."""
        return self._segment_of[port]

    def ports_of(self, device: str, *kinds: BusKind) -> tuple[PortRef, ...]:
        """Return a device's ports of the given kinds, sorted."""
        key = (device, kinds)
        known = self._ports_found.get(key)
        if known is None:
            ports = self.models[device].ports
            known = tuple(PortRef(device, name) for name in sorted(ports) if ports[name].bus in kinds)
            self._ports_found[key] = known
        return known

    @cached_property
    def _ports_found(self) -> dict[tuple[str, tuple[BusKind, ...]], tuple[PortRef, ...]]:
        return {}

    @cached_property
    def bridges(self) -> tuple[str, ...]:
        """Interface modules and zone panels with a port on both buses, sorted."""
        return tuple(
            name
            for name in sorted(self.models)
            if self.models[name].role in BRIDGE_ROLES
            and self.ports_of(name, BusKind.SYSTEM)
            and self.ports_of(name, BusKind.VENTILATOR)
        )

    @cached_property
    def _bridges_by_segment(self) -> Mapping[int, tuple[str, ...]]:
        found: dict[int, list[str]] = {}
        for name in self.bridges:
            for port in self.ports_of(name, BusKind.SYSTEM, BusKind.VENTILATOR):
                found.setdefault(self._segment_of[port].number, []).append(name)
        return {number: tuple(names) for number, names in found.items()}

    @cached_property
    def speakers(self) -> Mapping[int, tuple[PortRef, ...]]:
        """Number of a segment to the ports of bridges and controllers on it, sorted; only where there are any."""
        found: dict[int, list[PortRef]] = {}
        for name in sorted({*self.bridges, *self.controllers}):
            for port in self.ports_of(name, BusKind.SYSTEM, BusKind.VENTILATOR):
                found.setdefault(self._segment_of[port].number, []).append(port)
        return {number: tuple(ports) for number, ports in found.items()}

    @cached_property
    def controllers(self) -> tuple[str, ...]:
        """The controllers, sorted."""
        return tuple(name for name in sorted(self.models) if self.models[name].role is Role.CONTROLLER)

    @cached_property
    def controllers_on(self) -> Mapping[int, tuple[str, ...]]:
        """Number of a segment to the controllers on it, sorted; only where there are any."""
        found: dict[int, list[str]] = {}
        for name in self.controllers:
            for number in {
                self._segment_of[port].number for port in self.ports_of(name, BusKind.SYSTEM, BusKind.VENTILATOR)
            }:
                found.setdefault(number, []).append(name)
        return {number: tuple(names) for number, names in found.items()}

    def bridges_on(self, segment: Segment) -> tuple[str, ...]:
        """Return the bridges with a port on a segment, sorted."""
        return self._bridges_by_segment.get(segment.number, ())

    @cached_property
    def _onward(self) -> Mapping[int | str, int | str]:
        """For each segment the device, and for each bridge the segment, that is nearer to a controller.

        One breadth-first search from all controllers at once over segments and bridges.
        """
        reached = list(self.controllers)
        onward: dict[int | str, int | str] = {}
        for device in reached:  # grows as bridges are reached
            for port in self.ports_of(device, BusKind.SYSTEM, BusKind.VENTILATOR):
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
        ways = [self._follow(port) for port in self.ports_of(ventilator, BusKind.SYSTEM, BusKind.VENTILATOR)]
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
        ports = self.ports_of(device, BusKind.SYSTEM, BusKind.VENTILATOR)
        return next(port for port in ports if self._segment_of[port].number == segment.number)

    @cached_property
    def rings(self) -> tuple[tuple[int, ...], ...]:
        """For each segment with more cables than a tree has: cables that join the same ports, then one larger ring."""
        found = []
        for segment in self.segments:
            if segment.kind is BusKind.CONTACT or len(segment.cables) < len(segment.ports):
                continue
            alike: dict[tuple[PortRef, ...], list[int]] = {}
            for index in sorted(segment.cables, key=self._ends_sorted):
                alike.setdefault(tuple(self._ends_sorted(index)), []).append(index)
            found += [tuple(sorted(indexes)) for indexes in alike.values() if len(indexes) > 1]
            if len(alike) >= len(segment.ports):
                found.append(self._larger_ring(alike))
        return tuple(found)

    def _larger_ring(self, alike: Mapping[tuple[PortRef, ...], Sequence[int]]) -> tuple[int, ...]:
        """Return a ring of cables between different ports; of those that join the same, the first."""
        import networkx as nx  # noqa: PLC0415 - slow to import, and needed for a fault only

        wires: nx.Graph[PortRef] = nx.Graph()
        for (first, second), indexes in alike.items():
            wires.add_edge(first, second, index=indexes[0])
        return tuple(sorted(wires.edges[edge]["index"] for edge in nx.find_cycle(wires)))

    def _ends_sorted(self, index: int) -> list[PortRef]:
        return sorted(self.ends[index])

    @cached_property
    def isolated(self) -> tuple[str, ...]:
        """Devices with bus ports and no cable on any of them, sorted."""
        wired = {port.device for pair in self.ends for port in pair if self._kinds[port] is not BusKind.CONTACT}
        return tuple(
            name
            for name in sorted(self.models)
            if name not in wired and self.ports_of(name, BusKind.SYSTEM, BusKind.VENTILATOR)
        )


def cable_name(cable: Cable) -> str:
    """Return a cable's name by meaning: its two ends, whichever way it was drawn."""
    first, second = sorted((cable.start, cable.end))
    return f"{first} to {second}"
