"""What a job's ventilators can be set to: their stages, their controller's grid, and what stays as it is."""

from collections.abc import Collection, Iterator, Mapping
from itertools import combinations
from typing import Final, TypeAlias

from attrs import evolve, frozen

from ventrules.job import ProgramGrid, Season
from ventrules.planner.shortfalls import lavish_stages
from ventrules.survey import Delivery, Survey, VentilatorView
from ventrules.survey.under import with_stages_used
from ventrules.units import at_least
from ventrules.words import shown

_MOST_UNBALANCED: Final = 4  # stages whose use is weighed one by one; of more, all or none are used

Stages: TypeAlias = Mapping[str, frozenset[str]]
"""Ventilator to the stages that may be used."""


@frozen
class Kit:
    """What a ventilator can be set to.

    Attributes:
        flows_m3s: Stage to the airflow that counts, m3/s; more than nothing.
        powers_w: Stage to the power that it takes, W; 0 where the catalog does not tell.
        cycle_s: Length of a cycle, s.
        step_s: Step of the times, s.
        most_stages: Stages that fit into one cycle.
        unbroken: Stages of which a program has to fill the cycle; empty where it need not.
    """

    flows_m3s: Mapping[str, float]
    powers_w: Mapping[str, float]
    cycle_s: float
    step_s: float
    most_stages: int
    unbroken: frozenset[str] = frozenset()

    def coarser(self) -> "Kit":
        """Return a kit with fewer programs: fewer stages in a cycle, or a coarser step."""
        if self.most_stages > 1 and len(self.flows_m3s) > 1:
            return evolve(self, most_stages=min(self.most_stages, len(self.flows_m3s)) - 1)
        return evolve(self, step_s=self.step_s * 2.0)


@frozen
class Unit:
    """A ventilator as the planner sees it.

    Attributes:
        name: Its name.
        kit: What it can be set to; None where it stays as it is.
        kept: Mode to what it delivers there, where that stays.
        powers_w: Stage to the power that it takes, W, where the catalog tells.
    """

    name: str
    kit: Kit | None
    kept: Mapping[str, Delivery]
    powers_w: Mapping[str, float]


class UnplannableError(ValueError):
    """The job does not tell enough to plan; the message says what is missing."""


def kit_of(ventilator: VentilatorView, stages: Collection[str] | None = None) -> Kit | None:
    """Return what a ventilator can be set to, or None where its controller's grid is not known.

    Args:
        ventilator: The ventilator.
        stages: The stages that may be used; by default all.
    """
    return kit_for(ventilator, ventilator.grid, stages) if ventilator.grid is not None else None


def kit_for(ventilator: VentilatorView, grid: ProgramGrid, stages: Collection[str] | None = None) -> Kit:
    """Return what a ventilator can be set to on a controller's grid; the rest as for `kit_of`."""
    used = [stage for stage in ventilator.stages if stages is None or stage in stages]
    flows = {stage: ventilator.counted(stage) for stage in used if ventilator.counted(stage) > 0.0}
    hold = ventilator.exhaust_to_hold_m3s
    strong = frozenset(s for s in flows if hold > 0.0 and at_least(ventilator.stages[s].exhaust_m3s, hold))
    return Kit(flows, _powers_w(ventilator), grid.cycle.s, grid.step.s, grid.stages_per_cycle, strong)


def _powers_w(ventilator: VentilatorView) -> dict[str, float]:
    return {name: stage.power.w for name, stage in ventilator.model.stages.items() if stage.power is not None}


def units(survey: Survey, season: Season, stages: Stages, hold: Collection[str]) -> tuple[Unit, ...]:
    """Return the ventilators that the controllers run, as the planner sees them in one season.

    Args:
        survey: The survey.
        season: The season.
        stages: The stages that may be used.
        hold: Modes whose programs stay as they are.

    Raises:
        UnplannableError: A program has to stay as it is, and what it delivers is not known.
    """
    return tuple(_unit(ventilator, season, stages[ventilator.name], hold) for ventilator in survey.driven)


def _unit(ventilator: VentilatorView, season: Season, stages: frozenset[str], hold: Collection[str]) -> Unit:
    kit = kit_of(ventilator, stages)
    kept = {}
    for program in ventilator.survey.programs:
        if program.ventilator is not ventilator or program.season is not season:
            continue
        if kit is not None and program.mode.name not in hold:
            continue
        if program.delivery is None:
            why = "is to stay as it is" if kit is not None else "has a controller whose grid is not known"
            raise UnplannableError(
                f"the program of {shown(ventilator.name)} in {shown(program.mode.name)}, {season.value}, {why}, and "
                "what it delivers cannot be told"
            )
        if kit is not None and not ventilator.on_grid_cycle:
            raise UnplannableError(
                f"{shown(program.mode.name)} cannot stay as it is: {shown(ventilator.name)} is written for a cycle "
                "that its controller does not have"
            )
        kept[program.mode.name] = program.delivery
    return Unit(ventilator.name, kit, kept, _powers_w(ventilator))


def stages_in_question(survey: Survey, hold: Collection[str]) -> tuple[Stages, tuple[tuple[str, str], ...]]:
    """Return the stages that may be used without a second thought, and those out of balance, by ventilator and stage.

    Stages that take more power than the code allows are left out where a ventilator has others.

    Args:
        survey: The survey.
        hold: Modes whose programs stay as they are; a stage that they use is in use whatever is planned.
    """
    definition, _basis = survey.balance
    plain: dict[str, frozenset[str]] = {}
    doubtful: list[tuple[str, str]] = []
    for ventilator in survey.driven:
        usable = _thrifty(ventilator)
        unbalanced = {stage for stage in usable if not ventilator.balanced_at(stage, definition)}
        unbalanced -= _kept_stages(ventilator, hold)
        plain[ventilator.name] = frozenset(usable - unbalanced)
        doubtful += [(ventilator.name, stage) for stage in sorted(unbalanced)]
    return plain, tuple(doubtful)


def stages_to_use(ventilator: VentilatorView) -> frozenset[str]:
    """Return the stages of a ventilator whose use changes nothing in what is asked, and no code forbids."""
    survey = ventilator.survey
    plain, doubtful = stages_in_question(survey, survey.job.modes)  # what is in use now stays in use
    if not doubtful:
        return plain[ventilator.name]
    every = with_stages_used(survey, [(unit.name, stage) for unit in survey.driven for stage in unit.stages])
    kept = with_stages_used(survey, [(unit.name, stage) for unit in survey.driven for stage in unit.stages_used])
    return (_allowed(plain, doubtful) if _alike(kept, every) else plain)[ventilator.name]


def _thrifty(ventilator: VentilatorView) -> set[str]:
    stages = set(ventilator.stages)
    return (stages - lavish_stages(ventilator, stages).keys()) or stages


def _kept_stages(ventilator: VentilatorView, hold: Collection[str]) -> set[str]:
    return {
        stage
        for program in ventilator.survey.programs
        if program.ventilator is ventilator and (ventilator.grid is None or program.mode.name in hold)
        for stage, time in (program.program.stages.items() if program.program is not None else ())
        if time.s > 0.0
    }


def scenarios(survey: Survey, hold: Collection[str] = ()) -> Iterator[tuple[Survey, Stages]]:
    """Yield the ways to plan: which stages out of balance are used, and the survey whose requirement follows from that.

    Credits, system coefficients and the infiltration that counts go by whether the stages in use are balanced.

    Args:
        survey: The survey.
        hold: Modes whose programs stay as they are.
    """
    plain, doubtful = stages_in_question(survey, hold)
    kept = frozenset((v.name, stage) for v in survey.driven for stage in _kept_stages(v, hold))
    every = with_stages_used(survey, kept | frozenset(doubtful))
    none = with_stages_used(survey, kept)
    if not doubtful or _alike(none, every):
        yield every, _allowed(plain, doubtful)
        return
    sizes = range(len(doubtful) + 1) if len(doubtful) <= _MOST_UNBALANCED else (0, len(doubtful))
    for size in sizes:
        for used in combinations(doubtful, size):
            yield with_stages_used(survey, kept | frozenset(used)), _allowed(plain, used)


def _allowed(plain: Stages, used: Collection[tuple[str, str]]) -> Stages:
    return {name: stages | {stage for unit, stage in used if unit == name} for name, stages in plain.items()}


def _alike(first: Survey, second: Survey) -> bool:
    """Say whether nothing that is asked depends on the balance of the stages in use."""
    if first.unknown is not None or second.unknown is not None:
        return first.unknown == second.unknown
    code, asked = first.code, first.requirement
    same = asked == second.requirement and first.credits_earned == second.credits_earned
    return same and asked.infiltration_m3s == 0.0 and (code is None or code.must_balance is None)
