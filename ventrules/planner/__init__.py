"""What to set instead: least-airflow programs, and remedies as edits to the job document."""

from ventrules.planner.conductors import straighten
from ventrules.planner.edits import put, remove
from ventrules.planner.equipment import fitting_models, swap_one_of, swap_ventilator
from ventrules.planner.programs import (
    can_be_lowered,
    least_program,
    lower_mode,
    program_remedy,
    raise_mode,
    raise_modes,
    regrid_remedy,
)
from ventrules.planner.supplies import swap_transformer, thicker_cable
from ventrules.planner.wiring import (
    connect,
    drop_bridge,
    drop_cable,
    drop_cables,
    insert_module,
    move_to_panel,
    move_to_right_port,
    swap_module,
)

__all__ = [
    "can_be_lowered",
    "connect",
    "drop_bridge",
    "drop_cable",
    "drop_cables",
    "fitting_models",
    "insert_module",
    "least_program",
    "lower_mode",
    "move_to_panel",
    "move_to_right_port",
    "program_remedy",
    "put",
    "raise_mode",
    "raise_modes",
    "regrid_remedy",
    "remove",
    "straighten",
    "swap_module",
    "swap_one_of",
    "swap_transformer",
    "swap_ventilator",
    "thicker_cable",
]
