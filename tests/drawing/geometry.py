"""Where things lie in a picture: checks that nothing lies on anything else."""

from collections.abc import Iterator
from itertools import combinations
from typing import Final

from ventrules.outputs.draw_boxes import Box, Picture, Run
from ventrules.outputs.draw_lettering import LINE, wide

Rectangle = tuple[float, float, float, float]
DUST: Final = 0.01


def overlap(one: Rectangle, other: Rectangle) -> bool:
    """Say whether two rectangles (left, top, right, bottom) share more than an edge."""
    return (
        one[0] < other[2] - DUST and other[0] < one[2] - DUST and one[1] < other[3] - DUST and other[1] < one[3] - DUST
    )


def of_box(box: Box) -> Rectangle:
    return (box.x, box.y, box.x + box.width, box.y + box.height)


def of_label(run: Run) -> Rectangle:
    """Return where the label of a cable stands: over its line, at the end where it is written."""
    y = run.points[0][1] if run.points[0][0] == run.points[-1][0] else run.points[-1][1]
    return (run.label_x, y - run.label.up, run.label_x + run.label.width, y + run.label.down)


def pieces(run: Run) -> Iterator[tuple[tuple[float, float], tuple[float, float]]]:
    """Yield the straight pieces of a cable that have a length."""
    for start, end in zip(run.points, run.points[1:], strict=False):
        if start != end:
            yield start, end


def through(piece: tuple[tuple[float, float], tuple[float, float]], area: Rectangle) -> bool:
    """Say whether a straight piece enters a rectangle (Liang and Barsky's clipping)."""
    (x, y), (to_x, to_y) = piece
    first, last = 0.0, 1.0
    left, top, right, bottom = area[0] + DUST, area[1] + DUST, area[2] - DUST, area[3] - DUST
    for step, room in ((x - to_x, x - left), (to_x - x, right - x), (y - to_y, y - top), (to_y - y, bottom - y)):
        if step == 0.0:
            if room < 0.0:
                return False
        elif step < 0.0:
            first = max(first, room / step)
        else:
            last = min(last, room / step)
    return first < last


def assert_clear(found: Picture) -> None:
    """Check that nothing lies on anything else."""
    boxes = {name: of_box(box) for name, box in found.boxes.items()}
    for one, other in combinations(boxes.values(), 2):
        assert not overlap(one, other)
    labels = [of_label(run) for run in found.runs]
    for one, other in combinations(labels, 2):
        assert not overlap(one, other)
    for number, run in enumerate(found.runs):
        assert not any(overlap(labels[number], box) for box in boxes.values())
        assert labels[number][2] <= found.width + DUST
        for piece in pieces(run):
            assert not any(through(piece, box) for box in boxes.values()), run
            assert not any(through(piece, label) for at, label in enumerate(labels) if at != number), run
    assert all(left > 0.0 and right <= found.width + DUST for left, _top, right, _bottom in boxes.values())
    assert all(top > 0.0 and bottom < found.height for _left, top, _right, bottom in boxes.values())


def assert_told_apart(found: Picture) -> None:
    """Check that no two cables end in one point, and that no two upright runs share one."""
    ends = [point for run in found.runs for point in (run.points[0], run.points[-1])]
    assert len(set(ends)) == len(ends)
    upright = [
        (start[0], *sorted((start[1], end[1])))
        for run in found.runs
        for start, end in pieces(run)
        if start[0] == end[0]
    ]
    for (x, top, bottom), (other_x, other_top, other_bottom) in combinations(upright, 2):
        assert x != other_x or bottom < other_top or other_bottom < top


def assert_letters_fit(found: Picture) -> None:
    for box in found.boxes.values():
        for line in box.lines:
            assert wide(line, 11.0) < box.width
        ports = [wide(port.name, 11.0) for port in box.ports]
        assert max(ports, default=0.0) < box.width
        tops = [box.y + port.top for port in box.ports]
        assert tops == sorted(tops)
        assert all(port.top >= LINE * len(box.lines) for port in box.ports)
        for port in box.ports:
            for pin in (*port.left, *port.right):
                assert port.top < pin.y < port.top + port.height <= box.height
