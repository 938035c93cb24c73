"""Equipment as a catalog describes it: ports, dialects, stages, limits, program grids."""

from collections.abc import Mapping
from enum import StrEnum

from attrs import Factory, frozen

from ventrules.engine.once import once
from ventrules.job.bus_profile import BusProfile
from ventrules.units import (
    Airflow,
    Factor,
    Period,
    Power,
    Pressure,
    Resistance,
    Temperature,
    Voltage,
    WireSize,
)
from ventrules.words import Word


class Role(Word):
    """What a device is in the installation."""

    CONTROLLER = "controller"
    INDOOR_UNIT = "indoor-unit"
    OUTDOOR_UNIT = "outdoor-unit"
    INTERFACE_MODULE = "interface-module"
    ZONE_PANEL = "zone-panel"
    VENTILATOR = "ventilator"
    TRANSFORMER = "transformer"


class BusKind(Word):
    """What a port is made for."""

    SYSTEM = "system-bus"
    VENTILATOR = "ventilator-bus"
    CONTACT = "contact"
    POWER = "power"


class Carries(Word):
    """What a conductor carries."""

    DATA = "data"
    SUPPLY = "supply"
    COMMON = "common"
    MAINS = "mains"
    SCREEN = "screen"
    SIGNAL = "signal"


@frozen
class ConductorRole:
    """A role that terminals and the conductors between them can have.

    Attributes:
        carries: What a conductor of this role carries.
        needed: Whether a cable between two ports that both have the role must carry it.
        meets: Other roles that it may be joined to.
    """

    carries: Carries
    needed: bool = True
    meets: tuple[str, ...] = ()


class VentilatorKind(StrEnum):
    """What a ventilator recovers: heat alone, or heat and moisture."""

    HRV = "hrv"
    ERV = "erv"


@frozen
class VoltageWindow:
    """Voltages at its terminals between which a device works.

    Attributes:
        lowest: The least.
        highest: The most; at least `lowest`.
    """

    lowest: Voltage
    highest: Voltage


@frozen
class WireRange:
    """Conductor sizes that a terminal takes.

    Attributes:
        thinnest: The thinnest.
        thickest: The thickest; no thinner than `thinnest`.
    """

    thinnest: WireSize
    thickest: WireSize


@frozen
class Port:
    """One connection point of a device: a set of terminals that a cable lands on.

    Attributes:
        bus: The kind of bus, a supply circuit, or a plain contact.
        dialects: Message sets that the device understands on this port.
        terminals: Terminal name to its role (`data+`, `data-`, `supply`, `common`, …).
        draw: Load on the supply of the circuit.
        supplies: Load that the port can feed.
        voltage: Nominal voltage of the supply terminals.
        window: Voltages at the terminals between which the device works.
        fed_from: The device's other port that what this one supplies is taken from; None: a supply of its own.
        profile: The bus profile that holds where the port is wired.
        unit_loads: Load on the data pair, in unit loads.
        termination: Terminating resistor that is built in and always on.
        bias: Bias resistor of each conductor of the pair that is built in and always on.
        gauges: Conductor sizes that its terminals take.
        conductors_per_terminal: How many conductors one terminal takes.
    """

    bus: BusKind
    dialects: tuple[str, ...] = ()
    terminals: Mapping[str, str] = Factory(dict)
    draw: Power | None = None
    supplies: Power | None = None
    voltage: Voltage | None = None
    window: VoltageWindow | None = None
    fed_from: str | None = None
    profile: str | None = None
    unit_loads: Factor | None = None
    termination: Resistance | None = None
    bias: Resistance | None = None
    gauges: WireRange | None = None
    conductors_per_terminal: int | None = None


@frozen
class IndicatorState:
    """One state of an indicator, and what it tells.

    Attributes:
        meaning: What it means, in the words of the unit's instructions.
        shows: The state in words, such as `steady`.
        flashes: How many flashes it gives in a row, instead.
        powered: Whether the device has its supply then; None: it tells nothing about that.
        reachable: Whether the device exchanges messages with the controller then; None: likewise.
        fault: Whether the state tells of a fault.
    """

    meaning: str
    shows: str | None = None
    flashes: int | None = None
    powered: bool | None = None
    reachable: bool | None = None
    fault: bool = False

    @property
    def state(self) -> str:
        """The state as a job writes it."""
        return self.shows if self.shows is not None else str(self.flashes)


@frozen
class Stage:
    """A fan speed: gross airflow of each stream at the rating pressure, and the power it takes.

    Attributes:
        supply: Gross supply airflow at the rating pressure.
        exhaust: Exhaust airflow at the rating pressure.
        power: Electrical power of both fans at this stage, for codes that limit it.
        rating_pressure: External static pressure of the rating. Kept; no packaged rule uses it.
    """

    supply: Airflow
    exhaust: Airflow
    power: Power | None = None
    rating_pressure: Pressure | None = None


@frozen
class ProgramGrid:
    """What a controller can be set to: minutes in steps within a repeating cycle.

    Attributes:
        cycle: The cycle that the controller repeats.
        step: Times at a stage are whole numbers of it; it must fit into the cycle.
        stages_per_cycle: The most stages that one program may use; at least 1.
    """

    cycle: Period
    step: Period
    stages_per_cycle: int


@frozen
class OperatingLimits:
    """Outdoor temperatures between which a ventilator may run.

    Attributes:
        lowest: Lowest outdoor temperature at which the unit may run; below `highest`.
        highest: Highest outdoor temperature at which the unit may run.
    """

    lowest: Temperature
    highest: Temperature


@frozen
class FilterInterval:
    """Filter reminder that a ventilator allows: least, usual and most.

    Attributes:
        least: Shortest reminder.
        usual: The usual one; what remedies set.
        most: Longest reminder.
    """

    least: Period
    usual: Period
    most: Period


@frozen
class Recovery:
    """Recovery efficiencies as fractions, at a rating temperature.

    Attributes:
        sensible: Sensible recovery efficiency.
        latent: Latent recovery (moisture transfer). Kept; no packaged rule uses it.
        at: Outdoor temperature of the rating.
    """

    sensible: float
    latent: float | None = None
    at: Temperature | None = None


@frozen(slots=False)
class Model:
    """One catalog entry.

    Attributes:
        role: What the device is.
        title: A line for people.
        ports: Port name to port.
        not_together: Groups of ports of which only one may be wired at a time.
        ventilators: How many ventilators a controller or a bridge can serve.
        programs: The grid that a controller can be set to.
        kind: HRV or ERV.
        stages: Stage name to airflow.
        exhaust_air_transfer: Fraction of the supply air that is returned exhaust air (EATR).
        recovery: Recovery efficiencies.
        outdoor_limits: Temperatures between which the ventilator may run.
        filter_interval: Filter reminder that the ventilator allows.
        indicators: Indicator name to the states that it can show.
    """

    role: Role
    title: str = ""
    ports: Mapping[str, Port] = Factory(dict)
    not_together: tuple[tuple[str, ...], ...] = ()
    ventilators: int | None = None
    programs: ProgramGrid | None = None
    kind: VentilatorKind | None = None
    stages: Mapping[str, Stage] = Factory(dict)
    exhaust_air_transfer: float = 0.0
    recovery: Recovery | None = None
    outdoor_limits: OperatingLimits | None = None
    filter_interval: FilterInterval | None = None
    indicators: Mapping[str, tuple[IndicatorState, ...]] = Factory(dict)

    @once
    def bus_ports(self) -> tuple[str, ...]:
        """Its ports that carry messages, sorted."""
        return tuple(sorted({*self.system_ports, *self.ventilator_ports}))

    @once
    def system_ports(self) -> tuple[str, ...]:
        """Its ports on a system bus, sorted."""
        return self._ports_of(BusKind.SYSTEM)

    @once
    def ventilator_ports(self) -> tuple[str, ...]:
        """Its ports on a ventilator bus, sorted."""
        return self._ports_of(BusKind.VENTILATOR)

    def _ports_of(self, kind: BusKind) -> tuple[str, ...]:
        return tuple(sorted(name for name, port in self.ports.items() if port.bus is kind))

    @once
    def power_ports(self) -> tuple[str, ...]:
        """Its ports that draw, that supply, or that others of its ports are fed from."""
        above = {port.fed_from for port in self.ports.values() if port.supplies is not None}
        return tuple(
            name
            for name, port in self.ports.items()
            if port.supplies is not None or port.draw is not None or name in above
        )

    def serves(self, count: int) -> bool:
        """Say whether a controller or a bridge can serve so many ventilators; without a number it can."""
        return self.ventilators is None or count <= self.ventilators


@frozen(slots=False)
class Catalog:
    """Models by name, from one catalog file or merged from several.

    Attributes:
        name: Its own name.
        models: Model name to model.
        note: Free text.
        roles: Conductor roles that the catalog adds to the usual ones.
        profiles: Bus profiles that the catalog brings.
        schema: Where the schema of the file is, for editors; nothing is made of it.
    """

    name: str
    models: Mapping[str, Model]
    note: str = ""
    roles: Mapping[str, ConductorRole] = Factory(dict)
    profiles: Mapping[str, BusProfile] = Factory(dict)
    schema: str = ""

    @once
    def alone(self) -> "Catalog":
        """What the catalogs of a job that names none but this one come to; one object for all such jobs."""
        return Catalog("merged", self.models, roles=self.roles, profiles=self.profiles)
