"""Job files by name, by pattern and in folders, found one at a time so that a search of any size is held nowhere."""

import os
import re
from collections.abc import Iterable, Iterator, Sequence
from enum import StrEnum
from pathlib import Path as FilePath
from typing import Final

from attrs import frozen

from ventrules.files.name_patterns import fixed_part, is_pattern, matches, may_repeat
from ventrules.files.records import LINES_SUFFIXES

_SUFFIXES: Final = (".yaml", ".yml", ".json")
_IN_FOLDERS: Final = (*_SUFFIXES, *LINES_SUFFIXES)
_ARCHIVES: Final = frozenset(
    {".7z", ".bz2", ".gz", ".lz4", ".lzma", ".rar", ".tar", ".tbz2", ".tgz", ".txz", ".xz", ".z", ".zip", ".zst"}
)
_HEAD_BYTES: Final = 64 * 1024
_IS_JOB: Final = re.compile(
    # Takes no blank twice. A mapping is no version of a job: it is what a JSON Schema of jobs has there.
    rb"""(?:^(?:\xef\xbb\xbf)?[ \t\r]*+|[{,]\s*+)["']?ventrules["']?\s*+:(?!\s*+\{)""",
    re.MULTILINE,
)


class What(StrEnum):
    """What has been found at a path.

    JOB: a job file, as named or as found. LINES: a file with a job a line. LEFT_OUT: a file of the right suffix, in a
    folder, that does not say that it is a job. EMPTY: a folder in which there is no job. UNLISTED: a folder that cannot
    be listed. UNMATCHED: a pattern that matches nothing. ARCHIVE: a file named that would have to be unpacked. LED_OUT:
    a link that leads out of the folder in which it was found, which is not followed.
    """

    JOB = "job"
    LINES = "lines"
    LEFT_OUT = "left-out"
    EMPTY = "empty"
    UNLISTED = "unlisted"
    UNMATCHED = "unmatched"
    ARCHIVE = "archive"
    LED_OUT = "led-out"


_TO_CHECK: Final = frozenset({What.JOB, What.LINES})


@frozen
class Found:
    """One thing that a search has found.

    Attributes:
        path: Where.
        what: What it is.
    """

    path: FilePath
    what: What


def find_jobs(paths: Iterable[str | FilePath], *, lines: bool = False, look: bool = True) -> Iterator[Found]:
    """Yield what paths come to, one thing at a time, in the order of the paths: each file once.

    A file counts as it is named. A folder is searched below: a file counts when its suffix is .yaml, .yml, .json,
    .jsonl or .ndjson and it has the key `ventrules`; hidden folders and files are passed over. Links to folders are not
    followed, nor are links that lead out of the folder. A path that does not exist and has `*`, `?` or `[` is a
    pattern: `*` stands for any part of a name and `**` for any folders. What matches counts as if it were named, but
    for links that lead out of the folder in which the pattern begins.

    The names of one folder are held at a time, to be told in order; of several paths, the names of all files found.

    Args:
        paths: Files, folders and patterns.
        lines: Whether files named have a job a line whatever their suffix is.
        look: Whether to look for the key in the files of a folder; else all of the right suffix count.
    """
    given = tuple(paths)
    search = _Search(lines=lines, look=look, once=len(given) > 1 or any(may_repeat(str(path)) for path in given))
    for path in given:
        yield from search.of(path)


class _Search:
    def __init__(self, *, lines: bool, look: bool, once: bool) -> None:
        self._lines = lines
        self._look = look
        self._once = once
        self._told: dict[str, What] = {}

    def of(self, given: str | FilePath) -> Iterator[Found]:
        path = FilePath(given)
        if not (is_pattern(str(given)) and not os.path.lexists(path)):
            yield from self._named(path)
            return
        some, unlisted = False, list[OSError]()
        folder = fixed_part(str(given))
        for match in matches(str(given), unlisted.append):
            some = True
            if not _leads_out(match, folder):
                yield from self._named(match)
            elif _key(match) not in self._told:
                yield self._noted(match, What.LED_OUT)
        yield from _unlisted(unlisted)
        if not some and not unlisted:
            yield Found(path, What.UNMATCHED)

    def _named(self, path: FilePath) -> Iterator[Found]:
        if _is_folder(path):
            yield from self._searched(path)
        elif _key(path) not in self._told:
            yield self._noted(path, _named(path, lines=self._lines))

    def _noted(self, path: FilePath, what: What) -> Found:
        if self._once:
            self._told[_key(path)] = what
        return Found(path, what)

    def _found(self, path: FilePath) -> What:
        if self._look and not says_job(path):
            return What.LEFT_OUT
        return What.LINES if path.suffix.lower() in LINES_SUFFIXES else What.JOB

    def _searched(self, folder: FilePath) -> Iterator[Found]:
        some, unlisted = False, list[OSError]()
        for path in _below(folder, unlisted):
            before = self._told.get(_key(path))
            what = before or (What.LED_OUT if _leads_out(path, folder) else self._found(path))
            some = some or what in _TO_CHECK
            if before is None:
                yield self._noted(path, what)
        yield from _unlisted(unlisted)
        if not some and not unlisted:
            yield Found(folder, What.EMPTY)


def _key(path: FilePath) -> str:
    """Return what makes two names of a file one: the way from the root; a link has a name of its own."""
    return os.path.abspath(path)  # noqa: PTH100 - `resolve` follows links, and `absolute` keeps `..`


def _named(path: FilePath, *, lines: bool) -> What:
    suffix = path.suffix.lower()
    if suffix in _ARCHIVES and path.is_file():
        return What.ARCHIVE
    return What.LINES if lines or suffix in LINES_SUFFIXES else What.JOB


def _unlisted(errors: Sequence[OSError]) -> Iterator[Found]:
    folders = dict.fromkeys(FilePath(error.filename) for error in errors)
    return (Found(folder, What.UNLISTED) for folder in folders)


def _below(folder: FilePath, unlisted: list[OSError]) -> Iterator[FilePath]:
    for root, folders, names in os.walk(folder, onerror=unlisted.append):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        names.sort()
        for name in names:
            if not name.startswith(".") and name.lower().endswith(_IN_FOLDERS):
                path = FilePath(root, name)
                if _may_be_text(path):
                    yield path


def _may_be_text(path: FilePath) -> bool:
    """Say whether a path is a file, or a link to nothing, which the reader reports; never a pipe or a device."""
    return path.is_file() or not path.exists()


def _leads_out(path: FilePath, folder: FilePath) -> bool:
    """Say whether a path is a link to what is not below a folder."""
    try:
        return path.is_symlink() and not path.resolve().is_relative_to(folder.resolve())
    except (OSError, RuntimeError):  # RuntimeError: a loop of links, before Python 3.13
        return False  # let the reader say why the path cannot be used


def _is_folder(path: FilePath) -> bool:
    try:
        return path.is_dir()
    except (OSError, ValueError):
        return False  # let the reader say why the path cannot be used


def says_job(path: FilePath) -> bool:
    """Say whether a file has the key of a job near its beginning, or cannot be read, which the reader reports."""
    try:
        with path.open("rb") as stream:
            return _IS_JOB.search(stream.read(_HEAD_BYTES)) is not None
    except OSError:
        return True  # let the reader say why it cannot be read
