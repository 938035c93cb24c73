"""A rule as a value: what it selects, what it judges, what it says, what it rests on."""

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from string import Formatter
from typing import Generic, Protocol, TypeVar

from attrs import Attribute, evolve, field, frozen

from ventrules.engine.findings import CannotTell, Evidence, Finding, Place, Remedy, RuleFault, Severity
from ventrules.sources import Basis
from ventrules.words import listed

ID_PATTERN = re.compile(r"[a-z]+(?:-[a-z]+)*/[a-z0-9]+(?:-[a-z0-9]+)*")


class HasPlace(Protocol):
    """Anything a rule can judge: it knows its place in the document."""

    @property
    def place(self) -> Place:
        """Where it stands."""


V = TypeVar("V")
S = TypeVar("S", bound=HasPlace)


def _well_formed(_rule: object, _attribute: "Attribute[str]", value: str) -> None:
    if ID_PATTERN.fullmatch(value) is None:
        raise ValueError(f"rule id {value!r} is malformed: expected family/what-is-wrong in lower case")


def _template(_rule: object, attribute: "Attribute[str]", value: str) -> None:
    for _text, name, _spec, _conversion in Formatter().parse(value):
        if name is not None and not name.isidentifier():
            raise ValueError(f"{attribute.name}: placeholder {{{name}}} is not the name of an evidence value")


@frozen
class Rule(Generic[V, S]):
    """One rule.

    Attributes:
        id: `family/what-is-wrong`; never changes meaning once released.
        title: The fault, in one line.
        severity: How bad a finding is.
        each: Selector: the subjects in a view.
        check: Judge of one subject: None (fine), evidence (a finding) or cannot-tell.
        message: What is wrong, with the evidence's names as placeholders.
        todo: What to do next, likewise.
        basis: What the rule rests on; evidence may carry a closer one.
        working: The arithmetic, likewise; empty where there is none.
        cautions: Safety cautions for whoever acts on a finding.
        remedy: Proposes edits for a subject at fault; may return None when no safe one exists.
        since: The version that brought the rule.

    Raises:
        ValueError: A malformed id or placeholder, when the rule is declared.
    """

    id: str = field(validator=_well_formed)
    title: str
    severity: Severity
    each: Callable[[V], Iterable[S]]
    check: Callable[[S], Evidence | CannotTell | None]
    message: str = field(validator=_template)
    todo: str = field(validator=_template)
    basis: Basis
    working: str = field(default="", validator=_template)
    cautions: tuple[str, ...] = ()
    remedy: Callable[[S], Remedy | None] | None = None
    since: str = "0.1"

    @property
    def family(self) -> str:
        """The part of the id before the slash."""
        return self.id.partition("/")[0]

    def examine(self, view: V, *, remedies: bool = True) -> Iterator[Finding | RuleFault]:
        """Yield the findings of this rule in one view; a subject on which it raises yields the fault.

        Args:
            view: What to look at.
            remedies: Whether to propose remedies as well.
        """
        for subject in self.each(view):
            try:
                verdict = self.check(subject)
            except Exception as error:  # the other subjects are still looked at
                yield RuleFault(error, "judging")
                continue
            if verdict is not None:
                yield from self.say(subject, verdict, remedies=remedies)

    def say(self, subject: S, verdict: Evidence | CannotTell, *, remedies: bool) -> Sequence[Finding | RuleFault]:
        """Return the finding that follows from a verdict, and the fault of a rule that raises while it is put in words.

        Args:
            subject: What was judged.
            verdict: What its check returned.
            remedies: Whether to propose a remedy as well.
        """
        try:
            if isinstance(verdict, CannotTell):
                return (self._unchecked(subject, verdict),)
            finding = self._finding(subject, verdict)
        except Exception as error:
            return (RuleFault(error, "judging"),)
        if not remedies or self.remedy is None:
            return (finding,)
        try:
            return (evolve(finding, remedy=self.remedy(subject)),)
        except Exception as error:  # the finding stands without its remedy
            return (RuleFault(error, "proposing a remedy"), finding)

    def _unchecked(self, subject: S, verdict: CannotTell) -> Finding:
        return Finding(
            rule=self.id,
            title=self.title,
            severity=self.severity,
            place=verdict.at or subject.place,
            message=verdict.missing,
            todo=verdict.todo,
            basis=verdict.basis or self.basis,
            unchecked=True,
        )

    def _finding(self, subject: S, verdict: Evidence) -> Finding:
        shown = {name: listed(value) if isinstance(value, tuple) else value for name, value in verdict.values.items()}
        return Finding(
            rule=self.id,
            title=self.title,
            severity=self.severity,
            place=verdict.at or subject.place,
            message=self.message.format_map(shown),
            working=self.working.format_map(shown),
            todo=self.todo.format_map(shown),
            basis=verdict.basis or self.basis,
            evidence=verdict.values,
            related=verdict.related,
            cautions=self.cautions,
        )
