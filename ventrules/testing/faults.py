"""Makers of single faults: each puts one fault into a sound job and names the rule meant for it.

A maker gets a document of a sound job (demo catalog) and a `pick` that chooses among several places, and
returns the changed document with the place where the finding has to be; None where it does not apply.
"""

from collections.abc import Callable
from copy import deepcopy
from typing import Final

from attrs import frozen

from ventrules.codes import UnknownRequirementError
from ventrules.engine import Path
from ventrules.engine.findings import Document
from ventrules.testing import air_faults, bus_faults, code_faults, setting_faults
from ventrules.testing.surgery import Cut, JobSurgery, NothingToPickError, Pick


@frozen
class Faulted:
    """A job with one fault in it.

    Attributes:
        document: The changed document.
        path: Where the finding has to be.
    """

    document: dict[str, Document]
    path: Path


@frozen
class Fault:
    """One maker.

    Attributes:
        name: What it does, in words.
        rule: The id of the rule that has to find it.
        company: Rules or families that may speak up as well, since the fault is theirs too.
        make: The maker itself.
        unchecked: True when the finding is that something cannot be told.
    """

    name: str
    rule: str
    make: Callable[[JobSurgery], Cut | None]
    company: frozenset[str] = frozenset()
    unchecked: bool = False

    def apply(self, document: dict[str, Document], pick: Pick) -> Faulted | None:
        """Return the job with the fault, or None where it does not apply; the given one is not changed."""
        surgery = JobSurgery(deepcopy(document), pick)
        try:
            path = self.make(surgery)
        except (NothingToPickError, UnknownRequirementError):  # most faults need to know what is asked
            return None
        return None if path is None else Faulted(surgery.document, path)

    def expects(self, rule: str) -> bool:
        """Say whether a finding of this rule is the expected one or allowed company."""
        return rule == self.rule or rule in self.company or rule.partition("/")[0] in self.company


def _fault(rule: str, make: Callable[[JobSurgery], Cut | None], *company: str, unchecked: bool = False) -> Fault:
    return Fault(make.__name__.replace("_", " "), rule, make, frozenset(company), unchecked)


_PANEL_FREED: Final = "wiring/redundant-interface-module"  # a panel that loses its ventilator could take another's

FAULTS: Final[tuple[Fault, ...]] = (
    _fault("equipment/no-ventilator", bus_faults.ventilators_left_out, "wiring/device-without-cable"),
    _fault(
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
    _fault("equipment/dialect-mismatch", bus_faults.module_of_another_dialect_chosen),
    _fault("equipment/too-many-ventilators", bus_faults.one_more_ventilator_on_the_bus, "airflow"),
    _fault("equipment/conflicting-duties", bus_faults.module_given_a_second_duty),
    _fault("equipment/stage-not-offered", setting_faults.stage_of_another_unit_used),
    _fault("equipment/several-controllers", bus_faults.second_controller_added),
    _fault(
        "equipment/no-controller",
        bus_faults.controller_taken_off_the_bus,
        "wiring/device-without-cable",
        "wiring/no-path-to-controller",
    ),
    _fault(
        "wiring/no-path-to-controller",
        bus_faults.bridge_cable_left_out,
        "wiring/device-without-cable",
        _PANEL_FREED,
    ),
    _fault("wiring/no-path-to-controller", bus_faults.bridge_left_out, "wiring/device-without-cable"),
    _fault(
        "wiring/no-path-to-controller",
        bus_faults.ventilator_wired_to_the_system_bus,
        "wiring/wrong-port-kind",
        _PANEL_FREED,
    ),
    _fault("wiring/two-bridges", bus_faults.second_bridge_added),
    _fault("wiring/redundant-interface-module", bus_faults.zone_panel_put_beside_the_module),
    _fault("wiring/buses-joined", bus_faults.buses_joined_by_a_cable),
    _fault("wiring/wrong-port-kind", bus_faults.cable_on_the_wrong_port, "wiring/no-path-to-controller", _PANEL_FREED),
    _fault("wiring/device-without-cable", bus_faults.device_added_without_a_cable),
    _fault("wiring/ring", bus_faults.cable_doubled),
    _fault("wiring/ring", bus_faults.line_closed_to_a_ring),
    _fault("wiring/conductors-crossed", bus_faults.conductors_crossed),
    _fault("settings/missing-program", setting_faults.program_left_out),
    _fault("settings/overfull-cycle", setting_faults.too_many_minutes_set),
    _fault("settings/off-grid", setting_faults.minutes_set_between_steps, "airflow"),
    _fault("settings/cycle-not-offered", setting_faults.another_cycle_set, "airflow", "settings/off-grid"),
    _fault("settings/occupied-mode-off", setting_faults.occupied_mode_turned_off, "airflow"),
    _fault("settings/unoccupied-mode-ventilates", setting_faults.unoccupied_mode_turned_on),
    _fault("settings/mode-never-used", setting_faults.mode_left_out_of_the_calendar),
    _fault("settings/calendar-gap", setting_faults.day_left_out_of_the_calendar, "settings/mode-never-used"),
    _fault("settings/outdoor-limits-inverted", setting_faults.outdoor_limits_swapped),
    _fault("settings/outdoor-limits-beyond-unit", setting_faults.outdoor_limit_set_too_low),
    _fault("settings/outdoor-limits-in-ordinary-weather", setting_faults.outdoor_limit_set_too_high),
    _fault("settings/managed-program", setting_faults.program_left_to_the_controller),
    _fault("settings/run-outside-controller", bus_faults.ventilator_added_on_its_own),
    _fault("upkeep/filter-interval-out-of-range", setting_faults.filter_interval_too_long),
    _fault("upkeep/no-filter-reminder", setting_faults.filter_reminder_left_out),
    _fault("airflow/below-target", air_faults.program_too_low, "airflow/below-floor"),
    _fault("airflow/window-below-target", air_faults.half_day_too_low),
    _fault("airflow/run-time-too-short", air_faults.runs_too_seldom),
    _fault("airflow/target-held-nowhere", air_faults.nobody_ever_at_home, "settings/unoccupied-mode-ventilates"),
    _fault("airflow/ventilator-too-small", air_faults.target_above_all_capacity),
    _fault("airflow/above-target", air_faults.program_far_too_high, "equipment/fan-power-too-high"),
    _fault("airflow/unbalanced", air_faults.exhaust_measured_too_high, "airflow/balance-required"),
    _fault("airflow/route-not-offered", air_faults.route_taken_that_the_code_lacks, "airflow"),
    _fault("airflow/cycling-not-allowed", code_faults.unbroken_airflow_stopped),
    _fault("airflow/below-floor", code_faults.airflow_stopped_that_has_a_floor),
    _fault("airflow/exposure-too-high", code_faults.half_of_each_day_without_air),
    _fault("airflow/exposure-above-steady", code_faults.people_come_home_to_stale_air),
    _fault("airflow/wrong-airflow-counted", code_faults.another_airflow_counted),
    _fault("airflow/balance-required", code_faults.unbalanced_where_balance_is_asked, "airflow/unbalanced"),
    _fault("airflow/cannot-be-turned-down", code_faults.ventilator_far_too_large),
    _fault("airflow/total-capacity-too-small", code_faults.rooms_that_all_fans_cannot_serve),
    _fault("airflow/target-unknown", code_faults.what_the_code_needs_left_out, unchecked=True),
    _fault("airflow/local-exhaust-too-small", code_faults.rooms_that_one_ventilator_cannot_exhaust),
    _fault("equipment/recovery-too-low", code_faults.ventilator_of_too_little_recovery),
    _fault(
        "equipment/fan-power-too-high", code_faults.stage_used_that_takes_too_much_power, "equipment/recovery-too-low"
    ),
    _fault("airflow/credit-not-earned", air_faults.credit_claimed_where_there_is_none, "airflow"),
)
"""Every fault maker; at least one for each rule."""
