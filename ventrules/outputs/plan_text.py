"""A plan for people: what to key in at the controller, what it comes to, why nothing less would do."""

from collections.abc import Iterable, Iterator, Sequence
from math import isinf
from typing import Final

from ventrules.codes import CodeKind, Requirement
from ventrules.engine import Severity
from ventrules.job import Job, Occupancy
from ventrules.outputs.paper import Paper
from ventrules.outputs.plan_words import (
    cheaper_words,
    failure_words,
    less_words,
    minutes,
    ordered,
    planned_words,
    set_now,
    spent_words,
)
from ventrules.outputs.sheet import Sheet
from ventrules.outputs.wording import COUNTS, airflow, at, hours, percent, window_words
from ventrules.planner.orders import Least
from ventrules.planner.planned import Plan, PlannedMode, PlannedProgram, PlannedSeason, Shortage
from ventrules.survey import Survey
from ventrules.units import Power, Share, at_least
from ventrules.words import listed

_LABEL_WIDTH: Final = 12
_INDENT: Final = 2
_DUST_M3S: Final = 1e-12
_MOST_CAUTIOUS: Final = (
    "Relative exposure rests on when the air flows: here each cycle begins with the mode, and the stage with the most "
    "airflow runs first. The controller may do otherwise. Watch one cycle on site and measure before you rely on it."
)
_LAW: Final = (
    "Wiring and equipment are for those licensed for them. What the code asks is for the authority having jurisdiction "
    "to say."
)


def plan_text(paper: Paper, file: str, job: Job, plan: Plan, written: str = "") -> None:
    """Write a plan, what is in the way of one, or why there is nothing to plan.

    Args:
        paper: What it is written on.
        file: The job's file.
        job: The job as it was given.
        plan: The plan.
        written: What came of writing it, as a sentence.
    """
    page = Sheet(paper, _LABEL_WIDTH)
    page.head(f"{file}: {job.title}")
    if plan.shortage is not None:
        _write_shortage(page, plan, plan.shortage)
    elif not plan.found:
        page.lines(f"{'Nothing is planned' if plan.missing else 'No plan'}: {plan.missing or 'nothing will do'}.")
        _write_remarks(page, plan)
    else:
        _write_programs(page, job, plan)
        _write_modes(page, plan)
        _write_target(page, plan)
        _write_spent(page, plan)
        _write_cheaper(page, job, plan)
        _write_findings(page, plan)
        _write_site(page, job, plan)
    if written:
        page.blank()
        page.lines(written, style="bold")


def _told(plan: Plan) -> Sequence[PlannedSeason]:
    """Return the seasons to speak of: one where both are the same."""
    return plan.seasons[:1] if plan.alike else plan.seasons


def _write_remarks(page: Sheet, plan: Plan) -> None:
    for remark in plan.remarks:
        page.labeled("Remark", remark)


def _modes(plan: Plan) -> list[tuple[str, PlannedMode]]:
    """Return the modes in the order of the plan, with their seasons in words; once where both seasons are the same."""
    if len(plan.seasons) < 2:
        return [(mode.season.value, mode) for season in plan.seasons for mode in season.modes]
    found: list[tuple[str, PlannedMode]] = []
    for one, other in zip(plan.seasons[0].modes, plan.seasons[1].modes, strict=True):
        same = [_keyed(mode) for mode in (one, other)]
        if same[0] == same[1]:
            found.append(("both", one))
        else:
            found += [(one.season.value, one), (other.season.value, other)]
    return found


def _keyed(mode: PlannedMode) -> object:
    return [(program.ventilator, program.cycle_s, program.stages, program.kept) for program in mode.programs]


def _write_programs(page: Sheet, job: Job, plan: Plan) -> None:
    """Write what to key in, by ventilator, then by mode."""
    for place, first in enumerate(plan.seasons[0].modes[0].programs):
        name = first.ventilator
        own = [program for season in plan.seasons for mode in season.modes for program in [mode.programs[place]]]
        page.section(f"Key in for {name}")
        page.labeled("Cycle", _cycle(job, name, own))
        page.labeled("Stages", _stages(job, name, own, plan.unit))
        for label, text in _held(plan, name):
            page.labeled(label, text)
        page.blank()
        heads = ("mode", "season", "to do", "key in", "set now", "delivers")
        rows = [(mode.mode, when, *_row(job, plan, when, mode.programs[place])) for when, mode in _modes(plan)]
        page.table(heads, rows, _INDENT)
    page.blank()
    changed = sum(program.changed for season in plan.seasons for mode in season.modes for program in mode.programs)
    total = sum(len(mode.programs) for season in plan.seasons for mode in season.modes)
    said = f"{changed} of {total} programs differ from what is set now" if changed else "All of it is set already"
    page.lines(f"{said}; each season of a mode counts as one. Modes are in the order in which the week calls them up.")


def _cycle(job: Job, name: str, programs: Sequence[PlannedProgram]) -> str:
    lengths = listed(minutes(cycle) for cycle in sorted({program.cycle_s for program in programs}))
    settings = job.settings.get(name)
    written = settings.cycle.s if settings is not None and settings.cycle is not None else None
    if written is None or any(program.cycle_s == written for program in programs):
        return f"{lengths}, over and over; what is left of it is off"
    return f"{lengths}, the controller's own; the job is written for {minutes(written)}: take that out of it"


def _stages(job: Job, name: str, programs: Iterable[PlannedProgram], unit: str) -> str:
    found = {stage.stage: stage for program in programs for stage in program.stages}
    said = [
        f"{stage} {airflow(found[stage].airflow_m3s, unit)} ({'measured' if found[stage].measured else 'rated'})"
        for stage, _time in ordered(job, name, [(stage, 0.0) for stage in found])
    ]
    return listed(said) or "none is used"


def _held(plan: Plan, name: str) -> Iterator[tuple[str, str]]:
    """Yield which airflow counts, and what a ventilator has to exhaust all the time, as labels and texts."""
    if plan.requirement is not None:
        yield "Counts", COUNTS[plan.requirement.counts]
    ventilator = next((found for found in Survey(plan.job).driven if found.name == name), None)
    hold = ventilator.exhaust_to_hold_m3s if ventilator is not None else 0.0
    if ventilator is not None and hold > 0.0 and at_least(ventilator.most_exhaust_m3s, hold):
        rooms = listed(ventilator.rooms_served)
        what = f"{airflow(hold, plan.unit)} have to be exhausted at every moment from {rooms}"
        yield "Exhaust", f"{what}: it never stops, and only stages that reach that are used"


def _row(job: Job, plan: Plan, when: str, program: PlannedProgram) -> tuple[str, ...]:
    both = [season.season for season in plan.seasons] if when == "both" else [program.season]
    now = [set_now(job, program.ventilator, program.mode, season, program.cycle_s) for season in both]
    twins = [p for s in plan.seasons if s.season in both for m in s.modes for p in m.programs if _same(p, program)]
    mark = "CHANGE" if any(twin.changed for twin in twins) else "leave"
    if program.kept:
        mark = "held" if program.mode in plan.hold else "not planned"
    words = dict.fromkeys(now)
    before = listed(words) if len(words) == 1 else ", ".join(f"{s.value} {n}" for s, n in zip(both, now, strict=True))
    set_as = before if mark == "CHANGE" else "the same"
    return mark, planned_words(job, program), set_as, airflow(program.delivered_m3s, plan.unit)


def _same(one: PlannedProgram, other: PlannedProgram) -> bool:
    return (one.ventilator, one.mode) == (other.ventilator, other.mode)


def _write_modes(page: Sheet, plan: Plan) -> None:
    page.section("What each mode comes to")
    heads = ("mode", "season", "of the week", "delivers", "counts as", "asked for", "surplus")
    found = _modes(plan)
    page.table(heads, [_mode_row(when, mode, plan.unit) for when, mode in found], _INDENT)
    if any(mode.surplus_m3s is not None and mode.surplus_m3s < -_DUST_M3S for _when, mode in found):
        by_exposure = any(season.by_exposure for season in plan.seasons)
        why = (
            "where the week as a whole makes up for it through relative exposure"
            if by_exposure
            else "where part-time operation counts for more than its average, or the rest of the window makes up for it"
        )
        page.blank()
        page.lines(f"Surplus is what is delivered beyond what is asked for; it is below zero {why}.", _INDENT)


def _mode_row(when: str, mode: PlannedMode, unit: str) -> tuple[str, ...]:
    part = percent(mode.part) if mode.part is not None else "not called up"
    asked = [
        airflow(m3s, unit) if m3s is not None else none
        for m3s, none in ((mode.equivalent_m3s, "-"), (mode.required_m3s, "nothing"), (mode.surplus_m3s, "-"))
    ]
    return (f"{mode.mode} ({mode.occupancy.value})", when, part, airflow(mode.delivered_m3s, unit), *asked)


def _write_target(page: Sheet, plan: Plan) -> None:
    asked = plan.requirement
    if asked is None:
        return
    page.section("What is asked for")
    name = f"{plan.code.title} ({plan.code.code})" if plan.code is not None else "the job's own target"
    page.labeled("Target", f"{airflow(asked.continuous_m3s, plan.unit)}, {_timing(asked)}: {name}")
    for step in asked.steps:
        value = airflow(step.airflow_m3s, plan.unit) if step.airflow_m3s is not None else f"{step.number:.4g}"
        clause = f" ({step.basis.clause})" if step.basis.clause else ""
        unit = f" {step.unit}" if step.airflow_m3s is None and step.unit else ""
        page.labeled("", f"{step.name.rstrip(' :')}: {value}{unit}{clause}")
    if asked.from_memory:
        page.labeled("Look up", f"these are from memory, nobody had the text at hand: {'; '.join(asked.from_memory)}")
    page.lines("`ventrules target` says more.", _INDENT)


def _timing(asked: Requirement) -> str:
    if asked.kind is CodeKind.LEVELS:
        return "at every moment, by level"
    if asked.window_s <= 0.0:
        return "at every moment"
    floor = ", with a floor" if asked.floor is not None else ""
    runs = ", counted by run time" if asked.run_time is not None else ""
    exposed = ", or relative exposure within its limits" if asked.exposure is not None else ""
    return f"the average over {window_words(asked.window_s, asked.placing)}{runs}{floor}{exposed}"


def _write_spent(page: Sheet, plan: Plan) -> None:
    for season in _told(plan):
        page.section(f"What it spends, {'both seasons' if plan.alike else f'{season.season.value} season'}")
        for label, text in _spent(plan, season):
            page.labeled(label, text)
    if any(season.by_exposure for season in plan.seasons):
        page.blank()
        page.lines(f"Caution: {_MOST_CAUTIOUS}", style="bold")


def _spent(plan: Plan, season: PlannedSeason) -> Iterator[tuple[str, str]]:
    """Yield what a season's programs spend, as labels and texts."""
    first, second, third = spent_words(plan.least)
    yield "Spent least", f"first of {first}, then of {second}, then of {third}"
    if plan.hold:
        yield "Held", f"{listed(plan.hold)}: as set; the others make up for it where they can"
    calendar = any(mode.part is not None for mode in season.modes)
    average = "on average over the week" if calendar else "on average, each mode alike, since there is no calendar"
    delivered, required = (airflow(m3s, plan.unit) for m3s in (season.delivered_m3s, season.required_m3s))
    over = season.surplus_m3s
    beyond = f"surplus {airflow(over if abs(over) > _DUST_M3S else 0.0, plan.unit)}"
    yield "Air", f"{delivered} {average}; asked for on the same average {required}; {beyond}"
    power = str(Power.shown(season.power_w, "W")) if season.power_w is not None else ""
    yield "Fan power", f"{power} on the same average" if power else "not known: the catalog does not give it"
    yield "Changes", f"{season.changes_per_hour:.2f} stage changes an hour, on the same average"
    yield "Proof", _proof(plan, season)
    if season.exposure is not None:
        found = season.exposure
        present = f"{found.mean_present:.3f} while people are there, " if found.mean_present is not None else ""
        peak = f"{found.peak:.2f} at its highest, on {at(found.peak_s)}"
        yield "Exposure", f"{found.mean:.3f} on average over the week, {present}{peak}{_limits(plan.requirement)}"
    if season.by_exposure and plan.requirement is not None:
        window = hours(plan.requirement.window_s)
        yield "Carried by", f"relative exposure, which keeps its limits; not every window of {window} has its airflow"


def _limits(asked: Requirement | None) -> str:
    if asked is None or asked.exposure is None:
        return ""
    return f"; limits {asked.exposure.mean:g} on average and {asked.exposure.peak:g} at its highest"


def _proof(plan: Plan, season: PlannedSeason) -> str:
    if season.proved:
        return f"nothing that can be set has {less_words(plan.least)}"
    if isinf(season.beyond) or season.beyond <= 0.0:
        return "not proved to be the least there can be; how far above that it may be is not known"
    return f"not proved to be the least: at most {Share.shown(season.beyond, '%')} above the least there can be"


def _write_cheaper(page: Sheet, job: Job, plan: Plan) -> None:
    """Write why nothing cheaper will do, once for programs that are the same for the same reason."""
    where: dict[tuple[str, str, str], dict[str, list[str]]] = {}
    for mode in (mode for season in plan.seasons for mode in season.modes):
        for program in mode.programs:
            if program.cheaper is not None:
                key = (program.ventilator, planned_words(job, program), _cheaper(job, plan, program))
                where.setdefault(key, {}).setdefault(mode.mode, []).append(mode.season.value)
    if not where:
        return
    page.section("Why not less")
    for (ventilator, words, why), modes in where.items():
        said = [f"{mode} ({found[0]})" if len(found) < len(plan.seasons) else mode for mode, found in modes.items()]
        page.lines(f"{ventilator}, {listed(said)}, {words}: {why}", _INDENT)


def _cheaper(job: Job, plan: Plan, program: PlannedProgram) -> str:
    cheaper = program.cheaper
    if cheaper is None:
        return ""
    others = ", with the other ventilators as planned" if len(plan.seasons[0].modes[0].programs) > 1 else ""
    words = cheaper_words(job, program, cheaper)
    delivered = airflow(cheaper.delivered_m3s, plan.unit)
    spent = ""
    if plan.least is Least.ENERGY and cheaper.power_w is not None:
        spent = f" for {Power.shown(cheaper.power_w, 'W')}"
    if plan.least is Least.CHANGES:
        spent = f" with {cheaper.changes or 'no'} stage changes in a cycle"
    said = f"the next cheaper program, {words}, would deliver {delivered}{spent}{others}"
    if cheaper.failure is None:
        return f"{said} and would do as well: not everything could be gone through."
    return f"{said}, but {failure_words(cheaper.failure, plan.unit)}."


def _write_findings(page: Sheet, plan: Plan) -> None:
    page.section("What the rules still say with these programs")
    if not plan.findings:
        page.lines("Nothing.", _INDENT)
    for finding in plan.findings:
        label = "not checked" if finding.unchecked else finding.severity.value
        page.labeled(label, f"{finding.rule} at {finding.place.name}: {finding.title}")
    worst = [f for f in plan.findings if f.severity is Severity.ERROR and not f.unchecked]
    if worst:
        page.lines("Mend the errors as well: with them, these programs may not do what they are to do.", _INDENT)
    if plan.findings:
        page.lines("`ventrules check` says more.", _INDENT)


def _write_site(page: Sheet, job: Job, plan: Plan) -> None:
    page.section("On site")
    used: dict[str, set[str]] = {}
    off = False
    for mode in (mode for season in plan.seasons for mode in season.modes):
        off = off or (mode.occupancy is not Occupancy.OCCUPIED and not any(p.stages for p in mode.programs))
        for program in mode.programs:
            used.setdefault(program.ventilator, set()).update(stage.stage for stage in program.stages)
    places = [
        f"{name} at {listed(stage for stage, _time in ordered(job, name, [(stage, 0.0) for stage in found]))}"
        for name, found in used.items()
        if found
    ]
    if places:
        page.labeled("Measure", f"supply and exhaust, with clean filters: {'; '.join(places)}")
        page.labeled(
            "", "Write what you measure under `readings` and plan again: airflow that differs changes the plan."
        )
    page.labeled("Read back", "the programs from the controller, every mode, heating and cooling")
    if off:
        page.labeled("Look", "where nothing runs while nobody is there: no damp, no new materials, no animals")
    page.labeled("Law", _LAW)


def _write_shortage(page: Sheet, plan: Plan, short: Shortage) -> None:
    """Write what is in the way where no programs will do."""
    page.section("No programs meet the target")
    page.labeled("Season", short.season.value)
    if plan.hold:
        page.labeled("Held", f"{listed(plan.hold)}: as set")
    failure = short.failure
    if not short.proved:
        page.labeled("Search", "there were too many programs to go through; none was found, and there may be one")
    if failure is None:
        page.labeled("In the way", "what the controllers can be set to: the airflow would do, but no program gives it")
    else:
        where = f" in {failure.mode}" if failure.mode else ""
        most = "all ventilators at their highest stages without a break"
        if plan.hold:
            most = "all that may be changed, at the highest stage without a break,"
        page.labeled("Most", f"{most} {failure_words(failure, plan.unit)}{where}")
    _write_target(page, plan)
    page.section("What would do")
    if not short.curable:
        page.lines("No airflow would, however much: what is to stay as it is, is in the way.", _INDENT)
        return
    if short.failure is None:
        page.lines("A controller with a finer grid, or one whose programs hold more stages.", _INDENT)
        return
    for name, models in short.models.items():
        said = f"{', '.join(models)} (smallest first; has to be bought)" if models else "no model in the catalogs"
        page.labeled(name, said)
    page.lines(
        "Each stands for another model in the place of one ventilator, the others as they are. Plan again with it.",
        _INDENT,
    )
