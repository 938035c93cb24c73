"""Small pieces of Markdown."""

import re
from collections.abc import Iterable, Mapping, Sequence
from enum import Enum
from typing import Any, Final, TypeVar

import attrs

T = TypeVar("T")
_MARKUP: Final = re.compile(r"[\\<\[]")


def inert(part: T) -> T:
    """Return a text, or anything with texts in it, so that none begins a link, a picture, HTML or code, or a line."""
    done: T = _inert(part)
    return done


def _inert(part: Any) -> Any:
    if isinstance(part, Enum):
        return part
    if isinstance(part, str):
        return _MARKUP.sub(r"\\\g<0>", " ".join(part.split()).replace("`", "'"))
    if isinstance(part, tuple):
        return tuple(map(_inert, part))
    if isinstance(part, Mapping):
        return {_inert(key): _inert(each) for key, each in part.items()}
    if not attrs.has(type(part)):
        return part
    values = {field.name: getattr(part, field.name) for field in attrs.fields(type(part)) if field.init}
    changed = {name: new for name, old in values.items() if (new := _inert(old)) != old}
    return attrs.evolve(part, **changed) if changed else part


def cell(text: str) -> str:
    """Return text that can stand in a table's cell."""
    return " ".join(text.split()).replace("|", "\\|")


def code(text: object) -> str:
    """Return text set as code."""
    return f"`{text}`"


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table.

    Args:
        head: The headings of its columns.
        rows: Its rows, each with one cell for each column.
    """
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join(f"| {' | '.join(cell(text) for text in line)} |" for line in lines) + "\n"


def block(language: str, text: str) -> str:
    """Return a fenced block."""
    return f"```{language}\n{text.rstrip()}\n```\n"
