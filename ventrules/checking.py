"""Judge one job, or many."""

from collections import deque
from collections.abc import Callable, Collection, Iterable, Iterator
from concurrent.futures import Executor, Future
from functools import cache, partial
from pathlib import Path as FilePath
from typing import Final, TypeAlias

import attrs
from attrs import frozen

from ventrules.engine import Finding, Pack, Registry, Remedy, Report, Severity, load_packs, run
from ventrules.files import JobFileError, Problem, apply_edits, job_document, marks_of, read_job, rebuilt
from ventrules.job import Job
from ventrules.survey import Survey

Rules: TypeAlias = Registry[Survey]
_MOST_PROVED: Final = 20_000  # remedies times devices that `check` tries before it offers them
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


def applied(job: Job, remedy: Remedy) -> Job:
    """Return a new job with one remedy applied.

    Raises:
        JobFileError: The edits do not lead to a sound job.
        ValueError: The edits do not fit the job.
    """
    return rebuilt(apply_edits(job_document(job), remedy.edits), job)


def found_in(job: Job, registry: Rules) -> tuple[Finding, ...]:
    """Return what rules find in a job, without remedies."""
    return run(registry, Survey(job), remedies=False)


def new_errors(before: Iterable[Finding], after: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the errors after a change that were neither there nor unknown before."""
    old = {(finding.rule, finding.place.name) for finding in before}
    return tuple(
        f for f in after if f.severity is Severity.ERROR and not f.unchecked and (f.rule, f.place.name) not in old
    )


def keeps_promise(finding: Finding, before: Iterable[Finding], after: Iterable[Finding]) -> bool:
    """Say whether a remedy did what it promises: its finding is gone, and no new error has come."""
    after = tuple(after)
    return finding.fingerprint not in {f.fingerprint for f in after} and not new_errors(before, after)


def _proved(job: Job, findings: tuple[Finding, ...], registry: Rules) -> tuple[Finding, ...]:
    """Return the findings with only those remedies that keep their promise, each tried by itself."""
    offered = sum(finding.remedy is not None for finding in findings)
    if offered * len(job.devices) > _MOST_PROVED:
        return findings  # a very large job: `repair` tries each remedy when it applies it
    return tuple(
        finding
        if finding.remedy is None or _holds(job, finding, finding.remedy, findings, registry)
        else attrs.evolve(finding, remedy=None)
        for finding in findings
    )


def _holds(job: Job, finding: Finding, remedy: Remedy, findings: tuple[Finding, ...], registry: Rules) -> bool:
    try:
        better = applied(job, remedy)
    except (JobFileError, ValueError):
        return False
    return keeps_promise(finding, findings, found_in(better, registry))


def check(job: Job, *, registry: Rules | None = None) -> Report:
    """Return what the rules have to say about a job.

    A remedy is offered only when, applied by itself, it makes its finding go away and brings no new error.

    Args:
        job: The job.
        registry: The rules to run; by default those of every installed pack.
    """
    registry = installed_rules() if registry is None else registry
    findings = _proved(job, run(registry, Survey(job)), registry)
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
    """Return what came of each file, in the order given, each as soon as it and those before it are known.

    Stopping early cancels what has not begun.

    Args:
        paths: The files.
        executor: Where to run; None runs here, one after the other.
        outside: Whether the jobs' catalogs may lie outside their folder trees.
        only: Rule ids or families to run; empty for all.
        skip: Rule ids or families to leave out.

    Raises:
        RegistryError: `only` or `skip` names neither a rule nor a family; raised at once.
        BrokenExecutor: A worker of the executor died; raised while iterating.
    """
    installed_rules().select(only, skip)
    work: Callable[[str | FilePath], Outcome] = partial(check_file, outside=outside, only=only, skip=skip)
    return map(work, paths) if executor is None else _streamed(paths, work, executor)


def _streamed(
    paths: Iterable[str | FilePath], work: Callable[[str | FilePath], Outcome], executor: Executor
) -> Iterator[Outcome]:
    waiting: deque[Future[Outcome]] = deque()
    try:
        for path in paths:
            waiting.append(executor.submit(work, path))
            while waiting and (waiting[0].done() or len(waiting) >= _AHEAD):
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
    finally:
        for future in waiting:
            future.cancel()
