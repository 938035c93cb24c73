"""Rules about programs: what each mode is set to."""

from ventrules.engine import Evidence, Rule, Severity, evidence
from ventrules.job import Occupancy
from ventrules.planner import program_remedy, regrid_remedy
from ventrules.rules import selectors
from ventrules.sources import Basis, Known, practice
from ventrules.survey import ProgramView, VentilatorView
from ventrules.units import at_least, at_most

_CATALOG = Basis("catalog entry of the model", Known.CATALOG)


def _missing_program(program: ProgramView) -> Evidence | None:
    if program.program is not None:
        return None
    return evidence(
        ventilator=program.ventilator.name,
        mode=program.mode.name,
        season=program.season.value,
        occupancy=program.mode.occupancy.value,
    )


def _overfull_cycle(program: ProgramView) -> Evidence | None:
    if not program.overfull or program.program is None:
        return None
    return evidence(
        ventilator=program.ventilator.name,
        stages=tuple(f"{stage} {time}" for stage, time in sorted(program.program.stages.items())),
        total=program.survey.minutes(program.run_s),
        cycle=program.survey.minutes(program.ventilator.cycle_s),
    )


def _whole_steps(time_s: float, step_s: float) -> bool:
    whole = round(time_s / step_s) * step_s
    return at_least(time_s, whole) and at_most(time_s, whole)


def _off_grid(program: ProgramView) -> Evidence | None:
    grid, survey = program.ventilator.grid, program.survey
    if grid is None or program.program is None or program.overfull or program.unknown_stages:
        return None
    times = program.program.stages.values()
    if len(times) <= grid.stages_per_cycle and all(_whole_steps(time.s, grid.step.s) for time in times):
        return None
    running = {stage: time for stage, time in program.program.stages.items() if time.s > 0.0}
    off_step = tuple(
        f"{stage} {time}" for stage, time in sorted(running.items()) if not _whole_steps(time.s, grid.step.s)
    )
    if not off_step and len(running) <= grid.stages_per_cycle:
        return None
    return evidence(
        ventilator=program.ventilator.name,
        stages=tuple(f"{stage} {time}" for stage, time in sorted(running.items())),
        step=survey.minutes(grid.step.s),
        most=grid.stages_per_cycle,
        count=len(running),
        off_step=off_step or ("none",),
    )


def _cycle_not_offered(ventilator: VentilatorView) -> Evidence | None:
    grid, settings = ventilator.grid, ventilator.settings
    if grid is None or settings is None or settings.cycle is None:
        return None
    if ventilator.on_grid_cycle:
        return None
    return evidence(
        at=ventilator.at("cycle"),
        ventilator=ventilator.name,
        cycle=settings.cycle,
        offered=ventilator.survey.minutes(grid.cycle.s),
    )


def _occupied_off(program: ProgramView) -> Evidence | None:
    if program.run_s > 0.0:
        return None
    others = program.survey.programs_in(program.mode.name, program.season)
    if any(other.run_s > 0.0 or other.program is None or other.program.managed for other in others):
        return None  # another ventilator of the dwelling runs, or has a finding of its own
    return evidence(ventilator=program.ventilator.name, mode=program.mode.name, season=program.season.value)


def _unoccupied_on(program: ProgramView) -> Evidence | None:
    if program.run_s <= 0.0 or Occupancy.UNOCCUPIED in program.survey.requirement.judged:
        return None
    if _keeps_air_fresh(program):
        return None
    delivery = program.delivery
    return evidence(
        ventilator=program.ventilator.name,
        mode=program.mode.name,
        season=program.season.value,
        running=program.survey.minutes(program.run_s),
        cycle=program.survey.minutes(program.ventilator.cycle_s),
        delivered=program.survey.airflow(delivery.average_m3s) if delivery else "an unknown airflow",
    )


def _keeps_air_fresh(program: ProgramView) -> bool:
    """Say whether stale air would be the price of turning the program off: then it is no waste."""
    survey = program.survey
    if any(room.exhaust_by == program.ventilator.name for room in survey.job.dwelling.rooms.values()):
        return True  # it is the local exhaust of rooms as well
    weeks = [w for w in survey.weeks if w.season is program.season and program.mode.name in w.week.modes]
    without = [week.exposure_off_when_empty for week in weeks]
    return any(mean is not None and not at_most(mean, survey.limits.exposure.most) for mean in without)


def _managed(program: ProgramView) -> Evidence | None:
    if program.program is None or not program.program.managed:
        return None
    return evidence(ventilator=program.ventilator.name, mode=program.mode.name, season=program.season.value)


def _outside_controller(ventilator: VentilatorView) -> Evidence | None:
    if ventilator.driven:
        return None
    return evidence(ventilator=ventilator.name)


MISSING_PROGRAM = Rule(
    id="settings/missing-program",
    title="A mode has no program in a season",
    severity=Severity.ERROR,
    each=selectors.missing_programs,
    check=_missing_program,
    message="{ventilator} has no program for {mode} ({occupancy}) in the {season} season.",
    todo="Set one; write an empty program where ventilation is to be off.",
    basis=practice("every mode needs a program in every season, else the controller's leftovers run"),
    remedy=program_remedy,
)
OVERFULL_CYCLE = Rule(
    id="settings/overfull-cycle",
    title="A program has more minutes than its cycle",
    severity=Severity.ERROR,
    each=selectors.written_programs,
    check=_overfull_cycle,
    message="The program of {ventilator} ({stages}) takes {total} of a {cycle} cycle.",
    working="{total} > {cycle}",
    todo="Take minutes out until the stages fit into the cycle.",
    basis=practice("stages share one cycle"),
    remedy=program_remedy,
)
OFF_GRID = Rule(
    id="settings/off-grid",
    title="A program cannot be set on the controller",
    severity=Severity.ERROR,
    each=selectors.written_programs,
    check=_off_grid,
    message=(
        "The program of {ventilator} ({stages}) does not fit the controller, which takes steps of {step} and at "
        "most {most} stages in a cycle."
    ),
    working="off the step: {off_step}; stages used: {count} of {most}",
    todo="Set whole steps, with no more stages than the controller takes.",
    basis=_CATALOG,
    remedy=program_remedy,
)
CYCLE_NOT_OFFERED = Rule(
    id="settings/cycle-not-offered",
    title="A cycle that the controller does not have",
    severity=Severity.ERROR,
    each=selectors.driven_ventilators,
    check=_cycle_not_offered,
    message="The programs of {ventilator} are written for a cycle of {cycle}; the controller repeats every {offered}.",
    todo="Write the programs for the controller's cycle.",
    basis=_CATALOG,
    remedy=regrid_remedy,
)
OCCUPIED_OFF = Rule(
    id="settings/occupied-mode-off",
    title="An occupied mode has no ventilation",
    severity=Severity.ERROR,
    each=selectors.occupied_programs,
    check=_occupied_off,
    message="{mode} is an occupied mode, and {ventilator} is off in it in the {season} season.",
    todo="Set minutes that meet the target.",
    basis=practice("people at home need outdoor air"),
    remedy=program_remedy,
)
UNOCCUPIED_ON = Rule(
    id="settings/unoccupied-mode-ventilates",
    title="An unoccupied mode ventilates",
    severity=Severity.ADVICE,
    each=selectors.unoccupied_programs,
    check=_unoccupied_on,
    message=(
        "{mode} is an unoccupied mode, yet {ventilator} runs {running} of each {cycle} in the {season} season; "
        "the target does not ask for it."
    ),
    working="delivered: {delivered} on average",
    todo="Turn it off there, unless the house needs it (moisture, new materials, pets).",
    basis=practice("no outdoor air is asked for while nobody is at home, unless the code says so"),
    remedy=program_remedy,
)
MANAGED = Rule(
    id="settings/managed-program",
    title="The controller decides by its own logic, so the airflow cannot be verified",
    severity=Severity.WARNING,
    each=selectors.managed_programs,
    check=_managed,
    message=(
        "{mode} of {ventilator} in the {season} season is left to the controller's own logic; nobody can tell from "
        "the job what airflow that gives."
    ),
    todo="Set minutes where the target has to be proved, or show the inspector a measurement.",
    basis=practice("what is not written down cannot be verified"),
)
OUTSIDE_CONTROLLER = Rule(
    id="settings/run-outside-controller",
    title="A ventilator is not run by the controller, so its airflow is not counted",
    severity=Severity.WARNING,
    each=selectors.ventilators,
    check=_outside_controller,
    message="{ventilator} has no bus port and no programs; its airflow is not counted toward the target.",
    todo="Show by measurement what it gives, or choose a ventilator that the controller can run.",
    basis=practice("what is not written down cannot be verified"),
)

RULES = (
    MISSING_PROGRAM,
    OVERFULL_CYCLE,
    OFF_GRID,
    CYCLE_NOT_OFFERED,
    OCCUPIED_OFF,
    UNOCCUPIED_ON,
    MANAGED,
    OUTSIDE_CONTROLLER,
)
