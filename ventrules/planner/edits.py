"""Edits to the job document that create the parents they need."""

from collections.abc import Iterable

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
    return put_all(job, [(path, value)])


def put_all(job: Job, values: Iterable[tuple[Path, Document]]) -> tuple[Edit, ...]:
    """Return the edits that set several values, with whatever mapping is missing above them, each once.

    Args:
        job: The job.
        values: Keys from the top of the document, with what to set there.
    """
    document = job_document(job)
    edits: list[Edit] = []
    begun: set[Path] = set()
    for path, value in values:
        here: Document = document
        for depth in range(1, len(path)):
            step, above = path[depth - 1], path[:depth]
            inside = here.get(step) if isinstance(here, dict) and isinstance(step, str) else None
            if inside is None and not isinstance(step, int):
                if above not in begun:
                    edits.append(Edit(EditKind.ADD, above, {}))
                    begun.add(above)
                inside = {}
            here = here[step] if isinstance(here, list) and isinstance(step, int) else inside
        edits.append(Edit(EditKind.ADD, path, value))
    return tuple(edits)


def remove(path: Path) -> Edit:
    """Return the edit that removes what stands at a path."""
    return Edit(EditKind.REMOVE, path)
