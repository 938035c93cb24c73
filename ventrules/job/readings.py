"""What was measured and seen on site, and how well the instruments measure."""

from attrs import frozen

from ventrules.units import Airflow, Voltage


@frozen
class Reading:
    """Airflow measured on site at one stage.

    Attributes:
        supply: Measured supply airflow, gross.
        exhaust: Measured exhaust airflow.
    """

    supply: Airflow
    exhaust: Airflow


@frozen
class AirflowAccuracy:
    """How well the airflow instrument measures: within the larger of the two.

    Attributes:
        of_reading: Part of the reading.
        at_least: A fixed airflow.
    """

    of_reading: float = 0.0
    at_least: Airflow | None = None


@frozen
class VoltageAccuracy:
    """How well the voltmeter measures: within the sum of the two.

    Attributes:
        of_reading: Part of the reading.
        plus: A fixed voltage.
    """

    of_reading: float = 0.0
    plus: Voltage | None = None


@frozen
class Instruments:
    """The instruments' stated accuracy.

    Attributes:
        airflow: For `readings`.
        voltage: For `voltages`.
    """

    airflow: AirflowAccuracy | None = None
    voltage: VoltageAccuracy | None = None


@frozen
class Shown:
    """A state of an indicator as it was seen: in words, or a number of flashes in a row."""

    state: str | int

    def __str__(self) -> str:
        return str(self.state)
