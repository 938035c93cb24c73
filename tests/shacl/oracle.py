"""What pySHACL finds in the bus graph of a job, and what our rules find, told in the same words."""

from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path
from typing import Final

from pyshacl import validate
from rdflib import RDF, SH, Graph, Literal, URIRef
from rdflib.term import Node

from tests.shacl.export import JOB, V, bus_graph
from ventrules import Finding, Job
from ventrules.checking import found_in
from ventrules.policy import Rules, installed_rules

SHAPES: Final = Path(__file__).parent / "shapes.ttl"
_PREFIX: Final = "rule:"
RING: Final = "wiring/ring"
NO_CONTROLLER: Final = "equipment/no-controller"
SEVERAL: Final = "equipment/several-controllers"
TWO_BRIDGES: Final = "wiring/two-bridges"
BY_ROUTE: Final = frozenset({"equipment/dialect-mismatch", "wiring/redundant-interface-module"})
"""Rules that follow a ventilator's route: where there are several routes, ours take the shortest of them."""

Said = tuple[str, str]
"""The id of a rule, and a place."""


@cache
def shapes() -> Graph:
    """Return the shapes."""
    return Graph().parse(SHAPES)


@cache
def rule_ids() -> frozenset[str]:
    """Return the ids of the rules that are written as shapes."""
    named = (str(node) for kind in (SH.NodeShape, SH.PropertyShape) for node in shapes().subjects(RDF.type, kind))
    return frozenset(name.removeprefix(_PREFIX).partition("#")[0] for name in named if name.startswith(_PREFIX))


@cache
def topology_rules() -> Rules:
    """Return our rules that are written as shapes."""
    return installed_rules().select(sorted(rule_ids()))


def shacl_says(job: Job) -> set[Said]:
    """Return what the shapes find."""
    graph = bus_graph(job)
    results = validated(graph)
    return {
        said for result in results.subjects(RDF.type, SH.ValidationResult) for said in _told(graph, results, result)
    }


def validated(graph: Graph) -> Graph:
    """Return the results of pySHACL; what follows from the graph is added to it."""
    _conforms, results, _text = validate(graph, shacl_graph=shapes(), advanced=True, inplace=True)
    assert isinstance(results, Graph), results
    return results


def _told(graph: Graph, results: Graph, result: Node) -> Iterator[Said]:
    shape = str(results.value(result, SH.sourceShape)).removeprefix(_PREFIX)
    focus = results.value(result, SH.focusNode)
    assert isinstance(focus, URIRef)
    rule, _hash, part = shape.partition("#")
    if rule in (NO_CONTROLLER, SEVERAL) or part == "larger":
        yield f"{rule}{' larger' if part == 'larger' else ''}", _bus(graph, focus)
    elif rule == RING:
        yield f"{rule} doubled", str(focus)
    elif rule == "equipment/dialect-mismatch":
        end = results.value(result, SH.value)
        yield rule, f"{graph.value(focus, V.name)} to {graph.value(end, V.name)}"
    else:
        yield rule, "job" if focus == JOB else str(graph.value(focus, V.name) or focus)


def _bus(graph: Graph, port: URIRef) -> str:
    """Return all ports of the bus that a port lies on."""
    return " ".join(sorted(str(graph.value(end, V.name)) for end in graph.transitive_objects(port, V.beside)))


def ours_say(job: Job) -> set[Said]:
    """Return what our rules find, in the same words."""
    graph = joined(job)
    return {said for finding in found_in(job, topology_rules()) for said in _said(graph, job, finding)}


def joined(job: Job) -> Graph:
    """Return the bus graph with ports beside each other, for the names of buses only."""
    graph = bus_graph(job)
    for cable in graph.subjects(RDF.type, V.Cable):
        first, *others = graph.objects(cable, V.end)
        for other in others:
            if graph.value(first, V.kind) == graph.value(other, V.kind):
                graph.add((first, V.beside, other))
                graph.add((other, V.beside, first))
    return graph


def _said(graph: Graph, job: Job, finding: Finding) -> Iterator[Said]:
    path = finding.place.path
    if finding.rule in (NO_CONTROLLER, SEVERAL):
        devices = [place.path[1] for place in finding.related]
        yield finding.rule, _bus(graph, _system_port(graph, job, str(devices[0])))
    elif finding.rule == RING:
        numbers = [int(place.path[1]) for place in finding.related]
        ends = {frozenset((job.cables[number].start, job.cables[number].end)) for number in numbers}
        if len(ends) == 1:
            yield from ((f"{RING} doubled", f"urn:cable:{number}") for number in numbers)
        else:
            port = graph.value(predicate=V.name, object=Literal(job.cables[numbers[0]].start))
            assert isinstance(port, URIRef)
            yield f"{RING} larger", _bus(graph, port)
    elif finding.rule == "equipment/dialect-mismatch":
        yield finding.rule, f"{finding.evidence['start']} to {finding.evidence['end']}"
    elif path[0] == "cables":
        yield finding.rule, f"urn:cable:{path[1]}"
    else:
        yield finding.rule, "job" if path == ("target",) else str(path[1])


def _system_port(graph: Graph, job: Job, device: str) -> URIRef:
    """Return the joined system port of a device that has one."""
    ports = job.catalog.models[job.devices[device].model].ports
    names = (f"{device}.{name}" for name, port in sorted(ports.items()) if port.bus.value == "system-bus")
    nodes = [graph.value(predicate=V.name, object=Literal(name)) for name in names]
    (joined,) = [node for node in nodes if (node, V.beside, None) in graph]
    assert isinstance(joined, URIRef)
    return joined


def single_routes(said: Iterable[Said]) -> bool:
    """Say whether every ventilator has one route at most: no bus has two controllers, and none two bridges."""
    return not {rule for rule, _place in said} & {SEVERAL, TWO_BRIDGES}


def compared(said: set[Said], *, routes: bool) -> set[Said]:
    """Return what is compared: what follows from a route only where there is but one."""
    return said if routes else {(rule, place) for rule, place in said if rule not in BY_ROUTE}
