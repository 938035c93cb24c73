"""What to set instead: the cheapest programs for every ventilator, mode and season, checked before they are shown."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from datetime import date
from typing import TYPE_CHECKING, Final

import attrs

from ventrules.checking import Judge, Rules, found_in, new_errors, within_limits
from ventrules.codes import CodeKind
from ventrules.engine import Edit, Finding, Path
from ventrules.engine.findings import Document
from ventrules.files import apply_edits, job_document, rebuilt
from ventrules.job import Job, Season
from ventrules.planner.edits import put_all, remove
from ventrules.planner.equipment import fitting_models
from ventrules.planner.kits import Stages, Unit, UnplannableError, scenarios, units
from ventrules.planner.orders import Least
from ventrules.planner.planned import Plan, Shortage, Solved
from ventrules.planner.programs import is_set, written
from ventrules.planner.sheets import season_sheet
from ventrules.planner.shortfalls import lavish_stages
from ventrules.planner.verdict import Together, Verdict
from ventrules.policy import Policy
from ventrules.survey import Delivery, ModeSeasonView, Run, Survey
from ventrules.words import listed, nearest, shown

if TYPE_CHECKING:  # it brings arrays along, which take time to import
    from ventrules.planner.seasons import SeasonPlanner

_PLENTY: Final = 1e4  # times what is asked for: as good as without bound


def plan(
    job: Job,
    *,
    least: Least | str = Least.AIR,
    hold: Collection[str] = (),
    registry: Rules | None = None,
    policy: Policy | None = None,
    today: date | None = None,
) -> Plan:
    """Return the cheapest programs that meet a job's target under its code, for every ventilator, mode and season.

    Cheapest means the least delivered airflow over the week, then the least fan energy, then the fewest stage
    changes, unless another of the three comes first. The plan is judged by the rules before it is returned.

    Args:
        job: The job.
        least: What is spent least of first: `air`, `energy` or `changes`.
        hold: Modes whose programs stay as they are; the others make up for them where the code lets them.
        registry: The rules to run; by default those of every installed pack.
        policy: What the project has decided.
        today: The day for which the end dates of acceptances are judged; by default the day that it is here.

    Raises:
        ValueError: `least` is no such word, or `hold` names a mode that the job does not have.
    """
    order, held = Least(least), tuple(sorted(set(hold)))
    for name in held:
        if name not in job.modes:
            close = nearest(name, job.modes)
            raise ValueError(
                f"no mode {shown(name)} in the job; it has {listed(sorted(job.modes)) or 'none'}"
                + (f"; nearest is {close!r}" if close else "")
            )
    job = within_limits(job, policy)
    survey = Survey(job)
    missing = _missing(survey, order)
    unit = survey.airflow(0.0).unit
    if missing:
        return Plan(job, order, held, missing=missing, code=survey.code, unit=unit)
    try:
        return _planned(survey, order, held, Judge.of(job, registry, policy, today))
    except UnplannableError as unknown:
        return Plan(job, order, held, missing=str(unknown), code=survey.code, unit=unit)


def _missing(survey: Survey, least: Least) -> str:
    """Return why nothing can be planned, or nothing."""
    if survey.unknown is not None:
        return f"what is asked of the dwelling cannot be told: {survey.unknown}"
    if survey.requirement.kind is CodeKind.CAPACITY:
        return "a capacity is asked for, and when the ventilators run is left to the people: any program will do"
    if not survey.driven or not survey.modes:
        return "no ventilator is run by a controller" if survey.modes else "the job has no modes"
    if all(ventilator.grid is None for ventilator in survey.driven):
        return "no controller tells what programs it can be set to"
    silent = [
        f"{shown(ventilator.name)} {shown(stage)}"
        for ventilator in survey.driven
        for stage, model in ventilator.model.stages.items()
        if model.power is None and least is Least.ENERGY
    ]
    return f"the least energy cannot be told: the catalog gives no power of {listed(silent)}" if silent else ""


@attrs.frozen
class _Answer:
    """One scenario's programs, planned and not yet checked."""

    planners: tuple[SeasonPlanner, ...]
    solved: tuple[Solved, ...]
    stages: Stages

    def rank(self, least: Least) -> tuple[float, ...]:
        costs = [solved.cost for solved in self.solved]
        return tuple(round(sum(cost[column] for cost in costs), 12) for column in least.columns)


def _planned(survey: Survey, least: Least, hold: tuple[str, ...], judge: Judge) -> Plan:
    empty = Plan(survey.job, least, hold, survey.requirement, survey.code, survey.airflow(0.0).unit)
    answers: list[_Answer] = []
    short: list[Shortage] = []
    for other, stages in scenarios(survey, hold):
        if other.unknown is not None:
            continue
        answer = _solve(other, stages, least, hold)
        if isinstance(answer, _Answer):
            answers.append(answer)
        else:
            short.append(_shortage(answer, hold))
    before = found_in(survey.job, judge.rules) if answers else ()
    refused = ""
    for answer in sorted(answers, key=lambda answer: answer.rank(least)):
        found, problem = _checked(answer, empty, before, judge)
        if not problem:
            return found
        refused = refused or problem
    if refused:
        return attrs.evolve(empty, missing=refused)
    if not short:
        said = "what is asked cannot be told for the stages that may be used"
        return attrs.evolve(empty, requirement=None, missing=said)
    return attrs.evolve(empty, shortage=short[-1])


def _views(survey: Survey, season: Season) -> tuple[ModeSeasonView, ...]:
    """Return a season's modes in the order in which the week first calls them up; what it does not, last."""
    spans = survey.week.spans if survey.week is not None else ()
    first = {span.mode: place for place, span in reversed(list(enumerate(spans)))}
    views = [view for view in survey.mode_seasons if view.season is season]
    return tuple(sorted(views, key=lambda view: (first.get(view.mode.name, len(spans)), view.mode.name)))


def _solve(survey: Survey, stages: Stages, least: Least, hold: Collection[str]) -> _Answer | SeasonPlanner:
    """Return the cheapest programs of both seasons, or the planner of one that has none; seasons alike are one."""
    from ventrules.planner.seasons import SeasonPlanner  # noqa: PLC0415 - arrays are slow to import

    planners: list[SeasonPlanner] = []
    solved: list[Solved] = []
    for season in Season:
        own = units(survey, season, stages, hold)
        if planners and own == planners[0].units:
            planners.append(planners[0])
            solved.append(solved[0])
            continue
        planner = SeasonPlanner(survey, _views(survey, season), own, least)
        found = planner.solve()
        if found is None:
            return planner
        planners.append(planner)
        solved.append(found)
    return _Answer(tuple(planners), tuple(solved), stages)


def _checked(answer: _Answer, empty: Plan, before: Sequence[Finding], judge: Judge) -> tuple[Plan, str]:
    """Return an answer as a plan, and what the rules find wrong with it, in words."""
    edits = tuple(_edits(answer))
    planned = rebuilt(apply_edits(job_document(empty.job), edits), empty.job) if edits else empty.job
    survey = Survey(planned)
    findings = judge.counting(planned)
    seasons = tuple(
        season_sheet(season, planner, solved, _views(answer.planners[0].survey, season))
        for season, planner, solved in zip(Season, answer.planners, answer.solved, strict=True)
    )
    found = attrs.evolve(
        empty,
        job=planned,
        requirement=survey.requirement,
        seasons=seasons,
        edits=edits,
        findings=findings,
        remarks=tuple(_remarks(answer)),
    )
    return found, _wrong(survey, new_errors(before, findings))


def _remarks(answer: _Answer) -> Iterator[str]:
    planner = answer.planners[0]
    for ventilator in planner.survey.driven:
        lavish = lavish_stages(ventilator, ventilator.stages)
        for stage in sorted(set(ventilator.stages) - answer.stages[ventilator.name]):
            why = "takes more power for its airflow than the code allows" if stage in lavish else "is out of balance"
            yield f"{shown(ventilator.name)} {shown(stage)} is left out: it {why}"
    for part in {id(part): part for each in planner.parts.values() for part in each}.values():
        if not part.whole:
            yield (
                f"the controller can be set to more programs than could be gone through: {len(part)} were, with stages "
                f"{listed(part.stages)}"
            )


def _wrong(survey: Survey, errors: Sequence[Finding]) -> str:
    """Return what is wrong with a planned job, in words, or nothing."""
    if errors:
        said = listed(sorted({f"{finding.rule} at {finding.place.name}" for finding in errors}))
        return f"the cheapest programs would bring another error: {said}"
    for season in Season:
        views = _views(survey, season)
        programs = {view.mode.name: view.deliveries for view in views if view.deliveries is not None}
        if len(programs) < len(views) or Verdict(survey, views).failure(programs) is not None:
            return "the programs found do not pass when they are judged again; this should not be, please report it"
    return ""


def _edits(answer: _Answer) -> Iterator[Edit]:
    """Yield the changes in the order in which they are keyed in: by ventilator, mode and season."""
    survey = answer.planners[0].survey
    values: list[tuple[Path, Document]] = []
    for place, ventilator in enumerate(survey.driven):
        if ventilator.grid is not None and not ventilator.on_grid_cycle:
            yield remove(("settings", ventilator.name, "cycle"))
        for view in _views(survey, Season.HEATING):
            for season, planner, solved in zip(Season, answer.planners, answer.solved, strict=True):
                name = view.mode.name
                if name in planner.units[place].kept:
                    continue
                program = next(p for p in survey.programs_in(name, season) if p.ventilator is ventilator)
                minutes = tuple((run.stage, run.time_s) for run in solved.programs[name][place].runs)
                if not is_set(program, minutes) or not ventilator.on_grid_cycle:
                    values.append((program.place.path, written(minutes)))
    yield from put_all(survey.job, values)


def _shortage(planner: SeasonPlanner, hold: Collection[str]) -> Shortage:
    """Return what is in the way where no programs will do."""
    survey, views, own, verdict = planner.survey, planner.views, planner.units, planner.verdict
    failure = verdict.failure({view.mode.name: _at_most(own, view.mode.name) for view in views})
    asked, season = survey.requirement, views[0].season
    plenty = _PLENTY * max(asked.continuous_m3s, asked.intermittent_m3s, asked.total_m3s)
    boundless = verdict.failure({view.mode.name: _at_most(own, view.mode.name, plenty) for view in views})

    def meets(other: Survey) -> bool:
        return any(_could_meet(each, stages, season, hold) for each, stages in scenarios(other, hold))

    models = {
        unit.name: fitting_models(survey, unit.name, meets)
        for unit in own
        if unit.kit is not None and failure is not None and boundless is None
    }
    proved = not planner.unfinished and all(part.whole for parts in planner.parts.values() for part in parts)
    return Shortage(season, failure, boundless is None, models, proved=proved or failure is not None)


def _could_meet(survey: Survey, stages: Stages, season: Season, hold: Collection[str]) -> bool:
    """Say whether all ventilators at their highest stages without a break meet what is asked."""
    if survey.unknown is not None:
        return False
    views = _views(survey, season)
    try:
        own = units(survey, season, stages, hold)
    except UnplannableError:
        return False
    return Verdict(survey, views).failure({view.mode.name: _at_most(own, view.mode.name) for view in views}) is None


def _at_most(own: Sequence[Unit], mode: str, airflow_m3s: float | None = None) -> Together:
    """Return every ventilator at its highest stage without a break, or at an airflow; what stays, stays."""
    found = []
    for unit in own:
        kept = unit.kept.get(mode)
        if kept is None and unit.kit is not None:
            flow = max(unit.kit.flows_m3s.values(), default=0.0) if airflow_m3s is None else airflow_m3s
            runs = (Run("highest", flow, unit.kit.cycle_s),) if flow > 0.0 else ()
            kept = Delivery(runs, unit.kit.cycle_s)
        if kept is not None:
            found.append(kept)
    return tuple(found)
