"""One season's programs, planned: the cheapest that the controllers can be set to and that meet the requirement."""

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from functools import cached_property
from math import inf, prod
from typing import Final, TypeAlias

import attrs
import numpy as np

from ventrules.codes import CodeKind
from ventrules.job import Occupancy
from ventrules.planner.kits import Unit
from ventrules.planner.options import Combined, Counts, Floats, Gives, Options, Truths, as_set, in_time, options, reach
from ventrules.planner.orders import Least
from ventrules.planner.planned import Solved
from ventrules.planner.search import Choice, Found, Row, Side, search
from ventrules.planner.steady import giving, least_steady
from ventrules.planner.verdict import Together, Verdict, course_of
from ventrules.survey import Delivery, ModeSeasonView, Survey
from ventrules.survey.exposure import Cycle
from ventrules.survey.week import Means
from ventrules.units import at_least

_MOST_COMBINED: Final = 4_000_000  # combinations of several ventilators that one mode is searched through
_MOST_STEPS: Final = 200  # toward a cheaper plan, where the search was broken off
_MOST_ABOVE: Final = 40  # starts that give more and more than the least steady airflow, in half percents
_MINUTE_S: Final = 60.0
_AIRFLOW, _RUN_TIME = 0, 1  # kinds of rows

Numbers: TypeAlias = tuple[int, ...]
"""The program of each ventilator, by its number among the options."""


class SeasonPlanner:
    """Plans one season.

    Args:
        survey: The survey whose requirement is to be met.
        views: The season's modes.
        units: The ventilators, as many as the modes have programs.
        least: What is spent least of first.
    """

    def __init__(self, survey: Survey, views: Sequence[ModeSeasonView], units: Sequence[Unit], least: Least) -> None:
        self.survey: Survey = survey
        self.views: tuple[ModeSeasonView, ...] = tuple(views)
        self.units: tuple[Unit, ...] = tuple(units)
        self.least: Least = least
        self.verdict: Verdict = Verdict(survey, views)
        self._asked = survey.requirement
        self.unfinished: list[float] = []
        """The least that programs can cost where a search was broken off before it found any."""
        self._known: dict[object, tuple[int, ...] | None] = {}
        self._deliveries: dict[tuple[str, Numbers], Together] = {}

    @cached_property
    def hours(self) -> Mapping[str, float]:
        """Mode to its part of the week, as far as the calendar fills it."""
        week = self.survey.week
        spans = week.spans if week is not None else ()
        whole = sum(span.length for span in spans)
        return {
            view.mode.name: sum(span.length for span in spans if span.mode == view.mode.name) / whole
            for view in self.views
            if whole
        }

    @cached_property
    def parts(self) -> Mapping[str, tuple[Options, ...]]:
        """Mode to the programs that each ventilator can be set to in it."""
        kits = self._kits
        return {view.mode.name: tuple(self._options(view, unit, kits) for unit in self.units) for view in self.views}

    def _options(self, view: ModeSeasonView, unit: Unit, kits: Mapping[str, Options]) -> Options:
        kept = unit.kept.get(view.mode.name)
        if kept is None:
            return kits[unit.name]
        return as_set(kept, unit.powers_w, self._asked)

    @cached_property
    def _kits(self) -> Mapping[str, Options]:
        """Each ventilator's programs; fewer than its grid has where there would be too many to go through."""
        kits = {unit.name: unit.kit for unit in self.units if unit.kit is not None}
        found = {name: options(kit, self._asked) for name, kit in kits.items()}
        whole = True
        while prod(map(len, found.values())) > _MOST_COMBINED:
            name = max(found, key=lambda each: len(found[each]))
            kits[name] = kits[name].coarser()
            found[name] = options(kits[name], self._asked)
            whole = False
        return {name: each if whole else attrs.evolve(each, whole=False) for name, each in found.items()}

    @property
    def _by_exposure(self) -> bool:
        return self._asked.kind is CodeKind.EXPOSURE and self.survey.week is not None

    def _held(self, view: ModeSeasonView) -> bool:
        return view.mode.occupancy in self._asked.judged and self._asked.kind is not CodeKind.CAPACITY

    @cached_property
    def _apart(self) -> bool:
        """True when the week's windows are met as soon as each mode meets the requirement by itself, and need that."""
        asked = self._asked
        if any(self._held(view) and view.only_in_windows for view in self.views):
            return False
        return asked.run_time is None or not asked.intermittent_m3s > asked.continuous_m3s

    def solve(self) -> Solved | None:
        """Return the cheapest programs that meet the requirement, or None where there are none."""
        ways = [self._by_windows()]
        if self._by_exposure:
            ways.append(self._through_exposure())
        found = [way for way in ways if way is not None]
        if not found:
            return None
        best = min(found, key=lambda way: [round(way.cost[each], 12) for each in self.least.columns])
        # the least that anything can cost is the least of both ways
        column = self.least.columns[0]
        floor = min([way.cost[column] / (1.0 + way.beyond) for way in found] + self.unfinished)
        beyond = max(best.cost[column] / floor - 1.0, 0.0) if floor > 0.0 else inf
        settled = all(way.settled for way in found) and not self.unfinished
        return best if settled else self._polished(attrs.evolve(best, beyond=beyond, settled=False))

    def _polished(self, solved: Solved) -> Solved:
        """Return a plan with every single program lowered as long as the next cheaper one will do."""
        programs = dict(solved.programs)
        for _step in range(_MOST_STEPS):
            better = next(self._lower(programs), None)
            if better is None:
                break
            programs.update(better)
        cost = self._costs_of(programs)
        column = self.least.columns[0]
        spared = cost[column] / solved.cost[column] if solved.cost[column] > 0.0 else 1.0
        return attrs.evolve(solved, programs=programs, cost=cost, beyond=max((1.0 + solved.beyond) * spared - 1.0, 0.0))

    def _lower(self, programs: Mapping[str, Together]) -> Iterator[Mapping[str, Together]]:
        for mode, together in programs.items():
            for place, unit in enumerate(self.units):
                cheaper = None if mode in unit.kept else next(self.cheaper(mode, place, together[place]), None)
                if cheaper is not None:
                    changed = {mode: (*together[:place], cheaper, *together[place + 1 :])}
                    if self.verdict.failure({**programs, **changed}) is None:
                        yield changed

    def deliver(self, mode: str, rows: Numbers) -> Together:
        """Return what the ventilators deliver in a mode, by the number of each one's program."""
        found = self._deliveries.get((mode, rows))
        if found is None:
            parts = self.parts[mode]
            found = tuple(part.delivery(row) for part, row in zip(parts, rows, strict=True))
            self._deliveries[mode, rows] = found
        return found

    def alone(self, view: ModeSeasonView) -> Numbers | None:
        """Return the cheapest programs of a mode by itself: enough where the requirement is held, else off."""
        parts, occupied = self.parts[view.mode.name], view.mode.occupancy is Occupancy.OCCUPIED
        held = self._held(view)
        level = self._asked.at(view.mode.occupancy) if held else 0.0
        key = (tuple(map(id, parts)), held, occupied, level)
        if key not in self._known:
            together = Combined(parts)
            rows = together.enough(self._asked, view.mode.occupancy) if held else np.ones(len(together), dtype=np.bool_)
            if occupied:
                rows &= together.run()
            self._known[key] = together.cheapest(rows, self.least)
        return self._known[key]

    def _all_but(self, tied: Collection[str]) -> dict[str, Numbers] | None:
        """Return the cheapest programs of the modes that are not tied together, or None where one has none."""
        chosen = {view.mode.name: self.alone(view) for view in self.views if view.mode.name not in tied}
        found = {mode: rows for mode, rows in chosen.items() if rows is not None}
        return found if len(found) == len(chosen) else None

    def _by_windows(self) -> Solved | None:
        """Plan so that every window has its airflow."""
        tied = frozenset(self.verdict.held_in_week) if not self._apart else frozenset()
        chosen = self._all_but(tied)
        if chosen is None or not tied:
            return None if chosen is None else self._solved(chosen)
        views = [view for view in self.views if view.mode.name in tied]
        return self._tied(views, chosen, self._window_rows(), self._accepts_windows(views))

    def _window_rows(self) -> list[Row]:
        """Return what every window has to reach: airflow, and run time where a least run time stands beside it."""
        asked, mixes = self._asked, self.verdict.windows
        rows = [Row(mix, _AIRFLOW, min(asked.continuous_m3s, asked.intermittent_m3s)) for mix in mixes]
        if asked.run_time is None and asked.least_share > 0.0:
            rows += [Row(mix, _RUN_TIME, asked.least_share) for mix in mixes]
        return rows

    def _worth(self, together: Combined) -> Floats:
        """Return the most airflow that programs can count for in a window over several modes."""
        run = self._asked.run_time
        if run is None:
            return together.gives(Gives.EQUIVALENT)
        product = min(share * factor for share, factor in zip(run.shares, run.factors, strict=True))
        worth: Floats = together.gives(Gives.AIR) / product  # share x factor is least at one of the printed shares
        return worth

    def _accepts_windows(self, views: Sequence[ModeSeasonView]) -> Callable[[Sequence[Numbers]], bool]:
        known: dict[tuple[str, Numbers], Means] = {}

        def course(view: ModeSeasonView, rows: Numbers) -> Means:
            key = (view.mode.name, rows)
            if key not in known:
                known[key] = course_of(self.deliver(view.mode.name, rows), self._asked, view.mode.occupancy)
            return known[key]

        def accepts(chosen: Sequence[Numbers]) -> bool:
            found = self.verdict.weakest([course(view, rows) for view, rows in zip(views, chosen, strict=True)])
            return found is None or at_least(found[0], 1.0)

        return accepts

    def _through_exposure(self) -> Solved | None:
        """Plan so that relative exposure keeps its limits over the week; windows may be short."""
        asked, limits, week = self._asked, self._asked.exposure, self.survey.week
        if limits is None or week is None:
            return None
        chosen = self._all_but(week.modes)
        if chosen is None:
            return None
        views = [view for view in self.views if view.mode.name in week.modes]
        # by Jensen's inequality the mean of R is at least Qref over the mean of Q, since (ln R)' = Qref/(VR) - Q/V
        least = asked.total_m3s / limits.mean - asked.infiltration_m3s if asked.counts_every_hour else 0.0
        shares = tuple(self.hours[view.mode.name] for view in views)
        rows_ = [Row(shares, _AIRFLOW, max(least, 0.0))]
        return self._tied(views, chosen, rows_, self._accepts_exposure(views), windows=False)

    def _aired(self, view: ModeSeasonView, together: Combined) -> Floats:
        """Return the most airflow that programs can give on average in a mode, as relative exposure sees it."""
        week = self.survey.week
        lengths = [span.length for span in week.spans if span.mode == view.mode.name] if week is not None else []
        whole = sum(lengths)
        shares = [(length / whole, length * _MINUTE_S) for length in lengths]
        each = [
            np.maximum(sum(share * in_time(part, length_s) for share, length_s in shares), part.gives[:, Gives.AIR])
            for part in together.parts  # ventilators with cycles of different lengths are taken at their averages
        ]
        return together.total(each)

    def _accepts_exposure(self, views: Sequence[ModeSeasonView]) -> Callable[[Sequence[Numbers]], bool]:
        known: dict[tuple[str, Numbers], Cycle] = {}

        def cycle(view: ModeSeasonView, rows: Numbers) -> Cycle:
            key = (view.mode.name, rows)
            if key not in known:
                known[key] = self.verdict.cycle(self.deliver(*key))
            return known[key]

        def accepts(chosen: Sequence[Numbers]) -> bool:
            cycles = {view.mode.name: cycle(view, rows) for view, rows in zip(views, chosen, strict=True)}
            told, exposure = self.verdict.exposed(cycles)
            return told and self.verdict.allows(exposure)

        return accepts

    def _tied(
        self,
        views: Sequence[ModeSeasonView],
        chosen: dict[str, Numbers],
        rows: Sequence[Row],
        accepts: Callable[[Sequence[Numbers]], bool],
        *,
        windows: bool = True,
    ) -> Solved | None:
        """Plan modes that are tied together."""
        combined, numbers, sides = [], [], []
        for view in views:
            together = Combined(self.parts[view.mode.name])
            own = np.flatnonzero(self._allowed(view, together, windows=windows))
            worth = self._worth(together) if windows else self._aired(view, together)
            given = [worth[own]]
            if any(row.kind == _RUN_TIME for row in rows):
                given.append(together.gives(Gives.SHARE)[own])
            combined.append(together)
            numbers.append(own)
            sides.append(self._side(view, together, own, np.column_stack(given)))

        def programs(choice: Choice) -> list[Numbers]:
            found = zip(combined, numbers, choice, strict=True)
            return [together.picked(int(own[option])) for together, own, option in found]

        found = search(
            sides,
            rows,
            lambda choice: accepts(programs(choice)),
            [*self._start(views, combined, numbers)] if windows else self._steady(views, sides, numbers),
            monotone=windows and self._asked.run_time is None,
        )
        if found.choice is None:
            self.unfinished += [] if found.ended else [max(found.bound, 0.0)]
            return None
        chosen.update({view.mode.name: own for view, own in zip(views, programs(found.choice), strict=True)})
        spent = sum(float(side.cost[option]) for side, option in zip(sides, found.choice, strict=True))
        return self._solved(chosen, found, spent)

    def _start(
        self, views: Sequence[ModeSeasonView], combined: Sequence[Combined], numbers: Sequence[Counts]
    ) -> Iterator[Choice]:
        """Yield the choice in which each mode is enough by itself, where there is one."""
        choice = []
        for view, together, own in zip(views, combined, numbers, strict=True):
            rows = self.alone(view)
            place = int(np.searchsorted(own, together.number(rows))) if rows is not None else len(own)
            if rows is None or place == len(own) or own[place] != together.number(rows):
                return
            choice.append(place)
        yield tuple(choice)

    def _steady(
        self, views: Sequence[ModeSeasonView], sides: Sequence[Side], numbers: Sequence[Counts]
    ) -> list[Choice]:
        """Return choices near the steady airflows that keep relative exposure with the least air."""
        names = [view.mode.name for view in views]
        free = {
            n: (self.hours[n], float(s.gives[:, 0].max())) for n, s in zip(names, sides, strict=True) if len(s.cost) > 1
        }
        kept = {
            name: self.verdict.cycle(self.deliver(name, Combined(self.parts[name]).picked(int(own[0]))))
            for name, own in zip(names, numbers, strict=True)
            if len(own) == 1
        }
        flows = least_steady(self.verdict, self._asked, free, kept) if all(len(own) for own in numbers) else None
        if flows is None:
            return []
        gives, costs = [side.gives[:, 0] for side in sides], [side.cost for side in sides]
        wanted = [flows.get(name, 0.0) for name in names]
        return [giving(gives, costs, [flow * (1.0 + more / 200.0) for flow in wanted]) for more in range(_MOST_ABOVE)]

    def _side(self, view: ModeSeasonView, together: Combined, own: Counts, given: Floats) -> Side:
        part, columns = self.hours[view.mode.name], self.least.columns
        return Side(
            together.cost(columns[0])[own] * part,
            given,
            lambda rows: together.costs(own[rows], columns) * part,
        )

    def _allowed(self, view: ModeSeasonView, together: Combined, *, windows: bool) -> Truths:
        """Say which combinations a tied mode may have."""
        rows: Truths = np.ones(len(together), dtype=np.bool_)
        if view.mode.occupancy is Occupancy.OCCUPIED:
            rows &= together.run()
        if windows and not view.only_in_windows:
            rows &= together.enough(self._asked, view.mode.occupancy)
        elif windows and self._asked.floor is not None:
            rows &= reach(together.gives(Gives.LEAST), self._asked.floor.airflow_m3s)
        return rows

    def _solved(self, chosen: Mapping[str, Numbers], found: Found | None = None, spent: float = 0.0) -> Solved:
        """Return programs as solved; `spent` is what a search brought them to cost, in what counts most."""
        whole = all(part.whole for parts in self.parts.values() for part in parts)
        programs = {mode: self.deliver(mode, rows) for mode, rows in chosen.items()}
        beyond = 0.0
        if found is not None and not found.ended:
            beyond = max(spent / found.bound - 1.0, 0.0) if found.bound > 0.0 else inf
        settled = whole and (found is None or found.ended)
        return Solved(programs, self._costs_of(programs), beyond if whole else inf, settled)

    def _costs_of(self, programs: Mapping[str, Together]) -> tuple[float, float, float]:
        """Return what programs cost in the modes of the week on average, or in all modes without a calendar."""
        weights = self.hours or dict.fromkeys(programs, 1.0 / max(len(programs), 1))
        cost = np.zeros(3)
        for mode, together in programs.items():
            for place, delivery in enumerate(together):
                cost += weights.get(mode, 0.0) * np.array(self.cost(mode, place, delivery))
        return float(cost[0]), float(cost[1]), float(cost[2])

    def cost(self, mode: str, unit: int, delivery: Delivery) -> tuple[float, float, float]:
        """Return what a ventilator's program costs in a mode: airflow, m3/s, fan power, W, and stage changes an hour.

        Args:
            mode: The mode.
            unit: The ventilator's place among the units.
            delivery: What it is to deliver.
        """
        part = self.parts[mode][unit]
        air, power, changes = part.cost[part.row(delivery)]
        return float(air), float(power), float(changes)

    def cheaper(self, mode: str, unit: int, delivery: Delivery) -> Iterator[Delivery]:
        """Yield the programs of one ventilator that cost less than one of them, the next cheaper first.

        Args:
            mode: The mode.
            unit: The ventilator's place among the units.
            delivery: What it is to deliver.
        """
        part = self.parts[mode][unit]
        yield from map(part.delivery, part.cheaper(part.row(delivery), self.least.columns))
