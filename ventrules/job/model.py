"""A job: one dwelling's ventilation installation, as drawn or as built."""

from collections.abc import Mapping
from enum import StrEnum

from attrs import Factory, field, frozen

from ventrules.job.catalog import Catalog, Model
from ventrules.units import Airflow, Area, Duration, Length, Period, Temperature, Volume, WireSize


class Occupancy(StrEnum):
    """Occupancy of a mode (LonMark standard type `occup_t`; its bypass is a timed override, not a mode)."""

    OCCUPIED = "occupied"
    STANDBY = "standby"
    UNOCCUPIED = "unoccupied"


class Season(StrEnum):
    """Half of the year that a program belongs to."""

    HEATING = "heating"
    COOLING = "cooling"


class Route(StrEnum):
    """Which of a code's ways to the required rate is used, where it offers two."""

    TABLE = "table"
    EQUATION = "equation"


@frozen
class Dwelling:
    """The dwelling: conditioned floor area, bedrooms, ceiling height or volume."""

    floor_area: Area
    bedrooms: int
    ceiling_height: Length | None = None
    volume: Volume | None = None


@frozen
class Target:
    """What is asked of the dwelling: a code by name, or the project's own airflow and window."""

    code: str | None = None
    route: Route | None = None
    credits: tuple[str, ...] = ()
    airflow: Airflow | None = None
    window: Period | None = None


@frozen
class Site:
    """Outdoor design temperatures of the place."""

    winter_design: Temperature
    summer_design: Temperature


@frozen
class Device:
    """One installed device: the name of its catalog model."""

    model: str


@frozen
class Cable:
    """One cable between two ports, each written `device.port`.

    Attributes:
        start: The end written `from`.
        end: The end written `to`.
        gauge: Conductor size.
        length: One-way length.
        conductors: Terminal at `from` to terminal at `to`; None means straight through.
    """

    start: str
    end: str
    gauge: WireSize | None = None
    length: Length | None = None
    conductors: Mapping[str, str] | None = None


@frozen
class Calendar:
    """Which mode is on when: day name or group, then time of day to mode."""

    days: Mapping[str, Mapping[str, str]]


@frozen
class Program:
    """Time at each stage within a cycle; the rest of the cycle is off.

    Attributes:
        stages: Stage name to its time in each cycle.
        managed: True when the controller decides by its own logic; `stages` is empty then.
    """

    stages: Mapping[str, Duration] = Factory(dict)
    managed: bool = False


@frozen
class OutdoorLimits:
    """Outdoor temperatures at or beyond which the controller turns ventilation off."""

    off_at_or_below: Temperature | None = None
    off_at_or_above: Temperature | None = None


@frozen
class VentilatorSettings:
    """What the controller is set to for one ventilator."""

    filter_reminder: Period | None = None
    outdoor_limits: OutdoorLimits | None = None
    cycle: Period | None = None
    programs: Mapping[str, Mapping[Season, Program]] = Factory(dict)


@frozen
class Reading:
    """Airflow measured on site at one stage."""

    supply: Airflow
    exhaust: Airflow


@frozen
class Origin:
    """The text a job was read from, so that findings can be placed in it."""

    name: str
    text: str = field(repr=False)


@frozen
class Job:
    """One job, whole.

    Attributes:
        title: The job's own name.
        catalogs: Names or relative paths of the catalogs used.
        catalog: Those catalogs, read and merged.
        dwelling: The dwelling.
        target: The airflow asked for.
        devices: Device name to device.
        cables: All cables.
        modes: Mode name to occupancy.
        calendar: The week; None when the job has none.
        settings: Ventilator name to what the controller is set to.
        readings: Ventilator name to stage name to what was measured.
        site: Outdoor design temperatures.
        notes: Free text.
        origin: The text it was read from; not part of the job's value.
    """

    title: str
    dwelling: Dwelling
    target: Target
    devices: Mapping[str, Device]
    catalogs: tuple[str, ...] = ()
    cables: tuple[Cable, ...] = ()
    modes: Mapping[str, Occupancy] = Factory(dict)
    calendar: Calendar | None = None
    settings: Mapping[str, VentilatorSettings] = Factory(dict)
    readings: Mapping[str, Mapping[str, Reading]] = Factory(dict)
    site: Site | None = None
    notes: str = ""
    catalog: Catalog = field(factory=lambda: Catalog("none", {}), repr=False)
    origin: Origin | None = field(default=None, eq=False, repr=False)

    def model_of(self, device: str) -> Model:
        """Return the catalog model of a device.

        Raises:
            KeyError: No such device, or a model that the catalogs lack (the reader refuses such jobs).
        """
        return self.catalog.models[self.devices[device].model]
