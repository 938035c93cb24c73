"""Where the policy of a project is looked for."""

import os
from pathlib import Path as FilePath
from typing import Final

from ventrules.files import read_text
from ventrules.policy.patterns import absolute

POLICY_FILE: Final = ".ventrules.toml"
PYPROJECT: Final = "pyproject.toml"


def find_policy(folder: str | FilePath = ".") -> FilePath | None:
    """Return the policy file that is in force in a folder, or None.

    It is looked for in the folder and in those above it, up to the first that has one, and no further than the root
    of a repository (a folder with `.git`). In one folder `.ventrules.toml` goes before a pyproject.toml with the table
    `tool.ventrules`.

    Args:
        folder: Where to begin; by default the working folder.

    Raises:
        JobFileError: A pyproject.toml on the way mentions ventrules and cannot be read.
    """
    start = absolute(folder)
    for place in (start, *start.parents):
        own = place / POLICY_FILE
        if os.path.lexists(own):  # a folder or a loop of links, too: its reader says what is wrong with it
            return own
        if has_table(place / PYPROJECT):
            return place / PYPROJECT
        if (place / ".git").exists():
            return None
    return None


def has_table(pyproject: FilePath) -> bool:
    """Say whether a pyproject.toml has the table `tool.ventrules`.

    Raises:
        JobFileError: It mentions it and cannot be read.
    """
    if not pyproject.is_file():
        return False
    text = read_text(pyproject)
    if "ventrules" not in text:
        return False
    from ventrules.policy.reading import loaded, table_in  # noqa: PLC0415 - most runs have no policy to read

    return table_in(loaded(text, str(pyproject))) is not None
