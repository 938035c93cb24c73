"""The published JSON Schemas: of every file that is read, and of every JSON document that is written."""

import json
from collections.abc import Mapping
from functools import cache
from typing import Final

import attrs

from ventrules.codes import Code
from ventrules.engine.findings import Document
from ventrules.files import bus_files, catalogs, code_files, reader
from ventrules.files.schema import Format, schema_of
from ventrules.files.schema_claims import Fragment
from ventrules.job import BusProfile, Catalog, Job
from ventrules.outputs import command_shapes, json_shapes, plan_shapes, target_shapes
from ventrules.outputs.schema_policy import policy_format
from ventrules.words import clipped, listed, nearest


class UnknownSchemaError(LookupError):
    """There is no schema of that name."""


def _read(kind: str, title: str, shape: type, key: str, version: int, *, toml: bool = False) -> Format:
    return Format(kind, title, shape, key, version, nulls=not toml)


def _written(kind: str, title: str, shape: type) -> Format:
    """Return the format of a document that we write; what can be used has all its keys."""
    more: dict[type, Fragment] = {}
    for each in (json_shapes.CheckedFile, shape):
        names = [field.name for field in attrs.fields(each)]
        if "usable" in names:
            rest: list[Document] = [name for name in names if name != "every_code"]
            more[each] = {"if": {"properties": {"usable": {"const": True}}}, "then": {"required": rest}}
    return Format(kind, title, shape, f"ventrules-{kind}", written_by_us=True, more=more)


FORMATS: Final = (
    _read("job", "A job of ventrules", Job, reader.VERSION_KEY, reader.VERSION),
    _read("catalog", "A catalog of ventrules", Catalog, catalogs.VERSION_KEY, catalogs.VERSION),
    _read("code", "A code file of ventrules", Code, code_files.VERSION_KEY, code_files.VERSION, toml=True),
    _read("profile", "A bus profile of ventrules", BusProfile, bus_files.VERSION_KEY, bus_files.VERSION, toml=True),
    policy_format(),
    _written("report", "The report of `ventrules check --format json`", json_shapes.Report),
    _written("rules", "The list of `ventrules rules --format json`", json_shapes.RuleList),
    _written("repair", "The outcome of `ventrules repair --format json`", command_shapes.Repair),
    _written("plan", "The outcome of `ventrules plan --format json`", plan_shapes.Plan),
    _written("target", "The outcome of `ventrules target --format json`", target_shapes.Target),
    _written("diagnosis", "The outcome of `ventrules diagnose --format json`", command_shapes.Diagnosis),
)

_BY_KIND: Final[Mapping[str, Format]] = {each.kind: each for each in FORMATS}


def schema(kind: str) -> dict[str, Document]:
    """Return the JSON Schema (2020-12) of a kind of document, as plain data.

    Args:
        kind: `job`, `catalog`, `code`, `profile` and `policy` are read; `report`, `rules`, `repair`, `plan`, `target`
            and `diagnosis` are written.

    Raises:
        UnknownSchemaError: There is none of that kind.
    """
    document: dict[str, Document] = json.loads(schema_text(kind))  # a copy, which the caller may change
    return document


@cache
def schema_text(kind: str) -> str:
    """Return the JSON Schema of a kind of document as text, in ASCII.

    Raises:
        UnknownSchemaError: There is none of that kind.
    """
    found = _BY_KIND.get(kind)
    if found is None:
        close = nearest(kind, _BY_KIND)
        hint = f"; nearest is {close!r}" if close else ""
        raise UnknownSchemaError(f"no schema {clipped(kind)!r}; expected {listed(_BY_KIND, 'or')}{hint}")
    return json.dumps(schema_of(found), indent=2) + "\n"
