"""Limits of common practice, as data: what rules compare with where no code and no catalog speaks."""

from attrs import frozen

from ventrules.codes.code import Balanced
from ventrules.job import Counts, Occupancy
from ventrules.sources import Basis
from ventrules.units import Factor, Period


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
class ExposurePractice:
    """Relative exposure worth a word beside a code that does not ask for it.

    Attributes:
        most: Mean above which it is worth a word.
        recovered: Value at or below which the dwelling counts as recovered after people have come.
        basis: Where the two come from.
    """

    most: Factor
    recovered: Factor
    basis: Basis


@frozen
class Limits:
    """All limits of common practice."""

    filter_interval: FilterPractice
    cycle: CyclePractice
    surplus: SurplusPractice
    exposure: ExposurePractice
    balance: Balanced
    balance_tests: tuple[Balanced, ...]
    own_target: OwnTargetPractice
