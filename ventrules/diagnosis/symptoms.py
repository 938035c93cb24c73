"""What was seen and measured on a job, checked against the job and turned into observations."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from enum import StrEnum
from typing import Final, NoReturn, TypeAlias

from attrs import field, frozen

from ventrules.diagnosis.faults import Continuity
from ventrules.diagnosis.wires import Lead, PortNode, Wires
from ventrules.job import IndicatorState, Shown
from ventrules.survey import PortRef
from ventrules.words import listed, nearest, shown

_MOST_NAMED: Final = 8

SeenStates: TypeAlias = Mapping[str, Mapping[str, Shown | str | int]]


class SymptomError(ValueError):
    """A symptom of something that the job does not have, or in a word that is not known."""


def _as_shown(value: SeenStates) -> Mapping[str, Mapping[str, Shown]]:
    return {
        device: {name: state if isinstance(state, Shown) else Shown(state) for name, state in lights.items()}
        for device, lights in value.items()
    }


@frozen
class Symptoms:
    """What was seen and measured. What is left out was not looked at.

    Attributes:
        powered: Device name to whether it shows that it has its supply.
        reachable: Device name to whether it exchanges messages with the controller.
        indicators: Device name to indicator name to the state that it shows; a number is flashes in a row.
        voltages: `device.port` to whether there is a voltage between its supply and common terminals.
        conductors: Cable (`device.port to device.port`) to conductor to `through`, `open`, `shorted` or `crossed`,
            measured end to end with the power off and the conductor off its terminals at both ends.
    """

    powered: Mapping[str, bool] = field(factory=dict)
    reachable: Mapping[str, bool] = field(factory=dict)
    indicators: Mapping[str, Mapping[str, Shown]] = field(factory=dict, converter=_as_shown)
    voltages: Mapping[str, bool] = field(factory=dict)
    conductors: Mapping[str, Mapping[str, str]] = field(factory=dict)


class Shows(StrEnum):
    """What an observation is about."""

    POWERED = "powered"
    REACHABLE = "reachable"
    VOLTAGE = "voltage"
    CONDUCTOR = "conductor"


Key: TypeAlias = tuple[Shows, str, int]
"""What was looked at: kind, device or `device.port` or cable, and the conductor's number (-1: none)."""


@frozen
class Observation:
    """One thing that was seen or measured.

    Attributes:
        shows: What it is about.
        where: The device, the `device.port` or the cable.
        works: Whether it is as it should be.
        conductor: The conductor's name, of a cable.
        found: What a meter said of the conductor.
        lead: The conductor's number within the job; -1 where there is none.
        source: Where it was told, where that is worth a word.
        recorded: Whether the job records it, maybe of an earlier day.
    """

    shows: Shows
    where: str
    works: bool
    conductor: str = ""
    found: Continuity | None = None
    lead: int = field(default=-1, repr=False)
    source: str = field(default="", eq=False)
    recorded: bool = field(default=False, eq=False, repr=False)

    @property
    def key(self) -> Key:
        """What was looked at."""
        return (self.shows, self.where, self.lead)

    @property
    def rank(self) -> tuple[int, str, str, bool, str]:
        """Its place among observations."""
        return (list(Shows).index(self.shows), self.where, self.conductor, self.works, self.found or "")

    def __str__(self) -> str:
        if self.shows is Shows.CONDUCTOR:
            return f"conductor {self.conductor} of the cable {self.where} is {self.found}"
        said = {
            (Shows.POWERED, True): f"{self.where} has power",
            (Shows.POWERED, False): f"{self.where} has no power",
            (Shows.REACHABLE, True): f"{self.where} is reachable",
            (Shows.REACHABLE, False): f"{self.where} is unreachable",
            (Shows.VOLTAGE, True): f"there is voltage at {self.where}",
            (Shows.VOLTAGE, False): f"there is no voltage at {self.where}",
        }[self.shows, self.works]
        return f"{said} ({self.source})" if self.source else said


def observations(wires: Wires, symptoms: Symptoms) -> tuple[Observation, ...]:
    """Return what was seen, and of what the job records what does not contradict that, sorted, each once.

    Raises:
        SymptomError: A symptom of something that the job does not have, or in a word that is not known.
    """
    given = list(_given(wires, symptoms))
    known = {each.key for each in given}
    told: dict[str, dict[Shows, set[bool]]] = {}
    for each in given:
        told.setdefault(each.where, {}).setdefault(each.shows, set()).add(each.works)
    recorded = [
        each
        for each in _recorded(wires, symptoms)
        if each.key not in known and not _contradicted(each, told.get(each.where, {}))
    ]
    return tuple(sorted(dict.fromkeys((*given, *recorded)), key=lambda each: each.rank))


def _contradicted(recorded: Observation, told: Mapping[Shows, set[bool]]) -> bool:
    """Say whether what was recorded of a device cannot be together with what was seen: no messages without power."""
    if recorded.shows is Shows.POWERED and not recorded.works:
        return True in told.get(Shows.REACHABLE, ())
    return recorded.shows is Shows.REACHABLE and recorded.works and False in told.get(Shows.POWERED, ())


def _given(wires: Wires, symptoms: Symptoms) -> Iterator[Observation]:
    for what, seen in ((Shows.POWERED, symptoms.powered), (Shows.REACHABLE, symptoms.reachable)):
        for device, works in seen.items():
            _device(wires, device)
            yield Observation(what, device, works)
    for device, lights in symptoms.indicators.items():
        for name, state in lights.items():
            yield from _indicated(wires, device, name, state)
    for end, present in symptoms.voltages.items():
        yield Observation(Shows.VOLTAGE, str(supply_port(wires, end).ref), present)
    for cable, found in symptoms.conductors.items():
        for conductor, word in found.items():
            name, lead = _conductor(wires, cable, conductor)
            result = _continuity(word)
            works = result is Continuity.THROUGH
            yield Observation(Shows.CONDUCTOR, name, works, lead.name, result, lead.index)


def _recorded(wires: Wires, symptoms: Symptoms) -> Iterator[Observation]:
    job = wires.survey.job
    for device, lights in job.indicators.items():
        for name, state in lights.items():
            if name in symptoms.indicators.get(device, {}):
                continue
            if device in wires.observable and str(state) in _states(wires, device, name):  # a rule finds others
                yield from _indicated(wires, device, name, state, recorded=True)
    practice, measuring = wires.survey.limits.voltage_window, wires.survey.limits.measuring
    for end, voltage in job.voltages.items():
        port = wires.ports.get(PortRef.of(end))
        if port is None or not port.supply:
            continue
        lowest = port.port.window.lowest.v if port.port.window is not None else None
        if lowest is None and port.port.voltage is not None:
            lowest = practice.lowest * port.port.voltage.v
        source = f"recorded in the job: {voltage}"
        if lowest is not None and voltage.v >= lowest:
            yield Observation(Shows.VOLTAGE, end, works=True, source=source, recorded=True)
        elif lowest is not None and voltage.v < measuring.absent_below * lowest:
            yield Observation(Shows.VOLTAGE, end, works=False, source=source, recorded=True)


def _indicated(wires: Wires, device: str, name: str, state: Shown, *, recorded: bool = False) -> Iterator[Observation]:
    found = indicator_state(wires, device, name, state)
    source = f"{'recorded in the job: ' if recorded else ''}{name} shows {found.state}"
    for shows, works in ((Shows.POWERED, found.powered), (Shows.REACHABLE, found.reachable)):
        if works is not None:
            yield Observation(shows, device, works, source=source, recorded=recorded)


def indicator_state(wires: Wires, device: str, name: str, state: Shown) -> IndicatorState:
    """Return a state of an indicator.

    Raises:
        SymptomError: The job has no such device, its model no such indicator, or that no such state.
    """
    lights = wires.survey.models[_device(wires, device)].indicators
    if name not in lights:
        _unknown(f"{shown(device)} has no indicator", name, lights)
    states = _states(wires, device, name)
    if str(state) not in states:
        _unknown(f"indicator {shown(name)} of {shown(device)} has no state", str(state), states)
    return states[str(state)]


def _states(wires: Wires, device: str, name: str) -> Mapping[str, IndicatorState]:
    """Return the states of an indicator as a job writes them; none where there is no such indicator."""
    return {each.state: each for each in wires.survey.models[device].indicators.get(name, ())}


def _device(wires: Wires, name: str) -> str:
    if name not in wires.survey.models:
        _unknown("the job has no device", name, wires.observable)
    if name not in wires.observable:
        said = f"{shown(name)} has no bus: it shows neither whether it is powered nor whether it is reachable"
        ports = [str(port.ref) for port in wires.ports_of(name) if port.supply]
        raise SymptomError(f"{said}; its voltage can be measured at {listed(ports)}" if ports else said)
    return name


def supply_port(wires: Wires, end: str) -> PortNode:
    """Return a port at which a supply can be measured.

    Raises:
        SymptomError: The job has no such port.
    """
    port = wires.ports.get(PortRef.of(end))
    if port is None or not port.supply:
        _unknown("no supply can be measured at", end, (str(p.ref) for p in wires.ports.values() if p.supply))
    return port


def _conductor(wires: Wires, cable: str, conductor: str) -> tuple[str, Lead]:
    by_name = {run.name: run for run in wires.runs}
    run = by_name.get(cable) or by_name.get(_turned(cable))
    if run is None:
        _unknown("the job has no cable", cable, by_name)
    for name in ("name", "first", "second"):
        found = [lead for lead in run.leads if getattr(lead, name) == conductor]
        if len(found) == 1:
            return run.name, found[0]
    return _unknown(f"the cable {shown(cable)} has no conductor", conductor, (lead.name for lead in run.leads))


def _turned(cable: str) -> str:
    """Return a cable's name with its ends the other way round; the number of a second cable stays last."""
    first, _to, rest = cable.partition(" to ")
    second, bracket, number = rest.partition(" (")
    return f"{second} to {first}{bracket}{number}"


def _continuity(word: str) -> Continuity:
    if word not in list(Continuity):
        _unknown("a conductor cannot be", word, Continuity)
    return Continuity(word)


def _unknown(said: str, name: str, valid: Iterable[str]) -> NoReturn:
    known = sorted(map(str, valid))
    close = nearest(name, known)
    if close is not None:
        raise SymptomError(f"{said} {shown(name)!r}; nearest is {close!r}")
    more = [f"{len(known) - _MOST_NAMED} more"] if len(known) > _MOST_NAMED else []
    raise SymptomError(f"{said} {shown(name)!r}; expected {listed([*known[:_MOST_NAMED], *more], 'or') or 'none'}")
