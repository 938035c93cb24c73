"""Documents written the way people write YAML: every style, indents of their own, comments and blank lines anywhere."""

import json
from random import Random

from ventrules.engine.findings import Document
from ventrules.files.rendering import Quotes, Style


class Hand:
    """Writes one document; no two comments are the same, so that a lost one is missed.

    `comments` lists those written.

    Args:
        random: Chooses.
        flow: Whether collections may stand between brackets.
    """

    def __init__(self, random: Random, *, flow: bool = True) -> None:
        self._random = random
        self._flow = flow
        self._step = random.choice([2, 2, 3, 4])
        self._dash = random.choice([0, 2, 2, 4])
        self._quote = random.choice(["", "", '"', "'"])
        self.comments: list[str] = []

    def text(self, document: Document) -> str:
        """Return the text of a mapping that is not empty."""
        head = self._remarks(0)
        start = ["---"] if self._often(5) else []
        text = "\n".join([*head, *start, *self._block(document, 0), *self._remarks(0)])
        return text + ("" if self._often(6) else "\n")

    def _often(self, of: int) -> bool:
        return self._random.randrange(of) == 0

    def _comment(self) -> str:
        said = self._random.choice(["as drawn", "see: {old} [plan]", "- was 30 ft", "'n' \"m\", a: b", "&a *a #2"])
        self.comments.append(f"# {len(self.comments) + 1} {said}")
        return self.comments[-1]

    def _remarks(self, column: int) -> list[str]:
        return [
            "" if self._often(3) else " " * self._random.choice([column, column, column + 1]) + self._comment()
            for _ in range(self._random.choice([0, 0, 0, 1, 2]))
        ]

    def _end(self) -> str:
        return f"{self._random.choice([' ', '   '])}{self._comment()}" if self._often(3) else ""

    def _scalar(self, value: Document) -> str:
        if isinstance(value, str):
            quote = self._random.choice(["", '"', "'"]) if self._often(6) else self._quote
            return Style().scalar(value, quote)
        return json.dumps(value)

    def _plain(self, value: Document) -> bool:
        return not (isinstance(value, dict | list) and value)

    def _block(self, value: Document, column: int) -> list[str]:
        lines: list[str] = []
        items: list[tuple[str, Document]] = []
        if isinstance(value, dict):
            items = [(f"{self._scalar(key)}:", inner) for key, inner in value.items()]
        elif isinstance(value, list):
            items = [("-", inner) for inner in value]
        for lead, inner in items:
            lines += self._remarks(column)
            lines += self._entry(" " * column + lead, inner, column)
        return lines

    def _entry(self, lead: str, inner: Document, column: int) -> list[str]:
        if inner is None and self._often(2):
            return [lead + self._end()]
        if self._plain(inner) or (self._flow and self._often(2)):
            return self._between(lead, inner, column)
        if lead.endswith("-"):
            below = self._block(inner, column + 2)
            if below[0].strip().startswith("#") or not below[0].strip() or self._often(5):
                return [lead + self._end(), *below]
            return [f"{lead} {below[0].lstrip()}", *below[1:]]
        step = self._dash if isinstance(inner, list) else self._step
        return [lead + self._end(), *self._block(inner, column + step)]

    def _between(self, lead: str, value: Document, column: int) -> list[str]:
        if not self._plain(value) and self._often(4):
            opening, closing = "{}" if isinstance(value, dict) else "[]"
            items = (
                value.items()
                if isinstance(value, dict)
                else [(None, v) for v in value]
                if isinstance(value, list)
                else []
            )
            inner = [
                f"{self._scalar(key)}: {self._in_line(v)}" if key is not None else self._in_line(v) for key, v in items
            ]
            commas = [","] * (len(inner) - 1) + [self._random.choice(["", "", ","])]
            lines = [f"{' ' * (column + 4)}{item}{comma}" for item, comma in zip(inner, commas, strict=True)]
            rows = [line for item in lines for line in (*self._remarks(column + 4), item + self._end())]
            return [f"{lead} {opening}{self._end()}", *rows, f"{' ' * (column + 1)}{closing}{self._end()}"]
        return [f"{lead} {self._in_line(value)}{self._end()}"]

    def _in_line(self, value: Document) -> str:
        pad = " " if self._often(4) else ""
        if isinstance(value, dict) and value:
            inner = ", ".join(f"{self._scalar(key)}: {self._in_line(item)}" for key, item in value.items())
            return "{" + pad + inner + pad + "}"
        if isinstance(value, list) and value:
            return "[" + pad + ", ".join(self._in_line(item) for item in value) + pad + "]"
        return Style().inline(value, Quotes()) if isinstance(value, dict | list) else self._scalar(value)
