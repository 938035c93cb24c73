"""Parts that JSON documents share."""

from collections.abc import Iterable, Sequence

from ventrules import __version__
from ventrules.engine import Finding, Report
from ventrules.engine.findings import Document
from ventrules.engine.report import FORMAT
from ventrules.files import Problem
from ventrules.outputs.json_writing import harmless, pretty
from ventrules.outputs.wording import at
from ventrules.sources import Basis
from ventrules.survey.under import Exposed
from ventrules.units import Airflow


def head(kind: str, file: str) -> dict[str, Document]:
    """Return how a document begins.

    Args:
        kind: What it is, such as `target`.
        file: The job's file.
    """
    return {f"ventrules-{kind}": FORMAT, "version": __version__, "file": file}


def text(data: Document) -> str:
    """Return a document as text, in ASCII."""
    return harmless(pretty(data)) + "\n"


def unusable(kind: str, file: str, problems: Sequence[Problem]) -> str:
    """Return what kept a file from being used, as text.

    Args:
        kind: What the document would have been.
        file: The job's file.
        problems: What kept it.
    """
    return text({**head(kind, file), "usable": False, "problems": [problem(each) for each in problems]})


def problem(found: Problem) -> Document:
    """Return one thing that kept a file from being used."""
    at = found.position
    position: Document = {"line": at.line, "column": at.column} if at is not None else None
    return {"file": found.file, "position": position, "place": found.where, "message": found.message}


def airflow(m3s: float, unit: str) -> Document:
    """Return an airflow, m3/s, with its text in a unit."""
    return {"value": m3s, "unit": Airflow.si_unit, "text": str(Airflow.shown(m3s, unit))}


def basis(found: Basis) -> Document:
    """Return what a figure rests on."""
    return {"title": found.title, "clause": found.clause, "known": found.known.value, "note": found.note}


def exposure(found: Exposed | None) -> Document:
    """Return the relative exposure of a week, or nothing where it is not known."""
    if found is None:
        return None
    return {
        "mean": found.mean,
        "mean_present": found.mean_present,
        "peak": found.peak,
        "peak_at": at(found.peak_s),
    }


def findings(found: Iterable[Finding]) -> Document:
    """Return findings as they stand in the report of `ventrules check`."""
    return Report("", "", tuple(found), ()).as_dict()["findings"]
