"""How names, times and places are written: said once, for the reader and for the published schemas.

The expressions hold in Python and in ECMA-262 alike.
"""

import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Final

_LONGEST_KEPT: Final = 64

DAYS: Final = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
GROUPS: Final[Mapping[str, tuple[str, ...]]] = {
    "every-day": DAYS,
    "weekdays": DAYS[:5],
    "weekend": DAYS[5:],
}

# Letters of any script in the Basic Multilingual Plane, by the ranges of a NameStartChar (XML 1.0, fifth edition,
# section 2.3, [4]), without the blanks and the marks of direction that lie within them.
_ASCII: Final = "0-9A-Z_a-z"
_BEYOND: Final = (
    "\u00aa\u00b5\u00ba\u00c0-\u00d6\u00d8-\u00f6\u00f8-\u02ff\u0370-\u037d\u037f-\u061b\u061d-\u167f"
    "\u1681-\u180d\u180f-\u1fff\u2c00-\u2fef\u3001-\ud7ff"
)
_COMBINING: Final = "\u0300-\u036f"


def _name(letters: str, combining: str = "") -> str:
    within = f"{letters}{combining}+\\-"
    return f"[{letters}](?:[{within} ]{{0,61}}[{within}])?"


NAME: Final = _name(_ASCII + _BEYOND, _COMBINING)
"""A name of one's own: 1 to 63 letters, digits, _, + or -, and blanks within."""

_ASCII_NAME: Final = _name(_ASCII)

TIME: Final = "(?:[01][0-9]|2[0-3]):[0-5][0-9]"
"""A time of day, 00:00 to 23:59."""

PLACE: Final = r"[^.]+\.[\s\S]+"
"""A port of a device, `device.port`."""

_BLANK: Final = "\t-\r\u001c-\u0020\u0085\u00a0\u1680\u2000-\u200a\u2028\u2029\u202f\u205f\u3000"
SAYS_SOMETHING: Final = rf"[\s\S]*[^{_BLANK}][\s\S]*"
"""A text that is not all blanks."""

SOME_PATH: Final = rf"[^\x00]*[^\x00{_BLANK}][^\x00]*"
"""A path: a text that is not all blanks, without the character that no path has."""

_PART: Final = r"(?:[^./\\][^/\\]*|\.(?:[^./\\][^/\\]*)?|\.\.[^/\\]+)"
FILE_PATTERN: Final = f"{_PART}(?:/{_PART}?)*"
"""A pattern of files below a folder: parts between slashes, none of them `..`."""

CATALOG_PATH: Final = r"[\s\S]*\.(?:yaml|yml|json)"
CODE_PATH: Final = r"[\s\S]*\.toml"

_LEAP: Final = "20(?:[02468][048]|[13579][26])"
DATE: Final = (
    "20[0-9]{2}-(?:(?:0[13578]|1[02])-(?:0[1-9]|[12][0-9]|3[01])|(?:0[469]|11)-(?:0[1-9]|[12][0-9]|30)"
    f"|02-(?:0[1-9]|1[0-9]|2[0-8]))|{_LEAP}-02-29"
)
"""A day of this century, as ISO 8601 writes it."""


def anchored(expression: str) -> str:
    """Return an expression that has to match from end to end, as JSON Schema writes it."""
    return f"^(?:{expression})$"


def matches(expression: str, text: str) -> bool:
    """Say whether a text matches an expression from end to end."""
    if len(text) > _LONGEST_KEPT:
        return re.fullmatch(expression, text) is not None
    return _matches(expression, text)


@lru_cache(maxsize=4096)
def _matches(expression: str, text: str) -> bool:
    """Say so of a short text: the jobs of a run have most of their names and times in common."""
    return re.fullmatch(expression, text) is not None


def is_name(text: str) -> bool:
    """Say whether a text matches `NAME`."""
    return matches(_ASCII_NAME if text.isascii() else NAME, text)  # the whole of it takes long to compile
