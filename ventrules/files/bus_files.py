"""Bus profiles and the roles of conductors: packaged data, read, checked, kept."""

import tomllib
from collections.abc import Iterator, Mapping
from functools import cache

import attrs
from attrs import frozen

from ventrules.engine import Path
from ventrules.files.problems import DocumentError, Problem, ProblemKind
from ventrules.files.resources import bus_profile_names, packaged
from ventrules.files.schema_bonds import LINE_ENDS, all_broken_bonds
from ventrules.files.shapes import structure
from ventrules.files.toml_marks import toml_position
from ventrules.files.toml_text import load_toml
from ventrules.job import BusProfile, ConductorRole, Resistors
from ventrules.words import nearest

VERSION_KEY = "ventrules-bus"
VERSION = 1


class DataFileError(ValueError):
    """A packaged data file that is not sound.

    Attributes:
        problems: What is wrong with it, where it could be read at all.
    """

    def __init__(self, message: str, problems: tuple[Problem, ...] = ()) -> None:
        super().__init__(message)
        self.problems = problems


@frozen
class _Roles:
    roles: Mapping[str, ConductorRole]


@cache
def conductor_roles() -> Mapping[str, ConductorRole]:
    """Return the usual conductor roles by name.

    Raises:
        DataFileError: The packaged file is not sound.
    """
    outcome = structure(tomllib.loads(packaged("", "roles.toml").read_text(encoding="utf-8")), _Roles)
    if isinstance(outcome, list):
        raise DataFileError("\n".join(f"roles.toml: {problem}" for problem in outcome))
    return outcome.roles


@cache
def load_bus_profile(name: str) -> BusProfile:
    """Return a packaged bus profile by its name.

    Raises:
        DataFileError: No such profile, or its file is not sound.
    """
    if name not in bus_profile_names():
        close = nearest(name, bus_profile_names())
        raise DataFileError(f"unknown bus profile {name!r}" + (f"; nearest is {close!r}" if close else ""))
    return parse_bus_profile(packaged("buses", f"{name}.toml").read_text(encoding="utf-8"), f"{name}.toml")


def parse_bus_profile(text: str, name: str) -> BusProfile:
    """Return the bus profile in a TOML text.

    Raises:
        DataFileError: It is not sound; every problem is listed, with its line where that is known.
    """
    try:
        document = load_toml(text)
    except DocumentError as error:
        at = f":{error.line}:{error.column}" if error.line else ""
        raise DataFileError(f"{name}{at}: {error.message}") from error
    version = document.pop(VERSION_KEY, None)
    if version != VERSION or isinstance(version, bool):
        said = f"expected `{VERSION_KEY} = {VERSION}` at the top"
        raise DataFileError(f"{name}: {said}", (Problem(said, file=name),))
    outcome = structure(document, BusProfile)
    problems = (
        outcome if isinstance(outcome, list) else [*all_broken_bonds(outcome), *bus_profile_problems(outcome, ())]
    )
    if problems or isinstance(outcome, list):
        placed = tuple(
            attrs.evolve(each, position=toml_position(text, name, each.path), file=name) for each in problems
        )
        raise DataFileError("\n".join(str(problem) for problem in placed), placed)
    return outcome


def bus_profile_problems(profile: BusProfile, at: Path) -> list[Problem]:
    """Return what contradicts itself in a bus profile.

    Args:
        profile: The profile.
        at: Where it stands in its document.
    """
    return [
        Problem(message, (*at, *path), kind=ProblemKind.CONTRADICTION) for path, message in _contradictions(profile)
    ]


def _contradictions(profile: BusProfile) -> Iterator[tuple[Path, str]]:
    for key, part in (("termination", profile.termination), ("bias", profile.bias)):
        if part is not None:
            yield from (((key, *path), message) for path, message in _of_resistors(part))
    stubs = profile.stubs
    if stubs is not None and stubs.shared is not None and stubs.shared.m < stubs.longest.m:
        yield ("stubs", "shared"), "expected `shared` no shorter than `longest`"
    trunk = profile.trunk
    if trunk is not None and trunk.together is not None and trunk.together.m < trunk.longest.m:
        yield ("trunk", "together"), "expected `together` no shorter than `longest`"
    if profile.addresses is not None and profile.addresses.lowest > profile.addresses.highest:
        yield ("addresses", "highest"), "expected `lowest` at most `highest`"
    if profile.shield is not None and profile.shield.least > profile.shield.most:
        yield ("shield", "most"), "expected `least` at most `most`"
    yield from _of_loads(profile)


def _of_resistors(part: Resistors) -> Iterator[tuple[Path, str]]:
    if part.least > part.most:
        yield ("most",), "expected `least` at most `most`"
    if part.lowest.ohm > part.highest.ohm:
        yield ("highest",), "expected `lowest` at most `highest`"
    elif part.usual is not None and not part.lowest.ohm <= part.usual.ohm <= part.highest.ohm:
        yield ("usual",), "expected `usual` between `lowest` and `highest`"


def _of_loads(profile: BusProfile) -> Iterator[tuple[Path, str]]:
    loads = profile.loads
    if loads is None or loads.devices is None or loads.devices < LINE_ENDS or profile.bias is None:
        return
    if profile.bias.takes_devices > loads.devices - LINE_ENDS:
        yield ("bias", "takes_devices"), f"of {loads.devices} devices too few are left"
