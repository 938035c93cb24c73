"""The list of ventilation codes, for people and for programs."""

from collections.abc import Mapping, Sequence

from ventrules import __version__
from ventrules.codes import Code
from ventrules.engine.findings import Document
from ventrules.engine.report import FORMAT
from ventrules.files.shapes import unstructure
from ventrules.targets import clauses_of, weakest


def _weakest(code: Code) -> str:
    found = weakest(clause.known for clause in clauses_of(code))
    return found.value if found is not None else "nothing"


def window(code: Code) -> str:
    """Return the averaging window or segment of a code in words."""
    if code.run_time is not None:
        return f"each {code.run_time.segment}"
    if code.window is not None:
        return f"{code.window.length} ({code.window.placing.value})"
    return "none" if not code.judged else "every moment"


def codes_table(codes: Sequence[Code]) -> str:
    """Return the codes as a table for people."""
    head = ("code", "kind", "window", "least known", "edition")
    rows = [head, *((c.code, c.kind.value, window(c), _weakest(c), c.edition) for c in codes)]
    widths = [max(len(row[column]) for row in rows) for column in range(len(head))]
    lines = ["  ".join(text.ljust(width) for text, width in zip(row, widths, strict=True)).rstrip() for row in rows]
    count = "1 code" if len(codes) == 1 else f"{len(codes)} codes"
    return "\n".join([*lines, f"{count}. `ventrules codes CODE` prints one whole, clause by clause.", ""])


def codes_json(codes: Sequence[Code], failed: Mapping[str, Sequence[str]]) -> Document:
    """Return the codes as plain data.

    Args:
        codes: The codes.
        failed: By code, the examples that it does not reproduce.
    """
    listed: list[Document] = [
        {
            "code": code.code,
            "window": window(code),
            "weakest": _weakest(code),
            "file": unstructure(code),
            "failed_examples": list(failed.get(code.code, ())),
        }
        for code in codes
    ]
    return {"ventrules-codes": FORMAT, "version": __version__, "codes": listed}
