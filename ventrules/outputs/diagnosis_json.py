"""The JSON form of a diagnosis; documented in docs/diagnose.md, grows only by adding."""

from collections.abc import Iterable, Mapping
from typing import Final

from ventrules.diagnosis import Candidate, Diagnosis, Method, Observation, Outcome, Shows, Step
from ventrules.engine.findings import Document
from ventrules.outputs.json_parts import head, text
from ventrules.rules.cautions import WIRING

WORDS: Final[Mapping[tuple[Shows, bool], str]] = {
    (Shows.POWERED, True): "powered",
    (Shows.POWERED, False): "unpowered",
    (Shows.REACHABLE, True): "reachable",
    (Shows.REACHABLE, False): "unreachable",
    (Shows.VOLTAGE, True): "voltage",
    (Shows.VOLTAGE, False): "no-voltage",
}
"""Words for what was seen of devices and ports, as `--seen` takes them."""


def seen_as(step: Step, outcome: Outcome) -> str:
    """Return an outcome as `--seen` takes it."""
    measured = step.measurement
    where = f"{measured.where}:{measured.detail}" if measured.method is Method.CONDUCTOR else measured.where
    return f"{where}={outcome.words[0]}"


def diagnosis_json(file: str, diagnosis: Diagnosis) -> str:
    """Return a diagnosis as JSON text.

    Args:
        file: The job's file.
        diagnosis: The diagnosis.
    """
    groups = {number: index for index, group in enumerate(diagnosis.groups) for number in group}
    return text(
        {
            **head("diagnosis", file),
            "usable": True,
            "problems": [],
            "job": diagnosis.job.title,
            "nothing_to_explain": diagnosis.nothing_to_explain,
            "seen": _seen(diagnosis.seen),
            "recorded": _seen(diagnosis.recorded),
            "misrecorded": _seen(diagnosis.misrecorded),
            "outdated": _seen(diagnosis.outdated),
            "clash": _seen(diagnosis.clash),
            "candidates": [_candidate(each, groups[n]) for n, each in enumerate(diagnosis.candidates)],
            "next": _next(diagnosis.step) if diagnosis.step is not None else None,
            "cautions": [WIRING] if diagnosis.candidates else [],
            "most_faults": diagnosis.most_faults,
            "cut_off": diagnosis.cut_off,
        }
    )


def _seen(found: Iterable[Observation]) -> Document:
    return [
        {
            "about": each.shows.value,
            "where": each.where,
            "conductor": each.conductor or None,
            "value": each.found.value if each.found is not None else WORDS[each.shows, each.works],
            "works": each.works,
            "source": each.source,
            "text": str(each),
        }
        for each in found
    ]


def _candidate(candidate: Candidate, group: int) -> Document:
    faults: list[Document] = [
        {
            "kind": fault.kind.value,
            "where": fault.where,
            "conductors": list(fault.conductors),
            "text": str(fault),
        }
        for fault in candidate.faults
    ]
    return {"faults": faults, "group": group}


def _next(step: Step) -> Document:
    measured = step.measurement
    outcomes: list[Document] = [
        {"words": list(outcome.words), "seen": seen_as(step, outcome), "leaves": list(outcome.leaves)}
        for outcome in step.outcomes
    ]
    return {
        "method": measured.method.value,
        "where": measured.where,
        "detail": measured.detail or None,
        "meter": list(measured.meter),
        "outcomes": outcomes,
        "leaves_at_most": step.worst,
    }
