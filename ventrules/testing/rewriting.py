"""The same job written differently: other units, other names, another order. For laws about rules."""

import re
from collections.abc import Callable, Mapping
from typing import Final

from ventrules.engine.findings import Document
from ventrules.units import Airflow, Area, Length, Quantity, Temperature, Volume, WireSize

_OTHER: Final[Mapping[str, tuple[type[Quantity], str]]] = {
    "cfm": (Airflow, "m3/h"),
    "L/s": (Airflow, "cfm"),
    "m3/h": (Airflow, "cfm"),
    "ft2": (Area, "m2"),
    "m2": (Area, "ft2"),
    "ft": (Length, "m"),
    "m": (Length, "ft"),
    "ft3": (Volume, "m3"),
    "m3": (Volume, "ft3"),
    "degF": (Temperature, "degC"),
    "degC": (Temperature, "degF"),
    "AWG": (WireSize, "mm2"),
    "mm2": (WireSize, "AWG"),
}
_QUANTITY: Final = re.compile(r"[+-]?[0-9.]+(?:[eE][+-]?[0-9]+)? (\S+)")


def in_other_units(document: dict[str, Document]) -> dict[str, Document]:
    """Return a job document with every quantity in the other system of units, to full precision."""
    return {key: _converted(value) if key != "job" else value for key, value in document.items()}


def _converted(value: Document) -> Document:
    if isinstance(value, dict):
        return {key: _converted(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_converted(inner) for inner in value]
    match = _QUANTITY.fullmatch(value) if isinstance(value, str) else None
    if match is None or match.group(1) not in _OTHER or not isinstance(value, str):
        return value
    kind, unit = _OTHER[match.group(1)]
    return f"{kind.parse(value).to(unit):.17g} {unit}"


def renamed(document: dict[str, Document], new_name: Callable[[str], str]) -> dict[str, Document]:
    """Return a job document with every device renamed, wherever it is named.

    Args:
        document: The document.
        new_name: Old name to new name; has to be one to one.
    """
    done = dict(document)
    for key in ("devices", "settings", "readings", "indicators", "voltages"):
        part = document.get(key)
        if isinstance(part, dict):
            done[key] = {_renamed_end(name, new_name): value for name, value in part.items()}
    dwelling = document.get("dwelling")
    rooms = dwelling.get("rooms") if isinstance(dwelling, dict) else None
    if isinstance(dwelling, dict) and isinstance(rooms, dict):
        done["dwelling"] = {**dwelling, "rooms": {name: _served(room, new_name) for name, room in rooms.items()}}
    cables = document.get("cables")
    if isinstance(cables, list):
        done["cables"] = [_renamed_ends(cable, new_name) for cable in cables]
    return done


def _served(room: Document, new_name: Callable[[str], str]) -> Document:
    if not isinstance(room, dict) or "exhaust_by" not in room:
        return room
    return {**room, "exhaust_by": new_name(str(room["exhaust_by"]))}


def _renamed_ends(cable: Document, new_name: Callable[[str], str]) -> Document:
    if not isinstance(cable, dict):
        return cable
    return {**cable, **{key: _renamed_end(str(cable[key]), new_name) for key in ("from", "to")}}


def _renamed_end(name: str, new_name: Callable[[str], str]) -> str:
    """Return the name of a device, or of a port as `device.port`, with the device renamed."""
    device, dot, port = name.partition(".")
    return f"{new_name(device)}{dot}{port}"


def reordered(document: dict[str, Document], order: Callable[[list[str]], list[str]]) -> dict[str, Document]:
    """Return a job document with the keys of every mapping in another order, and its cables turned about.

    Args:
        document: The document.
        order: Puts a list of keys into another order.
    """
    done = _reordered(document, order)
    return done if isinstance(done, dict) else document


def _reordered(value: Document, order: Callable[[list[str]], list[str]]) -> Document:
    if isinstance(value, dict):
        return {key: _reordered(value[key], order) for key in order(list(value))}
    if isinstance(value, list):
        return [_reordered(inner, order) for inner in value]
    return value
