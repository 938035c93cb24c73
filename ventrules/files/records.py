"""JSON Lines: a job a line, read a line at a time."""

import codecs
from collections.abc import Iterator
from pathlib import Path as FilePath
from typing import IO, Final

from attrs import frozen

from ventrules.engine import Position
from ventrules.files.problems import Problem, ProblemKind
from ventrules.files.texts import LARGEST_BYTES

LINES_SUFFIXES: Final = frozenset({".jsonl", ".ndjson"})
_LINE_END: Final = b"\r\n"
_PIECE_BYTES: Final = 64 * 1024


@frozen
class Record:
    """One line of JSON Lines.

    Attributes:
        line: Its number, from 1; 0 when the file as a whole cannot be used.
        text: The line.
        problem: Why it cannot be used.
    """

    line: int
    text: str = ""
    problem: Problem | None = None


def read_records(path: FilePath) -> Iterator[Record]:
    """Yield the lines of a file but the blank ones; what cannot be read is yielded as a problem."""
    try:
        if path.exists() and not path.is_file():  # it may keep a reader waiting, or never end
            yield _unreadable(str(path), "is no regular file; a pipe is read as standard input, by the name -")
            return
        with path.open("rb") as stream:
            yield from records_in(stream, str(path))
    except FileNotFoundError:
        yield _unreadable(str(path), "no such file")
    except (OSError, ValueError) as error:
        yield _unreadable(str(path), f"cannot be read: {getattr(error, 'strerror', None) or error}")


def records_in(stream: IO[bytes], name: str) -> Iterator[Record]:
    """Yield the lines of a stream but the blank ones; a line that is no text is yielded as a problem.

    Args:
        stream: What to read; one line at most is held.
        name: What to call it.

    Raises:
        OSError: It cannot be read.
    """
    some, number = False, 0
    while data := stream.readline(LARGEST_BYTES + len(_LINE_END)):
        number += 1
        line = data.rstrip(_LINE_END)
        if number == 1:
            line = line.removeprefix(codecs.BOM_UTF8)
        if len(line) > LARGEST_BYTES:
            _pass_over(stream, data)
            message = f"the line is larger than {LARGEST_BYTES // 1024 // 1024} MiB"
            yield _refused(Problem(message, position=Position(name, number, 1), file=name, kind=ProblemKind.FILE))
        elif line.strip():
            yield _decoded(line, name, number)
        else:
            continue
        some = True
    if not some:
        yield _unreadable(name, "no job in it; expected a job on each line, as JSON")


def _pass_over(stream: IO[bytes], data: bytes) -> None:
    while data and not data.endswith(b"\n"):
        data = stream.readline(_PIECE_BYTES)


def _decoded(line: bytes, name: str, number: int) -> Record:
    try:
        return Record(number, line.decode("utf-8"))
    except UnicodeDecodeError as error:
        column = len(line[: error.start].decode("utf-8")) + 1
        message = f"not UTF-8 text: byte 0x{line[error.start]:02x}; save it as UTF-8"
        position = Position(name, number, column)
        return _refused(Problem(message, position=position, file=name, kind=ProblemKind.SYNTAX))


def _refused(problem: Problem) -> Record:
    return Record(problem.position.line if problem.position is not None else 0, problem=problem)


def _unreadable(name: str, message: str) -> Record:
    return _refused(Problem(message, file=name, kind=ProblemKind.FILE))
