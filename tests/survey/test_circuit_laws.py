"""Laws of the voltages of supply circuits."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.survey.circuits import Net, anything, doubled, net, networks, ohms, same, trees, voltage, voltages
from ventrules.survey.circuit import Circuit, Collapse, Solution, Wire, solve


def lower(after: Net, before: Net) -> None:
    """No voltage of the one is above that of the other, and a collapse stays one."""
    of_before, of_after = voltages(before), voltages(after)
    if of_before is None:
        assert of_after is None
    elif of_after is not None:
        assert all(of_after[node] <= of_before[node] * (1.0 + 1e-9) for node in of_before)


def longer(circuit: Net, pick: int, times: float) -> Net:
    number = pick % len(circuit.wires)
    wires = list(circuit.wires)
    old = wires[number]
    wires[number] = Wire(old.start, old.end, old.resistance_ohm * times)
    return Circuit(0, circuit.source_v, tuple(wires), circuit.draws_va)


picks = st.integers(0, 20)
more_times = st.floats(1.0, 4.0)


@given(trees([1.0, 4.0, 10.0]), picks, more_times)
def test_on_a_tree_a_longer_thinner_or_hotter_wire_never_raises_a_voltage(
    circuit: Net, pick: int, times: float
) -> None:
    lower(longer(circuit, pick, times), circuit)


@given(networks(), picks, picks, more_times, st.floats(1.0, 60.0))
def test_with_one_draw_a_longer_wire_never_raises_its_voltage(
    circuit: Net, pick: int, at: int, times: float, va: float
) -> None:
    """Rayleigh's monotonicity law: no resistance between two nodes falls as that of a wire rises."""
    node = at % max(circuit.draws_va) + 1
    before = Circuit(0, circuit.source_v, circuit.wires, {node: va})
    assert voltage(longer(before, pick, times), node) <= voltage(before, node) * (1.0 + 1e-9)


def test_on_a_ring_a_longer_wire_may_raise_another_voltage() -> None:
    """The law does not hold for all nodes: less of the current of node 2 comes by way of node 1."""
    short = net([(0, 1, 1.0), (0, 2, 1.0), (1, 2, 1.0)], {2: 40.0})
    long = longer(short, 2, 10.0)
    assert voltage(long, 1) > voltage(short, 1) + 0.1
    assert voltage(long, 2) < voltage(short, 2) - 0.1


@given(anything, picks, st.floats(0.0, 30.0))
def test_another_draw_never_raises_a_voltage(circuit: Net, at: int, va: float) -> None:
    node = at % len(circuit.draws_va)
    draws = {**circuit.draws_va, node: circuit.draws_va[node] + va}
    lower(Circuit(0, circuit.source_v, circuit.wires, draws), circuit)


@given(anything, st.floats(1.0, 2.0))
def test_a_higher_source_never_lowers_a_voltage(circuit: Net, times: float) -> None:
    lower(circuit, Circuit(0, circuit.source_v * times, circuit.wires, circuit.draws_va))


@given(anything, picks, st.floats(0.001, 0.999))
def test_a_joint_within_a_wire_changes_nothing(circuit: Net, pick: int, part: float) -> None:
    number = pick % len(circuit.wires)
    old = circuit.wires[number]
    halves = (
        Wire(old.start, 99, old.resistance_ohm * part),
        Wire(99, old.end, old.resistance_ohm * (1.0 - part)),
    )
    wires = (*circuit.wires[:number], *halves, *circuit.wires[number + 1 :])
    same(Circuit(0, circuit.source_v, wires, circuit.draws_va), circuit, rel=1e-7)


@given(anything)
def test_two_arms_of_twice_the_resistance_change_nothing(circuit: Net) -> None:
    """A tree is folded up without a matrix; with its wires doubled all of it is one."""
    same(doubled(circuit), circuit, rel=1e-7)


@given(anything, picks, ohms)
def test_a_stub_without_a_draw_has_the_voltage_of_its_root(circuit: Net, at: int, ohm: float) -> None:
    root = at % len(circuit.draws_va)
    stub = Circuit(0, circuit.source_v, (*circuit.wires, Wire(99, root, ohm)), circuit.draws_va)
    same(stub, circuit)
    assert voltage(stub, 99) == voltage(stub, root)


@given(anything, st.randoms(use_true_random=False))
def test_the_order_of_wires_and_draws_makes_no_difference_at_all(circuit: Net, dice: random.Random) -> None:
    turned = [
        Wire(wire.end, wire.start, wire.resistance_ohm) if dice.random() < 0.5 else wire for wire in circuit.wires
    ]
    draws = list(circuit.draws_va.items())
    dice.shuffle(turned)
    dice.shuffle(draws)
    assert solve(Circuit(0, circuit.source_v, tuple(turned), dict(draws))) == solve(circuit)


@given(anything, st.randoms(use_true_random=False))
def test_names_make_no_difference(circuit: Net, dice: random.Random) -> None:
    names = [f"n{number}" for number in range(len(circuit.draws_va))]
    dice.shuffle(names)
    wires = tuple(Wire(names[wire.start], names[wire.end], wire.resistance_ohm) for wire in circuit.wires)
    draws = {names[node]: draw for node, draw in circuit.draws_va.items()}
    found, expected = solve(Circuit(names[0], circuit.source_v, wires, draws)), solve(circuit)
    if isinstance(found, Collapse):
        assert isinstance(expected, Collapse)
        assert found.share == pytest.approx(expected.share, rel=1.1e-3)
        return
    assert isinstance(expected, Solution)
    assert [found.voltages_v[name] for name in names] == pytest.approx(list(expected.voltages_v.values()), rel=1e-7)
    assert list(found.voltages_v) == sorted(names)


@given(anything, st.floats(0.1, 10.0), st.floats(0.1, 10.0))
def test_voltages_scale(circuit: Net, higher: float, stronger: float) -> None:
    """Voltages times a, draws times b and resistances times a^2/b make the same circuit."""
    wires = tuple(Wire(w.start, w.end, w.resistance_ohm * higher**2 / stronger) for w in circuit.wires)
    draws = {node: draw * stronger for node, draw in circuit.draws_va.items()}
    found, expected = solve(Circuit(0, circuit.source_v * higher, wires, draws)), solve(circuit)
    if isinstance(found, Collapse):
        assert isinstance(expected, Collapse)
        assert found.share == pytest.approx(expected.share, rel=1.1e-3)
        return
    assert isinstance(expected, Solution)
    assert [v / higher for v in found.voltages_v.values()] == pytest.approx(
        list(expected.voltages_v.values()), rel=1e-7
    )
    assert found.source_va / stronger == pytest.approx(expected.source_va, rel=1e-7)
