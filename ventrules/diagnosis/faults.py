"""The vocabulary of single faults, and every one of them that a job can have."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from enum import StrEnum
from itertools import combinations
from typing import Final, TypeAlias

from attrs import frozen

from ventrules.diagnosis.wires import Lead, Wires
from ventrules.diagnosis.world import (
    DATA_NET,
    DEVICE,
    LEAD,
    POWER_NET,
    SOURCE,
    TRANSCEIVER,
    Part,
    Parts,
    Simulation,
)
from ventrules.job import Carries
from ventrules.sources import Basis, practice


class FaultKind(StrEnum):
    """What can be wrong, in the order in which it is looked for: connections, then cables, then devices."""

    OPEN = "conductor-open"
    CROSSED = "pair-crossed"
    PAIR_SHORTED = "pair-shorted"
    SUPPLY_SHORTED = "supply-shorted"
    SOURCE = "source-dead"
    TRANSCEIVER = "transceiver-dead"
    DEVICE = "device-dead"

    @property
    def rank(self) -> int:
        """Its place in that order."""
        return list(FaultKind).index(self)

    @property
    def said(self) -> str:
        """What is wrong, in words, with a gap for the conductors."""
        return _SAID[self]


_SAID: Final[Mapping[FaultKind, str]] = {
    FaultKind.OPEN: "{conductors} open",
    FaultKind.CROSSED: "{conductors} crossed",
    FaultKind.PAIR_SHORTED: "{conductors} touch each other",
    FaultKind.SUPPLY_SHORTED: "{conductors} touch each other",
    FaultKind.SOURCE: "the source gives no voltage",
    FaultKind.TRANSCEIVER: "neither sends nor receives, though its device is alive",
    FaultKind.DEVICE: "dead of itself: a fuse, a supply of its own, or its electronics",
}


ORDER_BASIS: Final[Basis] = practice(
    "what to suspect first: connections, then cables, then devices",
    "a device is changed only when its connections and its cables are known to be sound",
)


class Continuity(StrEnum):
    """What a meter can say of one conductor of a cable, end to end, with the power off and both ends lifted."""

    THROUGH = "through"
    OPEN = "open"
    SHORTED = "shorted"
    CROSSED = "crossed"


_MODES: Final[Mapping[FaultKind, Continuity]] = {
    FaultKind.OPEN: Continuity.OPEN,
    FaultKind.CROSSED: Continuity.CROSSED,
    FaultKind.PAIR_SHORTED: Continuity.SHORTED,
    FaultKind.SUPPLY_SHORTED: Continuity.SHORTED,
}

Marks: TypeAlias = frozenset[tuple[int, Continuity]]
"""Conductors by number, and what a meter would say of each other than `through`."""


@frozen
class SingleFault:
    """One fault at one place.

    Attributes:
        kind: What is wrong.
        where: The cable by its two ends, the `device.port`, or the device.
        conductors: The conductors of the cable that it is in.
    """

    kind: FaultKind
    where: str
    conductors: tuple[str, ...] = ()

    @property
    def rank(self) -> tuple[int, str, tuple[str, ...]]:
        """Its place among all faults: the usual order, then by name."""
        return (self.kind.rank, self.where, self.conductors)

    def __str__(self) -> str:
        said = self.kind.said.format(conductors=" and ".join(self.conductors))
        return f"{self.place}: {said}"

    @property
    def place(self) -> str:
        """Where to look."""
        return f"cable {self.where}" if self.conductors else self.where


@frozen
class Seat:
    """A fault, the parts that it takes away, and what a meter would say of its conductors."""

    fault: SingleFault
    parts: Parts
    marks: Marks = frozenset()


def seats(simulation: Simulation) -> tuple[Seat, ...]:
    """Return every single fault that a job can have, in the usual order.

    In a cable that is the only way to some port, any open conductor of the pair takes away the same as a crossed pair:
    all of its data. So does any of supply and common. Where there is another way, as in a ring, they differ, and
    a crossed pair joins the two conductors over that other way.
    """
    found = [*_in_cables(simulation.wires), *_in_devices(simulation)]
    return tuple(sorted(found, key=lambda seat: seat.fault.rank))


def _in_cables(wires: Wires) -> Iterator[Seat]:
    only_data, only_power = wires.alone(Carries.DATA), wires.alone(Carries.SUPPLY, Carries.COMMON)
    for number, run in enumerate(wires.runs):
        data, supply, common = (run.carrying(what) for what in (Carries.DATA, Carries.SUPPLY, Carries.COMMON))
        for group, only in ((data, only_data), ((*supply, *common), only_power)):
            whole = frozenset(Part(LEAD, lead.index) for lead in group)
            for lead in group:
                own = whole if number in only else frozenset({Part(LEAD, lead.index)})
                yield _seat(FaultKind.OPEN, run.name, (lead,), own)
        for pair in combinations(data, 2):
            net = frozenset(Part(DATA_NET, wires.nets[lead.nodes[0]]) for lead in pair)
            if all(lead.roles[0] == lead.roles[1] for lead in pair):
                whole = frozenset(Part(LEAD, lead.index) for lead in data)
                yield _seat(FaultKind.CROSSED, run.name, pair, whole if number in only_data else net)
            yield _seat(FaultKind.PAIR_SHORTED, run.name, pair, net)
        for lead in supply:
            for other in common:
                net = frozenset({Part(POWER_NET, wires.nets[lead.nodes[0]])})
                yield _seat(FaultKind.SUPPLY_SHORTED, run.name, (lead, other), net)


def _seat(kind: FaultKind, cable: str, leads: tuple[Lead, ...], parts: Parts) -> Seat:
    fault = SingleFault(kind, cable, tuple(lead.name for lead in leads))
    return Seat(fault, parts, frozenset((lead.index, _MODES[kind]) for lead in leads))


def _in_devices(simulation: Simulation) -> Iterator[Seat]:
    for source in simulation.sources:
        if source.wired:
            yield Seat(SingleFault(FaultKind.SOURCE, str(source.ref)), frozenset({Part(SOURCE, source.ref)}))
    for name in simulation.wires.observable:
        yield Seat(SingleFault(FaultKind.DEVICE, name), frozenset({Part(DEVICE, name)}))
        for port in simulation.talking_of.get(name, ()):
            fault = SingleFault(FaultKind.TRANSCEIVER, str(port.ref))
            yield Seat(fault, frozenset({Part(TRANSCEIVER, port.ref)}))
