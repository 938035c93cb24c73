"""Jobs whose wiring is sound, wrong in one way that is known, or rearranged at random."""

from collections.abc import Sequence
from typing import Final, TypeVar

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from tests.shacl.oracle import rule_ids
from ventrules import Job, JobFileError, job_from_document
from ventrules.engine.findings import Document
from ventrules.files import packaged_catalog
from ventrules.testing import FAULTS, job_documents

T = TypeVar("T")
_FAULTS: Final = [fault for fault in FAULTS if fault.rule in rule_ids()]
_MORE: Final = (
    "demo-control",
    "demo-control-chalk",
    "demo-erv-130",
    "demo-hrv-contact",
    "demo-interface",
    "demo-interface-chalk",
    "demo-interface-dual",
    "demo-zone-panel",
)


@st.composite
def wired_jobs(draw: DrawFn) -> Job:
    """Strategy for such jobs; all can be read."""
    document = draw(job_documents())

    def pick(choices: Sequence[T]) -> T:
        return draw(st.sampled_from(choices))

    if draw(st.booleans()):
        made = draw(st.sampled_from(_FAULTS)).apply(document, pick)
        document = made.document if made is not None else document
    job = job_from_document(document)
    for _ in range(draw(st.sampled_from([0, 0, 1, 2, 4]))):
        _rearrange(draw, document, job)
        try:
            job = job_from_document(document)
        except JobFileError:  # such as a cable from a port to itself
            return job
    return job


def _rearrange(draw: DrawFn, document: dict[str, Document], job: Job) -> None:
    """Add a device or a cable between any two ports, or take a cable out."""
    devices, cables = document["devices"], document["cables"]
    assert isinstance(devices, dict)
    assert isinstance(cables, list)
    what = draw(st.sampled_from(["cable", "cable", "cut", "device"]))
    if what == "cut" and cables:
        cables.pop(draw(st.integers(0, len(cables) - 1)))
    elif what == "device":
        devices[f"further {len(devices)}"] = {"model": draw(st.sampled_from(_MORE))}
    else:
        ends = sorted(f"{name}.{port}" for name in job.devices for port in _ports(job, name))
        cables.append({"from": draw(st.sampled_from(ends)), "to": draw(st.sampled_from(ends))})


def _ports(job: Job, name: str) -> list[str]:
    return list(packaged_catalog("demo").models[job.devices[name].model].ports)
