"""A job document under the knife: typed access to its parts for the fault makers."""

from collections.abc import Sequence
from typing import Final, Protocol, TypeAlias, TypeVar

from ventrules.engine import Path
from ventrules.engine.findings import Document
from ventrules.files import job_from_document
from ventrules.job import BusKind, Job, Model, Occupancy, Role
from ventrules.survey import PortRef, Survey

Cut: TypeAlias = Path
_PART: Final = "a sound job document has it"


T = TypeVar("T")


class Pick(Protocol):
    """Chooses one of several."""

    def __call__(self, choices: Sequence[T], /) -> T:
        """Return one of the choices; there is at least one."""


class NothingToPickError(Exception):
    """There is no place in the job where the fault could be."""


class JobSurgery:
    """The document of a sound job (demo catalog), with access to its parts.

    Attributes:
        document: The document; makers change it.
        job: The job as it was.
        survey: The survey of the job as it was.
    """

    def __init__(self, document: dict[str, Document], pick: Pick) -> None:
        self.document = document
        self._pick = pick
        self.job: Job = job_from_document(document)
        self.survey: Survey = Survey(self.job)

    def pick(self, choices: Sequence[T], /) -> T:
        """Return one of several.

        Raises:
            NothingToPickError: There is none.
        """
        if not choices:
            raise NothingToPickError
        return self._pick(choices)

    def part(self, *path: str) -> dict[str, Document]:
        """Return a mapping of the document.

        Raises:
            TypeError: There is none at that path.
        """
        here: Document = self.document
        for step in path:
            here = here[step] if isinstance(here, dict) else None
        if not isinstance(here, dict):
            raise TypeError(f"no mapping at {path}: {_PART}")
        return here

    @property
    def cables(self) -> list[Document]:
        """The list of cables.

        Raises:
            TypeError: The document has none.
        """
        cables = self.document.setdefault("cables", [])
        if not isinstance(cables, list):
            raise TypeError(f"no list of cables: {_PART}")
        return cables

    def add_device(self, name: str, model: str) -> None:
        """Add a device."""
        self.part("devices")[name] = {"model": model}

    def add_cable(self, start: str, end: str) -> int:
        """Add a cable; return its index."""
        self.cables.append({"from": start, "to": end, "gauge": "18 AWG", "length": "9 m"})
        return len(self.cables) - 1

    def ends(self, cable: Document) -> tuple[str, str]:
        """Return the two ends of a cable."""
        found = cable if isinstance(cable, dict) else {}
        return str(found.get("from")), str(found.get("to"))

    def drop_cables(self, *devices: str) -> None:
        """Take out every cable with an end on one of the devices."""
        self.cables[:] = [
            cable for cable in self.cables if not {end.partition(".")[0] for end in self.ends(cable)} & set(devices)
        ]

    def drop_device(self, name: str) -> None:
        """Take out a device with its cables, settings and readings; the rooms that it served stay without it."""
        self.drop_cables(name)
        del self.part("devices")[name]
        self.serve_no_rooms(name)
        for key in ("settings", "readings"):
            if key in self.document:
                self.part(key).pop(name, None)

    def serve_no_rooms(self, *ventilators: str) -> None:
        """Let ventilators exhaust no rooms; the rooms stay without them."""
        rooms = self.part("dwelling").get("rooms")
        for room in rooms.values() if isinstance(rooms, dict) else ():
            if isinstance(room, dict) and room.get("exhaust_by") in ventilators:
                del room["exhaust_by"]

    def of_role(self, *roles: Role) -> list[str]:
        """Return the names of the devices of some roles."""
        return [device.name for device in self.survey.of_role(*roles)]

    @property
    def ventilators(self) -> list[str]:
        """The names of the ventilators."""
        return self.of_role(Role.VENTILATOR)

    def model(self, device: str) -> Model:
        """Return the model of a device of the job as it was."""
        return self.survey.models[device]

    def leaves(self, kind: BusKind) -> list[PortRef]:
        """Return the ports of a kind that have exactly one cable."""
        at = self.survey.topology.cables_at
        return [port for port, cables in at.items() if len(cables) == 1 and self.survey.topology.kind(port) is kind]

    def system_ports(self) -> list[PortRef]:
        """Return the system ports on the controller's bus that pass its supply on."""
        control = self.of_role(Role.CONTROLLER)[0]
        ports = self.survey.topology.segment_of(PortRef(control, "system")).ports
        return [port for port in ports if "supply" in self.model(port.device).ports[port.port].terminals.values()]

    def roomy_ports(self) -> list[PortRef]:
        """Return those of them that take one more cable."""
        at, room = self.survey.topology.cables_at, []
        for port in self.system_ports():
            most = self.model(port.device).ports[port.port].conductors_per_terminal
            if most is None or len(at[port]) < most:
                room.append(port)
        return room

    def programs(self, ventilator: str) -> dict[str, Document]:
        """Return the programs of a ventilator."""
        return self.part("settings", ventilator, "programs")

    def running_programs(self) -> list[tuple[str, str, str]]:
        """Return ventilator, mode and season of the running programs of modes in which people are or may be there."""
        return [
            (view.ventilator.name, view.mode.name, view.season.value)
            for view in self.survey.programs
            if view.mode.occupancy is not Occupancy.UNOCCUPIED and view.run_s > 0.0
        ]

    def judged_programs(self) -> list[tuple[str, str, str]]:
        """Return ventilator, mode and season of the running programs in which the target is held."""
        held = self.survey.requirement.judged
        return [
            (view.ventilator.name, view.mode.name, view.season.value)
            for view in self.survey.programs
            if view.mode.occupancy in held and view.run_s > 0.0
        ]

    def set_program(self, ventilator: str, mode: str, season: str, program: Document) -> Path:
        """Set one program; return its path."""
        self.part("settings", ventilator, "programs", mode)[season] = program
        return ("settings", ventilator, "programs", mode, season)

    def others_off(self, ventilator: str, mode: str, season: str) -> None:
        """Turn the other ventilators off in one mode and season."""
        for other in self.ventilators:
            if other != ventilator:
                self.set_program(other, mode, season, {})


def minutes(seconds: float) -> str:
    """Return a time as minutes, written out."""
    return f"{seconds / 60.0:.6g} min"
