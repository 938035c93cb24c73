"""Code files and the limits of common practice: read, checked, kept."""

import tomllib
from functools import cache
from typing import Final

from ventrules.codes import Code, CodeKind, Limits
from ventrules.files.problems import Problem
from ventrules.files.resources import code_names, packaged
from ventrules.files.shapes import structure
from ventrules.words import nearest

VERSION_KEY: Final = "ventrules-code"
VERSION: Final = 1


class CodeFileError(ValueError):
    """A code file that cannot be used, with every problem in it."""


@cache
def load_code(name: str) -> Code:
    """Return a packaged code by its name.

    Raises:
        CodeFileError: No such code, or its file is not sound.
    """
    if name not in code_names():
        close = nearest(name, code_names())
        raise CodeFileError(f"unknown code {name!r}" + (f"; nearest is {close!r}" if close else ""))
    return parse_code(packaged("codes", f"{name}.toml").read_text(encoding="utf-8"), f"{name}.toml")


def parse_code(text: str, name: str) -> Code:
    """Return the code in a TOML text.

    Raises:
        CodeFileError: It is not sound; every problem is listed.
    """
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise CodeFileError(f"{name}: not valid TOML: {error}") from error
    version = document.pop(VERSION_KEY, None)
    if version != VERSION or isinstance(version, bool):
        raise CodeFileError(f"{name}: expected `{VERSION_KEY} = {VERSION}`")
    outcome = structure(document, Code)
    problems = outcome if isinstance(outcome, list) else _inconsistencies(outcome)
    if problems or isinstance(outcome, list):
        lines = "\n".join(f"{name}: {problem.where}: {problem.message}" for problem in problems)
        raise CodeFileError(lines)
    return outcome


def _inconsistencies(code: Code) -> list[Problem]:
    return [*_rate_inconsistencies(code), *_kind_inconsistencies(code)]


def _rate_inconsistencies(code: Code) -> list[Problem]:
    problems: list[Problem] = []
    table = code.rate.table
    if table is None and code.rate.equation is None:
        problems.append(Problem("expected a table, an equation or both", ("rate",)))
    if table is not None:
        rows, columns = len(table.area_limits) + 1, len(table.bedroom_limits) + 1
        if len(table.rates) != rows or any(len(row) != columns for row in table.rates):
            problems.append(Problem(f"expected {rows} rows of {columns} rates", ("rate", "table", "rates")))
        if list(table.bedroom_limits) != sorted(set(table.bedroom_limits)):
            problems.append(Problem("expected rising limits", ("rate", "table", "bedroom_limits")))
        areas = [area.m2 for area in table.area_limits]
        if areas != sorted(set(areas)):
            problems.append(Problem("expected rising limits", ("rate", "table", "area_limits")))
    return problems


def _kind_inconsistencies(code: Code) -> list[Problem]:
    problems: list[Problem] = []
    run = code.run_time
    if run is not None and (
        len(run.shares) != len(run.factors) or not run.shares or list(run.shares) != sorted(set(run.shares))
    ):
        problems.append(Problem("expected rising shares and one factor for each", ("run_time",)))
    elif run is not None and (0.0 in run.factors or list(run.factors) != sorted(run.factors, reverse=True)):
        problems.append(Problem("expected factors above 0 that do not rise with the share", ("run_time", "factors")))
    if run is not None and run.route is not None and run.route not in code.routes:
        problems.append(Problem(f"the code has no {run.route.value}", ("run_time", "route")))
    if not code.judged:
        problems.append(Problem("expected at least one occupancy", ("judged",)))
    if (code.kind is CodeKind.SEGMENT_FACTORS) != (run is not None):
        problems.append(Problem("segment-factors codes, and only they, have `run_time`", ("kind",)))
    if (code.kind is CodeKind.AVERAGE) != (code.window is not None):
        problems.append(Problem("average codes, and only they, have `window`", ("kind",)))
    return problems


@cache
def limits() -> Limits:
    """Return the packaged limits.

    Raises:
        CodeFileError: The packaged file is not sound.
    """
    document = tomllib.loads(packaged("", "limits.toml").read_text(encoding="utf-8"))
    outcome = structure(document, Limits)
    if isinstance(outcome, list):
        raise CodeFileError("\n".join(f"limits.toml: {p.where}: {p.message}" for p in outcome))
    return outcome
