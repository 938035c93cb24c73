"""Jobs back to plain data and text."""

import json
import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

import yaml

from ventrules.engine import Edit
from ventrules.engine.findings import Document
from ventrules.files.reader import VERSION, VERSION_KEY
from ventrules.files.shapes import unstructure
from ventrules.job import Job

_NOT_TEXT: Final = re.compile(
    r"[-+]?[0-9]+|0o[0-7]+|0x[0-9a-fA-F]+|[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?"
    r"|[-+]?\.(inf|Inf|INF)|\.(nan|NaN|NAN)|~|null|Null|NULL|true|True|TRUE|false|False|FALSE|"
)


def job_document(job: Job) -> dict[str, Document]:
    """Return a job as plain data; what is left at its default is left out."""
    return {VERSION_KEY: VERSION, **unstructure(job)}


def job_json(job: Job) -> str:
    """Return a job as JSON text."""
    return json.dumps(job_document(job), indent=2, ensure_ascii=False) + "\n"


def job_yaml(job: Job) -> str:
    """Return a job as YAML 1.2 text."""
    return to_yaml(job_document(job))


def to_yaml(document: Document) -> str:
    """Return plain data as YAML 1.2 text; whatever could be read as another type is quoted."""
    text: str = yaml.dump(
        document, Dumper=_CoreDumper, sort_keys=False, allow_unicode=True, default_flow_style=False, width=100
    )
    return text


def apply_edits(document: Mapping[str, Document], edits: Sequence[Edit]) -> dict[str, Document]:
    """Return the document with the edits applied (RFC 6902); the given one is not changed.

    Raises:
        ValueError: An edit does not fit the document.
    """
    import jsonpatch  # noqa: PLC0415 - wanted where a remedy is tried, and most jobs have none

    try:
        changed: dict[str, Document] = jsonpatch.apply_patch(document, [edit.as_patch() for edit in edits])
    except (jsonpatch.JsonPatchException, jsonpatch.JsonPointerException) as error:
        raise ValueError(f"an edit does not fit the document: {error}") from error
    return changed


class _CoreDumper(yaml.SafeDumper):
    """Dumps text so that the YAML 1.2 core schema reads it back as text."""

    def ignore_aliases(self, data: object) -> bool:  # noqa: ARG002 - the base class gives the name
        """Write every value out: people read these files."""
        return True


def _text(dumper: yaml.SafeDumper, value: str) -> Any:
    # NEL is a line break to PyYAML and is lost from the other styles
    style = '"' if "\x85" in value or _NOT_TEXT.fullmatch(value) else None
    return dumper.represent_scalar("tag:yaml.org,2002:str", value, style=style)


_CoreDumper.add_representer(str, _text)
