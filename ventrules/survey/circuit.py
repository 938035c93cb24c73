"""Steady voltages of a two-wire supply circuit: one ideal source, wires that resist, draws of constant VA.

What is assumed: the source holds its voltage at any load. Wires have resistance only, there and back. A draw takes the
same power at less voltage, as electronic loads do, and at power factor 1: the worst case for voltages, since a
load that takes the same current, or resists, takes less as the voltage falls. At the node voltages V

    f(V) = G V + S / V - b = 0

with G the conductances, S the draws and b what the source feeds in. One load S at the end of a loop R has
V = (Vs + sqrt(Vs^2 - 4 S R)) / 2, and none when Vs^2 < 4 S R: no voltage carries the draws, and it collapses.

f is convex, and its Jacobian has no positive number off the diagonal. Such an f makes Newton's method, begun
above every solution, fall without overshooting to the highest one, the one that a circuit settles at (Ortega and
Rheinboldt, Iterative Solution of Nonlinear Equations in Several Variables, 1970, 13.3.4: from memory). On its
way the Jacobian stays an M-matrix as long as there is any solution: where it stops being one, there is none.

Everything that hangs on the source as a tree is folded up leaf by leaf: seen from above, a branch takes the current
A - C V. What is left is the source alone, or the rings: those are solved as a sparse matrix.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Final, Generic, Protocol, Self, TypeVar

from attrs import Attribute, field, frozen

from ventrules.engine.once import once

if TYPE_CHECKING:
    from scipy.sparse import csc_array

_SETTLED: Final = 1e-12  # relative step of a voltage below which nothing moves
_AT_THE_LIMIT: Final = 1e-7  # relative step so small that no more than 1e-14 of the draws can be too much
_MOST_STEPS: Final = 200  # a fall never slows down to less than halves, and 25 of those are below the step above
_SHARE_KNOWN: Final = 1e-3  # how closely, relative, the share of the draws that can be carried is found


class _Sortable(Protocol):
    def __lt__(self, other: Self, /) -> bool: ...


N = TypeVar("N", bound=_Sortable)
"""A node: anything that can be a key and be sorted among its like."""


def _positive(_instance: object, attribute: "Attribute[float]", value: float) -> None:
    if not 0.0 < value < math.inf:
        raise ValueError(f"{attribute.name} must be more than nothing and finite, not {value}")


def _no_less_than_nothing(
    _instance: object, attribute: "Attribute[Mapping[N, float]]", value: Mapping[N, float]
) -> None:
    for node, draw in value.items():
        if not 0.0 <= draw < math.inf:
            raise ValueError(f"{attribute.name} must not be negative, nor infinite; {node} has {draw}")


@frozen
class Wire(Generic[N]):
    """Two conductors between two nodes, which may be the same one.

    Attributes:
        start: One end.
        end: The other one; which is which makes no difference.
        resistance_ohm: Resistance there and back, ohm; more than nothing.
    """

    start: N
    end: N
    resistance_ohm: float = field(validator=_positive)


@frozen
class Circuit(Generic[N]):
    """A supply circuit. A number that cannot be raises a ValueError.

    Attributes:
        source: The node whose voltage is held.
        source_v: The voltage held there, V.
        wires: The wires; more than one between the same nodes share the current.
        draws_va: What is drawn at nodes, VA; where nothing is said, nothing is drawn.
    """

    source: N
    source_v: float = field(validator=_positive)
    wires: tuple[Wire[N], ...]
    draws_va: Mapping[N, float] = field(validator=_no_less_than_nothing)


@frozen
class Solution(Generic[N]):
    """The voltages that a circuit settles at.

    Attributes:
        voltages_v: Voltage of every node that the source reaches, its own included, V, in the order of nodes.
        source_va: What the source gives: the draws it reaches, and what the wires lose, VA.
    """

    voltages_v: Mapping[N, float]
    source_va: float


@frozen
class Collapse(Generic[N]):
    """No voltages carry the draws.

    Attributes:
        node: Where the voltage is lowest, among the nodes that draw, when no more can be carried.
        share: How much of every draw could be carried, all cut alike: less than 1; right to 0.1 %, on the low side.
    """

    node: N
    share: float


def solve(circuit: Circuit[N]) -> Solution[N] | Collapse[N]:
    """Return the voltages of a circuit, or what gives way.

    Nodes that the source does not reach have no voltage and are left out. The order of wires and draws makes no
    difference to a single bit. Time and space grow with the nodes, but for rings: those as sparse matrices do.
    """
    reached = _Reached(circuit)
    found = reached.settled(1.0, reached.unloaded)
    if found is None:
        return _collapse(reached)
    amperes = math.fsum(draw / voltage for draw, voltage in zip(reached.draws_va, found, strict=True))
    return Solution(dict(zip(reached.nodes, found, strict=True)), circuit.source_v * amperes)


def _collapse(reached: "_Reached[N]") -> Collapse[N]:
    """Halve the draws until they are carried, then close in; what less draws leave is above what more leave."""
    low, high = 0.5, 1.0
    while (carried := reached.settled(low, reached.unloaded)) is None:
        low, high = low / 2.0, low
    while high - low > _SHARE_KNOWN * low:
        middle = (low + high) / 2.0
        found = reached.settled(middle, carried)
        if found is None:
            high = middle
        else:
            low, carried = middle, found
    voltages = zip(carried, reached.nodes, reached.draws_va, strict=True)
    _lowest, node = min((voltage, node) for voltage, node, draw in voltages if draw)
    return Collapse(node, low)


class _Reached(Generic[N]):
    """What the source reaches, folded up once: branches to be taken off leaf by leaf, and the rings between them."""

    def __init__(self, circuit: Circuit[N]) -> None:
        near = _reached(circuit.source, _joined(circuit.wires))
        self.nodes: Final = sorted(near)
        number = {node: index for index, node in enumerate(self.nodes)}
        self.draws_va: Final = [circuit.draws_va.get(node, 0.0) for node in self.nodes]
        self.unloaded: Final[Sequence[float]] = [circuit.source_v] * len(self.nodes)
        self._source: Final = number[circuit.source]
        links = [{number[other]: ohm for other, ohm in near[node].items()} for node in self.nodes]
        self._branches: Final = list(_leaves_first(links, self._source))
        folded = {node for node, _up, _ohm in self._branches}
        self._ringed: Final = [node for node in range(len(self.nodes)) if node not in folded and node != self._source]
        self._links: Final = links  # what the folding has left

    def settled(self, share: float, above: Sequence[float]) -> Sequence[float] | None:
        """Return the voltages under a share of the draws; None when there are none.

        Args:
            share: What every draw is multiplied by.
            above: Voltages of no larger share of the draws, from which to fall.
        """
        draws = [share * draw for draw in self.draws_va]
        voltages, last = above, math.inf
        for _step in range(_MOST_STEPS):
            fallen = self._step(draws, voltages)
            if fallen is None:
                return voltages if last < _AT_THE_LIMIT else None
            step = max([abs(new / old - 1.0) for new, old in zip(fallen, voltages, strict=True)])
            if step <= _SETTLED:
                return fallen
            if last < _AT_THE_LIMIT and step >= last:  # moved by rounding alone
                return voltages
            voltages, last = fallen, step
        return None

    def _step(self, draws: Sequence[float], voltages: Sequence[float]) -> Sequence[float] | None:
        """Return the voltages under draws taken as linear about the old ones; None where they give way.

        S/V is S/V0 (2 - V/V0) near V0: a current of 2 S/V0, less a conductance of S/V0^2.
        """
        currents = [2.0 * draw / voltage for draw, voltage in zip(draws, voltages, strict=True)]
        slopes = [draw / voltage / voltage for draw, voltage in zip(draws, voltages, strict=True)]
        for node, up, ohm in self._branches:
            pivot = 1.0 - ohm * slopes[node]
            if not pivot > 0.0:
                return None
            currents[node] /= pivot
            slopes[node] /= pivot
            currents[up] += currents[node]
            slopes[up] += slopes[node]
        found = list(self.unloaded)
        if self._ringed:
            drops = self._drops(currents, slopes)
            if drops is None:
                return None
            for node, drop in zip(self._ringed, drops, strict=True):
                found[node] -= drop
        for node, up, ohm in reversed(self._branches):
            found[node] = found[up] - ohm * (currents[node] - slopes[node] * found[up])
        return found if min(found) > 0.0 else None

    def _drops(self, currents: Sequence[float], slopes: Sequence[float]) -> Sequence[float] | None:
        """Return how far below the source the nodes on rings, and between them, are; None where they give way.

        A matrix without positive numbers off its diagonal is an M-matrix if and only if it takes some positive vector
        to a positive one (Berman and Plemmons, Nonnegative Matrices in the Mathematical Sciences, chapter 6, I27:
        from memory). The one tried is that which it takes to ones.
        """
        import numpy as np  # noqa: PLC0415 - slow to import, and most circuits have no ring
        from scipy.sparse import diags_array  # noqa: PLC0415
        from scipy.sparse.linalg import splu  # noqa: PLC0415

        source_v = self.unloaded[self._source]
        slope = np.array([slopes[node] for node in self._ringed])
        current = np.array([currents[node] for node in self._ringed]) - slope * source_v
        try:
            factors = splu((self._conductances - diags_array(slope)).tocsc())
        except RuntimeError:  # exactly singular
            return None
        if not (factors.solve(np.ones_like(slope)) > 0.0).all():
            return None
        drops: list[float] = factors.solve(current).tolist()
        return drops

    @once
    def _conductances(self) -> "csc_array":
        """Conductances between the nodes on rings, the source being ground, S."""
        from scipy.sparse import csc_array  # noqa: PLC0415 - slow to import, and most circuits have no ring

        row_of = {node: row for row, node in enumerate(self._ringed)}
        entries = {
            (row, row_of[other]): -1.0 / ohm
            for row, node in enumerate(self._ringed)
            for other, ohm in self._links[node].items()
            if other != self._source
        }
        for row, node in enumerate(self._ringed):
            entries[row, row] = math.fsum(1.0 / ohm for ohm in self._links[node].values())
        rows, columns = zip(*sorted(entries), strict=True)
        size = len(self._ringed)
        return csc_array(([entries[at] for at in sorted(entries)], (rows, columns)), shape=(size, size))


def _joined(wires: Iterable[Wire[N]]) -> dict[N, dict[N, float]]:
    """Return what each node is joined to, and the resistance of all wires between the two, ohm."""
    between: dict[tuple[N, N], list[float]] = {}
    for wire in wires:
        start, end = wire.start, wire.end
        if start != end:
            between.setdefault((start, end) if start < end else (end, start), []).append(wire.resistance_ohm)
    near: dict[N, dict[N, float]] = {}
    for (start, end), ohms in between.items():
        joint = ohms[0] if len(ohms) == 1 else 1.0 / math.fsum(1.0 / ohm for ohm in ohms)
        near.setdefault(start, {})[end] = joint
        near.setdefault(end, {})[start] = joint
    return near


def _reached(source: N, near: Mapping[N, Mapping[N, float]]) -> dict[N, Mapping[N, float]]:
    """Return the neighbors of every node that the source reaches."""
    found: dict[N, Mapping[N, float]] = {}
    waiting = [source]
    while waiting:
        node = waiting.pop()
        if node not in found:
            found[node] = near.get(node, {})
            waiting.extend(found[node])
    return found


def _leaves_first(links: Sequence[dict[int, float]], source: int) -> Iterable[tuple[int, int, float]]:
    """Take off, and yield, one leaf after another: the node, the one it hangs on, and the resistance between, ohm."""
    leaves = [node for node, near in enumerate(links) if len(near) == 1 and node != source]
    while leaves:
        node = leaves.pop()
        up, ohm = links[node].popitem()
        del links[up][node]
        if len(links[up]) == 1 and up != source:
            leaves.append(up)
        yield node, up, ohm
