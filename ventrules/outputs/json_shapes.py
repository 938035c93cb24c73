"""The shapes of the JSON documents that are written, for their schemas; what writes them is tested against these.

A key that may be missing has a default here.
"""

from collections.abc import Mapping
from datetime import date
from typing import TypeAlias

from attrs import frozen

from ventrules.engine import Severity
from ventrules.engine.findings import Document, EditKind
from ventrules.engine.report import AcceptedBy
from ventrules.files.problems import ProblemKind
from ventrules.sources import Known


@frozen
class Position:
    """A position in a text.

    Attributes:
        line: The line, from 1.
        column: The column, from 1.
    """

    line: int
    column: int


@frozen
class Problem:
    """What kept a file from being used.

    Attributes:
        file: The file that the problem is in: the job, or a catalog or code that it names.
        position: Where in it.
        place: The place by its keys, or an empty text.
        message: What was found and what was expected.
        kind: What sort of thing is wrong.
    """

    file: str
    position: Position | None
    place: str
    message: str
    kind: ProblemKind = ProblemKind.SHAPE


@frozen
class Counts:
    """Findings by how bad they are.

    Attributes:
        error: Errors.
        warning: Warnings.
        advice: Pieces of advice.
        unchecked: Checks that could not be made; in none of the other counts.
    """

    error: int
    warning: int
    advice: int
    unchecked: int


@frozen
class AllCounts(Counts):
    """Findings by how bad they are, and those that are let stand.

    Attributes:
        accepted: Findings that are let stand; in none of the other counts.
    """

    accepted: int


@frozen
class Amount:
    """A quantity.

    Attributes:
        value: The number, in SI; null where it is without end.
        unit: The SI unit.
        text: As people read it.
    """

    value: float | None
    unit: str
    text: str


@frozen
class Basis:
    """What a finding or a figure rests on.

    Attributes:
        title: Publication, catalog entry or practice.
        clause: Section, table or equation, or an empty text.
        known: How it is known.
        note: How an open text is read, or an empty text.
    """

    title: str
    clause: str
    known: Known
    note: str


@frozen
class Edit:
    """One operation of a JSON Patch (RFC 6902).

    Attributes:
        op: What is done.
        path: Where, as a JSON Pointer.
        value: What to put there; none for `remove`.
    """

    op: EditKind
    path: str
    value: Document = None


@frozen
class Remedy:
    """A change that makes a finding go away.

    Attributes:
        title: What it does.
        edits: The change, in order.
        check_on_site: What to look at before or after, or an empty text.
        changes_purchase: Whether something has to be bought for it.
        assumes: What it takes for granted, that the job does not say, or an empty text.
    """

    title: str
    edits: tuple[Edit, ...]
    check_on_site: str
    changes_purchase: bool
    assumes: str


Evidence: TypeAlias = str | float | tuple[str, ...] | Amount


@frozen
class Finding:
    """One thing that a rule has to say about one place.

    Attributes:
        rule: The rule's id.
        title: The fault, in one line.
        severity: How bad it is.
        unchecked: Whether the check could not be made.
        pointer: The place as a JSON Pointer (RFC 6901) into the job.
        place: The place by its meaning; cables by their ends, not by their number.
        fingerprint: 16 hexadecimal digits made from rule and place; the same after unrelated edits.
        message: What is wrong, with what was found.
        working: The arithmetic, or an empty text.
        todo: What to do next.
        basis: What it rests on.
        evidence: The named values that it rests on.
        related: JSON Pointers of other places that take part.
        cautions: Safety cautions.
        position: Where in the file.
        remedy: A change that makes it go away.
    """

    rule: str
    title: str
    severity: Severity
    unchecked: bool
    pointer: str
    place: str
    fingerprint: str
    message: str
    working: str
    todo: str
    basis: Basis
    evidence: Mapping[str, Evidence]
    related: tuple[str, ...]
    cautions: tuple[str, ...]
    position: Position | None
    remedy: Remedy | None


@frozen
class AcceptedFinding(Finding):
    """A finding that is let stand.

    Attributes:
        by: Where it is written that it is.
        reason: Why it is.
        until: The last day on which it is; null for no end.
    """

    by: AcceptedBy
    reason: str
    until: date | None


@frozen
class CheckedFile:
    """What came of one job.

    Attributes:
        file: The path as given or found.
        line: The line on which the job begins, in a file that holds a job a line.
        usable: Whether it could be read as a job.
        problems: What kept it from being read.
        job: The job's name.
        ok: Whether rules ran and none found an error.
        counts: Its findings, counted.
        rules_run: How many rules ran.
        findings: Its findings: checks that were made first, worst first, then by place and rule.
        accepted: Findings that are let stand, in the same order.
    """

    file: str
    line: int | None
    usable: bool
    problems: tuple[Problem, ...]
    job: str = ""
    ok: bool = True
    counts: AllCounts | None = None
    rules_run: int = 0
    findings: tuple[Finding, ...] = ()
    accepted: tuple[AcceptedFinding, ...] = ()


@frozen
class Summary(AllCounts):
    """What all jobs come to.

    Attributes:
        files: Jobs given or found.
        unusable: Of those, jobs that could not be used.
        interrupted: Whether not all that was asked for has been checked.
    """

    files: int
    unusable: int
    interrupted: bool


@frozen
class Report:
    """The report of `ventrules check`.

    Attributes:
        version: The version of ventrules.
        files: One for each job, in the order in which they were given.
        left_out: Files in searched folders that do not say that they are jobs.
        more_left_out: How many more there are.
        summary: What all jobs come to.
    """

    version: str
    files: tuple[CheckedFile, ...]
    left_out: tuple[str, ...]
    more_left_out: int
    summary: Summary


@frozen
class ListedRule:
    """One rule.

    Attributes:
        rule: Its id.
        title: The fault, in one line.
        severity: How bad that is.
        pack: The pack that brought it.
        since: The version of the pack's rules that brought it.
        basis: What it rests on.
    """

    rule: str
    title: str
    severity: Severity
    pack: str
    since: str
    basis: str


@frozen
class RuleList:
    """The rules, as `ventrules rules` lists them.

    Attributes:
        version: The version of ventrules.
        rules: One for each rule, by id.
    """

    version: str
    rules: tuple[ListedRule, ...]
