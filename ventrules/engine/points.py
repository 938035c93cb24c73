"""The installed entry points of rule packs.

`importlib.metadata` brings mail, CSV and ZIP modules along and makes an object for every installed distribution: as
long a start as everything else that reading a job needs. Where a look at the folders of `sys.path` shows that no
distribution but ours brings rules, nothing is left for it to tell.
"""

import os
import sys
from collections.abc import Iterable
from importlib import import_module
from importlib.machinery import PathFinder
from typing import Final, Protocol

from attrs import frozen

GROUP: Final = "ventrules.rules"
_SECTION: Final = f"[{GROUP}]"
_INFOS: Final = (".dist-info", ".egg-info")


class Point(Protocol):
    """An entry point, such as one of `importlib.metadata`."""

    @property
    def name(self) -> str:
        """Its name."""

    @property
    def value(self) -> str:
        """Module and attribute, as `module:attribute`."""

    def load(self) -> object:
        """Import the module and return the attribute."""


@frozen
class _Known:
    """An entry point that was read here."""

    name: str
    value: str

    def load(self) -> object:
        module, _colon, attribute = self.value.partition(":")
        value: object = getattr(import_module(module), attribute)
        return value


OWN: Final[Point] = _Known("ventrules", "ventrules.rules:PACK")
"""The door through which our own rules enter."""


def installed_points() -> Iterable[Point]:
    """Return the installed entry points of the group `ventrules.rules`."""
    if _ours_alone():
        return [OWN]
    from importlib.metadata import entry_points  # noqa: PLC0415

    return entry_points(group=GROUP)


def _ours_alone() -> bool:
    """Say whether our distribution is the one that brings rules, and brings none but those that we know of.

    False, too, where that cannot be told by a look at folders: archives, eggs, and finders of another kind.
    """
    if [finder for finder in sys.meta_path if hasattr(finder, "find_distributions")] != [PathFinder]:
        return False
    infos: list[str] = []
    for folder in sys.path:
        if folder.lower().endswith(".egg"):
            return False
        try:
            names = os.listdir(folder or os.curdir)  # noqa: PTH208 - many names, few of which become paths
        except FileNotFoundError:
            continue
        except OSError:
            return False
        infos += [os.path.join(folder, name) for name in names if name.lower().endswith(_INFOS)]  # noqa: PTH118
    texts = [text for info in infos if GROUP in (text := _entry_points(info))]
    return len(texts) == 1 == sum(map(_is_ours, infos)) and _declared(texts[0]) == [f"{OWN.name} = {OWN.value}"]


def _entry_points(info: str) -> str:
    try:
        with open(os.path.join(info, "entry_points.txt"), encoding="utf-8", errors="replace") as file:  # noqa: PTH118, PTH123
            return file.read()
    except (FileNotFoundError, IsADirectoryError, NotADirectoryError, PermissionError):
        return ""


def _is_ours(info: str) -> bool:
    """Say whether this is information about our distribution; of two, the first alone would count."""
    return os.path.basename(info).lower().rpartition(".")[0].partition("-")[0] == "ventrules"  # noqa: PTH119


def _declared(text: str) -> list[str]:
    """Return the lines of our group."""
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    if lines.count(_SECTION) != 1:
        return []
    after = lines[lines.index(_SECTION) + 1 :]
    return after[: next((number for number, line in enumerate(after) if line.startswith("[")), len(after))]
