"""Which faults explain what still works and what does not, and what to measure next."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

import attrs
from attrs import field, frozen

from ventrules.diagnosis.faults import Seat, SingleFault, seats
from ventrules.diagnosis.measuring import Choice, Step
from ventrules.diagnosis.search import Search, works
from ventrules.diagnosis.symptoms import Observation, Shows, Symptoms, observations
from ventrules.diagnosis.wires import Wires
from ventrules.diagnosis.world import NOTHING, Simulation
from ventrules.job import Job
from ventrules.survey import Survey

MOST_FAULTS: Final = 3


@frozen
class Candidate:
    """One explanation: faults that together explain everything that was seen."""

    faults: tuple[SingleFault, ...]

    def __str__(self) -> str:
        return "; ".join(map(str, self.faults))


@frozen
class Diagnosis:
    """The outcome of a diagnosis.

    Attributes:
        job: The job.
        seen: What was seen and measured, sorted.
        candidates: The smallest sets of faults that explain all of it, what is to be suspected first at the beginning.
        groups: Numbers of the candidates, together those that none of the measurements offered tells apart.
        step: What to look at or measure next; None where nothing would tell the candidates apart.
        recorded: What fails by the wiring as the job records it, without any fault.
        misrecorded: What works though it could not by the wiring as the job records it.
        outdated: What the job records of indicators and voltages, left out of `seen` as it does not go with the rest.
        clash: Where nothing explains everything: observations that no faults explain together, each needed for that.
        most_faults: The most faults that a candidate was let have.
        cut_off: Whether the search ended before everything was tried.
    """

    job: Job = field(repr=False)
    seen: tuple[Observation, ...]
    candidates: tuple[Candidate, ...] = ()
    groups: tuple[tuple[int, ...], ...] = ()
    step: Step | None = None
    recorded: tuple[Observation, ...] = ()
    misrecorded: tuple[Observation, ...] = ()
    outdated: tuple[Observation, ...] = ()
    clash: tuple[Observation, ...] = ()
    most_faults: int = MOST_FAULTS
    cut_off: bool = False

    @property
    def fails(self) -> tuple[Observation, ...]:
        """What was seen that is not as it should be."""
        return tuple(each for each in self.seen if not each.works)

    @property
    def nothing_to_explain(self) -> bool:
        """True when all that was seen is as it should be, and as it is recorded."""
        return not self.fails and not self.misrecorded


def diagnose(job: Job, symptoms: Symptoms | None = None, *, most_faults: int = MOST_FAULTS) -> Diagnosis:
    """Return the smallest sets of single faults that explain everything that was seen, and what to measure next.

    What the job itself records of indicators and voltages counts as seen, unless `symptoms` say otherwise: of the same
    thing, or of others so that no faults explain both.

    Args:
        job: The job.
        symptoms: What was seen and measured.
        most_faults: The most faults that are taken together.

    Raises:
        SymptomError: A symptom of something that the job does not have, or in a word that is not known.
        ValueError: `most_faults` is less than one.
    """
    if most_faults < 1:
        raise ValueError(f"most_faults must be one or more, not {most_faults}")
    simulation = Simulation(Wires(Survey(job)))
    seen = observations(simulation.wires, Symptoms() if symptoms is None else symptoms)
    sound = simulation.world()
    fails_recorded = [each for each in seen if each.shows is not Shows.CONDUCTOR and not works(sound, each)]
    result = Diagnosis(
        job,
        seen,
        recorded=tuple(each for each in fails_recorded if not each.works),
        misrecorded=tuple(each for each in fails_recorded if each.works),
        most_faults=most_faults,
    )
    if result.misrecorded or not result.fails:
        return result
    every = seats(simulation)
    found = Search(simulation, every, seen, most_faults).smallest()
    while not found.sets:
        clash = () if found.cut_off else _clash(simulation, every, seen, most_faults)
        old = _alone(simulation, every, seen, most_faults) if found.cut_off else tuple(e for e in clash if e.recorded)
        if not old or old == clash:
            return attrs.evolve(result, clash=clash, cut_off=found.cut_off)
        seen = tuple(each for each in seen if each not in old)
        result = attrs.evolve(result, seen=seen, outdated=(*result.outdated, *old))
        found = Search(simulation, every, seen, most_faults).smallest()
    ranked = sorted((tuple(sorted(each, key=_seat_rank)) for each in found.sets), key=_rank)
    if not ranked[0]:
        return result  # the recorded wiring explains it all
    choice = Choice(simulation, seen, ranked)
    candidates = tuple(Candidate(tuple(seat.fault for seat in each)) for each in ranked)
    return attrs.evolve(
        result, candidates=candidates, groups=choice.groups(), step=choice.best(), cut_off=found.cut_off
    )


def _seat_rank(seat: Seat) -> tuple[int, str, tuple[str, ...]]:
    return seat.fault.rank


def _rank(seats: Sequence[Seat]) -> tuple[list[int], list[tuple[int, str, tuple[str, ...]]]]:
    """Return the place of a set of faults among sets as large: by the usual order of their kinds, then by name."""
    ranks = [seat.fault.rank for seat in seats]
    return sorted((rank[0] for rank in ranks), reverse=True), ranks


def _alone(
    simulation: Simulation, every: Sequence[Seat], seen: Sequence[Observation], most_faults: int
) -> tuple[Observation, ...]:
    """Return what is recorded and does not go with what was seen now, even with nothing else that is recorded.

    For when it cannot be told which of it all exclude each other.
    """
    now = [each for each in seen if not each.recorded]

    def explained(some: Sequence[Observation]) -> bool:
        return bool(Search(simulation, every, some, most_faults).smallest().sets)

    if not now or not explained(now):
        return ()
    return tuple(each for each in seen if each.recorded and not explained([*now, each]))


def _clash(
    simulation: Simulation, every: Sequence[Seat], seen: Sequence[Observation], most_faults: int
) -> tuple[Observation, ...]:
    """Return observations that no faults explain together, none of which can be left out for that.

    By halves: U. Junker, "QuickXplain: preferred explanations and relaxations for over-constrained problems", 2004
    (from memory).
    """

    def hopeless(some: Sequence[Observation]) -> bool:
        return Search(simulation, every, some, most_faults).hopeless()

    def needed(kept: list[Observation], rest: list[Observation], *, fresh: bool) -> list[Observation]:
        """Return the part of `rest` that is needed beside what is kept."""
        if fresh and hopeless(kept):
            return []
        if len(rest) == 1:
            return rest
        half = len(rest) // 2
        second = needed([*kept, *rest[:half]], rest[half:], fresh=True)
        first = needed([*kept, *second], rest[:half], fresh=bool(second))
        return [*first, *second]

    found = needed([], list(seen), fresh=False)
    return tuple(each for each in seen if each in found)


def faults_of(job: Job) -> tuple[SingleFault, ...]:
    """Return every single fault of the vocabulary that a job can have, in the order in which they are suspected."""
    return tuple(seat.fault for seat in seats(Simulation(Wires(Survey(job)))))


def symptoms_of(job: Job, faults: Iterable[SingleFault] = ()) -> Symptoms:
    """Return all that would be seen and measured on a job with some faults: every device, port and conductor.

    Raises:
        ValueError: A fault that the job cannot have.
    """
    simulation = Simulation(Wires(Survey(job)))
    own = {seat.fault: seat for seat in seats(simulation)}
    chosen = []
    for fault in faults:
        if fault not in own:
            raise ValueError(f"the job cannot have this fault: {fault}")
        chosen.append(own[fault])
    world = simulation.world(NOTHING.union(*(seat.parts for seat in chosen)))
    wires = simulation.wires
    marks = {lead: mode.value for seat in chosen for lead, mode in seat.marks}
    return Symptoms(
        powered={name: world.powered(name) for name in wires.observable},
        reachable={name: world.reachable(name) for name in wires.observable},
        voltages={str(port.ref): world.voltage(port.ref) for port in simulation.takers},
        conductors={
            run.name: {lead.name: marks.get(lead.index, "through") for lead in run.leads} for run in wires.runs
        },
    )
