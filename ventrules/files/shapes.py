"""Plain data to model and back.

A sound document is read without any bookkeeping of errors. Only when that does not work is it read again, and all that
is wrong with it collected; what does that is imported when it is wanted.
"""

from typing import TypeVar

from ventrules.engine.findings import Document
from ventrules.files.keys import keys_by_name, written_keys
from ventrules.files.leaves import LARGEST_FACTOR, MANAGED, MOST, ShapeError, found
from ventrules.files.problems import Problem
from ventrules.files.quick import quick

__all__ = [
    "LARGEST_FACTOR",
    "MANAGED",
    "MOST",
    "ShapeError",
    "found",
    "keys_by_name",
    "structure",
    "unstructure",
    "written_keys",
]

T = TypeVar("T")


def structure(document: Document, shape: type[T]) -> T | list[Problem]:
    """Return the model of a document, or every problem in it.

    Args:
        document: Plain data.
        shape: The attrs class to build.
    """
    try:
        model = quick(document, shape)
    except Exception:  # noqa: S110 - whatever it was, the thorough reading says it in full
        pass
    else:
        if isinstance(model, shape):
            return model
    from ventrules.files.thorough import structured  # noqa: PLC0415 - slow to import

    return structured(document, shape)


def unstructure(model: object) -> dict[str, Document]:
    """Return a model as plain data, without what is left at its default."""
    from ventrules.files.thorough import unstructured  # noqa: PLC0415

    return unstructured(model)
