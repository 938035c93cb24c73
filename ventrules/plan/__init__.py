"""What to set instead: least-airflow programs, and remedies as edits to the job document."""

from ventrules.plan.edits import put, remove
from ventrules.plan.programs import least_program, lower_mode, program_remedy, raise_mode, raise_modes, regrid_remedy
from ventrules.plan.wiring import (
    drop_bridge,
    drop_cable,
    insert_module,
    move_to_panel,
    move_to_right_port,
    swap_module,
)

__all__ = [
    "drop_bridge",
    "drop_cable",
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
    "swap_module",
]
