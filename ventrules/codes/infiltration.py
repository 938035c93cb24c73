"""The credit for measured infiltration, as a code file says it."""

from enum import StrEnum

from attrs import frozen

from ventrules.codes.rates import Clause
from ventrules.units import Airflow, Area, Factor, Length, Pressure


class Superposition(StrEnum):
    """How infiltration and an unbalanced fan add up when the fan is sized.

    NONE: in full. RATE_RATIO: infiltration counts by its share of the total rate, unless the system is balanced.
    UNBALANCED_PART: the closed form with the part of the fan's airflow that is not balanced.
    """

    NONE = "none"
    RATE_RATIO = "rate-ratio"
    UNBALANCED_PART = "unbalanced-part"


@frozen
class LeakageForm:
    """From normalized leakage to infiltration: airflow = NL x wsf x `airflow` x floor area / `area`.

    Attributes:
        reference_height: Height that normalized leakage refers to.
        airflow: As above.
        area: As above.
        assumed: Infiltration that the rate assumes already, for each `assumed_area` of floor; what is above counts.
        assumed_area: The floor area that it is for.
    """

    reference_height: Length
    airflow: Airflow
    area: Area
    assumed: Airflow | None = None
    assumed_area: Area | None = None


@frozen
class Infiltration:
    """The credit for measured infiltration.

    Attributes:
        form: The chain in the units of the text.
        metric_form: The same for jobs in metric units, where the text gives one.
        height_exponent: Exponent of the height ratio in normalized leakage.
        exponent: Exponent of the leakage curve where the test gave none.
        reference_pressure: Pressure difference of the effective leakage area.
        air_density: Density of air in it, kg/m3.
        basis: Clause of the credit.
        chain_basis: Clause of the chain from leakage to infiltration.
        share: Share of the infiltration that counts.
        cap: Most of the total rate that may be credited.
        superposition: How it adds up with an unbalanced fan.
        detached_only: True when attached dwellings get none.
        exterior_part: True when it is multiplied by the exterior part of the boundary.
        credit: The credit that a job has to claim for it; None when it may always be used.
        untested_air_changes: Air changes per hour at 50 Pa assumed where nothing was measured.
    """

    form: LeakageForm
    height_exponent: float
    exponent: float
    reference_pressure: Pressure
    air_density: Factor
    basis: Clause
    chain_basis: Clause
    metric_form: LeakageForm | None = None
    share: float = 1.0
    cap: float | None = None
    superposition: Superposition = Superposition.NONE
    detached_only: bool = False
    exterior_part: bool = False
    credit: str | None = None
    untested_air_changes: Factor | None = None
