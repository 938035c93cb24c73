"""The set of rules in force: unique, well-formed ids in known families."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Generic, Protocol, TypeVar, runtime_checkable

from attrs import Factory, frozen

from ventrules.engine.findings import Finding, RuleFault, Severity
from ventrules.engine.rule import ID_PATTERN
from ventrules.sources import Basis
from ventrules.words import listed, nearest

V = TypeVar("V")
V_contra = TypeVar("V_contra", contravariant=True)


class RegistryError(ValueError):
    """A rule id that is duplicate, malformed, unknown, or of a family nobody declared."""


@runtime_checkable
class AnyRule(Protocol[V_contra]):
    """A rule, whatever it selects."""

    @property
    def id(self) -> str:
        """`family/what-is-wrong`."""

    @property
    def family(self) -> str:
        """The part of the id before the slash."""

    @property
    def title(self) -> str:
        """The fault, in one line."""

    @property
    def severity(self) -> Severity:
        """How bad a finding is."""

    @property
    def basis(self) -> Basis:
        """What the rule rests on."""

    @property
    def cautions(self) -> tuple[str, ...]:
        """Safety cautions."""

    @property
    def since(self) -> str:
        """The version that brought the rule."""

    def examine(self, view: V_contra, *, remedies: bool = True) -> Iterable[Finding | RuleFault]:
        """Yield the findings of this rule in one view, and the faults of the rule itself."""


@frozen
class Registry(Generic[V]):
    """Rules by id, in the order of their ids.

    Attributes:
        rules: The rules, sorted by id.
        packs: Rule id to the name of the pack that brought it.
        failures: Findings about packs that could not be loaded; part of every report.
    """

    rules: tuple[AnyRule[V], ...]
    packs: Mapping[str, str] = Factory(dict)
    failures: tuple[Finding, ...] = ()

    @classmethod
    def build(
        cls,
        rules_by_pack: Iterable[tuple[str, Iterable[AnyRule[V]]]],
        families: Collection[str],
        failures: tuple[Finding, ...] = (),
    ) -> "Registry[V]":
        """Return a registry of the packs' rules.

        Raises:
            RegistryError: A duplicate or malformed id, or an unknown family.
        """
        rules: dict[str, AnyRule[V]] = {}
        packs: dict[str, str] = {}
        for pack, pack_rules in rules_by_pack:
            for rule in pack_rules:
                _admit(rule.id, pack, packs, families)
                rules[rule.id] = rule
                packs[rule.id] = pack
        return cls(tuple(rules[name] for name in sorted(rules)), packs, failures)

    def __iter__(self) -> Iterator[AnyRule[V]]:
        return iter(self.rules)

    def __len__(self) -> int:
        return len(self.rules)

    def rule(self, name: str) -> AnyRule[V]:
        """Return the rule of an id.

        Raises:
            RegistryError: No such rule; the message names the nearest one.
        """
        for rule in self.rules:
            if rule.id == name:
                return rule
        close = nearest(name, (rule.id for rule in self.rules))
        hint = f"; nearest is {close!r}" if close else ""
        raise RegistryError(f"unknown rule {name!r}{hint}")

    def select(self, only: Collection[str] = (), skip: Collection[str] = ()) -> "Registry[V]":
        """Return a registry of fewer rules; an entry is a rule id or a whole family.

        Raises:
            RegistryError: An entry names neither a rule nor a family.
        """
        names = {rule.id for rule in self.rules} | {rule.family for rule in self.rules}
        for name in (*only, *skip):
            if name not in names:
                close = nearest(name, names)
                hint = f"; nearest is {close!r}" if close else ""
                raise RegistryError(f"unknown rule or family {name!r}{hint}")
        kept = tuple(
            rule
            for rule in self.rules
            if (not only or rule.id in only or rule.family in only) and not (rule.id in skip or rule.family in skip)
        )
        return Registry(kept, self.packs, self.failures)


def _admit(name: str, pack: str, packs: Mapping[str, str], families: Collection[str]) -> None:
    if ID_PATTERN.fullmatch(name) is None:
        raise RegistryError(f"rule id {name!r} of pack {pack!r} is malformed: expected family/what-is-wrong")
    family = name.partition("/")[0]
    if family not in families:
        known = listed(sorted(families), "or")
        raise RegistryError(f"rule id {name!r} of pack {pack!r}: unknown family {family!r}; expected {known}")
    if name in packs:
        raise RegistryError(f"rule id {name!r} is declared twice: by pack {packs[name]!r} and by pack {pack!r}")
