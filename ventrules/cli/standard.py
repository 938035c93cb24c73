"""What every command does alike: standard input and output, reading one job, refusing what cannot be used."""

import os
import sys
from collections.abc import Sequence
from pathlib import Path as FilePath
from typing import Final, NoReturn

import click

from ventrules.checking import Rules, installed_rules
from ventrules.engine import RegistryError
from ventrules.files import JobFileError, Problem, decode, parse_job, read_job, replace_text
from ventrules.job import Job
from ventrules.outputs import Paper, PlainPaper, TerminalPaper, printable
from ventrules.outputs.json_parts import unusable

FINDINGS: Final = 1
UNUSABLE: Final = 2

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


class UnusableError(click.ClickException):
    """Input or usage that cannot be used."""

    exit_code = UNUSABLE

    def __init__(self, message: str) -> None:
        super().__init__(printable(message))


def complain(message: str) -> None:
    """Write an error for people, made harmless."""
    click.echo(f"Error: {printable(message)}", err=True)


def refuse(kind: str, form: str, name: str, problems: Sequence[Problem]) -> NoReturn:
    """Say why nothing can be done, and leave.

    Args:
        kind: What was wanted of the file, such as `plan`.
        form: The output format.
        name: The file.
        problems: What is in the way.
    """
    if form == "json":
        click.echo(unusable(kind, name, problems), nl=False)
    for problem in problems:
        complain(str(problem))
    sys.exit(UNUSABLE)


def one_job(path: str, kind: str, form: str, *, outside: bool, write: bool = False) -> tuple[str, Job]:
    """Return what a job is called and the job itself; one that cannot be used is refused.

    Args:
        path: Its file, or - for standard input.
        kind: What is wanted of it, such as `plan`.
        form: The output format.
        outside: Whether its paths may leave its folder tree.
        write: Whether it is to be written, which standard input cannot be.
    """
    name = STDIN_NAME if path == STDIN else path
    if write and path == STDIN:
        refuse(kind, form, name, [Problem("cannot be written; --write needs a file", file=name)])
    try:
        return name, standard_input(outside=outside) if path == STDIN else read_job(path, outside=outside)
    except JobFileError as error:
        refuse(kind, form, name, error.problems)


def selected(only: Sequence[str], skip: Sequence[str]) -> Rules:
    """Return the rules that are asked for.

    Raises:
        UnusableError: A name is neither a rule nor a family.
    """
    try:
        return installed_rules().select(only, skip)
    except RegistryError as error:
        raise UnusableError(f"{error}; `ventrules rules` lists them") from error


def saved(name: str, old: str, new: str) -> str:
    """Write a changed text over a job's file; return why that was not possible, or nothing."""
    try:
        replace_text(FilePath(name), old, new)
    except JobFileError as error:
        return str(error)
    except OSError as error:
        return f"{name}: cannot be written: {error.strerror or error}"
    return ""
