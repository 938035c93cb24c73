"""Rules with one selector are run together: that changes nothing but how often it selects."""

from collections.abc import Callable, Iterable, Iterator

import pytest
from attrs import field, frozen
from hypothesis import given
from hypothesis import strategies as st

from ventrules.engine import CannotTell, Evidence, Finding, Place, Registry, Rule, Severity, evidence, run
from ventrules.sources import practice

BASIS = practice("a pond holds water")


@frozen
class Pond:
    """One pond."""

    name: str
    depth: float

    @property
    def place(self) -> Place:
        return Place.at("ponds", self.name)


@frozen(eq=False)
class Park:
    """Ponds, and how often somebody looked for them."""

    ponds: tuple[Pond, ...]
    looked: list[str] = field(factory=list)


def every(park: Park) -> Iterable[Pond]:
    park.looked.append("every")
    return park.ponds


def one_by_one(park: Park) -> Iterator[Pond]:
    park.looked.append("one by one")
    for pond in park.ponds:
        if pond.depth < 0.0:
            raise ValueError("no such depth")
        yield pond


def dry(pond: Pond) -> Evidence | None:
    return evidence(depth=pond.depth) if not pond.depth else None


def deep(pond: Pond) -> Evidence | CannotTell | None:
    if pond.depth > 9.0:
        return CannotTell("too deep to see")
    return evidence(depth=pond.depth) if pond.depth > 2.0 else None


def odd(pond: Pond) -> Evidence | None:
    if pond.depth == 1.0:
        raise ZeroDivisionError
    return None


def rule(
    name: str, each: Callable[[Park], Iterable[Pond]], check: Callable[[Pond], Evidence | CannotTell | None]
) -> Rule[Park, Pond]:
    return Rule(f"pond/{name}", name, Severity.WARNING, each, check, "{depth}", "Look.", BASIS)


RULES = tuple(
    rule(f"{check.__name__}-{each.__name__.replace('_', '-')}", each, check)
    for each in (every, one_by_one)
    for check in (dry, deep, odd)
)
DEPTHS = st.lists(st.sampled_from([-1.0, 0.0, 1.0, 3.0, 10.0]), max_size=6)


def registry(rules: Iterable[Rule[Park, Pond]]) -> Registry[Park]:
    return Registry.build([("ours", rules)], ("pond",))


def park(depths: list[float]) -> Park:
    return Park(tuple(Pond(f"p{number}", depth) for number, depth in enumerate(depths)))


def without_traceback(finding: Finding) -> tuple[str, str, str]:
    return finding.rule, finding.place.name, finding.message


@given(DEPTHS, st.permutations(RULES))
def test_together_they_find_what_each_finds_alone(depths: list[float], rules: list[Rule[Park, Pond]]) -> None:
    together = run(registry(rules), park(depths))
    alone = [finding for each in rules for finding in run(registry([each]), park(depths))]
    assert sorted(map(without_traceback, together)) == sorted(map(without_traceback, alone))


def test_one_selector_is_asked_once() -> None:
    found = park([0.0, 3.0])
    run(registry(RULES), found)
    assert sorted(found.looked) == ["every", "one by one"]


def test_what_was_selected_before_a_fault_is_judged() -> None:
    findings = run(registry(RULES), park([0.0, 3.0, -1.0, 0.0]))
    said = [(f.rule, f.place.name) for f in findings if "one-by-one" in f.rule]
    assert ("pond/dry-one-by-one", "ponds / p0") in said
    assert ("pond/dry-one-by-one", "ponds / p3") not in said
    failed = [f for f in findings if f.rule == "engine/rule-failed"]
    assert len(failed) == 3
    assert all("selecting" in f.message for f in failed)


class Loud(Rule[Park, Pond]):
    """A rule that examines in a way of its own."""

    def examine(self, view: Park, *, remedies: bool = True) -> Iterator[Finding]:
        del remedies
        yield Finding(self.id, self.title, self.severity, Place.at("park"), f"{len(view.ponds)} ponds", "", self.basis)


def test_a_rule_that_examines_in_a_way_of_its_own_does_so() -> None:
    loud = Loud("pond/loud", "loud", Severity.ADVICE, every, dry, "{depth}", "Look.", BASIS)
    ours = registry([*RULES, loud])
    assert ours.others == (loud,)
    assert ours.ids == tuple(sorted(each.id for each in (*RULES, loud)))
    assert [f.message for f in run(ours, park([0.0])) if f.rule == "pond/loud"] == ["1 ponds"]


@pytest.mark.parametrize("remedies", [True, False])
def test_a_rule_that_is_examined_by_itself_says_the_same(remedies: bool) -> None:
    found = park([0.0, 3.0, 10.0])
    for each in RULES[:2]:
        by_itself = [f for f in each.examine(found, remedies=remedies) if isinstance(f, Finding)]
        assert sorted(map(without_traceback, by_itself)) == sorted(
            map(without_traceback, run(registry([each]), found, remedies=remedies))
        )
