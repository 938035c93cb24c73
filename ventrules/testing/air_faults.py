"""Fault makers for airflow."""

from ventrules.codes import CodeKind
from ventrules.engine.findings import Document
from ventrules.job import Occupancy
from ventrules.survey import VentilatorView
from ventrules.testing.code_faults import put_under
from ventrules.testing.surgery import Cut, JobSurgery, minutes
from ventrules.testing.targets import IRC
from ventrules.units import Airflow


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
    need = job.survey.requirement
    steps = max(1.0, -(-need.least_share * grid.cycle.s // grid.step.s))
    unceasing = need.unbroken or need.floor is not None
    time_s = grid.cycle.s if unceasing else steps * grid.step.s
    required = (
        min(need.at(job.job.modes[mode]), need.intermittent_m3s) if need.run_time else need.at(job.job.modes[mode])
    )
    if need.kind is CodeKind.EXPOSURE or ventilator.counted(low) * time_s / grid.cycle.s >= required * 0.9:
        return None
    job.others_off(name, mode, season)
    job.set_program(name, mode, season, {low: minutes(time_s)})
    return _where(job, mode, season, name)


def half_day_too_low(job: JobSurgery) -> Cut | None:
    """Give two halves of the day an airflow whose average over the day misses the target."""
    name, mode, _season = job.pick(job.running_programs())
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
    """Run the highest stage for less of each segment than the code allows, in modes that last."""
    own = job if job.survey.requirement.least_share > 0.0 else put_under(job, *IRC)
    if own is None:
        return None
    modes = sorted(own.job.modes)
    own.document["calendar"] = {"every-day": {f"{6 * number:02d}:00": mode for number, mode in enumerate(modes)}}
    name, mode, season = own.pick(own.judged_programs())
    ventilator = own.survey.ventilator(name)
    grid = ventilator.grid
    if grid is None or grid.step.s / grid.cycle.s >= own.survey.requirement.least_share:
        return None
    own.others_off(name, mode, season)
    own.set_program(name, mode, season, {_highest(ventilator): minutes(grid.step.s)})
    return _where(own, mode, season, name)


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
    need = job.survey.requirement
    required = need.at(job.job.modes[mode])
    if grid is None or required <= 0.0 or ventilator.most_m3s <= max(required, need.intermittent_m3s) * 1.6:
        return None
    if need.unbroken or need.floor is not None:  # then it can be lowered by a lower stage alone
        least = max(required, need.floor.airflow_m3s if need.floor is not None else 0.0)
        if not any(least <= ventilator.counted(s) < ventilator.most_m3s * 0.99 for s in ventilator.stages):
            return None
    if grid.stages_per_cycle == 1 and grid.cycle.s / grid.step.s < 6:
        return None
    job.serve_no_rooms(*job.ventilators)  # as local exhaust a ventilator may give more
    job.others_off(name, mode, season)
    job.set_program(name, mode, season, {_highest(ventilator): minutes(grid.cycle.s)})
    return _where(job, mode, season, name)


def exhaust_measured_too_high(job: JobSurgery) -> Cut | None:
    """Measure far more exhaust than supply at a stage in use."""
    name = job.pick([ventilator.name for ventilator in job.survey.driven if ventilator.stages_used])
    ventilator = job.survey.ventilator(name)
    code = job.survey.code
    if job.job.target.credits or job.survey.requirement.infiltration_m3s > 0.0:
        return None
    if code is not None and (code.quality or code.oversize or code.must_balance):
        return None  # the rate or what is asked of the stages changes with it, or balance is asked for
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
    held = job.survey.requirement.judged
    if not held or Occupancy.UNOCCUPIED in held:
        return None
    job.document["modes"] = dict.fromkeys(job.part("modes"), "unoccupied")
    return ("modes",)
