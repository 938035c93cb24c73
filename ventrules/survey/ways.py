"""Ways along the cables of a bus. networkx stays behind this door."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from math import fsum
from typing import TYPE_CHECKING

from attrs import field, frozen

from ventrules.engine.once import once
from ventrules.survey.topology import PortRef

if TYPE_CHECKING:
    import networkx as nx

    from ventrules.survey.bus_views import CableView


@frozen(eq=False, slots=False)
class Way:
    """A way along cables from one port to another.

    Attributes:
        ports: The ports on it, from end to end.
        cables: The cables between them.
    """

    ports: tuple[PortRef, ...]
    cables: tuple[CableView, ...] = field(repr=False)

    @property
    def start(self) -> PortRef:
        """Its first port."""
        return self.ports[0]

    @property
    def end(self) -> PortRef:
        """Its last port."""
        return self.ports[-1]

    @once
    def length_m(self) -> float:
        """Its length, m, as far as the job tells it."""
        return known_m(self.cables)

    @property
    def unmeasured(self) -> tuple[CableView, ...]:
        """Cables on it whose length the job does not tell."""
        return tuple(cable for cable in self.cables if cable.cable.length is None)


def known_m(cables: tuple[CableView, ...]) -> float:
    """Return the length of cables together, m, as far as the job tells it."""
    return fsum(cable.cable.length.m for cable in cables if cable.cable.length is not None)


class Tree:
    """The cables of a bus as a graph whose edges are as long as the cables; an unknown length counts as none.

    Args:
        neighbors: For each port the ports that a cable leads to, with that cable.
        ends: The ports with one cable, sorted.
    """

    def __init__(self, neighbors: Mapping[PortRef, Mapping[PortRef, CableView]], ends: Sequence[PortRef]) -> None:
        import networkx as nx  # noqa: PLC0415 - slow to import, and a bus without forks needs no graph

        self._neighbors = neighbors
        self._ends = ends
        self._graph: nx.Graph[PortRef] = nx.Graph()
        for port, near in neighbors.items():
            for other, cable in near.items():
                length = cable.cable.length
                self._graph.add_edge(port, other, length_m=length.m if length is not None else 0.0)
        self._paths: dict[PortRef, dict[PortRef, list[PortRef]]] = {}

    def way(self, start: PortRef, end: PortRef) -> Way:
        """Return the way between two ports."""
        import networkx as nx  # noqa: PLC0415 - see above

        if start not in self._paths:
            self._paths[start] = nx.single_source_dijkstra_path(self._graph, start, weight="length_m")
        ports = tuple(self._paths[start][end])
        return Way(ports, tuple(self._neighbors[here][there] for here, there in pairwise(ports)))

    def longest(self) -> Way:
        """Return the longest way between two ends: in a tree it starts at the end farthest from any port."""
        first = self._farthest(self._ends[0])
        return self.way(first, self._farthest(first))

    def _farthest(self, start: PortRef) -> PortRef:
        import networkx as nx  # noqa: PLC0415 - see above

        length_m = nx.single_source_dijkstra_path_length(self._graph, start, weight="length_m")
        others = (end for end in self._ends if end != start)
        return max(others, key=lambda end: length_m[end])  # of several, the first by name
