"""Hypothesis strategies for sound jobs, built sound: nothing is drawn and thrown away.

Equipment comes first, then a target that it can meet, then programs that meet it.
"""

from collections.abc import Callable, Iterator, Sequence
from itertools import combinations
from typing import Final, TypeAlias

from attrs import frozen
from hypothesis import strategies as st
from hypothesis.strategies import DrawFn, SearchStrategy

from ventrules.engine.findings import Document
from ventrules.files import job_from_document, packaged_catalog
from ventrules.job import Job, Model, Occupancy
from ventrules.testing.targets import Asked, Home, site, targets
from ventrules.units import Duration

MODES: Final = ("day", "night", "out", "guests", "work", "late")
_VENTILATORS: Final = (
    "demo-erv-70",
    "demo-erv-130",
    "demo-erv-200",
    "demo-erv-single",
    "demo-hrv-100",
    "demo-hrv-150",
    "demo-hrv-120-metric",
)
_ON_A_LINE: Final = "demo-erv-150-line"
_CABLES_ON_A_PORT: Final = 3  # one fewer than a system port takes: a fault may add one
_CONTROLS: Final = ("demo-control", "demo-control-basic", "demo-control-fine", "demo-control-chalk")


@frozen
class _Kit:
    """The equipment of one job: its documents, and how much of it there is."""

    devices: dict[str, Document]
    cables: list[tuple[str, str]]
    control: Model
    ventilators: tuple[tuple[str, Model], ...]


def _models() -> dict[str, Model]:
    return dict(packaged_catalog("demo").models)


@st.composite
def _kits(draw: DrawFn) -> _Kit:
    models = _models()
    control = draw(st.sampled_from(_CONTROLS))
    chalk = control == "demo-control-chalk"
    devices: dict[str, Document] = {"control": {"model": control}}
    cables: list[tuple[str, str]] = []
    bus = ["control.system"]

    def attach(name: str, model: str) -> None:
        devices[name] = {"model": model}
        free = [port for port in bus if sum(port in cable for cable in cables) < _CABLES_ON_A_PORT]
        cables.append((draw(st.sampled_from(free)), f"{name}.system"))
        if "supply" in models[model].ports["system"].terminals.values():  # else what is beyond would have no supply
            bus.append(f"{name}.system")

    # the indoor unit feeds the system bus
    attach("furnace", "demo-air-handler" if chalk else draw(st.sampled_from(["demo-furnace", "demo-air-handler"])))
    if draw(st.booleans()):
        attach("heat pump", "demo-heat-pump")
    if not chalk and draw(st.integers(0, 4)) == 4:
        return _line_kit(draw, devices, cables, attach, models[control])
    chosen = [draw(st.sampled_from(_VENTILATORS))]
    if (models[control].ventilators or 0) > 1 and draw(st.booleans()):
        chosen.append(draw(st.sampled_from(_VENTILATORS)))
    names = ["ventilator", "upstairs"][: len(chosen)]
    pair = len(chosen) > 1 and draw(st.booleans())
    for index, (name, model) in enumerate(zip(names, chosen, strict=True)):
        devices[name] = {"model": model}
        if pair and index:
            cables.append(("ventilator.bus", f"{name}.bus"))
            continue
        bridge = _bridge(draw, chalk=chalk, pair=pair, first=index == 0)
        bridge_name = f"panel {index + 1}" if "panel" in bridge else f"module {index + 1}"
        attach(bridge_name, bridge)
        if bridge == "demo-zone-panel-fed":
            devices["transformer"] = {"model": "demo-transformer-40"}
            cables.append(("transformer.secondary", f"{bridge_name}.power"))
        cables.append((f"{bridge_name}.ventilator", f"{name}.bus"))
    found = tuple((name, models[model]) for name, model in zip(names, chosen, strict=True))
    return _Kit(devices, cables, models[control], found)


def _line_kit(
    draw: DrawFn,
    devices: dict[str, Document],
    cables: list[tuple[str, str]],
    attach: Callable[[str, str], None],
    control: Model,
) -> _Kit:
    """Add a module and one or two ventilators on a serial line: its two ends terminated, its shield earthed once."""
    attach("module 1", "demo-interface-line")
    names = ["ventilator", "upstairs"][: draw(st.integers(1, min(control.ventilators or 1, 2)))]
    ends = [f"{name}.bus" for name in names]
    cables += list(zip(["module 1.ventilator", *ends[:-1]], ends, strict=True))
    head: dict[str, Document] = {"address": 1, "termination": "120 ohm", "shield_earthed": True}
    if draw(st.booleans()):
        head["bias"] = "510 ohm"
    devices["module 1"] = {"model": "demo-interface-line", "ports": {"ventilator": head}}
    for number, name in enumerate(names):
        setting: dict[str, Document] = {"address": number + 2}
        if name == names[-1]:
            setting["termination"] = "120 ohm"
        devices[name] = {"model": _ON_A_LINE, "ports": {"bus": setting}}
    return _Kit(devices, cables, control, tuple((name, _models()[_ON_A_LINE]) for name in names))


def _bridge(draw: DrawFn, *, chalk: bool, pair: bool, first: bool) -> str:
    if chalk:
        return "demo-interface-chalk"
    if pair:
        return "demo-interface-pair"
    kinds = ["demo-interface", "demo-interface-dual", "demo-interface-pair"]
    return draw(st.sampled_from([*kinds, "demo-zone-panel", "demo-zone-panel-fed"] if first else kinds))


@st.composite
def _homes(draw: DrawFn, *, metric: bool) -> Home:
    area = draw(st.integers(45, 560) if metric else st.integers(480, 6000))
    return Home(area, draw(st.integers(0, 7)), metric=metric, tall=draw(st.booleans()))


@st.composite
def _calendars(draw: DrawFn, modes: Sequence[str]) -> dict[str, Document]:
    """Draw a calendar that covers every day and in which every mode comes up."""
    keys = draw(st.sampled_from([["every-day"], ["weekdays", "weekend"], ["weekdays", "saturday", "sunday"]]))
    calendar: dict[str, Document] = {}
    for index, key in enumerate(keys):
        times = sorted(draw(st.sets(st.integers(0, 95), min_size=len(modes), max_size=len(modes) + 2)))
        first = list(draw(st.permutations(modes)))
        names = first + [draw(st.sampled_from(modes)) for _ in range(len(times) - len(first))]
        if index:
            names = [draw(st.sampled_from(modes)) for _ in times]
        calendar[key] = {
            f"{quarter // 4:02d}:{quarter % 4 * 15:02d}": mode for quarter, mode in zip(times, names, strict=True)
        }
    return calendar


@st.composite
def _programs(draw: DrawFn, kit: _Kit, asked: Asked, occupancies: dict[str, str]) -> dict[str, dict[str, Document]]:
    """Draw every ventilator's programs: off where nothing is asked while nobody is at home, else enough."""
    programs: dict[str, dict[str, Document]] = {name: {} for name, _model in kit.ventilators}
    choices = {kind: _enough(kit, asked, Occupancy(kind)) for kind in sorted(set(occupancies.values()))}
    for mode, occupancy in occupancies.items():
        for name, _model in kit.ventilators:
            programs[name][mode] = {}
        for season in ("heating", "cooling"):
            together = draw(st.sampled_from(choices[occupancy]))
            for (name, _model), program in zip(kit.ventilators, together, strict=True):
                by_season = programs[name][mode]
                if isinstance(by_season, dict):
                    by_season[season] = {**program}
    return programs


_Together: TypeAlias = tuple[dict[str, Document], ...]
"""The programs of all ventilators in one mode and season."""


def _enough(kit: _Kit, asked: Asked, occupancy: Occupancy) -> list[_Together]:
    """Return all that can be drawn: one ventilator that is enough by itself, or, where none is, all that there is."""
    nothing: _Together = tuple({} for _ventilator in kit.ventilators)
    grid = kit.control.programs
    if grid is None or asked.off_in(occupancy):
        return [nothing]
    steps = round(grid.cycle.s / grid.step.s)
    alone: list[_Together] = []
    for index, flows in enumerate(asked.flows):
        for counts in _counts(sorted(flows), steps, pairs=grid.stages_per_cycle > 1):
            runs = [(flows[stage], count * grid.step.s) for stage, count in counts.items()]
            if asked.met_by(occupancy, runs, grid.cycle.s):
                program: dict[str, Document] = {s: _minutes(count * grid.step.s) for s, count in counts.items()}
                alone.append((*nothing[:index], program, *nothing[index + 1 :]))
    whole = _minutes(grid.cycle.s)
    return alone or [tuple({max(sorted(f), key=f.__getitem__): whole} if f else {} for f in asked.flows)]


def _counts(stages: Sequence[str], steps: int, *, pairs: bool) -> Iterator[dict[str, int]]:
    """Yield programs in steps: each stage for each time, and two stages that fill the cycle."""
    for stage in stages:
        for count in range(1, steps + 1):
            yield {stage: count}
    for first, second in combinations(stages, 2) if pairs else ():
        for count in sorted({1, steps // 2, steps - 1}):
            yield {first: count, second: steps - count}


def _minutes(seconds: float) -> str:
    return str(Duration.shown(seconds, "min"))


@st.composite
def _settings(draw: DrawFn, model: Model, programs: dict[str, Document], *, metric: bool) -> dict[str, Document]:
    interval = model.filter_interval
    least, most = (round(interval.least.s / 86400), round(interval.most.s / 86400)) if interval else (60, 180)
    settings: dict[str, Document] = {"filter_reminder": f"{draw(st.integers(least, most))} days"}
    if draw(st.booleans()):
        settings["outdoor_limits"] = (
            {"off_at_or_below": "-15 degC", "off_at_or_above": "40 degC"}
            if metric
            else {"off_at_or_below": "5 degF", "off_at_or_above": "104 degF"}
        )
    settings["programs"] = programs
    return settings


@st.composite
def job_documents(draw: DrawFn) -> dict[str, Document]:
    """Strategy for the documents of sound jobs: no rule has an error or a warning to report about them.

    The smallest is one ERV behind an interface module, in one occupied mode, with a target of its own.
    """
    metric = draw(st.booleans())
    kit = draw(_kits())
    asked = draw(targets([model for _name, model in kit.ventilators], draw(_homes(metric=metric))))
    modes = draw(st.lists(st.sampled_from(MODES), min_size=1, max_size=4, unique=True))
    kinds = ["occupied", *(draw(st.sampled_from(["occupied", "standby", "unoccupied"])) for _ in modes[1:])]
    occupancies = dict(zip(modes, kinds, strict=True))
    programs = draw(_programs(kit, asked, occupancies))
    settings: dict[str, Document] = {
        name: draw(_settings(model, programs[name], metric=metric)) for name, model in kit.ventilators
    }
    gauge, length = ("0.82 mm2", "9 m") if metric else ("18 AWG", "30 ft")
    cables: list[Document] = [{"from": start, "to": end, "gauge": gauge, "length": length} for start, end in kit.cables]
    document: dict[str, Document] = {
        "ventrules": 1,
        "job": "Quarry Lane 1",
        "catalogs": ["demo"],
        "dwelling": _dwelling(kit, asked),
        "target": asked.target,
        "devices": kit.devices,
        "cables": cables,
        "modes": {**occupancies},
        "calendar": draw(_calendars(modes)),
        "settings": settings,
    }
    place = site(metric=metric, shielding="leakage" in asked.dwelling, weather=draw(st.booleans()))
    if place:
        document["site"] = place
    return document


def _dwelling(kit: _Kit, asked: Asked) -> dict[str, Document]:
    """Return the dwelling, with the ventilators that its rooms give by number called by their names."""
    names = {f"#{number}": name for number, (name, _model) in enumerate(kit.ventilators)}
    rooms = asked.dwelling.get("rooms")
    if isinstance(rooms, dict):
        for room in rooms.values():
            if isinstance(room, dict) and "exhaust_by" in room:
                room["exhaust_by"] = names[str(room["exhaust_by"])]
    return asked.dwelling


def jobs() -> SearchStrategy[Job]:
    """Strategy for sound jobs; see `job_documents`."""
    return job_documents().map(job_from_document)
