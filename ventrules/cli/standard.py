"""Standard input and output, as every command uses them."""

import os
import sys
from pathlib import Path as FilePath
from typing import Final

from ventrules.files import decode, parse_job
from ventrules.job import Job
from ventrules.outputs import Paper, PlainPaper, TerminalPaper

STDIN: Final = "-"
STDIN_NAME: Final = "<standard input>"
_PIPED_WIDTH: Final = 100
_WIDEST: Final = 10_000


def paper() -> Paper:
    """Return what to write on: the terminal, or a plain stream of the width that COLUMNS asks for."""
    return TerminalPaper() if sys.stdout.isatty() else PlainPaper(sys.stdout, _columns())


def _columns() -> int:
    """Return the width that COLUMNS asks for, or the usual one when it asks for nothing usable."""
    asked = os.environ.get("COLUMNS", "")
    return int(asked) if asked.isascii() and asked.isdecimal() and 0 < int(asked) < _WIDEST else _PIPED_WIDTH


def standard_input(*, outside: bool) -> Job:
    """Return the job on standard input; its paths start in the working folder.

    Args:
        outside: Whether they may leave it.

    Raises:
        JobFileError: It is no sound job; every problem is listed with its place.
    """
    text = decode(sys.stdin.buffer.read(), STDIN_NAME)
    return parse_job(text, name=STDIN_NAME, folder=FilePath.cwd(), outside=outside)
