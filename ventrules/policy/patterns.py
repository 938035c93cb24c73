"""Patterns of files: which paths they name, relative to the folder of the policy."""

import os
import re
from collections.abc import Iterable, Iterator
from functools import lru_cache
from pathlib import Path as FilePath
from typing import Final

_WILD: Final = re.compile(r"[*?\[]")
_PART: Final = re.compile(r"\*\*/|\*\*|\*|\?|\[!?\]?[^\]]*\]|.", re.DOTALL)
_REPEATED: Final = re.compile(r"(?:\*\*/){2,}")
_CLASS_LEAST: Final = 3


def pattern_problem(pattern: str) -> str:
    """Return what is wrong with a pattern, in words, or nothing."""
    if not pattern.strip("/"):
        return "the pattern names nothing; expected one such as `lane/*.yaml`"
    if pattern.startswith("/") or "\\" in pattern or ".." in pattern.split("/"):
        return "expected a pattern relative to the policy's folder, with `/` between folders and without `..`"
    return ""


def is_plain(pattern: str) -> bool:
    """Say whether a pattern is the name of one file or folder."""
    return _WILD.search(pattern) is None


def matches(pattern: str, relative: str) -> bool:
    """Say whether a pattern names a path, or a folder on the way to it.

    Args:
        pattern: `*` and `?` stand for what is between two slashes, `**` for any folders, `[ab]` for one of some.
        relative: The path from the policy's folder, with `/` between folders.
    """
    return _compiled(pattern).match(relative) is not None


def any_match(patterns: Iterable[str], relative: str | None) -> bool:
    """Say whether one of some patterns names a path; what is not below the policy's folder, none does."""
    return relative is not None and any(matches(pattern, relative) for pattern in patterns)


def absolute(path: str | FilePath) -> FilePath:
    """Return a path from the root, without `..`; links stay links, since what counts is how files are called."""
    return FilePath(os.path.abspath(path))  # noqa: PTH100 - `resolve` follows links, and `absolute` keeps `..`


def below(folder: FilePath, file: str | FilePath) -> str | None:
    """Return the path of a file from a folder above it, with `/` between folders; None where it is not above."""
    try:
        return absolute(file).relative_to(folder).as_posix()
    except ValueError:
        return None


def relative(file: str, folder: FilePath) -> str:
    """Return the path of a file from any folder, with `/` between folders; what is no file is called as it is.

    Args:
        file: The file; names that begin with `<` are no files, such as that of standard input.
        folder: The folder, absolute.
    """
    if file.startswith("<"):
        return file
    try:
        return FilePath(os.path.relpath(file, folder)).as_posix()
    except ValueError:  # on another drive
        return FilePath(file).absolute().as_posix()


@lru_cache(maxsize=256)
def _compiled(pattern: str) -> re.Pattern[str]:
    plain = _REPEATED.sub("**/", pattern.removeprefix("./").strip("/"))
    body = "".join(_translated(plain))
    return re.compile(rf"{body}(?:/|\Z)", re.DOTALL)


def _translated(pattern: str) -> Iterator[str]:
    for found in _PART.finditer(pattern):
        part = found.group()
        if part == "**/":
            yield "(?:.*/)?"
        elif part == "**":
            yield ".*"
        elif part == "*":
            yield "[^/]*"
        elif part == "?":
            yield "[^/]"
        elif len(part) >= _CLASS_LEAST and part.startswith("["):
            inside = part[1:-1].removeprefix("!").replace("\\", "\\\\").replace("[", "\\[").replace("]", "\\]")
            yield f"[{'^/' if part[1] == '!' else ''}{inside}]" if inside else re.escape(part)
        else:
            yield re.escape(part)
