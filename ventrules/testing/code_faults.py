"""Fault makers for what single codes ask. Where the job's own code asks no such thing, another is set first."""

from math import ceil
from typing import Final

import attrs

from ventrules.codes import Code, CodeKind
from ventrules.files import load_code
from ventrules.job import Occupancy
from ventrules.testing.surgery import Cut, JobSurgery, minutes
from ventrules.testing.targets import IRC, Asked, Home, codes, needs_rooms, under
from ventrules.units import Airflow

_SEASONS: Final = ("heating", "cooling")


def _small(job: JobSurgery, code: Code) -> list[Home]:
    """Return small dwellings, one of which nearly any equipment can serve."""
    metric = job.survey.metric
    first = Home(50 if metric else 540, 1, metric=metric, tall=True, rooms=needs_rooms(code))
    return [first, *(attrs.evolve(first, bedrooms=bedrooms) for bedrooms in (2, 3, 4, 5))]


def put_under(job: JobSurgery, *names: str, recovering: bool = True) -> JobSurgery | None:
    """Put the job under one of some codes, in a small dwelling and with programs that never stop; None if none fits.

    Args:
        job: The job; it is changed.
        names: The codes.
        recovering: False when the ventilators may recover less heat than the code asks for.
    """
    ventilators = job.ventilators
    models = [job.model(name) for name in ventilators]
    found = []
    for name in names:
        code = load_code(name) if recovering else attrs.evolve(load_code(name), recovery=())
        fitting = under(code, models, _small(job, code))
        found += [fitting] if fitting is not None else []
    asked = job.pick(found)
    job.document["target"], job.document["dwelling"] = asked.target, asked.dwelling
    job.document.pop("readings", None)
    for number, ventilator in enumerate(ventilators):
        whole = _whole(job, ventilator)
        job.part("settings", ventilator)["programs"] = {
            mode: {season: dict.fromkeys(_enough(asked, kind)[number], whole) for season in _SEASONS}
            for mode, kind in job.job.modes.items()
        }
    return JobSurgery(job.document, job.pick)


def _enough(asked: Asked, occupancy: Occupancy) -> list[list[str]]:
    """Return the stages that run without a break: the least that is enough by itself, else all that there is."""
    nothing: list[list[str]] = [[] for _ventilator in asked.flows]
    if asked.off_in(occupancy):
        return nothing
    for flow, number, stage in sorted((f, n, s) for n, flows in enumerate(asked.flows) for s, f in flows.items()):
        if asked.met_by(occupancy, [(flow, 1.0)], 1.0):
            return [*nothing[:number], [stage], *nothing[number + 1 :]]
    return [[max(sorted(flows), key=flows.__getitem__)] if flows else [] for flows in asked.flows]


def _whole(job: JobSurgery, ventilator: str) -> str:
    return minutes(job.survey.ventilator(ventilator).cycle_s)


def _of_kind(*kinds: CodeKind) -> list[str]:
    return [name for name in codes() if load_code(name).kind in kinds]


def _place(job: JobSurgery, name: str, mode: str, season: str) -> Cut:
    one = len(job.survey.driven) == 1
    return ("settings", name, "programs", mode, season) if one else ("modes", mode)


def _stop_for_a_step(job: JobSurgery, *, high: bool) -> Cut | None:
    name, mode, season = job.pick(job.judged_programs())
    ventilator = job.survey.ventilator(name)
    grid = ventilator.grid
    if grid is None:
        return None
    used = _most(job, name) if high else min(job.part("settings", name, "programs", mode, season))
    job.others_off(name, mode, season)
    job.set_program(name, mode, season, {used: minutes(grid.cycle.s - grid.step.s)})
    return _place(job, name, mode, season)


def unbroken_airflow_stopped(job: JobSurgery) -> Cut | None:
    """Let a ventilator stop for a step of each cycle where air has to flow all the time."""
    own: JobSurgery | None = job
    if not job.survey.requirement.unbroken:
        own = put_under(job, *_of_kind(CodeKind.CONTINUOUS, CodeKind.LEVELS))
    return _stop_for_a_step(own, high=False) if own is not None else None


def airflow_stopped_that_has_a_floor(job: JobSurgery) -> Cut | None:
    """Let a ventilator stop for a step of each cycle, with enough on average, where some air has to flow always."""
    own = put_under(job, *_of_kind(CodeKind.AVERAGE_WITH_FLOOR))
    return _stop_for_a_step(own, high=True) if own is not None else None


def _by_halves(job: JobSurgery, kind: str) -> None:
    """Let each day have twelve hours in one mode, and twelve hours off in one of another kind."""
    mode = min(job.job.modes)
    job.document["modes"] = {mode: "occupied", "late half": kind}
    job.document["calendar"] = {"every-day": {"06:00": mode, "18:00": "late half"}}
    for name in job.ventilators:
        flows = job.survey.ventilator(name)
        high = max(sorted(flows.stages), key=flows.counted)
        job.part("settings", name)["programs"] = {
            mode: {season: {high: _whole(job, name)} for season in _SEASONS},
            "late half": {season: {} for season in _SEASONS},
        }


def half_of_each_day_without_air(job: JobSurgery) -> Cut | None:
    """Let every night pass without air under a code that limits the relative exposure."""
    own = put_under(job, *_of_kind(CodeKind.EXPOSURE))
    if own is None:
        return None
    _by_halves(own, "standby")
    return ("calendar",)


def people_come_home_to_stale_air(job: JobSurgery) -> Cut | None:
    """Meet a target of one's own while people are there, and let nothing flow for half of each day before."""
    most = sum(max(flow.net_supply_m3s for flow in ventilator.stages.values()) for ventilator in job.survey.driven)
    metric = job.survey.metric
    airflow = Airflow.shown(most * 0.95, "L/s").to("L/s")
    job.document["target"] = {"airflow": f"{airflow:.3f} L/s", "window": "4 h"}
    job.document["dwelling"] = Home(50 if metric else 540, 1, metric=metric, tall=True).document()
    _by_halves(JobSurgery(job.document, job.pick), "unoccupied")
    return ("calendar",)


def another_airflow_counted(job: JobSurgery) -> Cut | None:
    """Count another airflow than the code does."""
    own = job if job.job.target.code is not None else put_under(job, *IRC)
    if own is None or own.survey.code is None:
        return None
    others = [counts for counts in ("supply", "exhaust", "mean") if counts != own.survey.code.counts.value]
    own.part("target")["counts"] = own.pick(others)
    return ("target", "counts")


def unbalanced_where_balance_is_asked(job: JobSurgery) -> Cut | None:
    """Measure far more exhaust than supply under a code that asks for a balanced system."""
    own = put_under(job, *(name for name in codes() if load_code(name).must_balance is not None))
    if own is None:
        return None
    name = own.pick([ventilator.name for ventilator in own.survey.driven if ventilator.stages_used])
    ventilator = own.survey.ventilator(name)
    own.document["readings"] = {
        name: {
            stage: {
                "supply": f"{ventilator.stages[stage].supply_m3s:.9f} m3/s",
                "exhaust": f"{ventilator.stages[stage].supply_m3s * 1.5:.9f} m3/s",
            }
            for stage in ventilator.stages_used
        }
    }
    return ("target",)


def ventilator_far_too_large(job: JobSurgery) -> Cut | None:
    """Ask for so little that every stage is far above it, where a stage near it is asked for."""
    own = put_under(job, *_with_oversize())
    if own is None or own.survey.code is None or own.survey.code.oversize is None:
        return None
    limit = own.survey.code.oversize
    least = min(ventilator.counted(stage) for ventilator in own.survey.driven for stage in ventilator.stages)
    own.part("dwelling")["bedrooms"] = 1
    asked = JobSurgery(own.document, own.pick).survey.requirement.continuous_m3s
    if least <= asked * (1.0 + limit.within) or own.survey.capacity_m3s <= asked * (1.0 + limit.beyond):
        return None
    return ("target",)


def _with_oversize() -> list[str]:
    return [name for name in codes() if load_code(name).oversize is not None]


def rooms_that_all_fans_cannot_serve(job: JobSurgery) -> Cut | None:
    """List more rooms than all fans together can serve."""
    own = put_under(job, *(name for name in codes() if load_code(name).total is not None))
    if own is None:
        return None
    each = Airflow.of(5.0, "L/s").m3s
    count = ceil(own.survey.capacity_m3s / each) + 1
    own.part("dwelling")["rooms"] = {f"room {number}": {"kind": "other-habitable-room"} for number in range(count)}
    return ("dwelling", "rooms")


def what_the_code_needs_left_out(job: JobSurgery) -> Cut | None:
    """Leave out the rooms that a code's rate is of."""
    by_rooms = [name for name in codes() if needs_rooms(load_code(name)) and load_code(name).total is None]
    own = put_under(job, *by_rooms)
    if own is None:
        return None
    del own.part("dwelling")["rooms"]
    return ("target",)


def rooms_that_one_ventilator_cannot_exhaust(job: JobSurgery) -> Cut | None:
    """Let one ventilator exhaust more rooms than it has airflow for."""
    own: JobSurgery | None = job
    if job.survey.code is None or not job.survey.code.local_exhaust:
        own = put_under(job, *(name for name in codes() if load_code(name).local_exhaust))
    if own is None or own.survey.code is None:
        return None
    line = own.pick(own.survey.code.local_exhaust)
    name = own.pick([ventilator.name for ventilator in own.survey.driven])
    least = min(flow.m3s for flow in (line.demand, line.continuous) if flow is not None)
    count = ceil(own.survey.ventilator(name).most_exhaust_m3s / least) + 1
    own.part("dwelling")["rooms"] = {
        f"served {number}": {"kind": line.rooms[0].value, "exhaust_by": name} for number in range(count)
    }
    return ("devices", name)


def ventilator_of_too_little_recovery(job: JobSurgery) -> Cut | None:
    """Put a ventilator under a code that asks for more recovery than it has."""
    least = {
        name: max(recovery.sensible for recovery in everywhere)
        for name in codes()
        if (everywhere := [r for r in load_code(name).recovery if not r.zones and r.at is None])
    }
    low = {
        code: [v for v in job.ventilators if (r := job.model(v).recovery) is not None and r.sensible < sensible]
        for code, sensible in least.items()
    }
    code = job.pick([code for code, ventilators in low.items() if ventilators])
    own = put_under(job, code, recovering=False)
    return ("devices", own.pick(low[code])) if own is not None else None


def stage_used_that_takes_too_much_power(job: JobSurgery) -> Cut | None:
    """Run a ventilator at its highest stage, where that takes more power for its airflow than the code allows."""
    lavish: dict[str, list[str]] = {}
    for code in map(load_code, codes()):
        for name in job.ventilators if code.efficacy is not None else ():
            stage = job.model(name).stages[_most(job, name)]
            asked = code.efficacy.airflow.m3s / code.efficacy.power.w if code.efficacy is not None else 0.0
            if stage.power is not None and stage.supply.m3s < stage.power.w * asked * 0.99:
                lavish.setdefault(code.code, []).append(name)
    own = put_under(job, *lavish, recovering=False)
    if own is None:
        return None
    name = own.pick(lavish[str(own.job.target.code)])
    mode = own.pick(sorted(mode for mode, kind in own.job.modes.items() if kind is Occupancy.OCCUPIED))
    own.set_program(name, mode, own.pick(_SEASONS), {_most(own, name): _whole(own, name)})
    return ("devices", name)


def _most(job: JobSurgery, ventilator: str) -> str:
    stages = job.model(ventilator).stages
    return max(sorted(stages), key=lambda stage: stages[stage].supply.m3s)
