"""Decisions taken from bytes, so that a fuzzer that changes bytes changes decisions."""

from collections.abc import Sequence
from typing import Final, TypeVar

T = TypeVar("T")


class Feed:
    """Gives out the bytes of an input as numbers, choices and text; zeros and nothing once they are used up."""

    def __init__(self, data: bytes) -> None:
        self._data: Final = data
        self._at = 0

    def __bool__(self) -> bool:
        """Whether bytes are left."""
        return self._at < len(self._data)

    def take(self, size: int) -> bytes:
        """Return the next bytes, fewer where fewer are left."""
        self._at += size
        return self._data[self._at - size : self._at]

    def below(self, limit: int) -> int:
        """Return a number below a limit, from one byte, or from two where one is not enough."""
        return int.from_bytes(self.take(1 if limit <= 256 else 2), "big") % limit

    def one_of(self, choices: Sequence[T]) -> T:
        """Return one of several things."""
        return choices[self.below(len(choices))]

    def text(self) -> str:
        """Return a text of its own bytes, broken ones replaced."""
        return self.take(self.below(24)).decode("utf-8", "replace")

    def rest(self) -> bytes:
        """Return what is left."""
        return self.take(len(self._data))
