"""What is asked of a dwelling: by its own target, and by every other code; and what its week comes to."""

from collections.abc import Iterable, Iterator, Mapping
from typing import Final

import attrs
from attrs import frozen

from ventrules.codes import Clause, Code, CodeKind, Requirement, UnknownRequirementError
from ventrules.files import load_code
from ventrules.files.resources import code_names
from ventrules.job import Job, Season
from ventrules.sources import Basis, Known
from ventrules.survey import Homecoming, ProgramView, Survey, Unventilated, WeekView, clock
from ventrules.survey.airing import Infiltrating, blocks_of, cycle_of
from ventrules.survey.exposure import unventilated
from ventrules.survey.under import AskedWeek, Comparison
from ventrules.words import shown

_FANS_ALONE: Final = Infiltrating(0.0, balanced=True)
_BEST_FIRST: Final = (
    Known.JOB,
    Known.CATALOG,
    Known.SEEN,
    Known.SECOND_HAND,
    Known.PER_FINDING,
    Known.COMMON_PRACTICE,
    Known.FROM_MEMORY,
)


def weakest(known: Iterable[Known]) -> Known | None:
    """Return the weakest way of knowing among some, or None of none.

    From the best: seen, second-hand, common practice, from memory; what a job or a catalog says itself comes first.
    """
    return max(known, key=_BEST_FIRST.index, default=None)


def clauses_of(code: Code) -> tuple[Clause, ...]:
    """Return every clause that a code file cites, in the order of its parts."""
    return tuple(_clauses(code))


def _clauses(part: object) -> Iterator[Clause]:
    if isinstance(part, Clause):
        yield part
    elif isinstance(part, Mapping):
        yield from _clauses(tuple(part.values()))
    elif isinstance(part, tuple):
        for item in part:
            yield from _clauses(item)
    elif attrs.has(shape := type(part)):
        for attribute in attrs.fields(shape):
            yield from _clauses(getattr(part, attribute.name))


@frozen
class Asked:
    """What one code, or a job's own target, asks of a dwelling, and what its week comes to.

    Attributes:
        code: The code; None for a target of the job's own.
        requirement: What is asked; None where the job does not tell what the code needs.
        missing: What is missing for it, in words; empty where it is known.
        weeks: The week in each season; empty where it is not known what is asked, or the job has no calendar.
    """

    code: Code | None
    requirement: Requirement | None
    missing: str = ""
    weeks: tuple[AskedWeek, ...] = ()

    @property
    def name(self) -> str:
        """The code's name; empty for a target of the job's own."""
        return self.code.code if self.code is not None else ""

    @property
    def bases(self) -> tuple[Basis, ...]:
        """What the requirement rests on, each once."""
        if self.requirement is None:
            return ()
        found = [step.basis for step in self.requirement.steps]
        found += [self.requirement.window_basis, *self.requirement.rests_on]
        if self.code is not None:
            found += [self.code.basis(self.code.counts_basis), self.code.basis(self.code.judged_basis)]
        return tuple(dict.fromkeys(found))

    @property
    def known(self) -> Known | None:
        """How the weakest of them is known; None where it is not known what is asked."""
        return weakest(basis.known for basis in self.bases)


def requirement(job: Job) -> Requirement:
    """Return what is asked of a job's dwelling, by its code or by its own target.

    Args:
        job: The job.

    Raises:
        UnknownRequirementError: The job does not tell what its code needs; the message says what is missing.
    """
    return Survey(job).requirement


def asked(job: Job) -> Asked:
    """Return what a job's own target asks of its dwelling, and what its week comes to.

    Args:
        job: The job.
    """
    return _asked(Survey(job))


def _asked(survey: Survey) -> Asked:
    if survey.unknown is not None:
        return Asked(survey.code, None, survey.unknown)
    weeks = Comparison(survey).weeks(survey.requirement, survey.system)
    return Asked(survey.code, survey.requirement, weeks=weeks)


def every_requirement(job: Job) -> tuple[Asked, ...]:
    """Return what each packaged code asks of a job's dwelling, by name, and what the week comes to under it.

    The route and the credits that the job's target claims count where a code knows them; balance and earned credits
    go by each code's own definition. A code that cannot tell says what is missing.

    Args:
        job: The job.
    """
    compared = Comparison(Survey(job))
    return tuple(_under(compared, load_code(name)) for name in code_names())


def _under(compared: Comparison, code: Code) -> Asked:
    try:
        found = compared.requirement(code)
    except UnknownRequirementError as unknown:
        return Asked(code, None, str(unknown))
    return Asked(code, found, "", compared.weeks(found, compared.system(code)))


@frozen
class SeasonSheet:
    """One season's week under a job's own target, in full.

    Attributes:
        week: Its windows, its exposure and whether it meets the target.
        still: Time without ventilation, infiltration left aside; None where the week's airflow is not known.
        homecomings: What people find when they come; empty where relative exposure is not known.
        missing: What keeps a part of this from being told, in words.
    """

    week: AskedWeek
    still: Unventilated | None
    homecomings: tuple[Homecoming, ...]
    missing: tuple[str, ...]


@frozen
class TargetSheet:
    """What a job's own target asks, with all that follows for its week.

    Attributes:
        job: The job's title.
        asked: What is asked.
        unit: The unit of airflow that the job is written in.
        recovered: Relative exposure at or below which air counts as fresh again.
        seasons: The week in each season.
        missing: What keeps the week from being told at all, in words.
    """

    job: str
    asked: Asked
    unit: str
    recovered: float
    seasons: tuple[SeasonSheet, ...]
    missing: tuple[str, ...]

    @property
    def alike(self) -> bool:
        """True when the seasons differ in nothing, so that one of them speaks for both."""
        each = [attrs.evolve(one, week=one.week._replace(season=Season.HEATING)) for one in self.seasons]
        return len(each) > 1 and all(other == each[0] for other in each)


def target_sheet(job: Job) -> TargetSheet:
    """Return what a job's own target asks, with all that follows for its week.

    Args:
        job: The job.
    """
    survey = Survey(job)
    found = _asked(survey)
    return TargetSheet(
        job=job.title,
        asked=found,
        unit=survey.airflow(0.0).unit,
        recovered=survey.limits.exposure.recovered,
        seasons=tuple(map(_season, survey.weeks, found.weeks)),
        missing=() if survey.week is not None else ("the job has no calendar; give it `calendar`",),
    )


def _season(view: WeekView, week: AskedWeek) -> SeasonSheet:
    survey = view.survey
    modes = [mode for mode in survey.mode_seasons if mode.season is view.season and mode.deliveries]
    fans = {mode.mode.name: cycle_of(mode.deliveries or (), _FANS_ALONE) for mode in modes}
    blocks = blocks_of(view.week, fans, survey.job.modes)
    return SeasonSheet(
        week=week,
        still=unventilated(blocks) if blocks is not None else None,
        homecomings=view.airing.homecomings if view.airing is not None else (),
        missing=tuple(dict.fromkeys(_missing(view))),
    )


def _missing(view: WeekView) -> Iterator[str]:
    """Yield what keeps a part of a season's week from being told."""
    survey, wanted = view.survey, view.survey.requirement
    if not survey.driven:
        yield "no ventilator is run by a controller"
    for program in survey.programs:
        if program.season is view.season and program.mode.name in view.week.modes and program.delivery is None:
            yield _unknown_program(program)
    if view.week.gaps:
        yield f"the calendar says nothing for some hours, first on {clock(view.week.gaps[0].start)}"
    if survey.job.dwelling.volume_m3 is None:
        yield "relative exposure needs the dwelling's volume; give `dwelling.ceiling_height` or `dwelling.volume`"
    held = any(survey.job.modes[mode] in wanted.judged for mode in view.week.modes)
    if not held and wanted.kind is not CodeKind.CAPACITY:
        yield "no mode of the week has an occupancy in which this is held"


def _unknown_program(program: ProgramView) -> str:
    where = f"mode {shown(program.mode.name)}"
    unit = shown(program.ventilator.name)
    if program.program is None:
        return f"{unit} has no program for {where}"
    if program.program.managed:
        return f"{unit} is left to its controller for {where}"
    if program.unknown_stages:
        return f"{unit} has no stage {shown(program.unknown_stages[0])}, named for {where}"
    return f"the times of {unit} for {where} do not fit into its cycle"
