"""Edits to the job document that create the parents they need."""

from ventrules.engine import Edit, EditKind, Path
from ventrules.engine.findings import Document
from ventrules.files import job_document
from ventrules.job import Job


def put(job: Job, path: Path, value: Document) -> tuple[Edit, ...]:
    """Return the edits that set a value, with whatever mapping is missing above it.

    Args:
        job: The job.
        path: Keys from the top of the document.
        value: What to set.
    """
    here: Document = job_document(job)
    edits = []
    for depth in range(1, len(path)):
        step = path[depth - 1]
        inside = here.get(step) if isinstance(here, dict) and isinstance(step, str) else None
        if inside is None and not isinstance(step, int):
            edits.append(Edit(EditKind.ADD, path[:depth], {}))
            inside = {}
        here = here[step] if isinstance(here, list) and isinstance(step, int) else inside
    return (*edits, Edit(EditKind.ADD, path, value))


def remove(path: Path) -> Edit:
    """Return the edit that removes what stands at a path."""
    return Edit(EditKind.REMOVE, path)
