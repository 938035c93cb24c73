"""CSV (RFC 4180): a row for each finding, for spreadsheets and data frames; documented in docs/outputs.md."""

import csv
import re
from typing import Final, TextIO

from ventrules.bulk import Outcome
from ventrules.outputs.formats import Closing
from ventrules.outputs.text import printable
from ventrules.outputs.told import Told, told

COLUMNS: Final = (
    "file", "line", "column", "record", "job", "rule", "severity", "standing", "title", "place", "pointer", "message",
    "working", "todo", "offer", "basis", "fingerprint", "accepted_by", "reason", "until",
)  # fmt: skip
"""The columns, in their order; more may come after them."""
# What a spreadsheet takes for the start of a formula, wide forms as on East Asian keyboards among it; and what a CI
# runner takes for a command where the table is printed.
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20", "::")
_LEAD: Final = re.compile(r"^['\s]+")


class CsvWriter:
    """Writes a heading, and a row for each finding."""

    def __init__(self, stream: TextIO) -> None:
        self._rows = csv.writer(stream, lineterminator="\r\n")
        self._rows.writerow(COLUMNS)

    def write(self, outcome: Outcome) -> None:
        """Write what came of one job."""
        for one in told(outcome):
            self._rows.writerow([_cell(text) for text in _row(one)])

    def close(self, closing: Closing) -> None:
        """Write nothing: there is no place in a table for what all rows come to."""


def _row(one: Told) -> list[str]:
    finding, accepted = one.finding, one.accepted
    return [
        printable(one.file),
        str(one.position.line) if one.position is not None else "",
        str(one.position.column) if one.position is not None else "",
        str(one.record) if one.record is not None else "",
        one.job,
        one.rule,
        one.severity.value,
        one.standing.value,
        one.title,
        one.place,
        printable(finding.pointer) if finding is not None else "",
        one.message,
        printable(finding.working) if finding is not None else "",
        one.todo,
        printable(finding.remedy.title) if finding is not None and finding.remedy is not None else "",
        printable(str(finding.basis)) if finding is not None else "",
        one.fingerprint,
        accepted.by.value if accepted is not None else "",
        one.reason,
        accepted.until.isoformat() if accepted is not None and accepted.until is not None else "",
    ]


def _cell(text: str) -> str:
    """Return text that no spreadsheet takes for a formula: an apostrophe stands before what looks like one.

    So it does before apostrophes and spaces with such a thing behind them, so that taking the first apostrophe away
    gives the text again.
    """
    return f"'{text}" if _LEAD.sub("", text).startswith(_FORMULA) else text
