"""Trunk and stubs against a search over all pairs; what does not change them; whose they are."""

import sys
from collections.abc import Sequence
from itertools import combinations

import attrs
import networkx as nx
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.survey.buses import FREE, GUIDE, PLAIN, STANDARD, Wire, bus_survey, line, shape_of, trees
from ventrules.job import BusKind, Port, PortSetting
from ventrules.survey import PortRef
from ventrules.survey.bus_shape import ShapeView
from ventrules.units import Length, Resistance

TERMINATED = PortSetting(termination=Resistance.of(120, "ohm"))


def drawn(wires: Sequence[Wire]) -> "nx.Graph[str]":
    graph: nx.Graph[str] = nx.Graph()
    for wire in wires:
        graph.add_edge(wire.start, wire.end, length_m=Length.parse(wire.length or "").m)
    return graph


def distances(wires: Sequence[Wire]) -> dict[str, dict[str, float]]:
    return dict(nx.all_pairs_dijkstra_path_length(drawn(wires), weight="length_m"))


def leaves(wires: Sequence[Wire]) -> list[str]:
    graph = drawn(wires)
    return sorted(node for node in graph if graph.degree[node] == 1)


def only_longest(wires: Sequence[Wire]) -> bool:
    """Say whether one way alone is the longest."""
    between = distances(wires)
    ways = sorted((between[a][b] for a, b in combinations(leaves(wires), 2)), reverse=True)
    return len(ways) == 1 or ways[0] - ways[1] > 1e-6


def said(shape: ShapeView) -> tuple[frozenset[PortRef], list[tuple[PortRef, PortRef, int]]]:
    lines = shape.lines
    return frozenset(lines.trunk.ports), [(stub.way.start, stub.way.end, stub.beside) for stub in lines.stubs]


@given(trees())
def test_trunk_and_stubs_are_those_of_a_search_over_all_pairs(wires: list[Wire]) -> None:
    shape, between, ends = shape_of(bus_survey(wires)), distances(wires), leaves(wires)
    trunk, stubs = shape.lines.trunk, shape.lines.stubs
    assert trunk.length_m == pytest.approx(max(between[a][b] for a, b in combinations(ends, 2)), rel=1e-12)
    assert trunk.length_m == pytest.approx(between[trunk.start.device][trunk.end.device], rel=1e-12)
    assert {trunk.start.device, trunk.end.device} | {stub.way.end.device for stub in stubs} == set(ends)
    assert len(stubs) == len(ends) - 2
    on_trunk = {port.device for port in trunk.ports}
    for stub in stubs:
        away = {port: between[stub.way.end.device][port] for port in on_trunk}
        assert away[stub.way.start.device] == min(away.values())
        assert stub.way.length_m == pytest.approx(min(away.values()), rel=1e-12)
        assert stub.beside == sum(other.way.start == stub.way.start for other in stubs)
        assert not {cable.index for cable in stub.way.cables} & {cable.index for cable in trunk.cables}


@given(trees(), st.data())
def test_order_of_cables_and_ends_changes_nothing(wires: list[Wire], data: st.DataObject) -> None:
    turned = [
        Wire(wire.end, wire.start, wire.length) if data.draw(st.booleans()) else wire
        for wire in data.draw(st.permutations(wires))
    ]
    assert said(shape_of(bus_survey(turned))) == said(shape_of(bus_survey(wires)))


@given(trees(), st.data())
def test_names_change_nothing_but_names(wires: list[Wire], data: st.DataObject) -> None:
    assume(only_longest(wires))
    count = len(wires) + 1
    numbers = data.draw(st.permutations(range(count)))
    new = {f"d{old}": f"d{numbers[old]}" for old in range(count)}
    renamed = [Wire(new[wire.start], new[wire.end], wire.length) for wire in wires]
    trunk, stubs = said(shape_of(bus_survey(wires)))
    other_trunk, other_stubs = said(shape_of(bus_survey(renamed)))
    assert other_trunk == {PortRef(new[port.device], port.port) for port in trunk}
    assert sorted(other_stubs) == sorted(
        (PortRef(new[start.device], start.port), PortRef(new[end.device], end.port), beside)
        for start, end, beside in stubs
    )


@given(trees())
def test_units_change_nothing(wires: list[Wire]) -> None:
    assume(only_longest(wires))
    feet = [Wire(w.start, w.end, f"{Length.parse(w.length or '').to('ft'):.17g} ft") for w in wires]
    assert said(shape_of(bus_survey(feet))) == said(shape_of(bus_survey(wires)))


@given(trees(), st.data())
@settings(max_examples=settings().max_examples // 2)
def test_a_device_put_into_a_cable_leaves_trunk_and_stubs_as_long(wires: list[Wire], data: st.DataObject) -> None:
    number = data.draw(st.integers(0, len(wires) - 1))
    wire = wires[number]
    half = f"{Length.parse(wire.length or '').m / 2:.17g} m"
    split = [*wires[:number], Wire(wire.start, "new", half), Wire("new", wire.end, half), *wires[number + 1 :]]
    assume(only_longest(wires))
    before, after = (shape_of(bus_survey(each)).lines for each in (wires, split))
    assert after.trunk.length_m == pytest.approx(before.trunk.length_m)
    lengths = [sorted(stub.way.length_m for stub in lines.stubs) for lines in (before, after)]
    assert lengths[1] == pytest.approx(lengths[0])


def test_a_bus_without_forks_needs_no_graph(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "networkx", None)
    trunk = shape_of(bus_survey(line("3 m", "4 m", None), bridge="d3")).lines.trunk
    assert [port.device for port in trunk.ports] == ["d3", "d2", "d1", "d0"]
    assert trunk.length_m == pytest.approx(7.0)
    assert [cable.cable.start for cable in trunk.unmeasured] == ["d2.bus"]
    with pytest.raises(ImportError):
        _ = shape_of(bus_survey([*line("3 m", "4 m"), Wire("d1", "side", "1 m")])).lines


STAR = [Wire("hub", "a", "30 m"), Wire("hub", "b", "15 m"), Wire("hub", "c", "12 m")]


@pytest.mark.parametrize(
    ("terminated", "ends", "stub"),
    [
        ("", "ab", "c"),  # the longest way
        ("ac", "ac", "b"),  # 15 m is short enough for a stub, so it may be meant
        ("bc", "ab", "c"),  # 30 m is not
        ("abc", "ab", "c"),  # three ends are none
        ("a", "ab", "c"),
    ],
)
def test_two_terminated_ends_may_make_the_trunk(terminated: str, ends: str, stub: str) -> None:
    shape = shape_of(bus_survey(STAR, settings=dict.fromkeys(terminated, TERMINATED)))
    assert [port.device for port in shape.trunk_ends or ()] == list(ends)
    assert [found.way.end.device for found in shape.lines.stubs] == [stub]


def test_where_stubs_are_too_long_either_way_the_terminated_ends_are_meant() -> None:
    wires = [Wire("hub", "a", "30 m"), Wire("hub", "b", "28 m"), Wire("hub", "c", "25 m")]
    shape = shape_of(bus_survey(wires, settings={"a": TERMINATED, "c": TERMINATED}))
    assert [(stub.way.end.device, stub.fits) for stub in shape.lines.stubs] == [("b", False)]


def test_unknown_lengths_leave_the_ends_open_unless_they_are_terminated() -> None:
    wires = [Wire("hub", "a", None), *STAR[1:]]
    assert shape_of(bus_survey(wires)).trunk_ends is None
    ends = shape_of(bus_survey(wires, settings={"a": TERMINATED, "b": TERMINATED})).trunk_ends
    assert [port.device for port in ends or ()] == ["a", "b"]
    assert shape_of(bus_survey(line(None, "3 m"))).trunk_ends is not None


def test_several_stubs_at_one_place_share_a_length() -> None:
    wires = [*line("50 m", "50 m"), *(Wire("d1", f"s{number}", "9 m") for number in range(4))]
    stubs = shape_of(bus_survey(wires)).lines.stubs
    assert [stub.beside for stub in stubs] == [4] * 4
    assert [stub.limit_m for stub in stubs] == [pytest.approx(40 / 4)] * 4
    assert shape_of(bus_survey(wires[:3])).lines.stubs[0].limit_m == 20.0
    assert shape_of(bus_survey(wires, profile=STANDARD)).lines.stubs[0].limit_m is None


def test_a_ring_has_no_shape() -> None:
    assert bus_survey([*line("3 m", "4 m"), Wire("d2", "d0", "2 m")]).shapes == ()
    assert bus_survey([*line("3 m"), *line("3 m")]).shapes == ()


def test_no_profile_no_shape() -> None:
    port = Port(BusKind.VENTILATOR)
    assert bus_survey(line("3 m"), ports={"d0": port, "d1": port}).shapes == ()
    contact = Port(BusKind.CONTACT, profile=GUIDE)
    assert bus_survey(line("3 m"), ports={"d0": contact, "d1": contact}).shapes == ()


def test_two_profiles_are_two_shapes_each_marked() -> None:
    survey = bus_survey(line("3 m", "3 m"), ports={"d0": attrs.evolve(PLAIN, profile=STANDARD)})
    assert [shape.mark for shape in survey.shapes] == [f" / {GUIDE}", f" / {STANDARD}"]
    assert len({shape.place.name for shape in survey.shapes}) == 2
    assert shape_of(bus_survey(line("3 m"), profile=FREE)).mark == ""


def test_a_bus_is_called_by_its_bridge() -> None:
    assert str(shape_of(bus_survey(line("3 m", "4 m"), bridge="d1")).head) == "d1.bus"
    assert str(shape_of(bus_survey(line("3 m", "4 m"))).head) == "d0.bus"


def test_a_free_address_is_offered_to_those_that_need_one_and_to_no_two_of_them() -> None:
    wires = line("1 m", "1 m", "1 m", "1 m")
    addresses = (300, 7, 7, 2, 7)
    settings = {f"d{number}": PortSetting(address=address) for number, address in enumerate(addresses)}
    shape = shape_of(bus_survey(wires, settings=settings))
    assert [station.free_address for station in shape.stations] == [1, None, 3, None, 4]


def test_no_address_is_offered_where_all_are_taken() -> None:
    wires = line("1 m", "1 m")
    profile = attrs.evolve(FREE, addresses=shape_of(bus_survey(wires)).profile.addresses)
    assert profile.addresses is not None
    two = attrs.evolve(profile, addresses=attrs.evolve(profile.addresses, lowest=1, highest=2))
    taken = {f"d{number}": PortSetting(address=address) for number, address in enumerate((1, 2, 2))}
    assert [station.free_address for station in shape_of(bus_survey(wires, profile=two, settings=taken)).stations] == [
        None
    ] * 3
    taken["d0"] = PortSetting(address=9)
    shape = shape_of(bus_survey(wires, profile=two, settings=taken))
    assert [station.free_address for station in shape.stations] == [1, None, None]
    assert [station.keeper for station in shape.stations] == [None, None, PortRef("d1", "bus")]
