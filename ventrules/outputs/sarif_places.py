"""Where things are, in the words of SARIF: artifacts, regions, logical locations, and fixes of their text."""

import os
import posixpath
from pathlib import Path as FilePath
from typing import Final
from urllib.parse import quote

from ventrules.engine import Place, Position, Remedy, pointer
from ventrules.engine.findings import Document
from ventrules.files.regions import InText, Region
from ventrules.outputs.text import printable

ROOT: Final = "%SRCROOT%"
_NAMELESS: Final = "<text>"


def artifact(file: str) -> dict[str, Document]:
    """Return the artifactLocation of a file: relative to where the command runs, or absolute (section 3.4).

    Args:
        file: Its path, or what its text is called.
    """
    path = (file or _NAMELESS).replace(os.sep, "/")
    if ".." in path.split("/"):  # links on the way may lead elsewhere than the text of the path says
        path = posixpath.relpath(FilePath(file).resolve().as_posix(), FilePath.cwd().resolve().as_posix())
        if path.startswith("../"):
            path = FilePath(file).resolve().as_posix()
    path = posixpath.normpath(path)
    if path.startswith("/"):
        return {"uri": f"file:///{_quoted(path.lstrip('/'))}"}
    if FilePath(path).is_absolute():
        return {"uri": f"file:///{_quoted(path)}"}
    return {"uri": _quoted(path), "uriBaseId": ROOT}


def _quoted(path: str) -> str:
    return quote(path.encode("utf-8", "surrogateescape") if _encodable(path) else path.encode("utf-8", "replace"))


def _encodable(path: str) -> bool:
    try:
        path.encode("utf-8", "surrogateescape")
    except UnicodeEncodeError:
        return False
    return True


def region(position: Position | None, found: Region | None) -> dict[str, Document] | None:
    """Return a SARIF region, or None when nothing is known of it.

    Args:
        position: Where it starts.
        found: All of it, where that is known.
    """
    if found is not None:
        return _region(found)
    return {"startLine": position.line, "startColumn": position.column} if position is not None else None


def _region(found: Region) -> dict[str, Document]:
    return {
        "startLine": found.line,
        "startColumn": found.column,
        "endLine": found.end_line,
        "endColumn": found.end_column,
    }


def location(file: str, where: dict[str, Document] | None, place: Place | None) -> dict[str, Document]:
    """Return a SARIF location.

    Args:
        file: The file.
        where: The region in it.
        place: The place in the document.
    """
    physical: dict[str, Document] = {"artifactLocation": artifact(file)}
    if where is not None:
        physical["region"] = where
    found: dict[str, Document] = {"physicalLocation": physical}
    if place is not None and place.path:
        found["logicalLocations"] = [
            {"name": printable(place.name), "fullyQualifiedName": printable(pointer(place.path)), "kind": "value"}
        ]
    return found


def related(file: str, places: tuple[Place, ...], stands: InText | None) -> list[Document]:
    """Return the SARIF locations of other places that take part, numbered from 1."""
    regions = stands.related if stands is not None and len(stands.related) == len(places) else (None,) * len(places)
    return [
        {
            "id": number,
            "message": {"text": message_text(printable(place.name))},
            **location(file, region(None, where), place),
        }
        for number, (place, where) in enumerate(zip(places, regions, strict=True), 1)
    ]


def fixes(file: str, remedy: Remedy, stands: InText) -> list[Document]:
    """Return the SARIF fix of a remedy (section 3.55).

    Its replacements go from the end of the file to its start, so that it is the same whether they are made one after
    the other or at once.
    """
    said = [remedy.title]
    if remedy.changes_purchase:
        said.append("Something has to be bought for this.")
    if remedy.assumes:
        said.append(f"Takes for granted: {remedy.assumes}.")
    if remedy.check_on_site:
        said.append(f"On site: {remedy.check_on_site}.")
    replacements: list[Document] = [
        {
            "deletedRegion": _region(each.region),
            **({"insertedContent": {"text": each.text}} if each.text else {}),
        }
        for each in stands.fix
    ]
    return [
        {
            "description": {"text": message_text(printable(" ".join(part.rstrip(".") + "." for part in said)))},
            "artifactChanges": [{"artifactLocation": artifact(file), "replacements": replacements}],
        }
    ]


def message_text(text: str) -> str:
    """Return text that is no link to any reader: `[words](address)` would be one (section 3.11.6)."""
    return text.replace("\\", "\\\\").replace("[", "\\[").replace("]", "\\]") if "](" in text else text
