"""YAML 1.2 text to plain data, by the core schema.

Events come from PyYAML's C parser; the composing is done here, since depth and aliases have to be
limited before anything recurses, and since `off`, `no` and `on` are text in YAML 1.2 (section 10.3.2).
"""

import math
import re
from collections.abc import Iterator
from typing import Final

import yaml

from ventrules.engine import Path
from ventrules.engine.findings import Document
from ventrules.files.bounds import MOST_VALUES
from ventrules.files.marks import Mark, Marks
from ventrules.files.problems import DocumentError
from ventrules.words import clipped

DEEPEST: Final = 64
MOST_ALIASED: Final = 20_000
_LONGEST_INT: Final = 300

_NULL: Final = frozenset({"", "~", "null", "Null", "NULL"})
_BOOL: Final = {"true": True, "True": True, "TRUE": True, "false": False, "False": False, "FALSE": False}
_INT: Final = re.compile(r"[-+]?[0-9]+")
_BASED: Final = re.compile(r"0o[0-7]+|0x[0-9a-fA-F]+")
_FLOAT: Final = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?")
_NOT_FINITE: Final = re.compile(r"[-+]?\.(inf|Inf|INF)|\.(nan|NaN|NAN)")
_CORE_TAGS: Final = frozenset({f"tag:yaml.org,2002:{name}" for name in ("str", "map", "seq")})

try:
    _LOADER: type[yaml.CSafeLoader] | type[yaml.SafeLoader] = yaml.CSafeLoader
except AttributeError:  # PyYAML built without libyaml: slower, same events
    _LOADER = yaml.SafeLoader


def load_yaml(text: str, marks: Marks | None = None) -> Document:
    """Return the one document of a YAML text.

    Args:
        text: The text.
        marks: Filled with the position of every key and value, when given.

    Raises:
        DocumentError: Broken syntax, a duplicate or non-text key, a value outside the core schema,
            NaN or infinity, too many levels, an alias bomb, no document or several.
    """
    try:
        events = yaml.parse(text, Loader=_LOADER)
        return _Composer(events, marks).document()
    except yaml.MarkedYAMLError as error:
        raise _syntax_error(error, text) from error
    except yaml.reader.ReaderError as error:
        line = text.count("\n", 0, error.position) + 1
        column = error.position - (text.rfind("\n", 0, error.position) + 1) + 1
        raise DocumentError(f"not valid YAML: {error.reason} (U+{error.character:04X})", line, column) from error
    except yaml.YAMLError as error:
        raise DocumentError(f"not valid YAML: {clipped(str(error), 200)}") from error
    except ValueError as error:
        if isinstance(error, DocumentError):
            raise
        raise DocumentError(f"not valid YAML: {clipped(str(error), 200)}") from error


def _syntax_error(error: yaml.MarkedYAMLError, text: str) -> DocumentError:
    """Return the error where a reader has to look: where the unfinished thing opens, when the text just ends."""
    mark, opened = error.problem_mark or error.context_mark, error.context_mark
    said = " ".join(part for part in (error.context, error.problem) if part)
    if mark is None:
        return DocumentError(f"not valid YAML: {said}")
    lines = text.split("\n")
    if _rest(lines, mark):
        return DocumentError(f"not valid YAML: {said}", mark.line + 1, mark.column + 1)
    if opened is not None and _rest(lines, opened):
        message = f"not valid YAML: what opens here is not closed before the file ends; is the file whole? ({said})"
        return DocumentError(message, opened.line + 1, opened.column + 1)
    last = len(lines) - 1 if lines[-1] or len(lines) == 1 else len(lines) - 2
    return DocumentError(f"not valid YAML: {said}; is the file whole?", last + 1, len(lines[last]) + 1)


def _rest(lines: list[str], mark: yaml.error.Mark) -> bool:
    """Say whether any text stands at a mark or behind it; the parser may see the end on the line after the last."""
    return bool(lines[mark.line :] and "\n".join(lines[mark.line :])[mark.column :].strip())


class _Composer:
    """Composes data from events, with the limits checked on the way."""

    def __init__(self, events: Iterator[yaml.Event], marks: Marks | None) -> None:
        self._events = events
        self._marks = marks
        self._anchors: dict[str, tuple[Document, int]] = {}
        self._open: set[str] = set()
        self._aliased = 0
        self._size = 0

    def document(self) -> Document:
        next(self._events)  # stream start
        event = next(self._events)
        if isinstance(event, yaml.StreamEndEvent):
            raise DocumentError("the file is empty", 1, 1)
        start, top = event, next(self._events)
        if self._marks is not None:
            here = _mark_of_value(top, _mark(start))
            self._marks.note((), here, here)
        value = self._value(top, (), 0)
        next(self._events)  # document end
        event = next(self._events)
        if not isinstance(event, yaml.StreamEndEvent):
            raise DocumentError("more than one document in the file; expected one", *_mark(event))
        return value

    def _value(self, event: yaml.Event, path: Path, depth: int) -> Document:
        if isinstance(event, yaml.AliasEvent):
            return self._alias(event)
        if not isinstance(event, yaml.ScalarEvent | yaml.MappingStartEvent | yaml.SequenceStartEvent):
            raise DocumentError(f"not valid YAML: unexpected {type(event).__name__}", *_mark(event), path)
        anchor = event.anchor
        before = self._size
        self._size += 1
        if self._size > MOST_VALUES:
            raise DocumentError(f"more than {MOST_VALUES:,} values", *_mark(event))
        if anchor is not None:
            self._open.add(anchor)
        value: Document
        if isinstance(event, yaml.ScalarEvent):
            value = _scalar(event)
        else:
            if depth >= DEEPEST:
                raise DocumentError(f"nested deeper than {DEEPEST} levels", *_mark(event), path)
            if event.tag is not None and event.tag not in _CORE_TAGS:
                raise DocumentError(f"tag {clipped(event.tag)!r} is not of the core schema", *_mark(event), path)
            mapping = isinstance(event, yaml.MappingStartEvent)
            value = self._mapping(path, depth) if mapping else self._sequence(path, depth)
        if anchor is not None:
            self._open.discard(anchor)
            self._anchors[anchor] = (value, self._size - before)
        return value

    def _alias(self, event: yaml.AliasEvent) -> Document:
        name = event.anchor or ""
        if name in self._open:
            raise DocumentError(f"alias {clipped(name)!r} contains itself", *_mark(event))
        if name not in self._anchors:
            raise DocumentError(f"alias {clipped(name)!r} has no anchor", *_mark(event))
        value, size = self._anchors[name]
        self._aliased += size
        self._size += size
        if self._aliased > MOST_ALIASED:
            raise DocumentError(f"aliases repeat more than {MOST_ALIASED} values", *_mark(event))
        return value

    def _sequence(self, path: Path, depth: int) -> Document:
        items: list[Document] = []
        while not isinstance(event := next(self._events), yaml.SequenceEndEvent):
            inner = (*path, len(items))
            if self._marks is not None:
                self._marks.note(inner, _mark(event), _mark(event))
            items.append(self._value(event, inner, depth + 1))
        return items

    def _mapping(self, path: Path, depth: int) -> Document:
        items: dict[str, Document] = {}
        while not isinstance(event := next(self._events), yaml.MappingEndEvent):
            key = _key(event, path)
            inner = (*path, key)
            if key in items:
                raise DocumentError(f"key {clipped(key)!r} appears twice", *_mark(event), inner)
            value_event = next(self._events)
            if self._marks is not None:
                key_mark = _mark(event)
                self._marks.note(inner, key_mark, _mark_of_value(value_event, key_mark))
            items[key] = self._value(value_event, inner, depth + 1)
        return items


def _mark(event: yaml.Event) -> Mark:
    if event.start_mark is None:
        return Mark(1, 1)
    return Mark(event.start_mark.line + 1, event.start_mark.column + 1)


def _mark_of_value(event: yaml.Event, before: Mark) -> Mark:
    """Return where a value stands; the parser may see one that is left out on the next line, past the last one even."""
    mark, start, end = _mark(event), event.start_mark, event.end_mark
    written = not isinstance(event, yaml.ScalarEvent) or start is None or end is None or start.index < end.index
    return mark if written or mark.line == before.line else before


def _key(event: yaml.Event, path: Path) -> str:
    if not isinstance(event, yaml.ScalarEvent):
        raise DocumentError("a key must be text, not a list, a mapping or an alias", *_mark(event), path)
    key = _scalar(event)
    if not isinstance(key, str):
        raise DocumentError(
            f"key {clipped(event.value)!r} is a {type(key).__name__}; put it in quotes to make it text",
            *_mark(event),
            path,
        )
    return key


def _scalar(event: yaml.ScalarEvent) -> Document:
    text: str = event.value
    if event.tag is not None and event.tag != "!":
        if event.tag == "tag:yaml.org,2002:str":
            return text
        raise DocumentError(f"tag {clipped(event.tag)!r} is not supported; leave it out", *_mark(event))
    if event.tag == "!" or not event.implicit[0] or event.style in ("'", '"', "|", ">"):
        return text
    if text in _NULL:
        return None
    if text in _BOOL:
        return _BOOL[text]
    return _number(text, event)


def _number(text: str, event: yaml.ScalarEvent) -> Document:
    if _INT.fullmatch(text) or _BASED.fullmatch(text):
        if len(text) > _LONGEST_INT:
            raise DocumentError(f"number {clipped(text)} is too long", *_mark(event))
        return int(text, 0) if _BASED.fullmatch(text) else int(text)
    if _FLOAT.fullmatch(text):
        number = float(text)
        if math.isinf(number):
            raise DocumentError(f"number {clipped(text)} is too large", *_mark(event))
        return number
    if _NOT_FINITE.fullmatch(text):
        raise DocumentError(f"{text} is not a number that can be used here", *_mark(event))
    return text
