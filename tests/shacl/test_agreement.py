"""Two ways to say what a bus graph must be, our rules and SHACL shapes, agree on every job."""

from typing import Final

import pytest
from hypothesis import given, settings

from tests.cli.running import FAULTY
from tests.expected import FAULTY as EXPECTED
from tests.shacl.cases import wired_jobs
from tests.shacl.export import V, bus_graph
from tests.shacl.oracle import SEVERAL, compared, ours_say, rule_ids, shacl_says, single_routes, topology_rules
from ventrules import Job, read_job

EXAMPLES: Final = {rule: next(name for name in sorted(EXPECTED) if EXPECTED[name].rule == rule) for rule in rule_ids()}
"""An example at fault for each rule."""


def test_every_shape_is_named_after_a_rule() -> None:
    assert {rule.id for rule in topology_rules()} == rule_ids()
    assert len(rule_ids()) == 12


@pytest.mark.parametrize("rule", sorted(EXAMPLES))
def test_each_rule_and_its_shape_find_the_fault_of_an_example(rule: str) -> None:
    job = read_job(FAULTY / EXAMPLES[rule])
    ours = ours_say(job)
    assert rule in {said.partition(" ")[0] for said, _place in ours}
    routes = single_routes(ours)
    assert routes or rule in (SEVERAL, "wiring/two-bridges")
    assert compared(shacl_says(job), routes=routes) == compared(ours, routes=routes)


@settings(max_examples=30)
@given(wired_jobs())
def test_rules_and_shapes_find_the_same(job: Job) -> None:
    ours = ours_say(job)
    routes = single_routes(ours)
    assert compared(shacl_says(job), routes=routes) == compared(ours, routes=routes)


def test_what_is_handed_over_holds_nothing_that_follows() -> None:
    """Else the shapes would be told by the very code that they are to check."""
    graph = bus_graph(read_job(FAULTY / EXAMPLES["wiring/ring"]))
    said = {
        str(predicate).removeprefix(str(V)) for predicate in graph.predicates() if str(predicate).startswith(str(V))
    }
    assert said == {"device", "name", "takes", "port", "kind", "understands", "end"}
