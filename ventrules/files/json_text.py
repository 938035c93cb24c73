"""JSON text to plain data, fast; and, only when asked, where each part stands in the text."""

import json
import math
import re
from typing import Final, NoReturn

from ventrules.engine import Path
from ventrules.engine.findings import Document
from ventrules.files.bounds import MOST_VALUES, json_holds_more
from ventrules.files.marks import Mark, Marks
from ventrules.files.problems import DocumentError
from ventrules.words import clipped

_TOKEN: Final = re.compile(r'[ \t\r\n]*("[^"\\]*+(?:\\.[^"\\]*+)*+"|[\[\]{},:]|[^\[\]{},:"\s]+)', re.DOTALL)
_NOT_FINITE: Final = frozenset({"NaN", "Infinity", "-Infinity"})
_OPENING: Final = frozenset("[{")
_CLOSING: Final = frozenset("]}")
_DEEP: Final = 64


def load_json(text: str) -> Document:
    """Return the document of a JSON text (RFC 8259).

    Raises:
        DocumentError: Broken syntax, a duplicate key, NaN or infinity, too many levels.
    """
    if json_holds_more(text, MOST_VALUES):
        raise DocumentError(f"more than {MOST_VALUES:,} values", 1, 1)
    try:
        document: Document = _DECODER.decode(text)
    except json.JSONDecodeError as error:
        raise DocumentError(f"not valid JSON: {error.msg}", error.lineno, error.colno) from error
    except RecursionError as error:
        raise DocumentError("nested too deeply", *_deep(text)) from error
    except _FaultError as fault:
        raise _placed(text, fault) from fault
    except ValueError as error:
        raise DocumentError(f"not valid JSON: {clipped(str(error), 200)}") from error
    return document


class _FaultError(Exception):
    """A duplicate key or a number that is none; found by the decoder, which knows no position."""


def _pairs(pairs: list[tuple[str, Document]]) -> dict[str, Document]:
    items = dict(pairs)
    if len(items) != len(pairs):
        seen: set[str] = set()
        for key, _value in pairs:
            if key in seen:
                raise _FaultError(key)
            seen.add(key)
    return items


def _no_constant(name: str) -> NoReturn:
    raise _FaultError(name)


def _finite(digits: str) -> float:
    number = float(digits)
    if math.isinf(number):
        raise _FaultError(digits)
    return number


_DECODER: Final = json.JSONDecoder(object_pairs_hook=_pairs, parse_constant=_no_constant, parse_float=_finite)


def _placed(text: str, fault: _FaultError) -> DocumentError:
    """Return the problem with its place, found by walking the text once more."""
    try:
        mark_json(text, Marks())
    except DocumentError as problem:
        return problem
    return DocumentError(f"not valid JSON: {clipped(str(fault))}")


def _deep(text: str) -> Mark:
    """Return where a text first goes deeper than any file has reason to."""
    depth = 0
    for match in _TOKEN.finditer(text):
        depth += (match.group(1) in _OPENING) - (match.group(1) in _CLOSING)
        if depth > _DEEP:
            at = match.start(1)
            return Mark(text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at))
    return Mark(1, 1)


def mark_json(text: str, marks: Marks) -> None:
    """Fill `marks` with the position of every key and value of a JSON text.

    Raises:
        DocumentError: A duplicate key, NaN or infinity; other syntax is taken to be sound.
    """
    _Marker(text, marks).walk()


class _Marker:
    """Walks the tokens of a sound JSON text with a stack of its own, so that depth cannot hurt."""

    def __init__(self, text: str, marks: Marks) -> None:
        self._text = text
        self._marks = marks
        self._line = 1
        self._line_start = 0
        self._counted = 0
        self._path: list[str | int] = []
        self._keys: list[set[str] | None] = []  # one per open container; None for a list
        self._key_mark: Mark | None = None
        self._wants_key = False

    def walk(self) -> None:
        for match in _TOKEN.finditer(self._text):
            self._piece(match.group(1), self._mark(match.start(1)))

    def _mark(self, at: int) -> Mark:
        newlines = self._text.count("\n", self._counted, at)
        if newlines:
            self._line += newlines
            self._line_start = self._text.rfind("\n", self._counted, at) + 1
        self._counted = at
        return Mark(self._line, at - self._line_start + 1)

    def _piece(self, piece: str, mark: Mark) -> None:
        if not self._keys and piece in ",:]}":
            raise DocumentError(f"not valid JSON: {piece!r} outside of any mapping or list", *mark)
        if piece == ":":
            self._wants_key = False
        elif piece == ",":
            keys = self._keys[-1]
            self._wants_key = keys is not None
            if keys is None:
                last = self._path[-1]
                self._path[-1] = last + 1 if isinstance(last, int) else 0
        elif piece in "]}":
            self._keys.pop()
            self._path.pop()
            self._wants_key = False
        elif self._wants_key:
            self._key(piece, mark)
        else:
            self._value(piece, mark)

    def _key(self, piece: str, mark: Mark) -> None:
        key = str(json.loads(piece))
        keys = self._keys[-1]
        self._path[-1] = key
        if keys is not None:
            if key in keys:
                raise DocumentError(f"key {clipped(key)!r} appears twice", *mark, tuple(self._path))
            keys.add(key)
        self._key_mark = mark

    def _value(self, piece: str, mark: Mark) -> None:
        path: Path = tuple(self._path)
        if piece in _NOT_FINITE:
            raise DocumentError(f"{piece} is not a number that can be used here", *mark, path)
        if piece[0] in "-0123456789":
            try:
                number = _float(piece)
            except ValueError as error:  # what stands after the fault that led here was never read
                raise DocumentError(f"not valid JSON: {clipped(piece)} is no number", *mark, path) from error
            if math.isinf(number):
                raise DocumentError(f"number {clipped(piece)} is too large", *mark, path)
        in_mapping = bool(self._keys) and self._keys[-1] is not None
        self._marks.note(path, (self._key_mark or mark) if in_mapping else mark, mark)
        if piece == "{":
            self._keys.append(set())
            self._path.append("")
            self._wants_key = True
        elif piece == "[":
            self._keys.append(None)
            self._path.append(0)


def _float(piece: str) -> float:
    """Return a number as a float; an integer of any size counts as finite."""
    return float(piece) if set(piece) & set(".eE") else 0.0
