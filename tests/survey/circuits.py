"""Supply circuits for tests: built by hand or at random, and solved."""

from collections.abc import Mapping, Sequence
from typing import TypeVar

import pytest
from hypothesis import strategies as st

from ventrules.survey import PortRef
from ventrules.survey.circuit import Circuit, Collapse, Solution, Wire, solve

K = TypeVar("K", str, int, PortRef)
Net = Circuit[int]
Draws = Mapping[int, float]
NOWHERE = 0.0  # what a node is said to have in a circuit whose voltage collapses: less than any voltage


def net(wires: Sequence[tuple[int, int, float]], draws: Draws, source_v: float = 24.0) -> Net:
    return Circuit(0, source_v, tuple(Wire(*wire) for wire in wires), dict(draws))


def settled(circuit: Circuit[K]) -> Solution[K]:
    found = solve(circuit)
    assert isinstance(found, Solution)
    return found


def collapsed(circuit: Circuit[K]) -> Collapse[K]:
    found = solve(circuit)
    assert isinstance(found, Collapse)
    return found


def voltages(circuit: Net) -> Mapping[int, float] | None:
    found = solve(circuit)
    return found.voltages_v if isinstance(found, Solution) else None


def voltage(circuit: Net, node: int) -> float:
    found = voltages(circuit)
    return found[node] if found is not None else NOWHERE


def doubled(circuit: Net) -> Net:
    """Every wire as two arms side by side, each of two wires in a row: rings all over, and all as it was."""
    arms = [
        Wire(end, ~(2 * number + arm), wire.resistance_ohm)  # two arms of twice the resistance
        for number, wire in enumerate(circuit.wires)
        for arm in (0, 1)
        for end in (wire.start, wire.end)
    ]
    return Circuit(circuit.source, circuit.source_v, tuple(arms), circuit.draws_va)


def same(one: Net, other: Net, rel: float = 1e-9) -> None:
    """Both settle at the same voltages, where they have the same nodes; or both collapse."""
    found, expected = solve(one), solve(other)
    if isinstance(expected, Collapse):
        assert isinstance(found, Collapse)
        assert found.share == pytest.approx(expected.share, rel=1.1e-3)
        return
    assert isinstance(found, Solution)
    shared = expected.voltages_v.keys() & found.voltages_v.keys()
    assert len(shared) == min(len(expected.voltages_v), len(found.voltages_v))
    assert [found.voltages_v[node] for node in shared] == pytest.approx(
        [expected.voltages_v[node] for node in shared], rel=rel
    )
    assert found.source_va == pytest.approx(expected.source_va, rel=rel)


# Random circuits

ohms = st.floats(0.01, 3.0)
volts = st.sampled_from([12.0, 24.0, 120.0])


@st.composite
def trees(draw: st.DrawFn, loads: Sequence[float] = (1.0, 10.0, 30.0)) -> Net:
    """Trees at 24 V, whose draws are multiplied by one of the loads; a quarter of those by default collapse."""
    size = draw(st.integers(2, 9))
    wires = [(draw(st.integers(0, node - 1)), node, draw(ohms)) for node in range(1, size)]
    load = draw(st.sampled_from(loads))
    amounts = draw(st.lists(st.just(0.0) | st.floats(0.1, 4.0), min_size=size, max_size=size))
    return net(wires, {node: load * amount for node, amount in enumerate(amounts)})


@st.composite
def networks(draw: st.DrawFn, loads: Sequence[float] = (1.0, 10.0, 100.0)) -> Net:
    """Trees with more wires: rings, wires side by side, and wires from a node to itself."""
    tree = draw(trees(loads))
    ends = st.integers(0, len(tree.wires))
    more = draw(st.lists(st.tuples(ends, ends, ohms), min_size=1, max_size=5))
    return Circuit(0, tree.source_v, (*tree.wires, *(Wire(*wire) for wire in more)), tree.draws_va)


anything = trees() | networks()
bearable = trees([1.0, 4.0]) | networks([1.0, 4.0])
