"""Code files as trees: nodes put in place of others or left out, and the text written again."""

import json
import re
import tomllib
from collections.abc import Iterable, Iterator
from importlib.resources import files
from typing import TypeAlias

import jsonpatch

from ventrules.engine import pointer
from ventrules.engine.findings import Document
from ventrules.files.resources import code_names

Steps: TypeAlias = tuple[str | int, ...]


def text_of(code: str) -> str:
    """Return the text of a packaged code."""
    return files("ventrules").joinpath("codes", f"{code}.toml").read_text(encoding="utf-8")


def tree_of(code: str) -> dict[str, Document]:
    """Return a packaged code as plain data."""
    return tomllib.loads(text_of(code))


def _inline(value: Document) -> str:
    """Return a value as TOML: inline tables, lists, basic strings."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{json.dumps(key)} = {_inline(inner)}" for key, inner in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_inline(inner) for inner in value) + "]"
    return json.dumps(value)


def written(tree: dict[str, Document]) -> str:
    """Return plain data as TOML, each key of the top on a line of its own."""
    return "\n".join(f"{json.dumps(key)} = {_inline(value)}" for key, value in tree.items())


def line_of(text: str, key: str) -> int:
    """Return the line, from 1, on which a text written here has a key of the top."""
    (line,) = (number for number, line in enumerate(text.splitlines(), 1) if line.startswith(f"{json.dumps(key)} = "))
    return line


def places(value: Document, path: Steps = ()) -> Iterator[tuple[Steps, Document]]:
    """Yield the path and the value of every node below the top."""
    inner: Iterable[tuple[str | int, Document]] = ()
    if isinstance(value, dict):
        inner = value.items()
    elif isinstance(value, list):
        inner = enumerate(value)
    for step, below in inner:
        yield (*path, step), below
        yield from places(below, (*path, step))


def shape_of(path: Steps) -> str:
    """Return a path without its numbers and without the names that a file chooses."""
    return re.sub(r"^credits/[^/]+", "credits/*", "/".join("#" if isinstance(step, int) else step for step in path))


def every_shape() -> dict[str, tuple[str, Steps, Document]]:
    """Return, for each shape of path in any packaged code: the first code that has it, the path, the value."""
    found: dict[str, tuple[str, Steps, Document]] = {}
    for code in code_names():
        for path, value in places(tree_of(code)):
            if path != ("ventrules-code",):
                found.setdefault(shape_of(path), (code, path, value))
    return found


def changed(code: str, path: Steps, value: Document) -> str:
    """Return a packaged code's text with one node added or put in place of another."""
    tree = tree_of(code)
    op = "replace" if path in {known for known, _value in places(tree)} else "add"
    done: dict[str, Document] = jsonpatch.apply_patch(tree, [{"op": op, "path": pointer(path), "value": value}])
    return written(done)


def without(code: str, path: Steps) -> str:
    """Return a packaged code's text with one node left out."""
    done: dict[str, Document] = jsonpatch.apply_patch(tree_of(code), [{"op": "remove", "path": pointer(path)}])
    return written(done)
