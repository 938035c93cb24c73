"""Where a key of a TOML text stands. The standard reader keeps no positions; tables and keys are found by line."""

import re
from typing import Final

from ventrules.engine import Path, Position

_HEADER: Final = re.compile(r"\s*+(\[\[?)([^\]]++)\]\]?\s*+(?:#.*)?$")  # takes no blank twice
_KEY: Final = re.compile(r"""\s*("[^"]*"|'[^']*'|[\w.-]+)\s*=""")


def toml_position(text: str, name: str, path: Path) -> Position | None:
    """Return where the deepest part of a path that has a line of its own stands, or None for the whole file.

    Args:
        text: The TOML text.
        name: The file's name.
        path: Keys and indices from the top.
    """
    best: tuple[int, Position] | None = None
    for depth, position in _lines(text, name, path):
        if best is None or depth > best[0]:
            best = depth, position
    return best[1] if best is not None else None


def _lines(text: str, name: str, path: Path) -> list[tuple[int, Position]]:
    """Return how much of the path each header or key on it covers, and where it stands."""
    counts: dict[tuple[str, ...], int] = {}
    found: list[tuple[int, Position]] = []
    here: Path = ()
    for number, line in enumerate(text.splitlines(), start=1):
        header = _HEADER.match(line)
        if header is not None:
            keys = _keys(header.group(2))
            here = keys
            if header.group(1) == "[[":
                here = (*keys, counts.get(keys, 0))
                counts[keys] = counts.get(keys, 0) + 1
            at = here
        else:
            key = _KEY.match(line)
            if key is None:
                continue
            at = (*here, *_keys(key.group(1)))
        if at and path[: len(at)] == at:
            column = len(line) - len(line.lstrip()) + 1
            found.append((len(at), Position(name, number, column)))
    return found


def _keys(dotted: str) -> tuple[str, ...]:
    return tuple(part.strip().strip("\"'") for part in re.findall(r"\"[^\"]*\"|'[^']*'|[^.]+", dotted))
