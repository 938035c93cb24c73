"""The least programs that remedies offer: of one ventilator in one mode, or of a whole season."""

from collections.abc import Mapping, Sequence

from ventrules.job import Occupancy, ProgramGrid, Season
from ventrules.planner.kits import UnplannableError, kit_for, stages_to_use, units
from ventrules.planner.options import Combined, as_set, options
from ventrules.planner.orders import Least
from ventrules.planner.programs import Minutes
from ventrules.planner.seasons import SeasonPlanner
from ventrules.survey import Delivery, ModeSeasonView, ProgramView, Survey


def least_alone(program: ProgramView, grid: ProgramGrid, others: Sequence[Delivery]) -> Minutes | None:
    """Return the stages with their time in a cycle, s, of the program that delivers least and meets the requirement.

    Stages that would lose a credit, or that take more power than the code allows, are used where nothing else will do.

    Args:
        program: The program to replace.
        grid: What the controller can be set to.
        others: What the other ventilators deliver.
    """
    ventilator, asked = program.ventilator, program.survey.requirement
    kept = [as_set(other, {}, asked) for other in others]
    for stages in (stages_to_use(ventilator), None):
        own = options(kit_for(ventilator, grid, stages), asked)
        together = Combined([own, *kept])
        rows = together.enough(asked, program.mode.occupancy)
        if program.mode.occupancy is Occupancy.OCCUPIED:
            rows &= together.run()
        found = together.cheapest(rows, Least.AIR)
        if found is not None:
            return own.minutes(found[0])
    return None


def season_programs(
    survey: Survey, season: Season, views: Sequence[ModeSeasonView]
) -> Mapping[str, tuple[Minutes | None, ...]]:
    """Return the least programs of a season by mode, for each ventilator; None where one stays, nothing without any.

    Args:
        survey: The survey.
        season: The season.
        views: The season's modes.
    """
    try:
        own = units(survey, season, {unit.name: stages_to_use(unit) for unit in survey.driven}, ())
    except UnplannableError:
        return {}
    solved = SeasonPlanner(survey, views, own, Least.AIR).solve()
    if solved is None:
        return {}
    return {
        mode: tuple(
            None if mode in unit.kept else tuple((run.stage, run.time_s) for run in delivery.runs)
            for unit, delivery in zip(own, together, strict=True)
        )
        for mode, together in solved.programs.items()
    }
