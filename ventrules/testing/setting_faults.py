"""Fault makers for settings and upkeep."""

from ventrules.engine.findings import Document
from ventrules.job import Occupancy
from ventrules.testing.surgery import Cut, JobSurgery, minutes


def stage_of_another_unit_used(job: JobSurgery) -> Cut | None:
    """Write a stage into a program that another model of the catalog has, but this one has not."""
    name, mode, season = job.pick(job.running_programs())
    foreign = next(stage for stage in ("medium", "run") if stage not in job.model(name).stages)
    time = next(iter(job.part("settings", name, "programs", mode, season).values()))
    return (*job.set_program(name, mode, season, {foreign: time}), foreign)


def program_left_out(job: JobSurgery) -> Cut | None:
    """Leave out the program of one mode and season."""
    name, mode, season = job.pick(job.running_programs())
    del job.part("settings", name, "programs", mode)[season]
    return ("settings", name, "programs", mode, season)


def too_many_minutes_set(job: JobSurgery) -> Cut | None:
    """Set more minutes than the cycle has."""
    name, mode, season = job.pick(job.running_programs())
    grid = job.survey.ventilator(name).grid
    stage = min(job.part("settings", name, "programs", mode, season))
    if grid is None:
        return None
    return job.set_program(name, mode, season, {stage: minutes(grid.cycle.s + grid.step.s)})


def minutes_set_between_steps(job: JobSurgery) -> Cut | None:
    """Set minutes that are no whole number of the controller's steps."""
    name, mode, season = job.pick(job.running_programs())
    grid = job.survey.ventilator(name).grid
    program = job.part("settings", name, "programs", mode, season)
    (stage, _time), *_rest = program.items()
    view = next(
        view
        for view in job.survey.programs
        if (view.ventilator.name, view.mode.name, view.season.value) == (name, mode, season)
    )
    if grid is None or view.program is None:
        return None
    time_s = view.program.stages[stage].s
    half_s = grid.step.s / 2.0
    time_s += half_s if view.run_s + half_s <= grid.cycle.s else -half_s
    return job.set_program(name, mode, season, {**program, stage: minutes(time_s)})


def another_cycle_set(job: JobSurgery) -> Cut | None:
    """Write the programs for a cycle that the controller does not have."""
    name = job.pick(job.ventilators)
    grid = job.survey.ventilator(name).grid
    if grid is None:
        return None
    job.part("settings", name)["cycle"] = minutes(grid.cycle.s * 2.0)
    return ("settings", name, "cycle")


def _occupied(job: JobSurgery) -> list[tuple[str, str, str]]:
    return [
        (name, mode, season)
        for name, mode, season in job.running_programs()
        if job.job.modes[mode] is Occupancy.OCCUPIED
    ]


def occupied_mode_turned_off(job: JobSurgery) -> Cut | None:
    """Turn every ventilator off in an occupied mode."""
    name, mode, season = job.pick(_occupied(job))
    job.others_off(name, mode, season)
    return job.set_program(name, mode, season, {})


def unoccupied_mode_turned_on(job: JobSurgery) -> Cut | None:
    """Let a ventilator run while nobody is at home, in a dwelling whose volume is not told."""
    if Occupancy.UNOCCUPIED in job.survey.requirement.judged:
        return None
    for key in ("ceiling_height", "volume"):  # else it may be what keeps the air fresh for those who come
        job.part("dwelling").pop(key, None)
    job.serve_no_rooms(*job.ventilators)  # nor does local exhaust ask for it
    modes = sorted(mode for mode, kind in job.job.modes.items() if kind is Occupancy.UNOCCUPIED)
    if not modes:
        return None
    name, mode, season = job.pick(job.running_programs())
    program = dict(job.part("settings", name, "programs", mode, season))
    return job.set_program(name, job.pick(modes), season, program)


def mode_left_out_of_the_calendar(job: JobSurgery) -> Cut | None:
    """Add a mode with its programs, and forget it in the calendar."""
    _name, mode, _season = job.pick(_occupied(job))
    job.part("modes")["spare mode"] = "occupied"
    for name in job.ventilators:
        programs = job.programs(name)
        programs["spare mode"] = programs[mode]
    return ("modes", "spare mode")


def day_left_out_of_the_calendar(job: JobSurgery) -> Cut | None:
    """Cover the weekdays only."""
    calendar = job.part("calendar")
    times: Document = calendar.get("weekdays", calendar.get("every-day"))
    job.document["calendar"] = {"weekdays": times}
    return ("calendar",)


def _set_limits(job: JobSurgery, name: str, below: str, above: str) -> Cut:
    job.part("settings", name)["outdoor_limits"] = {"off_at_or_below": below, "off_at_or_above": above}
    return ("settings", name, "outdoor_limits")


def outdoor_limits_swapped(job: JobSurgery) -> Cut | None:
    """Swap the lower and the upper outdoor limit."""
    return _set_limits(job, job.pick(job.ventilators), "95 degF", "20 degF")


def outdoor_limit_set_too_low(job: JobSurgery) -> Cut | None:
    """Let the ventilator run in colder weather than it may."""
    return _set_limits(job, job.pick(job.ventilators), "-50 degF", "100 degF")


def outdoor_limit_set_too_high(job: JobSurgery) -> Cut | None:
    """Stop ventilation in winter weather that the site is designed for."""
    known = job.part("site") if "site" in job.document else {}
    job.document["site"] = {**known, "winter_design": "5 degF", "summer_design": "92 degF"}
    for name in job.ventilators:
        job.part("settings", name).pop("outdoor_limits", None)
    return _set_limits(job, job.pick(job.ventilators), "30 degF", "100 degF")


def program_left_to_the_controller(job: JobSurgery) -> Cut | None:
    """Leave a program to the controller's own logic."""
    name, mode, season = job.pick(job.running_programs())
    return job.set_program(name, mode, season, "managed")


def filter_interval_too_long(job: JobSurgery) -> Cut | None:
    """Set a filter reminder that comes once a year."""
    name = job.pick(job.ventilators)
    job.part("settings", name)["filter_reminder"] = "365 days"
    return ("settings", name, "filter_reminder")


def filter_reminder_left_out(job: JobSurgery) -> Cut | None:
    """Forget the filter reminder."""
    name = job.pick(job.ventilators)
    del job.part("settings", name)["filter_reminder"]
    return ("settings", name)
