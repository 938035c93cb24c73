"""Workflow commands: lines that hosted CI turns into notes beside the lines of a change; see docs/outputs.md.

    ::error file=jobs/number-02.yaml,line=32,col=17,title=airflow/below-target::A mode delivers …

What is let stand is left out: an annotation asks somebody to act.
"""

from typing import Final, TextIO

from ventrules.bulk import Outcome
from ventrules.engine import Severity
from ventrules.outputs.formats import Closing
from ventrules.outputs.text import printable
from ventrules.outputs.told import Standing, Told, told

_COMMANDS: Final = {Severity.ERROR: "error", Severity.WARNING: "warning", Severity.ADVICE: "notice"}
# In this order: what is put in for a character must not be changed again.
_IN_MESSAGE: Final = (("%", "%25"), ("\r", "%0D"), ("\n", "%0A"))
_IN_PROPERTY: Final = (*_IN_MESSAGE, (":", "%3A"), (",", "%2C"))


class AnnotationWriter:
    """Writes one line for each finding, and nothing where there is none."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def write(self, outcome: Outcome) -> None:
        """Write what came of one job."""
        for one in told(outcome):
            if one.standing is not Standing.ACCEPTED:
                self._stream.write(_annotation(one))

    def close(self, closing: Closing) -> None:
        """Write a line where not all has been checked."""
        if closing.interrupted:
            self._stream.write("::error title=ventrules::Stopped before the end: not all has been checked.\n")


def _annotation(one: Told) -> str:
    properties = {"file": printable(one.file)}
    if one.position is not None:
        properties |= {"line": str(one.position.line), "col": str(one.position.column)}
    elif one.record is not None:
        properties["line"] = str(one.record)
    properties["title"] = f"{one.label} {one.rule}" if one.standing is Standing.UNCHECKED else one.rule
    given = ",".join(f"{name}={_escaped(value, _IN_PROPERTY)}" for name, value in properties.items())
    command = "notice" if one.standing is Standing.UNCHECKED else _COMMANDS[one.severity]
    lines = [one.title + ".", one.message, *(": ".join(part) for part in one.detail if part[0] in ("Where", "To do"))]
    return f"::{command} {given}::{_escaped(chr(10).join(lines), _IN_MESSAGE)}\n"


def _escaped(text: str, table: tuple[tuple[str, str], ...]) -> str:
    for char, written in table:
        text = text.replace(char, written)
    return text
