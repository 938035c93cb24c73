"""Where each part of a document stands in its text."""

from collections.abc import Mapping
from typing import ClassVar, NamedTuple

from ventrules.engine import Path, Position


class Mark(NamedTuple):
    """A line and a column, from 1."""

    line: int
    column: int


class Marks:
    """Marks of every key and every value of a document."""

    def __init__(self) -> None:
        self._keys: dict[Path, Mark] = {}
        self._values: dict[Path, Mark] = {}

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Marks) and (self.keys, self.values) == (other.keys, other.values)

    __hash__: ClassVar[None]  # type: ignore[assignment]  # it is filled bit by bit

    @property
    def keys(self) -> Mapping[Path, Mark]:
        """Path to the mark of its key (list items: of the item)."""
        return self._keys

    @property
    def values(self) -> Mapping[Path, Mark]:
        """Path to the mark of its value."""
        return self._values

    def note(self, path: Path, key: Mark, value: Mark) -> None:
        """Record one key and its value."""
        self._keys[path] = key
        self._values[path] = value

    def position(self, file: str, path: Path, *, at_value: bool = False) -> Position | None:
        """Return the position of a path, or of its nearest parent that stands in the text."""
        table = self.values if at_value else self.keys
        for length in range(len(path), -1, -1):
            mark = (table if length == len(path) else self.keys).get(path[:length])
            if mark is not None:
                return Position(file, mark.line, mark.column)
        return None
