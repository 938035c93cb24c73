"""What can be wrong with a file, said so that it can be mended."""

from collections.abc import Iterable

from attrs import field, frozen

from ventrules.engine import Path, Position
from ventrules.words import shown


@frozen
class Problem:
    """One problem in one file.

    Attributes:
        message: What was found and what was expected.
        path: The place inside the document; empty for the file as a whole.
        at_key: True when the key itself is at fault rather than its value.
        position: Line and column, where they are known.
        file: The file's name.
    """

    message: str
    path: Path = ()
    at_key: bool = False
    position: Position | None = None
    file: str = ""

    @property
    def where(self) -> str:
        """The place inside the document, as one phrase."""
        return " / ".join(shown(str(step)) for step in self.path)

    def __str__(self) -> str:
        place = str(self.position) if self.position else self.file
        inside = f"{self.where}: " if self.path else ""
        return f"{place}: {inside}{self.message}"


def _in_order(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    return tuple(problems)


@frozen
class JobFileError(Exception):
    """A job or catalog file that cannot be used; it lists every problem found.

    Attributes:
        problems: The problems, in the order of the file.
    """

    problems: tuple[Problem, ...] = field(converter=_in_order)

    def __str__(self) -> str:
        return "\n".join(str(problem) for problem in self.problems)


class DocumentError(ValueError):
    """A text that is no document: broken syntax, a duplicate key, too deep, too large."""

    def __init__(self, message: str, line: int = 0, column: int = 0, path: Path = ()) -> None:
        super().__init__(message)
        self.message = message
        self.line = line
        self.column = column
        self.path = path
