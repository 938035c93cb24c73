"""The data files that come with the package."""

from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable


def _names(folder: str, suffix: str) -> tuple[str, ...]:
    found = (entry.name for entry in files("ventrules").joinpath(folder).iterdir())
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


def packaged(folder: str, name: str) -> Traversable:
    """Return one packaged data file."""
    return files("ventrules").joinpath(folder, name)
