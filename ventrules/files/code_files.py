"""Code files, weather stations and the limits of common practice: read, checked, kept."""

import json
import tomllib
from collections.abc import Mapping
from functools import cache, lru_cache
from pathlib import Path as FilePath
from typing import Final, TypeVar

import attrs
from attrs import frozen

from ventrules.codes import Code, Limits, failed_examples
from ventrules.engine import Position
from ventrules.engine.findings import Document
from ventrules.files.catalogs import beside, placed_syntax
from ventrules.files.code_checks import inconsistencies
from ventrules.files.problems import DocumentError, JobFileError, Problem, ProblemKind
from ventrules.files.resources import code_names, packaged
from ventrules.files.shapes import structure
from ventrules.files.texts import read_text
from ventrules.files.toml_marks import toml_position
from ventrules.files.toml_text import load_toml
from ventrules.job import Origin
from ventrules.sources import Basis
from ventrules.units import Factor
from ventrules.words import clipped, nearest

VERSION_KEY: Final = "ventrules-code"
VERSION: Final = 1
CODE_SUFFIX: Final = ".toml"
T = TypeVar("T")


class CodeFileError(ValueError):
    """A code file that cannot be used.

    Attributes:
        problems: Everything that is wrong with it, each with its place.
    """

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__("\n".join(_line(problem) for problem in problems))
        self.problems = problems


def _line(problem: Problem) -> str:
    at = f"{problem.position}: " if problem.position is not None else f"{problem.file}: " if problem.file else ""
    inside = f"{problem.where}: " if problem.path else ""
    return f"{at}{inside}{problem.message}"


@cache
def load_code(name: str) -> Code:
    """Return a packaged code by its name.

    Raises:
        CodeFileError: No such code, or its file is not sound.
    """
    if name not in code_names():
        close = nearest(name, code_names())
        hint = f"nearest is {close!r}" if close else "`ventrules codes` lists them"
        raise CodeFileError((Problem(f"unknown code {name!r}; {hint}"),))
    return parse_code(packaged("codes", f"{name}{CODE_SUFFIX}").read_text(encoding="utf-8"), f"{name}{CODE_SUFFIX}")


@lru_cache(maxsize=128)
def parse_code(text: str, name: str) -> Code:
    """Return the code in a TOML text.

    Raises:
        CodeFileError: It is not sound; every problem is listed with its place.
    """
    try:
        document = load_toml(text)
    except DocumentError as error:
        raise CodeFileError((placed_syntax(error, name),)) from error
    version = document.pop(VERSION_KEY, None)
    if version != VERSION or isinstance(version, bool):
        raise CodeFileError((Problem(f"expected `{VERSION_KEY} = {VERSION}` at the top", file=name),))
    outcome = structure(document, Code)
    problems = outcome if isinstance(outcome, list) else inconsistencies(outcome)
    if problems or isinstance(outcome, list):
        raise CodeFileError(tuple(_placed(problem, text, name) for problem in problems))
    return outcome


def named_code(name: str, folder: FilePath | None, *, outside: bool) -> Origin:
    """Return the text of a code file that a job names by a path, once it is known to be sound.

    Args:
        name: A path relative to `folder`, ending in `.toml`.
        folder: The job's folder; None when the job did not come from a file.
        outside: Whether the path may leave the job's folder tree.

    Raises:
        DocumentError: The path cannot be used.
        JobFileError: The file cannot be read or is not sound; every problem is listed.
    """
    if folder is None:
        raise DocumentError(f"{clipped(name)!r} is a path, and the job is no file; name a packaged code")
    path = beside(name, folder, "code", outside=outside)
    text = read_text(path, as_resolved=True)
    shown = str(folder / name)
    try:
        failed = failed_examples(parse_code(text, shown))
    except CodeFileError as error:
        raise JobFileError(error.problems) from error
    if failed:
        raise JobFileError(
            Problem(f"does not reproduce its own {line}", ("examples",), file=shown, kind=ProblemKind.CONTRADICTION)
            for line in failed
        )
    return Origin(shown, text)


def _placed(problem: Problem, text: str, name: str) -> Problem:
    position: Position | None = toml_position(text, name, problem.path)
    return attrs.evolve(problem, position=position, file=name)


@frozen
class Station:
    """A weather station: its name, and the weather and shielding factor of its place."""

    name: str
    wsf: Factor


@frozen
class Stations:
    """Weather stations by WMO number."""

    basis: Basis
    stations: Mapping[str, Station]


@cache
def stations() -> Stations:
    """Return the packaged weather stations.

    Raises:
        CodeFileError: The packaged file is not sound.
    """
    return _packaged_table("stations.toml", Stations)


@cache
def limits() -> Limits:
    """Return the packaged limits.

    Raises:
        CodeFileError: The packaged file is not sound.
    """
    return _packaged_table("limits.toml", Limits)


@lru_cache(maxsize=16)
def parse_limits(text: str, name: str) -> Limits:
    """Return the limits in a JSON text that has all of them, as a project's policy is kept.

    Raises:
        CodeFileError: It is not sound.
    """
    outcome = structure(json.loads(text), Limits)
    if isinstance(outcome, list):
        raise CodeFileError(tuple(attrs.evolve(problem, file=name) for problem in outcome))
    return outcome


def packaged_limits() -> dict[str, Document]:
    """Return the packaged limits as plain data."""
    document: dict[str, Document] = tomllib.loads(packaged("", "limits.toml").read_text(encoding="utf-8"))
    return document


def _packaged_table(name: str, shape: type[T]) -> T:
    document = tomllib.loads(packaged("", name).read_text(encoding="utf-8"))
    document.pop("ventrules-stations", None)
    outcome = structure(document, shape)
    if isinstance(outcome, list):
        raise CodeFileError(tuple(attrs.evolve(problem, file=name) for problem in outcome))
    return outcome
