"""What every command does alike: standard input and output, reading one job, refusing what cannot be used."""

import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path as FilePath
from typing import Final, NoReturn

import click

from ventrules.checking import Rules, installed_rules
from ventrules.engine import RegistryError
from ventrules.files import NO_SHELF, JobFileError, Problem, Shelf, decode, parse_job, read_job, replace_text
from ventrules.job import Job
from ventrules.outputs import Paper, PlainPaper, TerminalPaper, printable
from ventrules.policy import Policy, find_policy, rules_under
from ventrules.policy.finding import POLICY_FILE, PYPROJECT, has_table

FINDINGS: Final = 1
UNUSABLE: Final = 2

_POLICY: Final = "ventrules.policy"

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


def standard_input(*, outside: bool, shelf: Shelf = NO_SHELF) -> Job:
    """Return the job on standard input; its paths start in the working folder.

    Args:
        outside: Whether they may leave it.
        shelf: What the job may name besides.

    Raises:
        JobFileError: It is no sound job; every problem is listed with its place.
    """
    text = decode(sys.stdin.buffer.read(), STDIN_NAME)
    return parse_job(text, name=STDIN_NAME, folder=FilePath.cwd(), outside=outside, shelf=shelf)


class UnusableError(click.ClickException):
    """Input or usage that cannot be used."""

    exit_code = UNUSABLE

    def __init__(self, message: str) -> None:
        super().__init__(printable(message))


def spare_jobs(path: FilePath) -> None:
    """Refuse to write over a job; what cannot be looked at is for the writing to say.

    Raises:
        UnusableError: The file is a job.
    """
    from ventrules.files.finding import says_job  # noqa: PLC0415 - wanted by commands that write beside their output

    with suppress(OSError, ValueError):
        if path.is_file() and says_job(path):
            raise UnusableError(f"{path} is a job; what is written would take its place")


def note(message: str) -> None:
    """Write something worth knowing for people, made harmless, beside the output."""
    click.echo(f"Note: {printable(message)}", err=True)


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
        from ventrules.outputs.json_parts import unusable  # noqa: PLC0415 - brings the survey's words along

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
    policy = project_policy()
    shelf = policy.shelf if policy is not None else NO_SHELF
    outside = outside or (policy is not None and policy.table.catalogs_outside)
    try:
        if path == STDIN:
            return name, standard_input(outside=outside, shelf=shelf)
        return name, read_job(path, outside=outside, shelf=shelf)
    except JobFileError as error:
        refuse(kind, form, name, error.problems)


def project_policy() -> Policy | None:
    """Return the policy that the command line names, else the one found from the working folder; None of neither.

    One that cannot be used is told with all that is wrong with it, and ends the process.
    """
    meta = click.get_current_context().meta
    if _POLICY not in meta:
        meta[_POLICY] = None if meta.get("ventrules.no_policy") else _read_policy(meta.get("ventrules.policy_file"))
    found: object = meta[_POLICY]
    return found if isinstance(found, Policy) else None


def _read_policy(named: str | None) -> Policy | None:
    try:
        path = FilePath(named) if named is not None else find_policy()
        if path is None:
            return None
        from ventrules.policy import read_policy  # noqa: PLC0415 - most runs have none to read

        policy = read_policy(path if named is not None else from_here(path))
        other = path.with_name(PYPROJECT)
        if named is None and path.name == POLICY_FILE and has_table(other):
            note(f"{policy.file} is the policy; the table tool.ventrules of {from_here(other)} is not used")
    except JobFileError as error:
        for problem in error.problems:
            complain(str(problem))
        sys.exit(UNUSABLE)
    return policy


def from_here(path: FilePath) -> str:
    """Return a path as it is seen from the working folder; one on another drive, whole."""
    try:
        return os.path.relpath(path)
    except ValueError:
        return str(path)


def selected(only: Sequence[str], skip: Sequence[str], policy: Policy | None = None) -> Rules:
    """Return the rules that are asked for, as the policy has them.

    Raises:
        UnusableError: A name is neither a rule nor a family.
    """
    try:
        return rules_under(policy, installed_rules().select(only, skip), only)
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
