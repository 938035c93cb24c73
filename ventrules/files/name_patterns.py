"""Patterns of file names, as a shell has them: matches come one at a time, in order."""

import os
from collections.abc import Callable, Iterator, Sequence
from fnmatch import fnmatch
from itertools import takewhile
from pathlib import Path as FilePath
from typing import Final, TypeAlias

_SPECIAL: Final = frozenset("*?[")
_ANY_FOLDERS: Final = "**"
Complain: TypeAlias = Callable[[OSError], None]


def is_pattern(text: str) -> bool:
    """Say whether a path holds what only a pattern has."""
    return not _SPECIAL.isdisjoint(text)


def may_repeat(text: str) -> bool:
    """Say whether a pattern may match one file in several ways."""
    return FilePath(text).parts.count(_ANY_FOLDERS) > 1


def fixed_part(pattern: str) -> FilePath:
    """Return the folder below which a pattern is searched for."""
    return FilePath(*takewhile(lambda part: not is_pattern(part), FilePath(pattern).parts))


def matches(pattern: str, complain: Complain) -> Iterator[FilePath]:
    """Yield the paths that match, sorted within each folder.

    `*` and `?` stand for any part and any character of a name, `[…]` for one of some; `**` for any folders or none,
    without following links to folders, and behind it files only match. Hidden names match only what begins with a dot.

    Args:
        pattern: The pattern.
        complain: Called for each folder that cannot be listed.
    """
    path = FilePath(pattern)
    parts = path.parts
    anchor = (path.anchor,) if path.anchor else ()
    return _matches(FilePath(*anchor), parts[len(anchor) :], complain)


def _matches(folder: FilePath, parts: Sequence[str], complain: Complain) -> Iterator[FilePath]:
    first, rest = parts[0], parts[1:]
    if first == _ANY_FOLDERS:
        yield from _at_any_depth(folder, rest or ("*",), complain)
    elif not is_pattern(first):
        yield from _taken(folder / first, rest, complain)
    else:
        for name, _below in _entries(folder, complain):
            if fnmatch(name, first) and (first.startswith(".") or not name.startswith(".")):
                yield from _taken(folder / name, rest, complain)


def _taken(path: FilePath, rest: Sequence[str], complain: Complain) -> Iterator[FilePath]:
    if not rest:
        if os.path.lexists(path):
            yield path
    elif path.is_dir():
        yield from _matches(path, rest, complain)


def _at_any_depth(folder: FilePath, rest: Sequence[str], complain: Complain) -> Iterator[FilePath]:
    waiting = [folder]
    while waiting:
        here = waiting.pop()
        yield from (path for path in _matches(here, rest, complain) if not path.is_dir())
        below = [name for name, is_folder in _entries(here, complain) if is_folder and not name.startswith(".")]
        waiting += [here / name for name in reversed(below)]


def _entries(folder: FilePath, complain: Complain) -> list[tuple[str, bool]]:
    """Return the names in a folder, sorted, each with whether it is a folder and no link to one."""
    try:
        with os.scandir(folder) as entries:
            return sorted((entry.name, entry.is_dir(follow_symlinks=False)) for entry in entries)
    except OSError as error:
        complain(error)
        return []
