"""Whether a season's programs meet a requirement, by the survey's own functions, and where they fail first."""

from collections.abc import Mapping, Sequence
from enum import StrEnum
from functools import cached_property
from typing import Final, TypeAlias

from attrs import frozen

from ventrules.codes import CodeKind, Placing, Requirement
from ventrules.job import Occupancy
from ventrules.survey import Delivery, Exposure, ModeSeasonView, Survey, Week, judged
from ventrules.survey.airflow import over_modes
from ventrules.survey.airing import Infiltrating, blocks_of, cycle_of
from ventrules.survey.exposure import Cycle, relative_exposure
from ventrules.survey.mixes import First, Mixes, mixes, weakest
from ventrules.survey.week import Means
from ventrules.units import at_least, at_most

_MINUTE_S: Final = 60.0

Together: TypeAlias = tuple[Delivery, ...]
"""What every ventilator of the dwelling delivers in one mode."""


class FailureKind(StrEnum):
    """How programs miss a requirement."""

    OFF = "an occupied mode is off"
    TOO_SHORT = "run time below the least that is allowed"
    STOPS = "airflow that is held at every moment stops"
    BELOW_FLOOR = "less than the floor"
    BELOW = "less than the required airflow"
    WINDOW = "less than the required airflow in a window"
    MEAN_EXPOSURE = "mean relative exposure above its limit"
    PEAK_EXPOSURE = "relative exposure above its highest value"


@frozen
class Failure:
    """Where programs miss a requirement first.

    Attributes:
        kind: How.
        mode: The mode; empty where it is the week.
        value: What was found: an airflow, m3/s, a share of run time, or a relative exposure.
        bound: What it is compared with.
        start_min: Where a window starts, minutes of the week.
        end_min: Where it ends.
    """

    kind: FailureKind
    mode: str
    value: float
    bound: float
    start_min: float = 0.0
    end_min: float = 0.0


def mode_failure(deliveries: Together, requirement: Requirement, occupancy: Occupancy, mode: str) -> Failure | None:
    """Return how one mode misses the requirement by itself, or None.

    Args:
        deliveries: What the ventilators deliver in it.
        requirement: The requirement.
        occupancy: Its occupancy.
        mode: Its name.
    """
    outcome = judged(deliveries, requirement, occupancy)
    if outcome.enough:
        return None
    if requirement.unbroken and not at_least(outcome.least_share, 1.0):
        return Failure(FailureKind.STOPS, mode, outcome.least_m3s, outcome.required_m3s)
    if not outcome.above_floor:
        return Failure(FailureKind.BELOW_FLOOR, mode, outcome.least_m3s, outcome.floor_m3s)
    if outcome.too_short:
        return Failure(FailureKind.TOO_SHORT, mode, outcome.least_share, requirement.least_share)
    return Failure(FailureKind.BELOW, mode, outcome.equivalent_m3s, outcome.required_m3s)


def course_of(deliveries: Together, requirement: Requirement, occupancy: Occupancy) -> Means:
    """Return a mode's equivalent airflow, then airflow and run-time share by ventilator."""
    each = [number for delivery in deliveries for number in (delivery.average_m3s, delivery.share)]
    return (judged(deliveries, requirement, occupancy).equivalent_m3s, *each)


class Verdict:
    """Judges the programs of one season under one requirement.

    Args:
        survey: The survey whose requirement it is.
        views: The season's modes.
    """

    def __init__(self, survey: Survey, views: Sequence[ModeSeasonView]) -> None:
        self._survey, self._asked = survey, survey.requirement
        self._views = {view.mode.name: view for view in views}
        self._infiltrating = Infiltrating(self._asked.infiltration_m3s, survey.system.balanced)

    @property
    def _week(self) -> Week | None:
        return self._survey.week

    @property
    def held_in_week(self) -> tuple[str, ...]:
        """The modes of the week in which the requirement is held; windows lie in them."""
        week = self._week
        modes = week.modes if week is not None else frozenset()
        return tuple(
            name for name, view in self._views.items() if name in modes and view.mode.occupancy in self._asked.judged
        )

    @cached_property
    def windows(self) -> Mixes:
        """What windows are made of: the part of each mode of `held_in_week`, and the first such window."""
        week, asked = self._week, self._asked
        columns = {name: column for column, name in enumerate(self.held_in_week)}
        if week is None or asked.window_s <= 0.0 or not columns:
            return {}
        return mixes(week, columns, asked.window_s / _MINUTE_S, fixed=asked.placing is Placing.FIXED)

    def weakest(self, courses: Sequence[Means]) -> tuple[float, First] | None:
        """Return the part of the required airflow that the weakest window has, and that window; None without any.

        Args:
            courses: What each mode of `held_in_week` gives.
        """
        return weakest(self.windows, courses, lambda means: over_modes(means, self._asked))

    def cycle(self, deliveries: Together) -> Cycle:
        """Return one cycle of the total airflow, infiltration with it."""
        return cycle_of(deliveries, self._infiltrating)

    def exposed(self, cycles: Mapping[str, Cycle]) -> tuple[bool, Exposure | None]:
        """Return whether relative exposure can be told, and what it is; None where there is no airflow at all.

        Args:
            cycles: Each mode's cycle.
        """
        volume_m3, reference = self._survey.job.dwelling.volume_m3, self._asked.total_m3s
        if self._week is None or volume_m3 is None or reference <= 0.0:
            return False, None
        blocks = blocks_of(self._week, cycles, self._survey.job.modes)
        return (True, relative_exposure(blocks, reference, volume_m3)) if blocks is not None else (False, None)

    def allows(self, exposure: Exposure | None) -> bool:
        """Say whether relative exposure keeps the limits."""
        return exposure is not None and self._asked.allows_exposure(exposure.mean, exposure.mean_present, exposure.peak)

    def failure(self, programs: Mapping[str, Together]) -> Failure | None:
        """Return where a season's programs miss the requirement first, or None.

        Args:
            programs: What the ventilators deliver, for every mode.
        """
        found = next((f for name in self._views if (f := self._in_mode(name, programs[name])) is not None), None)
        if found is not None or self._week is None:
            return found
        short = self._in_windows(programs)
        if short is None or self._asked.exposure is None or self._asked.kind is not CodeKind.EXPOSURE:
            return short
        return self._in_exposure(programs, short)

    def by_windows(self, programs: Mapping[str, Together]) -> bool:
        """Say whether every window has its airflow."""
        return self._week is None or self._in_windows(programs) is None

    def _in_mode(self, name: str, deliveries: Together) -> Failure | None:
        view, asked = self._views[name], self._asked
        occupancy = view.mode.occupancy
        if occupancy is Occupancy.OCCUPIED and not any(delivery.runs for delivery in deliveries):
            return Failure(FailureKind.OFF, name, 0.0, asked.at(occupancy))
        if occupancy not in asked.judged or asked.kind is CodeKind.CAPACITY or view.within_exposure:
            return None
        failure = mode_failure(deliveries, asked, occupancy, name)
        in_windows = failure is not None and view.only_in_windows and failure.kind is not FailureKind.BELOW_FLOOR
        return None if in_windows else failure

    def _in_windows(self, programs: Mapping[str, Together]) -> Failure | None:
        courses = [
            course_of(programs[name], self._asked, self._views[name].mode.occupancy) for name in self.held_in_week
        ]
        found = self.weakest(courses)
        if found is None or at_least(found[0], 1.0):
            return None
        score, (_place, start_min, end_min) = found
        required = self._asked.continuous_m3s
        return Failure(FailureKind.WINDOW, "", score * required, required, start_min, end_min)

    def _in_exposure(self, programs: Mapping[str, Together], short: Failure) -> Failure | None:
        """Return how relative exposure misses its limits; where it cannot be told, the window that is short."""
        limits = self._asked.exposure
        known, exposure = self.exposed({name: self.cycle(deliveries) for name, deliveries in programs.items()})
        if not known or limits is None:
            return short
        if self.allows(exposure):
            return None
        counted = None
        if exposure is not None:
            counted = self._asked.counted_exposure(exposure.mean, exposure.mean_present)
        if exposure is None or counted is None or not at_most(counted, limits.mean):
            return Failure(FailureKind.MEAN_EXPOSURE, "", float("inf") if counted is None else counted, limits.mean)
        return Failure(FailureKind.PEAK_EXPOSURE, "", exposure.peak, limits.peak, exposure.peak_s / _MINUTE_S)
