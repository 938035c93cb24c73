"""One job under many requirements: what no code changes is worked out once.

A window of the week is a mix of modes: so much of it in each. Windows of the same mix amount to the same, so that only
distinct mixes are scored. Relative exposure is proportional to the airflow that it refers to: it is worked out for
1 m3/s, once for each distinct course of the airflow, and scaled.
"""

import math
from collections.abc import Collection, Mapping, Sequence
from operator import mul
from typing import Final, NamedTuple, TypeAlias

from ventrules.codes import Code, CodeKind, Placing, Requirement, System, requirement
from ventrules.job import Counts, Occupancy, Season
from ventrules.survey.airflow import Delivery, Run, judged, over_modes
from ventrules.survey.airing import Infiltrating, blocks_of, cycle_of
from ventrules.survey.exposure import Exposure, relative_exposure
from ventrules.survey.mixes import First, Mixes, mixes, modes_in
from ventrules.survey.survey import Survey
from ventrules.survey.views import ModeSeasonView
from ventrules.survey.week import Week, Window
from ventrules.units import at_least

_Programs: TypeAlias = Mapping[str, tuple[Delivery, ...] | None]
_MINUTE_S: Final = 60.0
_DUST: Final = 1e-9  # relative; what floating point adds is never told from nothing
_SAME_UNDER_EVERY_CODE: Final = ("models", "topology", "devices", "week", "limits", "wsf")


class Exposed(NamedTuple):
    """Relative exposure over a settled week.

    Attributes:
        mean: Its mean over the week.
        mean_present: Its mean over the time when people are or may be there; None when there is no such time.
        peak: Its highest value.
        peak_s: When it is highest for the first time, s of the week.
    """

    mean: float
    mean_present: float | None
    peak: float
    peak_s: float


class AskedWeek(NamedTuple):
    """What the calendar's week in one season comes to under a requirement.

    Attributes:
        season: The season.
        window: The weakest window, scored by the part of the required airflow that it has; None where the
            requirement has no windows, no mode in which it is held comes up, or a program is not known.
        exposure: Relative exposure; None where the week's airflow or the dwelling's volume is not known, or there
            is no airflow at all.
        met: Whether the requirement is met, as far as capacity, windows, moments and relative exposure tell; None
            where they do not.
    """

    season: Season
    window: Window | None
    exposure: Exposed | None
    met: bool | None


def under(survey: Survey, code: Code) -> Survey:
    """Return the survey of the same job with its target held to another code.

    Claimed credits and the route count where that code knows them; what no code changes is taken over.
    """
    return _seeded(survey, code=code)


def with_stages_used(survey: Survey, stages: Collection[tuple[str, str]]) -> Survey:
    """Return the survey of the same job as if some stages, by ventilator and name, were those in use.

    What is asked may depend on whether the stages in use are balanced.

    Args:
        survey: The survey.
        stages: The stages.
    """
    other = _seeded(survey)
    definition, _basis = survey.balance
    unbalanced = tuple(
        (ventilator, stage)
        for ventilator in other.driven
        for stage in sorted(ventilator.stages)
        if (ventilator.name, stage) in stages and not ventilator.balanced_at(stage, definition)
    )
    vars(other).update(unbalanced_stages=unbalanced)
    return other


def _seeded(survey: Survey, **known: object) -> Survey:
    other = Survey(survey.job)
    vars(other).update({name: getattr(survey, name) for name in _SAME_UNDER_EVERY_CODE}, **known)
    return other


class Comparison:
    """One job under many requirements.

    Args:
        survey: The job's own survey.
    """

    def __init__(self, survey: Survey) -> None:
        self._survey = survey
        self._systems: dict[object, System] = {}
        self._courses: dict[Counts, tuple[_Course, _Course]] = {}
        self._by_airflow: dict[object, tuple[_Course, _Course]] = {}
        self._mixes: dict[object, Mixes] = {}
        # a stage that moves any air counts for the larger of its streams, so that no run is missing there
        self._widest = _seeded(survey, counts=Counts.LARGER)
        self._views: dict[Season, dict[str, ModeSeasonView]] = {season: {} for season in Season}
        for view in self._widest.mode_seasons:
            self._views[view.season][view.mode.name] = view
        given = [{name: view.deliveries for name, view in views.items()} for views in self._views.values()]
        self._alike = given[0] == given[1]

    def system(self, code: Code) -> System:
        """Return what a requirement has to know of the system, by the code's own definition of balanced."""
        test = code.balanced
        key = (test.test, test.fraction, test.or_within and test.or_within.m3s) if test is not None else None
        found = self._systems.get(key)
        if found is None:
            # which stages are balanced does not depend on the airflow that counts
            found = self._systems[key] = _seeded(self._survey, code=code, driven=self._widest.driven).system
        return found

    def requirement(self, code: Code) -> Requirement:
        """Return what a code asks of the job's dwelling; what the job claims counts where the code knows it.

        Raises:
            UnknownRequirementError: The job does not tell what the code needs.
        """
        job = self._survey.job
        earned = under(self._survey, code).credits_earned if job.target.credits else ()
        return requirement(code, job.dwelling, job.target, earned, self.system(code))

    def weeks(self, asked: Requirement, system: System) -> tuple[AskedWeek, ...]:
        """Return what each season's week comes to under a requirement; nothing where the job has no calendar.

        Args:
            asked: The requirement.
            system: What it had to know of the system.
        """
        week = self._survey.week
        if week is None:
            return ()
        key, infiltrating = _judged_by(asked), Infiltrating(asked.infiltration_m3s, system.balanced)
        first, second = self._counted(asked.counts, week)
        outcome = _outcome(first, key, asked, infiltrating)
        other = outcome if second is first else _outcome(second, key, asked, infiltrating)
        return AskedWeek(Season.HEATING, *outcome), AskedWeek(Season.COOLING, *other)

    def _counted(self, counts: Counts, week: Week) -> tuple["_Course", "_Course"]:
        """Return each season's course of one kind of airflow; kinds and seasons without a difference share one."""
        found = self._courses.get(counts)
        if found is None:
            flows = tuple(flow.counted(counts) for unit in self._widest.driven for flow in unit.stages.values())
            found = self._by_airflow.get(flows)
            if found is None:
                found = self._by_airflow[flows] = self._courses_of(counts, week)
            self._courses[counts] = found
        return found

    def _courses_of(self, counts: Counts, week: Week) -> tuple["_Course", "_Course"]:
        capacity = sum(
            max((flow.counted(counts) for flow in unit.stages.values()), default=0.0) for unit in self._widest.driven
        )

        def course(season: Season) -> _Course:
            programs = {name: _recounted(view, counts) for name, view in self._views[season].items()}
            return _Course(self._survey, week, programs, capacity, self._mixes)

        first = course(Season.HEATING)
        return first, first if self._alike else course(Season.COOLING)


def _recounted(view: ModeSeasonView, counts: Counts) -> tuple[Delivery, ...] | None:
    """Return what a mode's programs deliver of another kind of airflow."""
    if view.deliveries is None:
        return None
    return tuple(
        Delivery(
            tuple(
                Run(run.stage, airflow, run.time_s)
                for run in delivery.runs
                if (airflow := program.ventilator.stages[run.stage].counted(counts)) > 0.0
            ),
            delivery.cycle_s,
        )
        for program, delivery in zip(view.programs, view.deliveries, strict=True)
    )


class _Asked(NamedTuple):
    """The modes of one season in which a requirement is held.

    Attributes:
        columns: Each mode's place in a mix; modes with the same programs and occupancy share one.
        key: The same, as a key.
        kinds: Programs and occupancy at each place.
        courses: Airflow, m3/s, and share of run time at each place, of one ventilator after the other.
        least_share: The least share of run time at any place, all ventilators together.
        least_m3s: The least airflow at any moment at each place, m3/s.
    """

    columns: Mapping[str, int]
    key: tuple[tuple[str, int], ...]
    kinds: Sequence[tuple[tuple[Delivery, ...], Occupancy]]
    courses: Sequence[Sequence[float]]
    least_share: float
    least_m3s: Sequence[float]


class _Course:
    """One season's programs, as one kind of airflow."""

    def __init__(
        self, survey: Survey, week: Week, programs: _Programs, capacity_m3s: float, known: dict[object, Mixes]
    ) -> None:
        self._survey, self._week, self._programs, self._capacity_m3s = survey, week, programs, capacity_m3s
        self._mixes = known
        self._asked: dict[frozenset[Occupancy], _Asked | None] = {}
        self._held: dict[object, tuple[Window | None, bool | None]] = {}
        self._aired: dict[object, tuple[bool, Exposure | None]] = {}

    def held(self, key: object, asked: Requirement) -> tuple[Window | None, bool | None]:
        """Return the weakest window, and whether capacity, windows and moments meet a requirement.

        Args:
            key: What the outcome depends on.
            asked: The requirement.
        """
        found = self._held.get(key)
        if found is None:
            if asked.kind is CodeKind.CAPACITY:
                found = None, at_least(self._capacity_m3s, asked.continuous_m3s)
            else:
                found = self._judged(asked)
            self._held[key] = found
        return found

    def _modes(self, wanted: frozenset[Occupancy]) -> _Asked | None:
        """Return the modes of the week with one of some occupancies; None where the program of one is not known."""
        if wanted not in self._asked:
            columns: dict[str, int] = {}
            places: dict[tuple[tuple[Delivery, ...] | None, Occupancy], int] = {}
            for name, deliveries in self._programs.items():
                occupancy = self._survey.job.modes[name]
                if name in self._week.modes and occupancy in wanted:
                    columns[name] = places.setdefault((deliveries, occupancy), len(places))
            known = [(deliveries, occupancy) for deliveries, occupancy in places if deliveries is not None]
            each = [[number for one in kind for number in (one.average_m3s, one.share)] for kind, _occupancy in known]
            least = min((sum(numbers[1::2]) for numbers in each), default=0.0)
            still = [sum(one.least_m3s for one in kind) for kind, _occupancy in known]
            asked = _Asked(columns, tuple(columns.items()), known, list(zip(*each, strict=True)), least, still)
            self._asked[wanted] = asked if len(known) == len(places) else None
        return self._asked[wanted]

    def _judged(self, asked: Requirement) -> tuple[Window | None, bool | None]:
        modes = self._modes(asked.judged)
        if modes is None or not modes.kinds:
            return None, None
        if asked.unbroken:
            needed = (asked.at(occupancy) for _deliveries, occupancy in modes.kinds)
            return None, all(map(at_least, modes.least_m3s, needed))
        outcomes = [judged(deliveries, asked, occupancy) for deliveries, occupancy in modes.kinds]
        window = self._weakest(modes, [outcome.equivalent_m3s for outcome in outcomes], asked)
        if not at_least(window.score, 1.0):
            return window, False
        whole = {span.mode for span in self._week.spans if span.length * _MINUTE_S >= asked.window_s}
        return window, all(
            outcomes[column].enough if name in whole else outcomes[column].above_floor
            for name, column in modes.columns.items()
        )

    def _weakest(self, modes: _Asked, equivalents: Sequence[float], asked: Requirement) -> Window:
        """Return the window with the least part of what is required.

        A mix is worth at least its mean equivalent, unless the run time is too short; those that are worth more than
        the weakest so far are passed over.
        """
        fixed, length = asked.placing is Placing.FIXED, asked.window_s / _MINUTE_S
        key = (modes.key, length, fixed)
        found = self._mixes.get(key)
        if found is None:
            found = self._mixes[key] = mixes(self._week, modes.columns, length, fixed=fixed)
        least, most = sorted((asked.continuous_m3s, asked.intermittent_m3s))
        too_short = not at_least(modes.least_share, asked.least_share)
        scored: list[tuple[float, First]] = []
        lowest = math.inf
        for equivalent, window, mix in sorted((sum(map(mul, m, equivalents)), w, m) for m, w in found.items()):
            if equivalent > lowest * most * (1.0 + _DUST) and not too_short:
                break
            over = (equivalent, *(sum(map(mul, mix, column)) for column in modes.courses))
            score = over_modes(over, asked) if least > 0.0 else 1.0
            scored.append((score, window))
            lowest = min(lowest, score)
        # of windows that are worth the same the first one is named
        (_place, start, end), score = min(
            (window, score) for score, window in scored if score <= lowest * (1.0 + _DUST)
        )
        return Window(start, end, score, frozenset(modes_in(self._week, modes.columns, start, end)))

    def aired(self, infiltrating: Infiltrating) -> tuple[bool, Exposure | None]:
        """Return whether the week's airflow is known, and its relative exposure for 1 m3/s, if it has any airflow."""
        key = infiltrating if infiltrating.airflow_m3s > 0.0 else None
        found = self._aired.get(key)
        if found is None:
            job = self._survey.job
            volume_m3 = job.dwelling.volume_m3
            distinct = {each: cycle_of(each, infiltrating) for each in dict.fromkeys(self._programs.values()) if each}
            cycles = {name: distinct[each] for name, each in self._programs.items() if each}
            blocks = blocks_of(self._week, cycles, job.modes) if volume_m3 is not None else None
            if blocks is None or volume_m3 is None:
                found = False, None
            else:
                found = True, relative_exposure(blocks, 1.0, volume_m3)
            self._aired[key] = found
        return found


def _outcome(
    course: _Course, key: object, asked: Requirement, infiltrating: Infiltrating
) -> tuple[Window | None, Exposed | None, bool | None]:
    window, met = course.held(key, asked)
    known, exposure = course.aired(infiltrating)
    exposed = _scaled(exposure, asked.total_m3s) if exposure is not None else None
    if asked.exposure is not None and not met:
        # without any airflow the limits are not kept
        kept = exposed is not None and asked.allows_exposure(exposed.mean, exposed.mean_present, exposed.peak)
        met = kept if known else None
    return window, exposed, met


def _judged_by(asked: Requirement) -> tuple[object, ...]:
    """Return what windows and moments depend on beside the airflow; requirements that agree in it are judged once."""
    run, floor = asked.run_time, asked.floor
    return (
        asked.kind,
        asked.continuous_m3s,
        asked.intermittent_m3s,
        asked.window_s,
        asked.placing,
        asked.judged,
        asked.least_share,
        (run.shares, run.factors) if run is not None else None,
        floor.airflow_m3s if floor is not None else None,
        tuple((occupancy, held.airflow_m3s) for occupancy, held in asked.levels.items()),
    )


def _scaled(exposure: Exposure, reference_m3s: float) -> Exposed | None:
    if reference_m3s <= 0.0:
        return None
    present = exposure.mean_present
    return Exposed(
        exposure.mean * reference_m3s,
        present * reference_m3s if present is not None else None,
        exposure.peak * reference_m3s,
        exposure.peak_s,
    )
