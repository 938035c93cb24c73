"""Tables of the keys of job, catalog and code files, made from the classes that hold them."""

import inspect
import re
import types
from collections.abc import Iterator, Mapping
from datetime import date
from enum import StrEnum
from typing import Any, Final, Union, get_args, get_origin, get_type_hints

import attrs

from ventrules.codes import (
    Balanced,
    Code,
    Equation,
    Infiltration,
    LeakageForm,
    Rate,
    RunTime,
    Window,
)
from ventrules.files.shapes import written_keys
from ventrules.job import (
    Addresses,
    AirflowAccuracy,
    BusProfile,
    Cable,
    Calendar,
    Catalog,
    Conductor,
    ConductorRole,
    Conductors,
    Device,
    Dwelling,
    IndicatorState,
    Job,
    Model,
    Port,
    PortSetting,
    Program,
    Room,
    Shown,
    Site,
    Target,
    VentilatorSettings,
    VoltageAccuracy,
)
from ventrules.outputs.markdown import code, table
from ventrules.sources import Basis
from ventrules.units import Factor, Quantity
from ventrules.words import listed

_ATTRIBUTE: Final = re.compile(r"^    (\w+): (.+(?:\n        .+)*)", re.MULTILINE)

# What the docstrings of the classes do not say, or say too shortly for somebody who writes a file.
NOTES: Final[Mapping[type, Mapping[str, str]]] = {
    Job: {
        "title": "The job's name, as reports show it.",
        "catalogs": "Packaged catalogs by name, or paths relative to this file; see [Catalogs](#catalogs).",
        "target": "The airflow asked for: by a code, or the project's own; see [The target](#the-target).",
        "devices": "What is installed, under names of your own; see [Names](#names).",
        "cables": "Every cable.",
        "modes": "Names of your own for parts of the week, each with its occupancy.",
        "calendar": "Which mode is on when; see [Calendar](#calendar).",
        "settings": "Ventilator to what the controller is set to for it.",
        "readings": "Ventilator to stage to what was measured on site; beats the catalog.",
        "voltages": "`device.port` to the voltage measured between its supply and common terminals.",
        "indicators": "Device to indicator to the state that was seen.",
        "instruments": "Accuracy of the instruments; left out: [common practice](codes.md#common-practice).",
        "site": "The place: design temperatures, climate zone, weather and shielding.",
        "notes": "Free text. No rule reads it.",
    },
    Dwelling: {
        "floor_area": "Conditioned floor area. Written in `m2`, it makes reports show L/s and degC.",
        "bedrooms": "Number of bedrooms.",
        "ceiling_height": "Average ceiling height; it gives the volume where that is left out.",
        "volume": "Conditioned volume: for relative exposure, and for leakage given in air changes.",
        "occupants": "People who live there; left out, codes that ask for them take one more than bedrooms.",
        "main_rooms": "Number of habitable rooms; left out, they are counted from `rooms`.",
        "distributed": (
            "`true` when outdoor air is supplied to every habitable room, and kitchens and bathrooms are exhausted."
        ),
        "leakage": "Its blower-door test; see [Leakage](#leakage).",
        "rooms": "Room name to room, for codes that ask by rooms or for local exhaust; see [Rooms](#rooms).",
    },
    Target: {
        "code": "Name of a [code](codes.md), or path of a code file of your own. Then no `airflow`, no `window`.",
        "route": "Which of the code's ways to the rate is taken; left out, the one that asks for less.",
        "credits": "Reductions of the code that the project claims, by name.",
        "counts": "The airflow that was counted. A code has its own; for the project's own target it is a choice.",
        "airflow": "The project's own target; needs `window`.",
        "window": "The time over which the project's own target is averaged.",
    },
    Site: {
        "weather_shielding": "Weather and shielding factor (wsf), for codes that credit infiltration.",
        "weather_station": "WMO number of the [station](#weather-stations) whose factor is used instead.",
    },
    Device: {
        "model": "Name of a model in one of the job's catalogs.",
        "ports": "Port name to how it is set up on site; see [Ports on site](#ports-on-site).",
    },
    Cable: {
        "start": "One end, written `device.port`.",
        "end": "The other end, written `device.port`.",
        "gauge": "Conductor size.",
        "length": "One-way length.",
        "stranded": "`true` for stranded conductors; left out: solid.",
        "temperature": "Temperature of the conductors; left out: [common practice](codes.md#common-practice).",
        "beside_mains": "`true` where it shares a cable, raceway, box or path with mains conductors.",
        "conductors": "What joins what; left out: straight through, by the terminals' names. See [Cables](#cables).",
    },
    Conductor: {
        "start": "Terminal at the cable's `from`; left out where it is on none.",
        "end": "Terminal at the cable's `to`; left out where it is on none.",
        "color": "Its color, free text.",
    },
    VentilatorSettings: {
        "filter_reminder": "Interval of the filter reminder.",
        "outdoor_limits": "Outdoor temperatures at or beyond which the controller turns ventilation off.",
        "cycle": "The cycle that the programs are written for; left out: the controller's own.",
        "programs": "Mode to season to [program](#program).",
    },
    Addresses: {
        "lowest": "The lowest address.",
        "highest": "The highest address; at least `lowest`.",
        "basis": "Where they come from; none: the catalog itself.",
    },
    PortSetting: {"shield_earthed": "`true` where the shield is joined to earth."},
    AirflowAccuracy: {
        "of_reading": "Part of the reading; it counts where it is more than `at_least`.",
        "at_least": "A fixed airflow.",
    },
    VoltageAccuracy: {"of_reading": "Part of the reading.", "plus": "A fixed voltage, added to it."},
    Catalog: {
        "name": "The catalog's own name, for people.",
        "models": "Model name to its description. Names must differ from those of a job's other catalogs.",
        "note": "Free text.",
    },
    Model: {
        "role": "What the device is.",
        "title": "A line for people.",
        "ports": "Port name to port.",
        "ventilators": "How many ventilators a controller, interface module or zone panel can serve; none: no limit.",
        "programs": "What a controller can be set to. A controller needs it.",
        "kind": "HRV or ERV. Another ventilator that is offered is of the same kind where one fits.",
        "stages": "Stage name to airflow. A ventilator needs at least one.",
        "recovery": "Recovery efficiencies, for codes that ask for a least one.",
        "filter_interval": "Filter reminder that the ventilator allows; none: common practice.",
    },
    Port: {
        "bus": "The kind of bus, or a plain contact.",
        "dialects": "Message sets that the device understands on this port.",
        "terminals": "Terminal name to its role, such as `data+`, `data-`, `supply`, `common`.",
        "draw": "Load that the device puts on the supply of the circuit.",
        "supplies": "Load that the port can feed.",
        "voltage": "Nominal voltage of the supply terminals.",
        "window": "Voltages at the terminals between which the device works; none: common practice.",
        "fed_from": "The model's own port that what this one supplies is taken from; none: a supply of its own.",
        "profile": "Name of a [bus profile](wiring.md#bus-profiles), packaged or this catalog's own.",
        "termination": "Terminating resistor that is built in and always on.",
        "bias": "Bias resistor of each conductor of the pair that is built in and always on.",
    },
    ConductorRole: {
        "carries": "What a conductor of this role carries.",
        "needed": "`true`: a cable between two ports that both have the role must carry it.",
    },
    IndicatorState: {
        "meaning": "What it means, in the words of the unit's instructions.",
        "shows": "The state in words of your own, such as `steady`; or else `flashes`.",
        "flashes": "How many flashes it gives in a row.",
        "fault": "`true` where the state tells of a fault.",
    },
    BusProfile: {"title": "Its name for people.", "basis": "The publication; none: the catalog itself."},
    Basis: {
        "title": "The publication, or the practice in words.",
        "known": "How it is known; see [How each figure is known](codes.md#how-each-figure-is-known).",
    },
    Code: {
        "code": "Its name; of a packaged code that of its file, without `.toml`.",
        "counts": "Which airflow of a ventilator counts; see [Computations](computations.md#airflow-of-a-stage).",
        "counts_basis": "Clause of `counts`, with the reading chosen.",
        "judged_basis": "Clause of `judged`, with the reading chosen.",
    },
    Rate: {
        "joined": "`choice`: the job may choose, else the one that asks for less holds. `largest`: the largest holds.",
    },
    Equation: {"airflow_per_person": "Airflow for each of bedrooms + `extra_people`."},
    Window: {"placing": "`sliding`: wherever it begins. `fixed`: one after the other from Monday 00:00."},
    RunTime: {
        "route": "The route whose rate the factor multiplies, where the text names only one.",
        "placing": "`sliding`: wherever it begins. `fixed`: one after the other from Monday 00:00.",
    },
    LeakageForm: {
        "reference_height": "Height that normalized leakage refers to.",
        "airflow": "Infiltration for each `area` of floor where NL and wsf are 1.",
        "area": "The floor area that `airflow` is for.",
    },
    Infiltration: {
        "superposition": "See [Infiltration](computations.md#infiltration).",
        "untested_air_changes": "Air changes per hour at 50 Pa taken where nothing was measured; none: nothing counts.",
    },
    Balanced: {"test": "How they are compared; see [Balance](computations.md#balance)."},
}

# Classes whose tables stand with another file's keys: a link is enough.
ELSEWHERE: Final[Mapping[type, frozenset[type]]] = {Code: frozenset({Room})}
_MOST_PLACES: Final = 6

# Values without keys of their own. Programs and calendars are described by hand on the page.
PLAIN: Final[Mapping[Any, str]] = {
    str: "text",
    bool: "`true` or `false`",
    date: "a date, such as `2027-06-30`",
    int: "whole number, 0 to 10000",
    float: "fraction, 0 to 1",
    Factor: "factor, 0 to 1000",
    Program: "a [program](#program)",
    Conductors: "mapping: terminal to terminal; or list: mapping, with [these keys](#keys-conductor)",
    Shown: "a state in words, or a number of flashes",
    Calendar: "a [calendar](#calendar)",
}


def _parts(shape: Any) -> tuple[Any, tuple[Any, ...]]:
    return get_origin(shape), get_args(shape)


def _inner(shape: Any) -> Any:
    """Return a type without its `| None`."""
    origin, args = _parts(shape)
    if origin in (Union, types.UnionType):
        (only,) = (arg for arg in args if arg is not type(None))
        return only
    return shape


def _is_class(shape: Any) -> bool:
    return isinstance(shape, type) and attrs.has(shape) and not issubclass(shape, Quantity)


def said(shape: Any) -> str:
    """Return what may be written for a type."""
    shape = _inner(shape)
    origin, args = _parts(shape)
    if origin is Mapping:
        return f"mapping: name to {said(args[1])}"
    if origin is tuple:
        return f"list: {said(args[0])}"
    if shape in PLAIN:
        return PLAIN[shape]
    if issubclass(shape, Quantity):
        return f"{shape.kind}: {listed(map(code, shape.units), 'or')}"
    if issubclass(shape, StrEnum):
        return listed((code(word.value) for word in shape), "or")
    return f"mapping, with [these keys](#{anchor(shape)})"


def anchor(shape: type) -> str:
    """Return the anchor of a class's section."""
    return f"keys-{shape.__name__.lower()}"


def keys_of(shape: type) -> Iterator[tuple[str, "attrs.Attribute[Any]"]]:
    """Yield each key that a class has in a file, with its attribute.

    Raises:
        ValueError: Keys and attributes do not match.
    """
    fields = attrs.fields(shape)
    names = {field.name for field in fields}
    keys = written_keys(shape)
    waiting = list(keys)
    for field in fields:
        if waiting and (waiting[0] == field.name or waiting[0] not in names):
            yield waiting.pop(0), field
    if waiting:
        raise ValueError(f"{shape.__name__}: no attribute for the keys {listed(waiting)}")


def _meanings(shape: type) -> dict[str, str]:
    doc = inspect.getdoc(shape) or ""
    section = doc.partition("Attributes:\n")[2].partition("\n\n")[0]
    found = {name: " ".join(text.split()) for name, text in _ATTRIBUTE.findall(section)}
    return found | dict(NOTES.get(shape, {}))


def _default(field: "attrs.Attribute[Any]") -> str:
    if field.default is attrs.NOTHING:
        return "required"
    factory = getattr(field.default, "factory", None)
    value = factory() if factory is not None else field.default
    if value is None or (not isinstance(value, bool) and value in ((), {}, "")):
        return "none"
    return _written(value)


def _written(value: Any) -> str:
    if isinstance(value, tuple):
        return listed(map(_written, value))
    if isinstance(value, bool):
        return code(str(value).lower())
    return code(value.value) if isinstance(value, StrEnum) else code(f"{value:g}")


def shapes(root: type, prefix: str = "") -> Iterator[tuple[str, type]]:
    """Yield every class that has keys of its own in a file, with where it stands; the top comes first.

    Of a class that stands at several places, what is inside comes with the first of them only.
    """
    yield from _shapes(root, prefix, set(ELSEWHERE.get(root, ())))


def _shapes(shape: type, place: str, seen: set[type]) -> Iterator[tuple[str, type]]:
    yield place, shape
    if shape in seen:
        return
    seen.add(shape)
    hints = get_type_hints(shape)
    for key, field in keys_of(shape):
        here, inner = f"{place} / {key}".removeprefix(" / "), _inner(hints[field.name])
        while (origin := get_origin(inner)) in (Mapping, tuple):
            here += " / NAME" if origin is Mapping else " / NUMBER"
            inner = get_args(inner)[1 if origin is Mapping else 0]
        if inner is Conductors:  # a list of them is one of the two ways to write it
            here, inner = f"{here} / NUMBER", Conductor
        if _is_class(inner) and inner not in PLAIN:
            yield from _shapes(inner, here, seen)


def key_tables(root: type) -> str:
    """Return a table of keys for each class of a file format.

    Args:
        root: The class of the whole file.

    Raises:
        KeyError: A key has no meaning that could be shown.
    """
    places: dict[type, list[str]] = {}
    for place, shape in shapes(root):
        if shape not in ELSEWHERE.get(root, ()):
            places.setdefault(shape, []).append(place)
    return "\n".join(_key_table(shape, where) for shape, where in places.items())


def _key_table(shape: type, places: list[str]) -> str:
    first, *others = (code(place) if place else "At the top" for place in places)
    more = [*others[:_MOST_PLACES], "wherever else a table links here"] if len(others) > _MOST_PLACES else others
    meanings, hints = _meanings(shape), get_type_hints(shape)
    rows = [(code(key), said(hints[f.name]), _default(f), meanings[f.name]) for key, f in keys_of(shape)]
    also = f"Likewise at {listed(more)}.\n\n" if more else ""
    head = f"({anchor(shape)})=\n### {first}\n\n{also}"
    return head + table(("key", "what to write", "default", "meaning"), rows)
