"""What a plan spends least of."""

from enum import StrEnum
from typing import Final

DUST: Final = 1e-9  # relative: what floating point adds, as in `units.at_least`


class Least(StrEnum):
    """What a plan spends least of first; the others follow in the order given here."""

    AIR = "air"
    ENERGY = "energy"
    CHANGES = "changes"

    @property
    def columns(self) -> tuple[int, int, int]:
        """The columns of cost, what counts most first."""
        rest = [column for column, least in enumerate(Least) if least is not self]
        return (list(Least).index(self), rest[0], rest[1])
