"""The shapes of the JSON document of a plan, for its schema."""

from collections.abc import Mapping

from attrs import frozen

from ventrules.job import Occupancy, Season
from ventrules.outputs.json_shapes import Amount, Edit, Finding, Problem
from ventrules.outputs.target_shapes import Asked, Exposure


@frozen
class Failure:
    """How the target is missed.

    Attributes:
        kind: What sort of failure.
        mode: The mode; null where it is the week.
        value: What was found: an airflow, a share or a relative exposure.
        bound: What it is compared with.
        start: Day and time of a window's start, or of a peak.
        end: Day and time of a window's end.
        text: The same in words.
    """

    kind: str
    mode: str | None
    value: Amount
    bound: Amount
    start: str | None
    end: str | None
    text: str


@frozen
class StageTime:
    """Time at a stage.

    Attributes:
        stage: The stage.
        time_s: Its time in a cycle, in seconds.
    """

    stage: str
    time_s: float


@frozen
class PlannedStage(StageTime):
    """A stage of a planned program.

    Attributes:
        airflow: Its airflow that counts.
        measured: Whether that was measured on site, or is the catalog's.
    """

    airflow: Amount
    measured: bool


@frozen
class NextCheaper:
    """The next cheaper program, the others as planned.

    Attributes:
        stages: Its stages.
        text: The program in words.
        delivered: Airflow on average.
        power: Fan power on average.
        changes: Its stage changes in a cycle.
        failure: How it misses the target; null where not everything could be gone through.
    """

    stages: tuple[StageTime, ...]
    text: str
    delivered: Amount
    power: Amount | None
    changes: float
    failure: Failure | None


@frozen
class PlannedProgram:
    """The program of one ventilator.

    Attributes:
        ventilator: The ventilator.
        cycle_s: The cycle in seconds.
        stages: Its stages, the most airflow first; empty: off.
        text: The program in words.
        delivered: Airflow on average.
        power: Fan power on average.
        changes: Stage changes in a cycle.
        kept: Whether it stays as it is, and was not planned.
        changed: Whether it differs from what is set now.
        next_cheaper: The next cheaper program.
    """

    ventilator: str
    cycle_s: float
    stages: tuple[PlannedStage, ...]
    text: str
    delivered: Amount
    power: Amount | None
    changes: float
    kept: bool
    changed: bool
    next_cheaper: NextCheaper | None


@frozen
class PlannedMode:
    """The programs in one mode.

    Attributes:
        mode: The mode.
        occupancy: Its occupancy.
        part: Its part of the week, 0 to 1.
        required: What is asked for in it; null where nothing is.
        equivalent: What the programs count as.
        delivered: What they deliver on average.
        surplus: Delivered less required.
        programs: One for each ventilator.
    """

    mode: str
    occupancy: Occupancy
    part: float | None
    required: Amount | None
    equivalent: Amount | None
    delivered: Amount
    surplus: Amount | None
    programs: tuple[PlannedProgram, ...]


@frozen
class PlannedSeason:
    """The programs of one season.

    Attributes:
        season: The season.
        delivered: Airflow on average over the week, or over the modes where there is no calendar.
        required: What is asked for, on the same average.
        surplus: What is delivered beyond that; may be less than nothing.
        power: Power of the fans, on the same average.
        changes_per_hour: Stage changes, on the same average.
        exposure: Relative exposure over the settled week.
        by_exposure: Whether the target is met through relative exposure, with windows short.
        proved: Whether none cost less in what counts most.
        beyond: By which part the cost can be above the least there is; null where that is not known.
        modes: The modes, in the order in which the week calls them up.
    """

    season: Season
    delivered: Amount
    required: Amount
    surplus: Amount
    power: Amount | None
    changes_per_hour: float
    exposure: Exposure | None
    by_exposure: bool
    proved: bool
    beyond: float | None
    modes: tuple[PlannedMode, ...]


@frozen
class Shortage:
    """Why no programs will do.

    Attributes:
        season: The season in which the target is missed.
        failure: How the highest stages without a break miss it.
        curable: Whether more airflow would do.
        proved: False where the search was broken off, so that there may be some.
        models: Ventilator to the models that would do in its place, the smallest first.
    """

    season: Season
    failure: Failure | None
    curable: bool
    proved: bool
    models: Mapping[str, tuple[str, ...]]


@frozen
class Plan:
    """The outcome of `ventrules plan`.

    Attributes:
        version: The version of ventrules.
        file: The path as given.
        usable: Whether it could be used; when not, only `problems` follows.
        problems: Why not.
        job: The job's name.
        least: What is spent least of first.
        hold: Modes whose programs stay.
        found: Whether there are programs that meet the target.
        proved: Whether none cost less in what counts most.
        alike: Whether both seasons have the same programs.
        missing: Why nothing is planned.
        remarks: What else a reader has to know.
        asked: What is asked for.
        seasons: The programs by season; empty where there is no plan.
        shortage: Why no programs will do.
        edits: The changes, in the order in which they are keyed in.
        written: Whether they were written into the file.
        findings: What the rules say about the planned job.
    """

    version: str
    file: str
    usable: bool
    problems: tuple[Problem, ...]
    job: str = ""
    least: str = ""
    hold: tuple[str, ...] = ()
    found: bool = False
    proved: bool = False
    alike: bool = False
    missing: str | None = None
    remarks: tuple[str, ...] = ()
    asked: Asked | None = None
    seasons: tuple[PlannedSeason, ...] = ()
    shortage: Shortage | None = None
    edits: tuple[Edit, ...] = ()
    written: bool = False
    findings: tuple[Finding, ...] = ()
