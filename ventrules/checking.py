"""Judge one job, or many."""

from collections.abc import Callable, Collection, Iterable, Iterator
from concurrent.futures import Executor, Future
from functools import cache, partial
from pathlib import Path as FilePath
from typing import Final, TypeAlias

import attrs
from attrs import frozen

from ventrules.engine import Pack, Registry, Report, load_packs, run
from ventrules.files import JobFileError, Problem, marks_of, read_job
from ventrules.job import Job
from ventrules.survey import Survey

Rules: TypeAlias = Registry[Survey]
_AHEAD: Final = 256  # files handed to an executor before the first outcome is waited for


@cache
def _loaded() -> tuple[Rules, tuple[Pack[Survey], ...]]:
    registry, packs = load_packs(Survey)
    return registry, tuple(packs)


def installed_rules() -> Rules:
    """Return the rules of every installed pack, ours among them."""
    return _loaded()[0]


def packs() -> tuple[Pack[Survey], ...]:
    """Return every installed pack that could be used."""
    return _loaded()[1]


def check(job: Job, *, registry: Rules | None = None) -> Report:
    """Return what the rules have to say about a job.

    Args:
        job: The job.
        registry: The rules to run; by default those of every installed pack.
    """
    registry = installed_rules() if registry is None else registry
    findings = run(registry, Survey(job))
    origin = job.origin
    if origin is not None and findings:
        marks = marks_of(origin.text, origin.name)
        findings = tuple(
            attrs.evolve(finding, position=marks.position(origin.name, finding.place.path)) for finding in findings
        )
    name = origin.name if origin is not None else ""
    return Report(job.title, name, findings, tuple(rule.id for rule in registry))


@frozen
class Outcome:
    """What came of one file: a report, or the problems that kept it from being read.

    Attributes:
        file: The file.
        report: The report, or None when the file could not be used.
        problems: What kept it from being used.
    """

    file: str
    report: Report | None = None
    problems: tuple[Problem, ...] = ()


def check_file(
    path: str | FilePath, *, outside: bool = False, only: Collection[str] = (), skip: Collection[str] = ()
) -> Outcome:
    """Return what came of checking one file; a file that cannot be used is an outcome, not an exception.

    Args:
        path: The file.
        outside: Whether the job's catalogs may lie outside its folder tree.
        only: Rule ids or families to run; empty for all.
        skip: Rule ids or families to leave out.

    Raises:
        RegistryError: `only` or `skip` names neither a rule nor a family.
    """
    registry = installed_rules().select(only, skip) if only or skip else installed_rules()
    try:
        job = read_job(path, outside=outside)
    except JobFileError as error:
        return Outcome(str(path), problems=error.problems)
    return Outcome(str(path), check(job, registry=registry))


def check_many(
    paths: Iterable[str | FilePath],
    *,
    executor: Executor | None = None,
    outside: bool = False,
    only: Collection[str] = (),
    skip: Collection[str] = (),
) -> Iterator[Outcome]:
    """Yield what came of each file, in the order given, as soon as it is known.

    Args:
        paths: The files.
        executor: Where to run; None runs here, one after the other.
        outside: Whether the jobs' catalogs may lie outside their folder trees.
        only: Rule ids or families to run; empty for all.
        skip: Rule ids or families to leave out.

    Raises:
        RegistryError: `only` or `skip` names neither a rule nor a family.
    """
    installed_rules().select(only, skip)
    work: Callable[[str | FilePath], Outcome] = partial(check_file, outside=outside, only=only, skip=skip)
    if executor is None:
        yield from map(work, paths)
        return
    waiting: list[Future[Outcome]] = []
    for path in paths:
        waiting.append(executor.submit(work, path))
        if len(waiting) >= _AHEAD:
            yield waiting.pop(0).result()
    for future in waiting:
        yield future.result()
