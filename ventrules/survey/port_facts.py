"""What follows from the catalog for the ports of a job."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from ventrules.job import Port, VoltageWindow
from ventrules.sources import Basis, Known
from ventrules.survey.feeding import carries_power
from ventrules.survey.topology import PortRef
from ventrules.units import Voltage

if TYPE_CHECKING:
    from ventrules.survey.survey import Survey

_CATALOG: Final = Basis("catalog entry of the model: the voltages at which it works", Known.CATALOG)


class PortFacts:
    """What follows from the catalog for the ports of a job: ports of one model are one object, looked at once.

    Args:
        survey: The survey.
    """

    def __init__(self, survey: Survey) -> None:
        self._survey = survey
        self._powered: dict[int, bool] = {}
        self._windows: dict[int, tuple[VoltageWindow, Basis] | None] = {}

    def has_power(self, port: Port) -> bool:
        """Say whether a port has both a supply and a common among its terminals."""
        found = self._powered.get(id(port))
        if found is None:
            found = self._powered[id(port)] = carries_power(self._survey, port.terminals)
        return found

    def window(self, ref: PortRef) -> tuple[VoltageWindow, Basis] | None:
        """Return the voltages at which a port works, and where they come from, as `working_window` does."""
        port = id(self._survey.topology.ports[ref])
        if port not in self._windows:
            self._windows[port] = working_window(self._survey, ref)
        return self._windows[port]


def working_window(survey: Survey, ref: PortRef) -> tuple[VoltageWindow, Basis] | None:
    """Return the voltages at which a port works, and where they come from.

    They are the catalog's, else common practice from its nominal voltage; None where it gives neither.
    """
    port, usual = survey.topology.ports[ref], survey.limits.voltage_window
    if port.window is not None:
        return port.window, _CATALOG
    nominal = port.voltage
    if nominal is None or nominal.v <= 0.0:
        return None
    lowest, highest = (Voltage.shown(nominal.v * part, nominal.unit) for part in (usual.lowest, usual.highest))
    return VoltageWindow(lowest, highest), usual.basis
