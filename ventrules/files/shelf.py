"""What jobs may name besides what is packaged: the catalogs and codes of a project, and its own limits."""

from collections.abc import Mapping
from typing import Final

from attrs import Factory, frozen

from ventrules.job import Origin


@frozen
class Shelf:
    """Texts that a project keeps for all its jobs; each has been read before and is known to be sound.

    Attributes:
        catalogs: The name by which jobs call a catalog, to its text.
        codes: The name by which jobs call a code, to its text.
        limits: The limits in place of the packaged ones; None for those.
    """

    catalogs: Mapping[str, Origin] = Factory(dict)
    codes: Mapping[str, Origin] = Factory(dict)
    limits: Origin | None = None


NO_SHELF: Final = Shelf()
"""Nothing but what is packaged."""
