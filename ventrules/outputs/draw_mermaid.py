"""The bus graph as Mermaid text: a flowchart that many editors and wikis draw."""

import re
import textwrap
from collections.abc import Iterator, Sequence
from typing import Final

from ventrules.job import BusKind
from ventrules.outputs.draw_marks import Drawing, DrawnCable, Mark, Spot
from ventrules.outputs.text import printable
from ventrules.survey import DeviceView

_LINK: Final = {BusKind.SYSTEM: "---", BusKind.VENTILATOR: "-.-", BusKind.CONTACT: "---", BusKind.POWER: "==="}
_MIXED_LINK: Final = "---"
_DASHES: Final = {BusKind.CONTACT: "stroke-dasharray:2 5", None: "stroke-dasharray:12 4 2 4"}
_WIDTH: Final = 60
# what Mermaid, or the HTML that it makes of a label, would take for something else; its own codes stand for them
_ESCAPED: Final = re.compile(r"[^\w \-+.,:()/'=→]")


def mermaid(drawing: Drawing) -> str:
    """Return the bus graph as Mermaid text.

    System bus solid, ventilator bus dashed, power thick, contact dotted; devices with a finding have a thick outline,
    those that take part in one a dashed outline, and both say its number.
    """
    survey = drawing.survey
    ids = {device.name: f"d{number}" for number, device in enumerate(survey.devices, start=1)}
    lines = ["flowchart LR"]
    lines += [f"  {ids[device.name]}[{_device(drawing, device)}]" for device in survey.devices]
    for cable in drawing.cables:
        start, end = (ids[port.device] for port in cable.view.ends)
        link = _LINK[cable.kind] if cable.kind is not None else _MIXED_LINK
        lines.append(f"  {start} {link}|{_cable(drawing, cable)}| {end}")
    lines += _styles(drawing, ids)
    lines += _findings(drawing)
    return "\n".join(lines) + "\n"


def _quoted(parts: Sequence[str]) -> str:
    """Return lines as one quoted label."""
    return '"' + "<br/>".join(_escaped(part) for part in parts if part) + '"'


def _escaped(text: str) -> str:
    return _ESCAPED.sub(lambda found: f"#{ord(found.group())};", printable(text))


def _device(drawing: Drawing, device: DeviceView) -> str:
    role = device.model.role.value.replace("-", " ")
    model = drawing.survey.job.devices[device.name].model
    return _quoted([device.name, model, role, _numbers(_all_marks(drawing, device))])


def _all_marks(drawing: Drawing, device: DeviceView) -> list[Mark]:
    """Return what is marked at a device and at its ports."""
    spots = [Spot(device.name), *(Spot(device.name, port) for port in sorted(device.model.ports))]
    return [mark for spot in spots for mark in drawing.marks(spot)]


def _cable_marks(drawing: Drawing, cable: DrawnCable) -> list[Mark]:
    index = cable.view.index
    spots = [Spot(cable=index), *(Spot(cable=index, conductor=n) for n in range(len(cable.view.conductors)))]
    return [mark for spot in spots for mark in drawing.marks(spot)]


def _numbers(marks: Sequence[Mark]) -> str:
    numbers = sorted({mark.number for mark in marks})
    return f"finding{'s' if len(numbers) > 1 else ''} {', '.join(map(str, numbers))}" if numbers else ""


def _cable(drawing: Drawing, cable: DrawnCable) -> str:
    start, end = cable.view.ends
    size = ", ".join(text for text in cable.size_words if text)
    ports = f"{start.port} to {end.port}"
    return _quoted([f"{cable.label} {cable.kind_words}", ports, size, _numbers(_cable_marks(drawing, cable))])


def _styles(drawing: Drawing, ids: dict[str, str]) -> Iterator[str]:
    """Yield the outlines of devices and the line styles that have no arrow of their own."""
    own: list[str] = []
    part: list[str] = []
    for device in drawing.survey.devices:
        marks = _all_marks(drawing, device)
        if marks:
            (own if any(mark.own for mark in marks) else part).append(ids[device.name])
    for name, style, members in (("found", "stroke-width:4px", own), ("part", "stroke-dasharray:6 3", part)):
        if members:
            yield f"  classDef {name} {style}"
            yield f"  class {','.join(members)} {name}"
    for number, cable in enumerate(drawing.cables):
        if cable.kind in _DASHES:
            yield f"  linkStyle {number} {_DASHES[cable.kind]}"


def _findings(drawing: Drawing) -> Iterator[str]:
    if not drawing.findings:
        return
    yield '  subgraph findings["Findings"]'
    for found in drawing.findings:
        head = f"{found.number}: {found.label}: {found.finding.rule}"
        label = _quoted([head, *textwrap.wrap(found.finding.message, _WIDTH)])
        yield f"    f{found.number}[{label}]"
    for number, caution in enumerate(drawing.cautions, start=1):
        yield f"    c{number}[{_quoted(textwrap.wrap(f'Caution: {caution}', _WIDTH))}]"
    yield "  end"
