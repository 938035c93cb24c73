"""What an outcome tells, one thing at a time: what the flat formats have in common, so that they agree.

Text is harmless: what a terminal would obey or hide stands as its code.
"""

import hashlib
from collections import Counter
from collections.abc import Iterator
from enum import StrEnum
from typing import Final

from attrs import frozen

from ventrules.bulk import Outcome
from ventrules.engine import Accepted, AcceptedBy, Finding, Position, Severity
from ventrules.engine.run import UNUSABLE_FILE
from ventrules.files import Problem
from ventrules.outputs.text import printable

UNUSABLE_TITLE: Final = "A file cannot be used"
UNUSABLE_TODO: Final = "Mend the file, and check again."
WRITTEN_IN: Final = {AcceptedBy.JOB: "the job", AcceptedBy.POLICY: "the policy", AcceptedBy.BASELINE: "the baseline"}
"""Where it is written that a finding is let stand, in words."""


class Standing(StrEnum):
    """How a thing that is told stands: found; not checked; let stand; or what kept a file from being used."""

    FOUND = "found"
    UNCHECKED = "unchecked"
    ACCEPTED = "accepted"
    UNUSABLE = "unusable"


@frozen
class Told:
    """One thing that is told.

    Attributes:
        file: The file that it is in, as it was named.
        record: The line of its job, in a file that holds a job a line.
        position: Where in the file.
        job: The job's title.
        rule: The rule's id.
        title: The fault, in one line.
        severity: How bad it is.
        standing: How it stands.
        place: The place by its meaning.
        message: What was found.
        todo: What to do next.
        fingerprint: 16 hexadecimal digits; the same after unrelated edits.
        nth: 1, or more for another of the same fingerprint in the same job.
        finding: The finding, where it is one.
        accepted: Why it is let stand, where it is.
    """

    file: str
    record: int | None
    position: Position | None
    job: str
    rule: str
    title: str
    severity: Severity
    standing: Standing
    place: str
    message: str
    todo: str
    fingerprint: str
    nth: int = 1
    finding: Finding | None = None
    accepted: Accepted | None = None

    @property
    def label(self) -> str:
        """How it stands and how bad it is, in one or two words."""
        match self.standing:
            case Standing.UNCHECKED:
                return "not checked"
            case Standing.ACCEPTED:
                return "let stand"
            case Standing.UNUSABLE:
                return "cannot be used"
            case Standing.FOUND:
                return self.severity.value

    @property
    def reason(self) -> str:
        """Why it is let stand; empty where it is not."""
        return printable(self.accepted.reason) if self.accepted is not None else ""

    @property
    def by_whom(self) -> str:
        """Where it is written that it is let stand, and until when; empty where it is not."""
        if self.accepted is None:
            return ""
        until = f" until {self.accepted.until.isoformat()}" if self.accepted.until is not None else ""
        return f"in {WRITTEN_IN[self.accepted.by]}{until}"

    @property
    def detail(self) -> list[tuple[str, str]]:
        """What else there is to say of it: a label and a text for each."""
        finding = self.finding
        if finding is None:
            return [("Where", self.place)]
        found = [
            ("Where", self.place),
            ("Working", printable(finding.working)),
            ("Basis", printable(str(finding.basis))),
        ]
        found.append(("To do", self.todo))
        if finding.remedy is not None:
            bought = " (has to be bought)" if finding.remedy.changes_purchase else ""
            found.append(("Offer", printable(finding.remedy.title) + bought))
        found += [("Caution", printable(caution)) for caution in finding.cautions]
        return [(label, text) for label, text in found if text]


def told(outcome: Outcome) -> Iterator[Told]:
    """Yield what an outcome tells, in its order: problems, or findings and then what is let stand."""
    seen: Counter[str] = Counter()
    for problem in outcome.problems:
        yield _problem(outcome, problem, seen)
    report = outcome.report
    if report is None:
        return
    for finding in report.findings:
        yield _finding(outcome, report.job, finding, None, seen)
    for accepted in report.accepted:
        yield _finding(outcome, report.job, accepted.finding, accepted, seen)


def _finding(outcome: Outcome, job: str, finding: Finding, accepted: Accepted | None, seen: Counter[str]) -> Told:
    seen[finding.fingerprint] += 1
    standing = Standing.UNCHECKED if finding.unchecked else Standing.FOUND
    return Told(
        finding.position.file if finding.position is not None else outcome.file,
        outcome.line,
        finding.position,
        printable(job),
        finding.rule,
        printable(finding.title),
        finding.severity,
        Standing.ACCEPTED if accepted is not None else standing,
        printable(finding.place.name),
        printable(finding.message),
        printable(finding.todo),
        finding.fingerprint,
        seen[finding.fingerprint],
        finding,
        accepted,
    )


def _problem(outcome: Outcome, problem: Problem, seen: Counter[str]) -> Told:
    place = printable(problem.where)
    fingerprint = hashlib.sha256(f"{UNUSABLE_FILE}\n{place or printable(problem.message)}".encode()).hexdigest()[:16]
    seen[fingerprint] += 1
    return Told(
        (problem.position.file if problem.position is not None else problem.file) or outcome.file,
        outcome.line,
        problem.position,
        "",
        UNUSABLE_FILE,
        UNUSABLE_TITLE,
        Severity.ERROR,
        Standing.UNUSABLE,
        place or "the whole file",
        printable(problem.message),
        UNUSABLE_TODO,
        fingerprint,
        seen[fingerprint],
    )
