"""Judge many jobs: files and texts, here or on any executor, each told as soon as it and those before it are known."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from concurrent.futures import Executor
from datetime import date
from functools import partial
from pathlib import Path as FilePath
from typing import IO, Final, TypeAlias

import attrs
from attrs import Factory, define, frozen

from ventrules.checking import Rules, checked, installed_rules
from ventrules.engine import Position, Report, Severity
from ventrules.files import (
    NO_SHELF,
    JobFileError,
    Problem,
    ProblemKind,
    Record,
    Shelf,
    parse_job,
    read_job,
    read_records,
    records_in,
)
from ventrules.files.regions import InText
from ventrules.job import Job
from ventrules.policy import Policy, rules_under, today_here
from ventrules.streaming import Way, streamed
from ventrules.words import clipped

_AHEAD: Final = 16
_BATCH: Final = 16  # handing one over costs as much as checking a small job
_JSON_SUFFIX: Final = ".json"


@frozen
class JobText:
    """A job's text that does not come from a file of its own: a row of a database, a line of JSON Lines.

    Attributes:
        name: What to call it; a name that ends in `.json` is read as JSON only.
        text: The text.
        folder: Where the paths of its catalogs start; None allows packaged catalogs only.
        line: The line that it is, in JSON Lines; it is then read as JSON only.
    """

    name: str
    text: str = attrs.field(repr=False)
    folder: FilePath | None = None
    line: int | None = None


@frozen
class Outcome:
    """What came of one job: a report, or the problems that kept it from being read.

    Attributes:
        file: The file, or what its text is called.
        report: The report, or None when the job could not be used.
        problems: What kept it from being used.
        line: The line on which the job begins, where its file holds others.
        in_text: Where it was asked for: fingerprint to what stands of its findings in the text, in their order.
    """

    file: str
    report: Report | None = None
    problems: tuple[Problem, ...] = ()
    line: int | None = None
    in_text: Mapping[str, tuple[InText, ...]] = attrs.field(factory=dict, hash=False, repr=False)


Source: TypeAlias = str | FilePath | JobText | Outcome
"""A file, a text, or what is known already and is passed on in its place."""


@define
class Tally:
    """What many outcomes come to; it grows with each, and keeps none.

    Attributes:
        files: Jobs given or found.
        unusable: Of those, jobs that could not be used.
        counts: Findings by severity, without those that could not be checked.
        unchecked: Checks that could not be made.
        accepted: Findings that are let stand.
        records: Of the jobs, those in files that hold others.
    """

    files: int = 0
    unusable: int = 0
    counts: dict[Severity, int] = Factory(lambda: dict.fromkeys(Severity, 0))
    unchecked: int = 0
    accepted: int = 0
    records: int = 0

    def add(self, outcome: Outcome) -> None:
        """Count one outcome in."""
        self.files += 1
        self.records += outcome.line is not None
        report = outcome.report
        if report is None:
            self.unusable += 1
            return
        self.accepted += len(report.accepted)
        for finding in report.findings:
            if finding.unchecked:
                self.unchecked += 1
            else:
                self.counts[finding.severity] += 1


@frozen
class _How:
    """How each job is judged; it travels to the workers."""

    outside: bool
    only: tuple[str, ...]
    skip: tuple[str, ...]
    policy: Policy | None
    today: date
    in_text: bool = False

    @classmethod
    def of(
        cls, outside: bool, only: Collection[str], skip: Collection[str], policy: Policy | None, today: date | None
    ) -> "_How":
        outside = outside or (policy is not None and policy.table.catalogs_outside)
        return cls(outside, _names(only), _names(skip), policy, today if today is not None else today_here())

    @property
    def shelf(self) -> Shelf:
        return self.policy.shelf if self.policy is not None else NO_SHELF

    def rules(self) -> Rules:
        rules = installed_rules()
        chosen = rules.select(self.only, self.skip) if self.only or self.skip else rules
        return rules_under(self.policy, chosen, self.only)

    def report(self, job: Job, rules: Rules, file: str) -> Report:
        return checked(job, rules, policy=self.policy, today=self.today, file=file)


def _names(given: Collection[str]) -> tuple[str, ...]:
    """Return names; one alone is one, though a text is a collection of its letters."""
    return (given,) if isinstance(given, str) else tuple(given)


def check_one(  # noqa: PLR0913 - what may differ from one run to another
    source: Source,
    *,
    outside: bool = False,
    only: Collection[str] = (),
    skip: Collection[str] = (),
    policy: Policy | None = None,
    today: date | None = None,
    in_text: bool = False,
) -> Outcome:
    """Return what came of checking one job; one that cannot be used is an outcome, not an exception.

    Args:
        source: A file's path, or a text.
        outside: Whether the job's catalogs may lie outside its folder tree.
        only: Rule ids or families to run; empty for all.
        skip: Rule ids or families to leave out.
        policy: What the project has decided; a baseline is applied by a `Ledger`.
        today: The day for which the end dates of acceptances are judged; by default the day that it is here.
        in_text: Whether to say what stands of each finding in the text, and what its remedy changes in it.

    Raises:
        RegistryError: `only` or `skip` names neither a rule nor a family.
    """
    how = attrs.evolve(_How.of(outside, only, skip, policy, today), in_text=in_text)
    return _judged(source, how.rules(), how)


def _judged(source: Source, rules: Rules, how: _How) -> Outcome:
    if isinstance(source, Outcome):
        return source
    if not isinstance(source, JobText):
        try:
            job = read_job(source, outside=how.outside, shelf=how.shelf)
        except JobFileError as error:
            return Outcome(str(source), problems=error.problems)
        return _reported(str(source), how.report(job, rules, str(source)), job, how)
    name = source.name if source.line is None else f"{source.name}{_JSON_SUFFIX}"
    try:
        job = parse_job(source.text, name=name, folder=source.folder, outside=how.outside, shelf=how.shelf)
    except JobFileError as error:
        outcome = Outcome(name, problems=error.problems)
    else:
        outcome = _reported(name, how.report(job, rules, source.name), job, how)
    return outcome if source.line is None else _moved(outcome, source.name, source.line)


def _reported(name: str, report: Report, job: Job, how: _How) -> Outcome:
    findings = (*report.findings, *(accepted.finding for accepted in report.accepted))
    if not how.in_text or not findings:
        return Outcome(name, report)
    from ventrules.files.in_text import in_text  # noqa: PLC0415 - few outputs want it

    found: dict[str, tuple[InText, ...]] = {}
    for finding, stands in zip(findings, in_text(job, findings), strict=False):
        found[finding.fingerprint] = (*found.get(finding.fingerprint, ()), stands)
    return Outcome(name, report, in_text=found)


def _moved(outcome: Outcome, file: str, line: int) -> Outcome:
    """Return an outcome with positions in the whole file instead of in the line that was read.

    Args:
        outcome: What came of the line.
        file: The file.
        line: The line's number.
    """

    def there(position: Position | None) -> Position | None:
        if position is None or position.file != outcome.file:
            return position
        return Position(file, position.line + line - 1, position.column)

    report = outcome.report
    if report is not None:
        findings = tuple(attrs.evolve(f, position=there(f.position)) for f in report.findings)
        accepted = tuple(
            attrs.evolve(a, finding=attrs.evolve(a.finding, position=there(a.finding.position)))
            for a in report.accepted
        )
        report = attrs.evolve(report, file=file, findings=findings, accepted=accepted)
    problems = tuple(
        attrs.evolve(p, position=there(p.position), file=file if p.file == outcome.file else p.file)
        for p in outcome.problems
    )
    stands = {name: tuple(each.moved(line - 1) for each in found) for name, found in outcome.in_text.items()}
    return Outcome(file, report, problems, line, stands)


def check_many(  # noqa: PLR0913 - what may differ from one run to another
    sources: Iterable[Source],
    *,
    executor: Executor | None = None,
    outside: bool = False,
    only: Collection[str] = (),
    skip: Collection[str] = (),
    policy: Policy | None = None,
    today: date | None = None,
    in_text: bool = False,
    batch: int = _BATCH,
    ahead: int = _AHEAD,
) -> Iterator[Outcome]:
    """Return what came of each job, in the order given, each as soon as it and those before it are known.

    Memory does not grow with the number of jobs: sources are taken as they are needed, and only a few are ahead
    of the outcome that is waited for. Stopping early cancels what has not begun. What `sources` raises is raised
    after the outcomes of those before.

    Args:
        sources: Paths of files, texts, or outcomes that are known already and are passed on.
        executor: Where to run; None runs here, one after the other.
        outside: Whether the jobs' catalogs may lie outside their folder trees.
        only: Rule ids or families to run; empty for all.
        skip: Rule ids or families to leave out.
        policy: What the project has decided; a baseline is applied by a `Ledger`.
        today: The day for which the end dates of acceptances are judged; by default the day that it is here.
        in_text: Whether to say what stands of each finding in the text, and what its remedy changes in it.
        batch: Most sources that are handed to the executor at once.
        ahead: Most batches that are handed over before the first is waited for; at least twice the workers.

    Raises:
        RegistryError: `only` or `skip` names neither a rule nor a family; raised at once.
        ValueError: `batch` or `ahead` is less than 1, or `sources` is one text; raised at once.
        BrokenExecutor: A worker of the executor died, and the executor takes no more; raised while iterating.
    """
    how = attrs.evolve(_How.of(outside, only, skip, policy, today), in_text=in_text)
    rules = how.rules()
    if isinstance(sources, str):  # it would be taken apart into letters
        raise ValueError(f"expected several sources; found the text {clipped(sources)!r}: put it into a list")  # noqa: TRY004
    way = Way(partial(_batch, how=how), _died, _weight, batch, ahead)
    if executor is None:
        return (_judged(source, rules, how) for source in sources)
    return streamed(sources, way, executor)


def _batch(sources: tuple[Source, ...], how: _How) -> list[Outcome]:
    rules = how.rules()
    return [_judged(source, rules, how) for source in sources]


def _weight(source: Source) -> int:
    return len(source.text) if isinstance(source, JobText) else 0


def _died(source: Source) -> Outcome:
    if isinstance(source, Outcome):
        return source
    name, line = (source.name, source.line) if isinstance(source, JobText) else (str(source), None)
    position = Position(name, line, 1) if line is not None else None
    message = "a worker died while checking it; it may need more memory than there is"
    return Outcome(name, None, (Problem(message, position=position, file=name, kind=ProblemKind.FILE),), line)


def job_lines(
    source: str | FilePath | IO[bytes], *, name: str = "", folder: FilePath | None = None
) -> Iterator[JobText | Outcome]:
    """Yield the jobs of JSON Lines, for `check_many`: a job a line, blank lines passed over.

    A line that is no text, a file that cannot be read and one without a job are yielded as outcomes, so that the others
    are still checked.

    Args:
        source: A file, or a stream of bytes; one line at most is held.
        name: What to call a stream.
        folder: Where the paths of catalogs start: by default the file's folder; a stream without one allows
            packaged catalogs only.
    """
    if isinstance(source, (str, FilePath)):
        file = FilePath(source)
        found, name, folder = read_records(file), name or str(source), folder or file.parent
    else:
        found = records_in(source, name or "<stream>")
    for record in found:
        yield _record(record, name, folder)


def _record(record: Record, name: str, folder: FilePath | None) -> JobText | Outcome:
    line = record.line or None
    if record.problem is not None:
        return Outcome(name, problems=(record.problem,), line=line)
    return JobText(name, record.text, folder, line)
