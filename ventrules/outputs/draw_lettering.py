"""Letters in a picture: how wide text is, where it is broken, what stands for a finding."""

import unicodedata
from collections.abc import Sequence
from typing import Final

from ventrules.outputs.draw_marks import Mark
from ventrules.outputs.text import printable

TEXT: Final = 12.0
SMALL: Final = 11.0
LINE: Final = 16.0
MARK_HEIGHT: Final = 16.0
MARK_GAP: Final = 4.0
# 0.6 of their size in common monospaced fonts; some programs round that up to a whole px, 7 of 11 and 10 of 16
_CELL: Final = 0.64
_MARK_PAD: Final = 5.0
_MARK_LETTER: Final = 6.5


def cells(text: str) -> int:
    """Return how many letters wide a text is: East Asian wide ones count twice, combining ones not at all."""
    return sum(_cells(char) for char in text) if not text.isascii() else len(text)


def _cells(char: str) -> int:
    if unicodedata.combining(char) or unicodedata.category(char) == "Mn":
        return 0
    return 2 if unicodedata.east_asian_width(char) in {"W", "F"} else 1


def wide(text: str, size: float) -> float:
    """Return the width of a text in letters of a size."""
    return cells(printable(text)) * size * _CELL


def wrapped(text: str, most: int) -> tuple[str, ...]:
    """Return a text in lines of at most so many letters, made harmless; a longer word is broken."""
    lines = [""]
    for word in printable(text).split():
        if lines[-1] and cells(lines[-1]) + 1 + cells(word) > most:
            lines.append("")
        rest = word
        while cells(rest) > most:
            cut = _fitting(rest, most)
            lines[-1:] = [*filter(None, lines[-1:]), rest[:cut], ""]
            rest = rest[cut:]
        lines[-1] = f"{lines[-1]} {rest}".strip()
    return tuple(lines)


def _fitting(text: str, most: int) -> int:
    """Return how many characters fit, at least one."""
    used = 0
    for number, char in enumerate(text):
        used += _cells(char)
        if used > most:
            return max(number, 1)
    return len(text)


def mark_width(mark: Mark) -> float:
    """Return the width of the sign of a finding."""
    return max(MARK_HEIGHT, 2 * _MARK_PAD + _MARK_LETTER * len(str(mark.number)))


def marks_width(marks: Sequence[Mark]) -> float:
    """Return the width of signs in a row, with the gap after each."""
    return sum(mark_width(mark) + MARK_GAP for mark in marks)
