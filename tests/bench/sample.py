"""Jobs and the schema that the benchmarks run on."""

from typing import Any, Final

from ventrules.engine.findings import Document

SIX_DEVICES: Final[dict[str, Document]] = {
    "ventrules": 1,
    "job": "Quarry Lane 7",
    "catalogs": ["demo"],
    "dwelling": {"floor_area": "2150 ft2", "bedrooms": 3, "ceiling_height": "8.5 ft"},
    "site": {"winter_design": "10 degF", "summer_design": "92 degF"},
    "target": {"code": "us-irc-2021"},
    "devices": {
        "control": {"model": "demo-control"},
        "furnace": {"model": "demo-furnace"},
        "heat pump": {"model": "demo-heat-pump"},
        "zones": {"model": "demo-zone-panel-plain"},
        "module": {"model": "demo-interface"},
        "ventilator": {"model": "demo-erv-130"},
    },
    "cables": [
        {"from": "control.system", "to": "furnace.system", "gauge": "18 AWG", "length": "30 ft"},
        {"from": "furnace.system", "to": "heat pump.system", "gauge": "18 AWG", "length": "40 ft"},
        {"from": "furnace.system", "to": "zones.system", "gauge": "18 AWG", "length": "4 ft"},
        {"from": "furnace.system", "to": "module.system", "gauge": "18 AWG", "length": "6 ft"},
        {"from": "module.ventilator", "to": "ventilator.bus", "gauge": "18 AWG", "length": "20 ft"},
    ],
    "modes": {"day": "occupied", "night": "occupied", "out": "unoccupied"},
    "calendar": {
        "weekdays": {"06:00": "day", "08:30": "out", "17:00": "day", "22:30": "night"},
        "weekend": {"07:30": "day", "23:00": "night"},
    },
    "settings": {
        "ventilator": {
            "filter_reminder": "90 days",
            "outdoor_limits": {"off_at_or_below": "0 degF", "off_at_or_above": "100 degF"},
            "programs": {
                "day": {"heating": {"low": "50 min"}, "cooling": {"low": "50 min"}},
                "night": {"heating": {"low": "50 min"}, "cooling": {"low": "50 min"}},
                "out": {"heating": {}, "cooling": {}},
            },
        }
    },
}


def _closed(required: list[str], **properties: Any) -> dict[str, Any]:
    return {"type": "object", "required": required, "properties": properties, "additionalProperties": False}


def _each(value: Any) -> dict[str, Any]:
    return {"type": "object", "additionalProperties": value}


def _quantity(*units: str) -> dict[str, Any]:
    return {"type": "string", "pattern": rf"^\s*[+-]?[0-9.]+(?:[eE][+-]?[0-9]+)?\s*(?:{'|'.join(units)})\s*$"}


_TEXT: Final = {"type": "string"}
_END: Final = {"type": "string", "pattern": r"^[^.]+\.[^.]+$"}
_AIR: Final = _quantity("cfm", "L/s", "m3/h", "m3/s")
_LENGTH: Final = _quantity("ft", "in", "m", "mm")
_DEGREES: Final = _quantity("degF", "degC")
_TIME: Final = _quantity("min", "h", "days")
_PROGRAM: Final = {"oneOf": [{"const": "managed"}, _each(_TIME)]}

STRUCTURE: Final[dict[str, Any]] = {
    "$schema": "https://json-schema.org/draft/2020-12/schema",
    **_closed(
        ["ventrules", "job", "dwelling", "target", "devices"],
        ventrules={"const": 1},
        job=_TEXT,
        notes=_TEXT,
        catalogs={"type": "array", "items": _TEXT},
        dwelling=_closed(
            ["floor_area", "bedrooms"],
            floor_area=_quantity("ft2", "m2"),
            bedrooms={"type": "integer", "minimum": 0},
            ceiling_height=_LENGTH,
            volume=_quantity("ft3", "m3"),
        ),
        site=_closed(["winter_design", "summer_design"], winter_design=_DEGREES, summer_design=_DEGREES),
        target=_closed(
            [],
            code=_TEXT,
            route={"enum": ["table", "equation"]},
            credits={"type": "array", "items": _TEXT},
            airflow=_AIR,
            window=_TIME,
        ),
        devices=_each(_closed(["model"], model=_TEXT)),
        cables={
            "type": "array",
            "items": _closed(
                ["from", "to"],
                **{"from": _END, "to": _END},
                gauge=_quantity("AWG", "mm2"),
                length=_LENGTH,
                conductors=_each(_TEXT),
            ),
        },
        modes=_each({"enum": ["occupied", "standby", "unoccupied"]}),
        calendar=_each({"type": "object", "patternProperties": {"^([01][0-9]|2[0-3]):[0-5][0-9]$": _TEXT}}),
        settings=_each(
            _closed(
                [],
                filter_reminder=_TIME,
                cycle=_TIME,
                outdoor_limits=_closed([], off_at_or_below=_DEGREES, off_at_or_above=_DEGREES),
                programs=_each(_closed([], heating=_PROGRAM, cooling=_PROGRAM)),
            )
        ),
        readings=_each(_each(_closed(["supply", "exhaust"], supply=_AIR, exhaust=_AIR))),
    ),
}


def long_street(devices: int) -> dict[str, Document]:
    """Return a job of so many devices on one system bus: modules with a ventilator each, and heat pumps between."""
    names: dict[str, Document] = {"control": {"model": "demo-control-fine"}}
    cables: list[Document] = []
    settings: dict[str, Document] = {}
    end = "control.system"
    program: dict[str, Document] = {"day": {"heating": {"low": "60 min"}, "cooling": {"low": "60 min"}}}
    for number in range((devices - 1) // 3):
        for name, model in ((f"heat pump {number}", "demo-heat-pump"), (f"module {number}", "demo-interface")):
            names[name] = {"model": model}
            cables.append({"from": end, "to": f"{name}.system", "gauge": "18 AWG", "length": "10 ft"})
            end = f"{name}.system"
        names[f"ventilator {number}"] = {"model": "demo-hrv-100"}
        bus = {"from": f"module {number}.ventilator", "to": f"ventilator {number}.bus"}
        cables.append({**bus, "gauge": "18 AWG", "length": "20 ft"})
        settings[f"ventilator {number}"] = {"filter_reminder": "90 days", "programs": program}
    return {
        "ventrules": 1,
        "job": "Long street",
        "catalogs": ["demo"],
        "dwelling": {"floor_area": "2150 ft2", "bedrooms": 3},
        "target": {"airflow": f"{45 * len(settings)} cfm", "window": "4 h"},
        "devices": names,
        "cables": cables,
        "modes": {"day": "occupied"},
        "calendar": {"every-day": {"00:00": "day"}},
        "settings": settings,
    }
