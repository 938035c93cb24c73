"""Limits of common practice, as data: what rules compare with where no code and no catalog speaks."""

from attrs import frozen

from ventrules.codes.code import Balanced
from ventrules.job import Counts, Occupancy
from ventrules.sources import Basis
from ventrules.units import Airflow, Current, Factor, Length, Period, Power, Temperature, Voltage, WireSize


@frozen
class FilterPractice:
    """Usual range of a filter reminder.

    Attributes:
        least: The shortest.
        usual: The usual one.
        most: The longest.
        basis: Where they come from.
    """

    least: Period
    usual: Period
    most: Period
    basis: Basis


@frozen
class CyclePractice:
    """Cycle of programs where nothing names one.

    Attributes:
        usual: The cycle.
        basis: Where it comes from.
    """

    usual: Period
    basis: Basis


@frozen
class SurplusPractice:
    """Share of the target above which a surplus is worth a word.

    Attributes:
        margin: The share of the target.
        basis: Where it comes from.
    """

    margin: float
    basis: Basis


@frozen
class OwnTargetPractice:
    """How a project's own target is judged.

    Attributes:
        judged: Occupancies in which it is held.
        counts: Which airflow counts.
        basis: Where that comes from.
    """

    judged: tuple[Occupancy, ...]
    counts: Counts
    basis: Basis


@frozen
class ExposurePractice:
    """Relative exposure worth a word beside a code that does not ask for it.

    Attributes:
        most: Mean above which it is worth a word.
        recovered: Value at or below which the dwelling counts as recovered after people have come.
        basis: Where the two come from.
    """

    most: Factor
    recovered: Factor
    basis: Basis


@frozen
class Copper:
    """What copper conductors resist.

    Attributes:
        resistivity_ohm_m: Volume resistivity at the reference temperature, ohm m.
        coefficient_per_k: Temperature coefficient of the resistance there, 1/K.
        reference: The reference temperature.
        stranding: How much more a stranded conductor resists than a solid one of its size.
        ambient: Temperature of conductors whose temperature a job does not tell.
        sizes: Sizes that can be bought, the thinnest first.
        basis: Where resistivity and coefficient come from.
        stranding_basis: Where the factor for stranding comes from.
        ambient_basis: Where the usual temperature comes from.
        sizes_basis: Where the sizes come from.
    """

    resistivity_ohm_m: float
    coefficient_per_k: float
    reference: Temperature
    stranding: Factor
    ambient: Temperature
    sizes: tuple[WireSize, ...]
    basis: Basis
    stranding_basis: Basis
    ambient_basis: Basis
    sizes_basis: Basis


@frozen
class VoltagePractice:
    """Voltage at a device whose catalog entry has no window, as parts of its nominal voltage.

    Attributes:
        lowest: The least.
        highest: The most.
        basis: Where they come from.
    """

    lowest: Factor
    highest: Factor
    basis: Basis


@frozen
class PowerLimited:
    """What a class 2 source gives at most, and how its circuits are run.

    Attributes:
        voltage: Its highest voltage.
        power: Its most power up to that voltage.
        current: Its most current; at a low voltage it comes to less than that power.
        separation: From light, power and class 1 conductors, where neither lies in what separates the two.
        basis: Where voltage and power come from.
        parallel_basis: Where it comes from that two sources are not to be joined.
        separation_basis: Where the separation comes from.
    """

    voltage: Voltage
    power: Power
    current: Current
    separation: Length
    basis: Basis
    parallel_basis: Basis
    separation_basis: Basis


@frozen
class MeasuringPractice:
    """Accuracy of instruments that a job does not tell, and how far a unit may be from its rating.

    Attributes:
        airflow_of_reading: Part of the reading.
        airflow_at_least: The least, as an airflow.
        voltage_of_reading: Part of the reading.
        voltage_plus: Added to that, as a voltage.
        from_rating: Part of the rated airflow that a unit may be away from it.
        source_lowest: The least that a source which was not measured gives, as a part of its nominal voltage.
        source_highest: The most, likewise.
        at_connections: Part of the nominal voltage that screws and splices on the way may take.
        absent_below: Part of the lowest voltage at which a device works, below which a voltage counts as none.
        basis: Where the accuracies, the part of the rating and that of the voltage come from.
        source_basis: Where the voltages of a source come from.
        absent_basis: Where it comes from what counts as no voltage.
    """

    airflow_of_reading: Factor
    airflow_at_least: Airflow
    voltage_of_reading: Factor
    voltage_plus: Voltage
    from_rating: Factor
    source_lowest: Factor
    source_highest: Factor
    at_connections: Factor
    absent_below: Factor
    basis: Basis
    source_basis: Basis
    absent_basis: Basis


@frozen
class Limits:
    """All limits of common practice.

    Attributes:
        filter_interval: Usual range of a filter reminder.
        cycle: Cycle of programs where nothing names one.
        surplus: Surplus over the target that is worth a word.
        exposure: Relative exposure that is worth a word.
        balance: Balance where the code has no definition.
        balance_tests: Published definitions of balanced, shown beside.
        own_target: How a project's own target is judged.
        copper: What copper conductors resist.
        voltage_window: Voltage at a device whose catalog entry has no window.
        power_limited: What a class 2 source gives at most.
        measuring: Accuracy of instruments that a job does not tell.
    """

    filter_interval: FilterPractice
    cycle: CyclePractice
    surplus: SurplusPractice
    exposure: ExposurePractice
    balance: Balanced
    balance_tests: tuple[Balanced, ...]
    own_target: OwnTargetPractice
    copper: Copper
    voltage_window: VoltagePractice
    power_limited: PowerLimited
    measuring: MeasuringPractice
