"""The data files that come with the package."""

from functools import cache
from pathlib import Path as FilePath
from typing import Final, Protocol

_HOME: Final = FilePath(__file__).parents[1]


class Resource(Protocol):
    """A data file: a path, or what stands for one in an archive."""

    def read_text(self, encoding: str | None = None) -> str:
        """Return its text."""

    def read_bytes(self) -> bytes:
        """Return its bytes."""


def _names(folder: str, suffix: str) -> tuple[str, ...]:
    home = _HOME / folder
    if home.is_dir():
        found = [entry.name for entry in home.iterdir()]
    else:
        from importlib.resources import files  # noqa: PLC0415 - slow to import, and wanted in archives only

        found = [entry.name for entry in files("ventrules").joinpath(folder).iterdir()]
    return tuple(sorted(name.removesuffix(suffix) for name in found if name.endswith(suffix)))


@cache
def catalog_names() -> tuple[str, ...]:
    """Return the names of the packaged catalogs."""
    return _names("catalogs", ".yaml")


@cache
def code_names() -> tuple[str, ...]:
    """Return the names of the packaged ventilation codes."""
    return _names("codes", ".toml")


@cache
def bus_profile_names() -> tuple[str, ...]:
    """Return the names of the packaged bus profiles."""
    return _names("buses", ".toml")


def packaged(folder: str, name: str) -> Resource:
    """Return one packaged data file."""
    if _HOME.is_dir():
        return _HOME / folder / name
    from importlib.resources import files  # noqa: PLC0415

    return files("ventrules").joinpath(folder, name)
