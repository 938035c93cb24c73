"""A published ventilation requirement as a typed value; the numbers come from a code file."""

from collections.abc import Mapping
from enum import StrEnum

from attrs import Factory, frozen

from ventrules.job import Occupancy, Route
from ventrules.sources import Basis, Known
from ventrules.units import Airflow, Area, Factor, Period


class CodeKind(StrEnum):
    """What is asked, which decides how a week is judged."""

    AVERAGE = "average"
    SEGMENT_FACTORS = "segment-factors"


class Counts(StrEnum):
    """Which airflow of a ventilator counts toward the requirement."""

    SUPPLY = "supply"
    EXHAUST = "exhaust"
    LESSER = "lesser"
    LARGER = "larger"
    MEAN = "mean"


class BalanceTest(StrEnum):
    """How a text compares supply and exhaust."""

    EACH_TO_MEAN = "each-to-mean"
    DIFFERENCE_TO_SUPPLY = "difference-to-supply"
    LESSER_TO_GREATER = "lesser-to-greater"


class CreditNeed(StrEnum):
    """A condition of a credit that the airflow itself can break."""

    BALANCED = "balanced"


@frozen
class Clause:
    """Where a figure of a code file stands, and how it is known."""

    clause: str
    known: Known
    note: str = ""


@frozen
class Equation:
    """Rate = airflow_per_area x (floor area / area) + airflow_per_person x (bedrooms + extra_people)."""

    airflow_per_area: Airflow
    area: Area
    airflow_per_person: Airflow
    extra_people: int
    basis: Clause


@frozen
class RateTable:
    """Rates by floor area and bedrooms.

    Attributes:
        area_limits: Upper floor area of each row but the last, inclusive; the last row is open.
        bedroom_limits: Most bedrooms of each column but the last, inclusive; the last column is open.
        rates: Rows of airflows, one per column.
    """

    area_limits: tuple[Area, ...]
    bedroom_limits: tuple[int, ...]
    rates: tuple[tuple[Airflow, ...], ...]
    basis: Clause


@frozen
class Rate:
    """The continuous rate: by table, by equation, or by either."""

    table: RateTable | None = None
    equation: Equation | None = None


@frozen
class RunTime:
    """Intermittent operation: the factor on the rate by share of run time in each segment.

    Between the shares the factor is interpolated; outside them it does not exist.

    Attributes:
        segment: Length of each segment.
        shares: Shares of run time, rising.
        factors: The factor at each share.
        route: The route whose rate the factor multiplies, where the text names only one.
    """

    segment: Period
    shares: tuple[float, ...]
    factors: tuple[Factor, ...]
    basis: Clause
    route: Route | None = None


@frozen
class Credit:
    """A reduction of the rate that a job may claim.

    Attributes:
        factor: What the rate is multiplied by.
        title: What it is for.
        conditions: The conditions, in our own words.
        needs: Conditions that the airflow itself can break.
    """

    factor: float
    title: str
    conditions: str
    basis: Clause
    needs: tuple[CreditNeed, ...] = ()


@frozen
class Balanced:
    """When supply and exhaust count as balanced."""

    test: BalanceTest
    fraction: float
    basis: Clause


@frozen
class Code:
    """One edition of one code, as its file says.

    Attributes:
        code: The name a job uses.
        title: The publication.
        edition: Its edition.
        jurisdiction: Where it holds.
        kind: What is asked.
        rate: The continuous rate.
        counts: Which airflow counts.
        counts_basis: Why.
        judged: Occupancies in which the requirement is held.
        judged_basis: Why.
        run_time: Factors for intermittent operation.
        window: Averaging window of an average.
        credits: Reductions that a job may claim, by name.
        balanced: The code's own definition of balanced.
    """

    code: str
    title: str
    edition: str
    jurisdiction: str
    kind: CodeKind
    rate: Rate
    counts: Counts
    counts_basis: Clause
    judged: tuple[Occupancy, ...]
    judged_basis: Clause
    run_time: RunTime | None = None
    window: Period | None = None
    credits: Mapping[str, Credit] = Factory(dict)
    balanced: Balanced | None = None

    @property
    def routes(self) -> tuple[Route, ...]:
        """The ways to the rate that this code offers."""
        given = {Route.TABLE: self.rate.table, Route.EQUATION: self.rate.equation}
        return tuple(route for route, way in given.items() if way is not None)

    def basis(self, clause: Clause) -> Basis:
        """Return the full basis of one clause of this code."""
        return Basis(self.title, clause.known, clause.clause, clause.note)
