"""How much a file may hold, so that no text of any size keeps a check busy for long or takes all memory."""

import re
from typing import Final

from ventrules.engine.findings import Document

MOST_VALUES: Final = 200_000
"""Values that any file may hold: keys with their values, and items of lists."""
MOST_IN_JOB: Final = 20_000
"""Values that a job may hold; what a job says is looked at many times."""
MOST_MODES: Final = 1_000
"""Modes of a job; a finding may name them all."""
MOST_IN_CATALOG: Final = 50_000
"""Values that a catalog may hold."""
MOST_PROBLEMS: Final = 1_000
"""Problems of one kind that are listed of one file."""
LONGEST_TEXT: Final = 20_000
"""Characters that one text in a job or a catalog may have; it may be repeated in every finding."""
_SHORTEST: Final = 2  # characters of a value, with what parts it from the next
_QUOTED: Final = re.compile(r'"[^"\\]*+(?:\\.[^"\\]*+)*+"', re.DOTALL)  # possessive: nothing is remembered on the way


def json_holds_more(text: str, most: int) -> bool:
    """Say whether a JSON text has more values than so many, before any memory is taken for them."""
    if len(text) <= most * _SHORTEST:
        return False
    bare = _QUOTED.sub("", text)
    return bare.count(",") + bare.count("[") + bare.count("{") > most


def too_much(document: Document, most: int, text: str | None = None) -> str:
    """Return what there is too much of in a document, or nothing.

    Args:
        document: The document; one that holds itself is too much.
        most: Values that it may have.
        text: The text that it was read from, where there is one: a short one is not looked through.
    """
    if text is not None and len(text) <= LONGEST_TEXT and not ("&" in text and "*" in text):  # no aliases of YAML
        return ""
    waiting: list[Document] = [document]
    count = 0
    while waiting:
        value = waiting.pop()
        if isinstance(value, dict):
            waiting.extend(value)
            waiting.extend(value.values())
            count += len(value)
        elif isinstance(value, list):
            waiting.extend(value)
            count += len(value)
        elif isinstance(value, str) and len(value) > LONGEST_TEXT:
            return f"a text of more than {LONGEST_TEXT:,} characters"
        if count > most:
            return f"more than {most:,} values"
    return ""
