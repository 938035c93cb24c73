"""The keys that the attributes of a class have in a file."""

from collections.abc import Mapping
from typing import Final

import attrs

from ventrules.job import Cable, Catalog, Conductor, Job

RENAMED: Final[Mapping[type, Mapping[str, str]]] = {
    Cable: {"start": "from", "end": "to"},
    Conductor: {"start": "from", "end": "to"},
    Job: {"title": "job", "schema": "$schema"},
    Catalog: {"name": "catalog", "schema": "$schema"},
}
"""Attributes whose key is another word."""
NOT_WRITTEN: Final[Mapping[type, frozenset[str]]] = {Job: frozenset({"catalog", "code_file", "limits_file", "origin"})}
"""Attributes that do not stand in a file."""


def keys_by_name(shape: type) -> dict[str, str]:
    """Return, for each attribute that a class has in a file, in order, its key there."""
    renamed, left_out = RENAMED.get(shape, {}), NOT_WRITTEN.get(shape, frozenset())
    names = (attribute.name for attribute in attrs.fields(shape))
    return {name: renamed.get(name, name) for name in names if name not in left_out}


def written_keys(shape: type) -> list[str]:
    """Return the keys that a class has in a file, in order."""
    return list(keys_by_name(shape).values())
