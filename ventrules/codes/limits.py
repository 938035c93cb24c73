"""Limits of common practice, as data: what rules compare with where no code and no catalog speaks."""

from attrs import frozen

from ventrules.codes.code import Balanced, Counts
from ventrules.job import Occupancy
from ventrules.sources import Basis
from ventrules.units import Period


@frozen
class FilterPractice:
    """Usual range of a filter reminder."""

    least: Period
    usual: Period
    most: Period
    basis: Basis


@frozen
class CyclePractice:
    """Cycle of programs where nothing names one."""

    usual: Period
    basis: Basis


@frozen
class SurplusPractice:
    """Share of the target above which a surplus is worth a word."""

    margin: float
    basis: Basis


@frozen
class OwnTargetPractice:
    """How a project's own target is judged."""

    judged: tuple[Occupancy, ...]
    counts: Counts
    basis: Basis


@frozen
class Limits:
    """All limits of common practice."""

    filter_interval: FilterPractice
    cycle: CyclePractice
    surplus: SurplusPractice
    balance: Balanced
    own_target: OwnTargetPractice
