"""Diagnosing jobs of more and more devices, from little and from much that was seen.

`pytest tests/bench/test_diagnosis_speed.py -n 0 --benchmark-enable --benchmark-only` prints the medians and how they
grow; 100 devices are to stay below a second. They are one line of modules with a ventilator each, and heat pumps;
what fails is at its far end, so that nearly every cable is on the way. Reading the job is not counted.
"""

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from tests.bench.sample import long_street
from tests.bench.test_speed import pedantic
from ventrules import Symptoms, diagnose, job_from_document
from ventrules.diagnosis import FaultKind, SingleFault, faults_of, symptoms_of
from ventrules.job import Job

SIZES = (10, 100, 200)


def street(devices: int) -> Job:
    """A sound line of about so many devices: the first heat pump's place is taken by what feeds them all."""
    document = long_street(devices)
    named = document["devices"]
    assert isinstance(named, dict)
    named["heat pump 0"] = {"model": "demo-furnace"}
    return job_from_document(document)


def last_alone(job: Job) -> Symptoms:
    """The last ventilator is not reached, and nothing else was looked at."""
    return Symptoms(reachable={last(job): False})


def all_of_one(job: Job) -> Symptoms:
    """Everything that is seen of devices when the last ventilator's pair is open."""
    (fault,) = (f for f in faults_of(job) if f.kind is FaultKind.CROSSED and last(job) in f.where)
    return seen_of(job, fault)


def all_of_two(job: Job) -> Symptoms:
    """Everything that is seen of devices when two ventilators at the two ends have a fault each."""
    crossed = [f for f in faults_of(job) if f.kind is FaultKind.CROSSED]
    return seen_of(job, *(next(f for f in crossed if name in f.where) for name in (last(job), "ventilator 0")))


def last(job: Job) -> str:
    return max((name for name in job.devices if name.startswith("ventilator")), key=lambda name: int(name.split()[1]))


def seen_of(job: Job, *faults: SingleFault) -> Symptoms:
    shown = symptoms_of(job, faults)
    return Symptoms(powered=shown.powered, reachable=shown.reachable)


CASES = {"one symptom": last_alone, "one fault, all seen": all_of_one, "two faults, all seen": all_of_two}


@pytest.mark.parametrize("devices", SIZES)
@pytest.mark.parametrize("case", CASES)
def test_diagnosis_grows_with_the_devices(benchmark: BenchmarkFixture, case: str, devices: int) -> None:
    benchmark.group = f"growth of diagnosis, {case}"
    job = street(devices)
    seen = CASES[case](job)
    found = pedantic(benchmark)(lambda: diagnose(job, seen), rounds=max(3, 50 // devices), warmup_rounds=1)
    assert found.candidates
    assert {len(candidate.faults) for candidate in found.candidates} == {2 if case.startswith("two") else 1}
