"""What can be wrong with a file, said so that it can be mended."""

from collections.abc import Collection, Iterable
from enum import StrEnum
from typing import Final

from attrs import field, frozen

from ventrules.engine import Path, Position
from ventrules.words import clipped, listed, nearest, shown

_MOST_NAMES_SHOWN: Final = 12


class ProblemKind(StrEnum):
    """What sort of thing is wrong, for programs.

    FILE: it cannot be read, or not be used as such. SYNTAX: it is no document. SHAPE: a key, a type, a word or a
    number, as the published JSON Schema says. REFERENCE: something named is not there, or is not what it has to be.
    CONTRADICTION: values that do not go together.
    """

    FILE = "file"
    SYNTAX = "syntax"
    SHAPE = "shape"
    REFERENCE = "reference"
    CONTRADICTION = "contradiction"


@frozen
class Problem:
    """One problem in one file.

    Attributes:
        message: What was found and what was expected.
        path: The place inside the document; empty for the file as a whole.
        at_key: True when the key itself is at fault rather than its value.
        position: Line and column, where they are known.
        file: The file's name.
        kind: What sort of thing is wrong.
    """

    message: str
    path: Path = ()
    at_key: bool = False
    position: Position | None = None
    file: str = ""
    kind: ProblemKind = ProblemKind.SHAPE

    @property
    def where(self) -> str:
        """The place inside the document, as one phrase."""
        return " / ".join(shown(str(step)) for step in self.path)

    def __str__(self) -> str:
        place = str(self.position) if self.position else self.file
        return ": ".join(part for part in (place, self.where, self.message) if part)


def _in_order(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    return tuple(problems)


@frozen
class JobFileError(Exception):
    """A job or catalog file that cannot be used; it lists every problem found.

    Attributes:
        problems: The problems, in the order of the file.
    """

    problems: tuple[Problem, ...] = field(converter=_in_order)

    def __reduce__(self) -> tuple[object, ...]:
        """As of every exception; libraries that pickle those in ways of their own set attributes without it."""
        reduced: tuple[object, ...] = super().__reduce__()  # type: ignore[assignment]
        return reduced

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


def unknown(
    what: str, name: str, valid: Collection[str], path: Path, *, at_key: bool = False, all_valid: bool = False
) -> Problem:
    """Return the problem that a name does not exist, with those that do or the nearest of them.

    Args:
        what: What it should be the name of.
        name: The name.
        valid: The names that exist.
        path: Where it stands.
        at_key: Whether it is a key there, not a value.
        all_valid: Whether to list what exists even where one name is near.
    """
    hint = names_hint(name, valid, all_valid=all_valid)
    said = f"unknown {what} {clipped(name)!r}{hint}"
    return Problem(said, path, at_key=at_key, kind=ProblemKind.REFERENCE)


def names_hint(name: str, valid: Collection[str], *, all_valid: bool = False) -> str:
    """Return what to say of names that exist: the nearest, else some of them; all where that is asked for."""
    close = nearest(name, valid)
    if not valid:
        return "; there is none"
    names = [shown(known) for known in sorted(valid)[:_MOST_NAMES_SHOWN]]
    phrase = listed(names, "or") if len(names) == len(valid) else f"{', '.join(names)}, …"
    expected = f"; expected {phrase}" if all_valid or not close else ""
    return expected + (f"; nearest is {close!r}" if close else "")
