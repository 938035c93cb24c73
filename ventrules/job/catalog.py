"""Equipment as a catalog describes it: ports, dialects, stages, limits, program grids."""

from collections.abc import Mapping
from enum import StrEnum

from attrs import Factory, frozen

from ventrules.units import Airflow, Period, Power, Pressure, Temperature, Voltage


class Role(StrEnum):
    """What a device is in the installation."""

    CONTROLLER = "controller"
    INDOOR_UNIT = "indoor-unit"
    OUTDOOR_UNIT = "outdoor-unit"
    INTERFACE_MODULE = "interface-module"
    ZONE_PANEL = "zone-panel"
    VENTILATOR = "ventilator"


class BusKind(StrEnum):
    """What a port is made for."""

    SYSTEM = "system-bus"
    VENTILATOR = "ventilator-bus"
    CONTACT = "contact"


class VentilatorKind(StrEnum):
    """What a ventilator recovers: heat alone, or heat and moisture."""

    HRV = "hrv"
    ERV = "erv"


@frozen
class Port:
    """One connection point of a device: a set of terminals that a cable lands on.

    Attributes:
        bus: The kind of bus, or a plain contact.
        dialects: Message sets that the device understands on this port.
        terminals: Terminal name to its role (`data+`, `data-`, `supply`, `common`, …).
        draw: Load on the bus supply.
        supplies: Load that the port can feed.
        voltage: Nominal voltage of the supply terminals.
    """

    bus: BusKind
    dialects: tuple[str, ...] = ()
    terminals: Mapping[str, str] = Factory(dict)
    draw: Power | None = None
    supplies: Power | None = None
    voltage: Voltage | None = None


@frozen
class Stage:
    """A fan speed: gross airflow of each stream at the rating pressure, and the power it takes."""

    supply: Airflow
    exhaust: Airflow
    power: Power | None = None
    rating_pressure: Pressure | None = None


@frozen
class ProgramGrid:
    """What a controller can be set to: minutes in steps within a repeating cycle."""

    cycle: Period
    step: Period
    stages_per_cycle: int


@frozen
class OperatingLimits:
    """Outdoor temperatures between which a ventilator may run."""

    lowest: Temperature
    highest: Temperature


@frozen
class FilterInterval:
    """Filter reminder that a ventilator allows: least, usual and most."""

    least: Period
    usual: Period
    most: Period


@frozen
class Recovery:
    """Recovery efficiencies as fractions, at a rating temperature."""

    sensible: float
    latent: float | None = None
    at: Temperature | None = None


@frozen
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

    def serves(self, count: int) -> bool:
        """Say whether a controller or a bridge can serve so many ventilators; without a number it can."""
        return self.ventilators is None or count <= self.ventilators


@frozen
class Catalog:
    """Models by name, from one catalog file or merged from several."""

    name: str
    models: Mapping[str, Model]
    note: str = ""
