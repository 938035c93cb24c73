"""Rings of cables on one segment. networkx stays behind this door."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TypeAlias

Pair: TypeAlias = tuple[tuple[str, str], tuple[str, str]]
"""The two ports of a cable, each by its device and its name."""


def rings_of(ports: int, ends: Mapping[int, Pair]) -> Iterator[tuple[int, ...]]:
    """Yield the rings of a segment with more cables than a tree has, as the indexes of their cables.

    First come cables that join the same ports, then one larger ring.

    Args:
        ports: How many ports the segment has.
        ends: The two ports of each of its cables, by the cable's index.
    """
    if len(ends) < ports:
        return
    alike: dict[tuple[tuple[str, str], ...], list[int]] = {}
    for index in sorted(ends, key=lambda index: sorted(ends[index])):
        alike.setdefault(tuple(sorted(ends[index])), []).append(index)
    yield from [tuple(sorted(indexes)) for indexes in alike.values() if len(indexes) > 1]
    if len(alike) >= ports:
        yield _larger_ring(alike)


def _larger_ring(alike: Mapping[tuple[tuple[str, str], ...], Sequence[int]]) -> tuple[int, ...]:
    """Return a ring of cables between different ports; of those that join the same, the first."""
    import networkx as nx  # noqa: PLC0415 - slow to import, and needed for a fault only

    wires: nx.Graph[tuple[str, str]] = nx.Graph()
    for (first, second), indexes in alike.items():
        wires.add_edge(first, second, index=indexes[0])
    return tuple(sorted(wires.edges[edge]["index"] for edge in nx.find_cycle(wires)))
