"""Where each part of a document stands in its text."""

from typing import NamedTuple

from attrs import Factory, frozen

from ventrules.engine import Path, Position


class Mark(NamedTuple):
    """A line and a column, from 1."""

    line: int
    column: int


@frozen
class Marks:
    """Marks of every key and every value of a document.

    Attributes:
        keys: Path to the mark of its key (list items: of the item).
        values: Path to the mark of its value.
    """

    keys: dict[Path, Mark] = Factory(dict)
    values: dict[Path, Mark] = Factory(dict)

    def note(self, path: Path, key: Mark, value: Mark) -> None:
        """Record one key and its value."""
        self.keys[path] = key
        self.values[path] = value

    def position(self, file: str, path: Path, *, at_value: bool = False) -> Position | None:
        """Return the position of a path, or of its nearest parent that stands in the text."""
        table = self.values if at_value else self.keys
        for length in range(len(path), -1, -1):
            mark = (table if length == len(path) else self.keys).get(path[:length])
            if mark is not None:
                return Position(file, mark.line, mark.column)
        return None
