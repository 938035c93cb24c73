"""A job: one dwelling's ventilation installation, as drawn or as built."""

from collections.abc import Mapping
from enum import StrEnum
from typing import Final

from attrs import Factory, field, frozen

from ventrules.job.acceptance import Acceptance
from ventrules.job.catalog import Catalog, Model
from ventrules.job.readings import Instruments, Reading, Shown
from ventrules.job.wiring import Cable, Device
from ventrules.units import Airflow, Area, Duration, Factor, Length, Period, Temperature, Voltage, Volume
from ventrules.words import Word


class Occupancy(Word):
    """Occupancy of a mode (LonMark standard type `occup_t`; its bypass is a timed override, not a mode)."""

    OCCUPIED = "occupied"
    STANDBY = "standby"
    UNOCCUPIED = "unoccupied"


class Season(Word):
    """Half of the year that a program belongs to."""

    HEATING = "heating"
    COOLING = "cooling"


class Route(StrEnum):
    """A way to the required rate; where a code offers several, the job may choose."""

    TABLE = "table"
    EQUATION = "equation"
    PEOPLE = "people"
    ROOMS = "rooms"
    WET_ROOMS = "wet-rooms"


class Counts(Word):
    """Which airflow of a ventilator counts toward the requirement."""

    SUPPLY = "supply"
    EXHAUST = "exhaust"
    LESSER = "lesser"
    LARGER = "larger"
    MEAN = "mean"


class RoomKind(StrEnum):
    """What a room is used for, as ventilation codes tell rooms apart."""

    BEDROOM = "bedroom"
    LIVING = "living-room"
    DINING = "dining-room"
    FAMILY = "family-room"
    RECREATION = "recreation-room"
    HABITABLE = "other-habitable-room"
    KITCHEN = "kitchen"
    BATHROOM = "bathroom"
    TOILET = "toilet"
    LAUNDRY = "laundry"
    UTILITY = "utility-room"
    BASEMENT = "undivided-basement"
    PART_BASEMENT = "partly-divided-basement"
    SERVICE = "access-or-storage"


MAIN_ROOMS: Final = frozenset(
    {RoomKind.BEDROOM, RoomKind.LIVING, RoomKind.DINING, RoomKind.FAMILY, RoomKind.RECREATION, RoomKind.HABITABLE}
)


@frozen
class Room:
    """One room.

    Attributes:
        kind: What it is used for.
        area: Its floor area.
        exhaust_by: The ventilator that draws air from it; None where it has a fan of its own or none.
        exhaust: Design exhaust airflow, by the ventilator or by its own fan.
    """

    kind: RoomKind
    area: Area | None = None
    exhaust_by: str | None = None
    exhaust: Airflow | None = None


@frozen
class Leakage:
    """A blower-door test.

    Attributes:
        airflow_50pa: Airflow at 50 Pa.
        air_changes_50pa: Air changes per hour at 50 Pa, instead.
        exponent: Exponent of the leakage curve.
        height: Between the lowest and the highest above-grade points of the pressure boundary.
        stories: Stories above grade, instead.
    """

    airflow_50pa: Airflow | None = None
    air_changes_50pa: Factor | None = None
    exponent: float | None = None
    height: Length | None = None
    stories: Factor | None = None


@frozen
class Dwelling:
    """The dwelling.

    Attributes:
        floor_area: Conditioned floor area.
        bedrooms: Bedrooms.
        ceiling_height: Average ceiling height.
        volume: Conditioned volume; by default floor area times ceiling height.
        occupants: People who live there, where that is known.
        main_rooms: Habitable rooms; by default counted from `rooms`.
        attached: True when it shares walls or floors with other dwellings.
        exterior_part: Exterior part of its boundary, 1 for a detached dwelling.
        distributed: True when outdoor air is supplied to every habitable room and kitchens and bathrooms are exhausted.
        leakage: Its blower-door test.
        rooms: Its rooms, by name.
    """

    floor_area: Area
    bedrooms: int
    ceiling_height: Length | None = None
    volume: Volume | None = None
    occupants: int | None = None
    main_rooms: int | None = None
    attached: bool = False
    exterior_part: float | None = None
    distributed: bool = False
    leakage: Leakage | None = None
    rooms: Mapping[str, Room] = Factory(dict)

    @property
    def volume_m3(self) -> float | None:
        """Its volume, m3, or None when neither it nor the ceiling height is given."""
        if self.volume is not None:
            return self.volume.m3
        return self.floor_area.m2 * self.ceiling_height.m if self.ceiling_height is not None else None

    @property
    def metric(self) -> bool:
        """True when it is written in metric units."""
        return self.floor_area.unit == "m2"

    @property
    def count_main_rooms(self) -> int | None:
        """Number of its main rooms, or None when it is not told."""
        if self.main_rooms is not None or not self.rooms:
            return self.main_rooms
        return sum(room.kind in MAIN_ROOMS for room in self.rooms.values())


@frozen
class Target:
    """What is asked of the dwelling: a code by name or by its file, or the project's own airflow and window.

    Attributes:
        code: Name of a packaged code, or relative path of a code file.
        route: Which of the code's ways to the rate is taken.
        credits: Credits of the code that are claimed.
        counts: The airflow that was counted: for a code it must be the code's own, for an own target it is a choice.
        airflow: The project's own airflow.
        window: The time over which that airflow is averaged.
    """

    code: str | None = None
    route: Route | None = None
    credits: tuple[str, ...] = ()
    counts: Counts | None = None
    airflow: Airflow | None = None
    window: Period | None = None


@frozen
class Site:
    """The place: outdoor design temperatures, climate zone, weather and shielding.

    Attributes:
        winter_design: Outdoor design temperature for heating.
        summer_design: Outdoor design temperature for cooling.
        climate_zone: Climate zone of the energy code, such as 6 or 5A.
        weather_shielding: Weather and shielding factor (wsf).
        weather_station: WMO number of the station whose factor is used instead.
    """

    winter_design: Temperature | None = None
    summer_design: Temperature | None = None
    climate_zone: str | None = None
    weather_shielding: Factor | None = None
    weather_station: str | None = None


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
    """Outdoor temperatures at or beyond which the controller turns ventilation off.

    Attributes:
        off_at_or_below: Off at this outdoor temperature and below it.
        off_at_or_above: Off at this outdoor temperature and above it.
    """

    off_at_or_below: Temperature | None = None
    off_at_or_above: Temperature | None = None


@frozen
class VentilatorSettings:
    """What the controller is set to for one ventilator.

    Attributes:
        filter_reminder: Running or calendar time after which it asks for the filter to be seen to.
        outdoor_limits: Outdoor temperatures that turn ventilation off.
        cycle: The time over which programs repeat; by default as the catalog says.
        programs: Mode name to season to program.
        accepted: Findings at these settings that are let stand.
    """

    filter_reminder: Period | None = None
    outdoor_limits: OutdoorLimits | None = None
    cycle: Period | None = None
    programs: Mapping[str, Mapping[Season, Program]] = Factory(dict)
    accepted: tuple[Acceptance, ...] = ()


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
        voltages: `device.port` to the voltage measured between its supply and common terminals.
        indicators: Device name to indicator name to the state that was seen.
        instruments: Accuracy of the instruments.
        site: Outdoor design temperatures.
        notes: Free text.
        schema: Where the schema of the file is, for editors; nothing is made of it.
        accepted: Findings anywhere in the job that are let stand.
        code_file: The text of the job's own code file, if `target.code` is a path or a name that its project gave.
        limits_file: The limits of common practice that its project set, if it did.
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
    voltages: Mapping[str, Voltage] = Factory(dict)
    indicators: Mapping[str, Mapping[str, Shown]] = Factory(dict)
    instruments: Instruments | None = None
    site: Site | None = None
    notes: str = ""
    schema: str = ""
    accepted: tuple[Acceptance, ...] = ()
    catalog: Catalog = field(factory=lambda: Catalog("none", {}), repr=False)
    code_file: Origin | None = field(default=None, repr=False)
    limits_file: Origin | None = field(default=None, repr=False)
    origin: Origin | None = field(default=None, eq=False, repr=False)

    def model_of(self, device: str) -> Model:
        """Return the catalog model of a device.

        Raises:
            KeyError: No such device, or a model that the catalogs lack (the reader refuses such jobs).
        """
        return self.catalog.models[self.devices[device].model]
