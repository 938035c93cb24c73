"""Policies from files: how they are read, and all that can be wrong with one."""

from collections.abc import Iterator, Mapping
from datetime import date, datetime, time
from pathlib import Path as FilePath
from typing import Final

import attrs

from ventrules.engine import Path, Position
from ventrules.engine.findings import Document
from ventrules.files import CodeFileError, DocumentError, JobFileError, Problem, Shelf, read_text
from ventrules.files.catalogs import beside, parse_catalog, placed_syntax
from ventrules.files.code_files import named_code
from ventrules.files.problems import ProblemKind, unknown
from ventrules.files.resources import catalog_names, code_names
from ventrules.files.schema_words import is_name
from ventrules.files.shapes import found, structure
from ventrules.files.toml_marks import toml_position
from ventrules.files.toml_text import load_toml
from ventrules.job import Origin
from ventrules.policy.accepting import ENGINE, no_such_rule
from ventrules.policy.finding import PYPROJECT
from ventrules.policy.installed import installed_rules
from ventrules.policy.limits import limit_problems, limits_text, merged_limits
from ventrules.policy.model import PolicyTable
from ventrules.policy.patterns import absolute, pattern_problem
from ventrules.policy.terms import Policy
from ventrules.words import clipped, nearest

VERSION_KEY: Final = "ventrules-policy"
VERSION: Final = 1
_IN_PYPROJECT: Final = ("tool", "ventrules")


def table_in(document: Mapping[str, Document]) -> Document:
    """Return the table `tool.ventrules` of a pyproject.toml, or None where it has none."""
    tool = document.get("tool")
    return tool.get("ventrules") if isinstance(tool, dict) else None


def read_policy(path: str | FilePath) -> Policy:
    """Return the policy in a file: a pyproject.toml by its table `tool.ventrules`, any other file as a whole.

    Args:
        path: The file.

    Raises:
        JobFileError: It cannot be read or is no sound policy, or a catalog or code that it names is not sound; every
            problem is listed with its place.
    """
    file = FilePath(path)
    origin = Origin(str(path), read_text(file))
    document: Document = loaded(origin.text, origin.name)
    inside: Path = ()
    if file.name == PYPROJECT and isinstance(document, dict):
        document, inside = table_in(document), _IN_PYPROJECT
        if not isinstance(document, dict):
            said = "no table [tool.ventrules]" if document is None else f"expected a table; found {found(document)}"
            raise JobFileError([Problem(said, inside, file=origin.name)])
    body = dict(document) if isinstance(document, dict) else {}
    problems = [*_versioned(body), *limit_problems(body.get("limits"))]
    plain = {key: _plain(value) for key, value in body.items()}
    written = body.get("limits")
    body = {key: _timeless(value) for key, value in body.items()}
    if "limits" in body:
        body["limits"] = merged_limits(written)
    table = structure(body, PolicyTable)
    if isinstance(table, list):
        raise JobFileError(_placed([*problems, *table], origin, inside))
    folder = absolute(file.parent)
    shelf, missing = _shelf(table, file.parent)
    if written is not None:
        shelf = attrs.evolve(shelf, limits=Origin(origin.name, limits_text(written)))
    problems += [*_problems(table), *missing]
    if problems:
        raise JobFileError(_placed(problems, origin, inside))
    return Policy(table, plain, origin, inside, folder, shelf)


def _plain(value: "Document | date") -> Document:
    """Return data with its days as text."""
    if isinstance(value, dict):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_plain(inner) for inner in value]
    return value.isoformat() if isinstance(value, date) else value


def _timeless(value: "Document | date | time") -> Document:
    """Return data with times of day, which no key takes, as text, so that they are found by what is written."""
    if isinstance(value, dict):
        return {key: _timeless(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_timeless(inner) for inner in value]
    if isinstance(value, (datetime, time)):
        return value.isoformat()
    return value  # type: ignore[return-value]  # a day is taken as it is, where one is wanted


def loaded(text: str, name: str) -> dict[str, Document]:
    """Return the document in a TOML text.

    Raises:
        JobFileError: It is none.
    """
    try:
        document: dict[str, Document] = load_toml(text)
    except DocumentError as problem:
        raise JobFileError([placed_syntax(problem, name)]) from problem
    return document


def _versioned(body: dict[str, Document]) -> Iterator[Problem]:
    version = body.pop(VERSION_KEY, VERSION)
    if version != VERSION or isinstance(version, bool):
        yield Problem(f"format version {found(version)} is not supported; expected {VERSION}", (VERSION_KEY,))


def _placed(problems: list[Problem], origin: Origin, inside: Path) -> list[Problem]:
    """Return problems with their positions, those of the policy file itself in the order of its lines."""
    done: list[Problem] = []
    for problem in problems:
        if problem.file:  # another file's problem, placed already
            done.append(problem)
            continue
        path = (*inside, *problem.path)
        position = toml_position(origin.text, origin.name, path) or Position(origin.name, 1, 1)
        done.append(attrs.evolve(problem, path=path, position=position, file=origin.name))
    return sorted(done, key=lambda p: (p.file != origin.name, p.position.line if p.position is not None else 0))


def _problems(table: PolicyTable) -> Iterator[Problem]:
    """Yield what is wrong with a policy of the right shape."""
    yield from _rule_problems(table)
    yield from _acceptance_problems(table)
    yield from _patterns(table.leave_out, ("leave_out",))
    named: list[tuple[str, Path]] = [(path, ("paths", number)) for number, path in enumerate(table.paths)]
    if table.baseline is not None:
        named.append((table.baseline, ("baseline",)))
    for path, at in named:
        if not path.strip() or "\0" in path:
            message = "expected a path relative to the policy's folder"
            yield Problem(message, at)
    if table.workers == 0:
        yield Problem("expected at least one", ("workers",))


def _rule_problems(table: PolicyTable) -> Iterator[Problem]:
    """Yield packs, rules and families that do not exist; of a pack that failed it is not known which rules it has."""
    rules = installed_rules()
    packs = {*rules.packs.values(), *(str(failure.evidence.get("pack")) for failure in rules.failures)}
    if table.packs is not None:
        if not table.packs:
            message = "no rule would run; expected at least one pack, or leave it out"
            yield Problem(message, ("packs",))
        for number, pack in enumerate(table.packs):
            if pack not in packs:
                yield unknown("rule pack", pack, packs, ("packs", number), all_valid=True)
    names = {name for rule in rules for name in (rule.id, rule.family)}
    for name in table.severity:
        if name.startswith(ENGINE):
            message = "what the engine itself reports has a severity of its own"
            yield Problem(message, ("severity", name), at_key=True)
        elif name not in names and not rules.failures:
            close = nearest(name, names)
            hint = f"nearest is {close!r}" if close else "`ventrules rules` lists them"
            message = f"unknown rule or family {clipped(name)!r}; {hint}"
            yield Problem(message, ("severity", name), at_key=True, kind=ProblemKind.REFERENCE)


def _acceptance_problems(table: PolicyTable) -> Iterator[Problem]:
    rules = installed_rules()
    known = {rule.id for rule in rules}
    for number, acceptance in enumerate(table.accepted):
        at = ("accepted", number)
        engine = acceptance.rule.startswith(ENGINE)
        if engine or (acceptance.rule not in known and not rules.failures):
            yield Problem(no_such_rule(acceptance.rule, known), (*at, "rule"), kind=ProblemKind.REFERENCE)
        if not acceptance.reason.strip():
            yield Problem("says nothing; expected a reason", (*at, "reason"))
        yield from _patterns(acceptance.files, (*at, "files"))


def _patterns(patterns: tuple[str, ...], at: Path) -> Iterator[Problem]:
    for number, pattern in enumerate(patterns):
        wrong = pattern_problem(pattern)
        if wrong:
            yield Problem(f"{clipped(pattern)!r}: {wrong}", (*at, number))


def _shelf(table: PolicyTable, folder: FilePath) -> tuple[Shelf, list[Problem]]:
    """Return the catalogs and codes that a policy names, and what keeps some from being used."""
    problems: list[Problem] = []
    kept: dict[str, dict[str, Origin]] = {"catalog": {}, "code": {}}
    wanted = [("catalog", table.catalogs, catalog_names()), ("code", table.codes, code_names())]
    for what, named, packaged in wanted:
        for name, path in named.items():
            at = (f"{what}s", name)
            if name in packaged:
                message = f"a packaged {what} has this name; expected another"
                problems.append(Problem(message, at, at_key=True))
            elif not is_name(name):
                message = f"expected letters, digits, spaces, `-` and `+` in the name of a {what}"
                problems.append(Problem(message, at, at_key=True))
            else:
                try:
                    kept[what][name] = _text(what, path, folder, outside=table.catalogs_outside)
                except DocumentError as refused:
                    problems.append(Problem(refused.message, at, kind=ProblemKind.FILE))
                except (JobFileError, CodeFileError) as error:
                    problems.extend(_of_named(problem, at) for problem in error.problems)
    return Shelf(kept["catalog"], kept["code"]), problems


def _of_named(problem: Problem, at: Path) -> Problem:
    """Return a problem of a file that the policy names; of one that cannot be read at all, where it is named."""
    return problem if problem.position is not None else Problem(str(problem), at, kind=ProblemKind.FILE)


def _text(what: str, path: str, folder: FilePath, *, outside: bool) -> Origin:
    """Return the text of a catalog or code file, once it is known to be sound.

    Raises:
        DocumentError: It is no usable path, or lies outside the policy's folder though that is not allowed.
        JobFileError: The file cannot be read or is not sound.
    """
    there = beside(path, folder, what, outside=True)
    if not outside and not there.is_relative_to(folder.resolve()):
        raise DocumentError(
            f"{what} {clipped(path)!r} lies outside the policy's folder; allow it with `catalogs_outside = true`"
        )
    if what == "code":
        return named_code(path, folder, outside=True)
    origin = Origin(str(folder / path), read_text(there))
    parse_catalog(origin.text, origin.name)
    return origin
