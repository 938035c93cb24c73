"""What a code asks of a dwelling, with every step."""

from bisect import bisect_left
from collections.abc import Collection, Mapping

import attrs
from attrs import Factory, frozen

from ventrules.codes.code import (
    Balanced,
    Code,
    CodeKind,
    ExposureLimits,
    Floor,
    LeastRun,
    Level,
    Placing,
    Quality,
    RunTime,
)
from ventrules.codes.leakage import System, counted_infiltration, fan_rate
from ventrules.codes.rates import Equation, Joined, Rate
from ventrules.codes.rating import (
    Step,
    UnknownRequirementError,
    counted_area,
    described,
    occupants,
    rates_by_route,
    table_rate,
    told_main_rooms,
)
from ventrules.job import Counts, Dwelling, Occupancy, Route, Target
from ventrules.sources import Basis, Known
from ventrules.units import Airflow, at_least, at_most


@frozen
class Held:
    """An airflow that is held at every moment of an occupancy, m3/s, and its clause."""

    airflow_m3s: float
    basis: Basis


@frozen
class Requirement:
    """What is asked of the dwelling.

    Attributes:
        kind: How a week is judged.
        continuous_m3s: Required airflow when ventilation never stops, m3/s.
        intermittent_m3s: Rate that run-time factors multiply, m3/s.
        window_s: Averaging window or segment, seconds; 0 where airflow is held at every moment.
        counts: Which airflow counts.
        judged: Occupancies in which it is held.
        run_time: Factors for intermittent operation, if the code has them.
        balanced: The code's definition of balanced, if it has one.
        steps: The arithmetic, in order.
        basis: The clause of the rate itself.
        window_basis: The clause of the window or of the run-time factors.
        route: The way to the rate that was taken.
        total_m3s: The rate before infiltration is taken off, m3/s: what relative exposure refers to.
        infiltration_m3s: Infiltration that counts, m3/s.
        placing: Whether windows slide or lie one after the other.
        levels: What is held at every moment, by occupancy.
        floor: What is held at every moment under an average.
        exposure: Limits of the relative exposure.
        least_run: Least run time beside an average.
        remarks: What a reader has to know about the arithmetic.
        rests_on: What it rests on beside its steps: which airflow counts, the window, the limits of exposure.
    """

    kind: CodeKind
    continuous_m3s: float
    intermittent_m3s: float
    window_s: float
    counts: Counts
    judged: frozenset[Occupancy]
    run_time: RunTime | None
    balanced: Balanced | None
    steps: tuple[Step, ...]
    basis: Basis
    window_basis: Basis
    route: Route | None = None
    total_m3s: float = 0.0
    infiltration_m3s: float = 0.0
    placing: Placing = Placing.SLIDING
    levels: Mapping[Occupancy, Held] = Factory(dict)
    floor: Held | None = None
    exposure: ExposureLimits | None = None
    least_run: LeastRun | None = None
    remarks: tuple[str, ...] = ()
    rests_on: tuple[Basis, ...] = ()

    def at(self, occupancy: Occupancy) -> float:
        """Return the airflow that is required in one occupancy, m3/s."""
        held = self.levels.get(occupancy)
        return self.continuous_m3s if held is None else held.airflow_m3s

    @property
    def unbroken(self) -> bool:
        """True when the airflow is held at every moment, so that cycling is no way to reach it."""
        return self.kind in (CodeKind.CONTINUOUS, CodeKind.LEVELS)

    @property
    def counts_every_hour(self) -> bool:
        """True when relative exposure is averaged over the whole week, False when over the hours with people."""
        return self.exposure is None or self.judged <= set(self.exposure.hours)

    def counted_exposure(self, mean: float, mean_present: float | None) -> float | None:
        """Return the mean relative exposure over the hours that count: all of them, or those with people."""
        return mean if self.counts_every_hour else mean_present

    def allows_exposure(self, mean: float, mean_present: float | None, peak: float) -> bool:
        """Say whether relative exposure keeps the limits, where there are any."""
        limits, counted = self.exposure, self.counted_exposure(mean, mean_present)
        if limits is None or counted is None:
            return False
        return at_most(counted, limits.mean) and at_most(peak, limits.peak)

    @property
    def unbroken_basis(self) -> Basis:
        """The clause that asks for airflow at every moment: that of the kind, or of the rate where levels are."""
        return self.basis if self.levels else self.window_basis

    @property
    def least_share(self) -> float:
        """The least share of run time that is allowed."""
        if self.run_time is not None:
            return self.run_time.shares[0]
        return self.least_run.time.s / self.least_run.period.s if self.least_run is not None else 0.0

    @property
    def from_memory(self) -> tuple[str, ...]:
        """The clauses it rests on that nobody could look up, in words."""
        bases = [*(step.basis for step in self.steps), *self.rests_on]
        found = (f"{basis.title}, {basis.clause}".rstrip(", ") for basis in bases if basis.known is Known.FROM_MEMORY)
        return tuple(dict.fromkeys(found))


@frozen
class _Rated:
    route: Route
    by_route: Mapping[Route, Step]
    total_m3s: float
    steps: tuple[Step, ...]


def run_time_factor(run: RunTime, share: float) -> float | None:
    """Return the factor for a share of run time: interpolated, never extrapolated.

    Args:
        run: The code's table of factors.
        share: Share of each segment in which the system runs, 0 to 1.

    Returns:
        The factor, or None outside the table.
    """
    if not (at_least(share, run.shares[0]) and at_most(share, run.shares[-1])):
        return None
    held = min(max(share, run.shares[0]), run.shares[-1])
    right = bisect_left(run.shares, held)
    if run.shares[right] == held:
        return run.factors[right]
    low, high = run.shares[right - 1], run.shares[right]
    part = (held - low) / (high - low)
    return run.factors[right - 1] + part * (run.factors[right] - run.factors[right - 1])


def requirement(
    code: Code, dwelling: Dwelling, target: Target, earned: Collection[str] = (), system: System | None = None
) -> Requirement:
    """Return what a code asks of a dwelling.

    Args:
        code: The code.
        dwelling: The dwelling.
        target: The job's target; it may fix the route.
        earned: Names of the claimed credits whose conditions hold.
        system: What the system and the site are; by default balanced, and no site known.

    Raises:
        UnknownRequirementError: The job does not tell what the code needs; the message says what is missing.
    """
    system = System() if system is None else system
    claims = frozenset(target.credits) & frozenset(earned) & code.credits.keys()
    rated = _rated(code, dwelling, target, system)
    total, intermittent, steps = _credited(code, dwelling, rated, claims)
    found = counted_infiltration(code, dwelling, system, claims)
    fan = total
    if code.infiltration is not None and found.airflow_m3s > 0.0:
        fan = fan_rate(code.infiltration, total, found.airflow_m3s, system)
        how = "balanced" if system.balanced else "not balanced"
        steps += [*found.steps, Step(f"left for the fans, {how}", fan, code.basis(code.infiltration.basis))]
    levels = _levels(code, claims, fan, dwelling)
    steps += [Step(f"while {occupancy.value}", held.airflow_m3s, held.basis) for occupancy, held in levels.items()]
    floor = _floor(code, code.floor, fan, dwelling) if code.floor is not None else None
    steps += [Step("at every moment", floor.airflow_m3s, floor.basis)] if floor is not None else []
    window_s, window_basis, placing = _window(code)
    return Requirement(
        kind=code.kind,
        continuous_m3s=fan,
        intermittent_m3s=intermittent if code.run_time is not None else fan,
        window_s=window_s,
        counts=code.counts,
        judged=frozenset(code.judged),
        run_time=code.run_time,
        balanced=code.balanced,
        steps=tuple(steps),
        basis=rated.steps[0].basis,
        window_basis=window_basis,
        route=rated.route,
        total_m3s=total,
        infiltration_m3s=found.airflow_m3s,
        placing=placing,
        levels=levels,
        floor=floor,
        exposure=code.exposure,
        least_run=code.least_run,
        remarks=tuple(remark for remark in (_assumed_people(code, dwelling), found.remark) if remark),
        rests_on=_rests_on(code, window_basis),
    )


def _credited(
    code: Code, dwelling: Dwelling, rated: _Rated, claims: Collection[str]
) -> tuple[float, float, list[Step]]:
    """Return the rate and the one that run-time factors multiply, credits taken off, m3/s, and the steps so far."""
    factored = _factored(code, dwelling, rated)
    total = intermittent = rated.total_m3s
    steps = list(rated.steps)
    if factored is not None:
        intermittent = factored.airflow_m3s or 0.0
        steps += [factored] if factored not in steps else []
    for name in sorted(claims):
        credit = code.credits[name]
        if credit.factor < 1.0:
            total *= credit.factor
            intermittent *= 1.0 if factored is not None else credit.factor
            steps.append(Step(f"credit {name}, x {credit.factor:g}", total, code.basis(credit.basis)))
    return total, intermittent, steps


def _assumed_people(code: Code, dwelling: Dwelling) -> str:
    """Return a remark where the rate goes by people and the job does not tell how many there are."""
    ways = code.rate_for(metric=dwelling.metric).ways.values()
    by_people = any(isinstance(way, Equation) and way.airflow_per_occupant is not None for way in ways)
    if not by_people or dwelling.occupants is not None:
        return ""
    return f"{occupants(dwelling)} people are assumed, one more than bedrooms; give `dwelling.occupants`"


def _rests_on(code: Code, window_basis: Basis) -> tuple[Basis, ...]:
    bases = [code.basis(code.counts_basis), window_basis]
    if code.exposure is not None:
        bases += [code.basis(code.exposure.mean_basis), code.basis(code.exposure.peak_basis)]
    return tuple(bases)


def _rated(code: Code, dwelling: Dwelling, target: Target, system: System) -> _Rated:
    """Return the rate before credits: the way taken, the least rate, more people, the system coefficient."""
    rate = code.rate_for(metric=dwelling.metric)
    counted, least_bedrooms = dwelling, rate.least_bedrooms
    if least_bedrooms is not None and dwelling.bedrooms < least_bedrooms.count:
        counted = attrs.evolve(dwelling, bedrooms=least_bedrooms.count)
    by_route = _routes(code, rate, counted)
    pick = max if rate.joined is Joined.LARGEST else min
    chosen = pick(by_route, key=lambda route: by_route[route].airflow_m3s or 0.0)
    if rate.joined is Joined.CHOICE and target.route in by_route:
        chosen = target.route
    total = by_route[chosen].airflow_m3s or 0.0
    steps = [by_route[chosen]]
    way = rate.ways[chosen]
    if (
        isinstance(way, Equation)
        and way.range_basis is not None
        and counted_area(way, counted) != counted.floor_area.m2
    ):
        area_m2 = counted_area(way, counted)
        steps.append(Step("floor area counted", None, code.basis(way.range_basis), area_m2, "m2"))
    if rate.joined is Joined.LARGEST and len(by_route) > 1:
        steps += [step for route, step in by_route.items() if route is not chosen]
        steps.append(Step("the largest of these", total, by_route[chosen].basis))
    extra = max(occupants(dwelling) - counted.bedrooms - 1, 0) if rate.extra_occupants is not None else 0
    if extra and rate.extra_occupants is not None:
        total += extra * rate.extra_occupants.airflow.m3s
        steps.append(Step(f"{extra} more people than the design number", total, code.basis(rate.extra_occupants.basis)))
    if rate.least is not None and total < rate.least.airflow.m3s:
        total = rate.least.airflow.m3s
        steps.append(Step("not less than", total, code.basis(rate.least.basis)))
    if code.quality is not None:
        coefficient = _coefficient(code.quality, balanced=system.balanced, distributed=dwelling.distributed)
        total *= coefficient
        steps.append(Step(f"system coefficient, x {coefficient:g}", total, code.basis(code.quality.basis)))
    return _Rated(chosen, by_route, total, tuple(steps))


def _routes(code: Code, rate: Rate, dwelling: Dwelling) -> dict[Route, Step]:
    of = described(dwelling)
    return {
        route: Step(f"rate by {route.value} for {of}", value, code.basis(rate.ways[route].basis))
        for route, value in rates_by_route(rate, dwelling).items()
    }


def _factored(code: Code, dwelling: Dwelling, rated: _Rated) -> Step | None:
    """Return the rate that run-time factors multiply where it is not the one taken; no credit lowers it."""
    run = code.run_time
    if run is not None and run.table is not None:
        rate = table_rate(run.table, dwelling)
        if rate is None:
            raise UnknownRequirementError("the table that run-time factors multiply ends before the dwelling")
        return Step("rate that run-time factors multiply", rate, code.basis(run.table.basis))
    if run is not None and run.route is not None:
        return rated.by_route.get(run.route)
    return None


def _coefficient(quality: Quality, *, balanced: bool, distributed: bool) -> float:
    if balanced:
        return quality.balanced_distributed if distributed else quality.balanced
    return quality.distributed if distributed else quality.neither


def _levels(code: Code, claims: Collection[str], fan: float, dwelling: Dwelling) -> dict[Occupancy, Held]:
    """Return the lowest level of each occupancy that may be used."""
    lowest: dict[Occupancy, Held] = {}
    for level in code.levels:
        held = Held(_level_rate(level, fan, dwelling), code.basis(level.basis))
        before = lowest.get(level.occupancy)
        may = level.credit is None or level.credit in claims
        if may and (before is None or held.airflow_m3s < before.airflow_m3s):
            lowest[level.occupancy] = held
    return lowest


def _level_rate(level: Level, fan: float, dwelling: Dwelling) -> float:
    if level.by_main_rooms:
        count = told_main_rooms(dwelling)
        return level.by_main_rooms[min(count, len(level.by_main_rooms)) - 1].m3s
    if level.airflow_per_area is not None and level.area is not None:
        return level.airflow_per_area.m3s * dwelling.floor_area.m2 / level.area.m2
    return fan * (1.0 if level.share is None else level.share)


def _floor(code: Code, floor: Floor, fan: float, dwelling: Dwelling) -> Held:
    by_area = 0.0
    if floor.airflow_per_area is not None and floor.area is not None:
        by_area = floor.airflow_per_area.m3s * dwelling.floor_area.m2 / floor.area.m2
    least = floor.least.m3s if floor.least is not None else 0.0
    return Held(max(fan * (floor.share or 0.0), by_area, least), code.basis(floor.basis))


def _window(code: Code) -> tuple[float, Basis, Placing]:
    if code.run_time is not None:
        return code.run_time.segment.s, code.basis(code.run_time.basis), code.run_time.placing
    if code.window is not None:
        return code.window.length.s, code.basis(code.window.basis), code.window.placing
    return 0.0, code.basis(code.judged_basis), Placing.SLIDING


def own_requirement(airflow: Airflow, window_s: float, judged: Collection[Occupancy], counts: Counts) -> Requirement:
    """Return a project's own target as a requirement: an average over a window."""
    basis = Basis("the job's own target", Known.JOB)
    return Requirement(
        kind=CodeKind.AVERAGE,
        continuous_m3s=airflow.m3s,
        intermittent_m3s=airflow.m3s,
        window_s=window_s,
        counts=counts,
        judged=frozenset(judged),
        run_time=None,
        balanced=None,
        steps=(Step("the job's own target", airflow.m3s, basis),),
        basis=basis,
        window_basis=basis,
        total_m3s=airflow.m3s,
    )
