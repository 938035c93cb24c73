"""Jobs to diagnose: sound ones as they are drawn, and with a cable run twice; faults, and what is looked at."""

import attrs
from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from tests.bench.sample import SIX_DEVICES
from ventrules import Symptoms
from ventrules.diagnosis import SingleFault, faults_of
from ventrules.engine.findings import Document
from ventrules.files import job_from_document
from ventrules.job import Job
from ventrules.testing import jobs


def home(devices: dict[str, str], *cables: Document, **more: Document) -> Job:
    """A job of some devices, name to model, and cables: two ends, or a whole document."""
    given: list[Document] = []
    for cable in cables:
        if isinstance(cable, str):
            start, end = cable.split(" to ")
            given.append({"from": start, "to": end, "gauge": "18 AWG", "length": "20 ft"})
        else:
            given.append(cable)
    named: dict[str, Document] = {name: {"model": model} for name, model in devices.items()}
    document: dict[str, Document] = {**SIX_DEVICES, "devices": named, "cables": given, "settings": {}, **more}
    return job_from_document(document)


@st.composite
def homes(draw: DrawFn, *, rings: bool = True) -> Job:
    """A sound job, or one with a cable run twice."""
    job = draw(jobs())
    if rings and draw(st.booleans()):
        return attrs.evolve(job, cables=(*job.cables, draw(st.sampled_from(job.cables))))
    return job


@st.composite
def faulty_homes(draw: DrawFn, *, most: int = 1, rings: bool = True) -> tuple[Job, tuple[SingleFault, ...]]:
    """A job, and some faults in it."""
    job = draw(homes(rings=rings))
    every = faults_of(job)
    return job, tuple(draw(st.lists(st.sampled_from(every), min_size=1, max_size=most, unique=True)))


def looked_at(symptoms: Symptoms) -> Symptoms:
    """What is seen of devices alone, without a meter."""
    return Symptoms(powered=symptoms.powered, reachable=symptoms.reachable)


@st.composite
def part_of(draw: DrawFn, symptoms: Symptoms) -> Symptoms:
    """Some of what can be seen and measured: each device, port and conductor with one chance in two."""

    def some(found: dict[str, bool]) -> dict[str, bool]:
        names = draw(st.sets(st.sampled_from(sorted(found)))) if found else set()
        return {name: found[name] for name in sorted(names)}

    joined = sorted((cable, name) for cable, found in symptoms.conductors.items() for name in found)
    measured = draw(st.sets(st.sampled_from(joined), max_size=3)) if joined else set()
    conductors: dict[str, dict[str, str]] = {}
    for cable, name in sorted(measured):
        conductors.setdefault(cable, {})[name] = symptoms.conductors[cable][name]
    return Symptoms(
        powered=some(dict(symptoms.powered)),
        reachable=some(dict(symptoms.reachable)),
        voltages=some(dict(symptoms.voltages)),
        conductors=conductors,
    )


def told(symptoms: Symptoms) -> set[tuple[str, str, object]]:
    """Each thing that was seen, to compare and to count."""
    flat: set[tuple[str, str, object]] = {("powered", *pair) for pair in symptoms.powered.items()}
    flat |= {("reachable", *pair) for pair in symptoms.reachable.items()}
    flat |= {("voltage", *pair) for pair in symptoms.voltages.items()}
    flat |= {
        (f"conductor {name}", cable, result)
        for cable, found in symptoms.conductors.items()
        for name, result in found.items()
    }
    return flat
