"""What a picture or a table of a job shows: its cables, numbered, and where its findings belong."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from attrs import field, frozen

from ventrules.engine import Finding, Place
from ventrules.job import BusKind
from ventrules.survey import CableView, PortRef, Survey, cable_name
from ventrules.survey.conductors import ConductorView

KIND: Final[Mapping[BusKind, str]] = {
    BusKind.SYSTEM: "system bus",
    BusKind.VENTILATOR: "ventilator bus",
    BusKind.CONTACT: "contact",
    BusKind.POWER: "power",
}
MIXED: Final = "joins ports of different kinds"
_OF_DEVICES: Final = frozenset({"devices", "settings", "readings", "indicators"})


@frozen
class Spot:
    """One thing that a finding can be marked at.

    Attributes:
        device: A device, or the device of a port.
        port: A port; empty for the whole device.
        cable: Index of a cable.
        conductor: Index of one of its conductors; None for the whole cable.
    """

    device: str = ""
    port: str = ""
    cable: int | None = None
    conductor: int | None = None


@frozen
class Mark:
    """The number of a finding at a spot.

    Attributes:
        number: Which finding, counted from 1.
        own: True at its own place, False where something only takes part in it.
    """

    number: int
    own: bool = True


@frozen
class DrawnCable:
    """A cable with its short name: W1, W2, and so on, by its two ends."""

    label: str
    view: CableView

    @property
    def kind(self) -> BusKind | None:
        """The kind of its ports; None where they are of different kinds."""
        start, end = self.view.kinds
        return start if start is end else None

    @property
    def kind_words(self) -> str:
        """The kind of its ports in words."""
        return KIND[self.kind] if self.kind is not None else MIXED

    @property
    def size_words(self) -> tuple[str, str]:
        """Its gauge and its length, each empty where it is not told."""
        cable = self.view.cable
        return text_of(cable.gauge), text_of(cable.length)

    @property
    def wires(self) -> tuple[tuple[int, ConductorView], ...]:
        """Its conductors with their indexes: a list in its order, others by their terminals."""
        joined = self.view.cable.conductors
        found = list(enumerate(self.view.conductors))
        if joined is None or not joined.listed:
            found.sort(key=lambda item: (item[1].conductor.start or "", item[1].conductor.end or ""))
        return tuple(found)


def text_of(quantity: object | None) -> str:
    """Return a quantity as text, or nothing."""
    return str(quantity) if quantity is not None else ""


@frozen
class Numbered:
    """A finding with its number, and whether it could be marked anywhere."""

    number: int
    finding: Finding
    marked: bool

    @property
    def label(self) -> str:
        """How bad it is."""
        return "not checked" if self.finding.unchecked else self.finding.severity.value


@frozen
class Drawing:
    """A job with what is marked in it.

    Attributes:
        survey: What follows from the job.
        cables: Its cables, by their ends.
        findings: The findings, in the order of the report.
    """

    survey: Survey
    cables: tuple[DrawnCable, ...]
    findings: tuple[Numbered, ...]
    _marks: Mapping[Spot, tuple[Mark, ...]] = field(alias="marks", repr=False)

    def marks(self, spot: Spot) -> tuple[Mark, ...]:
        """Return what is marked at a spot, by number."""
        return self._marks.get(spot, ())

    @property
    def cautions(self) -> tuple[str, ...]:
        """Safety cautions of all findings, each once."""
        return tuple(dict.fromkeys(caution for found in self.findings for caution in found.finding.cautions))

    @property
    def all_marks(self) -> tuple[Mark, ...]:
        """Everything that is marked, each as often as it stands somewhere."""
        return tuple(mark for marks in self._marks.values() for mark in marks)


def drawing(survey: Survey, findings: Sequence[Finding]) -> Drawing:
    """Return a job with its findings, ready to be drawn.

    Args:
        survey: What follows from the job.
        findings: What rules have to say about it.
    """
    marks: dict[Spot, list[Mark]] = {}
    numbered = []
    for number, finding in enumerate(findings, start=1):
        spots = _spots(survey, finding)
        for spot, own in spots.items():
            marks.setdefault(spot, []).append(Mark(number, own))
        numbered.append(Numbered(number, finding, bool(spots)))
    cables = sorted((DrawnCable("", view) for view in survey.cables), key=_cable_key)
    named = tuple(DrawnCable(f"W{number}", cable.view) for number, cable in enumerate(cables, start=1))
    return Drawing(survey, named, tuple(numbered), {spot: tuple(found) for spot, found in marks.items()})


def _cable_key(cable: DrawnCable) -> tuple[str, str, str, int]:
    """Return what cables are sorted by: their ends, then all that a drawing says of them, then the job's order."""
    wires = [wire.conductor for _number, wire in cable.wires]
    return cable_name(cable.view.cable), cable.view.cable.start, repr((cable.size_words, wires)), cable.view.index


def _spots(survey: Survey, finding: Finding) -> dict[Spot, bool]:
    """Return where a finding is marked, and whether that is its own place; a place of no device gives way to others."""
    found: dict[Spot, bool] = dict.fromkeys(_spots_of(survey, finding.place), True)
    whole = not found
    for place in finding.related:
        for spot in _spots_of(survey, place):
            found.setdefault(spot, whole)
    return found


def _spots_of(survey: Survey, place: Place) -> Iterator[Spot]:
    match place.path:
        case ("cables", int(index), *_within) if index < len(survey.cables):
            yield from _on_cable(survey.cables[index], place)
        case ("devices", str(device), "ports", str(port), *_within) if _has(survey, device, port):
            yield Spot(device, port)
        case ("voltages", str(end), *_within) if _has(survey, *PortRef.of(end)):
            yield Spot(*PortRef.of(end))
        case (str(part), str(device), *_within) if part in _OF_DEVICES and device in survey.models:
            yield Spot(device)


def _has(survey: Survey, device: str, port: str) -> bool:
    return device in survey.models and port in survey.models[device].ports


def _on_cable(view: CableView, place: Place) -> Iterator[Spot]:
    """Yield the conductor that a place means, else the cable."""
    numbers = [number for number, conductor in enumerate(view.conductors) if _means(place, conductor)]
    yield Spot(cable=view.index, conductor=numbers[0] if numbers else None)


def _means(place: Place, conductor: ConductorView) -> bool:
    """Say whether a place is a conductor or a part of one; those of a straight cable are told by name."""
    own = conductor.place
    return place == own or (conductor.number is not None and place.path[: len(own.path)] == own.path)
