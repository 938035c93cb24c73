"""A published ventilation requirement as a typed value; the numbers come from a code file."""

from collections.abc import Mapping
from enum import StrEnum

from attrs import Factory, frozen

from ventrules.codes.infiltration import Infiltration
from ventrules.codes.rates import Clause, Rate, RateTable
from ventrules.job import Counts, Occupancy, Room, RoomKind, Route
from ventrules.sources import Basis
from ventrules.units import Airflow, Area, Factor, Period, Power, Temperature


class CodeKind(StrEnum):
    """What is asked, which decides how a week is judged.

    CAPACITY: the ventilators must be able to give the rate. CONTINUOUS: it must flow all the time, without
    cycling. AVERAGE: its mean over a window. SEGMENT_FACTORS: its mean over a segment, by a factor for the run
    time. AVERAGE_WITH_FLOOR: its mean over a window, and never less than a floor. LEVELS: a rate for each
    occupancy, at every moment. EXPOSURE: its mean over a window, or the relative exposure over the week.
    """

    CAPACITY = "capacity"
    CONTINUOUS = "continuous"
    AVERAGE = "average"
    SEGMENT_FACTORS = "segment-factors"
    AVERAGE_WITH_FLOOR = "average-with-floor"
    LEVELS = "levels"
    EXPOSURE = "exposure"


class Placing(StrEnum):
    """Where averaging windows lie: anywhere, or one after the other from Monday 00:00."""

    SLIDING = "sliding"
    FIXED = "fixed"


class BalanceTest(StrEnum):
    """How a text compares supply and exhaust."""

    EACH_TO_MEAN = "each-to-mean"
    DIFFERENCE_TO_SUPPLY = "difference-to-supply"
    LESSER_TO_GREATER = "lesser-to-greater"
    EACH_TO_DESIGN = "each-to-design"


class CreditNeed(StrEnum):
    """A condition of a credit that the job itself can break."""

    BALANCED = "balanced"


@frozen
class Window:
    """The averaging window.

    Attributes:
        length: Its length.
        basis: Its clause, with the reading chosen.
        placing: Whether windows slide or lie one after the other.
    """

    length: Period
    basis: Clause
    placing: Placing = Placing.SLIDING


@frozen
class LeastRun:
    """Least run time in each period, where a text asks for one beside its average.

    Attributes:
        time: Least run time in each period; not more than it.
        period: The period.
        basis: Its clause.
    """

    time: Period
    period: Period
    basis: Clause


@frozen
class RunTime:
    """Intermittent operation: the factor on the rate by share of run time in each segment.

    Attributes:
        segment: Length of each segment.
        shares: Shares of run time, rising; between them the factor is interpolated, outside them there is none.
        factors: The factor at each share.
        basis: The clause, with the reading chosen.
        route: The route whose rate the factor multiplies, where the text names only one.
        table: The table whose rate it multiplies, where that is none of the code's routes.
        placing: Whether segments slide or lie one after the other.
    """

    segment: Period
    shares: tuple[float, ...]
    factors: tuple[Factor, ...]
    basis: Clause
    route: Route | None = None
    table: RateTable | None = None
    placing: Placing = Placing.SLIDING


@frozen
class Credit:
    """A reduction that a job may claim.

    Attributes:
        title: What it is for.
        conditions: The conditions, in our own words.
        basis: Its clause.
        factor: What the rate is multiplied by; 1 where the credit opens something else, such as a lower level.
        needs: Conditions that the job itself can break.
    """

    title: str
    conditions: str
    basis: Clause
    factor: float = 1.0
    needs: tuple[CreditNeed, ...] = ()


@frozen
class Quality:
    """Coefficients on the rate by what the system is: balanced or not, distributed or not.

    Attributes:
        balanced_distributed: Factor of a balanced, distributed system.
        balanced: Factor of a balanced system that is not distributed.
        distributed: Factor of a distributed system that is not balanced.
        neither: Factor of a system that is neither.
        conditions: When a system counts as distributed, in your own words.
        basis: Its clause.
    """

    balanced_distributed: Factor
    balanced: Factor
    distributed: Factor
    neither: Factor
    conditions: str
    basis: Clause


@frozen
class Floor:
    """What must flow at every moment under an average; of several that are given the largest holds.

    Attributes:
        basis: Its clause.
        share: Share of the rate.
        airflow_per_area: Airflow for each `area` of floor.
        area: The floor area that `airflow_per_area` is for.
        least: A fixed airflow.
    """

    basis: Clause
    share: float | None = None
    airflow_per_area: Airflow | None = None
    area: Area | None = None
    least: Airflow | None = None


@frozen
class Level:
    """What must flow at every moment in one occupancy: a share of the rate, an airflow by area, or a table.

    Attributes:
        occupancy: The occupancy.
        basis: Its clause.
        share: Share of the rate.
        airflow_per_area: Airflow for each `area` of floor.
        area: The floor area that `airflow_per_area` is for.
        by_main_rooms: Airflow by the number of main rooms, from one; the last holds for more.
        credit: The credit that has to be claimed; without it the rate itself holds.
    """

    occupancy: Occupancy
    basis: Clause
    share: float | None = None
    airflow_per_area: Airflow | None = None
    area: Area | None = None
    by_main_rooms: tuple[Airflow, ...] = ()
    credit: str | None = None


@frozen
class ExposureLimits:
    """Limits of the relative exposure over the settled week.

    Attributes:
        mean: Most of the mean.
        peak: Most at any moment.
        mean_basis: Clause of the mean, with the hours that count.
        peak_basis: Clause of the peak.
        hours: Occupancies whose hours the mean counts.
    """

    mean: Factor
    peak: Factor
    mean_basis: Clause
    peak_basis: Clause
    hours: tuple[Occupancy, ...] = tuple(Occupancy)


@frozen
class Balanced:
    """When supply and exhaust count as balanced.

    Attributes:
        test: How they are compared.
        fraction: Most that they may be apart by that measure.
        basis: The clause.
        or_within: A difference that is small enough by itself, where the text allows one.
    """

    test: BalanceTest
    fraction: float
    basis: Clause
    or_within: Airflow | None = None


@frozen
class LocalExhaust:
    """Local exhaust of one kind of room: on demand, or all the time where the text offers that.

    Attributes:
        rooms: Kinds of room.
        demand: Airflow on demand.
        basis: Its clause.
        continuous: Airflow that may flow all the time instead; none: not offered.
    """

    rooms: tuple[RoomKind, ...]
    demand: Airflow
    basis: Clause
    continuous: Airflow | None = None


@frozen
class RecoveryLeast:
    """Least sensible recovery, and where it is asked for.

    Attributes:
        sensible: Least sensible recovery efficiency.
        basis: The clause.
        at: Outdoor temperature of the rating.
        zones: Climate zones; empty for everywhere.
    """

    sensible: float
    basis: Clause
    at: Temperature | None = None
    zones: tuple[str, ...] = ()


@frozen
class Efficacy:
    """Least airflow for the power that both fans take together: `airflow` for each `power`.

    Attributes:
        airflow: Least airflow for each `power`.
        power: Power of both fans together.
        basis: Its clause.
    """

    airflow: Airflow
    power: Power
    basis: Clause


@frozen
class Oversize:
    """A unit larger than the rate by more than `beyond` must be able to run within `within` of the rate.

    Attributes:
        beyond: Share of the rate above which a unit is too large.
        within: Share of the rate within which it must then be able to run.
        basis: Its clause.
    """

    beyond: float
    within: float
    basis: Clause


@frozen
class Example:
    """A worked example that the code must reproduce.

    Attributes:
        airflow: What is asked.
        source: Who published it, or what it is computed from.
        floor_area: Floor area of the dwelling.
        bedrooms: Its bedrooms.
        occupants: Its occupants, where they are known.
        main_rooms: Its main rooms, where they matter.
        rooms: Its rooms, where they matter.
        route: The route taken.
        credits: The credits claimed, all of them earned.
        balanced: Whether the system is balanced.
        distributed: Whether the system is distributed.
        tolerance: Relative tolerance; by default the rounding of a printed figure.
    """

    airflow: Airflow
    source: str
    floor_area: Area
    bedrooms: int
    occupants: int | None = None
    main_rooms: int | None = None
    rooms: tuple[Room, ...] = ()
    route: Route | None = None
    credits: tuple[str, ...] = ()
    balanced: bool = True
    distributed: bool = False
    tolerance: float = 0.005


@frozen
class Code:
    """One edition of one code, as its file says.

    Attributes:
        code: The name a job uses.
        title: The publication.
        edition: Its edition.
        jurisdiction: Where it holds.
        kind: What is asked.
        rate: The rate.
        counts: Which airflow counts.
        counts_basis: Why.
        judged: Occupancies in which the requirement is held; empty for a capacity.
        judged_basis: Why.
        note: What else a reader has to know: what was left out, and why.
        metric_rate: The rate for jobs in metric units, where the text gives it apart.
        run_time: Factors for intermittent operation.
        window: Averaging window.
        least_run: Least run time beside an average.
        floor: What must flow at every moment under an average.
        levels: What must flow at every moment, by occupancy.
        exposure: Limits of the relative exposure.
        credits: Reductions that a job may claim, by name.
        quality: Coefficients by what the system is.
        infiltration: The credit for measured infiltration.
        balanced: The code's own definition of balanced.
        must_balance: Where the text asks for a balanced system.
        total: Capacity of all fans together, the ventilator's and the rooms' own, where a text asks for one.
        local_exhaust: Local exhaust by kind of room.
        recovery: Least recovery.
        efficacy: Least airflow for the power taken.
        oversize: What a unit that is too large must be able to do.
        examples: Worked examples that the file must reproduce.
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
    note: str = ""
    metric_rate: Rate | None = None
    run_time: RunTime | None = None
    window: Window | None = None
    least_run: LeastRun | None = None
    floor: Floor | None = None
    levels: tuple[Level, ...] = ()
    exposure: ExposureLimits | None = None
    credits: Mapping[str, Credit] = Factory(dict)
    quality: Quality | None = None
    infiltration: Infiltration | None = None
    balanced: Balanced | None = None
    must_balance: Clause | None = None
    total: Rate | None = None
    local_exhaust: tuple[LocalExhaust, ...] = ()
    recovery: tuple[RecoveryLeast, ...] = ()
    efficacy: Efficacy | None = None
    oversize: Oversize | None = None
    examples: tuple[Example, ...] = ()

    @property
    def routes(self) -> tuple[Route, ...]:
        """The ways to the rate that a job may choose from."""
        return tuple(self.rate.ways)

    def rate_for(self, *, metric: bool) -> Rate:
        """Return the rate for jobs in metric units or in others."""
        return self.metric_rate if metric and self.metric_rate is not None else self.rate

    def basis(self, clause: Clause) -> Basis:
        """Return the full basis of one clause of this code."""
        return Basis(clause.title or self.title, clause.known, clause.clause, clause.note)
