"""What to look at or measure next: where the candidates differ, and what each outcome would leave of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from enum import StrEnum
from fractions import Fraction
from functools import cached_property
from typing import Final, TypeAlias

from attrs import field, frozen

from ventrules.diagnosis.faults import Continuity, Seat
from ventrules.diagnosis.symptoms import Key, Observation, Shows
from ventrules.diagnosis.wires import Lead
from ventrules.diagnosis.world import NOTHING, Simulation, World
from ventrules.job import IndicatorState
from ventrules.survey import PortRef


class Method(StrEnum):
    """How something is found out, what is easier first."""

    INDICATOR = "indicator"
    POWERED = "powered"
    REACHABLE = "reachable"
    VOLTAGE = "voltage"
    CONDUCTOR = "conductor"

    @property
    def effort(self) -> int:
        """0 a look, 1 a meter with the power on, 2 a meter with the power off."""
        return {Method.VOLTAGE: 1, Method.CONDUCTOR: 2}.get(self, 0)


@frozen
class Measurement:
    """Something to look at or to measure.

    Attributes:
        method: How.
        where: The device, the `device.port` or the cable.
        detail: The indicator, or the conductor.
        meter: Where the meter goes: two terminals of the port, or the conductor's terminal at each end of the cable,
            each end as `device.port terminal`.
    """

    method: Method
    where: str
    detail: str = ""
    meter: tuple[str, ...] = ()

    @property
    def rank(self) -> tuple[int, int, str, str]:
        """Its place among measurements that tell as much: what is easier first, then by name."""
        return (self.method.effort, list(Method).index(self.method), self.where, self.detail)


@frozen
class Outcome:
    """What a measurement can give.

    Attributes:
        words: The words for it, any of them; as symptoms are written.
        leaves: Numbers of the candidates that it leaves.
    """

    words: tuple[str, ...]
    leaves: tuple[int, ...]


@frozen
class Step:
    """The next measurement, and what each outcome would mean."""

    measurement: Measurement
    outcomes: tuple[Outcome, ...]

    @property
    def worst(self) -> int:
        """The most candidates that an outcome leaves."""
        return max(len(outcome.leaves) for outcome in self.outcomes)

    @property
    def mean(self) -> Fraction:
        """How many candidates are left on average, all of them as likely."""
        sizes = [len(outcome.leaves) for outcome in self.outcomes]
        return Fraction(sum(size * size for size in sizes), sum(sizes))


_WORDS: Final[Mapping[Method, tuple[str, str]]] = {
    Method.POWERED: ("powered", "unpowered"),
    Method.REACHABLE: ("reachable", "unreachable"),
    Method.VOLTAGE: ("voltage", "no-voltage"),
}

_Told: TypeAlias = tuple[bool | None, bool | None]


@frozen(eq=False, slots=False)
class Choice:
    """What can be measured to tell candidates apart.

    Attributes:
        simulation: Works out worlds.
        seen: What was seen already.
        candidates: The candidates: the faults of each.
    """

    simulation: Simulation
    seen: Sequence[Observation]
    candidates: Sequence[Sequence[Seat]] = field(repr=False)

    @cached_property
    def _known(self) -> frozenset[Key]:
        return frozenset(each.key for each in self.seen)

    @cached_property
    def _in(self) -> Mapping[World, tuple[int, ...]]:
        """The candidates of each world."""
        found: dict[World, list[int]] = {}
        for number, seats in enumerate(self.candidates):
            world = self.simulation.world(NOTHING.union(*(seat.parts for seat in seats)))
            found.setdefault(world, []).append(number)
        return {world: tuple(numbers) for world, numbers in found.items()}

    @cached_property
    def _asked(self) -> tuple[tuple[Method, str], ...]:
        """Devices and ports that were not looked at yet."""
        wires = self.simulation.wires
        found = [(Method.POWERED, name) for name in wires.observable if not self._is_known(Shows.POWERED, name)]
        found += [(Method.REACHABLE, name) for name in wires.observable if not self._is_known(Shows.REACHABLE, name)]
        ports = (str(port.ref) for port in self.simulation.takers)
        return (*found, *((Method.VOLTAGE, name) for name in ports if not self._is_known(Shows.VOLTAGE, name)))

    def _is_known(self, shows: Shows, where: str, lead: int = -1) -> bool:
        return (shows, where, lead) in self._known

    @cached_property
    def _marked(self) -> Mapping[int, Mapping[int, Continuity]]:
        """For each conductor that was not measured, the candidates with a fault in it, and what a meter would say."""
        found: dict[int, dict[int, Continuity]] = {}
        runs = self.simulation.wires.runs
        for number, seats in enumerate(self.candidates):
            for seat in seats:
                for index, mode in seat.marks:
                    lead = self.simulation.wires.leads[index]
                    if not self._is_known(Shows.CONDUCTOR, runs[lead.cable].name, index):
                        found.setdefault(index, {})[number] = mode
        return found

    def best(self) -> Step | None:
        """Return the step that leaves the fewest candidates at worst; None where nothing tells them apart.

        Of those, the easiest: a look before a meter, a meter with the power on before one with the power off. Of those,
        the one that leaves the fewest on average, all candidates taken as likely.
        """
        steps = (step for step in self._steps() if step.worst < len(self.candidates))
        return min(
            steps,
            key=lambda step: (step.worst, step.measurement.method.effort, step.mean, step.measurement.rank),
            default=None,
        )

    def groups(self) -> tuple[tuple[int, ...], ...]:
        """Return the candidates, together those that nothing tells apart, in order."""
        found: dict[tuple[tuple[bool, ...], frozenset[tuple[int, Continuity]]], list[int]] = {}
        marks: dict[int, set[tuple[int, Continuity]]] = {}
        for lead, modes in self._marked.items():
            for number, mode in modes.items():
                marks.setdefault(number, set()).add((lead, mode))
        for world, numbers in self._in.items():
            told = tuple(_told(world, method, where) for method, where in self._asked)
            for number in numbers:
                found.setdefault((told, frozenset(marks.get(number, ()))), []).append(number)
        return tuple(sorted(tuple(sorted(numbers)) for numbers in found.values()))

    def _steps(self) -> Iterator[Step]:
        if len(self.candidates) < 2:
            return
        for method, where in self._asked:
            split: dict[bool, list[int]] = {}
            for world, numbers in self._in.items():
                split.setdefault(_told(world, method, where), []).extend(numbers)
            if len(split) > 1:
                yield Step(
                    self._measurement(method, where),
                    tuple(
                        Outcome((_WORDS[method][not works],), tuple(sorted(split[works]))) for works in (True, False)
                    ),
                )
        yield from self._indicators()
        for index, modes in self._marked.items():
            yield self._continuity(self.simulation.wires.leads[index], modes)

    def _measurement(self, method: Method, where: str) -> Measurement:
        if method is not Method.VOLTAGE:
            return Measurement(method, where)
        return Measurement(method, where, meter=self.simulation.wires.ports[PortRef.of(where)].meter())

    def _continuity(self, lead: Lead, modes: Mapping[int, Continuity]) -> Step:
        run = self.simulation.wires.runs[lead.cable]
        split: dict[Continuity, list[int]] = {}
        for number in range(len(self.candidates)):
            split.setdefault(modes.get(number, Continuity.THROUGH), []).append(number)
        meter = (f"{run.ends[0]} {lead.first}", f"{run.ends[1]} {lead.second}")
        return Step(
            Measurement(Method.CONDUCTOR, run.name, lead.name, meter),
            tuple(Outcome((mode.value,), tuple(split[mode])) for mode in Continuity if mode in split),
        )

    def _indicators(self) -> Iterator[Step]:
        survey = self.simulation.wires.survey
        for name in self.simulation.wires.observable:
            if self._is_known(Shows.POWERED, name) and self._is_known(Shows.REACHABLE, name):
                continue
            for light, states in sorted(survey.models[name].indicators.items()):
                by_told: dict[_Told, list[IndicatorState]] = {}
                for state in states:
                    by_told.setdefault((state.powered, state.reachable), []).append(state)
                outcomes = tuple(
                    Outcome(tuple(f"{light}:{state.state}" for state in alike), leaves)
                    for told, alike in by_told.items()
                    if (leaves := self._leaves(name, told))
                )
                if len(outcomes) > 1 and self._all_told(outcomes):
                    yield Step(Measurement(Method.INDICATOR, name, light), outcomes)

    def _all_told(self, outcomes: Sequence[Outcome]) -> bool:
        """Say whether an indicator has a state for every candidate; else it may show something that is not known."""
        return len({number for outcome in outcomes for number in outcome.leaves}) == len(self.candidates)

    def _leaves(self, device: str, told: _Told) -> tuple[int, ...]:
        """Return the candidates in whose world an indicator may tell this."""
        powered, reachable = told
        return tuple(
            sorted(
                number
                for world, numbers in self._in.items()
                if powered in {None, world.powered(device)} and reachable in {None, world.reachable(device)}
                for number in numbers
            )
        )


def _told(world: World, method: Method, where: str) -> bool:
    if method is Method.POWERED:
        return world.powered(where)
    return world.reachable(where) if method is Method.REACHABLE else world.voltage(PortRef.of(where))
