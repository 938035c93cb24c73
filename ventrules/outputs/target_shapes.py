"""The shapes of the JSON document of what is asked of a dwelling, for its schema."""

from collections.abc import Mapping

from attrs import frozen

from ventrules.codes import CodeKind, Placing
from ventrules.job import Counts as Counted
from ventrules.job import Occupancy, Route, Season
from ventrules.outputs.json_shapes import Amount, Basis, Problem
from ventrules.sources import Known


@frozen
class Factor:
    """A factor for run time.

    Attributes:
        share: Share of run time, 0 to 1.
        factor: What the rate is multiplied by.
    """

    share: float
    factor: float


@frozen
class Held:
    """What is held at every moment.

    Attributes:
        airflow: The airflow.
        basis: Its clause.
    """

    airflow: Amount
    basis: Basis


@frozen
class ExposureBounds:
    """Limits of relative exposure.

    Attributes:
        mean: Of its mean.
        peak: Of its peak.
    """

    mean: float
    peak: float


@frozen
class ArithmeticStep:
    """One step of the arithmetic.

    Attributes:
        name: What was worked out.
        airflow: The outcome.
        number: The outcome where it is no airflow.
        unit: Its unit, or an empty text.
        basis: Its clause.
    """

    name: str
    airflow: Amount | None
    number: float | None
    unit: str
    basis: Basis


@frozen
class Requirement:
    """What is required of a dwelling.

    Attributes:
        required: What the ventilators must give when they never stop.
        part_time: The rate that run-time factors multiply.
        factors: Run-time factors.
        total: The rate before infiltration is taken off.
        infiltration: Infiltration that counts.
        route: The way to the rate.
        counts: Which airflow counts.
        counts_basis: Its clause.
        held_while: Occupancies in which it is held.
        held_basis: Their clause.
        window_s: Window or segment in seconds; 0 where airflow is held at every moment.
        placing: Where windows lie.
        window_basis: Its clause.
        least_share: Least share of run time.
        levels: Occupancy to what is held at every moment in it.
        floor: What is held at every moment under an average.
        exposure_limits: Limits of relative exposure.
        steps: The arithmetic, in order.
        remarks: Why something that could have counted did not.
        from_memory: Clauses that rest on memory alone.
    """

    required: Amount
    part_time: Amount | None
    factors: tuple[Factor, ...]
    total: Amount
    infiltration: Amount
    route: Route | None
    counts: Counted
    counts_basis: Basis | None
    held_while: tuple[Occupancy, ...]
    held_basis: Basis | None
    window_s: float
    placing: Placing | None
    window_basis: Basis
    least_share: float
    levels: Mapping[Occupancy, Held]
    floor: Held | None
    exposure_limits: ExposureBounds | None
    steps: tuple[ArithmeticStep, ...]
    remarks: tuple[str, ...]
    from_memory: tuple[str, ...]


@frozen
class Asked:
    """What a code, or the project's own target, asks.

    Attributes:
        code: The code's name; null for the project's own target.
        title: The publication.
        edition: Its edition.
        jurisdiction: Where it holds.
        note: What else a reader has to know.
        kind: How the week is judged.
        known: How its weakest clause is known.
        missing: What the job does not tell and the code needs.
        requirement: The requirement.
    """

    code: str | None
    title: str | None
    edition: str | None
    jurisdiction: str | None
    note: str | None
    kind: CodeKind
    known: Known | None
    missing: str | None
    requirement: Requirement | None


@frozen
class WeakestWindow:
    """The weakest window.

    Attributes:
        start: Day and time of its start.
        end: Day and time of its end.
        length_s: Its length in seconds.
        modes: The modes in it.
        score: The part of the required airflow that it has.
        worth: The same as an airflow.
    """

    start: str
    end: str
    length_s: float
    modes: tuple[str, ...]
    score: float
    worth: Amount


@frozen
class Exposure:
    """Relative exposure over the settled week.

    Attributes:
        mean: Its mean.
        mean_present: Its mean while people are there.
        peak: Its peak.
        peak_at: Day and time of the peak.
    """

    mean: float
    mean_present: float | None
    peak: float
    peak_at: str


@frozen
class JudgedSeason:
    """The week in one season.

    Attributes:
        season: The season.
        met: Whether the target is met; null where that cannot be told.
        window: The weakest window.
        exposure: Relative exposure.
    """

    season: Season
    met: bool | None
    window: WeakestWindow | None
    exposure: Exposure | None


@frozen
class Still:
    """Time without ventilation, infiltration left aside.

    Attributes:
        share_present: Share of the time with people.
        longest_present_s: Longest stretch of it, in seconds.
        share_absent: Share of the time without people.
        longest_absent_s: Longest stretch of it, in seconds.
    """

    share_present: float | None
    longest_present_s: float | None
    share_absent: float | None
    longest_absent_s: float | None


@frozen
class Homecoming:
    """What people find when they come.

    Attributes:
        at: Day and time.
        airflow: The airflow from then on.
        exposure: Relative exposure that they find.
        recovery_s: Seconds until it is low again; null: not within a week.
    """

    at: str
    airflow: Amount
    exposure: float
    recovery_s: float | None


@frozen
class OwnSeason(JudgedSeason):
    """The week in one season, by the job's own target.

    Attributes:
        still: Time without ventilation.
        homecomings: What people find when they come.
        unknown: What keeps a part of this from being told.
    """

    still: Still | None
    homecomings: tuple[Homecoming, ...]
    unknown: tuple[str, ...]


@frozen
class AskedByCode(Asked):
    """What one code asks.

    Attributes:
        seasons: The week in each season; empty without a calendar.
    """

    seasons: tuple[JudgedSeason, ...]


@frozen
class AskedByJob(Asked):
    """What the job's own target asks.

    Attributes:
        recovered: Relative exposure at or below which air counts as fresh again.
        seasons: The week in each season; empty without a calendar.
        unknown: What keeps the week from being told.
    """

    recovered: float
    seasons: tuple[OwnSeason, ...]
    unknown: tuple[str, ...]


@frozen
class Target:
    """The outcome of `ventrules target`.

    Attributes:
        version: The version of ventrules.
        file: The path as given.
        usable: Whether it could be read as a job; when not, only `problems` follows.
        problems: What kept it from being read.
        job: The job's name.
        asked: What the job's own target asks.
        every_code: What each packaged code asks, by name; only where that is wanted.
    """

    version: str
    file: str
    usable: bool
    problems: tuple[Problem, ...]
    job: str = ""
    asked: AskedByJob | None = None
    every_code: tuple[AskedByCode, ...] = ()
