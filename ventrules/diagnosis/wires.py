"""What diagnosis knows of a job: its ports, the terminals on them that count, and the conductors between these.

A node is all terminals of one role on one port: a device joins them inside. A port whose catalog entry lists no
terminals takes whatever the other end of a cable has. What is run by contacts has no place here: it says nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import cached_property
from typing import Final, TypeAlias

from attrs import field, frozen

from ventrules.job import BusKind, Carries, Conductor, Port, Role
from ventrules.survey import CableView, PortRef, Survey

TALKING: Final = (BusKind.SYSTEM, BusKind.VENTILATOR)
_WIRED_KINDS: Final = (*TALKING, BusKind.POWER)
POWER: Final = (Carries.SUPPLY, Carries.COMMON)

Node: TypeAlias = tuple[PortRef, str]
"""A port and a role."""


@frozen(eq=False)
class PortNode:
    """One port.

    Attributes:
        ref: Its name.
        port: Its catalog entry.
        data: Number of the node of each role that carries data, by role.
        power: Likewise of each that carries supply or common.
        supply: Likewise of supply alone.
        wired: Whether a cable lands on it.
    """

    ref: PortRef
    port: Port = field(repr=False)
    data: Mapping[str, int]
    power: Mapping[str, int]
    supply: Mapping[str, int]
    wired: bool

    @property
    def open(self) -> bool:
        """True when the catalog lists no terminals of it: it carries everything."""
        return not self.port.terminals

    @property
    def draws(self) -> bool:
        """True when its device lives on the supply at it."""
        return self.port.draw is not None and bool(self.supply)

    def meter(self) -> tuple[str, str]:
        """Return the terminals between which its supply is measured."""
        roles = self.port.terminals
        first = next((t for t in sorted(roles) if roles[t] in self.supply), "supply")
        other = next((t for t in sorted(roles) if roles[t] in self.power and roles[t] not in self.supply), "common")
        return first, other


@frozen(eq=False)
class Lead:
    """One conductor that counts.

    Attributes:
        index: Its number among all of the job.
        cable: The number of its cable.
        first: Its terminal at the cable's first end, by name.
        second: Its terminal at the other one.
        nodes: The nodes that it joins.
        roles: Their roles.
        carries: What it carries; None where its two ends do not agree.
    """

    index: int
    cable: int
    first: str
    second: str
    nodes: tuple[int, int]
    roles: tuple[str, str]
    carries: Carries | None

    @property
    def name(self) -> str:
        """Its name within its cable."""
        return self.first if self.first == self.second else f"{self.first} to {self.second}"


@frozen(eq=False)
class Run:
    """One cable: its name by its two ends, these ends, and its conductors that count, by name."""

    name: str
    ends: tuple[PortRef, PortRef]
    leads: tuple[Lead, ...]

    def carrying(self, *what: Carries) -> tuple[Lead, ...]:
        """Return its conductors that carry something, by name."""
        return tuple(lead for lead in self.leads if lead.carries in what)


class Labels:
    """Sets of nodes that are joined: each node has the label of its set."""

    def __init__(self, nodes: int, joined: Iterable[tuple[int, int]]) -> None:
        up = list(range(nodes))
        for start, end in joined:
            one, other = start, end
            while up[one] != one:
                up[one] = one = up[up[one]]
            while up[other] != other:
                up[other] = other = up[up[other]]
            if one != other:
                up[max(one, other)] = min(one, other)
        for node in range(nodes):  # what a node points to is below it, and is a root by now
            up[node] = up[up[node]]
        self.of: Final = up


@frozen(eq=False, slots=False)
class Wires:
    """Ports, nodes and conductors of one job."""

    survey: Survey = field(repr=False)

    @cached_property
    def carries(self) -> Mapping[str, Carries]:
        """What each role carries, of those that count."""
        roles = self.survey.roles
        return {n: r.carries for n, r in sorted(roles.items()) if r.carries in (Carries.DATA, *POWER)}

    @cached_property
    def _class_of(self) -> Mapping[str, str]:
        """The first of all roles that a role may be joined to, itself included, over however many steps."""
        names = sorted(self.carries)
        number = {name: index for index, name in enumerate(names)}
        roles = self.survey.roles
        pairs = [
            (number[name], number[other])
            for name in names
            for other in roles[name].meets
            if other in number and self.carries[other] is self.carries[name]
        ]
        return {name: names[label] for name, label in zip(names, Labels(len(names), pairs).of, strict=True)}

    @cached_property
    def _refs(self) -> tuple[PortRef, ...]:
        """Every port that counts, sorted."""
        models = self.survey.models
        return tuple(
            PortRef(name, port)
            for name in sorted(models)
            for port in sorted(models[name].ports)
            if models[name].ports[port].bus in _WIRED_KINDS
        )

    def _terminals(self, ref: PortRef) -> Mapping[str, str]:
        return self.survey.models[ref.device].ports[ref.port].terminals

    @cached_property
    def nodes(self) -> Mapping[Node, int]:
        """The number of each node."""
        number: dict[Node, int] = {}
        for ref in self._refs:
            own = set(self._terminals(ref).values()) & self.carries.keys() if self._terminals(ref) else self.carries
            for role in sorted({self._class_of[name] for name in own}):
                number[ref, role] = len(number)
        return number

    @cached_property
    def node_carries(self) -> tuple[Carries, ...]:
        """What each node carries."""
        return tuple(self.carries[role] for _ref, role in self.nodes)

    @cached_property
    def ports(self) -> Mapping[PortRef, PortNode]:
        """Every port, in order."""
        own: dict[PortRef, dict[str, int]] = {ref: {} for ref in self._refs}
        for (ref, role), number in self.nodes.items():
            own[ref][role] = number
        models, wired = self.survey.models, {end for run in self.runs for end in run.ends}
        found = {}
        for ref, nodes in own.items():
            data, power, supply = (
                {role: node for role, node in nodes.items() if self.carries[role] in what}
                for what in ((Carries.DATA,), POWER, (Carries.SUPPLY,))
            )
            port = models[ref.device].ports[ref.port]
            found[ref] = PortNode(ref, port, data, power, supply, ref in wired)
        return found

    @cached_property
    def runs(self) -> tuple[Run, ...]:
        """Every cable that counts, in the job's order."""
        found: list[Run] = []
        leads = 0
        for cable in self.survey.cables:
            if not set(cable.kinds) <= set(_WIRED_KINDS):
                continue
            first, second = sorted(cable.ends)
            own = sorted(set(self._joins(cable)))
            kept = tuple(
                lead
                for index, (here, there, roles) in enumerate(own)
                if (lead := self._lead(leads + index, len(found), (first, second), (here, there), roles)) is not None
            )
            leads += len(own)
            found.append(Run(cable.name, (first, second), kept))
        return tuple(found)

    def _lead(
        self, index: int, cable: int, ends: tuple[PortRef, PortRef], terminals: tuple[str, str], roles: tuple[str, str]
    ) -> Lead | None:
        if not set(roles) <= self.carries.keys():
            return None
        own = (self._class_of[roles[0]], self._class_of[roles[1]])
        nodes = (self.nodes[ends[0], own[0]], self.nodes[ends[1], own[1]])
        here, there = (self.carries[role] for role in roles)
        agree = here is there or {here, there} == set(POWER)
        return Lead(index, cable, *terminals, nodes, own, here if agree else None)

    def _joins(self, cable: CableView) -> Iterator[tuple[str, str, tuple[str, str]]]:
        """Yield the terminals that a cable joins, at its first end by name and at the other one, with their roles."""
        here, there = (self._terminals(end) for end in cable.ends)
        for conductor in self._conductors(cable, here, there):
            start, end = conductor.start, conductor.end
            if start is None or end is None:
                continue
            role = here.get(start) if here else there.get(end, start)
            other = there.get(end) if there else here.get(start, end)
            if role is None or other is None:
                continue
            if cable.ends[0] <= cable.ends[1]:
                yield start, end, (role, other)
            else:
                yield end, start, (other, role)

    def _conductors(self, cable: CableView, here: Mapping[str, str], there: Mapping[str, str]) -> Iterable[Conductor]:
        if (here and there) or cable.cable.conductors is not None:
            return [view.conductor for view in cable.conductors]
        return [Conductor(name, name) for name in sorted(here or there or self.carries)]

    @cached_property
    def leads(self) -> Mapping[int, Lead]:
        """Every conductor by its number."""
        return {lead.index: lead for run in self.runs for lead in run.leads}

    @cached_property
    def near(self) -> Mapping[int, tuple[tuple[int, int], ...]]:
        """For each node, the conductors at it and the nodes that they lead to."""
        found: dict[int, list[tuple[int, int]]] = {}
        for lead in self.leads.values():
            start, end = lead.nodes
            found.setdefault(start, []).append((lead.index, end))
            found.setdefault(end, []).append((lead.index, start))
        return {node: tuple(leads) for node, leads in found.items()}

    def labels(self, cuts: frozenset[int] = frozenset()) -> Labels:
        """Return which nodes are joined when some conductors are cut."""
        return Labels(len(self.nodes), (lead.nodes for lead in self.leads.values() if lead.index not in cuts))

    @cached_property
    def nets(self) -> list[int]:
        """The net of each node: what the recorded wiring joins it with."""
        return self.labels().of

    @cached_property
    def stopped(self) -> frozenset[int]:
        """Nets that pass no messages as they are recorded: a pair joined, or joined to a supply or a common."""
        found = {
            self.nets[node]
            for port in self.ports.values()
            for node in port.data.values()
            if len({self.nets[other] for other in port.data.values()}) < len(port.data)
        }
        powered = {net for net, carried in zip(self.nets, self.node_carries, strict=True) if carried in POWER}
        data = {net for net, carried in zip(self.nets, self.node_carries, strict=True) if carried is Carries.DATA}
        return frozenset(found | (powered & data))

    @cached_property
    def shorted(self) -> frozenset[int]:
        """Nets whose supply meets its common as they are recorded."""
        return frozenset(
            self.nets[node]
            for port in self.ports.values()
            for node in port.supply.values()
            if any(self.nets[other] == self.nets[node] for role, other in port.power.items() if role not in port.supply)
        )

    def alone(self, *what: Carries) -> frozenset[int]:
        """Return the numbers of cables without which some port would be cut off from what they carry."""
        number = {ref: index for index, ref in enumerate(self.ports)}
        runs = [index for index, run in enumerate(self.runs) if run.carrying(*what)]
        pairs = {index: (number[(ends := self.runs[index].ends)[0]], number[ends[1]]) for index in runs}
        whole = Labels(len(number), pairs.values()).of
        inside: dict[int, list[int]] = {}
        for index in runs:
            inside.setdefault(whole[pairs[index][0]], []).append(index)
        found: set[int] = set()
        for label, indexes in inside.items():
            if len(indexes) < whole.count(label):
                found.update(indexes)  # a tree
                continue
            for left_out in indexes:
                rest = Labels(len(number), (pairs[index] for index in indexes if index != left_out)).of
                start, end = pairs[left_out]
                if rest[start] != rest[end]:
                    found.add(left_out)
        return frozenset(found)

    @cached_property
    def observable(self) -> tuple[str, ...]:
        """Devices that show whether they are powered and reachable: those with a bus, sorted."""
        models = self.survey.models
        return tuple(
            name
            for name in sorted(models)
            if models[name].role is not Role.TRANSFORMER
            and any(
                port.bus in TALKING or (port.bus is BusKind.POWER and port.draw is not None)
                for port in models[name].ports.values()
            )
        )

    def ports_of(self, device: str) -> tuple[PortNode, ...]:
        """Return the ports of a device, sorted."""
        return self._by_device.get(device, ())

    @cached_property
    def _by_device(self) -> Mapping[str, tuple[PortNode, ...]]:
        found: dict[str, list[PortNode]] = {}
        for ref, port in self.ports.items():
            found.setdefault(ref.device, []).append(port)
        return {name: tuple(ports) for name, ports in found.items()}
