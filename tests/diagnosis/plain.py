"""A plain simulation of faults, by asking for paths between terminals again and again: the oracle of diagnosis."""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final, NamedTuple, TypeAlias

import networkx as nx

from ventrules.diagnosis import FaultKind, SingleFault
from ventrules.job import BusKind, Cable, Job, Port, Role

Terminal: TypeAlias = tuple[str, str]
"""A port, as `device.port`, and a terminal."""

BUSES: Final = (BusKind.SYSTEM, BusKind.VENTILATOR)
PAIR: Final = ("data+", "data-")
FEED: Final = ("supply", "common")


class Shown(NamedTuple):
    """What a job shows."""

    powered: Mapping[str, bool]
    reachable: Mapping[str, bool]
    voltages: Mapping[str, bool]


def names_of(job: Job) -> dict[str, Cable]:
    """The cables by their names: sorted ends, and a number for those of the same ends."""
    found: dict[str, Cable] = {}
    for cable in job.cables:
        name = " to ".join(sorted((cable.start, cable.end), key=lambda end: end.split(".")))
        found[name if name not in found else f"{name} (2)"] = cable
    return found


def ports_of(job: Job) -> dict[str, Port]:
    return {f"{name}.{port}": found for name in job.devices for port, found in job.model_of(name).ports.items()}


def edges(job: Job, cable: Cable) -> Iterator[tuple[Terminal, Terminal]]:
    """The terminals that a cable joins."""
    ports = ports_of(job)
    if cable.conductors is None:
        for terminal in ports[cable.start].terminals:
            if terminal in ports[cable.end].terminals:
                yield (cable.start, terminal), (cable.end, terminal)
    else:
        for joined in cable.conductors:
            if joined.start is not None and joined.end is not None:
                yield (cable.start, joined.start), (cable.end, joined.end)


class Plain:
    """The plain simulation of one job whose terminals are called by their roles."""

    def __init__(self, job: Job, faults: Iterable[SingleFault] = ()) -> None:
        self.job = job
        self.ports = ports_of(job)
        self.faults = list(faults)
        self.cables = {name: list(edges(job, cable)) for name, cable in names_of(job).items()}
        self.whole = self.graph(self.cables.values())
        self.net_of = {t: i for i, net in enumerate(nx.connected_components(self.whole)) for t in net}
        left = {name: [e for e in found if not self.cut(name, e)] for name, found in self.cables.items()}
        self.now = self.graph(left.values())
        self.live: set[str] = set()
        self.fed: set[str] = set()

    def graph(self, edges: Iterable[Iterable[tuple[Terminal, Terminal]]]) -> Any:
        graph: Any = nx.Graph()
        graph.add_nodes_from((port, terminal) for port, found in self.ports.items() for terminal in found.terminals)
        for some in edges:
            graph.add_edges_from(some)
        return graph

    def of(self, *kinds: FaultKind) -> Iterator[SingleFault]:
        return (fault for fault in self.faults if fault.kind in kinds)

    def has(self, kind: FaultKind, where: str) -> bool:
        return any(fault.where == where for fault in self.of(kind))

    def in_ring(self, cable: str) -> bool:
        """Whether the pair of a cable is joined by another way as well."""
        rest = self.graph(found for name, found in self.cables.items() if name != cable)
        return any(nx.has_path(rest, *edge) for edge in self.cables[cable] if edge[0][1] in PAIR)

    def cut(self, cable: str, edge: tuple[Terminal, Terminal]) -> bool:
        terminal = min(edge)[1]
        if any(fault.where == cable and terminal in fault.conductors for fault in self.of(FaultKind.OPEN)):
            return True
        return terminal in PAIR and self.has(FaultKind.CROSSED, cable)

    def stopped(self, port: str, terminals: tuple[str, str], *kinds: FaultKind) -> bool:
        """Whether a short stops the net of a port."""
        for fault in self.of(*kinds):
            if fault.kind is FaultKind.CROSSED and not self.in_ring(fault.where):
                continue
            nets = {self.net_of[end] for edge in self.cables[fault.where] for end in edge if end[1] in terminals}
            if any(self.net_of.get((port, terminal)) in nets for terminal in terminals):
                return True
        return False

    def joined(self, one: str, other: str, terminals: Iterable[str]) -> bool:
        return all((port, t) in self.now for port in (one, other) for t in terminals) and all(
            nx.has_path(self.now, (one, t), (other, t)) for t in terminals
        )

    def gives(self, port: str) -> bool:
        found, device = self.ports[port], port.partition(".")[0]
        if found.supplies is None or self.has(FaultKind.SOURCE, port):
            return False
        if self.stopped(port, FEED, FaultKind.SUPPLY_SHORTED):
            return False
        if found.fed_from is None:
            return True
        by = f"{device}.{found.fed_from}"
        return not self.has(FaultKind.DEVICE, device) and (by in self.fed or by in self.live)

    def lives(self, device: str) -> bool:
        if self.has(FaultKind.DEVICE, device):
            return False
        model = self.job.model_of(device)
        return all(
            f"{device}.{name}" in self.fed
            for name, port in model.ports.items()
            if port.draw is not None and "supply" in port.terminals
        )

    def talks(self, one: str, other: str) -> bool:
        a, b = self.ports[one], self.ports[other]
        if a.bus is not b.bus or a.bus not in BUSES or not set(a.dialects) & set(b.dialects):
            return False
        for port in (one, other):
            if self.has(FaultKind.TRANSCEIVER, port):
                return False
            if self.stopped(port, PAIR, FaultKind.PAIR_SHORTED, FaultKind.CROSSED):
                return False
        return self.joined(one, other, PAIR)

    def shown(self) -> Shown:
        """Go round until nothing more comes to life, then until nothing more is reached."""
        before = None
        while before != (len(self.live), len(self.fed)):
            before = (len(self.live), len(self.fed))
            self.live |= {port for port in self.ports if self.gives(port)}
            self.fed |= {
                port
                for port, found in self.ports.items()
                for source in self.live
                if source != port and "supply" in found.terminals and self.joined(source, port, FEED)
            }
        models = {name: self.job.model_of(name) for name in self.job.devices}
        told = [name for name, model in models.items() if any(port.bus in BUSES for port in model.ports.values())]
        powered = {name: self.lives(name) for name in told}
        reached = {name for name in told if models[name].role is Role.CONTROLLER and powered[name]}
        bridges = {Role.INTERFACE_MODULE, Role.ZONE_PANEL, Role.CONTROLLER}
        count = -1
        while count != len(reached):
            count = len(reached)
            for own in told:
                for speaker in sorted(reached):
                    if own in reached or not powered[own] or models[speaker].role not in bridges:
                        continue
                    pairs = ((f"{speaker}.{a}", f"{own}.{b}") for a in models[speaker].ports for b in models[own].ports)
                    if any(self.talks(one, other) for one, other in pairs):
                        reached.add(own)
        wired = {end for cable in self.job.cables for end in (cable.start, cable.end)}
        ends = [port for port, found in self.ports.items() if "supply" in found.terminals and port in wired]
        return Shown(
            powered,
            {name: name in reached for name in told},
            {port: port in self.fed or port in self.live for port in ends},
        )
