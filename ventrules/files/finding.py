"""Job files in folders."""

import os
import re
from collections.abc import Iterable, Iterator
from pathlib import Path as FilePath
from typing import Final

from attrs import frozen

_SUFFIXES: Final = frozenset({".yaml", ".yml", ".json"})
_HEAD_BYTES: Final = 64 * 1024
_IS_JOB: Final = re.compile(rb"""(?:^(?:\xef\xbb\xbf)?|[{,])\s*["']?ventrules["']?\s*:""", re.MULTILINE)


@frozen
class Found:
    """What a list of paths comes to.

    Attributes:
        files: The job files, in order; each once.
        left_out: Files of the right suffix, in folders, that do not say that they are jobs.
        empty: Folders in which there is no job file.
        unlisted: Folders that could not be listed.
    """

    files: tuple[FilePath, ...]
    left_out: tuple[FilePath, ...]
    empty: tuple[FilePath, ...]
    unlisted: tuple[FilePath, ...] = ()


def find_jobs(paths: Iterable[FilePath]) -> Found:
    """Return the job files among paths: files as named, folders searched below.

    In folders, a file counts when its suffix is .yaml, .yml or .json and it has the key `ventrules`.
    Hidden folders and files are passed over, and links to folders are not followed.
    """
    files: dict[FilePath, None] = {}
    left_out: dict[FilePath, None] = {}
    empty: dict[FilePath, None] = {}
    unlisted: list[FilePath] = []
    for path in paths:
        if not _is_folder(path):
            files[path] = None
            continue
        some = False
        for candidate in _below(path, unlisted):
            is_job = _says_job(candidate)
            some = some or is_job
            (files if is_job else left_out)[candidate] = None
        if not some:
            empty[path] = None
    return Found(tuple(files), tuple(left_out), tuple(empty), tuple(unlisted))


def _below(folder: FilePath, unlisted: list[FilePath]) -> Iterator[FilePath]:
    def skip(error: OSError) -> None:
        unlisted.append(FilePath(error.filename))

    for root, folders, names in os.walk(folder, onerror=skip):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in sorted(names):
            path = FilePath(root, name)
            if not name.startswith(".") and path.suffix.lower() in _SUFFIXES and _may_be_text(path):
                yield path


def _may_be_text(path: FilePath) -> bool:
    """Say whether a path is a file, or a link to nothing, which the reader reports; never a pipe or a device."""
    return path.is_file() or not path.exists()


def _is_folder(path: FilePath) -> bool:
    try:
        return path.is_dir()
    except OSError:
        return False  # let the reader say why the path cannot be used


def _says_job(path: FilePath) -> bool:
    try:
        with path.open("rb") as stream:
            return _IS_JOB.search(stream.read(_HEAD_BYTES)) is not None
    except OSError:
        return True  # let the reader say why it cannot be read
