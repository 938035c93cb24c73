"""TOML text to plain data, with limits, since the standard reader has none."""

import re
import tomllib
from typing import Final

from ventrules.engine.findings import Document
from ventrules.files.problems import DocumentError
from ventrules.words import clipped

LARGEST_CHARACTERS: Final = 256 * 1024
DEEPEST: Final = 64
_PLACED: Final = re.compile(r"(.*) \(at (?:line (\d+), column (\d+)|end of document)\)", re.DOTALL)
_PART: Final = r"""(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+"""
_DEEP_KEY: Final = re.compile(rf"(?<![\w-]){_PART}(?:\.[ \t]*+{_PART}){{{DEEPEST}}}")


def load_toml(text: str) -> dict[str, Document]:
    """Return the document of a TOML text; its dates and times are left as Python's own.

    Raises:
        DocumentError: Broken syntax, too long, nested too deep, a number of thousands of digits.
    """
    if len(text) > LARGEST_CHARACTERS:
        raise DocumentError(f"longer than {LARGEST_CHARACTERS // 1024} KiB")
    if _DEEP_KEY.search(text):  # the standard reader takes the square of the time, and of the memory
        raise DocumentError("not valid TOML: nested too deep")
    try:
        document: dict[str, Document] = tomllib.loads(text)
    except RecursionError as error:
        raise DocumentError("not valid TOML: nested too deep") from error
    except ValueError as error:  # broken syntax, or an integer that Python does not read
        said = _PLACED.fullmatch(str(error))
        message, line, column = said.groups() if said is not None else (str(error), "0", "0")
        lines = text.split("\n")
        at = (int(line), int(column)) if line is not None else (len(lines), len(lines[-1]) + 1)
        raise DocumentError(f"not valid TOML: {clipped(message, 200)}", *at) from error
    return document
