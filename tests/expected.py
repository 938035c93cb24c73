"""What each faulty example gives."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, NamedTuple

NOBODY: Final[Mapping[str, str]] = MappingProxyType({})


class Expected(NamedTuple):
    """What one faulty example gives.

    `company` names the other rules that speak up, each with the reason why that cannot be avoided.
    """

    rule: str
    pointer: str
    company: Mapping[str, str] = NOBODY
    unchecked: bool = False


NO_WAY: Final = "what is not joined to the right port has no way to the controller"
OFF_RATING: Final = "a stage that is rated in balance and is not has left its rating"
PROGRAMS: Final = "/settings/ventilator/programs"

FAULTY: Final[Mapping[str, Expected]] = {
    "address-beyond-the-range.yaml": Expected("wiring/address-out-of-range", "/devices/attic"),
    "address-nobody-told.yaml": Expected("wiring/address-not-unique", "/devices/attic", unchecked=True),
    "bell-wire-on-the-line.yaml": Expected("wiring/bus-too-thin", "/cables/3"),
    "biased-twice.yaml": Expected("wiring/wrong-bias", "/cables"),
    "branch-on-a-line-without.yaml": Expected("wiring/bus-branches", "/devices/downstairs"),
    "cable-not-measured.yaml": Expected("wiring/cable-not-told", "/cables/3", unchecked=True),
    "crowd-on-the-system-bus.yaml": Expected("wiring/too-many-on-bus", "/cables"),
    "line-of-a-kilometer.yaml": Expected("wiring/bus-too-long", "/cables"),
    "one-end-not-terminated.yaml": Expected("wiring/wrong-termination", "/cables"),
    "same-address-twice.yaml": Expected("wiring/address-not-unique", "/devices/upstairs"),
    "shield-earthed-at-both-ends.yaml": Expected("wiring/wrong-shield-earthing", "/cables"),
    "stub-to-the-attic.yaml": Expected("wiring/stub-too-long", "/cables/4"),
    "terminator-in-the-middle.yaml": Expected("wiring/wrong-termination", "/cables"),
    "balance-asked-for-and-missed.yaml": Expected(
        "airflow/balance-required", "/target", {"readings/airflow-not-as-rated": OFF_RATING}
    ),
    "balanced-by-this-instrument.yaml": Expected(
        "readings/balance-uncertain", "/readings/ventilator/low", unchecked=True
    ),
    "buses-joined.yaml": Expected("wiring/buses-joined", "/cables/3"),
    "cable-on-the-wrong-port.yaml": Expected(
        "wiring/wrong-port-kind", "/cables/2", {"wiring/no-path-to-controller": NO_WAY}
    ),
    "cable-run-twice.yaml": Expected("wiring/ring", "/cables"),
    "calendar-gap.yaml": Expected("settings/calendar-gap", "/calendar"),
    "cellar-ventilator-on-its-own.yaml": Expected("settings/run-outside-controller", "/devices/cellar"),
    "comes-home-to-stale-air.yaml": Expected("airflow/exposure-above-steady", "/calendar"),
    "common-left-out.yaml": Expected("wiring/conductor-missing", "/cables/2"),
    "conductor-hanging.yaml": Expected("wiring/conductor-ends-nowhere", "/cables/2/conductors/3"),
    "conductors-crossed.yaml": Expected("wiring/conductors-crossed", "/cables/2/conductors/data+"),
    "supply-on-data.yaml": Expected("wiring/supply-on-data", "/cables/2/conductors/supply"),
    "terminal-misread.yaml": Expected("wiring/unknown-terminal", "/cables/2/conductors/supply"),
    "three-conductors-for-four.yaml": Expected("wiring/too-few-cores", "/cables/2"),
    "three-under-one-screw.yaml": Expected("wiring/terminal-overfull", "/cables/2/conductors/5"),
    "too-thick-for-the-terminals.yaml": Expected("wiring/gauge-does-not-fit", "/cables/2"),
    "white-twice.yaml": Expected("wiring/color-means-two-things", "/cables/2/conductors/3"),
    "controller-decides.yaml": Expected(
        "settings/managed-program",
        f"{PROGRAMS}/day/cooling",
        {"airflow/window-below-target": "what the controller decides by itself keeps the windows from being judged"},
    ),
    "controller-off-the-bus.yaml": Expected(
        "equipment/no-controller",
        "/devices",
        {
            "wiring/device-without-cable": "the controller's only cable is the one that is missing",
            "wiring/no-path-to-controller": NO_WAY,
        },
    ),
    "counts-the-supply-airflow.yaml": Expected("airflow/wrong-airflow-counted", "/target/counts"),
    "credit-not-earned.yaml": Expected(
        "airflow/credit-not-earned",
        "/target/credits",
        {
            "airflow/unbalanced": "the imbalance is what loses the credit",
            "airflow/below-target": "the programs were made for the rate with the credit",
            "readings/airflow-not-as-rated": OFF_RATING,
        },
    ),
    "credit-not-in-this-edition.yaml": Expected("airflow/credit-not-earned", "/target/credits"),
    "nobody-ever-at-home.yaml": Expected("airflow/target-held-nowhere", "/modes"),
    "route-not-in-this-edition.yaml": Expected("airflow/route-not-offered", "/target/route"),
    "design-temperatures-unknown.yaml": Expected(
        "settings/outdoor-limits-in-ordinary-weather", "/settings/ventilator/outdoor_limits", unchecked=True
    ),
    "enough-by-this-instrument.yaml": Expected("readings/airflow-short-of-plan", "/readings", unchecked=True),
    "entry-level-ventilator.yaml": Expected("equipment/no-bus-port", "/devices/ventilator"),
    "falls-below-the-floor.yaml": Expected("airflow/below-floor", f"{PROGRAMS}/day/heating"),
    "fans-take-too-much-power.yaml": Expected("equipment/fan-power-too-high", "/devices/ventilator"),
    "fan-does-not-turn.yaml": Expected("readings/indicator-fault", "/indicators/ventilator/state"),
    "far-from-its-rating.yaml": Expected("readings/airflow-not-as-rated", "/readings/ventilator/high/supply"),
    "far-more-air-than-asked.yaml": Expected("airflow/above-target", f"{PROGRAMS}/day/cooling"),
    "filter-reminder-forgotten.yaml": Expected("upkeep/no-filter-reminder", "/settings/ventilator"),
    "filter-reminder-too-long.yaml": Expected(
        "upkeep/filter-interval-out-of-range", "/settings/ventilator/filter_reminder"
    ),
    "flashes-nobody-knows.yaml": Expected("readings/indicator-unknown-state", "/indicators/ventilator/state"),
    "foreign-dialect.yaml": Expected("equipment/dialect-mismatch", "/devices/ventilator"),
    "half-hour-cycle.yaml": Expected("settings/cycle-not-offered", "/settings/ventilator/cycle"),
    "heat-pump-without-cable.yaml": Expected("wiring/device-without-cable", "/devices/heat pump"),
    "hood-that-only-recirculates.yaml": Expected("airflow/total-capacity-too-small", "/dwelling/rooms"),
    "interface-module-missing.yaml": Expected(
        "wiring/no-path-to-controller",
        "/devices/ventilator",
        {"wiring/device-without-cable": "without the module the ventilator's cable has nowhere to go"},
    ),
    "kitchen-on-the-ventilator.yaml": Expected("airflow/local-exhaust-too-small", "/devices/ventilator"),
    "limits-beyond-the-unit.yaml": Expected(
        "settings/outdoor-limits-beyond-unit", "/settings/ventilator/outdoor_limits"
    ),
    "limits-inverted.yaml": Expected("settings/outdoor-limits-inverted", "/settings/ventilator/outdoor_limits"),
    "mode-nobody-calls-up.yaml": Expected("settings/mode-never-used", "/modes/guests"),
    "module-beside-zone-panel.yaml": Expected("wiring/redundant-interface-module", "/devices/module"),
    "module-of-the-older-system.yaml": Expected("equipment/dialect-mismatch", "/devices/module"),
    "module-with-two-duties.yaml": Expected("equipment/conflicting-duties", "/devices/module"),
    "more-minutes-than-the-hour.yaml": Expected("settings/overfull-cycle", f"{PROGRAMS}/day/heating"),
    "night-without-cooling-program.yaml": Expected("settings/missing-program", f"{PROGRAMS}/night/cooling"),
    "no-calendar.yaml": Expected("settings/calendar-gap", "/calendar", unchecked=True),
    "no-stage-near-the-rate.yaml": Expected(
        "airflow/cannot-be-turned-down",
        "/target",
        {"readings/airflow-not-as-rated": "the stage was set away from its rating, which is the fault"},
    ),
    "occupied-mode-off.yaml": Expected("settings/occupied-mode-off", f"{PROGRAMS}/day/heating"),
    "out-of-balance.yaml": Expected(
        "airflow/unbalanced", "/devices/ventilator", {"readings/airflow-not-as-rated": OFF_RATING}
    ),
    "program-off-grid.yaml": Expected("settings/off-grid", f"{PROGRAMS}/day/heating"),
    "recovers-too-little.yaml": Expected("equipment/recovery-too-low", "/devices/ventilator"),
    "ring-of-cables.yaml": Expected("wiring/ring", "/cables"),
    "rooms-not-told.yaml": Expected("airflow/target-unknown", "/target", unchecked=True),
    "runs-too-seldom.yaml": Expected("airflow/run-time-too-short", f"{PROGRAMS}/night/cooling"),
    "second-controller.yaml": Expected("equipment/several-controllers", "/devices"),
    "stage-of-another-model.yaml": Expected("equipment/stage-not-offered", f"{PROGRAMS}/night/heating/medium"),
    "stale-after-work.yaml": Expected("airflow/exposure-too-high", "/calendar"),
    "stops-every-half-hour.yaml": Expected("airflow/cycling-not-allowed", f"{PROGRAMS}/night/heating"),
    "stops-in-an-ordinary-winter.yaml": Expected(
        "settings/outdoor-limits-in-ordinary-weather", "/settings/ventilator/outdoor_limits"
    ),
    "too-little-air-in-winter.yaml": Expected("airflow/below-target", f"{PROGRAMS}/day/heating"),
    "too-little-voltage-left.yaml": Expected("readings/voltage-outside-window", "/voltages/ventilator.bus"),
    "two-bridges.yaml": Expected(
        "wiring/two-bridges",
        "/devices/ventilator",
        {"power/two-sources": "each of the two bridges feeds the ventilator's bus as well"},
    ),
    "cable-beside-mains.yaml": Expected("safety/beside-mains", "/cables/3"),
    "cable-too-long-and-thin.yaml": Expected("power/voltage-too-low", "/devices/panel"),
    "length-of-a-cable-unknown.yaml": Expected("wiring/cable-not-told", "/cables/2", unchecked=True),
    "transformer-forgotten.yaml": Expected("power/no-source", "/devices/panel"),
    "transformer-not-of-class-2.yaml": Expected("power/beyond-class-2", "/devices/transformer"),
    "transformer-of-28-volts.yaml": Expected("power/voltage-too-high", "/devices/panel"),
    "transformer-too-far-away.yaml": Expected("power/voltage-too-low", "/devices/transformer"),
    "transformer-too-small.yaml": Expected("power/source-overloaded", "/devices/transformer"),
    "two-furnaces-on-the-bus.yaml": Expected("power/two-sources", "/devices"),
    "two-ventilators-on-a-module-for-one.yaml": Expected("equipment/too-many-ventilators", "/devices/module"),
    "unit-too-small.yaml": Expected("airflow/ventilator-too-small", "/target"),
    "ventilates-an-empty-house.yaml": Expected("settings/unoccupied-mode-ventilates", f"{PROGRAMS}/out/heating"),
    "ventilator-forgotten.yaml": Expected("equipment/no-ventilator", "/target"),
    "ventilator-wired-to-system-bus.yaml": Expected(
        "wiring/wrong-port-kind", "/cables/2", {"wiring/no-path-to-controller": NO_WAY}
    ),
    "voltage-lost-in-a-splice.yaml": Expected("readings/voltage-not-as-predicted", "/voltages/module.system"),
    "voltage-noted-at-a-contact.yaml": Expected("readings/voltage-without-supply", "/voltages/module.outdoor"),
    "worst-window-too-low.json": Expected("airflow/window-below-target", "/calendar"),
}

# What a sound example is advised, with the reason why it is left so. All others are silent.
