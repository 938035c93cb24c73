"""A season's planned programs as values to show: each with its cost, and with the next cheaper one that will not do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

from ventrules.codes import CodeKind
from ventrules.job import Season
from ventrules.planner.planned import NextCheaper, PlannedMode, PlannedProgram, PlannedSeason, PlannedStage, Solved
from ventrules.planner.programs import is_set
from ventrules.planner.verdict import Together
from ventrules.survey import Delivery, ModeSeasonView, ProgramView, judged
from ventrules.survey.under import Exposed

if TYPE_CHECKING:  # it brings arrays along, and a sheet needs none
    from ventrules.planner.seasons import SeasonPlanner

_HOUR_S: Final = 3600.0


def season_sheet(
    season: Season, planner: SeasonPlanner, solved: Solved, views: Sequence[ModeSeasonView]
) -> PlannedSeason:
    """Return a season's programs as values to show.

    Args:
        season: The season.
        planner: What planned it, or a season like it.
        solved: The programs.
        views: The season's modes as they are set now.
    """
    modes = tuple(_mode(season, planner, solved, view) for view in views)
    asked, verdict = planner.survey.requirement, planner.verdict
    known, exposure = verdict.exposed({name: verdict.cycle(each) for name, each in solved.programs.items()})
    parts = planner.hours or dict.fromkeys(solved.programs, 1.0 / len(solved.programs))
    told = all(program.power_w is not None for mode in modes for program in mode.programs)
    return PlannedSeason(
        season=season,
        modes=modes,
        delivered_m3s=solved.cost[0],
        required_m3s=sum(parts.get(mode.mode, 0.0) * (mode.required_m3s or 0.0) for mode in modes),
        power_w=solved.cost[1] if told else None,
        changes_per_hour=solved.cost[2],
        exposure=Exposed(exposure.mean, exposure.mean_present, exposure.peak, exposure.peak_s)
        if known and exposure is not None
        else None,
        by_exposure=asked.kind is CodeKind.EXPOSURE and not verdict.by_windows(solved.programs),
        proved=solved.proved,
        beyond=solved.beyond,
    )


def _mode(season: Season, planner: SeasonPlanner, solved: Solved, view: ModeSeasonView) -> PlannedMode:
    asked, name = planner.survey.requirement, view.mode.name
    together = solved.programs[name]
    held = view.mode.occupancy in asked.judged
    outcome = judged(together, asked, view.mode.occupancy) if held else None
    return PlannedMode(
        mode=name,
        occupancy=view.mode.occupancy,
        season=season,
        part=planner.hours.get(name) or None,
        required_m3s=asked.at(view.mode.occupancy) if held else None,
        equivalent_m3s=outcome.equivalent_m3s if outcome is not None else None,
        delivered_m3s=sum(delivery.average_m3s for delivery in together),
        programs=tuple(
            _program(planner, solved.programs, program, place) for place, program in enumerate(view.programs)
        ),
    )


def _program(
    planner: SeasonPlanner, programs: Mapping[str, Together], program: ProgramView, place: int
) -> PlannedProgram:
    name, ventilator, unit = program.mode.name, program.ventilator, planner.units[place]
    delivery = programs[name][place]
    kept = name in unit.kept
    runs = sorted(delivery.runs, key=lambda run: (-run.airflow_m3s, run.stage))
    stages = tuple(
        PlannedStage(run.stage, run.time_s, run.airflow_m3s, ventilator.stages[run.stage].measured) for run in runs
    )
    minutes = tuple((run.stage, run.time_s) for run in delivery.runs)
    power_w, changes = _spent(planner, name, place, delivery)
    return PlannedProgram(
        ventilator=ventilator.name,
        mode=name,
        season=program.season,
        cycle_s=delivery.cycle_s,
        stages=stages,
        delivered_m3s=delivery.average_m3s,
        power_w=power_w,
        changes=changes,
        kept=kept,
        changed=not kept and not (ventilator.on_grid_cycle and is_set(program, minutes)),
        cheaper=None if kept else _cheaper(planner, programs, program, place),
    )


def _spent(planner: SeasonPlanner, mode: str, place: int, delivery: Delivery) -> tuple[float | None, int]:
    """Return the fan power of a program, W, where the catalog tells it, and its stage changes in a cycle."""
    _air, power_w, changes = planner.cost(mode, place, delivery)
    told = all(run.stage in planner.units[place].powers_w for run in delivery.runs)
    return power_w if told else None, round(changes * delivery.cycle_s / _HOUR_S)


def _cheaper(
    planner: SeasonPlanner, programs: Mapping[str, Together], program: ProgramView, place: int
) -> NextCheaper | None:
    mode = program.mode.name
    other = next(planner.cheaper(mode, place, programs[mode][place]), None)
    if other is None:
        return None
    together = tuple(other if at == place else each for at, each in enumerate(programs[mode]))
    failure = planner.verdict.failure({**programs, mode: together})
    minutes = tuple((run.stage, run.time_s) for run in other.runs)
    return NextCheaper(minutes, other.average_m3s, failure, *_spent(planner, mode, place, other))
