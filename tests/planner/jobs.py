"""Strategies for jobs to plan: small grids, every packaged code, dwellings that fit and dwellings that are too big."""

import math
from collections.abc import Sequence
from typing import Any, Final, NamedTuple

import attrs
from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from ventrules.files import job_from_document, load_code, packaged_catalog
from ventrules.files.resources import code_names
from ventrules.job import Counts, Job, Model, ProgramGrid
from ventrules.testing import targets
from ventrules.units import Period

OWN: Final = "own"
MODELS: Final = (
    "demo-erv-70",
    "demo-erv-130",
    "demo-erv-200",
    "demo-erv-single",
    "demo-hrv-100",
    "demo-hrv-120-metric",
    "demo-erv-110-plain",
    "demo-hrv-140-cold",
)
_GRIDS: Final = (
    (60, 60, 1),
    (60, 30, 1),
    (60, 20, 1),
    (60, 30, 2),
    (90, 30, 1),
    (120, 40, 1),
    (60, 20, 2),
    (60, 15, 1),
    (50, 20, 2),
    (60, 15, 2),
    (60, 10, 1),
    (60, 10, 2),
)
_KINDS: Final = ("occupied", "standby", "unoccupied")
_MODES: Final = ("day", "night", "out")
_CATALOG: Final = packaged_catalog("demo")


class Case(NamedTuple):
    """A job to plan.

    Attributes:
        document: The job.
        cycle_min: Cycle of its controller, minutes.
        step_min: Step of the times, minutes.
        stages: Stages that fit into a cycle.
        hold: Modes that stay as they are.
    """

    document: dict[str, Any]
    cycle_min: float = 60.0
    step_min: float = 60.0
    stages: int = 1
    hold: tuple[str, ...] = ()

    @property
    def job(self) -> Job:
        """The job, with a controller of that grid."""
        return on_grid(job_from_document(self.document), self.grid)

    @property
    def grid(self) -> ProgramGrid:
        """What its controller can be set to."""
        return ProgramGrid(Period.of(self.cycle_min, "min"), Period.of(self.step_min, "min"), self.stages)


def codes_of(kind: str) -> list[str]:
    """Return the packaged codes of a kind, in the words of their files."""
    return [name for name in code_names() if load_code(name).kind.value == kind]


def document(models: Sequence[str], modes: dict[str, str], **parts: Any) -> dict[str, Any]:
    """Return a job of so many ventilators, each behind a module of its own, without programs."""
    names = ["ventilator", "upstairs", "attic"][: len(models)]
    devices: dict[str, Any] = {"control": {"model": "demo-control-fine"}, "furnace": {"model": "demo-furnace"}}
    run = {"gauge": "18 AWG", "length": "30 ft"}
    cables = [{"from": "control.system", "to": "furnace.system", **run}]
    for name, model in zip(names, models, strict=True):
        devices |= {f"module of {name}": {"model": "demo-interface"}, name: {"model": model}}
        cables.append({"from": "control.system", "to": f"module of {name}.system", **run})
        cables.append({"from": f"module of {name}.ventilator", "to": f"{name}.bus", **run})
    return {
        "ventrules": 1,
        "job": "Quarry Lane 12",
        "catalogs": ["demo"],
        "dwelling": {"floor_area": "1500 ft2", "bedrooms": 2, "ceiling_height": "8 ft"},
        "target": {"airflow": "50 cfm", "window": "4 h"},
        "devices": devices,
        "cables": cables,
        "modes": modes,
        "calendar": {"every-day": {"00:00": next(iter(modes))}},
        "settings": {name: {"filter_reminder": "90 days", "programs": {}} for name in names},
        **parts,
    }


def on_grid(job: Job, grid: ProgramGrid) -> Job:
    """Return a job whose controllers can be set to another grid."""
    models = {
        name: attrs.evolve(model, programs=grid) if model.programs is not None else model
        for name, model in job.catalog.models.items()
    }
    return attrs.evolve(job, catalog=attrs.evolve(job.catalog, models=models))


def count(stages: int, steps: int, most: int) -> int:
    """Return how many programs a grid has: stages chosen, times their steps as a part of the cycle or all of it."""
    return sum(math.comb(stages, used) * math.comb(steps, used) for used in range(min(stages, most) + 1))


@st.composite
def _calendars(draw: DrawFn, modes: Sequence[str]) -> dict[str, Any] | None:
    """Draw a calendar: of one mode alone, of hours in each, of short stretches, or none at all."""
    kind = draw(st.sampled_from(["hours", "hours", "short", "short", "some", "none"]))
    if kind == "none":
        return None
    if kind == "some":
        return (
            {"every-day": {"00:00": modes[0], "12:00": modes[-1]}}
            if len(modes) > 2
            else {"saturday": {"06:00": modes[0]}}
        )
    calendar: dict[str, Any] = {}
    for key in draw(st.sampled_from([["every-day"], ["weekdays", "weekend"]])):
        if kind == "hours":
            at = sorted(draw(st.sets(st.integers(0, 23), min_size=len(modes), max_size=len(modes) + 1)))
            minutes = [hour * 60 for hour in at]
        else:
            first, length = draw(st.integers(0, 20)), draw(st.sampled_from([30, 60, 90, 150]))
            minutes = [(first * 60 + length * number) % 1440 for number in range(2 * len(modes))]
        named = [modes[number % len(modes)] for number in range(len(minutes))]
        calendar[key] = {f"{at // 60:02d}:{at % 60:02d}": mode for at, mode in sorted(zip(minutes, named, strict=True))}
    return calendar


@st.composite
def _asked(
    draw: DrawFn, name: str, models: Sequence[Model], *, doubtful: bool
) -> tuple[dict[str, Any], dict[str, Any], bool]:
    """Draw a target and a dwelling: one that the equipment can serve in four of five; and whether it was tested."""
    home = targets.Home(draw(st.integers(480, 4000)), draw(st.integers(0, 4)), metric=False, tall=True)
    too_much = draw(st.integers(0, 4)) == 4
    if name == OWN:
        counts = draw(st.sampled_from(sorted(Counts)))
        most = sum(max(targets.counted(model, stage, counts) for stage in model.stages) for model in models)
        share = draw(st.floats(1.02, 2.0) if too_much else st.floats(0.1, 1.0))
        own = {"airflow": f"{most * share * 1000:.1f} L/s", "counts": counts.value}
        return {**own, "window": draw(st.sampled_from(["1 h", "3 h", "4 h", "24 h"]))}, home.document(), False
    code = load_code(name)
    route = draw(st.sampled_from([None, *sorted(code.routes)]))
    claims = tuple(sorted(code.credits)) if len(code.credits) > 0 and (doubtful or draw(st.booleans())) else ()
    tested = code.infiltration is not None and (doubtful or draw(st.booleans()))
    home = attrs.evolve(
        home,
        rooms=targets.needs_rooms(code),
        occupants=draw(st.none() | st.integers(1, 5)),
        leakage=draw(st.sampled_from([1.0, 3.0])) if tested else None,
    )
    found = targets.under(code, models, home.smaller(), route, claims)
    if found is None:
        return {"code": name}, home.document(), tested
    dwelling: dict[str, Any] = found.dwelling
    if too_much:
        dwelling["floor_area"] = (
            f"{float(str(dwelling['floor_area']).removesuffix(' ft2')) * draw(st.integers(2, 5))} ft2"
        )
    return found.target, dwelling, tested


@st.composite
def _served(draw: DrawFn, name: str, dwelling: dict[str, Any]) -> None:
    """Draw a room of which the first ventilator is the local exhaust, where a code has figures for such rooms."""
    lines = load_code(name).local_exhaust
    if len(lines) > 0:
        kind = draw(st.sampled_from(sorted({room.value for line in lines for room in line.rooms})))
        served = {"kind": kind, "exhaust_by": "ventilator", "area": "80 ft2"}
        dwelling["rooms"] = {**dwelling.get("rooms", {}), "served": served}


@st.composite
def _readings(draw: DrawFn, names: Sequence[str], models: Sequence[Model], seldom: int) -> dict[str, Any]:
    """Draw what was measured at some stages: a little less than rated, and out of balance at times."""
    found: dict[str, Any] = {}
    for name, model in zip(names, models, strict=True):
        for stage, rated in sorted(model.stages.items()):
            if draw(st.integers(0, 3)) >= seldom:
                supply = rated.supply.m3s * draw(st.sampled_from([0.8, 0.95, 1.0]))
                exhaust = supply * draw(st.sampled_from([1.0, 1.02, 0.75, 1.3]))
                readings = {"supply": f"{supply * 1000:.2f} L/s", "exhaust": f"{exhaust * 1000:.2f} L/s"}
                found.setdefault(name, {})[stage] = readings
    return found


@st.composite
def _held(draw: DrawFn, model: Model, cycle_min: float, step_min: float) -> dict[str, str]:
    """Draw a program that stays: off, or one stage for the whole cycle or a part of it."""
    stage = draw(st.sampled_from(sorted(model.stages, key=lambda name: -model.stages[name].supply.m3s)))
    whole = int(cycle_min // step_min)
    steps = draw(st.sampled_from([whole, whole, 0, max(whole // 2, 1)]))
    return {stage: f"{steps * step_min:g} min"} if steps else {}


@st.composite
def cases(
    draw: DrawFn, name: str, *, most: int, grids: Sequence[tuple[float, float, int]] = _GRIDS, doubtful: bool = False
) -> Case:
    """Strategy for jobs under a code, or with a target of their own, that have no more settings than so many.

    Args:
        draw: Draws.
        name: The code, or `OWN`.
        most: The most settings, all ventilators and modes together.
        grids: Cycle and step, minutes, and stages in a cycle, of which one is drawn; the first has fewest programs.
        doubtful: True for what balance can decide: credits claimed, a tested dwelling, stages out of balance.
    """
    models = [draw(st.sampled_from(MODELS)) for _unit in range(draw(st.sampled_from([1, 1, 2])))]
    kinds = [
        # the highest of several levels counts only for people who are there
        _KINDS[0] if name in codes_of("levels") else draw(st.sampled_from(_KINDS[:2])),
        *(draw(st.sampled_from(_KINDS)) for _mode in range(draw(st.integers(0, 2)))),
    ]
    modes = dict(zip(draw(st.permutations(_MODES)), kinds, strict=False))
    hold = tuple(sorted(draw(st.sets(st.sampled_from(sorted(modes)), max_size=1)))) if len(modes) > 1 else ()
    stages = [len(_CATALOG.models[model].stages) for model in models]

    def size(grid: tuple[float, float, int]) -> int:
        each = math.prod(count(number, int(grid[0] // grid[1]), grid[2]) for number in stages)
        return int(each ** (len(modes) - len(hold)))

    while size(grids[0]) > most:
        dropped = next(mode for mode in reversed(modes) if mode not in hold)
        modes.pop(dropped)
    chosen = draw(st.sampled_from([grid for grid in grids if size(grid) <= most]))
    rated = [_CATALOG.models[model] for model in models]
    target, dwelling, tested = draw(_asked(name, rated, doubtful=doubtful))
    if name != OWN and not hold and draw(st.booleans()):
        draw(_served(name, dwelling))
    parts: dict[str, Any] = {"target": target, "dwelling": dwelling}
    if tested:
        parts["site"] = {"weather_shielding": 0.5}
    made = document(models, modes, **parts)
    names = list(made["settings"])
    calendar = draw(_calendars(list(modes)))
    made.pop("calendar")
    if calendar is not None:
        made["calendar"] = calendar
    if doubtful or draw(st.booleans()):
        made["readings"] = draw(_readings(names, rated, 1 if doubtful else 3))
    for unit, model in zip(names, rated, strict=True):
        for mode in hold:
            made["settings"][unit]["programs"][mode] = dict.fromkeys(
                ("heating", "cooling"), draw(_held(model, *chosen[:2]))
            )
    return Case(made, *chosen, hold)
