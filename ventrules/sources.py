"""Where a number or a rule comes from, and how well that is known."""

from enum import StrEnum

from attrs import frozen


class Known(StrEnum):
    """How a figure is known."""

    SEEN = "seen"
    SECOND_HAND = "second-hand"
    FROM_MEMORY = "from memory"
    COMMON_PRACTICE = "common practice"
    CATALOG = "catalog entry"
    JOB = "the job itself"
    PER_FINDING = "named in each finding"


@frozen
class Basis:
    """What a rule or a number rests on.

    Attributes:
        title: The publication, catalog entry or practice.
        clause: Section, table or equation inside it; empty when there is none.
        known: Whether the text was seen, restated second-hand, recalled, or is a fact of the trade.
        note: How an open text is read, when it allows more than one reading.
    """

    title: str
    known: Known
    clause: str = ""
    note: str = ""

    def __str__(self) -> str:
        where = f", {self.clause}" if self.clause else ""
        how = "" if self.known in (Known.SEEN, Known.JOB, Known.CATALOG) else f" ({self.known.value})"
        note = f"; {self.note}" if self.note else ""
        return f"{self.title}{where}{how}{note}"


def practice(what: str, note: str = "") -> Basis:
    """Return the basis of a fact of the trade."""
    return Basis(what, Known.COMMON_PRACTICE, note=note)
