"""Pages for people on paper of any width: headings, labeled lines and tables that wrap."""

import textwrap
from collections.abc import Iterable, Sequence
from typing import Final

from ventrules.outputs.paper import Paper
from ventrules.outputs.text import printable

_NARROWEST: Final = 20
_INDENT: Final = 2
_GAP: Final = "  "
_LEAST_COLUMN: Final = 5


def plain(text: str) -> str:
    """Return text on one line, with everything that a terminal would obey made visible."""
    return printable(" ".join(text.split()))


class Sheet:
    """Writes a page; every text is made harmless on the way.

    Args:
        paper: What it is written on.
        label_width: Columns for the labels of labeled lines.
    """

    def __init__(self, paper: Paper, label_width: int = 11) -> None:
        self._paper = paper
        self._label_width = label_width

    def head(self, text: str) -> None:
        """Write a line that may begin with a path; it is never broken, so that it can be copied."""
        self._paper.line([(printable(text), "bold")])

    def blank(self) -> None:
        """Write an empty line."""
        self._paper.line([])

    def section(self, title: str) -> None:
        """Begin a section."""
        self.blank()
        self.lines(title, style="bold")

    def lines(self, text: str, indent: int = 0, style: str = "") -> None:
        """Write a text, wrapped."""
        for line in _wrapped(text, self._paper.width - indent):
            self._paper.line([(" " * indent, ""), (line, style)])

    def labeled(self, label: str, text: str) -> None:
        """Write a text beside its label; below it where the paper is narrow."""
        before = _INDENT + self._label_width + len(_GAP)
        if self._paper.width - before < _NARROWEST:
            self.lines(f"{label}: {text}" if label else text, _INDENT)
            return
        for number, line in enumerate(_wrapped(text, self._paper.width - before)):
            said = plain(label) if number == 0 else ""
            self._paper.line([(f"{' ' * _INDENT}{said:<{self._label_width}}{_GAP}", "dim"), (line, "")])

    def table(self, heads: Sequence[str], rows: Iterable[Sequence[str]], indent: int = 0) -> None:
        """Write a table whose cells wrap; where the paper is too narrow for it, each row as labeled lines.

        Args:
            heads: The heads of its columns.
            rows: Its rows; the last cell of a row with fewer cells than columns reaches to the right edge.
            indent: Columns that stay empty on the left.
        """
        written = [[plain(cell) for cell in row] for row in rows]
        widths = _widths([list(heads), *written], self._paper.width - indent)
        if widths is None:
            for row in written:
                self.lines(row[0], indent, "bold")
                for head, cell in zip(heads[1:], row[1:], strict=False):
                    self.lines(f"{head}: {cell}", indent + _INDENT)
            return
        self._row(heads, widths, indent, "bold")
        for row in written:
            self._row(row, widths, indent, "")

    def _row(self, cells: Sequence[str], widths: Sequence[int], indent: int, style: str) -> None:
        own = list(widths[: len(cells)])
        own[-1] += sum(len(_GAP) + width for width in widths[len(cells) :])
        columns = [_wrapped(cell, width) for cell, width in zip(cells, own, strict=True)]
        for number in range(max(map(len, columns))):
            line = _GAP.join(
                f"{column[number] if number < len(column) else '':<{width}}"
                for column, width in zip(columns, own, strict=True)
            )
            self._paper.line([(" " * indent + line.rstrip(), style)])


def _wrapped(text: str, width: int) -> list[str]:
    return textwrap.wrap(plain(text), max(width, _LEAST_COLUMN), break_on_hyphens=False) or [""]


def _widths(rows: Sequence[Sequence[str]], width: int) -> list[int] | None:
    """Return the widths of a table's columns, the widest made narrower until it fits; None where it cannot."""
    count = len(rows[0])
    whole = [row for row in rows if len(row) == count]
    wide = [max(len(row[column]) for row in rows if column < len(row) - (len(row) < count)) for column in range(count)]
    least = [max(len(word) for row in whole for word in row[column].split() or [""]) for column in range(count)]
    least[0] = wide[0]  # names are not broken
    wide = [max(both) for both in zip(wide, least, strict=True)]
    room = width - len(_GAP) * (count - 1)
    if sum(least) > room:
        return None
    while sum(wide) > room:
        widest = max((w, column) for column, w in enumerate(wide) if w > least[column])[1]
        wide[widest] -= 1
    return wide
