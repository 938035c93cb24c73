"""The calendar's week in one season: its windows, and its airflow moment by moment."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from attrs import field, frozen

from ventrules.codes import Placing
from ventrules.engine import Place
from ventrules.engine.once import once
from ventrules.job import Season
from ventrules.survey.airflow import Delivery, over_modes
from ventrules.survey.airing import Airing, Infiltrating, blocks_of, cycle_of
from ventrules.survey.exposure import Block, Exposure, Flow, settled_exposure
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
        return self._modes

    @once
    def _modes(self) -> dict[str, ModeSeasonView]:
        wanted = self.survey.requirement.judged
        return {
            view.mode.name: view
            for view in self.survey.mode_seasons
            if view.season is self.season and view.mode.occupancy in wanted and view.mode.name in self.week.modes
        }

    @once
    def courses(self) -> Mapping[str, Means] | None:
        """Each mode's equivalent airflow, then airflow and run-time share by ventilator; None when unknown."""
        found = {}
        for name, view in self.modes().items():
            if view.judged is None or view.deliveries is None:
                return None
            each = [number for d in view.deliveries for number in (d.average_m3s, d.share)]
            found[name] = (view.judged.equivalent_m3s, *each)
        return found

    @once
    def met(self) -> bool:
        """True when every one of those modes, of which there are some, meets the requirement by itself."""
        modes = self._modes.values()
        return bool(modes) and all(mode.judged is not None and mode.judged.enough for mode in modes)

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

    def surely_held(self, courses: Mapping[str, Means]) -> bool:
        """Say whether no window can be below what is required, since no mode is: a window's means are means of theirs.

        Args:
            courses: What each mode gives, for the modes that a window may lie in.
        """
        asked = self.survey.requirement
        enough = max(asked.continuous_m3s, asked.intermittent_m3s)
        return all(
            course[0] >= enough and sum([min(share, 1.0) for share in course[2::2]]) >= asked.least_share
            for course in courses.values()
        )

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

    @once
    def _twin(self) -> WeekView | None:
        """The first season's view where this season's programs are the same, so that all its air is."""
        first = self.survey.weeks[0]
        if first is self or self._deliveries.keys() != first._deliveries.keys():
            return None
        same = all(mine is first._deliveries[mode] for mode, mine in self._deliveries.items())
        return first if same else None

    @once
    def _deliveries(self) -> Mapping[str, tuple[Delivery, ...] | None]:
        """What the ventilators deliver in each mode; equal ones are the same object."""
        return {v.mode.name: v.deliveries for v in self.survey.mode_seasons if v.season is self.season}

    @once
    def blocks(self) -> tuple[Block, ...] | None:
        """The week's total airflow as blocks of one mode each; None where a program or the calendar leaves it open."""
        if self._twin is not None:
            return self._twin.blocks
        return self._blocks(Infiltrating(self.survey.requirement.infiltration_m3s, self.survey.system.balanced))

    def _blocks(self, infiltrating: Infiltrating) -> tuple[Block, ...] | None:
        of_each: dict[int, tuple[Flow, ...]] = {}
        cycles: dict[str, tuple[Flow, ...]] = {}
        for mode, deliveries in self._deliveries.items():
            if deliveries:
                known = of_each.get(id(deliveries))
                if known is None:
                    known = of_each[id(deliveries)] = cycle_of(deliveries, infiltrating)
                cycles[mode] = known
        return blocks_of(self.week, cycles, self.survey.job.modes)

    def _exposed(self, blocks: Sequence[Block] | None) -> Exposure | None:
        dilution = self.survey.dilution if blocks is not None else None
        return settled_exposure(blocks, dilution) if blocks is not None and dilution is not None else None

    @once
    def exposure_off_when_empty(self) -> float | None:
        """Mean relative exposure while people are there if nothing ran while nobody is; None where it is not known."""
        if self._twin is not None:
            return self._twin.exposure_off_when_empty
        survey, blocks = self.survey, self.blocks
        dilution = survey.dilution if blocks is not None else None
        if blocks is None or dilution is None:
            return None
        still = (Flow(survey.requirement.infiltration_m3s, blocks[0].length_s),)
        changed = [block if block.present else block._replace(cycle=still) for block in blocks]
        found = settled_exposure(changed, dilution)
        return math.inf if found is None else found.mean_present

    @once
    def exposure(self) -> Exposure | None:
        """Relative exposure of the settled week; None where it is not known, or there is no airflow at all."""
        if self._twin is not None:
            return self._twin.exposure
        survey, blocks = self.survey, self.blocks
        first = survey.weeks[0]
        if first is not self and first.blocks == blocks:
            return first.exposure
        return self._exposed(blocks)

    @once
    def airing(self) -> Airing | None:
        """What the week's airflow comes to; None where it or the dwelling's volume is not known."""
        survey, blocks = self.survey, self.blocks
        volume_m3, reference = survey.job.dwelling.volume_m3, survey.requirement.total_m3s
        if blocks is None or volume_m3 is None or reference <= 0.0:
            return None
        fans = blocks
        if survey.requirement.infiltration_m3s > 0.0:
            fans = self._blocks(Infiltrating(0.0, balanced=True)) or blocks
        return Airing(blocks, fans, self.exposure, reference, volume_m3, survey.limits.exposure.recovered)
