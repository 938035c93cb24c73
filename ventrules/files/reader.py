"""Jobs from files, text or plain data."""

from collections.abc import Collection, Mapping
from pathlib import Path as FilePath
from typing import Final

import attrs

from ventrules.engine.findings import Document
from ventrules.files.bounds import MOST_IN_JOB, MOST_MODES, MOST_PROBLEMS, too_much
from ventrules.files.catalogs import gather, placed, placed_syntax, versioned
from ventrules.files.code_files import CODE_SUFFIX, named_code
from ventrules.files.problems import DocumentError, JobFileError, Problem, ProblemKind
from ventrules.files.references import reference_problems
from ventrules.files.shapes import structure
from ventrules.files.shelf import NO_SHELF, Shelf
from ventrules.files.texts import load_text, read_text, refuse_half_pairs
from ventrules.job import Catalog, Job, Origin

VERSION_KEY: Final = "ventrules"
VERSION: Final = 1


def read_job(path: str | FilePath, *, outside: bool = False, shelf: Shelf = NO_SHELF) -> Job:
    """Return the job in a file (YAML 1.2 or JSON).

    Args:
        path: The file.
        outside: Whether the job's catalogs may lie outside its folder tree.
        shelf: What it may name besides what is packaged, such as `Policy.shelf`.

    Raises:
        JobFileError: It cannot be read or is no sound job; every problem is listed with its place.
    """
    file = FilePath(path)
    return parse_job(read_text(file), name=str(path), folder=file.parent, outside=outside, shelf=shelf)


def parse_job(
    text: str,
    *,
    name: str = "<text>",
    folder: FilePath | None = None,
    outside: bool = False,
    shelf: Shelf = NO_SHELF,
) -> Job:
    """Return the job in a text (YAML 1.2 or JSON).

    Args:
        text: The text.
        name: What to call it in messages; a name ending in `.json` is read as JSON only.
        folder: Where the paths of its catalogs start; None allows packaged catalogs only.
        outside: Whether those paths may leave the folder.
        shelf: What it may name besides what is packaged.

    Raises:
        JobFileError: It is no sound job; every problem is listed with its place.
    """
    try:
        document = load_text(text, name)
    except DocumentError as problem:
        raise JobFileError((placed_syntax(problem, name),)) from problem
    _refuse_too_much(document, name, text)
    outcome = _job(document, folder, shelf, outside=outside, origin=Origin(name, text))
    if isinstance(outcome, list):
        raise JobFileError(placed(outcome, text, name))
    return outcome


def job_from_document(
    document: Mapping[str, Document],
    *,
    folder: FilePath | None = None,
    outside: bool = False,
    shelf: Shelf = NO_SHELF,
) -> Job:
    """Return the job in plain data, as `json.loads` gives it.

    Args:
        document: The data; it is not kept and not changed.
        folder: Where the paths of its catalogs start; None allows packaged catalogs only.
        outside: Whether those paths may leave the folder.
        shelf: What it may name besides what is packaged.

    Raises:
        JobFileError: It is no sound job; every problem is listed.
    """
    whole = dict(document)
    _refuse_too_much(whole, "")
    try:
        refuse_half_pairs(whole)
    except DocumentError as problem:
        raise JobFileError((placed_syntax(problem, ""),)) from problem
    outcome = _job(whole, folder, shelf, outside=outside)
    if isinstance(outcome, list):
        raise JobFileError(outcome)
    return outcome


def _refuse_too_much(document: Document, name: str, text: str | None = None) -> None:
    said = too_much(document, MOST_IN_JOB, text)
    modes = document.get("modes") if isinstance(document, dict) else None
    if isinstance(modes, dict) and len(modes) > MOST_MODES:
        said = f"more than {MOST_MODES:,} modes"
    if said:
        raise JobFileError((Problem(f"{said} in one job", file=name, kind=ProblemKind.FILE),))


def rebuilt(document: Mapping[str, Document], job: Job) -> Job:
    """Return the job of a changed document, with the catalog of the job it came from.

    Raises:
        JobFileError: The changed document is no sound job.
    """
    own = (job.target.code,) if job.code_file is not None and job.target.code is not None else ()
    outcome = _with_models(dict(document), job.catalog, [], codes=own)
    if isinstance(outcome, list):
        raise JobFileError(outcome)
    same_code = outcome.target.code == job.target.code
    if job.limits_file is None and not (same_code and job.code_file is not None):
        return outcome
    return attrs.evolve(outcome, code_file=job.code_file if same_code else None, limits_file=job.limits_file)


def _job(
    document: Document, folder: FilePath | None, shelf: Shelf, *, outside: bool, origin: Origin | None = None
) -> Job | list[Problem]:
    catalog = Catalog("merged", {})
    problems: list[Problem] = []
    whole = True
    code_file: Origin | None = None
    if isinstance(document, dict):
        code_file, code_problems = _code_file(document, folder, shelf, outside=outside)
        listed = document.get("catalogs")
        if isinstance(listed, list):
            catalog, problems = gather(listed, folder, outside=outside, shelf=shelf)
            whole = not problems and all(isinstance(name, str) for name in listed)
        else:
            whole = "catalogs" not in document
        problems = problems + code_problems
    outcome = _with_models(document, catalog, problems, origin, whole=whole, codes=shelf.codes)
    if isinstance(outcome, Job) and (code_file is not None or shelf.limits is not None):
        return attrs.evolve(outcome, code_file=code_file, limits_file=shelf.limits)
    return outcome


def _code_file(
    document: Mapping[str, Document], folder: FilePath | None, shelf: Shelf, *, outside: bool
) -> tuple[Origin | None, list[Problem]]:
    """Return the code file that the job's target names, by a path or as the shelf does, or what is wrong with it."""
    target = document.get("target")
    name = target.get("code") if isinstance(target, dict) else None
    if not isinstance(name, str):
        return None, []
    if not name.endswith(CODE_SUFFIX):
        return shelf.codes.get(name), []
    try:
        return named_code(name, folder, outside=outside), []
    except DocumentError as refused:
        return None, [Problem(refused.message, ("target", "code"), kind=ProblemKind.REFERENCE)]
    except JobFileError as error:
        return None, list(error.problems)


def _with_models(
    document: Document,
    catalog: Catalog,
    catalog_problems: list[Problem],
    origin: Origin | None = None,
    *,
    whole: bool = True,
    codes: Collection[str] = (),
) -> Job | list[Problem]:
    head_problems, body = versioned(document, VERSION_KEY, VERSION)
    if body is None:
        return head_problems
    problems = catalog_problems + reference_problems(body, catalog.models, whole=whole, codes=codes)
    outcome = structure(body, Job)
    if isinstance(outcome, list) or problems:
        return _told([*problems, *outcome] if isinstance(outcome, list) else problems)
    return attrs.evolve(outcome, catalog=catalog, origin=origin)


def _told(problems: list[Problem]) -> list[Problem]:
    """Return problems, with a word where they may not be all."""
    if len(problems) < MOST_PROBLEMS:
        return problems
    return [*problems, Problem(f"{MOST_PROBLEMS:,} problems or more; not all of them are told", kind=ProblemKind.FILE)]
