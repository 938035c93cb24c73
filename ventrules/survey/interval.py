"""Intervals of values, and what a reading proves about what is allowed.

A reading is an interval, and so is what is allowed. Wholly inside it passes, wholly outside it fails; anything else
cannot be told with that instrument. Edges belong to what is allowed.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from typing import Final

from attrs import frozen

from ventrules.units import at_least, at_most

_HALVINGS: Final = 5  # to a thirtieth of the instrument's error; each may cost two surveys
LEAST_PART: Final = 0.5**_HALVINGS
"""The smallest part of an instrument's error at which it is tried whether something can be told."""


class Verdict(StrEnum):
    """What a reading proves."""

    HOLDS = "pass"
    FAILS = "fail"
    CANNOT_TELL = "cannot tell"


@frozen
class Interval:
    """Values from the lowest to the highest, both among them."""

    low: float
    high: float

    @classmethod
    def about(cls, value: float, off: float) -> Interval:
        """Return what may be there when a value was read; never less than nothing."""
        return cls(max(value - off, 0.0), value + off)

    def __contains__(self, value: float) -> bool:
        return at_least(value, self.low) and at_most(value, self.high)

    def nearest_to(self, value: float) -> float:
        """Return the value in it that is nearest to a given one."""
        return min(max(value, self.low), self.high)


def verdict(measured: Interval, allowed: Interval) -> Verdict:
    """Return what a reading proves about what is allowed."""
    if measured.low in allowed and measured.high in allowed:
        return Verdict.HOLDS
    if not at_least(measured.high, allowed.low) or not at_most(measured.low, allowed.high):
        return Verdict.FAILS
    return Verdict.CANNOT_TELL


def enough_to_tell(value: float, allowed: Interval) -> float:
    """Return how much an instrument may be off so that a value tells: the distance to the nearer edge; 0.0 on one."""
    edges = (allowed.low, allowed.high)
    if any(at_least(value, edge) and at_most(value, edge) for edge in edges):
        return 0.0
    return min(abs(value - edge) for edge in edges)


def largest_part(tells: Callable[[float], bool]) -> float:
    """Return the largest part of an instrument's error, found by halving, at which something can still be told.

    Args:
        tells: Whether it can at a part; not at the whole, and at every part below one at which it can.

    Returns:
        The part, to a thirtieth and on the low side; 0.0 where it is less than that.
    """
    low, high = 0.0, 1.0
    for _halving in range(_HALVINGS):
        middle = (low + high) / 2.0
        low, high = (middle, high) if tells(middle) else (low, middle)
    return low
