"""The wiring table: one row for each conductor, as text or as CSV."""

import csv
import io
import textwrap
from collections.abc import Iterator, Sequence
from typing import Final

from attrs import astuple, frozen

from ventrules.outputs.draw_lettering import cells
from ventrules.outputs.draw_marks import Drawing, DrawnCable, Numbered, Spot
from ventrules.outputs.draw_supply import HEAD as SUPPLY_HEAD
from ventrules.outputs.draw_supply import supply_rows
from ventrules.outputs.paper import Paper
from ventrules.outputs.text import printable
from ventrules.survey.conductors import ConductorView

HEAD: Final = (
    "cable",
    "from",
    "from terminal",
    "to",
    "to terminal",
    "role",
    "color",
    "gauge",
    "length",
    "findings",
)
_NARROWEST: Final = 20
_INDENT: Final = 4
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")


@frozen
class WiringRow:
    """One conductor, or a cable whose terminals the catalog does not tell, in words; empty where nothing is known.

    Attributes:
        cable: Short name of the cable.
        start: The port at its start.
        start_terminal: The terminal there.
        end: The port at its end.
        end_terminal: The terminal there.
        role: Role of the terminals; both, where they differ.
        color: Its color.
        gauge: Conductor size.
        length: One-way length of the cable.
        findings: Numbers of the findings at the conductor and at the cable.
    """

    cable: str
    start: str
    start_terminal: str
    end: str
    end_terminal: str
    role: str
    color: str
    gauge: str
    length: str
    findings: str


def wiring_rows(drawing: Drawing) -> tuple[WiringRow, ...]:
    """Return the rows of the wiring table, cable by cable."""
    return tuple(row for cable in drawing.cables for row in _rows(drawing, cable))


def _rows(drawing: Drawing, cable: DrawnCable) -> Iterator[WiringRow]:
    wires: Sequence[tuple[int, ConductorView | None]] = cable.wires or ((0, None),)
    for number, conductor in wires:
        start, end = cable.view.ends
        gauge, length = cable.size_words
        wire = conductor.conductor if conductor is not None else None
        index = cable.view.index
        marks = {*drawing.marks(Spot(cable=index)), *drawing.marks(Spot(cable=index, conductor=number))}
        yield WiringRow(
            cable.label,
            str(start),
            (wire.start if wire is not None else None) or "",
            str(end),
            (wire.end if wire is not None else None) or "",
            _role(conductor),
            (wire.color if wire is not None else None) or "",
            gauge,
            length,
            ", ".join(map(str, sorted({mark.number for mark in marks}))),
        )


def _role(conductor: ConductorView | None) -> str:
    roles = (conductor.start_role, conductor.end_role) if conductor is not None else ()
    return " / ".join(dict.fromkeys(role for role in roles if role is not None))


def wiring_csv(drawing: Drawing) -> str:
    """Return the wiring table as CSV (RFC 4180, lines ended by a line feed), with a header.

    A cell that a spreadsheet would take for a formula begins with an apostrophe; what a terminal would obey is
    made visible.
    """
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(HEAD)
    for row in wiring_rows(drawing):
        writer.writerow([_cell(text) for text in astuple(row)])
    return stream.getvalue()


def _cell(text: str) -> str:
    safe = printable(text)
    return f"'{safe}" if text.startswith(_FORMULA) else safe


def wiring_text(paper: Paper, drawing: Drawing) -> None:
    """Write the wiring table for people, with the voltages to expect and the findings below it.

    A column in which nothing stands is left out.

    Rows are never broken, so that columns stay columns.
    """
    paper.line([(f"Wiring of {printable(drawing.survey.job.title)}", "bold")])
    paper.line([])
    rows = [astuple(row) for row in wiring_rows(drawing)]
    if rows:
        _write_table(paper, HEAD, rows)
    else:
        paper.line([("There is no cable.", "")])
    supplied = supply_rows(drawing)
    if supplied:
        paper.line([])
        paper.line([("Voltages to expect between supply and common, every device at its full draw", "bold")])
        _write_table(paper, SUPPLY_HEAD, supplied)
    if drawing.findings:
        paper.line([])
        paper.line([("Findings", "bold")])
    for found in drawing.findings:
        _write_finding(paper, found)
    for caution in drawing.cautions:
        paper.line([])
        for line in textwrap.wrap(f"Caution: {printable(caution)}", max(paper.width, _NARROWEST)):
            paper.line([(line, "bold")])


def _write_table(paper: Paper, head: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    shown = [[printable(text) for text in row] for row in rows]
    kept = [number for number, column in enumerate(zip(*shown, strict=True)) if any(column)]
    table = [[texts[number] for number in kept] for texts in (head, *shown)]
    widths = [max(map(cells, column)) for column in zip(*table, strict=True)]
    for number, row in enumerate(table):
        filled = (text + " " * (width - cells(text)) for text, width in zip(row, widths, strict=True))
        paper.line([("  ".join(filled).rstrip(), "" if number else "bold")])


def _write_finding(paper: Paper, found: Numbered) -> None:
    finding = found.finding
    head = f"{found.number}. "
    lines = [f"{found.label}: {printable(finding.message)}", f"{printable(finding.place.name)}  ({finding.rule})"]
    width = max(paper.width - _INDENT, _NARROWEST)
    wrapped = [part for line in lines for part in textwrap.wrap(line, width, break_on_hyphens=False)]
    for number, line in enumerate(wrapped):
        paper.line([(head.ljust(_INDENT) if number == 0 else " " * _INDENT, "dim"), (line, "")])
