"""Jobs that the benchmarks run on."""

from typing import Final

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
