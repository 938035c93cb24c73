"""The smallest sets of faults that explain what was seen: consistency-based diagnosis with a hitting-set tree.

R. Reiter, "A theory of diagnosis from first principles", Artificial Intelligence 32, 1987, and its correction by R.
Greiner, B. Smith and R. Wilkerson, Artificial Intelligence 41, 1989; faults with modes of their own as in J. de Kleer
and B. Williams, "Diagnosis with behavioral modes", 1989. All three from memory.

A node of the tree is a set of faults. Where it does not explain that something fails, the parts by which that still
works are a conflict: every explanation that contains the set has one more fault in one of them. So the node's
children, one for each such fault, miss none. Faults only take away, so a set that contradicts something that works
is no part of any explanation, nor is a single fault that does. Sets are tried by their size, and the last fault of a
set has to be in every conflict that the others leave.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from itertools import product
from typing import Final, TypeAlias

from attrs import field, frozen

from ventrules.diagnosis.faults import Continuity, Marks, Seat
from ventrules.diagnosis.symptoms import Observation, Shows
from ventrules.diagnosis.world import NOTHING, Part, Parts, Simulation, World
from ventrules.survey import PortRef

MOST_WORLDS: Final = 10_000
MOST_SETS: Final = 2_000

Alike: TypeAlias = tuple[Seat, ...]
"""Faults that take away the same, and of which the same was measured."""

Chosen: TypeAlias = frozenset[int]
"""A set of such groups, by number."""


@frozen
class Found:
    """The outcome of a search.

    Attributes:
        sets: The smallest sets of faults, none twice.
        cut_off: Whether the search ended before everything was tried.
    """

    sets: tuple[tuple[Seat, ...], ...]
    cut_off: bool = False


def works(world: World, seen: Observation) -> bool:
    """Say whether what an observation is about works in a world; nothing is known there of single conductors."""
    if seen.shows is Shows.POWERED:
        return world.powered(seen.where)
    if seen.shows is Shows.REACHABLE:
        return world.reachable(seen.where)
    return world.voltage(PortRef.of(seen.where))


def _why(world: World, seen: Observation) -> set[Part]:
    if seen.shows is Shows.POWERED:
        return world.why_powered(seen.where)
    if seen.shows is Shows.REACHABLE:
        return world.why_reachable(seen.where)
    return world.why_voltage(PortRef.of(seen.where))


@frozen(eq=False, slots=False)
class Search:
    """The search for one set of observations.

    Attributes:
        simulation: Works out worlds.
        seats: Every single fault.
        seen: The observations.
        most_faults: The most faults in a set.
    """

    simulation: Simulation
    seats: Sequence[Seat] = field(repr=False)
    seen: Sequence[Observation]
    most_faults: int

    @cached_property
    def _measured(self) -> Mapping[int, frozenset[Continuity]]:
        """What was measured of conductors, by number."""
        found: dict[int, set[Continuity]] = {}
        for each in self.seen:
            if each.found is not None:
                found.setdefault(each.lead, set()).add(each.found)
        return {lead: frozenset(results) for lead, results in found.items()}

    @cached_property
    def _clashing(self) -> bool:
        """Whether two different things were measured of one conductor."""
        return any(len(results) > 1 for results in self._measured.values())

    @cached_property
    def _worlds_seen(self) -> tuple[list[Observation], list[Observation]]:
        """What works and what fails, of devices and ports."""
        told = [each for each in self.seen if each.shows is not Shows.CONDUCTOR]
        return [each for each in told if each.works], [each for each in told if not each.works]

    @cached_property
    def groups(self) -> tuple[Alike, ...]:
        """The faults that contradict no measurement of a conductor, those alike together."""
        found: dict[tuple[Parts, Marks], list[Seat]] = {}
        for seat in self.seats:
            if any(self._measured.get(lead, {mode}) != {mode} for lead, mode in seat.marks):
                continue
            measured = frozenset((lead, mode) for lead, mode in seat.marks if lead in self._measured)
            found.setdefault((seat.parts, measured), []).append(seat)
        return tuple(tuple(alike) for alike in found.values())

    @cached_property
    def _at(self) -> Mapping[Part, tuple[int, ...]]:
        """The groups that take a part away."""
        found: dict[Part, list[int]] = {}
        for number, alike in enumerate(self.groups):
            for part in alike[0].parts:
                found.setdefault(part, []).append(number)
        return {part: tuple(numbers) for part, numbers in found.items()}

    @cached_property
    def _showing(self) -> Mapping[int, frozenset[int]]:
        """For each conductor that a fault was measured in, the groups with that fault."""
        found: dict[int, list[int]] = {
            lead: [] for lead, results in self._measured.items() if results != {Continuity.THROUGH}
        }
        for number, alike in enumerate(self.groups):
            for lead, _mode in alike[0].marks:
                if lead in found:
                    found[lead].append(number)
        return {lead: frozenset(numbers) for lead, numbers in found.items()}

    def world(self, chosen: Chosen) -> World:
        """Return the world with a set of faults."""
        return self.simulation.world(NOTHING.union(*(self.groups[number][0].parts for number in chosen)))

    def _contradicted(self, world: World) -> bool:
        return not all(works(world, each) for each in self._worlds_seen[0])

    def _conflicts(self, chosen: Chosen, world: World) -> Iterator[frozenset[int]]:
        """Yield groups of which every explanation with the chosen ones has one more; nothing where all is explained."""
        for numbers in self._showing.values():
            if not chosen & numbers:
                yield numbers
        for each in self._worlds_seen[1]:
            if works(world, each):
                yield self._faults_in(_why(world, each))

    def _faults_in(self, parts: Iterable[Part]) -> frozenset[int]:
        return frozenset(number for part in parts for number in self._at.get(part, ()))

    def smallest(self) -> Found:
        """Return the smallest sets of faults that explain everything that was seen."""
        found, cut_off = self._search()
        return self._spelled_out(found, cut_off=cut_off)

    def hopeless(self) -> bool:
        """Say whether it is certain that no set of faults, however large, explains everything that was seen."""
        found, cut_off = self._search()
        return not found and not cut_off

    def _search(self) -> tuple[list[Chosen], bool]:
        """Return the smallest sets of groups, and whether the search ended before everything was tried."""
        nothing: Chosen = frozenset()
        if self._clashing or self._contradicted(self.world(nothing)):
            return [], False
        if self._explains(nothing):
            return [nothing], False
        level = [nothing]
        limit = self.simulation.worked_out + MOST_WORLDS
        for _size in range(self.most_faults):
            found: dict[Chosen, None] = {}
            after: dict[Chosen, None] = {}
            for chosen in level:
                world = self.world(chosen)
                if self._contradicted(world):
                    continue
                smallest, shared = self._narrowed(self._conflicts(chosen, world))
                found.update((larger, None) for larger in self._grown(chosen, shared) if self._explains(larger))
                if not found:
                    after.update(dict.fromkeys(self._grown(chosen, smallest)))
                if self.simulation.worked_out > limit:
                    return list(found), True
            if found or not after:
                return list(found), False
            level = list(after)
        return [], True

    def _narrowed(self, conflicts: Iterator[frozenset[int]]) -> tuple[frozenset[int], frozenset[int]]:
        """Return the smallest of conflicts, and the groups in all of them: one more alone has to be one of those.

        Once there is no such group, further conflicts would only cost time.
        """
        smallest = shared = next(conflicts, frozenset())
        while shared:
            conflict = next(conflicts, None)
            if conflict is None:
                break
            smallest, shared = min(smallest, conflict, key=len), shared & conflict
        return smallest, shared

    def _grown(self, chosen: Chosen, numbers: frozenset[int]) -> Iterator[Chosen]:
        """Yield the sets with one more group, of those that alone contradict nothing."""
        for number in sorted(numbers - chosen):
            if not self._contradicted(self.world(frozenset({number}))):
                yield chosen | {number}

    def _explains(self, chosen: Chosen) -> bool:
        world = self.world(chosen)
        return not self._contradicted(world) and next(self._conflicts(chosen, world), None) is None

    def _spelled_out(self, found: Sequence[Chosen], *, cut_off: bool) -> Found:
        """Return sets of faults, one for each way to choose from the groups."""
        sets: list[tuple[Seat, ...]] = []
        for each in self._ways(found):
            if len(sets) == MOST_SETS:
                return Found(tuple(sets), cut_off=True)
            sets.append(each)
        return Found(tuple(sets), cut_off=cut_off)

    def _ways(self, found: Sequence[Chosen]) -> Iterator[tuple[Seat, ...]]:
        for chosen in found:
            yield from product(*(self.groups[number] for number in sorted(chosen)))
