"""The bus graph against naive re-implementations, on random devices and cables."""

from collections.abc import Iterable, Mapping, Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventrules.engine.findings import Document
from ventrules.files import job_from_document
from ventrules.job import BusKind, Cable, Job, Role
from ventrules.survey import PortRef, Route, Segment, Survey, Topology, cable_name

MODELS = (
    "demo-control",
    "demo-control-fine",
    "demo-furnace",
    "demo-furnace-contact",
    "demo-condenser-contact",
    "demo-interface",
    "demo-interface-dual",
    "demo-interface-dual",
    "demo-zone-panel",
    "demo-zone-panel",
    "demo-zone-panel-plain",
    "demo-erv-130",
    "demo-hrv-100",
    "demo-hrv-contact",
)
BUSES = (BusKind.SYSTEM, BusKind.VENTILATOR)


def job_of(models: Mapping[str, str], cables: Iterable[tuple[str, str]]) -> Job:
    """Return a job of named demo models joined by cables."""
    devices: dict[str, Document] = {name: {"model": model} for name, model in models.items()}
    joined: list[Document] = [{"from": start, "to": end} for start, end in cables]
    return job_from_document(
        {
            "ventrules": 1,
            "job": "Quarry Lane 9",
            "catalogs": ["demo"],
            "dwelling": {"floor_area": "2000 ft2", "bedrooms": 3},
            "target": {"code": "us-irc-2021"},
            "devices": devices,
            "cables": joined,
        }
    )


DEMO = job_of({}, []).catalog.models


def _ports(models: Mapping[str, str], kind: BusKind | None = None) -> list[str]:
    return [
        f"{name}.{port}"
        for name, model in models.items()
        for port, described in DEMO[model].ports.items()
        if kind is None or described.bus is kind
    ]


def row(bridges: int) -> tuple[dict[str, str], list[tuple[str, str]], str]:
    """Return a ventilator, bridges in a row that are turned about each time, their cables and the free port."""
    models = {"unit": "demo-erv-130"}
    cables, here, port = [], "unit.bus", "ventilator"
    for number in range(bridges):
        models[f"bridge {number}"] = "demo-interface"
        cables.append((here, f"bridge {number}.{port}"))
        port = "system" if port == "ventilator" else "ventilator"
        here = f"bridge {number}.{port}"
    return models, cables, here


@st.composite
def wired_jobs(draw: st.DrawFn) -> Job:
    """Devices with cables, most of them between ports of one kind; often a row of bridges among them."""
    models, cables, free = row(draw(st.sampled_from([3, 0, 1, 5])))
    names = draw(st.lists(st.sampled_from(MODELS), min_size=1, max_size=12))
    models |= {f"unit {number}": model for number, model in enumerate(names)}
    controls = [f"{name}.system" for name, model in models.items() if model.startswith("demo-control")]
    if draw(st.booleans()) and controls:
        cables.append((free, draw(st.sampled_from(controls))))
    choices = [_ports(models, kind) for kind in (*BUSES, *BUSES, BusKind.CONTACT)]
    choices = [ports for ports in (*choices, _ports(models)) if len(ports) > 1]
    for _number in range(draw(st.integers(0, 14)) if choices else 0):
        ports = draw(st.sampled_from(choices))
        start = draw(st.integers(0, len(ports) - 1))
        end = (start + draw(st.integers(1, len(ports) - 1))) % len(ports)
        cables.append((ports[start], ports[end]))
    return job_of(models, cables)


def _topology(job: Job) -> Topology:
    return Survey(job).topology


def _kinds(job: Job) -> dict[str, BusKind]:
    return {
        f"{name}.{port}": described.bus for name in job.devices for port, described in job.model_of(name).ports.items()
    }


def _sound(job: Job) -> list[int]:
    kinds = _kinds(job)
    return [index for index, cable in enumerate(job.cables) if kinds[cable.start] is kinds[cable.end]]


def _components(job: Job) -> set[frozenset[str]]:
    """Return the ports that sound cables join, by union-find."""
    parent = {port: port for port in _kinds(job)}

    def root(port: str) -> str:
        while parent[port] != port:
            port = parent[port]
        return port

    for index in _sound(job):
        parent[root(job.cables[index].start)] = root(job.cables[index].end)
    found: dict[str, set[str]] = {}
    for port in parent:
        found.setdefault(root(port), set()).add(port)
    return {frozenset(ports) for ports in found.values()}


def _named(ports: Iterable[PortRef]) -> frozenset[str]:
    return frozenset(str(port) for port in ports)


@given(wired_jobs())
def test_segments_are_what_union_find_joins(job: Job) -> None:
    segments = _topology(job).segments
    assert {_named(segment.ports) for segment in segments} == _components(job)
    assert sum(len(segment.ports) for segment in segments) == len(_kinds(job))


@given(wired_jobs())
def test_a_segment_knows_its_kind_its_cables_and_its_devices(job: Job) -> None:
    topology, kinds = _topology(job), _kinds(job)
    assert sorted(index for segment in topology.segments for index in segment.cables) == _sound(job)
    for number, segment in enumerate(topology.segments):
        assert segment.number == number
        assert {kinds[str(port)] for port in segment.ports} == {segment.kind}
        assert set(segment.devices) == {port.device for port in segment.ports}
        assert all(topology.segment_of(port) is segment for port in segment.ports)
        for index in segment.cables:
            assert {job.cables[index].start, job.cables[index].end} <= _named(segment.ports)


@given(wired_jobs())
def test_every_cable_is_either_sound_or_mismatched(job: Job) -> None:
    topology = _topology(job)
    assert sorted((*topology.mismatched, *_sound(job))) == list(range(len(job.cables)))
    ends: dict[str, list[int]] = {}
    for index, cable in enumerate(job.cables):
        for end in (cable.start, cable.end):
            ends.setdefault(end, []).append(index)
    assert {str(port): list(indexes) for port, indexes in topology.cables_at.items()} == ends


def _is_simple_cycle(cables: Sequence[Cable]) -> bool:
    """Walk from cable to cable: every port is passed once, and the walk ends where it began."""
    left = list(cables)
    start, here = left[0].start, left[0].end
    left.pop(0)
    passed = {here}
    while here != start:
        following = [cable for cable in left if here in (cable.start, cable.end)]
        if len(following) != 1:
            return False
        left.remove(following[0])
        here = following[0].end if following[0].start == here else following[0].start
        if here in passed:
            return False
        passed.add(here)
    return not left


@given(wired_jobs())
def test_there_is_a_ring_wherever_there_are_as_many_cables_as_ports(job: Job) -> None:
    topology = _topology(job)
    too_many = [
        component
        for component in _components(job)
        if sum(job.cables[index].start in component for index in _sound(job)) >= len(component)
        and _kinds(job)[min(component)] in BUSES  # a contact circuit is no bus
    ]
    found = set()
    for ring in topology.rings:
        assert len(set(ring)) == len(ring) >= 2
        pairs = [frozenset((job.cables[index].start, job.cables[index].end)) for index in ring]
        if len(set(pairs)) == 1:  # cables that join the same two ports: all of them
            alike = [i for i, cable in enumerate(job.cables) if {cable.start, cable.end} == pairs[0]]
            assert sorted(ring) == alike
        else:
            assert _is_simple_cycle([job.cables[index] for index in ring])
        ports = frozenset[str]().union(*pairs)
        found |= {number for number, component in enumerate(too_many) if ports <= component}
    assert found == set(range(len(too_many)))


def _bridges(job: Job) -> dict[str, set[str]]:
    """Return the devices that carry messages between the buses, with their bus ports."""
    kinds, found = _kinds(job), {}
    for name in job.devices:
        ports = {port for port in kinds if port.partition(".")[0] == name and kinds[port] in BUSES}
        both = {kinds[port] for port in ports} == set(BUSES)
        if job.model_of(name).role in (Role.INTERFACE_MODULE, Role.ZONE_PANEL) and both:
            found[name] = ports
    return found


def _fewest_hops(job: Job, ventilator: str) -> int | None:
    """Return the fewest hops to a controller: spread from the ventilator, one bridge further each time."""
    kinds, bridges = _kinds(job), _bridges(job)
    controllers = {name for name in job.devices if job.model_of(name).role is Role.CONTROLLER}
    components = [component for component in _components(job) if kinds[next(iter(component))] in BUSES]
    reached = [c for c in components if any(port.partition(".")[0] == ventilator for port in c)]
    for hops in range(1, len(components) + 1):
        devices = {port.partition(".")[0] for component in reached for port in component}
        if devices & controllers:
            return hops
        passed = {port for name in devices & bridges.keys() for port in bridges[name]}
        reached = [component for component in components if component in reached or component & passed]
    return None


def _assert_leads(job: Job, topology: Topology, ventilator: str, route: Route) -> None:
    """Check every step of a route: port to port on one segment, through bridges, to a controller."""
    assert route.ventilator == ventilator == route.hops[0].start.device
    assert route.controller == route.hops[-1].end.device
    assert job.model_of(route.controller).role is Role.CONTROLLER
    assert set(route.bridges) <= _bridges(job).keys()
    assert len(set(route.bridges)) == len(route.bridges) == len(route.hops) - 1
    for hop in route.hops:
        assert {hop.start, hop.end} <= set(topology.segments[hop.segment].ports)
        assert hop.start.device != hop.end.device
    for before, after in zip(route.hops, route.hops[1:], strict=False):
        assert before.end.device == after.start.device
        assert before.segment != after.segment


@given(wired_jobs())
def test_routes_are_the_shortest_ways(job: Job) -> None:
    topology = _topology(job)
    assert set(topology.bridges) == _bridges(job).keys()
    for name in job.devices:
        if job.model_of(name).role is not Role.VENTILATOR:
            continue
        route, fewest = topology.route(name), _fewest_hops(job, name)
        assert (len(route.hops) if route else None) == fewest
        ports = topology.ports_of(name, *BUSES)
        assert any(topology.reaches_controller(port) for port in ports) is (route is not None)
        if route is not None:
            _assert_leads(job, topology, name, route)


@given(wired_jobs())
def test_isolated_devices_have_bus_ports_and_no_cable(job: Job) -> None:
    kinds = _kinds(job)
    ends = {end for cable in job.cables for end in (cable.start, cable.end)}
    wired = {end.partition(".")[0] for end in ends if kinds[end] in BUSES}
    on_a_bus = {port.partition(".")[0] for port, kind in kinds.items() if kind in BUSES}
    assert set(_topology(job).isolated) == on_a_bus - wired


@given(wired_jobs(), st.data())
def test_the_order_and_direction_of_cables_change_no_segment_and_no_distance(job: Job, data: st.DataObject) -> None:
    models = {name: device.model for name, device in job.devices.items()}
    pairs = data.draw(st.permutations([(cable.end, cable.start) for cable in job.cables]))
    turned = job_of(dict(data.draw(st.permutations(list(models.items())))), pairs)
    one, other = _topology(job), _topology(turned)
    assert [segment.ports for segment in one.segments] == [segment.ports for segment in other.segments]
    for name in models:
        assert _length(one.route(name)) == _length(other.route(name))
    assert sorted(map(cable_name, job.cables)) == sorted(map(cable_name, turned.cables))


def _length(route: Route | None) -> int:
    return len(route.hops) if route is not None else 0


@given(wired_jobs())
def test_the_graph_holds_every_device_port_and_cable(job: Job) -> None:
    graph = _topology(job).graph
    ports = len(_kinds(job))
    assert graph.number_of_nodes() == len(job.devices) + ports
    assert graph.number_of_edges() == ports + len(job.cables)


def test_a_route_by_hand() -> None:
    job = job_of(
        {"control": "demo-control", "module": "demo-interface", "panel": "demo-zone-panel", "unit": "demo-erv-130"},
        [("control.system", "module.system"), ("module.ventilator", "unit.bus"), ("panel.ventilator", "unit.bus")],
    )
    topology = _topology(job)
    route = topology.route("unit")
    assert route is not None
    assert str(route) == "unit → module → control"
    assert [(str(hop.start), str(hop.end)) for hop in route.hops] == [
        ("unit.bus", "module.ventilator"),
        ("module.system", "control.system"),
    ]
    assert topology.bridges_on(topology.segment_of(PortRef("unit", "bus"))) == ("module", "panel")


def test_a_cable_on_the_wrong_port_joins_nothing() -> None:
    job = job_of({"control": "demo-control", "unit": "demo-erv-130"}, [("control.system", "unit.bus")])
    topology = _topology(job)
    assert topology.mismatched == (0,)
    assert [segment.cables for segment in topology.segments] == [(), ()]
    assert topology.route("unit") is None
    assert not topology.isolated


def test_two_cables_between_the_same_ports_are_a_ring() -> None:
    pair = ("control.system", "furnace.system")
    job = job_of({"control": "demo-control", "furnace": "demo-furnace"}, [pair, pair[::-1]])
    assert _topology(job).rings == ((0, 1),)


def test_a_survey_of_two_thousand_devices() -> None:
    """666 groups of zone panel, ventilator and indoor unit along one line of the system bus."""
    models, cables, end = {"control": "demo-control", "second": "demo-zone-panel-plain"}, [], "control.system"
    cables.append((end, "second.system"))
    for number in range(666):
        models |= {
            f"panel {number}": "demo-zone-panel",
            f"unit {number}": "demo-erv-130",
            f"furnace {number}": "demo-furnace",
        }
        cables += [
            (end, f"panel {number}.system"),
            (f"panel {number}.ventilator", f"unit {number}.bus"),
            (f"panel {number}.system", f"furnace {number}.system"),
        ]
        end = f"furnace {number}.system"
    survey = Survey(job_of(models, cables))
    assert len(survey.devices) == 2000
    assert len(survey.topology.segments) == 667
    assert not survey.rings
    assert len(survey.hops) == 2 * 666
    assert len(survey.served["control"]) == 666
    (line,) = survey.system_segments
    assert line.controllers == ("control",)
    assert len(line.segment.ports) == 2 + 2 * 666


@pytest.mark.parametrize("bridges", [1, 500, 999])
def test_a_route_through_a_long_row_of_bridges(bridges: int) -> None:
    """An odd number of them ends on the system bus, where the controller is."""
    models, cables, free = row(bridges)
    models["control"] = "demo-control"
    route = _topology(job_of(models, [*cables, (free, "control.system")])).route("unit")
    assert (route is not None) is (bridges % 2 == 1)
    if route is not None:
        assert len(route.hops) == bridges + 1
        assert route.bridges == tuple(f"bridge {number}" for number in range(bridges))


def test_segments_are_values() -> None:
    segment = Segment(0, BusKind.SYSTEM, (PortRef("b", "x"), PortRef("a", "x"), PortRef("a", "y")), ())
    assert segment.devices == ("a", "b")
    assert PortRef.of("unit 1.bus") == PortRef("unit 1", "bus")
