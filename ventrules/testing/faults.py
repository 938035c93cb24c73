"""Makers of single faults: each puts one fault into a sound job and names the rule meant for it.

A maker gets a document of a sound job (demo catalog) and a `pick` that chooses among several places, and
returns the changed document with the place where the finding has to be; None where it does not apply.
"""

from typing import Final

from ventrules.testing import (
    air_faults,
    bus_faults,
    code_faults,
    conductor_faults,
    power_faults,
    reading_faults,
    setting_faults,
    shape_faults,
)
from ventrules.testing.fault import Fault, fault

_PANEL_FREED: Final = "wiring/redundant-interface-module"  # a panel that loses its ventilator could take another's
_OFF_RATING: Final = "readings/airflow-not-as-rated"  # a stage that is rated in balance and is not has left its rating

FAULTS: Final[tuple[Fault, ...]] = (
    fault("equipment/no-ventilator", bus_faults.ventilators_left_out, "wiring/device-without-cable"),
    fault(
        "equipment/no-bus-port",
        bus_faults.contact_ventilator_chosen,
        "airflow",
        "upkeep",
        "equipment/recovery-too-low",
        "equipment/fan-power-too-high",
        "settings/outdoor-limits-beyond-unit",
        "wiring/device-without-cable",
        _PANEL_FREED,
    ),
    fault("equipment/dialect-mismatch", bus_faults.module_of_another_dialect_chosen),
    fault("equipment/too-many-ventilators", bus_faults.one_more_ventilator_on_the_bus, "airflow"),
    fault("equipment/conflicting-duties", bus_faults.module_given_a_second_duty),
    fault("equipment/stage-not-offered", setting_faults.stage_of_another_unit_used),
    fault("equipment/several-controllers", bus_faults.second_controller_added),
    fault(
        "equipment/no-controller",
        bus_faults.controller_taken_off_the_bus,
        "wiring/device-without-cable",
        "wiring/no-path-to-controller",
    ),
    fault(
        "wiring/no-path-to-controller",
        bus_faults.bridge_cable_left_out,
        "wiring/device-without-cable",
        _PANEL_FREED,
    ),
    fault("wiring/no-path-to-controller", bus_faults.bridge_left_out, "wiring/device-without-cable"),
    fault(
        "wiring/no-path-to-controller",
        bus_faults.ventilator_wired_to_the_system_bus,
        "wiring/wrong-port-kind",
        _PANEL_FREED,
    ),
    fault("wiring/two-bridges", bus_faults.second_bridge_added, "power/two-sources"),
    fault("wiring/redundant-interface-module", bus_faults.zone_panel_put_beside_the_module),
    fault("wiring/buses-joined", bus_faults.buses_joined_by_a_cable),
    fault("wiring/wrong-port-kind", bus_faults.cable_on_the_wrong_port, "wiring/no-path-to-controller", _PANEL_FREED),
    fault("wiring/device-without-cable", bus_faults.device_added_without_a_cable),
    fault("wiring/ring", bus_faults.cable_doubled),
    fault("wiring/ring", bus_faults.line_closed_to_a_ring),
    fault("settings/missing-program", setting_faults.program_left_out),
    fault("settings/overfull-cycle", setting_faults.too_many_minutes_set),
    fault("settings/off-grid", setting_faults.minutes_set_between_steps, "airflow"),
    fault("settings/cycle-not-offered", setting_faults.another_cycle_set, "airflow", "settings/off-grid"),
    fault("settings/occupied-mode-off", setting_faults.occupied_mode_turned_off, "airflow"),
    fault("settings/unoccupied-mode-ventilates", setting_faults.unoccupied_mode_turned_on),
    fault("settings/mode-never-used", setting_faults.mode_left_out_of_the_calendar),
    fault("settings/calendar-gap", setting_faults.day_left_out_of_the_calendar, "settings/mode-never-used"),
    fault("settings/outdoor-limits-inverted", setting_faults.outdoor_limits_swapped),
    fault("settings/outdoor-limits-beyond-unit", setting_faults.outdoor_limit_set_too_low),
    fault("settings/outdoor-limits-in-ordinary-weather", setting_faults.outdoor_limit_set_too_high),
    fault("settings/managed-program", setting_faults.program_left_to_the_controller),
    fault("settings/run-outside-controller", bus_faults.ventilator_added_on_its_own),
    fault("upkeep/filter-interval-out-of-range", setting_faults.filter_interval_too_long),
    fault("upkeep/no-filter-reminder", setting_faults.filter_reminder_left_out),
    fault("airflow/below-target", air_faults.program_too_low, "airflow/below-floor"),
    fault("airflow/window-below-target", air_faults.half_day_too_low),
    fault("airflow/run-time-too-short", air_faults.runs_too_seldom),
    fault("airflow/target-held-nowhere", air_faults.nobody_ever_at_home, "settings/unoccupied-mode-ventilates"),
    fault("airflow/ventilator-too-small", air_faults.target_above_all_capacity),
    fault("airflow/above-target", air_faults.program_far_too_high, "equipment/fan-power-too-high"),
    fault("airflow/unbalanced", air_faults.exhaust_measured_too_high, "airflow/balance-required", _OFF_RATING),
    fault("airflow/route-not-offered", air_faults.route_taken_that_the_code_lacks, "airflow"),
    fault("airflow/cycling-not-allowed", code_faults.unbroken_airflow_stopped),
    fault("airflow/below-floor", code_faults.airflow_stopped_that_has_a_floor),
    fault("airflow/exposure-too-high", code_faults.half_of_each_day_without_air),
    fault("airflow/exposure-above-steady", code_faults.people_come_home_to_stale_air),
    fault("airflow/wrong-airflow-counted", code_faults.another_airflow_counted),
    fault("airflow/balance-required", code_faults.unbalanced_where_balance_is_asked, "airflow/unbalanced", _OFF_RATING),
    fault("airflow/cannot-be-turned-down", code_faults.ventilator_far_too_large),
    fault("airflow/total-capacity-too-small", code_faults.rooms_that_all_fans_cannot_serve),
    fault("airflow/target-unknown", code_faults.what_the_code_needs_left_out, unchecked=True),
    fault("airflow/local-exhaust-too-small", code_faults.rooms_that_one_ventilator_cannot_exhaust),
    fault("equipment/recovery-too-low", code_faults.ventilator_of_too_little_recovery),
    fault(
        "equipment/fan-power-too-high", code_faults.stage_used_that_takes_too_much_power, "equipment/recovery-too-low"
    ),
    fault("airflow/credit-not-earned", air_faults.credit_claimed_where_there_is_none, "airflow"),
    *conductor_faults.FAULTS,
    *shape_faults.FAULTS,
    *power_faults.FAULTS,
    *reading_faults.FAULTS,
)
"""Every fault maker; at least one for each rule."""
