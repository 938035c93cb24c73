"""What feeds what: cables that carry a supply, the nets that they join, and the nets that are fed from others."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from typing import TYPE_CHECKING, Final

from attrs import field, frozen

from ventrules.job import BusKind, Carries, Model
from ventrules.survey.conductors import terminals
from ventrules.survey.copper import loop_ohms
from ventrules.survey.topology import PortRef

if TYPE_CHECKING:
    from ventrules.survey.bus_views import CableView
    from ventrules.survey.survey import Survey

_KINDS: Final = (BusKind.SYSTEM, BusKind.VENTILATOR, BusKind.POWER)
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
    wire, copper = cable.cable, cable.survey.limits.copper
    if wire.gauge is None or wire.length is None:
        return None
    try:
        pair = loop_ohms(copper, wire.gauge, wire.length, wire.temperature or copper.ambient, stranded=wire.stranded)
    except ValueError:
        return None
    carried = cable.carried.conductors
    return max(_LEAST_OHM, pair * math.fsum(1.0 / count for count in carried) / len(carried))


def carried(cable: CableView) -> Carried:
    """Return how a cable carries power."""
    roles = cable.survey.roles

    def carries(names: Iterable[str]) -> set[Carries]:
        return {roles[name].carries for name in names if name in roles}

    here, there = terminals(cable)
    if not here or not there:  # what such a port has, nobody knows; `SupplyView.untold` names it
        return Carried(joins=False, doubtful=False)
    asked = carries(here.values()) >= _POWER and carries(there.values()) >= _POWER
    if cable.cable.conductors is None and here == there:  # most cables: straight, between ports that are alike
        return Carried(asked, doubtful=False)
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


def _passing_on(model: Model) -> frozenset[str]:
    """Return the ports of a model that others of its ports are fed from."""
    ports = model.ports.values()
    return frozenset(p.fed_from for p in ports if p.supplies is not None and p.fed_from is not None)


def nets(survey: Survey) -> tuple[Net, ...]:
    """Return the supply nets, by their first port; a port alone that draws, feeds or passes on is one of its own."""
    topology = survey.topology
    beside: dict[PortRef, list[CableView]] = {
        PortRef(name, port): []
        for name, model in survey.models.items()
        for port, described in model.ports.items()
        if described.bus in _KINDS
        and (described.supplies is not None or described.draw is not None or port in _passing_on(model))
    }
    doubted: set[PortRef] = {ref for index in topology.mismatched for ref in topology.ends[index]}
    for cable in survey.cables:
        start, end = cable.ends
        kinds = cable.kinds
        if kinds[0] is not kinds[1] or kinds[0] not in _KINDS:
            continue
        if cable.carried.doubtful:
            doubted.update((start, end))
        if cable.carried.joins or cable.carried.doubtful:
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
                fresh = [end for end in cable.ends if end not in seen]
                seen.update(fresh)
                ports += fresh
        carrying = tuple(cables[index] for index in sorted(cables) if cables[index].carried.joins)
        yield Net(tuple(sorted(ports)), carrying, not doubted.isdisjoint(ports))


@frozen(slots=False)
class Feeding:
    """Which nets are fed from which, by number: a port that supplies may take it from another port of its device."""

    models: Mapping[str, Model]
    nets: Sequence[Net] = field(repr=False)

    @cached_property
    def net_of(self) -> Mapping[PortRef, int]:
        """The number of the net that a port is on."""
        return {ref: number for number, net in enumerate(self.nets) for ref in net.ports}

    @cached_property
    def fed(self) -> Mapping[PortRef, tuple[PortRef, ...]]:
        """The ports that are fed from a port, by that port; sorted."""
        found: dict[PortRef, list[PortRef]] = {}
        for ref in sorted(self.net_of):
            port = self.models[ref.device].ports[ref.port]
            if port.supplies is not None and port.fed_from is not None:
                found.setdefault(PortRef(ref.device, port.fed_from), []).append(ref)
        return {ref: tuple(ports) for ref, ports in found.items()}

    @cached_property
    def below(self) -> Mapping[int, frozenset[int]]:
        """The nets that are fed from a net, by its number."""
        return {
            number: frozenset(self.net_of[fed] for ref in net.ports for fed in self.fed.get(ref, ()))
            for number, net in enumerate(self.nets)
        }

    def is_fed(self, number: int) -> bool:
        """Say whether a net is fed from another one."""
        return any(self._fed_from(ref) is not None for ref in self.nets[number].ports)

    def _sources(self, number: int) -> list[PortRef]:
        return [ref for ref in self.nets[number].ports if self.models[ref.device].ports[ref.port].supplies is not None]

    def _fed_from(self, ref: PortRef) -> PortRef | None:
        port = self.models[ref.device].ports[ref.port]
        if port.supplies is None or port.fed_from is None:
            return None
        above = PortRef(ref.device, port.fed_from)
        return above if above in self.net_of else None

    @cached_property
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
            own, passed = self.models[ref.device].ports[ref.port].draw, self._passed_va(ref, taken_va)
            if own is not None or passed > 0.0:
                yield Draw(ref, own.w if own is not None else 0.0, passed)

    def _passed_va(self, ref: PortRef, taken_va: Mapping[int, float]) -> float:
        """Return what a port draws for those that it feeds, VA; of a net with several sources each bears its part."""
        shares = []
        for fed in self.fed.get(ref, ()):
            number = self.net_of[fed]
            taken = taken_va.get(number)
            shares.append((self._own_va(number) if taken is None else taken) / len(self._sources(number)))
        return math.fsum(shares)

    def _own_va(self, number: int) -> float:
        ports = (self.models[ref.device].ports[ref.port] for ref in self.nets[number].ports)
        return math.fsum(port.draw.w for port in ports if port.draw is not None)

    @cached_property
    def powered(self) -> frozenset[int]:
        """The nets at whose head stands a source that is fed from nowhere."""
        heads = (
            number
            for number in range(len(self.nets))
            if any(self._fed_from(ref) is None for ref in self._sources(number))
        )
        return self._down_from(heads)

    @cached_property
    def circular(self) -> frozenset[int]:
        """The nets that are not powered, and are not below one that has no source either: they feed themselves."""
        bare = (number for number in range(len(self.nets)) if not self._sources(number))
        return frozenset(range(len(self.nets))) - self.powered - self._down_from(bare)

    def _down_from(self, numbers: Iterable[int]) -> frozenset[int]:
        reached = list(dict.fromkeys(numbers))
        seen = set(reached)
        for number in reached:  # grows by what is below
            fresh = self.below[number] - seen
            seen |= fresh
            reached += fresh
        return frozenset(seen)
