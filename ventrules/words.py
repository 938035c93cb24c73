"""Words: closed lists of them, the nearest valid one, and several in a sentence as people write them."""

from collections.abc import Iterable, Sequence
from enum import StrEnum

_LONGEST_COMPARED = 80
_MOST_COMPARED = 200


class Word(StrEnum):
    """A word of a closed list that is the key of many a look-up: hashed as the text that it is.

    Enumerations are hashed by a method in Python, which takes several times as long.
    """

    __hash__ = str.__hash__


def nearest(name: str, valid: Iterable[str]) -> str | None:
    """Return the valid name that is most like `name`, or None when nothing is close.

    Args:
        name: What was written. Names past 80 characters are not compared: the cost is quadratic.
        valid: The names that would have been accepted; among more than 200 none is looked for.
    """
    if len(name) > _LONGEST_COMPARED:
        return None
    by_lower: dict[str, str] = {}
    for known in sorted(valid):
        by_lower.setdefault(known.lower(), known)
    if len(by_lower) > _MOST_COMPARED:
        return None
    from difflib import get_close_matches  # noqa: PLC0415 - wanted for a hint only

    close = get_close_matches(name.lower(), by_lower, n=1, cutoff=0.6)
    return by_lower[close[0]] if close else None


def listed(items: Iterable[str], joint: str = "and") -> str:
    """Return items as one phrase: `a`, `a and b`, `a, b and c`."""
    words = list(items)
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {joint} {words[-1]}"


def clipped(text: str, most: int = 60) -> str:
    """Return text short enough for a message, with the cut marked."""
    return text if len(text) <= most else text[: most - 1] + "…"


def some_of(names: Sequence[str], most: int = 3) -> str:
    """Return the first few of many names as one phrase, with the number of those left out."""
    first = [shown(name) for name in names[:most]]
    return listed(first if len(names) <= most else [*first, f"{len(names) - most} more"])


def shown(name: str) -> str:
    """Return a name for a message: clipped, on one line, with what does not print escaped."""
    text = clipped(name)
    return text if text.isprintable() else repr(text)[1:-1]
