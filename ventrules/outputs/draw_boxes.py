"""The geometry of a picture: boxes in columns, their ports in rows, a pin for each end of a cable.

All lengths are in the picture's own unit, a px of SVG. Between two columns there is a channel: first the labels and
the runs of cables that join two devices of the column on its left, then slanting lines, then the labels of cables
that end in the column on its right. Each pin has a height of its own there, so that labels keep clear of each other
and of cables, and no cable enters a column.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Final

from attrs import Factory, define, frozen

from ventrules.outputs.draw_lettering import LINE, SMALL, TEXT, marks_width, wide, wrapped
from ventrules.outputs.draw_marks import Drawing, DrawnCable, Mark, Spot
from ventrules.survey import DeviceView, PortRef
from ventrules.survey.layout import Layout, layout_of

PAD: Final = 10.0
MARK_ROW: Final = 22.0
_WIDEST_NAME: Final = 36
_ROW: Final = 24.0
_PITCH: Final = 14.0
_GAP: Final = 30.0
_BAND_GAP: Final = 40.0
_LEAST_CHANNEL: Final = 40.0
_SLANT: Final = 56.0
_RUN: Final = 12.0
_LEAST_COLUMNS: Final = 4
_MARKS_WIDE: Final = 6


@frozen
class Label:
    """What stands at a cable: a line above it, lines below it, the numbers of findings on it.

    Attributes:
        above: Short name and gauge.
        below: Length.
        marks: Findings at the whole cable.
        wires: Findings at single conductors, each with the conductor in words.
    """

    above: str
    below: str
    marks: tuple[Mark, ...]
    wires: tuple[tuple[tuple[Mark, ...], str], ...]

    @property
    def width(self) -> float:
        """Its width."""
        texts = max(wide(self.above, SMALL), wide(self.below, SMALL))
        wires = max((marks_width(marks) + wide(words, SMALL) for marks, words in self.wires), default=0.0)
        return max(marks_width(self.marks) + texts, wires) + PAD

    @property
    def up(self) -> float:
        """Room that it needs above its line."""
        return LINE

    @property
    def down(self) -> float:
        """Room that it needs below its line."""
        return LINE + MARK_ROW * len(self.wires)


@define
class Pin:
    """One end of a cable at a port.

    Attributes:
        cable: The cable.
        label: Its label, where this end bears it.
        y: How far below the top of the box.
    """

    cable: DrawnCable
    label: Label | None
    y: float = 0.0


@define
class PortRow:
    """One port in its box; what leaves to the left and to the right, from top to bottom."""

    name: str
    marks: tuple[Mark, ...]
    left: list[Pin] = Factory(list)
    right: list[Pin] = Factory(list)
    top: float = 0.0
    height: float = _ROW


@define
class Box:
    """One device.

    Attributes:
        device: The device.
        column: Its column, from 0.
        lines: Its name, then its model and its role.
        names: How many of the lines are its name.
        marks: Rows of findings at the device.
        ports: Its ports.
        x: Its left side.
        y: Its top.
        width: Its width.
        height: Its height.
    """

    device: DeviceView
    column: int
    lines: tuple[str, ...]
    names: int
    marks: tuple[tuple[Mark, ...], ...]
    ports: tuple[PortRow, ...]
    x: float = 0.0
    y: float = 0.0
    width: float = 0.0
    height: float = 0.0

    @property
    def head(self) -> float:
        """Height of what stands above the ports."""
        return 1.3 * PAD + LINE * len(self.lines) + MARK_ROW * len(self.marks)


@frozen
class Run:
    """A cable in the picture: the corners of its line, and where its label begins."""

    cable: DrawnCable
    points: tuple[tuple[float, float], ...]
    label: Label
    label_x: float


@frozen
class Picture:
    """Boxes and cables with their places.

    Attributes:
        boxes: Every device, by name.
        runs: Every cable.
        loose_y: Where the devices without a cable begin; None where all have one.
        width: Width of it all.
        height: Height of it all.
    """

    boxes: Mapping[str, Box]
    runs: tuple[Run, ...]
    loose_y: float | None
    width: float
    height: float


def picture(drawing: Drawing) -> Picture:
    """Return where everything stands."""
    placed = layout_of(drawing.survey)
    boxes = {name: _box(drawing, name, column) for name, column in _columns(placed)}
    ends = _pinned(drawing, boxes, placed)
    for box in boxes.values():
        _measure(box)
    channels = _across(boxes, ends)
    height, loose_y = _down(boxes, placed, ends)
    tracks = _tracks(ends)
    runs = tuple(
        _run(cable, pair.end.label, pair, channels[pair.left.column], tracks.get(cable.label, 0))
        for cable in drawing.cables
        if (pair := ends[cable.label]).end.label is not None
    )
    right = max((channel.right for channel in channels), default=0.0)
    return Picture(boxes, runs, loose_y, right, height)


def _columns(placed: Layout) -> Iterator[tuple[str, int]]:
    """Yield each device with its column; devices without a cable go in rows."""
    for band in placed.bands:
        for number, column in enumerate(band):
            yield from ((name, number) for name in column)
    for number, name in enumerate(placed.loose):
        yield name, number % _loose_columns(placed)


def _loose_columns(placed: Layout) -> int:
    return max([_LEAST_COLUMNS, *map(len, placed.bands)])


def _box(drawing: Drawing, name: str, column: int) -> Box:
    device = drawing.survey.device(name)
    names = wrapped(name, _WIDEST_NAME)
    model = wrapped(drawing.survey.job.devices[name].model, _WIDEST_NAME)
    found = drawing.marks(Spot(name))
    marks = tuple(found[at : at + _MARKS_WIDE] for at in range(0, len(found), _MARKS_WIDE))
    ports = tuple(PortRow(port, drawing.marks(Spot(name, port))) for port in sorted(device.model.ports))
    role = device.model.role.value.replace("-", " ")
    return Box(device, column, (*names, *model, role), len(names), marks, ports)


def _label(drawing: Drawing, cable: DrawnCable) -> Label:
    gauge, length = cable.size_words
    index = cable.view.index
    wires = []
    for number, conductor in cable.wires:
        marks = drawing.marks(Spot(cable=index, conductor=number))
        if marks:
            wire = conductor.conductor
            wires.append((marks, f"{wire.start or 'nothing'} to {wire.end or 'nothing'}"))
    return Label(f"{cable.label} {gauge}".rstrip(), length, drawing.marks(Spot(cable=index)), tuple(wires))


@frozen
class Ends:
    """The two pins of a cable, the one that bears the label last, and the boxes that they are on."""

    start: Pin
    end: Pin
    left: Box
    right: Box

    @property
    def beside(self) -> bool:
        """True where both are on one column."""
        return self.left.column == self.right.column

    @property
    def heights(self) -> tuple[float, float]:
        """How far down the two pins are."""
        return self.left.y + self.start.y, self.right.y + self.end.y


def _pinned(drawing: Drawing, boxes: Mapping[str, Box], placed: Layout) -> Mapping[str, Ends]:
    """Put a pin on its port for both ends of each cable; return them by the cable's short name."""
    rank = {name: number for number, (name, _column) in enumerate(_columns(placed))}

    def place(port: PortRef) -> tuple[int, int, str]:
        return boxes[port.device].column, rank[port.device], port.port

    found: dict[str, Ends] = {}
    waiting: list[tuple[tuple[int, int, str], list[Pin], Pin]] = []
    for cable in drawing.cables:
        first, last = sorted(cable.view.ends, key=place)
        left, right = boxes[first.device], boxes[last.device]
        start, end = Pin(cable, None), Pin(cable, _label(drawing, cable))
        ends = Ends(start, end, left, right)
        waiting.append((place(last), _port(left, first).right, start))
        there = _port(right, last)
        waiting.append((place(first), there.right if ends.beside else there.left, end))
        found[cable.label] = ends
    for _other, pins, pin in sorted(waiting, key=lambda item: item[0]):
        pins.append(pin)
    return found


def _port(box: Box, ref: PortRef) -> PortRow:
    return next(port for port in box.ports if port.name == ref.port)


def _measure(box: Box) -> None:
    """Give a box its size, and its ports and pins their places within it."""
    texts = [wide(line, TEXT) for line in box.lines[: box.names]]
    texts += [wide(line, SMALL) for line in box.lines[box.names :]]
    texts += [marks_width(row) for row in box.marks]
    texts += [wide(port.name, SMALL) + marks_width(port.marks) + PAD for port in box.ports]
    box.width = max(texts) + 2 * PAD
    top = box.head
    for port in box.ports:
        port.top = top
        port.height = max(_ROW, _stacked(port.left, 0.0), _stacked(port.right, 0.0))
        for pins in (port.left, port.right):
            _stacked(pins, top + (port.height - _stacked(pins, 0.0)) / 2)
        top += port.height
    box.height = top + PAD / 2


def _stacked(pins: Sequence[Pin], top: float) -> float:
    """Put pins one below the other with room for their labels; return where they end."""
    for pin in pins:
        pin.y = top + (pin.label.up if pin.label is not None else _PITCH / 2)
        top = pin.y + (pin.label.down if pin.label is not None else _PITCH / 2)
    return top


@frozen
class Channel:
    """What lies between a column and the next.

    Attributes:
        left: The right side of its column.
        runs: Where the upright runs of cables within the column begin.
        labels: Where the labels of cables into the next column begin.
        right: The left side of the next column.
    """

    left: float
    runs: float
    labels: float
    right: float


def _across(boxes: Mapping[str, Box], ends: Mapping[str, Ends]) -> tuple[Channel, ...]:
    """Give boxes their x; return the channel on the right of each column."""
    channels: list[Channel] = []
    x = PAD
    count = max((box.column for box in boxes.values()), default=-1) + 1
    for column in range(count):
        inside = [box for box in boxes.values() if box.column == column]
        width = max(box.width for box in inside)
        for box in inside:
            box.x, box.width = x, width
        left = x + width
        beside = [pair for pair in ends.values() if pair.beside and pair.left.column == column]
        leaving = [pair for pair in ends.values() if not pair.beside and pair.left.column == column]
        runs = left + _widest(beside) + (_RUN if beside else 0.0)
        labels = runs + _RUN * len(beside) + (_SLANT if leaving else 0.0)
        right = labels + _widest(leaving)
        if column + 1 < count:
            right = max(right, left + _LEAST_CHANNEL)
        channels.append(Channel(left, runs, labels, right))
        x = right
    return tuple(channels)


def _widest(pairs: Iterable[Ends]) -> float:
    """Return the width of the widest label."""
    return max((pair.end.label.width for pair in pairs if pair.end.label is not None), default=0.0)


def _down(boxes: Mapping[str, Box], placed: Layout, ends: Mapping[str, Ends]) -> tuple[float, float | None]:
    """Give boxes their y, so that cables lie level where they can; return where all ends and where loose ones begin."""
    top = PAD
    for band in placed.bands:
        for number, column in enumerate(band):
            _settle([boxes[name] for name in column], ends if number else {})
        inside = [boxes[name] for column in band for name in column]
        shift = top - min(box.y for box in inside)
        for box in inside:
            box.y += shift
        top = max(box.y + box.height for box in inside) + _BAND_GAP
    loose_y = top if placed.loose else None
    top += LINE if placed.loose else 0.0
    across = _loose_columns(placed)
    for at in range(0, len(placed.loose), across):
        row = [boxes[name] for name in placed.loose[at : at + across]]
        for box in row:
            box.y = top
        top = max(box.y + box.height for box in row) + _GAP
    return top, loose_y


def _settle(column: Sequence[Box], ends: Mapping[str, Ends]) -> None:
    """Give the boxes of one column the heights that are nearest to those of what they are joined to on their left.

    Least squares with room between neighbors: isotonic regression, by pooling those that are too near.
    """
    wanted: dict[str, list[float]] = {}
    for pair in ends.values():
        if not pair.beside:
            wanted.setdefault(pair.right.device.name, []).append(pair.left.y + pair.start.y - pair.end.y)
    pools: list[tuple[float, int]] = []
    taken: list[float] = []
    used = 0.0
    for box in column:
        heights = wanted.get(box.device.name, [0.0])
        taken.append(used)
        mean, size = sum(heights) / len(heights) - used, 1
        while pools and pools[-1][0] > mean:
            other, many = pools.pop()
            mean, size = (mean * size + other * many) / (size + many), size + many
        pools.append((mean, size))
        used += box.height + _GAP
    levels = [mean for mean, size in pools for _box in range(size)]
    for box, level, room in zip(column, levels, taken, strict=True):
        box.y = level + room


def _tracks(ends: Mapping[str, Ends]) -> Mapping[str, int]:
    """Return the number of the upright run of each cable within a column: the shortest is nearest to the column."""
    found: dict[str, int] = {}
    used: dict[int, int] = {}
    lengths = {name: abs(pair.heights[0] - pair.heights[1]) for name, pair in ends.items() if pair.beside}
    for name in sorted(lengths, key=lambda name: (lengths[name], name)):
        column = ends[name].left.column
        found[name] = used.get(column, 0)
        used[column] = found[name] + 1
    return found


def _run(cable: DrawnCable, label: Label, pair: Ends, channel: Channel, number: int) -> Run:
    """Return the line of a cable: across the channel, or out, along and back beside its column."""
    start, end = pair.heights
    if pair.beside:
        track = channel.runs + _RUN * number
        corners = ((channel.left, end), (track, end), (track, start), (channel.left, start))
        return Run(cable, corners, label, channel.left + PAD)
    corners = ((channel.left, start), (channel.labels - _SLANT, start), (channel.labels, end), (channel.right, end))
    return Run(cable, corners, label, channel.labels)
