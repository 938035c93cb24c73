"""Solving supply circuits of more and more devices, in a line, as a random tree, and as a ring.

`pytest tests/bench/test_circuit_speed.py -n 0 --benchmark-enable --benchmark-only` prints medians and growth.
A line is the deepest of trees, a ring the largest network that is no tree. What a line carries is kept the same while
devices are added; a line asked for too much is cut down until it is carried.
"""

import random
from collections.abc import Callable
from typing import TypeAlias

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from tests.bench.test_speed import SIZES, pedantic
from ventrules.survey.circuit import Circuit, Collapse, Solution, Wire, solve

Parents: TypeAlias = Callable[[int], int]


def circuit(devices: int, parent: Parents, ohm: float, *more: Wire[int]) -> Circuit[int]:
    """A circuit of 40 VA shared among the devices, and of wires that share a resistance."""
    wires = [Wire(parent(device), device, ohm / devices) for device in range(1, devices + 1)]
    return Circuit(0, 24.0, (*wires, *more), dict.fromkeys(range(1, devices + 1), 40.0 / devices))


def line(devices: int) -> Circuit[int]:
    return circuit(devices, lambda device: device - 1, 2.0)


def overloaded_line(devices: int) -> Circuit[int]:
    return circuit(devices, lambda device: device - 1, 20.0)


def tree(devices: int) -> Circuit[int]:
    dice = random.Random(devices)  # noqa: S311 - a sample, not a secret
    return circuit(devices, dice.randrange, 2.0)


def ring(devices: int) -> Circuit[int]:
    return circuit(devices, lambda device: device - 1, 2.0, Wire(devices, 0, 2.0 / devices))


SHAPES = {"line": line, "tree": tree, "ring": ring, "overloaded line": overloaded_line}


@pytest.mark.parametrize("devices", SIZES)
@pytest.mark.parametrize("shape", SHAPES)
def test_solving_grows_with_the_devices(benchmark: BenchmarkFixture, shape: str, devices: int) -> None:
    benchmark.group = f"growth of a supply circuit, {shape}"
    made = SHAPES[shape](devices)
    found = pedantic(benchmark)(lambda: solve(made), rounds=max(5, 2000 // devices), warmup_rounds=1)
    assert isinstance(found, Collapse if shape == "overloaded line" else Solution)
