"""Crossed conductors: every way to join four terminals, and terminals that go by other names."""

from collections.abc import Mapping
from itertools import permutations
from typing import Final

import attrs
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.test_swaps import base
from ventrules import Finding, Job, applied, check, job_document
from ventrules.job import Cable, Catalog

FOUR: Final = ("data+", "data-", "supply", "common")
RULE: Final = "wiring/conductors-crossed"
LAST: Final = 2  # the cable between the module and the ventilator


def joined(conductors: Mapping[str, str] | None, names: Mapping[str, str] | None = None) -> Job:
    """The job of the rules' pages with a map for the ventilator's cable, and other names for its terminals."""
    job = base("demo-erv-130", "60 cfm")
    cables: list[Cable] = list(job.cables)
    cables[LAST] = attrs.evolve(cables[LAST], conductors=conductors)
    if names is None:
        return attrs.evolve(job, cables=tuple(cables))
    models = dict(job.catalog.models)
    own = models["demo-erv-130"]
    port = attrs.evolve(own.ports["bus"], terminals=names)
    models["demo-erv-130"] = attrs.evolve(own, ports={"bus": port})
    return attrs.evolve(job, cables=tuple(cables), catalog=Catalog("own", models))


def found(job: Job) -> Finding | None:
    return next((finding for finding in check(job).findings if finding.rule == RULE), None)


@pytest.mark.parametrize("ends", list(permutations(FOUR)))
def test_every_map_but_the_straight_one_is_crossed_and_is_straightened(ends: tuple[str, ...]) -> None:
    conductors = dict(zip(FOUR, ends, strict=True))
    job = joined(conductors)
    finding = found(job)
    wrong = {(a, b) for a, b in conductors.items() if a != b}
    if not wrong:
        assert finding is None
        return
    assert finding is not None
    assert finding.evidence["pairs"] == tuple(
        f"{a} of module.ventilator on {b} of ventilator.bus" for a, b in sorted(wrong)
    )
    powered = any("supply" in pair and any(end.startswith("data") for end in pair) for pair in wrong)
    assert finding.todo.startswith("Do not power up") == powered
    assert finding.remedy is not None
    better = applied(job, finding.remedy)
    assert better.cables[LAST].conductors is None
    assert attrs.evolve(better, cables=job.cables) == job
    assert found(better) is None


@given(st.dictionaries(st.sampled_from(FOUR), st.sampled_from(FOUR)))
def test_any_map_is_straightened_on_that_cable_alone(conductors: dict[str, str]) -> None:
    job = joined(conductors)
    finding = found(job)
    assert (finding is None) == all(a == b for a, b in conductors.items())
    if finding is None:
        return
    assert finding.remedy is not None
    better = applied(job, finding.remedy)
    after = better.cables[LAST].conductors
    assert after is None or all(a == b for a, b in after.items())
    assert after is None or {*conductors, *conductors.values()} == set(after)
    assert job_document(better)["cables"] != job_document(job)["cables"]
    assert better.cables[:LAST] == job.cables[:LAST]
    assert found(better) is None


def test_the_role_counts_and_not_the_name() -> None:
    names = {"one": "data+", "two": "data-", "three": "supply", "four": "common"}
    by_role = {"data+": "one", "data-": "two", "supply": "three", "common": "four"}
    assert found(joined(by_role, names)) is None
    finding = found(joined({**by_role, "data+": "two", "data-": "one"}, names))
    assert finding is not None
    assert "data+ of module.ventilator on two (data-) of ventilator.bus" in finding.message
    assert finding.remedy is not None
    better = applied(joined({**by_role, "data+": "two", "data-": "one"}, names), finding.remedy)
    assert better.cables[LAST].conductors == by_role


def test_straight_through_is_crossed_where_the_same_names_carry_different_things() -> None:
    names = {"data+": "data-", "data-": "data+", "supply": "supply", "common": "common"}
    job = joined(None, names)
    finding = found(job)
    assert finding is not None
    assert finding.remedy is not None
    assert applied(job, finding.remedy).cables[LAST].conductors == {"data+": "data-", "data-": "data+"} | {
        name: name for name in ("supply", "common")
    }


def test_what_has_no_match_at_the_other_port_is_left_alone_unless_it_is_power_on_data() -> None:
    names = {"data+": "data+", "data-": "data-", "shield": "shield"}
    kept = {"data+": "data+", "data-": "data-"}
    assert found(joined({**kept, "common": "shield"}, names)) is None
    assert found(joined({**kept, "nowhere": "data+"}, names)) is None
    job = joined({"data-": "data-", "supply": "data+"}, names)
    finding = found(job)
    assert finding is not None
    assert finding.todo.startswith("Do not power up: supply of module.ventilator on data+ of ventilator.bus")
    assert finding.remedy is not None
    better = applied(job, finding.remedy)
    assert better.cables[LAST].conductors is None  # straight through joins the two that both ports have
    assert found(better) is None


def test_of_two_terminals_of_one_role_none_is_chosen() -> None:
    names = {"data+": "data+", "data-": "data-", "supply": "supply", "common": "common", "spare": "common"}
    finding = found(joined({"data+": "data-", "data-": "data+"}, names))
    assert finding is not None
    assert finding.remedy is None
