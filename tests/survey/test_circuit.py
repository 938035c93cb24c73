"""Voltages of supply circuits: closed forms and a slow independent method."""

import json
import math
import subprocess
import sys
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.special import erfi

from tests.survey.circuits import (
    Net,
    anything,
    bearable,
    collapsed,
    doubled,
    net,
    settled,
    trees,
    voltage,
    voltages,
    volts,
)
from ventrules.survey import PortRef
from ventrules.survey.circuit import Circuit, Collapse, Solution, Wire, solve

# Closed forms


def one_load(ohm: float, va: float, source_v: float = 24.0) -> Net:
    return net([(0, 1, ohm)], {1: va}, source_v)


@given(volts, st.floats(1e-3, 1e3), st.floats(0.0, 1.0 - 1e-6), st.booleans())
def test_one_load_has_the_voltage_of_the_closed_form(source_v: float, ohm: float, part: float, ringed: bool) -> None:
    """V = (Vs + sqrt(Vs^2 - 4 S R)) / 2: circuit theory."""
    va = part * source_v**2 / (4.0 * ohm)
    circuit = one_load(ohm, va, source_v)
    found = settled(doubled(circuit) if ringed else circuit)
    expected = source_v * (1.0 + math.sqrt(1.0 - part)) / 2.0
    assert found.voltages_v[1] == pytest.approx(expected, rel=1e-9)
    assert found.source_va == pytest.approx(va / expected * source_v, rel=1e-9)


@pytest.mark.parametrize(("feet", "left_v"), [(50, 23.33), (100, 22.63), (150, 21.87), (200, 21.05)])
def test_20_va_at_the_end_of_18_awg(feet: float, left_v: float) -> None:
    """7.77 ohm per 1000 ft of one conductor (NEC chapter 9, Table 8, 75 degC); computed from the closed form."""
    found = settled(one_load(2.0 * feet * 7.77e-3, 20.0))
    assert found.voltages_v[1] == pytest.approx(left_v, abs=0.006)


@pytest.mark.parametrize("margin", [1e-3, 1e-6, 1e-9, 1e-12])
@pytest.mark.parametrize("ringed", [False, True])
@given(volts, st.floats(1e-3, 1e3))
def test_a_load_is_carried_just_when_the_closed_form_carries_it(
    margin: float, ringed: bool, source_v: float, ohm: float
) -> None:
    most = source_v**2 / (4.0 * ohm)
    below, above = (one_load(ohm, most * part, source_v) for part in (1.0 - margin, 1.0 + margin))
    if ringed:
        below, above = doubled(below), doubled(above)
    expected = source_v * (1.0 + math.sqrt(margin)) / 2.0
    assert settled(below).voltages_v[1] == pytest.approx(expected, rel=1e-15 / math.sqrt(margin) * 100.0)
    gone = collapsed(above)
    assert gone.node == 1
    assert gone.share < 1.0
    assert gone.share == pytest.approx(1.0, rel=1e-3 + 2.0 * margin)


@given(volts, st.floats(1e-3, 1e3))
def test_at_the_limit_itself_half_the_voltage_is_left(source_v: float, ohm: float) -> None:
    """What rounding alone could tell from a collapse is none."""
    found = settled(one_load(ohm, source_v**2 / (4.0 * ohm), source_v))
    assert found.voltages_v[1] == pytest.approx(source_v / 2.0, rel=1e-6)


@given(st.floats(1.001, 1e6))
def test_the_share_that_can_be_carried_is_that_of_the_closed_form(times: float) -> None:
    gone = collapsed(one_load(2.0, times * 72.0))
    assert gone.share <= 1.0 / times
    assert gone.share == pytest.approx(1.0 / times, rel=1.1e-3)


def test_what_gives_way_is_a_draw_and_the_lowest_one() -> None:
    """Nodes 1 and 4 draw alike, node 4 at the end of a longer wire; nodes 2 and 3 hang on them and draw nothing."""
    wires = [(0, 1, 1.0), (0, 4, 2.0), (1, 2, 1.0), (4, 3, 1.0)]
    gone = collapsed(net(wires, {1: 90.0, 4: 90.0}))
    assert gone.node == 4
    assert gone.share == pytest.approx(72.0 / 90.0, rel=1.1e-3)


def test_a_ladder_worked_from_its_far_end() -> None:
    """20 V x 1 A at the end; 2 ohm before it; 22 V x 0.5 A there; 1 ohm before that; 23.5 V at the source."""
    found = settled(net([(0, 1, 1.0), (1, 2, 2.0)], {1: 11.0, 2: 20.0}, 23.5))
    assert found.voltages_v == pytest.approx({0: 23.5, 1: 22.0, 2: 20.0})
    assert found.source_va == pytest.approx(23.5 * 1.5)


def test_a_ring_worked_from_its_currents() -> None:
    """0.5 A over 1 ohm and 0.6 A over 2 ohm to 23.5 V and 22.8 V; 0.35 A more over 2 ohm between the two."""
    wires = [(0, 1, 1.0), (0, 2, 2.0), (1, 2, 2.0)]
    found = settled(net(wires, {1: 23.5 * 0.15, 2: 22.8 * 0.95}))
    assert found.voltages_v == pytest.approx({0: 24.0, 1: 23.5, 2: 22.8})
    assert found.source_va == pytest.approx(24.0 * 1.1)


def test_a_balanced_bridge_carries_nothing_across() -> None:
    """Two ways of 1 and 2 ohm: 1.5 ohm together, whatever joins their middles."""
    arms = [(0, 1, 1.0), (0, 2, 1.0), (1, 3, 2.0), (2, 3, 2.0)]
    expected = voltage(one_load(1.5, 50.0), 1)
    for across in (1e-3, 1.0, 1e3):
        found = settled(net([*arms, (1, 2, across)], {3: 50.0}))
        assert found.voltages_v[3] == pytest.approx(expected)
        assert found.voltages_v[1] == pytest.approx(found.voltages_v[2])


def test_wires_side_by_side_share_the_current() -> None:
    assert voltage(net([(0, 1, 1.0), (1, 0, 3.0)], {1: 50.0}), 1) == pytest.approx(voltage(one_load(0.75, 50.0), 1))


def test_what_the_source_does_not_reach_has_no_voltage_and_does_not_count() -> None:
    found = settled(net([(0, 1, 1.0), (2, 3, 1.0), (2, 2, 1.0)], {1: 20.0, 2: 1e9, 7: 5.0}))
    assert list(found.voltages_v) == [0, 1]
    assert found == settled(net([(0, 1, 1.0)], {1: 20.0}))


def test_a_source_alone() -> None:
    assert settled(net([], {})) == Solution({0: 24.0}, 0.0)
    assert settled(net([(0, 0, 1.0)], {0: 30.0})) == Solution({0: 24.0}, 30.0)


def test_ports_are_nodes() -> None:
    source, load = PortRef("furnace", "system"), PortRef("module", "system")
    circuit = Circuit(source, 24.0, (Wire(load, source, 2.0),), {load: 72.0 * 0.75})
    assert settled(circuit).voltages_v == pytest.approx({source: 24.0, load: 18.0})
    assert collapsed(Circuit(source, 24.0, circuit.wires, {load: 80.0})).node == load


@pytest.mark.parametrize("number", [0.0, -1.0, math.inf, math.nan])
def test_numbers_that_cannot_be_are_refused(number: float) -> None:
    with pytest.raises(ValueError, match="resistance_ohm"):
        Wire(0, 1, number)
    with pytest.raises(ValueError, match="source_v"):
        net([], {}, number)
    if number != 0.0:
        with pytest.raises(ValueError, match="draws_va"):
            net([], {0: number})


# A slow method of its own


def by_falling(circuit: Net) -> list[float] | None:
    """Voltages of a circuit whose nodes are all joined, or None when they fall to nothing; skips what it cannot tell.

    V = Vs - R I(V) with R the inverse of the dense matrix of conductances and I = S/V. From the source's voltage it
    falls to the highest solution, or, where there is none, past nothing.
    """
    size = 1 + max(max(wire.start, wire.end) for wire in circuit.wires)
    conductances = np.zeros((size, size))
    for wire in circuit.wires:
        between = np.zeros(size)
        between[wire.start] += 1.0
        between[wire.end] -= 1.0
        conductances += np.outer(between, between) / wire.resistance_ohm
    resistances = np.linalg.inv(conductances[1:, 1:])
    draws = np.array([circuit.draws_va.get(node, 0.0) for node in range(1, size)])
    found = np.full(size - 1, circuit.source_v)
    for _step in range(5000):
        fallen = circuit.source_v - resistances @ (draws / found)
        if fallen.min() <= 0.0:
            return None
        if np.abs(fallen - found).max() < 1e-13 * circuit.source_v:
            return [circuit.source_v, *fallen]
        found = fallen
    assume(False)  # so near the limit that falling takes longer
    raise AssertionError


@given(anything)
def test_voltages_are_those_of_the_slow_method(circuit: Net) -> None:
    expected = by_falling(circuit)
    found = voltages(circuit)
    assert (found is None) == (expected is None)
    if found is not None and expected is not None:
        assert list(found.values()) == pytest.approx(expected, rel=1e-9)


@given(anything)
def test_the_share_is_what_can_be_carried(circuit: Net) -> None:
    found = solve(circuit)
    share = found.share if isinstance(found, Collapse) else 1.0

    def drawing(times: float) -> Net:
        draws = {node: times * share * draw for node, draw in circuit.draws_va.items()}
        return Circuit(0, circuit.source_v, circuit.wires, draws)

    assert by_falling(drawing(0.999)) is not None
    if isinstance(found, Collapse):
        assert by_falling(drawing(1.002)) is None
        least = {node: v for node, v in settled(drawing(1.0)).voltages_v.items() if circuit.draws_va[node]}
        assert least[found.node] == min(least.values())


@given(trees(), st.lists(st.floats(0.0, 1.0), min_size=9, max_size=9))
def test_no_other_solution_is_higher(circuit: Net, currents: Sequence[float]) -> None:
    """Currents are chosen and draws follow; such voltages are a solution, if not always the highest one."""
    through = list(currents[: len(circuit.wires) + 1])
    for wire in reversed(circuit.wires):  # from the leaves
        through[wire.start] += through[wire.end]
    chosen = {0: circuit.source_v}
    for wire in circuit.wires:
        chosen[wire.end] = chosen[wire.start] - wire.resistance_ohm * through[wire.end]
    assume(min(chosen.values()) > 0.1)
    draws = {node: chosen[node] * amperes for node, amperes in enumerate(currents) if node in chosen}
    found = settled(Circuit(0, circuit.source_v, circuit.wires, draws)).voltages_v
    assert all(found[node] >= chosen[node] * (1.0 - 1e-6) for node in chosen)


@given(bearable)
def test_the_source_gives_what_is_drawn_and_what_wires_lose(circuit: Net) -> None:
    found = solve(circuit)
    assume(isinstance(found, Solution))
    assert isinstance(found, Solution)
    at = found.voltages_v
    lost = sum((at[wire.start] - at[wire.end]) ** 2 / wire.resistance_ohm for wire in circuit.wires)
    assert found.source_va == pytest.approx(sum(circuit.draws_va.values()) + lost, rel=1e-8, abs=1e-9)


@given(bearable)
def test_at_each_node_what_comes_in_is_drawn(circuit: Net) -> None:
    at = voltages(circuit)
    assume(at is not None)
    assert at is not None
    left = {node: circuit.draws_va[node] / at[node] for node in at}
    for wire in circuit.wires:
        amperes = (at[wire.start] - at[wire.end]) / wire.resistance_ohm
        left[wire.start] += amperes
        left[wire.end] -= amperes
    del left[0]
    assert list(left.values()) == pytest.approx([0.0] * len(left), abs=1e-8)


# Size


def test_ten_thousand_nodes_in_a_line() -> None:
    """What flows in is what is drawn and lost, and the far end is where an evenly loaded line ends."""
    size = 10_000
    circuit = net(
        [(node, node + 1, 2.0 / size) for node in range(size)], dict.fromkeys(range(1, size + 1), 40.0 / size)
    )
    found = settled(circuit)
    at = list(found.voltages_v.values())
    assert all(above > below for above, below in pairwise(at))
    lost = math.fsum((above - below) ** 2 * size / 2.0 for above, below in pairwise(at))
    assert found.source_va == pytest.approx(40.0 + lost, rel=1e-7)
    assert at[-1] == pytest.approx(line_end(80.0, 24.0), rel=1e-4)


def line_end(product: float, source_v: float) -> float:
    """The voltage at the end of an evenly loaded line of draw S and resistance R, of which the product is given.

    V'' = S R / V along a line of length 1, and V' is none at its end, so that V'^2 / 2 = S R ln(V / Vend). With
    V = Vend exp(u^2) the length comes to 2 Vend / sqrt(2 S R) times the integral of exp(u^2) from 0 to
    sqrt(ln(Vs / Vend)); the end is halved in upon until that is 1.
    """
    low, high = source_v / 2.0, source_v
    for _half in range(60):
        end = (low + high) / 2.0
        integral = math.sqrt(math.pi) / 2.0 * float(erfi(math.sqrt(math.log(source_v / end))))
        low, high = (end, high) if 2.0 * end * integral > math.sqrt(2.0 * product) else (low, end)
    return low


def test_a_tree_needs_no_arrays_and_a_ring_does() -> None:
    """A fresh interpreter; what a package loads on its way in is not this module's."""
    script = """
import json, sys
from ventrules.survey.circuit import Circuit, Wire, solve
heavy = lambda: sorted({"numpy", "scipy"} & set(sys.modules))
before = heavy()
solve(Circuit(0, 24.0, (Wire(0, 1, 1.0), Wire(1, 2, 1.0), Wire(1, 3, 1.0)), {2: 9.0, 3: 900.0}))
tree = heavy()
solve(Circuit(0, 24.0, (Wire(0, 1, 1.0), Wire(1, 2, 1.0), Wire(2, 0, 1.0)), {2: 9.0}))
print(json.dumps([before, tree, heavy()]))
"""
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert json.loads(done.stdout) == [[], [], ["numpy", "scipy"]]
