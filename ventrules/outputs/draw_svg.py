"""The bus graph as SVG: black on white, nothing that runs, nothing that is fetched."""

from collections.abc import Mapping, Sequence
from typing import Final
from xml.etree import ElementTree as ET

from ventrules.job import BusKind
from ventrules.outputs.draw_boxes import MARK_ROW, PAD, Box, Picture, PortRow, Run, picture
from ventrules.outputs.draw_lettering import (
    LINE,
    MARK_GAP,
    MARK_HEIGHT,
    SMALL,
    TEXT,
    mark_width,
    marks_width,
    wide,
    wrapped,
)
from ventrules.outputs.draw_marks import KIND, MIXED, Drawing, Mark
from ventrules.outputs.text import printable
from ventrules.words import listed

_HEADING: Final = 16.0
_LEAST_WIDTH: Final = 760.0
_LEGEND_LINE: Final = 60.0
_MOST_LETTERS: Final = 120
_LETTER: Final = wide("n", SMALL)
_STYLES: Final[Mapping[BusKind | None, Mapping[str, str]]] = {
    BusKind.SYSTEM: {"stroke-width": "2.5"},
    BusKind.VENTILATOR: {"stroke-width": "2.5", "stroke-dasharray": "10 5"},
    BusKind.CONTACT: {"stroke-width": "2.5", "stroke-dasharray": "1 6", "stroke-linecap": "round"},
    BusKind.POWER: {"stroke-width": "2", "stroke-dasharray": "14 4 2 4"},
    None: {"stroke-width": "6"},
}


def svg(drawing: Drawing) -> str:
    """Return the bus graph as a whole SVG document, in ASCII; its size is that of a px of 1/96 in."""
    found = picture(drawing)
    width = max(found.width + PAD, _LEAST_WIDTH)
    letters = min(int((width - 2 * PAD) / _LETTER), _MOST_LETTERS)
    root = _root(drawing)
    top = _heading(root, drawing, letters)
    body = ET.SubElement(root, "g", {"transform": f"translate(0 {_n(top)})"})
    _body(body, drawing, found)
    top += found.height
    top = _legend(root, drawing, top, width)
    top = _list(root, drawing, top, letters)
    size = {"width": _n(width), "height": _n(top + PAD)}
    root.attrib.update({**size, "viewBox": f"0 0 {size['width']} {size['height']}"})
    ET.indent(root)
    data: bytes = ET.tostring(root, encoding="us-ascii", xml_declaration=True)
    return data.decode("ascii") + "\n"


def _n(value: float) -> str:
    """Return a number, to a tenth."""
    return f"{value:.1f}".removesuffix(".0")


def _root(drawing: Drawing) -> ET.Element:
    attributes = {
        "xmlns": "http://www.w3.org/2000/svg",
        "role": "img",
        "aria-labelledby": "title desc",
        "font-family": "monospace",
        "fill": "black",
        "stroke": "none",
        "xml:space": "preserve",
    }
    root = ET.Element("svg", attributes)
    ET.SubElement(root, "title", {"id": "title"}).text = _title(drawing)
    ET.SubElement(root, "desc", {"id": "desc"}).text = _summary(drawing)
    ET.SubElement(root, "rect", {"width": "100%", "height": "100%", "fill": "white"})
    return root


def _title(drawing: Drawing) -> str:
    return f"Wiring of {printable(drawing.survey.job.title)}"


def _summary(drawing: Drawing) -> str:
    """Return how much there is of everything, in one sentence."""
    counts = [
        (len(drawing.survey.devices), "device"),
        (len(drawing.cables), "cable"),
        (len(drawing.findings), "finding"),
    ]
    return listed(f"{count} {name}{'' if count == 1 else 's'}" for count, name in counts) + "."


def _text(parent: ET.Element, x: float, y: float, text: str, size: float = SMALL, **more: str) -> None:
    """Write one line, made harmless; y is where its letters stand."""
    attributes = {"x": _n(x), "y": _n(y), "font-size": _n(size)}
    attributes |= {name.replace("_", "-"): value for name, value in more.items()}
    ET.SubElement(parent, "text", attributes).text = printable(text)


def _heading(root: ET.Element, drawing: Drawing, letters: int) -> float:
    """Write the name of the job; return where it ends."""
    y = PAD
    for line in wrapped(_title(drawing), int(letters * SMALL / _HEADING)):
        y += _HEADING * 1.25
        _text(root, PAD, y, line, _HEADING, font_weight="bold")
    y += LINE
    _text(root, PAD, y, _summary(drawing))
    return y + PAD


def _body(body: ET.Element, drawing: Drawing, found: Picture) -> None:
    """Draw cables, and boxes over their ends."""
    for run in found.runs:
        _cable(body, run)
    for device in drawing.survey.devices:
        _device(body, found.boxes[device.name])
    if found.loose_y is not None:
        _text(body, PAD, found.loose_y, "Without a cable:", TEXT)


def _id(*parts: str) -> str:
    """Return an id that XML takes: letters and digits stay, everything else is written by its number."""
    return "-".join("".join(c if c.isascii() and c.isalnum() else f"_{ord(c):x}_" for c in part) for part in parts)


def _cable(body: ET.Element, run: Run) -> None:
    start, end = run.cable.view.ends
    group = ET.SubElement(body, "g", {"id": _id("cable", run.cable.label), "class": "cable"})
    words = f"{run.cable.label}: {start} to {end}, {run.cable.kind_words}"
    ET.SubElement(group, "title").text = printable(words)
    points = " ".join(f"{_n(x)},{_n(y)}" for x, y in run.points)
    line = {"points": points, "fill": "none"}
    # a white edge shows which line goes over which
    ET.SubElement(group, "polyline", {**line, "stroke": "white", "stroke-width": "9"})
    _stroke(group, "polyline", line, run.cable.kind)
    x, label = run.label_x, run.label
    y = run.points[0][1] if run.points[0][0] == run.points[-1][0] else run.points[-1][1]
    _marks(group, x, y, label.marks)
    beside = x + marks_width(label.marks)
    _text(group, beside, y - 5.0, label.above)
    _text(group, beside, y + 13.0, label.below)
    y += LINE
    for marks, wire in label.wires:
        y += MARK_ROW
        _marks(group, x, y - MARK_ROW / 2, marks)
        _text(group, x + marks_width(marks), y - MARK_ROW / 2 + 4.0, wire)


def _stroke(parent: ET.Element, shape: str, line: Mapping[str, str], kind: BusKind | None) -> None:
    """Draw a line in the style of its kind; one between ports of different kinds is double."""
    ET.SubElement(parent, shape, {**line, "stroke": "black", **_STYLES[kind]})
    if kind is None:
        ET.SubElement(parent, shape, {**line, "stroke": "white", "stroke-width": "3"})


def _marks(parent: ET.Element, x: float, y: float, marks: Sequence[Mark]) -> None:
    """Draw the signs of findings in a row: black at their own place, white where something takes part."""
    for mark in marks:
        width = mark_width(mark)
        fill, letters = ("black", "white") if mark.own else ("white", "black")
        group = ET.SubElement(
            parent, "g", {"class": "mark", **({"data-finding": str(mark.number)} if mark.number else {})}
        )
        shape = {"x": _n(x), "y": _n(y - MARK_HEIGHT / 2), "width": _n(width), "height": _n(MARK_HEIGHT), "rx": "8"}
        ET.SubElement(group, "rect", {**shape, "fill": fill, "stroke": "black", "stroke-width": "1.2"})
        bold = {"font_weight": "bold", "text_anchor": "middle", "fill": letters}
        _text(group, x + width / 2, y + 4.0, str(mark.number) if mark.number else "n", SMALL, **bold)
        x += width + MARK_GAP


def _device(body: ET.Element, box: Box) -> None:
    group = ET.SubElement(body, "g", {"id": _id("device", box.device.name), "class": "device"})
    ET.SubElement(group, "title").text = printable(box.device.name)
    marked = any(mark.own for row in box.marks for mark in row)
    outline = {"fill": "white", "stroke": "black", "stroke-width": "3" if marked else "1.5"}
    ET.SubElement(group, "rect", {**_rectangle(box.x, box.y, box.width, box.height), **outline})
    y = box.y + PAD / 2
    for number, line in enumerate(box.lines):
        y += LINE
        if number < box.names:
            _text(group, box.x + PAD, y, line, TEXT, font_weight="bold")
        else:
            _text(group, box.x + PAD, y, line)
    for marks in box.marks:
        y += MARK_ROW
        _marks(group, box.x + PAD, y - MARK_ROW / 2 + 4.0, marks)
    for port in box.ports:
        _port(group, box, port)


def _rectangle(x: float, y: float, width: float, height: float) -> dict[str, str]:
    return {"x": _n(x), "y": _n(y), "width": _n(width), "height": _n(height)}


def _port(group: ET.Element, box: Box, port: PortRow) -> None:
    """Draw a port: its name between two thin lines, and a point for each cable end."""
    inner = ET.SubElement(group, "g", {"id": _id("port", box.device.name, port.name), "class": "port"})
    top, middle = box.y + port.top, box.y + port.top + port.height / 2
    line = {"x1": _n(box.x), "x2": _n(box.x + box.width), "y1": _n(top), "y2": _n(top)}
    ET.SubElement(inner, "line", {**line, "stroke": "black", "stroke-width": "0.7"})
    width = wide(port.name, SMALL) + (marks_width(port.marks) + MARK_GAP if port.marks else 0.0)
    left = box.x + (box.width - width) / 2
    _text(inner, left, middle + 4.0, port.name)
    _marks(inner, left + wide(port.name, SMALL) + MARK_GAP, middle, port.marks)
    for x, pins in ((box.x, port.left), (box.x + box.width, port.right)):
        for pin in pins:
            ET.SubElement(inner, "circle", {"cx": _n(x), "cy": _n(box.y + pin.y), "r": "3.5"})


def _legend(root: ET.Element, drawing: Drawing, top: float, width: float) -> float:
    """Draw what line styles and signs mean, of those that occur; return where that ends."""
    group = ET.SubElement(root, "g", {"id": "legend"})
    kinds = {cable.kind for cable in drawing.cables}
    x, y = PAD, top
    for kind, words in [*KIND.items(), (None, MIXED)]:
        if kind not in kinds:
            continue
        length = _LEGEND_LINE + 2 * PAD + wide(words, SMALL)
        if x + length > width:
            x, y = PAD, y + MARK_ROW
        line = {"x1": _n(x), "x2": _n(x + _LEGEND_LINE), "y1": _n(y), "y2": _n(y)}
        _stroke(group, "line", line, kind)
        _text(group, x + _LEGEND_LINE + PAD / 2, y + 4.0, words)
        x += length + PAD
    y += MARK_ROW if kinds else 0.0
    signs = {mark.own for mark in drawing.all_marks}
    for own, words in ((True, "finding, at its place"), (False, "takes part in a finding")):
        if own in signs:
            mark = Mark(0, own)
            _marks(group, PAD, y, [mark])
            _text(group, PAD + mark_width(mark) + MARK_GAP, y + 4.0, words)
            y += MARK_ROW
    return y + PAD


def _list(root: ET.Element, drawing: Drawing, top: float, letters: int) -> float:
    """Write the findings and their cautions below the picture; return where they end."""
    group = ET.SubElement(root, "g", {"id": "findings"})
    indent = 3 * PAD + MARK_HEIGHT
    for found in drawing.findings:
        mark = Mark(found.number)
        item = ET.SubElement(group, "g", {"id": f"finding-{found.number}"})
        _marks(item, PAD, top + MARK_HEIGHT / 2, [mark])
        where = "" if found.marked else " (not at one device or cable)"
        _text(item, indent, top + 12.0, f"{found.label}: {found.finding.rule}{where}", SMALL, font_weight="bold")
        top += LINE
        for line in wrapped(found.finding.message, letters - int(indent / _LETTER) - 1):
            _text(item, indent, top + 12.0, line)
            top += LINE
        top += PAD
    for caution in drawing.cautions:
        for line in wrapped(f"Caution: {caution}", letters):
            _text(group, PAD, top + 12.0, line, SMALL, font_weight="bold")
            top += LINE
        top += PAD
    return top
