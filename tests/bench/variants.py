"""Jobs for the benchmarks, no two alike: what a cache remembers of one says little about the next."""

import json
from collections.abc import Callable, Iterator, Mapping
from itertools import count
from typing import Final

from ventrules.engine.findings import Document

_ROOMS: Final = ("attic", "basement", "closet", "garage", "hall", "loft", "office", "porch", "study", "utility")
_SYSTEMS: Final = 10  # of six devices each, in a large job


def small(number: int, *, faulty: bool) -> dict[str, Document]:
    """Return a job of two devices: a furnace whose fan a ventilator calls by a contact."""
    unit = f"{_ROOMS[number % 10]} hrv"
    reminder = 400 if faulty else 60 + number % 120
    return {
        **_head(number, {"airflow": f"{25 + number % 30} cfm", "window": "4 h"}),
        "devices": {"furnace": {"model": "demo-furnace-contact"}, unit: {"model": "demo-hrv-contact"}},
        "cables": [_cable("furnace.calls", f"{unit}.switch", number)],
        "modes": {"day": "occupied"},
        "calendar": {"every-day": {"00:00": "day"}},
        "settings": {unit: {"filter_reminder": f"{reminder} days"}},
    }


def typical(number: int, *, faulty: bool) -> dict[str, Document]:
    """Return a job of six devices: one system with an ERV behind an interface module."""
    return _systems(number, 1, faulty=faulty, target={"code": "us-irc-2018"})


def large(number: int, *, faulty: bool) -> dict[str, Document]:
    """Return a job of sixty devices: ten such systems."""
    target: dict[str, Document] = {"airflow": f"{540 + number % 55} cfm", "window": "4 h"}
    return _systems(number, _SYSTEMS, faulty=faulty, target=target)


Size = Callable[..., dict[str, Document]]
SIZES: Final[Mapping[str, Size]] = {"small": small, "typical": typical, "large": large}
"""Makers of a job by its number."""


def texts(size: Size, *, faulty: bool, start: int = 0) -> Iterator[str]:
    """Yield the texts of ever other jobs, as JSON."""
    for number in count(start):
        yield json.dumps(size(number, faulty=faulty))


def _head(number: int, target: dict[str, Document]) -> dict[str, Document]:
    return {
        "ventrules": 1,
        "job": f"Quarry Lane {number}",
        "catalogs": ["demo"],
        "dwelling": {
            "floor_area": f"{2110 + number * 7 % 290} ft2",
            "bedrooms": 3,
            "ceiling_height": f"{8 + number % 4 / 2} ft",
        },
        "site": {"winter_design": f"{5 + number % 15} degF", "summer_design": f"{85 + number % 10} degF"},
        "target": target,
    }


def _cable(start: str, end: str, number: int) -> Document:
    return {"from": start, "to": end, "gauge": "18 AWG", "length": f"{4 + number * 3 % 37} ft"}


def _systems(number: int, systems: int, *, faulty: bool, target: dict[str, Document]) -> dict[str, Document]:
    devices: dict[str, Document] = {}
    cables: list[Document] = []
    settings: dict[str, Document] = {}
    for system in range(systems):
        turn = number + system * 11
        room = f"{_ROOMS[turn % 10]} {system + 1}"
        control, furnace, pump, zones, module, unit = (
            f"{room} {what}" for what in ("control", "furnace", "heat pump", "zones", "module", "erv")
        )
        models = ("control", "furnace", "heat-pump", "zone-panel-plain", "interface", "erv-130")
        names = (control, furnace, pump, zones, module, unit)
        devices |= {name: {"model": f"demo-{model}"} for name, model in zip(names, models, strict=True)}
        cables += [
            _cable(f"{control}.system", f"{furnace}.system", turn),
            *(_cable(f"{furnace}.system", f"{name}.system", turn + 5) for name in (pump, zones, module)),
        ]
        if not (faulty and turn % 4 == 0):
            cables.append(_cable(f"{module}.ventilator", f"{unit}.bus", turn + 9))
        settings[unit] = _settings(turn, faulty=faulty)
    return {
        **_head(number, target),
        "devices": devices,
        "cables": cables,
        "modes": {"day": "occupied", "night": "occupied", "out": "unoccupied"},
        "calendar": {
            "weekdays": {
                f"06:{number % 60:02d}": "day",
                f"08:{number * 7 % 60:02d}": "out",
                "17:00": "day",
                f"22:{number * 3 % 60:02d}": "night",
            },
            "weekend": {f"07:{number % 60:02d}": "day", "23:00": "night"},
        },
        "settings": settings,
    }


def _settings(turn: int, *, faulty: bool) -> Document:
    low = f"{30 + turn % 3 * 5} min" if faulty and turn % 4 == 1 else "60 min"
    always: dict[str, Document] = {"heating": {"low": low}, "cooling": {"low": low}}
    limits: Document = {"off_at_or_below": f"{turn % 5 - 5} degF", "off_at_or_above": f"{100 + turn % 5} degF"}
    if faulty and turn % 4 == 2:
        limits = {"off_at_or_below": "60 degF", "off_at_or_above": f"{40 + turn % 5} degF"}
    return {
        "filter_reminder": "400 days" if faulty and turn % 4 == 3 else f"{60 + turn % 60} days",
        "outdoor_limits": limits,
        "programs": {"day": always, "night": always, "out": always},
    }
