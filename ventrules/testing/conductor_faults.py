"""Fault makers for conductors."""

from collections.abc import Callable, Sequence
from typing import Final

from ventrules.engine.findings import Document
from ventrules.job import Carries, Port
from ventrules.survey import CableView
from ventrules.survey.conductors import shared, terminals
from ventrules.testing.fault import Fault, fault
from ventrules.testing.surgery import Cut, JobSurgery

_COLORS: Final = ("white", "green", "red", "blue", "yellow", "brown")
_POWER: Final = frozenset({Carries.SUPPLY, Carries.MAINS})
_MESSAGES: Final = frozenset({Carries.DATA, Carries.SIGNAL})


def _pick(job: JobSurgery, fits: Callable[[CableView], bool]) -> tuple[CableView, dict[str, Document]]:
    """Pick a cable between ports of one kind; all of them are straight through, as the sound jobs have them."""
    cables = [cable for cable in job.survey.cables if cable.kinds[0] is cable.kinds[1] and fits(cable)]
    cable = job.pick(cables)
    found = job.cables[cable.index]
    if not isinstance(found, dict):
        raise TypeError("a cable is a mapping")
    return cable, found


def _joined(cable: CableView) -> list[str]:
    """Return the terminals that a straight cable joins, sorted."""
    here, there = terminals(cable)
    return sorted(name for name in here if here[name] == there.get(name))


def _carries(cable: CableView, terminal: str) -> Carries:
    return cable.survey.roles[terminals(cable)[0][terminal]].carries


def _cores(cable: CableView) -> list[str]:
    return [name for name in _joined(cable) if _carries(cable, name) is not Carries.SCREEN]


def _ports(cable: CableView) -> list[Port]:
    return [cable.survey.models[end.device].ports[end.port] for end in cable.ends]


def _listed(names: Sequence[str]) -> list[Document]:
    return [{"from": name, "to": name} for name in names]


def _swap(cable: CableView, pairs: Sequence[tuple[str, str]], job: JobSurgery) -> tuple[dict[str, Document], str]:
    first, second = job.pick(pairs)
    return {**{name: name for name in _joined(cable)}, first: second, second: first}, first


def _crossable(cable: CableView) -> list[tuple[str, str]]:
    """Return the pairs of terminals that can be crossed without power on data, each sorted."""
    names = _joined(cable)
    pairs = [(a, b) for index, a in enumerate(names) for b in names[index + 1 :]]
    return [pair for pair in pairs if pair not in _powering(cable)]


def _powering(cable: CableView) -> list[tuple[str, str]]:
    names = _joined(cable)
    pairs = [(a, b) for index, a in enumerate(names) for b in names[index + 1 :]]
    carried = [(pair, {_carries(cable, name) for name in pair}) for pair in pairs]
    return [pair for pair, carries in carried if carries & _POWER and carries & _MESSAGES]


def conductors_crossed(job: JobSurgery) -> Cut | None:
    """Cross two conductors of a cable."""
    cable, document = _pick(job, lambda cable: bool(_crossable(cable)))
    document["conductors"], first = _swap(cable, _crossable(cable), job)
    return ("cables", cable.index, "conductors", first)


def supply_put_on_data(job: JobSurgery) -> Cut | None:
    """Swap a supply conductor and a data conductor of a cable."""
    cable, document = _pick(job, lambda cable: bool(_powering(cable)))
    document["conductors"], first = _swap(cable, _powering(cable), job)
    return ("cables", cable.index, "conductors", first)


def conductor_left_out(job: JobSurgery) -> Cut | None:
    """Leave out one conductor that both ports need."""
    cable, document = _pick(job, lambda cable: bool(_cores(cable)))
    gone = job.pick(_cores(cable))
    document["conductors"] = {name: name for name in _joined(cable) if name != gone}
    return ("cables", cable.index)


def too_many_conductors_in_a_terminal(job: JobSurgery) -> Cut | None:
    """Lay one role of a cable over so many conductors that a terminal takes no more."""

    def room(cable: CableView) -> int | None:
        """Return how many more conductors go into a terminal at a port whose last cable this is."""
        at = job.survey.topology.cables_at
        counts = [
            port.conductors_per_terminal - len(at[end])
            for end, port in zip(cable.ends, _ports(cable), strict=True)
            if port.conductors_per_terminal is not None and at[end][-1] == cable.index
        ]
        return min(counts, default=None)

    cable, document = _pick(job, lambda cable: bool(_cores(cable)) and room(cable) is not None)
    twice = job.pick(_cores(cable))
    conductors = _listed([*_joined(cable), *[twice] * ((room(cable) or 0) + 1)])
    document["conductors"] = conductors
    return ("cables", cable.index, "conductors", len(conductors) - 1)


def conductor_left_hanging(job: JobSurgery) -> Cut | None:
    """Land one conductor at one end only."""
    cable, document = _pick(job, lambda cable: bool(_cores(cable)))
    bare, key = job.pick(_cores(cable)), job.pick(["from", "to"])
    names = _joined(cable)
    document["conductors"] = [{end: name for end in ("from", "to") if name != bare or end != key} for name in names]
    return ("cables", cable.index, "conductors", names.index(bare))


def terminal_misnamed(job: JobSurgery) -> Cut | None:
    """Land one conductor on a terminal that the port does not have."""
    cable, document = _pick(job, lambda cable: bool(_cores(cable)))
    wrong = job.pick(_cores(cable))
    document["conductors"] = {name: f"{name}2" if name == wrong else name for name in _joined(cable)}
    return ("cables", cable.index, "conductors", wrong)


def cable_with_too_few_conductors(job: JobSurgery) -> Cut | None:
    """Take a cable of one conductor fewer than its two ports need."""
    cable, document = _pick(job, lambda cable: sum(shared(cable).values()) > 1)
    document["cores"] = sum(shared(cable).values()) - 1
    return ("cables", cable.index)


def cable_too_thick_for_a_terminal(job: JobSurgery) -> Cut | None:
    """Take a cable whose conductors are too thick for a terminal."""
    cable, document = _pick(job, lambda cable: any(port.gauges is not None for port in _ports(cable)))
    document["gauge"] = job.pick(["12 AWG", "10 AWG"])
    return ("cables", cable.index)


def gauge_left_out(job: JobSurgery) -> Cut | None:
    """Leave out the gauge of a cable to a terminal that does not take every one."""
    cable, document = _pick(job, lambda cable: any(port.gauges is not None for port in _ports(cable)))
    del document["gauge"]
    return ("cables", cable.index)


def color_used_twice(job: JobSurgery) -> Cut | None:
    """Use the color of one conductor for another of the same cable, written in another way."""
    cable, document = _pick(job, lambda cable: len(_cores(cable)) > 1)
    names = _joined(cable)
    again = job.pick(range(1, len(names)))
    colors = [*_COLORS[: len(names)]]
    colors[again] = f" {colors[0].upper()}"
    document["conductors"] = [
        {"from": name, "to": name, "color": color} for name, color in zip(names, colors, strict=True)
    ]
    return ("cables", cable.index, "conductors", again)


FAULTS: Final[tuple[Fault, ...]] = (
    fault("wiring/conductors-crossed", conductors_crossed),
    fault("wiring/supply-on-data", supply_put_on_data),
    fault("wiring/conductor-missing", conductor_left_out),
    fault("wiring/terminal-overfull", too_many_conductors_in_a_terminal),
    fault("wiring/conductor-ends-nowhere", conductor_left_hanging),
    fault("wiring/unknown-terminal", terminal_misnamed),
    fault("wiring/too-few-cores", cable_with_too_few_conductors),
    fault("wiring/gauge-does-not-fit", cable_too_thick_for_a_terminal),
    fault("wiring/cable-not-told", gauge_left_out, unchecked=True),
    fault("wiring/color-means-two-things", color_used_twice),
)
