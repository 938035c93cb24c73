"""JSON text: quick, in ASCII, and nothing in it that a CI runner would obey."""

import json
import math
from json.encoder import encode_basestring_ascii
from typing import Final

from ventrules.engine.findings import Document
from ventrules.outputs.text import COMMAND

_NEXT: Final = ",\n"


def pretty(data: Document, margin: str = "") -> str:
    """Return what `json.dumps(data, indent=2)` gives, in a fraction of the time.

    Args:
        data: The document.
        margin: What stands before each line but the first.

    Raises:
        ValueError: A number is not finite.
    """
    match data:
        case str():
            return encode_basestring_ascii(data)
        case dict() if data:
            inner = f"{margin}  "
            items = [f"{inner}{encode_basestring_ascii(key)}: {pretty(part, inner)}" for key, part in data.items()]
            return f"{{\n{_NEXT.join(items)}\n{margin}}}"
        case list() if data:
            inner = f"{margin}  "
            return f"[\n{_NEXT.join([inner + pretty(part, inner) for part in data])}\n{margin}]"
        case _:
            return json.dumps(data, allow_nan=False)


def compact(data: Document) -> str:
    """Return a document on one line; a number that is not finite, as a rule of another make may give, becomes null."""
    try:
        found = json.dumps(data, ensure_ascii=True, allow_nan=False)
    except ValueError:
        found = json.dumps(finite(data), ensure_ascii=True, allow_nan=False)
    return harmless(found)


def finite(data: Document) -> Document:
    """Return a document with null for each number that is not finite: JSON has none."""
    if isinstance(data, dict):
        return {key: finite(part) for key, part in data.items()}
    if isinstance(data, list):
        return [finite(part) for part in data]
    return None if isinstance(data, float) and not math.isfinite(data) else data


def harmless(json_text: str) -> str:
    """Return JSON text in which nothing stands that a CI runner would obey; it says the same."""
    return COMMAND.sub(r"\\u0023#", json_text) if "##" in json_text else json_text
