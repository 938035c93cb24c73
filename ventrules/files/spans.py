"""Where each part of a YAML or JSON text begins and ends, so that a part can be changed and the rest left alone.

The parts of YAML come from ruamel.yaml's parser of YAML 1.2, whose marks are offsets in the text.
"""

import json
import re
from collections.abc import Iterator
from enum import Enum
from io import StringIO
from typing import Final

from attrs import Factory, define
from ruamel.yaml import YAML
from ruamel.yaml.error import YAMLError
from ruamel.yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    Event,
    MappingEndEvent,
    MappingStartEvent,
    NodeEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
    StreamStartEvent,
)

from ventrules.engine import Path

_COMMENT: Final = re.compile(r"(?<!\S)#[^\r\n]*")
_PROPERTIES: Final = re.compile(r"(?:[&!][^\s,\[\]{}]*\s*)*")
_DASH: Final = re.compile(r"(?:\s|(?<!\S)#[^\r\n]*)*-")
_JSON_TOKEN: Final = re.compile(r'[ \t\r\n]*("[^"\\]*+(?:\\.[^"\\]*+)*+"|[\[\]{},:]|[^\[\]{},:"\s]+)', re.DOTALL)


class Kind(Enum):
    """What a part is."""

    SCALAR = "scalar"
    MAPPING = "mapping"
    SEQUENCE = "sequence"
    ALIAS = "alias"


@define(eq=False)
class Span:
    """One part of a text.

    Attributes:
        kind: What it is.
        start: Offset of its first character, its anchor included.
        end: Offset after its last character; blanks and comments that follow are not part of it.
        body: Offset of its first character after anchor and tag.
        flow: True between brackets.
        quote: The quote that a scalar begins with, or an empty text.
        text: The text of a scalar.
        anchor: Its anchor, or an empty text.
        target: What an alias stands for.
        items: Keys (None in a sequence) and values.
        dashes: Offsets of the dashes of a sequence in block style.
    """

    kind: Kind
    start: int
    end: int
    body: int
    flow: bool = False
    quote: str = ""
    text: str = ""
    anchor: str = ""
    target: "Span | None" = None
    items: "list[tuple[Span | None, Span]]" = Factory(list)
    dashes: list[int] = Factory(list)

    @property
    def collection(self) -> bool:
        """True for a mapping or a sequence."""
        return self.kind in (Kind.MAPPING, Kind.SEQUENCE)

    def lead(self, index: int) -> int:
        """Return the offset of an item's key or dash, or of its value in a sequence between brackets."""
        key, value = self.items[index]
        return self.dashes[index] if self.dashes else (key or value).start

    def index(self, step: str | int) -> int | None:
        """Return the number of the item that a step of a path leads to, or None."""
        if self.kind is Kind.MAPPING:
            return next((n for n, (key, _value) in enumerate(self.items) if key and key.text == str(step)), None)
        text = str(step)
        return int(text) if text.isdecimal() and int(text) < len(self.items) else None

    def walk(self) -> "Iterator[Span]":
        """Yield this part and all within it, in the order of the text; aliases are not followed."""
        yield self
        for key, value in self.items:
            if key is not None:
                yield key
            yield from value.walk()


def along(root: Span, path: Path) -> list[Span]:
    """Return the parts on the way to a path, the first and the last included; stops at an alias.

    Raises:
        ValueError: The text has no such part.
    """
    found = [root]
    for step in path:
        here = found[-1]
        if here.kind is Kind.ALIAS:
            break
        index = here.index(step)
        if index is None:
            raise ValueError(f"the text has no {step!r} where an edit expects it")
        found.append(here.items[index][1])
    return found


def comments(text: str, root: Span, start: int = 0, end: int | None = None) -> list[str]:
    """Return the comments that begin between two offsets of a YAML text, in order."""
    end = len(text) if end is None else end
    found: list[str] = []
    gap = 0
    words = [part for part in root.walk() if not part.collection]
    for begin, after in [*((part.start, part.end) for part in words), (len(text), len(text))]:
        found += (match[0].rstrip() for match in _COMMENT.finditer(text, max(gap, start), min(begin, end)))
        gap = after
    return found


def yaml_spans(text: str) -> Span:
    """Return the parts of a YAML text.

    Raises:
        ValueError: ruamel.yaml does not take it.
    """
    try:
        return _Yaml(text).root()
    except YAMLError as error:
        raise ValueError(f"the text cannot be taken apart: {' '.join(str(error).split())}") from error


class _Yaml:
    """Builds the parts of a YAML text from events."""

    def __init__(self, text: str) -> None:
        self._text = text
        self._anchors: dict[str, Span] = {}
        self._events: Iterator[Event] = iter(YAML(typ="safe", pure=True).parse(StringIO(text, newline="")))

    def root(self) -> Span:
        event = next(self._events)
        while isinstance(event, StreamStartEvent | DocumentStartEvent):
            event = next(self._events)
        return self._part(event)

    def _part(self, event: Event) -> Span:
        start, end = event.start_mark.index, event.end_mark.index
        if isinstance(event, AliasEvent):
            target = self._anchors.get(str(event.anchor))
            return Span(Kind.ALIAS, start, end, start, anchor="", text=str(event.anchor), target=target)
        if not isinstance(event, NodeEvent):
            raise ValueError(f"the text cannot be taken apart: {type(event).__name__}")  # noqa: TRY004 - text, not type
        match = _PROPERTIES.match(self._text, start, end)
        body = match.end() if match else start
        anchor = str(event.anchor) if event.anchor else ""
        if isinstance(event, ScalarEvent):
            end = start + len(self._text[start:end].rstrip())
            quote = event.style if event.style in ("'", '"') else ""
            part = Span(Kind.SCALAR, start, end, min(body, end), quote=quote, text=event.value, anchor=anchor)
        else:
            part = self._collection(event, start, body, anchor)
        if anchor:
            self._anchors[anchor] = part
        return part

    def _collection(self, event: Event, start: int, body: int, anchor: str) -> Span:
        mapping = isinstance(event, MappingStartEvent)
        flow = isinstance(event, MappingStartEvent | SequenceStartEvent) and bool(event.flow_style)
        part = Span(Kind.MAPPING if mapping else Kind.SEQUENCE, start, start, body, flow, anchor=anchor)
        while not isinstance(event := next(self._events), MappingEndEvent | SequenceEndEvent):
            if not (mapping or flow):
                part.dashes.append(self._dash(part.items[-1][1].end if part.items else body))
            key = self._part(event) if mapping else None
            value = self._part(next(self._events) if mapping else event)
            if not flow and value.kind is Kind.SCALAR and value.start == value.end:  # ruamel.yaml marks what follows
                lead = self._text.index(":", key.end) if key is not None else part.dashes[-1]
                value.start = value.end = value.body = lead + 1
            part.items.append((key, value))
        if flow:
            part.end = event.end_mark.index
        elif part.items:
            key, value = part.items[0]
            part.body = (key or value).start
            last_key, last = part.items[-1]
            part.end = max(last.end, last_key.end if last_key else 0)
        return part

    def _dash(self, after: int) -> int:
        match = _DASH.match(self._text, after)
        if match is None:
            raise ValueError("the text cannot be taken apart: a list without a dash")
        return match.end() - 1


def json_spans(text: str) -> Span:
    """Return the parts of a JSON text, which is sound."""
    return _Json(text).part()


class _Json:
    """Builds the parts of a JSON text from tokens."""

    def __init__(self, text: str) -> None:
        self._tokens = _JSON_TOKEN.finditer(text)
        self._here = next(self._tokens)

    def _next(self) -> re.Match[str]:
        here = self._here
        self._here = next(self._tokens, here)
        return here

    def part(self) -> Span:
        token = self._next()
        word, start, end = token[1], token.start(1), token.end(1)
        if word not in ("{", "["):
            text = _unquoted(word)
            return Span(Kind.SCALAR, start, end, start, flow=True, quote='"' if word[0] == '"' else "", text=text)
        part = Span(Kind.MAPPING if word == "{" else Kind.SEQUENCE, start, end, start, flow=True)
        while self._here[1] not in ("}", "]"):
            key = self.part() if part.kind is Kind.MAPPING else None
            if key is not None:
                self._next()  # the colon
            part.items.append((key, self.part()))
            if self._here[1] == ",":
                self._next()
        part.end = self._next().end(1)
        return part


def _unquoted(word: str) -> str:
    return str(json.loads(word)) if word.startswith('"') else word
