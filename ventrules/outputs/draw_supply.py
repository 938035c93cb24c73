"""The voltages to expect: one row for each port that draws from a supply, as text."""

from collections.abc import Iterator
from typing import Final, NamedTuple

from ventrules.outputs.draw_marks import Drawing
from ventrules.sources import Known
from ventrules.survey import PortRef, SupplyView
from ventrules.units import Voltage

HEAD: Final = ("source", "holds", "at", "expect", "works from", "to", "margin", "note")
_UNTOLD: Final = "cannot be told"
_USUAL: Final = "usual window"


class SupplyRow(NamedTuple):
    """What is to be measured at one port, in words; empty where nothing is known.

    Attributes:
        source: The port that feeds it.
        holds: Nominal voltage of the source.
        port: The port.
        voltage: The voltage that arrives there with every device at its full draw.
        lowest: The lowest at which the device works.
        highest: The highest.
        margin: How far the voltage is above the lowest.
        note: The port with the least margin of its circuit; a window that is not the catalog's own.
    """

    source: str
    holds: str
    port: str
    voltage: str
    lowest: str
    highest: str
    margin: str
    note: str


def supply_rows(drawing: Drawing) -> tuple[SupplyRow, ...]:
    """Return the rows, circuit by circuit; circuits without one source, or with faulty conductors, are left out."""
    return tuple(row for supply in drawing.survey.supplies for row in _rows(supply))


def _rows(supply: SupplyView) -> Iterator[SupplyRow]:
    if supply.source is None or supply.doubtful or not supply.cables:
        return
    held = str(supply.voltage) if supply.voltage is not None else ""
    for draw in sorted(supply.draws, key=lambda draw: draw.port):
        if draw.port != supply.source:
            yield _row(supply, str(supply.source), held, draw.port)


def _row(supply: SupplyView, source: str, held: str, port: PortRef) -> SupplyRow:
    known, volt, margin = supply.window(port), supply.voltages_v.get(port), supply.margins_v.get(port)
    notes = ["least margin"] if port == supply.worst and len(supply.margins_v) > 1 else []
    if known is not None and known[1].known is Known.COMMON_PRACTICE:
        notes.append(_USUAL)
    return SupplyRow(
        source,
        held,
        str(port),
        str(Voltage.shown(volt, "V")) if volt is not None else _UNTOLD,
        str(known[0].lowest) if known is not None else "",
        str(known[0].highest) if known is not None else "",
        str(Voltage.shown(margin, "V")) if margin is not None else "",
        ", ".join(notes),
    )
