"""What single keys and texts of a file have to be, beyond the type of the attribute that holds them."""

from collections.abc import Mapping
from typing import Final

from ventrules.files.bus_files import conductor_roles
from ventrules.files.catalogs import packaged_catalog
from ventrules.files.code_files import stations
from ventrules.files.resources import bus_profile_names, catalog_names, code_names
from ventrules.files.schema_claims import Fragment
from ventrules.files.schema_words import DAYS, GROUPS, NAME, PLACE, TIME, anchored
from ventrules.job import (
    AirflowAccuracy,
    Cable,
    Calendar,
    Conductors,
    Device,
    Dwelling,
    Job,
    Port,
    Program,
    Shown,
    Site,
    Target,
    VoltageAccuracy,
)

NEVER_EMPTY: Final = frozenset({AirflowAccuracy, VoltageAccuracy})
"""Classes whose mappings have to say something."""

EACH_ONCE: Final = frozenset({(Job, "catalogs")})
"""Lists in which nothing may stand twice."""

_DAY: Final[Fragment] = {
    "type": "object",
    "propertyNames": {"type": "string", "pattern": anchored(TIME), "examples": ["06:30", "22:00"]},
    "additionalProperties": {"type": "string", "description": "The mode that is on from then on."},
}

MAPPINGS: Final[Mapping[type, Fragment]] = {
    Calendar: {"type": "object", "properties": dict.fromkeys((*GROUPS, *DAYS), _DAY), "additionalProperties": False},
    Conductors: {},
    Program: {},
    Shown: {},
}
"""Classes that stand in a file without keys of their own."""

_NAMED: Final = frozenset({(Job, "devices"), (Job, "modes"), (Dwelling, "rooms")})


WORDS: Final[Mapping[str, Fragment]] = {
    "Name": {
        "type": "string",
        "description": "A name of your own: 1 to 63 letters, digits, spaces, _, + or -.",
        "pattern": anchored(NAME),
    },
    "Place": {
        "type": "string",
        "description": "A port of a device, written device.port.",
        "pattern": anchored(PLACE),
        "examples": ["control.system"],
    },
}
"""Texts of a certain form, by the names of their definitions."""


def keys_of(shape: type, name: str) -> str:
    """Return the name of the form that the keys of a mapping have, or nothing."""
    if (shape, name) in _NAMED:
        return "Name"
    return "Place" if (shape, name) == (Job, "voltages") else ""


def text_of(shape: type, name: str) -> Fragment:
    """Return the schema of the texts that an attribute holds."""
    if (shape, name) == (Site, "weather_station"):
        return {"type": "string", "enum": [*sorted(stations().stations)]}
    if (shape, name) in ((Cable, "start"), (Cable, "end")):
        return {"$ref": "#/$defs/Place"}
    known = _suggested(shape, name)
    if not known:
        return {"type": "string"}
    return {"anyOf": [{"enum": [*known]}, {"type": "string"}]}


def _suggested(shape: type, name: str) -> tuple[str, ...]:
    """Return texts that an editor may offer: names of what comes with the package."""
    where = (shape, name)
    if where == (Job, "catalogs"):
        return catalog_names()
    if where == (Target, "code"):
        return code_names()
    if where == (Device, "model"):
        return tuple(model for name in catalog_names() for model in packaged_catalog(name).models)
    if where == (Port, "terminals"):
        return tuple(conductor_roles())
    return bus_profile_names() if where == (Port, "profile") else ()
