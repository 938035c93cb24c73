"""A plan as values: what to set, why, what it costs, and what is in the way where nothing will do."""

from collections.abc import Mapping

from attrs import frozen

from ventrules.codes import Code, Requirement
from ventrules.engine import Edit, Finding
from ventrules.job import Job, Occupancy, Season
from ventrules.planner.orders import DUST, Least
from ventrules.planner.verdict import Failure, Together
from ventrules.survey.under import Exposed


@frozen
class Solved:
    """One season's programs.

    Attributes:
        programs: Mode to what each ventilator is to deliver.
        cost: What they cost in the modes of the week on average (of all modes without a calendar): airflow, m3/s,
            fan power, W, and stage changes an hour.
        beyond: How much more they cost than anything can, at most, as a part, in what counts most.
        settled: True when nothing on the grid is cheaper, in anything that counts.
    """

    programs: Mapping[str, Together]
    cost: tuple[float, float, float]
    beyond: float
    settled: bool

    @property
    def proved(self) -> bool:
        """True when nothing on the grid costs less of what counts most."""
        return self.settled or self.beyond <= DUST


@frozen
class PlannedStage:
    """A stage in a program.

    Attributes:
        stage: Its name.
        time_s: Its time in a cycle, s.
        airflow_m3s: The airflow that counts, m3/s.
        measured: True where it was measured on site, False where it is the catalog's.
    """

    stage: str
    time_s: float
    airflow_m3s: float
    measured: bool


@frozen
class NextCheaper:
    """The next cheaper program of one ventilator, the others as planned, and why it will not do.

    Attributes:
        stages: Its stages with their time in a cycle, s; none where it is off.
        delivered_m3s: What it delivers on average, m3/s.
        failure: Where it misses the requirement; None where it would do, which only a plan that is not proved to be
            the least can leave.
        power_w: Fan power on average, W; None where the catalog does not tell.
        changes: Stage changes in a cycle.
    """

    stages: tuple[tuple[str, float], ...]
    delivered_m3s: float
    failure: Failure | None
    power_w: float | None = None
    changes: int = 0


@frozen
class PlannedProgram:
    """One ventilator's program in one mode and season.

    Attributes:
        ventilator: The ventilator.
        mode: The mode.
        season: The season.
        cycle_s: Length of the cycle, s.
        stages: The stages, in the order of their airflow, the most first; none where it is off.
        delivered_m3s: What it delivers on average, m3/s.
        power_w: Fan power on average, W; None where the catalog does not tell.
        changes: Stage changes in a cycle.
        kept: True where it stays because it was to stay, or cannot be planned.
        changed: True where it differs from what is set now.
        cheaper: The next cheaper program; None where nothing is cheaper, or where it stays.
    """

    ventilator: str
    mode: str
    season: Season
    cycle_s: float
    stages: tuple[PlannedStage, ...]
    delivered_m3s: float
    power_w: float | None
    changes: int
    kept: bool
    changed: bool
    cheaper: NextCheaper | None


@frozen
class PlannedMode:
    """One mode in one season.

    Attributes:
        mode: The mode.
        occupancy: Its occupancy.
        season: The season.
        part: Its part of the week; None where the calendar does not call it up, or there is none.
        required_m3s: What is asked for, m3/s; None where nothing is.
        equivalent_m3s: What the programs count for, m3/s; None where nothing is asked for.
        delivered_m3s: What they deliver on average, m3/s.
        programs: The programs, by ventilator.
    """

    mode: str
    occupancy: Occupancy
    season: Season
    part: float | None
    required_m3s: float | None
    equivalent_m3s: float | None
    delivered_m3s: float
    programs: tuple[PlannedProgram, ...]

    @property
    def surplus_m3s(self) -> float | None:
        """What is delivered beyond what is asked for, m3/s; less than nothing where part-time operation counts more."""
        return None if self.required_m3s is None else self.delivered_m3s - self.required_m3s


@frozen
class PlannedSeason:
    """One season's programs.

    Attributes:
        season: The season.
        modes: The modes, in the order in which the week calls them up; those that it does not, last.
        delivered_m3s: Airflow on average over the week (over the modes where there is no calendar), m3/s.
        required_m3s: What is asked for, on the same average, m3/s.
        power_w: Fan power on the same average, W; None where the catalog does not tell.
        changes_per_hour: Stage changes an hour, on the same average.
        exposure: Relative exposure of the settled week; None where it is not known.
        by_exposure: True where windows are short and the requirement is met through relative exposure.
        proved: True when no programs on the grid cost less.
        beyond: By which part the cost can be above the least there is, at most.
    """

    season: Season
    modes: tuple[PlannedMode, ...]
    delivered_m3s: float
    required_m3s: float
    power_w: float | None
    changes_per_hour: float
    exposure: Exposed | None
    by_exposure: bool
    proved: bool
    beyond: float

    @property
    def surplus_m3s(self) -> float:
        """What is delivered beyond what is asked for, on average, m3/s."""
        return self.delivered_m3s - self.required_m3s


@frozen
class Shortage:
    """No program on the grid meets the requirement.

    Attributes:
        season: The season in which it is missed.
        failure: Where all ventilators at their highest stages, without a break, still miss it; None where only what
            the controllers can be set to is in the way.
        curable: True where more airflow would do; False where none would, since what is to stay is in the way.
        models: Ventilator to the models that would meet it in its place, the smallest first.
        proved: False where the search for programs was broken off, so that there may be some.
    """

    season: Season
    failure: Failure | None
    curable: bool
    models: Mapping[str, tuple[str, ...]]
    proved: bool = True


@frozen
class Plan:
    """What to set.

    Attributes:
        job: The job as planned; the given one where there is nothing to plan.
        least: What is spent least of first.
        hold: Modes whose programs stay as they are.
        requirement: What is asked for; None where it cannot be told.
        code: The code that asks for it; None for a target of the job's own.
        unit: The unit of airflow that the job is written in.
        seasons: The programs; empty where there is no plan.
        edits: The changes to the job document, in the order in which they are keyed in.
        findings: What the rules have to say about the job as planned.
        shortage: Why no programs will do; None where some do.
        missing: Why nothing can be planned; empty where it can.
        remarks: What a reader has to know.
    """

    job: Job
    least: Least
    hold: tuple[str, ...] = ()
    requirement: Requirement | None = None
    code: Code | None = None
    unit: str = ""
    seasons: tuple[PlannedSeason, ...] = ()
    edits: tuple[Edit, ...] = ()
    findings: tuple[Finding, ...] = ()
    shortage: Shortage | None = None
    missing: str = ""
    remarks: tuple[str, ...] = ()

    @property
    def found(self) -> bool:
        """True when there are programs that meet the requirement."""
        return bool(self.seasons)

    @property
    def proved(self) -> bool:
        """True when no programs on the grids cost less."""
        return bool(self.seasons) and all(season.proved for season in self.seasons)

    @property
    def alike(self) -> bool:
        """True when both seasons have the same programs, so that one of them speaks for both."""
        sets = [
            [(mode.mode, p.ventilator, p.stages, p.kept, p.cheaper) for mode in season.modes for p in mode.programs]
            for season in self.seasons
        ]
        return len(sets) > 1 and all(other == sets[0] for other in sets)
