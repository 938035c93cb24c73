"""Catalogs: packaged by name, or files beside the job."""

from collections.abc import Collection, Mapping, Sequence
from functools import lru_cache
from pathlib import Path as FilePath

import attrs

from ventrules.engine import Path, Position
from ventrules.engine.findings import Document
from ventrules.files.bounds import MOST_IN_CATALOG, too_much
from ventrules.files.bus_files import bus_profile_problems, conductor_roles
from ventrules.files.problems import DocumentError, JobFileError, Problem, ProblemKind, unknown
from ventrules.files.resources import bus_profile_names, catalog_names, packaged
from ventrules.files.schema_bonds import all_broken_bonds
from ventrules.files.schema_words import CATALOG_PATH, matches
from ventrules.files.shapes import found, structure
from ventrules.files.shelf import NO_SHELF, Shelf
from ventrules.files.texts import decode, load_text, marks_of, read_text
from ventrules.job import BusProfile, Catalog, ConductorRole, Model, Port
from ventrules.words import clipped, listed, nearest, some_of

VERSION_KEY = "ventrules-catalog"
VERSION = 1
_MOST_STEPS = 1440  # a day in minutes


def read_catalog(path: FilePath) -> Catalog:
    """Return the catalog in a file.

    Raises:
        JobFileError: It cannot be read or is no catalog; every problem is listed.
    """
    return parse_catalog(read_text(path), str(path))


@lru_cache(maxsize=64)
def parse_catalog(text: str, name: str) -> Catalog:
    """Return the catalog in a text.

    Raises:
        JobFileError: It is no catalog; every problem is listed.
    """
    try:
        document = load_text(text, name)
    except DocumentError as problem:
        raise JobFileError((placed_syntax(problem, name),)) from problem
    said = too_much(document, MOST_IN_CATALOG, text)
    if said:
        raise JobFileError((Problem(f"{said} in one catalog", file=name, kind=ProblemKind.FILE),))
    outcome = _catalog(document)
    if isinstance(outcome, Catalog):
        return outcome
    raise JobFileError(placed(outcome, text, name))


@lru_cache(maxsize=64)
def packaged_catalog(name: str) -> Catalog:
    """Return a packaged catalog by its name."""
    file = f"{name}.yaml"
    return parse_catalog(decode(packaged("catalogs", file).read_bytes(), file), file)


def _catalog(document: Document) -> Catalog | list[Problem]:
    problems, body = versioned(document, VERSION_KEY, VERSION)
    if body is None:
        return problems
    outcome = structure(body, Catalog)
    if isinstance(outcome, list):
        return problems + outcome
    problems += all_broken_bonds(outcome)
    problems += [problem for name, model in outcome.models.items() for problem in _model_problems(name, model)]
    problems += _wiring_problems(outcome)
    return problems or outcome


def _wiring_problems(catalog: Catalog) -> list[Problem]:
    roles = {**conductor_roles(), **catalog.roles}
    profiles = {*bus_profile_names(), *catalog.profiles}
    problems = [
        unknown("conductor role", other, roles, ("roles", name, "meets", number))
        for name, role in catalog.roles.items()
        for number, other in enumerate(role.meets)
        if other not in roles
    ]
    for name, profile in catalog.profiles.items():
        problems += bus_profile_problems(profile, ("profiles", name))
    for name, model in catalog.models.items():
        for key, port in model.ports.items():
            problems += _port_problems(model, port, roles, profiles, ("models", name, "ports", key))
    return problems


def _port_problems(
    model: Model, port: Port, roles: Mapping[str, ConductorRole], profiles: Collection[str], at: Path
) -> list[Problem]:
    problems = [
        unknown("conductor role", role, roles, (*at, "terminals", terminal))
        for terminal, role in port.terminals.items()
        if role not in roles
    ]
    if port.profile is not None and port.profile not in profiles:
        problems.append(unknown("bus profile", port.profile, profiles, (*at, "profile")))
    if port.fed_from is not None and (port.fed_from not in model.ports or model.ports[port.fed_from] is port):
        others = [name for name, other in model.ports.items() if other is not port]
        problems.append(unknown("port", port.fed_from, others, (*at, "fed_from")))
    if port.window is not None and port.window.lowest.v > port.window.highest.v:
        problems.append(_contradiction("expected lowest at most highest", (*at, "window")))
    if port.gauges is not None and port.gauges.thinnest.m2 > port.gauges.thickest.m2:
        problems.append(_contradiction("expected thinnest no thicker than thickest", (*at, "gauges")))
    return problems


def _contradiction(message: str, path: Path) -> Problem:
    return Problem(message, path, kind=ProblemKind.CONTRADICTION)


def _model_problems(name: str, model: Model) -> list[Problem]:
    at = ("models", name)
    problems = []
    if model.programs and model.programs.step.s > model.programs.cycle.s:
        problems.append(_contradiction("the step must fit into the cycle", (*at, "programs")))
    if model.programs and model.programs.cycle.s > _MOST_STEPS * model.programs.step.s:
        problems.append(_contradiction(f"expected at most {_MOST_STEPS} steps in a cycle", (*at, "programs")))
    if model.filter_interval:
        span = model.filter_interval
        if not span.least.s <= span.usual.s <= span.most.s:
            problems.append(_contradiction("expected least, usual and most in rising order", (*at, "filter_interval")))
    if model.outdoor_limits and model.outdoor_limits.lowest.si >= model.outdoor_limits.highest.si:
        problems.append(_contradiction("expected lowest below highest", (*at, "outdoor_limits")))
    for number, group in enumerate(model.not_together):
        problems += [
            Problem(f"unknown port {clipped(port)!r}", (*at, "not_together", number), kind=ProblemKind.REFERENCE)
            for port in group
            if port not in model.ports
        ]
    return problems


def gather(
    names: Sequence[Document], folder: FilePath | None, *, outside: bool, shelf: Shelf = NO_SHELF
) -> tuple[Catalog, list[Problem]]:
    """Return several catalogs as one, and what is wrong with them.

    Args:
        names: Packaged names or paths relative to `folder`.
        folder: The job's folder; None when the job did not come from a file.
        outside: Whether a path may leave the job's folder tree.
        shelf: What jobs may name besides.
    """
    models: dict[str, Model] = {}
    roles: dict[str, ConductorRole] = {}
    profiles: dict[str, BusProfile] = {}
    problems: list[Problem] = []
    for number, name in enumerate(names):
        at = ("catalogs", number)
        if not isinstance(name, str):
            continue  # the shape check says so
        if name in names[:number]:
            problems.append(Problem(f"catalog {clipped(name)!r} stands here twice and repeats the models", at))
            continue
        try:
            catalog = _one(name, folder, shelf, outside=outside)
        except DocumentError as refused:
            problems.append(Problem(refused.message, at, kind=ProblemKind.REFERENCE))
            continue
        except JobFileError as error:
            problems.extend(error.problems)
            continue
        if len(names) == 1:
            return catalog.alone, problems
        repeated = [
            f"the {what} {some_of(twice)}"
            for what, mine, theirs in (
                ("models", models, catalog.models),
                ("conductor roles", roles, catalog.roles),
                ("bus profiles", profiles, catalog.profiles),
            )
            if (twice := sorted(mine.keys() & theirs.keys()))
        ]
        if repeated:
            problems.append(_contradiction(f"catalog {clipped(name)!r} repeats {', '.join(repeated)}", at))
        models.update(catalog.models)
        roles.update(catalog.roles)
        profiles.update(catalog.profiles)
    return Catalog("merged", models, roles=roles, profiles=profiles), problems


def _one(name: str, folder: FilePath | None, shelf: Shelf, *, outside: bool) -> Catalog:
    if name in catalog_names():
        return packaged_catalog(name)
    own = shelf.catalogs.get(name)
    if own is not None:
        return parse_catalog(own.text, own.name)
    names = (*catalog_names(), *shelf.catalogs)
    known = listed(names, "or")
    if folder is None or not matches(CATALOG_PATH, name):
        close = nearest(name, names)
        hint = f"; nearest is {close!r}" if close else ""
        raise DocumentError(
            f"unknown catalog {clipped(name)!r}; expected {known}, or a path to a .yaml or .json file{hint}"
        )
    path = beside(name, folder, "catalog", outside=outside)
    return parse_catalog(read_text(path, as_resolved=True), str(path))


def beside(name: str, folder: FilePath, what: str, *, outside: bool) -> FilePath:
    """Return the path of a file that a job names.

    Raises:
        DocumentError: It is no usable path, lies outside the job's folder tree though that is not allowed, or is
            no file.
    """
    try:
        root, path = folder.resolve(), (folder / name).resolve()
        odd = path.exists() and not path.is_file()
    except (OSError, ValueError, RuntimeError) as error:  # RuntimeError: a loop of links, before Python 3.13
        raise DocumentError(f"{clipped(name)!r} is not a usable path") from error
    if not outside and not path.is_relative_to(root):
        raise DocumentError(
            f"{what} {clipped(name)!r} lies outside the job's folder; allow it with --catalogs-outside "
            "(in Python: outside=True)"
        )
    if odd:
        raise DocumentError(f"{what} {clipped(name)!r} is no file")
    return path


def versioned(document: Document, key: str, version: int) -> tuple[list[Problem], dict[str, Document] | None]:
    """Return the body of a versioned document without its version key, and what is wrong with the head."""
    if not isinstance(document, dict):
        return [Problem(f"expected a mapping that starts with `{key}: {version}`; found {found(document)}")], None
    if key not in document:
        return [Problem(f"missing `{key}: {version}`, which says what the file is")], None
    if document[key] != version or isinstance(document[key], bool):
        said = found(document[key])
        return [Problem(f"format version {said} is not supported; expected {version}", (key,))], None
    body = dict(document)
    del body[key]
    return [], body


def placed_syntax(problem: DocumentError, name: str) -> Problem:
    """Return a syntax problem with its position."""
    position = Position(name, problem.line, problem.column) if problem.line else None
    return Problem(problem.message, problem.path, position=position, file=name, kind=ProblemKind.SYNTAX)


def placed(problems: list[Problem], text: str, name: str) -> list[Problem]:
    """Return problems with their positions, in the order of the file."""
    marks = marks_of(text, name)
    done = []
    for problem in problems:
        if problem.file:  # another file's problem, placed already
            done.append(problem)
            continue
        position = marks.position(name, problem.path, at_value=not problem.at_key)
        done.append(attrs.evolve(problem, position=position, file=name))
    done.sort(key=_in_file_order)
    return done


def _in_file_order(problem: Problem) -> tuple[str, int, int, str]:
    at = problem.position
    return (problem.file, at.line if at else 0, at.column if at else 0, problem.message)
