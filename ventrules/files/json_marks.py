"""Positions in a JSON text, found one by one: a few findings are placed without walking the whole text."""

import re
from bisect import bisect_right
from collections.abc import Iterator, Mapping
from itertools import accumulate
from json import JSONDecoder
from typing import Final, NamedTuple

from ventrules.engine import Path, Position
from ventrules.engine.once import once
from ventrules.files.json_text import mark_json
from ventrules.files.marks import Mark, Marks

_SPACE: Final = re.compile(r"[ \t\r\n]*")
_COLON: Final = re.compile(r"[ \t\r\n]*:[ \t\r\n]*")
_PLAIN_KEY: Final = re.compile(r'"([^"\\]*+)"[ \t\r\n]*:[ \t\r\n]*')  # most keys: without an escape
_COMMA: Final = re.compile(r"[ \t\r\n]*,[ \t\r\n]*")
_DECODER: Final = JSONDecoder()


class _Member(NamedTuple):
    """Where one member of a mapping or list stands: offsets of its key (in a list: its value), and of its value."""

    key: int
    value: int


class JsonMarks(Marks):
    """Marks of a sound JSON text, looked for when they are asked for.

    What lies beside a path is passed over by the decoder, in C. Nothing is passed over twice at one level, so that a
    thousand findings in a large text cost no more than walking it as often as it is deep.

    Args:
        text: The text.
    """

    def __init__(self, text: str) -> None:
        super().__init__()
        self._text = text
        self._members: dict[int, tuple[dict[str | int, _Member], Iterator[tuple[str | int, _Member]]]] = {}

    @once
    def _whole(self) -> Marks:
        marks = Marks()
        mark_json(self._text, marks)
        return marks

    @property
    def keys(self) -> Mapping[Path, Mark]:
        """Path to the mark of its key (list items: of the item)."""
        return self._whole.keys

    @property
    def values(self) -> Mapping[Path, Mark]:
        """Path to the mark of its value."""
        return self._whole.values

    def position(self, file: str, path: Path, *, at_value: bool = False) -> Position | None:
        """Return the position of a path, or of its nearest parent that stands in the text; None of a broken text."""
        try:
            here = _Member(start := _skip(self._text, 0), start)
            for step in path:
                inner = self._member(here.value, step)
                if inner is None:
                    return self._position(file, here.key)
                here = inner
        except (ValueError, IndexError, RecursionError):
            return None
        return self._position(file, here.value if at_value else here.key)

    def _position(self, file: str, at: int) -> Position:
        line = bisect_right(self._lines, at)
        return Position(file, line, at - self._lines[line - 1] + 1)

    @once
    def _lines(self) -> list[int]:
        """Where each line starts."""
        return [0, *accumulate(len(line) + 1 for line in self._text.split("\n"))][:-1]

    def _member(self, container: int, step: str | int) -> _Member | None:
        """Return a member of the mapping or list that stands at an offset; None where it has none of that name."""
        if container not in self._members:
            self._members[container] = {}, _members(self._text, container)
        passed, ahead = self._members[container]
        if step not in passed:
            for name, member in ahead:  # goes on where the last search ended
                passed[name] = member
                if name == step:
                    break
        return passed.get(step)


def _members(text: str, container: int) -> Iterator[tuple[str | int, _Member]]:
    """Yield key or index, and offsets, of each member of a mapping or list; nothing of anything else."""
    opening = text[container]
    if opening not in "{[":
        return
    index, at = 0, _skip(text, container + 1)
    while text[at] not in "]}":
        value = at
        if opening == "{":
            key, value = _key(text, at)
            yield key, _Member(at, value)
        else:
            yield index, _Member(at, at)
            index += 1
        _passed, end = _DECODER.raw_decode(text, value)
        comma = _COMMA.match(text, end)
        if comma is None:
            return
        at = comma.end()


def _key(text: str, at: int) -> tuple[str, int]:
    """Return the key that stands at an offset, and where its value stands."""
    plain = _PLAIN_KEY.match(text, at)
    if plain is not None:
        return plain[1], plain.end()
    key, end = _DECODER.raw_decode(text, at)
    colon = _COLON.match(text, end)
    if colon is None:
        raise ValueError("a key without a colon")
    return key, colon.end()


def _skip(text: str, at: int) -> int:
    """Return where the next thing but white space stands."""
    found = _SPACE.match(text, at)
    return found.end() if found is not None else at
