"""Jobs that let something stand, policies on disk, and what is compared in reports."""

import copy
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Final

from hypothesis import settings

from tests.cli.running import FAULTY
from tests.expected import FAULTY as EXPECTED
from ventrules import Finding, Job, Policy, Report, job_document, job_from_document, read_job, read_policy
from ventrules.engine.findings import Document

NAMES: Final = sorted(EXPECTED)
INVERTED: Final = "settings/outdoor-limits-inverted"
AN_ERROR: Final = FAULTY / "limits-inverted.yaml"
few = settings(max_examples=max(settings().max_examples * 3 // 10, 5))
"""Where jobs are checked several times for each example."""
AT: Final = "settings / ventilator / outdoor_limits"


def faulty(name: str) -> Job:
    """Return the job of a faulty example."""
    return read_job(FAULTY / name, outside=True)


def accepting(job: Job, acceptances: Iterable[tuple[Sequence[str | int], dict[str, Document]]]) -> Job:
    """Return a job with acceptances beside things, each given by the path of its thing."""
    document = copy.deepcopy(job_document(job))
    for path, acceptance in acceptances:
        thing: Document = document
        for step in path:
            thing = thing[step]  # type: ignore[index]
        assert isinstance(thing, dict)
        accepted = thing.setdefault("accepted", [])
        assert isinstance(accepted, list)
        accepted.append(acceptance)
    return job_from_document(document, folder=FAULTY, outside=True)


def thing_of(finding: Finding) -> tuple[str | int, ...]:
    """Return the path of the nearest thing at or above a finding's place that may hold acceptances."""
    path = finding.place.path
    return path[:2] if len(path) > 1 and path[0] in ("devices", "cables", "settings") else ()


def said(findings: Iterable[Finding]) -> list[tuple[str, str]]:
    """Return rule and place of findings, in order."""
    return [(finding.rule, finding.place.name) for finding in findings]


def let_stand(report: Report) -> list[tuple[str, str]]:
    """Return rule and place of what a report lets stand, in order."""
    return said(one.finding for one in report.accepted)


def policy_in(folder: Path, text: str, name: str = ".ventrules.toml") -> Policy:
    """Write a policy and read it."""
    (folder / name).write_text(text, encoding="utf-8")
    return read_policy(folder / name)
