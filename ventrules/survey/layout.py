"""Which device of a picture stands in which column: as far from a controller as cables lead there.

Layers and parts are networkx's. A layer of a breadth-first search is joined to itself and to its neighbors only, so
that every cable of the picture runs between two neighboring columns, or beside one, and never has to pass a box.
"""

from __future__ import annotations

from bisect import bisect_right, insort
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Final, TypeAlias

from attrs import frozen

from ventrules.job import Role

if TYPE_CHECKING:
    import networkx as nx

    from ventrules.survey.survey import Survey

_SWEEPS: Final = 4
_ROLES: Final = {role: rank for rank, role in enumerate(Role)}

Columns: TypeAlias = tuple[tuple[str, ...], ...]
"""Device names: columns from left to right, each from top to bottom."""


@frozen
class Layout:
    """Where the devices of a job stand in a picture; the same whatever the order of devices and cables.

    Attributes:
        bands: Parts that no cable joins, one below the other, each in columns.
        loose: Devices without any cable, by role and name.
    """

    bands: tuple[Columns, ...]
    loose: tuple[str, ...]


def layout_of(survey: Survey) -> Layout:
    """Return where the devices of a job stand in a picture."""
    import networkx as nx  # noqa: PLC0415 - slow to import, and needed for pictures only

    roles = {name: (_ROLES[model.role], name) for name, model in survey.models.items()}
    graph: nx.Graph[str] = nx.Graph()
    for start, end in survey.topology.ends:
        graph.add_edge(start.device, end.device)
    parts = [sorted(part, key=roles.__getitem__) for part in nx.connected_components(graph)]
    parts.sort(key=lambda part: roles[part[0]])
    ports = _leaves_by(survey)
    bands = []
    for part in parts:
        controllers = [name for name in part if survey.models[name].role is Role.CONTROLLER]
        layers = nx.bfs_layers(graph, controllers or part[:1])
        bands.append(_uncrossed([sorted(layer) for layer in layers], graph, ports))
    return Layout(tuple(bands), tuple(sorted(roles.keys() - graph.nodes, key=roles.__getitem__)))


def _leaves_by(survey: Survey) -> Mapping[tuple[str, str], str]:
    """Return, for two devices, the first port of the one that a cable to the other is on."""
    found: dict[tuple[str, str], str] = {}
    for pair in survey.topology.ends:
        for here, there in (pair, pair[::-1]):
            key = (here.device, there.device)
            found[key] = min(found.get(key, here.port), here.port)
    return found


def _uncrossed(layers: list[list[str]], graph: nx.Graph[str], ports: Mapping[tuple[str, str], str]) -> Columns:
    """Return layers in an order with few crossings: a tree has none, others are swept to and fro."""
    columns = layers[:1]
    for layer in layers[1:]:
        columns.append(_below(layer, columns[-1], graph, ports))
    best, least = columns, _crossings(columns, graph)
    for sweep in range(_SWEEPS if least else 0):
        columns = list(columns)
        order = range(1, len(columns)) if sweep % 2 else range(len(columns) - 2, -1, -1)
        for number in order:
            beside = columns[number - 1 if sweep % 2 else number + 1]
            columns[number] = _by_mean(columns[number], beside, graph)
        crossings = _crossings(columns, graph)
        if crossings < least:
            best, least = columns, crossings
    return tuple(map(tuple, best))


def _below(
    layer: Sequence[str], before: Sequence[str], graph: nx.Graph[str], ports: Mapping[tuple[str, str], str]
) -> list[str]:
    """Return a layer in the order of the devices, and of their ports, that lead to it from the column before."""
    places = {name: number for number, name in enumerate(before)}

    def key(name: str) -> tuple[float, str, str]:
        return _mean(name, places, graph, 0.0), min(ports[near, name] for near in graph[name] if near in places), name

    return sorted(layer, key=key)


def _by_mean(column: Sequence[str], beside: Sequence[str], graph: nx.Graph[str]) -> list[str]:
    """Return a column in the order of what its devices are joined to in a column beside it."""
    places = {name: number for number, name in enumerate(beside)}
    means = {name: _mean(name, places, graph, float(number)) for number, name in enumerate(column)}
    return sorted(column, key=means.__getitem__)


def _mean(name: str, places: Mapping[str, int], graph: nx.Graph[str], otherwise: float) -> float:
    found = [places[near] for near in graph[name] if near in places]
    return sum(found) / len(found) if found else otherwise


def _crossings(columns: Sequence[Sequence[str]], graph: nx.Graph[str]) -> int:
    """Return how many pairs of lines between neighboring columns cross."""
    count = 0
    for left, right in pairwise(columns):
        places = {name: number for number, name in enumerate(right)}
        seen: list[int] = []
        for name in left:
            ends = [places[near] for near in graph[name] if near in places]
            count += sum(len(seen) - bisect_right(seen, end) for end in ends)
            for end in ends:
                insort(seen, end)
    return count
