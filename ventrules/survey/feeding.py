"""What feeds what: cables that carry a supply, the nets that they join, and the nets that are fed from others."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Final

from attrs import frozen

from ventrules.engine.once import once
from ventrules.job import BusKind, Carries, Port
from ventrules.survey.copper import loop_ohms
from ventrules.survey.topology import PortRef

if TYPE_CHECKING:
    from ventrules.survey.bus_views import CableView
    from ventrules.survey.survey import Survey

_KINDS: Final = frozenset({BusKind.SYSTEM, BusKind.VENTILATOR, BusKind.POWER})
_POWER: Final = frozenset({Carries.SUPPLY, Carries.COMMON})
_LEAST_OHM: Final = 1e-9  # a length that is next to nothing still has an end at either side


@frozen
class Carried:
    """How a cable carries power.

    Attributes:
        joins: True when it joins both the supply and the common of its two ports.
        doubtful: True when a conductor of either is missing, or joins what it should not.
        conductors: How many conductors share the supply, and the common.
    """

    joins: bool
    doubtful: bool
    conductors: tuple[int, int] = (1, 1)


_ONE_EACH: Final = (1, 1)
_JOINS: Final = Carried(joins=True, doubtful=False)
_NO_POWER: Final = Carried(joins=False, doubtful=False)


@frozen
class Draw:
    """What one port draws.

    Attributes:
        port: The port.
        own_va: Its own draw, VA.
        passed_va: What it draws for the ports that are fed from it, VA.
    """

    port: PortRef
    own_va: float
    passed_va: float = 0.0

    @property
    def va(self) -> float:
        """All that it draws, VA."""
        return self.own_va + self.passed_va


def loop_of(cable: CableView) -> float | None:
    """Return the loop resistance of a cable, ohm; None where the job does not tell enough for it."""
    return cable.loop_ohm


def reckoned_loop(cable: CableView) -> float | None:
    """Work out the loop resistance of a cable, ohm; None where the job does not tell enough for it."""
    wire, copper = cable.cable, cable.survey.limits.copper
    if wire.gauge is None or wire.length is None:
        return None
    try:
        pair = loop_ohms(copper, wire.gauge, wire.length, wire.temperature or copper.ambient, stranded=wire.stranded)
    except ValueError:
        return None
    carried = cable.carried.conductors
    if carried == _ONE_EACH:
        return max(_LEAST_OHM, pair)
    return max(_LEAST_OHM, pair * math.fsum(1.0 / count for count in carried) / len(carried))


def carries_power(survey: Survey, terminals: Mapping[str, str]) -> bool:
    """Say whether terminals have both a supply and a common."""
    roles = survey.roles
    return {roles[name].carries for name in terminals.values() if name in roles} >= _POWER


def carried(cable: CableView) -> Carried:
    """Return how a cable carries power."""
    start, end = cable.ports
    if not start.terminals or not end.terminals:  # what such a port has, nobody knows; `SupplyView.untold` names it
        return _NO_POWER
    facts = cable.survey.port_facts
    if cable.plain:  # most cables: nothing can be wrong
        return _JOINS if facts.has_power(start) else _NO_POWER
    asked = facts.has_power(start) and facts.has_power(end)
    doubtful = False
    counts: dict[Carries, dict[tuple[str, str], int]] = {kind: {} for kind in _POWER}
    for conductor in cable.conductors:
        kinds, joint = set(conductor.carries), conductor.joint
        if not kinds & _POWER:
            continue
        if joint is None or not conductor.fits:
            doubtful = True
        elif len(kinds) == 1:
            same = counts[kinds.pop()]
            ends = (joint.start, joint.end)
            same[ends] = same.get(ends, 0) + 1
    supply, common = (counts[kind].values() for kind in (Carries.SUPPLY, Carries.COMMON))
    joins = bool(supply) and bool(common)
    return Carried(joins, doubtful or (asked and not joins), (max(supply, default=1), max(common, default=1)))


@frozen
class Net:
    """One net, before it is known what is drawn from it.

    Attributes:
        ports: Its ports, sorted.
        cables: The cables that carry its supply, in the job's order.
        doubtful: True when a conductor of a cable at it is not as it should be.
    """

    ports: tuple[PortRef, ...]
    cables: tuple[CableView, ...]
    doubtful: bool


def nets(survey: Survey) -> tuple[Net, ...]:
    """Return the supply nets, by their first port; a port alone that draws, feeds or passes on is one of its own."""
    topology = survey.topology
    ports = topology.ports
    beside: dict[PortRef, list[CableView]] = {
        ref: []
        for name, model in survey.models.items()
        for key in model.power_ports
        if ports[ref := PortRef(name, key)].bus in _KINDS
    }
    doubted: set[PortRef] = {ref for index in topology.mismatched for ref in topology.ends[index]}
    for cable in survey.joined_cables:
        start, end = cable.ends
        if ports[start].bus not in _KINDS:
            continue
        how = cable.carried
        if how.doubtful:
            doubted.update((start, end))
        if how.joins or how.doubtful:
            beside.setdefault(start, []).append(cable)
            beside.setdefault(end, []).append(cable)
    return tuple(_components(beside, doubted))


def _components(beside: Mapping[PortRef, list[CableView]], doubted: set[PortRef]) -> Iterator[Net]:
    seen: set[PortRef] = set()
    for first in sorted(beside):
        if first in seen:
            continue
        seen.add(first)
        ports = [first]
        cables: dict[int, CableView] = {}
        for ref in ports:  # grows as neighbors are reached
            for cable in beside[ref]:
                cables[cable.index] = cable
                for end in cable.ends:
                    if end not in seen:
                        seen.add(end)
                        ports.append(end)
        carrying = tuple([cables[index] for index in sorted(cables) if cables[index].carried.joins])
        yield Net(tuple(sorted(ports)), carrying, not doubted.isdisjoint(ports))


class Feeding:
    """Which nets are fed from which, by number: a port that supplies may take it from another port of its device.

    Args:
        ports: Every port in the catalog's words.
        nets: The nets.
    """

    def __init__(self, ports: Mapping[PortRef, Port], nets: Sequence[Net]) -> None:
        self.nets = nets
        self._ports = ports
        self.net_of: Mapping[PortRef, int] = {ref: number for number, net in enumerate(nets) for ref in net.ports}
        self._sources: list[list[PortRef]] = [[] for _net in nets]
        self.fed: dict[PortRef, list[PortRef]] = {}
        """The ports that are fed from a port, by that port; sorted."""
        for number, net in enumerate(nets):
            for ref in net.ports:
                port = ports[ref]
                if port.supplies is not None:
                    self._sources[number].append(ref)
                    if port.fed_from is not None:
                        self.fed.setdefault(PortRef(ref.device, port.fed_from), []).append(ref)
        for refs in self.fed.values():
            refs.sort()

    @once
    def below(self) -> Mapping[int, frozenset[int]]:
        """The nets that are fed from a net, by its number."""
        found: dict[int, set[int]] = {number: set() for number in range(len(self.nets))}
        for above, refs in self.fed.items():
            if above in self.net_of:
                found[self.net_of[above]].update([self.net_of[ref] for ref in refs])
        return {number: frozenset(below) for number, below in found.items()}

    def is_fed(self, number: int) -> bool:
        """Say whether a net is fed from another one."""
        return any(self._fed_from(ref) is not None for ref in self._sources[number])

    def _fed_from(self, ref: PortRef) -> PortRef | None:
        fed_from = self._ports[ref].fed_from
        if fed_from is None:
            return None
        above = PortRef(ref.device, fed_from)
        return above if above in self.net_of else None

    @once
    def fed_first(self) -> tuple[int, ...]:
        """The numbers of the nets, each after those that are fed from it; without circles and what is above them."""
        above: dict[int, list[int]] = {}
        waiting = {number: len(below) for number, below in self.below.items()}
        for number, below in self.below.items():
            for other in below:
                above.setdefault(other, []).append(number)
        ready = [number for number, count in waiting.items() if not count]
        for number in ready:  # grows as nets have all that they feed behind them
            for other in above.get(number, ()):
                waiting[other] -= 1
                if not waiting[other]:
                    ready.append(other)
        return tuple(ready)

    def draws(self, net: Net, taken_va: Mapping[int, float]) -> Iterator[Draw]:
        """Yield what is drawn from a net.

        Args:
            net: The net.
            taken_va: What the nets that are fed from it take, VA, by number; where nothing is said, their own draws.
        """
        for ref in net.ports:
            own = self._ports[ref].draw
            passed = self._passed_va(ref, taken_va) if ref in self.fed else 0.0
            if own is not None or passed > 0.0:
                yield Draw(ref, own.w if own is not None else 0.0, passed)

    def _passed_va(self, ref: PortRef, taken_va: Mapping[int, float]) -> float:
        """Return what a port draws for those that it feeds, VA; of a net with several sources each bears its part."""
        shares = []
        for fed in self.fed[ref]:
            number = self.net_of[fed]
            taken = taken_va.get(number)
            shares.append((self._own_va(number) if taken is None else taken) / len(self._sources[number]))
        return math.fsum(shares)

    def _own_va(self, number: int) -> float:
        draws = (self._ports[ref].draw for ref in self.nets[number].ports)
        return math.fsum(draw.w for draw in draws if draw is not None)

    @once
    def powered(self) -> frozenset[int]:
        """The nets at whose head stands a source that is fed from nowhere."""
        heads = [
            number
            for number, sources in enumerate(self._sources)
            if any(self._fed_from(ref) is None for ref in sources)
        ]
        return self._down_from(heads)

    @once
    def circular(self) -> frozenset[int]:
        """The nets that are not powered, and are not below one that has no source either: they feed themselves."""
        bare = [number for number, sources in enumerate(self._sources) if not sources]
        return frozenset(range(len(self.nets))) - self.powered - self._down_from(bare)

    def _down_from(self, numbers: Iterable[int]) -> frozenset[int]:
        reached = list(dict.fromkeys(numbers))
        seen = set(reached)
        for number in reached:  # grows by what is below
            fresh = self.below[number] - seen
            seen |= fresh
            reached += fresh
        return frozenset(seen)
