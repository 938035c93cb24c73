"""New values as text, in the style of a text that is there."""

import json
import re
from collections.abc import Iterable, Iterator
from typing import Final

from attrs import frozen

from ventrules.engine.findings import Document
from ventrules.files.spans import Kind, Span

_PLAIN: Final = re.compile(r"-?[A-Za-z0-9_./][A-Za-z0-9_./+%()°²³ -]*(?<! )")
_OTHER_TYPE: Final = re.compile(
    r"-?[0-9.][0-9_.]*([eE][-+]?[0-9]+)?|0[ox][0-9a-fA-F]+|-?\.(inf|nan)|null|true|false"  # YAML 1.2, section 10.3.2
    r"|yes|no|on|off|y|n|\.{3}",  # what readers of YAML 1.1 take for truth values
    re.IGNORECASE,
)
_LOOKS_SO: Final = re.compile(r"[0-9]{4}-[0-9]")  # a date, to readers of YAML 1.1
_ESCAPED: Final = re.compile("[\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff]")


@frozen
class Quotes:
    """The quotes of keys and of text values; empty where plain text is the custom."""

    key: str = ""
    value: str = ""


@frozen
class Style:
    """How a text is written.

    Attributes:
        is_json: True for JSON.
        only_ascii: True when other characters are written as escapes.
        newline: Its line break.
        step: Columns by which a block mapping stands to the right of its key.
        dash_step: Columns by which the dashes of a list do.
        leaf_flow: True when small mappings stand between brackets.
        unit: What one level of a JSON text is indented by.
        spread: True when a JSON text gives each item a line.
        comma: What separates items on one line.
        colon: What follows a key.
        pad: What stands within braces.
    """

    is_json: bool = False
    only_ascii: bool = False
    newline: str = "\n"
    step: int = 2
    dash_step: int = 2
    leaf_flow: bool = True
    unit: str = "  "
    spread: bool = False
    comma: str = ", "
    colon: str = ": "
    pad: str = ""

    def scalar(self, value: Document, quote: str = "") -> str:
        """Return a scalar as text that reads back as the same type."""
        if not isinstance(value, str):
            return json.dumps(value)
        if self.is_json:
            return json.dumps(value, ensure_ascii=self.only_ascii)
        if not quote and _PLAIN.fullmatch(value) and not _OTHER_TYPE.fullmatch(value) and not _LOOKS_SO.match(value):
            return value
        if quote == "'" and value.isprintable():
            return "'" + value.replace("'", "''") + "'"
        return _ESCAPED.sub(lambda match: f"\\u{ord(match[0]):04x}", json.dumps(value, ensure_ascii=False))

    def inline(self, value: Document, quotes: Quotes) -> str:
        """Return a value on one line."""
        if isinstance(value, dict):
            items = [f"{self.scalar(key, quotes.key)}{self.colon}{self.inline(v, quotes)}" for key, v in value.items()]
            return "{" + self.pad + self.comma.join(items) + self.pad + "}" if items else "{}"
        if isinstance(value, list):
            return "[" + self.comma.join(self.inline(item, quotes) for item in value) + "]"
        return self.scalar(value, quotes.value)

    def spread_out(self, value: Document, margin: str) -> str:
        """Return a JSON value with a line for each item.

        Args:
            value: The value.
            margin: What the line is indented by that it begins on.
        """
        text = json.dumps(value, indent=self.unit, ensure_ascii=self.only_ascii, separators=(",", self.colon))
        return text.replace("\n", self.newline + margin)

    def wants_block(self, value: Document, like: Span | None) -> bool:
        """Say whether a value goes on lines of its own in a YAML block.

        Args:
            value: The value.
            like: The nearest value of the same kind, if there is one.
        """
        inner = list(value.values()) if isinstance(value, dict) else value if isinstance(value, list) else []
        if not inner:
            return False
        if like is not None:
            return not like.flow
        return any(isinstance(part, dict | list) and part for part in inner) or not self.leaf_flow

    def block(self, value: Document, column: int, quotes: Quotes, like: Span | None = None) -> list[str]:
        """Return the lines of a collection that is not empty, each with its indent.

        Args:
            value: A mapping or a list.
            column: The column of its keys or dashes.
            quotes: The quotes.
            like: The nearest value of the same kind, if there is one.
        """
        lines: list[str] = []
        if isinstance(value, dict):
            for key, inner in value.items():
                lines += self.entry(key, inner, column, quotes, alike(like, inner))
        elif isinstance(value, list):
            for inner in value:
                lines += self.entry(None, inner, column, quotes, alike(like, inner))
        return lines

    def entry(
        self, key: str | None, value: Document, column: int, quotes: Quotes, like: Span | None = None
    ) -> list[str]:
        """Return the lines of one item of a block collection, each with its indent.

        Args:
            key: Its key, or None in a list.
            value: Its value.
            column: The column of the key or the dash.
            quotes: The quotes.
            like: The nearest value of the same kind, if there is one.
        """
        lead = " " * column + (f"{self.scalar(key, quotes.key)}:" if key is not None else "-")
        if not self.wants_block(value, like):
            return [f"{lead} {self.inline(value, quotes)}"]
        if key is not None:
            return [lead, *self.block(value, self.inner_column(value, column), quotes, like)]
        first, *others = self.block(value, column + 2, quotes, like)
        return [f"{lead} {first.lstrip()}", *others]

    def inner_column(self, value: Document, column: int) -> int:
        """Return the column of a block collection below a key."""
        return column + (self.dash_step if isinstance(value, list) else self.step)


def alike(holder: Span | None, value: Document) -> Span | None:
    """Return the last value in a collection that is of the same kind as a new one, if there is one.

    A small mapping says nothing about one that holds mappings, and an empty one nothing at all.
    """
    if holder is None or not isinstance(value, dict | list):
        return None
    kind = Kind.MAPPING if isinstance(value, dict) else Kind.SEQUENCE
    nested = any(isinstance(inner, dict | list) for inner in (value.values() if isinstance(value, dict) else value))
    found = [part.target if part.kind is Kind.ALIAS and part.target else part for _key, part in holder.items]
    same = [part for part in found if part.kind is kind and part.items]
    return next((p for p in reversed(same) if not nested or any(inner.collection for _key, inner in p.items)), None)


def column_of(text: str, at: int) -> int:
    """Return the column of an offset, from 0."""
    return at - line_start(text, at)


def line_start(text: str, at: int) -> int:
    """Return the offset at which the line begins that holds an offset."""
    return max(text.rfind("\n", 0, at), text.rfind("\r", 0, at)) + 1


def margin(text: str, at: int) -> str:
    """Return the blanks at the start of the line that holds an offset."""
    line = text[line_start(text, at) : at]
    return line[: len(line) - len(line.lstrip())]


def style_of(text: str, root: Span, *, is_json: bool) -> Style:
    """Return how a text is written."""
    newline = "\r\n" if "\r\n" in text else "\n"
    parts = [part for part in root.walk() if part.collection and part.items]
    braces = next((part for part in parts if part.flow and part.kind is Kind.MAPPING), None)
    pad = " " if braces is not None and text[braces.body + 1 : braces.body + 2] == " " else ""
    if not is_json:
        return Style(
            newline=newline,
            step=_step(text, root, Kind.MAPPING),
            dash_step=_step(text, root, Kind.SEQUENCE),
            leaf_flow=any(part.flow for part in parts),
            pad=pad,
        )
    spread = [part for part in parts if spreads(text, part)]
    unit = margin(text, spread[0].lead(0)) if spread else "  "
    tight = '": ' not in text and '":\t' not in text
    return Style(
        is_json=True,
        only_ascii=text.isascii() and "\\u" in text,
        newline=newline,
        unit=unit,
        spread=bool(spread) and len(spread) == len(parts),
        comma="," if tight else ", ",
        colon=":" if tight else ": ",
        pad=pad,
    )


def spreads(text: str, part: Span) -> bool:
    """Say whether the first item of a collection between brackets stands on a line of its own."""
    return bool(part.flow and part.items) and "\n" in text[part.body : part.lead(0)]


def _step(text: str, root: Span, kind: Kind) -> int:
    """Return by how many columns block collections of a kind stand to the right of their keys."""
    for part in root.walk():
        for key, value in part.items if part.collection and not part.flow else ():
            if key is not None and value.kind is kind and not value.flow and value.items:
                return max(column_of(text, value.lead(0)) - column_of(text, key.start), 0)
    return 2


def quotes_like(parts: Iterable[Span]) -> Quotes:
    """Return the quotes that all keys and all text values within parts have."""
    keys, values = set(), set()
    for part in parts:
        for key, value in _pairs(part):
            keys |= {key.quote} if key is not None else set()
            values |= {value.quote} if value.kind is Kind.SCALAR else set()
    return Quotes(keys.pop() if len(keys) == 1 else "", values.pop() if len(values) == 1 else "")


def _pairs(part: Span) -> Iterator[tuple[Span | None, Span]]:
    for key, value in part.items:
        yield key, value
        yield from _pairs(value)
