"""The calendar's week in one season: its windows, and its airflow moment by moment."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import TYPE_CHECKING

from attrs import field, frozen

from ventrules.codes import Placing
from ventrules.engine import Place
from ventrules.job import Season
from ventrules.survey.airflow import over_modes
from ventrules.survey.airing import Airing, Infiltrating, blocks_of, cycle_of
from ventrules.survey.exposure import Block, Exposure, Flow, homecomings, relative_exposure, unventilated
from ventrules.survey.mixes import worst_window
from ventrules.survey.views import ModeSeasonView
from ventrules.survey.week import Means, Week, Window

if TYPE_CHECKING:
    from ventrules.survey.survey import Survey


@frozen(eq=False, slots=False)
class WeekView:
    """The calendar's week in one season."""

    survey: Survey = field(repr=False)
    season: Season
    week: Week = field(repr=False)

    @property
    def place(self) -> Place:
        """The calendar; by meaning, in this season."""
        return Place(("calendar",), f"calendar / {self.season.value}")

    def modes(self) -> dict[str, ModeSeasonView]:
        """Return the modes of the week in which the requirement is held."""
        wanted = self.survey.requirement.judged
        return {
            view.mode.name: view
            for view in self.survey.mode_seasons
            if view.season is self.season and view.mode.occupancy in wanted and view.mode.name in self.week.modes
        }

    @cached_property
    def courses(self) -> Mapping[str, Means] | None:
        """Each mode's equivalent airflow, then airflow and run-time share by ventilator; None when unknown."""
        found = {}
        for name, view in self.modes().items():
            if view.judged is None or view.deliveries is None:
                return None
            each = [number for d in view.deliveries for number in (d.average_m3s, d.share)]
            found[name] = (view.judged.equivalent_m3s, *each)
        return found

    @property
    def sufficient(self) -> Means:
        """What a mode gives that meets the requirement with one ventilator that never stops."""
        requirement = self.survey.requirement
        enough = max(requirement.continuous_m3s, requirement.intermittent_m3s)
        return (enough, enough, 1.0, *(0.0 for _other in self.survey.driven[1:] for _number in ("airflow", "share")))

    @property
    def steady(self) -> bool:
        """True when every one of those modes suffices by itself and no window can differ from them all."""
        views = list(self.modes().values())
        alike = self.survey.requirement.run_time is None or len(set((self.courses or {}).values())) <= 1
        return alike and all(view.judged is not None and view.judged.enough for view in views)

    def worst(self, courses: Mapping[str, Means]) -> Window | None:
        """Return the window with the least part of the required airflow; None where airflow is held at every moment.

        Args:
            courses: What each mode gives, for the modes that a window may lie in.
        """
        requirement = self.survey.requirement
        if requirement.window_s <= 0.0:
            return None
        length = requirement.window_s / 60.0
        return worst_window(
            self.week,
            courses.__contains__,
            courses,
            length,
            lambda means: over_modes(means, requirement),
            fixed=requirement.placing is Placing.FIXED,
        )

    @cached_property
    def blocks(self) -> tuple[Block, ...] | None:
        """The week's total airflow as blocks of one mode each; None where a program or the calendar leaves it open."""
        return self._blocks(Infiltrating(self.survey.requirement.infiltration_m3s, self.survey.system.balanced))

    def _blocks(self, infiltrating: Infiltrating) -> tuple[Block, ...] | None:
        survey = self.survey
        views = [view for view in survey.mode_seasons if view.season is self.season]
        cycles = {view.mode.name: cycle_of(view.deliveries, infiltrating) for view in views if view.deliveries}
        return blocks_of(self.week, cycles, survey.job.modes)

    def _exposed(self, blocks: Sequence[Block] | None) -> Exposure | None:
        volume_m3, reference = self.survey.job.dwelling.volume_m3, self.survey.requirement.total_m3s
        if blocks is None or volume_m3 is None or reference <= 0.0:
            return None
        return relative_exposure(blocks, reference, volume_m3)

    @cached_property
    def exposure_off_when_empty(self) -> float | None:
        """Mean relative exposure while people are there if nothing ran while nobody is; None where it is not known."""
        survey, blocks = self.survey, self.blocks
        volume_m3, reference = survey.job.dwelling.volume_m3, survey.requirement.total_m3s
        if blocks is None or volume_m3 is None or reference <= 0.0:
            return None
        still = (Flow(survey.requirement.infiltration_m3s, blocks[0].length_s),)
        changed = [block if block.present else block._replace(cycle=still) for block in blocks]
        found = relative_exposure(changed, reference, volume_m3)
        return math.inf if found is None else found.mean_present

    @cached_property
    def exposure(self) -> Exposure | None:
        """Relative exposure of the settled week; None where it is not known, or there is no airflow at all."""
        survey, blocks = self.survey, self.blocks
        first = survey.weeks[0]
        if first is not self and first.blocks == blocks:
            return first.exposure
        return self._exposed(blocks)

    @cached_property
    def airing(self) -> Airing | None:
        """What the week's airflow comes to; None where it or the dwelling's volume is not known."""
        survey, blocks, exposure = self.survey, self.blocks, self.exposure
        volume_m3, reference = survey.job.dwelling.volume_m3, survey.requirement.total_m3s
        if blocks is None or volume_m3 is None or reference <= 0.0:
            return None
        recovered = survey.limits.exposure.recovered
        comings = homecomings(blocks, exposure, reference, volume_m3, recovered) if exposure is not None else ()
        fans = self._blocks(Infiltrating(0.0, balanced=True)) or blocks  # infiltration is no ventilation
        return Airing(exposure, unventilated(fans), comings)
