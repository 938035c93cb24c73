"""Another ventilator in place of one: the smallest model of the catalogs that fits, with its programs planned anew."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import islice
from typing import Final

import attrs
from attrs import frozen

from ventrules.codes import CodeKind
from ventrules.engine import Edit, EditKind, Remedy
from ventrules.engine.findings import Document
from ventrules.files import JobFileError, apply_edits, job_document, rebuilt
from ventrules.files.shapes import MANAGED
from ventrules.job import BusKind, Job, Model, Role
from ventrules.planner.edits import put, remove
from ventrules.planner.programs import program_remedy
from ventrules.planner.shortfalls import shortfalls
from ventrules.planner.wiring import insert_module
from ventrules.survey import PortRef, ProgramView, StageFlow, Survey, VentilatorView
from ventrules.units import Duration, at_least, at_most

_MOST_TRIED: Final = 24  # models that are worked through one by one
_MOST_WORK: Final = (
    10_000  # models x devices x ventilators; a very large job is offered nothing rather than kept waiting
)
_MOST_REPLACED: Final = 3  # ventilators of which one is to be replaced
_BUSES: Final = (BusKind.SYSTEM, BusKind.VENTILATOR)
_MEASURE: Final = (
    "Power off before wiring; then measure supply and exhaust airflow at each stage, and see that the controller lists "
    "the ventilator."
)


@frozen
class _Candidate:
    """A model that can take the place of a ventilator: its size, m3/s, and its ports for those wired today."""

    name: str
    model: Model
    size_m3s: float
    ports: Mapping[str, str]


@frozen
class _Swap:
    """Another model put in: the edits, the ventilator as it then is, and what its cabling takes for granted."""

    edits: tuple[Edit, ...]
    after: VentilatorView
    assumes: str


def swap_ventilator(ventilator: VentilatorView, cured: Callable[[VentilatorView], bool]) -> Remedy | None:
    """Return the remedy that replaces a ventilator by the smallest model that fits and cures what is wrong.

    A model fits when it can be wired as the old one is, is understood at the other end, and with the other
    ventilators as they are meets the target without falling short of anything that the old one met. One of
    the same kind (HRV or ERV) goes before all of the other.

    Args:
        ventilator: The ventilator to replace.
        cured: Says of the new ventilator, in the survey of the changed job, whether the fault is gone.
    """
    old = ventilator.survey.job.devices[ventilator.name].model
    fitting = [candidate for candidate in _candidates(ventilator) if candidate.name != old]
    same = [candidate for candidate in fitting if candidate.model.kind is ventilator.model.kind]
    other = [candidate for candidate in fitting if candidate.model.kind is not ventilator.model.kind]
    for candidate in [*same, *other][: _tries(ventilator.survey)]:
        swap = _put_in(ventilator, candidate)
        if swap is not None and cured(swap.after):
            return Remedy(
                title=f"Choose {candidate.name} for {ventilator.name} in place of {old}, and set its programs anew",
                edits=swap.edits,
                check_on_site=_MEASURE,
                changes_purchase=True,
                assumes=" ".join(filter(None, (_assumed(ventilator.model, candidate.model), swap.assumes))),
            )
    return None


def swap_one_of(ventilators: Iterable[VentilatorView], cured: Callable[[VentilatorView], bool]) -> Remedy | None:
    """Return the remedy that replaces the first of several ventilators for which there is a model.

    Args:
        ventilators: The ventilators, the one that is best replaced first; only a few are looked at.
        cured: As in `swap_ventilator`.
    """
    found = (swap_ventilator(ventilator, cured) for ventilator in islice(ventilators, _MOST_REPLACED))
    return next((remedy for remedy in found if remedy is not None), None)


def _tries(survey: Survey) -> int:
    return min(_MOST_TRIED, _MOST_WORK // (len(survey.models) * max(len(survey.ventilators), 1)))


def fitting_models(survey: Survey, ventilator: str, meets: Callable[[Survey], bool] | None = None) -> tuple[str, ...]:
    """Return the catalog models that could stand in a ventilator's place, by size and then by name.

    Each meets the target, can be wired where the ventilator is wired and speaks a dialect of the port that it hangs
    on. Size is the most airflow that counts.

    Args:
        survey: The survey of the job.
        ventilator: The ventilator's name; its own model may be among the answers.
        meets: Says of the survey of a job with a model put in whether it can meet the target; by default with the
            other ventilators as they are set.
    """
    view = survey.ventilator(ventilator)
    if meets is None:
        return tuple(candidate.name for candidate in _candidates(view) if _put_in(view, candidate) is not None)
    return tuple(candidate.name for candidate in _candidates(view) if _would_do(view, candidate, meets))


def _would_do(ventilator: VentilatorView, candidate: _Candidate, meets: Callable[[Survey], bool]) -> bool:
    try:
        after = Survey(_changed(ventilator.survey.job, _exchanged(ventilator, candidate)))
    except (JobFileError, ValueError):
        return False
    return meets(after) and shortfalls(after.ventilator(ventilator.name)) <= shortfalls(ventilator)


def _assumed(old: Model, new: Model) -> str:
    said = "The new unit fits the place, the ducts, the drain and the power supply of the old one"
    if old.kind is None or new.kind is None or old.kind is new.kind:
        return f"{said}."
    return f"{said}, and an {new.kind.value.upper()} will do; the catalogs have no {old.kind.value.upper()} that fits."


def _candidates(ventilator: VentilatorView) -> list[_Candidate]:
    """Return the models that can be wired and have the airflow, smallest first."""
    survey, found = ventilator.survey, []
    others_m3s = survey.capacity_m3s - (ventilator.most_m3s if ventilator.driven else 0.0)
    least_m3s = 0.0
    if survey.unknown is None:
        asked = survey.requirement
        least_m3s = min(asked.continuous_m3s, asked.intermittent_m3s)
    for name, model in survey.job.catalog.models.items():
        if model.role is not Role.VENTILATOR:
            continue
        ports, size_m3s = _ports(ventilator, model), _size_m3s(survey, model)
        if ports is not None and at_least(others_m3s + size_m3s, least_m3s):
            found.append(_Candidate(name, model, size_m3s, ports))
    return sorted(found, key=lambda candidate: (candidate.size_m3s, candidate.name))


def _size_m3s(survey: Survey, model: Model) -> float:
    """Return the most airflow of a model that counts, as the catalog rates it, m3/s."""
    flows = (
        StageFlow(name, s.supply.m3s, s.exhaust.m3s, s.supply.m3s * (1.0 - model.exhaust_air_transfer), measured=False)
        for name, s in model.stages.items()
    )
    return max((flow.counted(survey.counts) for flow in flows), default=0.0)


def _ports(ventilator: VentilatorView, model: Model) -> Mapping[str, str] | None:
    """Return the port of a model for each port that is wired today, or None where they do not go together."""
    survey, own = ventilator.survey, ventilator.model.ports
    offered = [name for name, port in model.ports.items() if port.bus in _BUSES]
    if not ventilator.bus_ports:
        return {} if len(offered) == 1 and model.ports[offered[0]].bus is BusKind.VENTILATOR else None
    wired = survey.device(ventilator.name).wired_ports
    ports = {}
    for name in wired:
        same = [name] if name in model.ports and model.ports[name].bus is own[name].bus else []
        alike = same or [other for other in offered if model.ports[other].bus is own[name].bus]
        if len(alike) != 1 or not _speaks(ventilator, PortRef(ventilator.name, name), model, alike[0]):
            return None
        ports[name] = alike[0]
    if len(set(ports.values())) != len(ports):
        return None
    if not any(own[name].bus in _BUSES for name in wired):
        mute = all(not _alike(own[port.port].bus, own[port.port].dialects, model) for port in ventilator.bus_ports)
        return None if mute else ports
    return ports


def _alike(bus: BusKind, dialects: Iterable[str], model: Model) -> bool:
    return any(port.bus is bus and set(port.dialects) & set(dialects) for port in model.ports.values())


def _speaks(ventilator: VentilatorView, wired: PortRef, model: Model, port: str) -> bool:
    """Say whether a model's port is understood by what speaks on the bus of a wired port, and takes its cables."""
    survey, topology = ventilator.survey, ventilator.survey.topology
    if topology.kind(wired) is not BusKind.CONTACT:
        speakers = topology.speakers.get(topology.segment_of(wired).number, ())
        heard = [set(survey.models[end.device].ports[end.port].dialects) for end in speakers]
        if not all(dialects & set(model.ports[port].dialects) for dialects in heard):
            return False
    joined = {
        terminal
        for index in topology.cables_at.get(wired, ())
        for conductor in survey.job.cables[index].conductors or ()
        for end, terminal in zip(topology.ends[index], (conductor.start, conductor.end), strict=True)
        if end == wired and terminal is not None
    }
    return joined <= model.ports[port].terminals.keys()


def _put_in(ventilator: VentilatorView, candidate: _Candidate) -> _Swap | None:
    """Return the job with a candidate put in, or None where it misses the target or falls short of something."""
    job, name = ventilator.survey.job, ventilator.name
    try:
        edits = _exchanged(ventilator, candidate)
        bare, assumes = _changed(job, edits), ""
        if not ventilator.bus_ports:
            cable = insert_module(Survey(bare).ventilator(name))
            if cable is None:
                return None
            edits, assumes = (*edits, *cable.edits), cable.assumes
            bare = _changed(bare, cable.edits)
        planning = Survey(_without_programs(bare, name))
        programs = _planned(ventilator, planning)
        if programs is None:
            return None
        if programs:
            edits = (*edits, *put(bare, ("settings", name, "programs"), programs))
        after = Survey(_changed(job, edits)).ventilator(name)
    except (JobFileError, ValueError):
        return None
    sound = _as_asked(planning, after.survey) and shortfalls(after) <= shortfalls(ventilator)
    return _Swap(edits, after, assumes) if sound else None


def _as_asked(planned: Survey, after: Survey) -> bool:
    """Say whether no more is asked than the programs were planned for, as where they are not balanced."""
    if planned.unknown is not None or after.unknown is not None:
        return planned.unknown == after.unknown
    return at_most(after.requirement.continuous_m3s, planned.requirement.continuous_m3s)


def _changed(job: Job, edits: tuple[Edit, ...]) -> Job:
    return rebuilt(apply_edits(job_document(job), edits), job)


def _exchanged(ventilator: VentilatorView, candidate: _Candidate) -> tuple[Edit, ...]:
    """Return the edits that put another model in a ventilator's place, all but its programs."""
    survey, name = ventilator.survey, ventilator.name
    edits = [Edit(EditKind.REPLACE, ("devices", name, "model"), candidate.name)]
    for index in sorted({i for i, ends in enumerate(survey.topology.ends) for end in ends if end.device == name})[::-1]:
        if not ventilator.bus_ports:
            edits.append(remove(("cables", index)))  # the old contact is left, and a bus cable run instead
            continue
        for key, end in zip(("from", "to"), survey.topology.ends[index], strict=True):
            if end.device == name and candidate.ports[end.port] != end.port:
                new = str(PortRef(name, candidate.ports[end.port]))
                edits.append(Edit(EditKind.REPLACE, ("cables", index, key), new))
    edits += _of_the_old_unit(ventilator, candidate)
    return (*edits, *_limits(ventilator, candidate.model), *_reminder(ventilator, candidate.model))


def _of_the_old_unit(ventilator: VentilatorView, candidate: _Candidate) -> Iterator[Edit]:
    """Yield the edits that take out what was measured at the old unit, and move what was set at its ports."""
    job, name = ventilator.survey.job, ventilator.name
    for key, told in (("readings", job.readings), ("indicators", job.indicators)):
        if name in told:
            yield remove((key, name))
    yield from (remove(("voltages", end)) for end in job.voltages if PortRef.of(end).device == name)
    for port in job.devices[name].ports:
        new = candidate.ports.get(port)
        if new == port:
            continue
        yield remove(("devices", name, "ports", port))
        if new is not None:
            yield Edit(EditKind.ADD, ("devices", name, "ports", new), _setting(job, name, port))


def _setting(job: Job, device: str, port: str) -> Document:
    here: Document = job_document(job)
    for step in ("devices", device, "ports", port):
        here = here[step] if isinstance(here, dict) else None
    return here


def _limits(ventilator: VentilatorView, model: Model) -> tuple[Edit, ...]:
    """Return the edits that bring outdoor limits back to those of a model."""
    limits, unit = ventilator.settings.outdoor_limits if ventilator.settings else None, model.outdoor_limits
    if limits is None or unit is None:
        return ()
    edits, path = [], ("settings", ventilator.name, "outdoor_limits")
    low, high = limits.off_at_or_below, limits.off_at_or_above
    if low is not None and not at_least(low.kelvin, unit.lowest.kelvin):
        edits.append(Edit(EditKind.REPLACE, (*path, "off_at_or_below"), str(unit.lowest)))
    if high is not None and not at_most(high.kelvin, unit.highest.kelvin):
        edits.append(Edit(EditKind.REPLACE, (*path, "off_at_or_above"), str(unit.highest)))
    return tuple(edits)


def _reminder(ventilator: VentilatorView, model: Model) -> tuple[Edit, ...]:
    """Return the edit that brings the filter reminder into the range of a model."""
    reminder = ventilator.settings.filter_reminder if ventilator.settings else None
    allowed = model.filter_interval or ventilator.survey.limits.filter_interval
    if reminder is None or (at_least(reminder.s, allowed.least.s) and at_most(reminder.s, allowed.most.s)):
        return ()
    path = ("settings", ventilator.name, "filter_reminder")
    return (Edit(EditKind.REPLACE, path, str(allowed.usual)),)


def _without_programs(job: Job, ventilator: str) -> Job:
    """Return a job without the programs of a ventilator, but for those that the controller manages itself."""
    settings = job.settings.get(ventilator)
    if settings is None:
        return job
    managed = {
        mode: {season: program for season, program in seasons.items() if program.managed}
        for mode, seasons in settings.programs.items()
    }
    return attrs.evolve(job, settings={**job.settings, ventilator: attrs.evolve(settings, programs=managed)})


def _planned(ventilator: VentilatorView, bare: Survey) -> dict[str, Document] | None:
    """Return the programs of a ventilator's new model, or None where they cannot meet the target.

    Args:
        ventilator: The ventilator as it was.
        bare: The survey of the job with the new model, without its programs.
    """
    before = {(p.mode.name, p.season): p for p in ventilator.survey.programs if p.ventilator is ventilator}
    programs: dict[str, dict[str, Document]] = {}
    for program in bare.programs:
        if program.ventilator.name != ventilator.name:
            continue
        old = before.get((program.mode.name, program.season))
        by_airflow = bare.unknown is None and bare.requirement.kind is not CodeKind.CAPACITY
        if program.program is not None:
            planned: Document = MANAGED
        elif by_airflow and program.ventilator.grid is not None:
            planned = _value(program)
            if planned is None:
                return None
        elif old is not None and old.program is not None:
            planned = _carried_over(old, program.ventilator)
        else:
            continue
        programs.setdefault(program.mode.name, {})[program.season.value] = planned
    return {**programs}


def _value(program: ProgramView) -> Document:
    """Return the program that meets the target, or None where there is none."""
    remedy = program_remedy(program)
    edits = remedy.edits if remedy is not None else ()
    return next((edit.value for edit in edits if edit.path == program.place.path), None)


def _carried_over(old: ProgramView, new: VentilatorView) -> Document:
    """Return a program with the same times, each at the least stage of a new unit that gives as much air, or its most.

    For where no airflow is asked of a program: its code asks for capacity alone, or cannot be told.
    """
    stages = sorted(new.stages, key=lambda stage: (new.counted(stage), stage))
    times: dict[str, float] = {}
    for stage, time in old.program.stages.items() if old.program is not None else ():
        flow = old.ventilator.counted(stage) if stage in old.ventilator.stages else 0.0
        enough = [name for name in stages if at_least(new.counted(name), flow)]
        if stages:
            chosen = enough[0] if enough else stages[-1]
            times[chosen] = times.get(chosen, 0.0) + time.s
    return {stage: str(Duration.shown(time, "min")) for stage, time in times.items()}
