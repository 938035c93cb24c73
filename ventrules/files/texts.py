"""Text in and out: limits, decoding, the choice between JSON and YAML, safe writing."""

import codecs
import errno
import os
import re
import stat
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path as FilePath
from typing import Final, TextIO

from ventrules.engine.findings import Document
from ventrules.files.json_marks import JsonMarks
from ventrules.files.json_text import load_json
from ventrules.files.marks import Marks
from ventrules.files.problems import DocumentError, JobFileError, Problem, ProblemKind
from ventrules.files.yaml_text import load_yaml

LARGEST_BYTES: Final = 16 * 1024 * 1024
_HALF_PAIR: Final = re.compile(r"\\[uU](?:0000)?[dD][89a-fA-F]")
_BRACKETS: Final = ("{", "[")


def read_text(path: FilePath, *, as_resolved: bool = False) -> str:
    """Return the text of a file.

    Args:
        path: The file.
        as_resolved: Whether the path has been resolved, and no link may have come into it since.

    Raises:
        JobFileError: It does not exist, is no regular file, cannot be read, is too large, or is not UTF-8.
    """
    try:
        _refuse_special(path, path.stat())
        with path.open("rb") as stream:
            opened = os.fstat(stream.fileno())
            _refuse_special(path, opened)  # what the path leads to may have changed since
            if as_resolved and not (path.resolve() == path and os.path.samestat(path.lstat(), opened)):
                raise _refused(path, "was changed while it was read")
            if not opened.st_size and os.name == "posix":  # some of what a system shows as files makes readers wait
                os.set_blocking(stream.fileno(), False)
            data: bytes | None = stream.read(LARGEST_BYTES + 1)
    except FileNotFoundError as error:
        raise _refused(path, "no such file") from error
    except (OSError, ValueError, RuntimeError) as error:  # RuntimeError: a loop of links, before Python 3.13
        reason = error.strerror if isinstance(error, OSError) else str(error)
        raise _refused(path, f"cannot be read: {reason}") from error
    return decode(data or b"", str(path))


def _refuse_special(path: FilePath, found: os.stat_result) -> None:
    """Refuse what is no regular file: a pipe or a device may keep a reader waiting, or never end."""
    if stat.S_ISDIR(found.st_mode):
        raise _refused(path, "is a folder; expected a file")
    if not stat.S_ISREG(found.st_mode):
        raise _refused(path, "is no regular file; a pipe is read as standard input, by the name -")


def decode(data: bytes, name: str) -> str:
    """Return bytes as text.

    Raises:
        JobFileError: More than 16 MiB, or not UTF-8.
    """
    if len(data) > LARGEST_BYTES:
        said = f"larger than {LARGEST_BYTES // 1024 // 1024} MiB"
        raise JobFileError((Problem(said, file=name, kind=ProblemKind.FILE),))
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        start = error.start + len(data) - len(error.object)  # a byte-order mark is not counted in
        line = data.count(b"\n", 0, start) + 1
        message = f"not UTF-8 text: byte 0x{data[start]:02x} on line {line}; save the file as UTF-8"
        raise JobFileError((Problem(message, file=name, kind=ProblemKind.SYNTAX),)) from error


def _refused(path: FilePath, message: str) -> JobFileError:
    return JobFileError((Problem(message, file=str(path), kind=ProblemKind.FILE),))


def _is_json(text: str, name: str) -> bool:
    return _named_json(name) or text.lstrip(" \t\r\n").startswith(_BRACKETS)


def _named_json(name: str) -> bool:
    return name.lower().endswith(".json")


def load_text(text: str, name: str) -> Document:
    """Return the document of a JSON or YAML text.

    Raises:
        DocumentError: It is neither.
    """
    if not text.strip():
        raise DocumentError("the file is empty", 1, 1)
    document = _load(text, name)
    if _HALF_PAIR.search(text):
        refuse_half_pairs(document)
    return document


def _load(text: str, name: str) -> Document:
    if _is_json(text, name):
        try:
            return load_json(text)
        except DocumentError as problem:
            if _named_json(name):
                raise
            try:  # YAML's flow style looks like JSON
                return load_yaml(text)
            except DocumentError:
                raise problem from None
    return load_yaml(text)


def refuse_half_pairs(document: Document) -> None:
    """Refuse text that cannot be encoded: half of a surrogate pair, written as an escape."""
    waiting: list[Document] = [document]
    while waiting:
        value = waiting.pop()
        if isinstance(value, dict):
            waiting.extend(value)
            waiting.extend(value.values())
        elif isinstance(value, list):
            waiting.extend(value)
        elif isinstance(value, str) and not value.isascii():
            try:
                value.encode()
            except UnicodeEncodeError as error:
                raise DocumentError("text with half of a surrogate pair (\\ud800 to \\udfff)") from error


def marks_of(text: str, name: str) -> Marks:
    """Return the position of every part of a text that has been read before; those of a broken one may be missing."""
    if _named_json(name):
        return JsonMarks(text)
    marks = Marks()
    try:
        if _is_json(text, name):
            try:
                load_json(text)
            except DocumentError:  # YAML's flow style looks like JSON
                load_yaml(text, marks)
            else:
                return JsonMarks(text)
        else:
            load_yaml(text, marks)
    except DocumentError:
        return Marks()
    return marks


@contextmanager
def written_beside(path: FilePath, *, errors: str = "strict") -> Iterator[TextIO]:
    """Open a file for writing so that the old one is never lost: the new one is beside it until all is written.

    When the block ends without an error it is renamed over the old one; mode bits survive. Else it is removed. What is
    no regular file, such as a pipe or a device, is written as it is.

    Args:
        path: The file.
        errors: What becomes of text that cannot be encoded, as `open` takes it.

    Raises:
        OSError: The folder or the file cannot be written; the old file is then as it was.
    """
    if path.exists() and not path.is_file():
        with path.open("w", encoding="utf-8", errors=errors, newline="") as stream:
            yield stream
        return
    path = path.resolve()  # a link stays a link; what it points to is rewritten
    handle, beside = tempfile.mkstemp(prefix=".ventrules-", dir=path.parent)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", errors=errors, newline="") as stream:
            yield stream
            stream.flush()
            os.fsync(stream.fileno())
        mode = path.stat().st_mode & 0o7777 if path.exists() else 0o666 & ~_umask()
        FilePath(beside).chmod(mode)
        FilePath(beside).replace(path)
    except BaseException:
        FilePath(beside).unlink(missing_ok=True)
        raise


def write_text(path: FilePath, text: str) -> None:
    """Write a file so that it is never lost, as `written_beside` does.

    Raises:
        OSError: The folder or the file cannot be written; the old file is then as it was.
    """
    with written_beside(path) as stream:
        stream.write(text)


def replace_text(path: FilePath, old: str, new: str) -> None:
    """Write a changed text over a file, as `write_text` does; a byte-order mark at its start survives.

    Args:
        path: The file, or a link to it.
        old: What `read_text` gave for it.
        new: What to write.

    Raises:
        JobFileError: It cannot be read, is no regular file, or holds something else by now.
        OSError: It is write-protected, or the folder or the file cannot be written; it is then as it was.
    """
    if not path.is_file():
        raise _refused(path, "is no regular file; nothing was written")
    if read_text(path) != old:
        raise _refused(path, "has changed since it was read; nothing was written")
    if not os.access(path, os.W_OK):  # renaming asks the folder only
        raise PermissionError(errno.EACCES, "is write-protected", str(path))
    with path.open("rb") as stream:
        marked = stream.read(len(codecs.BOM_UTF8)) == codecs.BOM_UTF8
    write_text(path, "\ufeff" + new if marked else new)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
