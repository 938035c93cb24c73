"""Conductors on wrong terminals: every way to join four of them, what is found, and how it is straightened."""

from collections.abc import Mapping, Sequence
from itertools import permutations
from typing import Final

import attrs
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.test_swaps import base
from ventrules import Finding, Job, applied, check
from ventrules.job import Cable, Conductor, ConductorRole, Conductors

FOUR: Final = ("data+", "data-", "supply", "common")
CROSSED: Final = "wiring/conductors-crossed"
POWERED: Final = "wiring/supply-on-data"
MISSING: Final = "wiring/conductor-missing"
UNKNOWN: Final = "wiring/unknown-terminal"
HANGING: Final = "wiring/conductor-ends-nowhere"
LAST: Final = 2  # the cable between the module and the ventilator


def straight(names: Mapping[str, str]) -> Conductors:
    return Conductors(tuple(Conductor(start, end) for start, end in names.items()))


def joined(
    conductors: Mapping[str, str] | Sequence[Conductor] | None,
    *,
    at_start: Mapping[str, str] | None = None,
    at_end: Mapping[str, str] | None = None,
    cores: int | None = None,
    roles: Mapping[str, ConductorRole] | None = None,
) -> Job:
    """The job of the rules' pages with other conductors in the ventilator's cable, and other terminals at its ends."""
    job = base("demo-erv-130", "60 cfm")
    if isinstance(conductors, Mapping):
        laid: Conductors | None = straight(conductors)
    else:
        laid = Conductors(tuple(conductors), listed=True) if conductors is not None else None
    cables: list[Cable] = list(job.cables)
    cables[LAST] = attrs.evolve(cables[LAST], conductors=laid, cores=cores)
    models = dict(job.catalog.models)
    for name, port, terminals in (("demo-interface", "ventilator", at_start), ("demo-erv-130", "bus", at_end)):
        if terminals is not None:
            own = models[name]
            draw = own.ports[port].draw if "supply" in terminals.values() else None
            changed = attrs.evolve(own.ports[port], terminals=terminals, draw=draw)
            models[name] = attrs.evolve(own, ports={**own.ports, port: changed})
    catalog = attrs.evolve(job.catalog, models=models, roles=roles or {})
    return attrs.evolve(job, cables=tuple(cables), catalog=catalog)


def found(job: Job) -> list[Finding]:
    return [finding for finding in check(job).findings if finding.rule.startswith("wiring/")]


def rules(job: Job) -> list[str]:
    return [finding.rule for finding in found(job)]


def straightened(job: Job) -> Conductors | None:
    """What the one remedy of all that is found makes of the cable; nothing else changes, and nothing is found then."""
    findings = found(job)
    assert findings
    remedies = [finding.remedy for finding in findings]
    assert all(remedy is not None and remedy == remedies[0] for remedy in remedies), remedies
    assert remedies[0] is not None
    better = applied(job, remedies[0])
    assert attrs.evolve(better, cables=job.cables) == job
    assert better.cables[:LAST] == job.cables[:LAST]
    assert found(better) == []
    return better.cables[LAST].conductors


def powers(start: str, end: str) -> bool:
    return "supply" in {start, end} and any(name.startswith("data") for name in (start, end))


@pytest.mark.parametrize("ends", list(permutations(FOUR)))
def test_every_map_but_the_straight_one_is_crossed_and_is_straightened(ends: tuple[str, ...]) -> None:
    conductors = dict(zip(FOUR, ends, strict=True))
    job = joined(conductors)
    findings = found(job)
    wrong = {(a, b) for a, b in conductors.items() if a != b}
    on_data = sorted(pair for pair in wrong if powers(*pair))
    crossed = sorted(wrong - set(on_data))
    assert sorted(f.place.path[-1] for f in findings if f.rule == POWERED) == [start for start, _end in on_data]
    assert all(f.todo.startswith("Do not power up") for f in findings if f.rule == POWERED)
    said = [f for f in findings if f.rule == CROSSED]
    assert [f.evidence["pairs"] for f in said] == [
        tuple(f"{a} of module.ventilator on {b} of ventilator.bus" for a, b in pairs) for pairs in [crossed] if pairs
    ]
    for finding in said:
        places = [finding.place, *finding.related]
        assert [place.path for place in places] == [("cables", LAST, "conductors", a) for a, _b in crossed]
        assert finding.todo.startswith("Do not power up") == any("supply" in pair for pair in crossed)
    assert len(findings) == len(on_data) + bool(crossed)
    if findings:
        assert straightened(job) is None


@settings(max_examples=40)
@given(st.dictionaries(st.sampled_from(FOUR), st.sampled_from(FOUR)))
def test_of_any_map_each_fault_is_found_once_and_all_are_straightened_at_once(conductors: dict[str, str]) -> None:
    job = joined(conductors)
    wrong = [(a, b) for a, b in conductors.items() if a != b]
    touched = {name for pair in wrong for name in pair}
    lacking = sorted(name for name in FOUR if conductors.get(name) != name and name not in touched)
    expected = [POWERED] * sum(powers(*pair) for pair in wrong)
    expected += [CROSSED] if any(not powers(*pair) for pair in wrong) else []
    expected += [MISSING] if lacking else []
    findings = found(job)
    assert sorted(f.rule for f in findings) == sorted(expected)
    assert [f.evidence["roles"] for f in findings if f.rule == MISSING] == ([tuple(lacking)] if lacking else [])
    if findings:
        assert straightened(job) is None
        remedy = findings[0].remedy
        assert remedy is not None
        assert ("more conductor" in remedy.assumes) == (len(conductors) < len(FOUR))


colors = st.one_of(st.none(), st.sampled_from(("red", "blue", "white")))
ends = st.one_of(st.none(), st.sampled_from(FOUR))


@settings(max_examples=40)
@given(st.permutations(FOUR), st.lists(colors, min_size=4, max_size=4), st.sets(st.sampled_from(range(4))))
def test_a_list_stays_a_list_with_its_order_and_its_colors(
    there: list[str], dyed: list[str | None], hanging: set[int]
) -> None:
    conductors = [
        Conductor(start, None if number in hanging else end, color)
        for number, (start, end, color) in enumerate(zip(FOUR, there, dyed, strict=True))
    ]
    job = joined(conductors)
    errors = [finding for finding in found(job) if finding.rule != "wiring/color-means-two-things"]
    if not errors:
        return
    hung = {f.place.path for f in errors if f.rule == HANGING}
    assert hung == {("cables", LAST, "conductors", number) for number in hanging}
    remedy = errors[0].remedy
    assert remedy is not None
    assert applied(job, remedy).cables[LAST].conductors == Conductors(
        tuple(Conductor(name, name, color) for name, color in zip(FOUR, dyed, strict=True)), listed=True
    )


@settings(max_examples=40)
@given(st.lists(st.builds(Conductor, ends, ends), max_size=6))
def test_any_list_is_straightened_or_left_and_right_conductors_are_kept(conductors: list[Conductor]) -> None:
    job = joined(conductors)
    for finding in found(job):
        if finding.remedy is None:
            continue
        after = applied(job, finding.remedy).cables[LAST].conductors
        assert after is not None
        assert after.listed
        assert len(after.items) >= len(conductors)
        for before, now in zip(conductors, after, strict=False):
            right = before.start is not None and before.start == before.end
            assert now == before if right else now.start == now.end
        assert {c.start for c in after} >= set(FOUR)


def test_the_role_counts_and_not_the_name() -> None:
    names = {"one": "data+", "two": "data-", "three": "supply", "four": "common"}
    by_role = {"data+": "one", "data-": "two", "supply": "three", "common": "four"}
    assert found(joined(by_role, at_end=names)) == []
    job = joined({**by_role, "data+": "two", "data-": "one"}, at_end=names)
    (finding,) = found(job)
    assert "data+ of module.ventilator on two (data-) of ventilator.bus" in finding.message
    after = straightened(job)
    assert after is not None
    assert sorted(after, key=str) == sorted(straight(by_role), key=str)


def test_straight_through_is_wrong_where_the_same_names_carry_different_things() -> None:
    names = {"data+": "data-", "data-": "data+", "supply": "supply", "common": "common"}
    job = joined(None, at_end=names)
    (finding,) = found(job)
    assert (finding.rule, finding.place.path) == (CROSSED, ("cables", LAST))
    after = straightened(job)
    assert after is not None
    assert set(after) == set(straight({"data+": "data-", "data-": "data+", "supply": "supply", "common": "common"}))


def test_straight_through_joins_nothing_where_no_name_is_the_same() -> None:
    names = {"one": "data+", "two": "data-", "three": "supply", "four": "common"}
    job = joined(None, at_end=names)
    (finding,) = found(job)
    assert finding.rule == MISSING
    assert finding.evidence["count"] == len(FOUR)
    assert "data- of module.ventilator to two of ventilator.bus" in finding.todo
    after = straightened(job)
    assert after is not None
    assert set(after) == set(straight({role: terminal for terminal, role in names.items()}))


def test_what_belongs_nowhere_comes_off() -> None:
    names = {"data+": "data+", "data-": "data-", "shield": "shield"}
    kept = {"data+": "data+", "data-": "data-"}
    for conductors, rule in (
        ({**kept, "common": "shield"}, CROSSED),
        ({**kept, "supply": "data+"}, POWERED),
        ({"data-": "data-", "supply": "data+"}, POWERED),
    ):
        job = joined(conductors, at_end=names)
        assert rules(job) == [rule]
        assert straightened(job) is None  # straight through joins the two that both ports have
    job = joined(
        [Conductor("data+", "data+"), Conductor("data-", "data-"), Conductor("supply", "data+", "red")], at_end=names
    )
    after = straightened(job)
    assert after is not None
    assert after.items[LAST] == Conductor(color="red")


def test_a_spare_conductor_is_taken_before_one_that_the_job_does_not_show() -> None:
    kept = [Conductor("data+", "data+"), Conductor("data-", "data-"), Conductor("supply", "supply")]
    job = joined([*kept, Conductor(color="brown")])
    (finding,) = found(job)
    assert finding.rule == MISSING
    assert finding.remedy is not None
    assert "more conductor" not in finding.remedy.assumes
    assert straightened(job) == Conductors((*kept, Conductor("common", "common", "brown")), listed=True)


def test_no_conductor_is_asked_for_that_the_cable_does_not_have() -> None:
    names = {"shield": "shield", **{name: name for name in FOUR}}
    three = [Conductor(name, name) for name in FOUR[:-1]]
    shield = Conductor("shield", "shield")
    for conductors in ([*three, shield], three):
        job = joined(conductors, at_start=names, at_end=names, cores=4)
        assert straightened(job) == Conductors((*conductors, Conductor("common", "common")), listed=True)
    twice = [*three, three[-1]]
    (finding,) = found(joined(twice, cores=4))
    assert (finding.rule, finding.remedy) == (MISSING, None)


@pytest.mark.parametrize(
    ("end", "terminal"), [("date-", "data-"), ("dta-", "data-"), ("DATA-", "data-"), ("7", None), ("x" * 90, None)]
)
def test_a_terminal_that_the_port_lacks_is_found_with_the_nearest_name(end: str, terminal: str | None) -> None:
    job = joined({**{name: name for name in FOUR}, "data-": end})
    (finding,) = found(job)
    assert (finding.rule, finding.place.path) == (UNKNOWN, ("cables", LAST, "conductors", "data-"))
    offered = f"{terminal} of ventilator.bus" if terminal else "common, data+, data- or supply of ventilator.bus"
    assert finding.todo.endswith(f": {offered}.")
    assert straightened(job) is None  # the other end tells


def test_what_is_on_unknown_terminals_at_both_ends_goes_by_its_names_or_by_what_is_left() -> None:
    rest = {"data+": "data+", "supply": "supply"}
    assert straightened(joined({**rest, "data-": "data-", "comon": "comon"})) is None
    assert straightened(joined({**rest, "data-": "data-", "7": "8"})) is None
    assert straightened(joined({**rest, "dat-": "date-", "comon": "common"})) is None
    unclear = found(joined({**rest, "7": "8", "9": "10"}))
    assert [(finding.rule, finding.remedy) for finding in unclear] == [(UNKNOWN, None), (UNKNOWN, None)]


def test_where_nobody_can_tell_nothing_is_offered() -> None:
    twice = {**{name: name for name in FOUR}, "other": "common"}
    crossed = {"data+": "data-", "data-": "data+", "supply": "supply", "common": "common"}
    (finding,) = found(joined(crossed, at_end=twice))
    assert (finding.rule, finding.remedy) == (CROSSED, None)
    whole = [Conductor(name, name) for name in FOUR]
    (finding,) = found(joined([*whole, Conductor("data+")]))
    assert (finding.rule, finding.remedy) == (HANGING, None)
    (finding,) = found(joined({**{name: name for name in FOUR}, "nowhere": "data+"}))
    assert (finding.rule, finding.remedy) == (UNKNOWN, None)
