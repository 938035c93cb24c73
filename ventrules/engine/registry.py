"""The set of rules in force: unique, well-formed ids in known families."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Generic, Protocol, TypeVar, cast, runtime_checkable

from attrs import Factory, field, frozen

from ventrules.engine.findings import Finding, RuleFault, Severity
from ventrules.engine.rule import ID_PATTERN, HasPlace, Rule
from ventrules.sources import Basis
from ventrules.words import listed, nearest

V = TypeVar("V")
W = TypeVar("W")  # of `build`, so that a type checker takes it from the rules and not from the bare class
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
        together: Those of the rules that are `Rule`s, one selector's together, so that a run selects but once for them.
        others: Rules of another make.
        ids: The rules' ids, in order.
    """

    rules: tuple[AnyRule[V], ...]
    packs: Mapping[str, str] = Factory(dict)
    failures: tuple[Finding, ...] = ()
    together: tuple[tuple[Rule[V, HasPlace], ...], ...] = field(init=False, eq=False, repr=False)
    others: tuple[AnyRule[V], ...] = field(init=False, eq=False, repr=False)
    ids: tuple[str, ...] = field(init=False, eq=False, repr=False)

    @together.default
    def _by_selector(self) -> tuple[tuple[Rule[V, HasPlace], ...], ...]:
        groups: dict[int, list[Rule[V, HasPlace]]] = {}
        for rule in self.rules:
            if _is_plain(rule):
                of_any = cast("Rule[V, HasPlace]", rule)  # it judges nothing but what its own selector gives
                groups.setdefault(id(of_any.each), []).append(of_any)
        return tuple(map(tuple, groups.values()))

    @ids.default
    def _ids(self) -> tuple[str, ...]:
        return tuple(rule.id for rule in self.rules)

    @others.default
    def _of_another_make(self) -> tuple[AnyRule[V], ...]:
        return tuple(rule for rule in self.rules if not _is_plain(rule))

    @staticmethod
    def build(
        rules_by_pack: Iterable[tuple[str, Iterable[AnyRule[W]]]],
        families: Collection[str],
        failures: tuple[Finding, ...] = (),
    ) -> "Registry[W]":
        """Return a registry of the packs' rules.

        Raises:
            RegistryError: A duplicate or malformed id, or an unknown family.
        """
        rules: dict[str, AnyRule[W]] = {}
        packs: dict[str, str] = {}
        for pack, pack_rules in rules_by_pack:
            for rule in pack_rules:
                _admit(rule.id, pack, packs, families)
                rules[rule.id] = rule
                packs[rule.id] = pack
        return Registry(tuple(rules[name] for name in sorted(rules)), packs, failures)

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


def _is_plain(rule: AnyRule[V]) -> bool:
    """Say whether a rule is a `Rule` that examines as `Rule` does."""
    return isinstance(rule, Rule) and type(rule).examine is Rule.examine


def _admit(name: str, pack: str, packs: Mapping[str, str], families: Collection[str]) -> None:
    if ID_PATTERN.fullmatch(name) is None:
        raise RegistryError(f"rule id {name!r} of pack {pack!r} is malformed: expected family/what-is-wrong")
    family = name.partition("/")[0]
    if family not in families:
        known = listed(sorted(families), "or")
        raise RegistryError(f"rule id {name!r} of pack {pack!r}: unknown family {family!r}; expected {known}")
    if name in packs:
        raise RegistryError(f"rule id {name!r} is declared twice: by pack {packs[name]!r} and by pack {pack!r}")
