"""Fault makers for airflow."""

from ventrules.codes import CodeKind
from ventrules.engine.findings import Document
from ventrules.survey import VentilatorView
from ventrules.testing.surgery import Cut, JobSurgery, minutes
from ventrules.units import Airflow


def _least_share(job: JobSurgery) -> float:
    run = job.survey.requirement.run_time
    return run.shares[0] if run is not None else 0.0


def _lowest(ventilator: VentilatorView) -> str:
    return min(sorted(ventilator.stages), key=ventilator.counted)


def _highest(ventilator: VentilatorView) -> str:
    return max(sorted(ventilator.stages), key=ventilator.counted)


def _where(job: JobSurgery, mode: str, season: str, ventilator: str) -> Cut:
    """Return where a finding about a mode and season is placed."""
    one = len(job.survey.driven) == 1
    return ("settings", ventilator, "programs", mode, season) if one else ("modes", mode)


def _lasting(job: JobSurgery) -> list[tuple[str, str, str]]:
    """Return the running programs of modes that last a whole window, and so are judged by themselves."""
    window_min = job.survey.requirement.window_s / 60.0
    week = job.survey.week
    lasting = {span.mode for span in week.spans if span.length >= window_min} if week is not None else set()
    return [place for place in job.judged_programs() if place[1] in lasting]


def program_too_low(job: JobSurgery) -> Cut | None:
    """Set a program that runs long enough and still gives too little."""
    places = _lasting(job)
    if not places:
        return None
    name, mode, season = job.pick(places)
    ventilator = job.survey.ventilator(name)
    grid, low = ventilator.grid, _lowest(ventilator)
    if grid is None:
        return None
    steps = max(1.0, -(-_least_share(job) * grid.cycle.s // grid.step.s))
    time_s = steps * grid.step.s
    if ventilator.counted(low) * time_s / grid.cycle.s >= job.survey.requirement.continuous_m3s * 0.9:
        return None
    job.others_off(name, mode, season)
    job.set_program(name, mode, season, {low: minutes(time_s)})
    return _where(job, mode, season, name)


def half_day_too_low(job: JobSurgery) -> Cut | None:
    """Give two halves of the day an airflow whose average over the day misses the target."""
    name, mode, _season = job.pick(job.judged_programs())
    ventilator = job.survey.ventilator(name)
    grid = ventilator.grid
    if grid is None:
        return None
    high = _highest(ventilator)
    most = ventilator.stages[high].net_supply_m3s
    job.document["target"] = {"airflow": f"{Airflow.shown(most * 0.9, 'L/s').to('L/s'):.3f} L/s", "window": "24 h"}
    job.document["modes"] = {mode: "occupied", "late half": "occupied"}
    job.document["calendar"] = {"every-day": {"06:00": mode, "18:00": "late half"}}
    full: Document = {high: minutes(grid.cycle.s)}
    some: Document = {high: minutes(grid.step.s * (grid.cycle.s / grid.step.s // 2))}
    for other in job.ventilators:
        on = other == name
        job.part("settings", other)["programs"] = {
            mode: {season: full if on else {} for season in ("heating", "cooling")},
            "late half": {season: some if on else {} for season in ("heating", "cooling")},
        }
    return ("calendar",)


def runs_too_seldom(job: JobSurgery) -> Cut | None:
    """Run the highest stage for less of each segment than the code allows."""
    places = _lasting(job)
    if not places:
        return None
    name, mode, season = job.pick(places)
    ventilator = job.survey.ventilator(name)
    grid = ventilator.grid
    if grid is None or job.survey.requirement.kind is not CodeKind.SEGMENT_FACTORS:
        return None
    if grid.step.s / grid.cycle.s >= _least_share(job):
        return None
    job.set_program(name, mode, season, {_highest(ventilator): minutes(grid.step.s)})
    return _where(job, mode, season, name)


def target_above_all_capacity(job: JobSurgery) -> Cut | None:
    """Ask for more than all ventilators give at their highest stages."""
    most = sum(flow.net_supply_m3s for v in job.survey.driven for flow in [v.stages[_highest(v)]])
    job.document["target"] = {"airflow": f"{Airflow.shown(most * 1.3, 'cfm').to('cfm'):.2f} cfm", "window": "4 h"}
    return ("target",)


def program_far_too_high(job: JobSurgery) -> Cut | None:
    """Run the highest stage without a break where far less would do."""
    name, mode, season = job.pick(job.judged_programs())
    ventilator = job.survey.ventilator(name)
    grid = ventilator.grid
    if grid is None or ventilator.most_m3s <= job.survey.requirement.continuous_m3s * 1.6:
        return None
    if grid.stages_per_cycle == 1 and grid.cycle.s / grid.step.s < 6:
        return None
    job.others_off(name, mode, season)
    job.set_program(name, mode, season, {_highest(ventilator): minutes(grid.cycle.s)})
    return _where(job, mode, season, name)


def exhaust_measured_too_high(job: JobSurgery) -> Cut | None:
    """Measure far more exhaust than supply at a stage in use."""
    name = job.pick([ventilator.name for ventilator in job.survey.driven if ventilator.stages_used])
    ventilator = job.survey.ventilator(name)
    if job.job.target.credits:
        return None
    stage = ventilator.stages_used[0]
    flow = ventilator.stages[stage]
    reading: Document = {
        "supply": f"{Airflow.shown(flow.supply_m3s, 'cfm').to('cfm'):.6f} cfm",
        "exhaust": f"{Airflow.shown(flow.supply_m3s * 1.5, 'cfm').to('cfm'):.6f} cfm",
    }
    job.document["readings"] = {name: {stage: reading}}
    return ("devices", name)


def credit_claimed_where_there_is_none(job: JobSurgery) -> Cut | None:
    """Claim a credit under an edition that has none."""
    if job.job.target.code is None:
        return None
    job.document["target"] = {"code": "us-irc-2015", "credits": ["balanced-ducted"]}
    return ("target", "credits")


def route_taken_that_the_code_lacks(job: JobSurgery) -> Cut | None:
    """Take the equation under an edition that has a table only."""
    if job.job.target.code is None:
        return None
    job.document["target"] = {"code": "us-irc-2015", "route": "equation"}
    return ("target", "route")


def nobody_ever_at_home(job: JobSurgery) -> Cut | None:
    """Call every mode unoccupied."""
    job.document["modes"] = dict.fromkeys(job.part("modes"), "unoccupied")
    return ("modes",)
