"""Benchmarks; `pytest tests/bench -n 0 --benchmark-enable --benchmark-only` prints them with their ratios.

Without these options each runs once, as a test that it works.
"""

import json
import subprocess
import sys
import sysconfig
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from pytest_benchmark.fixture import BenchmarkFixture

from tests.bench.sample import SIX_DEVICES, STRUCTURE, long_street
from ventrules import Severity, check, job_from_document, parse_job


def pedantic(benchmark: BenchmarkFixture) -> Callable[..., Any]:
    """The plugin's `pedantic`, which is not typed."""
    measured: Callable[..., Any] = benchmark.pedantic
    return measured


TEXT = json.dumps(SIX_DEVICES)
SIZES = (10, 100, 1_000, 10_000)
EXAMPLE = Path(__file__).parents[2] / "examples" / "sound"


@pytest.mark.benchmark(group="one job of six devices")
def test_json_loads(benchmark: BenchmarkFixture) -> None:
    assert benchmark(json.loads, TEXT) == SIX_DEVICES


@pytest.mark.benchmark(group="one job of six devices")
def test_jsonschema_on_the_structure_alone(benchmark: BenchmarkFixture) -> None:
    Draft202012Validator.check_schema(STRUCTURE)
    validator = Draft202012Validator(STRUCTURE)
    assert not benchmark(lambda: list(validator.iter_errors(SIX_DEVICES)))


@pytest.mark.benchmark(group="one job of six devices")
def test_full_check_from_the_document(benchmark: BenchmarkFixture) -> None:
    report = benchmark(lambda: check(job_from_document(SIX_DEVICES)))
    assert report.ok
    assert [finding.rule for finding in report.findings] == ["airflow/exposure-above-steady"]


@pytest.mark.benchmark(group="one job of six devices")
def test_full_check_from_the_text(benchmark: BenchmarkFixture) -> None:
    report = benchmark(lambda: check(parse_job(TEXT, name="job.json")))
    assert report.ok


@pytest.mark.benchmark(group="growth")
@pytest.mark.parametrize("devices", SIZES)
def test_check_grows_with_the_devices(benchmark: BenchmarkFixture, devices: int) -> None:
    document = long_street(devices)
    rounds = max(3, 300 // devices)
    report = pedantic(benchmark)(lambda: check(job_from_document(document)), rounds=rounds, warmup_rounds=1)
    crowded = {"equipment/too-many-ventilators", "wiring/bus-too-long", "wiring/too-many-on-bus"}
    assert {f.rule for f in report.of(Severity.ERROR)} <= {*crowded, "power/no-source"}


@pytest.mark.benchmark(group="start to verdict")
def test_importing_networkx_alone(benchmark: BenchmarkFixture) -> None:
    command = [sys.executable, "-c", "import networkx"]
    assert pedantic(benchmark)(subprocess.run, (command,), {"check": True}, rounds=7, warmup_rounds=1).returncode == 0


@pytest.mark.benchmark(group="start to verdict")
def test_command_line_on_one_example(benchmark: BenchmarkFixture) -> None:
    script = Path(sysconfig.get_path("scripts"), "ventrules")
    example = min(EXAMPLE.glob("number-*.yaml"))
    command = [str(script), "check", str(example)]
    kwargs = {"check": True, "capture_output": True}
    assert pedantic(benchmark)(subprocess.run, (command,), kwargs, rounds=7, warmup_rounds=1).returncode == 0
