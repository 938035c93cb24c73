"""Hypothesis strategies for sound jobs, built sound: nothing is drawn and thrown away.

Equipment comes first, then a target that it can meet, then programs that meet it. What meets a target is
worked out here by plain arithmetic and not by the planner, so that the two can disagree.
"""

from collections.abc import Sequence
from typing import Final

from attrs import frozen
from hypothesis import strategies as st
from hypothesis.strategies import DrawFn, SearchStrategy

from ventrules.codes import Code, equation_rate, run_time_factor, table_rate
from ventrules.engine.findings import Document
from ventrules.files import job_from_document, load_code, packaged_catalog
from ventrules.job import Dwelling, Job, Model
from ventrules.units import Airflow, Area, Duration, Temperature

CODES: Final = ("us-irc-2015", "us-irc-2018", "us-irc-2021", "us-irc-2024")
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
_CONTROLS: Final = ("demo-control", "demo-control-basic", "demo-control-fine", "demo-control-chalk")
_SHARE: Final = 0.9  # a drawn target stays a little below what the equipment can give


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
        cables.append((draw(st.sampled_from(bus)), f"{name}.system"))
        bus.append(f"{name}.system")

    if draw(st.booleans()):
        attach("furnace", "demo-air-handler" if chalk else draw(st.sampled_from(["demo-furnace", "demo-air-handler"])))
    if draw(st.booleans()):
        attach("heat pump", "demo-heat-pump")
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
        cables.append((f"{bridge_name}.ventilator", f"{name}.bus"))
    found = tuple((name, models[model]) for name, model in zip(names, chosen, strict=True))
    return _Kit(devices, cables, models[control], found)


def _bridge(draw: DrawFn, *, chalk: bool, pair: bool, first: bool) -> str:
    if chalk:
        return "demo-interface-chalk"
    if pair:
        return "demo-interface-pair"
    kinds = ["demo-interface", "demo-interface-dual", "demo-interface-pair"]
    return draw(st.sampled_from([*kinds, "demo-zone-panel"] if first else kinds))


@st.composite
def _dwellings(draw: DrawFn, *, metric: bool) -> dict[str, Document]:
    area = f"{draw(st.integers(45, 560))} m2" if metric else f"{draw(st.integers(480, 6000))} ft2"
    dwelling: dict[str, Document] = {"floor_area": area, "bedrooms": draw(st.integers(0, 7))}
    if draw(st.booleans()):
        dwelling["ceiling_height"] = "2.4 m" if metric else "8 ft"
    return dwelling


def _counted(model: Model, stage: str, *, mean: bool) -> float:
    flow = model.stages[stage]
    net = flow.supply.m3s * (1.0 - model.exhaust_air_transfer)
    return (net + flow.exhaust.m3s) / 2.0 if mean else net


@frozen
class _Asked:
    """A target, and what a single-stage program has to reach for it."""

    document: dict[str, Document]
    code: Code | None
    steady_m3s: float
    cycled_m3s: float
    mean: bool

    def met_by(self, airflow_m3s: float, share: float) -> bool:
        """Say whether a stage that runs for a share of every cycle meets the target by itself."""
        if self.code is None or self.code.run_time is None:
            return airflow_m3s * share >= self.steady_m3s * (1.0 + 1e-6)
        factor = run_time_factor(self.code.run_time, share)
        asked = self.steady_m3s if share >= 1.0 else self.cycled_m3s
        return factor is not None and airflow_m3s >= factor * asked * (1.0 + 1e-6)


@st.composite
def _targets(draw: DrawFn, kit: _Kit, dwelling: dict[str, Document], *, metric: bool) -> _Asked:
    name = draw(st.sampled_from([None, *CODES]))
    most = min(
        sum(max(_counted(model, stage, mean=mean) for stage in model.stages) for _name, model in kit.ventilators)
        for mean in (False, True)
    )
    if name is not None:
        asked = _by_code(draw, load_code(name), dwelling)
        if max(asked.steady_m3s, asked.cycled_m3s) <= most * _SHARE:
            return asked
    share = draw(st.floats(0.15, _SHARE))
    unit = draw(st.sampled_from(["L/s", "m3/h"] if metric else ["cfm"]))
    airflow = Airflow.parse(f"{Airflow.shown(most * share, unit).to(unit):.1f} {unit}")
    cycle_h = kit.control.programs.cycle.s / 3600.0 if kit.control.programs else 1.0
    window_h = draw(st.sampled_from([2, 4, 24])) if cycle_h > 1.0 else draw(st.sampled_from([1, 2, 3, 4, 24]))
    document: dict[str, Document] = {"airflow": str(airflow), "window": f"{window_h} h"}
    return _Asked(document, None, airflow.m3s, airflow.m3s, mean=False)


def _by_code(draw: DrawFn, code: Code, dwelling: dict[str, Document]) -> _Asked:
    home = Dwelling(Area.parse(str(dwelling["floor_area"])), int(str(dwelling["bedrooms"])))
    routes = {}
    if code.rate.table is not None:
        routes["table"] = table_rate(code.rate.table, home)
    if code.rate.equation is not None:
        routes["equation"] = equation_rate(code.rate.equation, home)
    route = draw(st.sampled_from([None, *sorted(routes)]))
    rate = routes[route] if route is not None else min(routes.values())
    if code.run_time is not None and code.run_time.route is not None:
        rate = max(rate, routes["table"])  # modes that never stop and modes that do can share a segment
    cycled = rate
    document: dict[str, Document] = {"code": code.code}
    if route is not None:
        document["route"] = route
    factor = 1.0
    if len(code.credits) > 0 and draw(st.booleans()):
        document["credits"] = [*sorted(code.credits)]
        factor = next(iter(code.credits.values())).factor
    return _Asked(document, code, rate * factor, cycled * factor, mean=code.counts.value == "mean")


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
def _programs(draw: DrawFn, kit: _Kit, asked: _Asked, occupancies: dict[str, str]) -> dict[str, dict[str, Document]]:
    """Draw every ventilator's programs: off when nobody is at home, else enough."""
    programs: dict[str, dict[str, Document]] = {name: {} for name, _model in kit.ventilators}
    for mode, occupancy in occupancies.items():
        for name, _model in kit.ventilators:
            programs[name][mode] = {}
        for season in ("heating", "cooling"):
            together = [{} for _ in kit.ventilators] if occupancy == "unoccupied" else _enough(draw, kit, asked)
            for (name, _model), program in zip(kit.ventilators, together, strict=True):
                by_season = programs[name][mode]
                if isinstance(by_season, dict):
                    by_season[season] = program
    return programs


def _enough(draw: DrawFn, kit: _Kit, asked: _Asked) -> list[dict[str, Document]]:
    grid = kit.control.programs
    if grid is None:
        return [{} for _ in kit.ventilators]
    steps = round(grid.cycle.s / grid.step.s)
    alone = [
        (index, stage, count)
        for index, (_name, model) in enumerate(kit.ventilators)
        for stage in sorted(model.stages)
        for count in range(1, steps + 1)
        if asked.met_by(_counted(model, stage, mean=asked.mean), count / steps)
    ]
    if not alone:  # both at their highest stage, all of the time
        return [{_highest(model, mean=asked.mean): _minutes(grid.cycle.s)} for _name, model in kit.ventilators]
    index, stage, count = draw(st.sampled_from(alone))
    programs: list[dict[str, Document]] = [{} for _ in kit.ventilators]
    programs[index] = {stage: _minutes(count * grid.step.s)}
    return programs


def _highest(model: Model, *, mean: bool) -> str:
    return max(sorted(model.stages), key=lambda stage: _counted(model, stage, mean=mean))


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
    dwelling = draw(_dwellings(metric=metric))
    asked = draw(_targets(kit, dwelling, metric=metric))
    modes = draw(st.lists(st.sampled_from(MODES), min_size=1, max_size=4, unique=True))
    kinds = ["occupied", *(draw(st.sampled_from(["occupied", "standby", "unoccupied"])) for _ in modes[1:])]
    occupancies = dict(zip(modes, kinds, strict=True))
    programs = draw(_programs(kit, asked, occupancies))
    settings: dict[str, Document] = {
        name: draw(_settings(model, programs[name], metric=metric)) for name, model in kit.ventilators
    }
    gauge, length = ("0.82 mm2", "9 m") if metric else ("18 AWG", "30 ft")
    cables: list[Document] = [
        {"from": start, "to": end, **({"gauge": gauge, "length": length} if draw(st.booleans()) else {})}
        for start, end in kit.cables
    ]
    document: dict[str, Document] = {
        "ventrules": 1,
        "job": "Quarry Lane 1",
        "catalogs": ["demo"],
        "dwelling": dwelling,
        "target": asked.document,
        "devices": kit.devices,
        "cables": cables,
        "modes": {**occupancies},
        "calendar": draw(_calendars(modes)),
        "settings": settings,
    }
    if draw(st.booleans()):
        document["site"] = _site(metric=metric)
    return document


def _site(*, metric: bool) -> dict[str, Document]:
    unit = "degC" if metric else "degF"
    winter, summer = Temperature.of(14.0, "degF"), Temperature.of(95.0, "degF")
    return {
        "winter_design": f"{winter.to(unit):.0f} {unit}",
        "summer_design": f"{summer.to(unit):.0f} {unit}",
    }


def jobs() -> SearchStrategy[Job]:
    """Strategy for sound jobs; see `job_documents`."""
    return job_documents().map(job_from_document)
