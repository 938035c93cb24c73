"""Benchmarks; `pytest tests/bench -n 0 --benchmark-enable --benchmark-only` prints them with their ratios.

Without these options each runs once, as a test that it works. The table over many different jobs is printed by
`python -m tests.bench`.
"""

import json
from collections.abc import Callable
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from pytest_benchmark.fixture import BenchmarkFixture

from tests.bench.sample import SIX_DEVICES, long_street
from ventrules import Severity, check, job_from_document, parse_job, schema


def pedantic(benchmark: BenchmarkFixture) -> Callable[..., Any]:
    """The plugin's `pedantic`, which is not typed."""
    measured: Callable[..., Any] = benchmark.pedantic
    return measured


TEXT = json.dumps(SIX_DEVICES)
SIZES = (10, 100, 1_000, 2_000)  # of more values than that no job is read


@pytest.mark.benchmark(group="one job of six devices")
def test_json_loads(benchmark: BenchmarkFixture) -> None:
    assert benchmark(json.loads, TEXT) == SIX_DEVICES


@pytest.mark.benchmark(group="one job of six devices")
def test_jsonschema_on_the_structure_alone(benchmark: BenchmarkFixture) -> None:
    job_schema = schema("job")
    Draft202012Validator.check_schema(job_schema)
    validator = Draft202012Validator(job_schema)
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
