"""Rule packs: packages that bring rules through the entry-point group `ventrules.rules`."""

from collections.abc import Iterable, Sequence
from typing import Final, Generic, TypeVar

from attrs import Factory, field, frozen

from ventrules.engine.findings import Finding, Place, Severity
from ventrules.engine.points import Point, installed_points
from ventrules.engine.registry import AnyRule, Registry, RegistryError
from ventrules.engine.rule import Rule
from ventrules.sources import practice

ENGINE_INTERFACE: Final = 1
FAMILIES: Final = frozenset({"engine"})

V = TypeVar("V")


def _as_tuple(rules: Iterable[AnyRule[V]]) -> tuple[AnyRule[V], ...]:
    return tuple(rules)


@frozen
class Pack(Generic[V]):
    """What a package offers to the engine.

    Attributes:
        name: The pack's name.
        rules: Its rules.
        families: Families of rule ids that it adds to the known ones.
        pages: Package whose `<family>/<rule>.md` resources are the rules' pages.
        interface: The engine interface it was written for.
    """

    name: str
    rules: tuple[AnyRule[V], ...] = field(converter=_as_tuple)
    families: frozenset[str] = Factory(frozenset)
    pages: str = ""
    interface: int = ENGINE_INTERFACE


@frozen
class PackFailure:
    """A pack that could not be used, and why."""

    name: str
    reason: str

    def as_finding(self) -> Finding:
        """Return the finding that says so in every report."""
        return Finding(
            rule="engine/pack-failed",
            title="A rule pack could not be used",
            severity=Severity.ERROR,
            place=Place((), f"pack {self.name}"),
            message=f"Rule pack {self.name} could not be used ({self.reason}); its rules did not run.",
            todo=f"Update or remove the package that provides pack {self.name}.",
            basis=practice("a check that did not run proves nothing"),
            evidence={"pack": self.name, "reason": self.reason},
        )


def load_packs(view: type[V], points: Iterable[Point] | None = None) -> tuple[Registry[V], list[Pack[V]]]:
    """Return the registry of every installed pack, with the packs that could be used.

    Args:
        view: The class that rules select from; it fixes the type of the registry.
        points: Entry points to use instead of the installed ones.
    """
    packs: list[Pack[V]] = []
    failures: list[PackFailure] = []
    for point in sorted(installed_points() if points is None else points, key=lambda p: p.name):
        try:
            packs.append(_usable(point, view))
        except (Exception, SystemExit) as error:  # a broken pack must not take the run down
            failures.append(PackFailure(point.name, f"{type(error).__name__}: {error}"))
    return _registry(packs, failures)


def _usable(point: Point, _view: type[V]) -> Pack[V]:
    pack: object = point.load()
    if not isinstance(pack, Pack):
        raise TypeError(f"entry point {point.value!r} is not a Pack")
    if pack.interface != ENGINE_INTERFACE:
        raise ValueError(f"written for engine interface {pack.interface}, this is {ENGINE_INTERFACE}")
    if not pack.rules:
        raise ValueError("the pack has no rule")
    for rule in pack.rules:
        if not isinstance(rule, (Rule, AnyRule)):  # asking for the protocol is slow: it looks at every name of it
            raise TypeError(f"a {type(rule).__name__} stands where a rule is expected")
    if not all(isinstance(family, str) for family in pack.families):
        raise TypeError("families are text")
    return pack


def _registry(packs: Sequence[Pack[V]], failures: Sequence[PackFailure]) -> tuple[Registry[V], list[Pack[V]]]:
    families = FAMILIES.union(*(pack.families for pack in packs))
    good: list[Pack[V]] = []
    bad = list(failures)
    for pack in packs:
        try:
            Registry.build([(p.name, p.rules) for p in (*good, pack)], families)
        except RegistryError as error:
            bad.append(PackFailure(pack.name, str(error)))
        else:
            good.append(pack)
    found = tuple(failure.as_finding() for failure in bad)
    return Registry.build([(pack.name, pack.rules) for pack in good], families, found), good
