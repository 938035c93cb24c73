"""The files that `--output FORMAT=FILE` names: refused before anything is checked, or written whole."""

import os
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path as FilePath
from typing import Final, TextIO, TypeAlias

from attrs import frozen

from ventrules.bulk import Outcome
from ventrules.cli.standard import UnusableError
from ventrules.files import written_beside
from ventrules.files.finding import says_job
from ventrules.outputs import Closing, ReportWriter
from ventrules.outputs.formats import known_format

Maker: TypeAlias = Callable[[str, TextIO], ReportWriter]

_STANDARD: Final = "-"


@frozen
class _Output:
    """One `--output`: its format, and its file as it was named."""

    form: str
    path: FilePath


def opened(stack: ExitStack, outputs: Sequence[str], inputs: Sequence[str], make: Maker) -> list[ReportWriter]:
    """Return a writer for each `FORMAT=FILE`; the files take their names when the stack is left without an error.

    Args:
        stack: What closes the files.
        outputs: The options.
        inputs: The paths that are checked.
        make: What makes a writer of a format on a stream.

    Raises:
        UnusableError: No such format; the file cannot be written, is named twice, or would take the place of a job.
    """
    wanted = [_parsed(output) for output in outputs]
    for number, output in enumerate(wanted):
        _refuse(output, wanted[:number], inputs)
    return [_Writer(output.path, make, output.form, stack.enter_context(_file(output.path))) for output in wanted]


def _parsed(output: str) -> _Output:
    form, equals, name = output.partition("=")
    if not equals or not name:
        raise UnusableError(f"--output {output!r}: expected FORMAT=FILE, such as json=report.json")
    try:
        known_format(form)
    except ValueError as error:
        raise UnusableError(f"--output {output!r}: {error}") from error
    if name == _STANDARD:
        raise UnusableError(f"--output {output!r}: standard output is what --format {form} writes")
    return _Output(form, FilePath(name))


def _refuse(output: _Output, others: Sequence[_Output], inputs: Sequence[str]) -> None:
    """Say why a file cannot be written, or should not be, before anything is checked."""
    path = output.path
    try:
        if path.is_dir():
            raise _refused(path, "is a folder; expected a file in it")
        if not path.parent.is_dir():
            raise _refused(path, f"cannot be written: there is no folder {path.parent}")
        if path.exists() and not path.is_file():  # a pipe or a device takes what it gets
            return
        if path.exists() and not os.access(path, os.W_OK):  # renaming asks the folder only
            raise _refused(path, "cannot be written: it is write-protected")
        if any(_same(path, other.path) for other in others):
            raise _refused(path, "is written already; name another file for each format")
        if path.exists() and (_is_one_of(path, inputs) or says_job(path)):
            raise _refused(path, "is a job; what is written would take its place")
        if _is_standard(path):
            raise _refused(path, f"is standard output already; --format {output.form} writes there")
    except (OSError, ValueError, RuntimeError) as error:  # RuntimeError: a loop of links, before Python 3.13
        raise _unwritable(path, error) from error


def _same(one: FilePath, other: FilePath) -> bool:
    if one.resolve() == other.resolve():
        return True
    return one.exists() and other.exists() and one.samefile(other)


def _is_one_of(path: FilePath, names: Sequence[str]) -> bool:
    found = path.stat()
    for name in names:
        with suppress(OSError, ValueError):  # what cannot be looked at is for the check to say
            if os.path.samestat(found, FilePath(name).stat()):
                return True
    return False


def _is_standard(path: FilePath) -> bool:
    """Say whether a file is what a standard stream is led to: taking its place would lose what is written there."""
    if not path.exists():
        return False
    for stream in (sys.stdout, sys.stderr):
        with suppress(OSError, ValueError):  # a stream without a file behind it
            if os.path.samestat(path.stat(), os.fstat(stream.fileno())):
                return True
    return False


@contextmanager
def _file(path: FilePath) -> Iterator[TextIO]:
    """Open a file that takes its name when all is written; what goes wrong with it is said with its name."""
    with ExitStack() as stack:
        try:
            stream = stack.enter_context(written_beside(path, errors="backslashreplace"))
        except (OSError, ValueError) as error:
            raise _unwritable(path, error) from error
        try:
            yield stream
        except UnusableError:
            with suppress(OSError):  # what was held back has no place to go either, and it was said why
                stack.__exit__(*sys.exc_info())
            raise
        try:
            stack.close()
        except OSError as error:
            raise _unwritable(path, error) from error


class _Writer:
    """A writer that says which file it was when it cannot be written."""

    def __init__(self, path: FilePath, make: Maker, form: str, stream: TextIO) -> None:
        self._path = path
        self._stream = stream
        with self._named():
            self._writer = make(form, stream)

    def write(self, outcome: Outcome) -> None:
        """Write what came of one job."""
        with self._named():
            self._writer.write(outcome)

    def close(self, closing: Closing) -> None:
        """Write what stands after the last outcome; all of it, so that no file takes its name if one cannot be."""
        with self._named():
            self._writer.close(closing)
            self._stream.flush()

    @contextmanager
    def _named(self) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            raise _unwritable(self._path, error) from error


def _refused(path: FilePath, why: str) -> UnusableError:
    return UnusableError(f"--output: {path} {why}")


def _unwritable(path: FilePath, error: OSError | ValueError | RuntimeError) -> UnusableError:
    reason = error.strerror if isinstance(error, OSError) else None
    return _refused(path, f"cannot be written: {reason or error}")
