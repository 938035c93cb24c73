"""The rules of every installed pack."""

from functools import cache
from typing import TypeAlias

from ventrules.engine import Pack, Registry, load_packs
from ventrules.survey import Survey

Rules: TypeAlias = Registry[Survey]


@cache
def _loaded() -> tuple[Rules, tuple[Pack[Survey], ...]]:
    registry, packs = load_packs(Survey)
    return registry, tuple(packs)


def installed_rules() -> Rules:
    """Return the rules of every installed pack, ours among them."""
    return _loaded()[0]


def packs() -> tuple[Pack[Survey], ...]:
    """Return every installed pack that could be used."""
    return _loaded()[1]
