"""Limits that a policy sets: merged over the packaged ones, each change with its basis."""

import json
from collections.abc import Iterator, Mapping
from typing import Final

from ventrules.engine.findings import Document
from ventrules.files import Problem
from ventrules.files.code_files import packaged_limits

_BASIS: Final = "basis"


def merged_limits(written: Document) -> Document:
    """Return the limits in full, where some are written and the others are as packaged.

    What has the wrong shape is returned as it is, so that the shape check says so at its place.
    """
    if not isinstance(written, dict):
        return written
    whole = packaged_limits()
    for name, table in written.items():
        packaged = whole.get(name)
        whole[name] = {**packaged, **table} if isinstance(packaged, dict) and isinstance(table, dict) else table
    return whole


def limits_text(written: Document) -> str:
    """Return the limits in full as text, the same for the same limits."""
    return json.dumps(merged_limits(written), sort_keys=True)


def limit_problems(written: Document) -> Iterator[Problem]:
    """Yield each limit that is changed without a basis of its own."""
    whole = packaged_limits()
    for name, table in written.items() if isinstance(written, dict) else ():
        packaged = whole.get(name)
        if not isinstance(packaged, dict) or not isinstance(table, dict):
            continue
        for key in table:
            basis = basis_of(key, packaged)
            if key in packaged and key != basis and basis not in table:
                message = f"changed without its basis; expected `{basis}` beside it, with title and known"
                yield Problem(message, ("limits", name, key), at_key=True)


def basis_of(key: str, table: Mapping[str, Document]) -> str:
    """Return the key of what a limit rests on: `stranding_basis` for `stranding`, where there is one, else `basis`.

    Args:
        key: A key of the table.
        table: One table of the limits.
    """
    if key.endswith(_BASIS):
        return key
    stems = (name.removesuffix(f"_{_BASIS}") for name in table if name.endswith(f"_{_BASIS}"))
    own = next((stem for stem in stems if key == stem or key.startswith(f"{stem}_")), None)
    return f"{own}_{_BASIS}" if own is not None else _BASIS
