"""A policy in force: where it was read, what it lets jobs name, and the rules as it has them."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from pathlib import Path as FilePath

import attrs
from attrs import field, frozen

from ventrules.engine import AnyRule, Finding, Path, Position, Registry, Rule, RuleFault, Severity
from ventrules.engine.findings import Document
from ventrules.files import Shelf
from ventrules.files.toml_marks import toml_position
from ventrules.job import Origin
from ventrules.policy.installed import Rules
from ventrules.policy.model import Level, PolicyTable, ProjectAcceptance
from ventrules.policy.patterns import any_match, below
from ventrules.sources import Basis
from ventrules.survey import Survey


@frozen
class Policy:
    """What a project has decided, read from its policy file.

    Attributes:
        table: What is written there.
        origin: The file's name and text.
        inside: Where the policy stands in the file: at the top, or in the table of pyproject.toml.
        written: The same as plain data, with no more than what is written; days as text.
        folder: The file's folder, absolute; paths and patterns start there.
        shelf: What it lets jobs name, and its limits; for `read_job`.
    """

    table: PolicyTable
    written: Mapping[str, Document] = field(repr=False)
    origin: Origin
    inside: Path
    folder: FilePath
    shelf: Shelf = field(repr=False)

    @property
    def file(self) -> str:
        """The file's name."""
        return self.origin.name

    def position(self, *path: str | int) -> Position | None:
        """Return where a key of the policy stands in its file, or None where no line has it."""
        found = toml_position(self.origin.text, self.origin.name, (*self.inside, *path))
        return found if found is not None or not path else self.position()

    def level(self, rule: AnyRule[Survey]) -> tuple[Level | None, str]:
        """Return what a rule's findings count as, and the line of `severity` that says so; None where none does."""
        for key in (rule.id, rule.family):
            level = self.table.severity.get(key)
            if level is not None:
                return level, key
        return None, ""

    def relative(self, file: str | None) -> str | None:
        """Return how patterns call a file; None of what is not below the policy's folder, or is no file."""
        return below(self.folder, file) if file is not None else None

    @staticmethod
    def covers(acceptance: ProjectAcceptance, relative: str | None) -> bool:
        """Say whether an acceptance covers a file, as `relative` calls it; one without files covers everything."""
        return not acceptance.files or any_match(acceptance.files, relative)


@frozen
class _Regraded:
    """A rule of another make than ours, with another severity."""

    rule: AnyRule[Survey]
    severity: Severity

    @property
    def id(self) -> str:
        return self.rule.id

    @property
    def family(self) -> str:
        return self.rule.family

    @property
    def title(self) -> str:
        return self.rule.title

    @property
    def basis(self) -> Basis:
        return self.rule.basis

    @property
    def cautions(self) -> tuple[str, ...]:
        return self.rule.cautions

    @property
    def since(self) -> str:
        return self.rule.since

    def examine(self, view: Survey, *, remedies: bool = True) -> Iterator[Finding | RuleFault]:
        for said in self.rule.examine(view, remedies=remedies):
            yield said if isinstance(said, RuleFault) else attrs.evolve(said, severity=self.severity)


def _regraded(rule: AnyRule[Survey], severity: Severity) -> AnyRule[Survey]:
    if rule.severity is severity:
        return rule
    return attrs.evolve(rule, severity=severity) if isinstance(rule, Rule) else _Regraded(rule, severity)


def rules_under(policy: Policy | None, rules: Rules, only: Collection[str] = ()) -> Rules:
    """Return rules as a policy has them: of its packs, without those that are left out, in its severities.

    Args:
        policy: The policy; None leaves the rules as they are.
        rules: The rules.
        only: Rules and families that are asked for by name; they are run though the policy leaves just them out.
    """
    if policy is None or (policy.table.packs is None and not policy.table.severity):
        return rules
    packs = policy.table.packs
    failures = rules.failures
    if packs is not None:
        failures = tuple(failure for failure in failures if failure.evidence.get("pack") in packs)
    return Registry(tuple(_kept(policy, rules, only)), rules.packs, failures)


def _kept(policy: Policy, rules: Rules, only: Collection[str]) -> Iterable[AnyRule[Survey]]:
    packs = policy.table.packs
    for rule in rules:
        if packs is not None and rules.packs.get(rule.id) not in packs:
            continue
        level, key = policy.level(rule)
        if level is None:
            yield rule
        elif level is not Level.LEFT_OUT:
            yield _regraded(rule, Severity(level.value))
        elif rule.id in only or key in only:
            yield rule
