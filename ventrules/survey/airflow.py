"""Delivered airflow: from the stages of a ventilator and a program to what counts toward the target.

Net supply airflow is gross supply x (1 - EATR): the outdoor air actually delivered (definition as in
ANSI/ASHRAE 84, from memory).
"""

from collections.abc import Sequence

import attrs
from attrs import frozen

from ventrules.codes import CodeKind, Requirement, run_time_factor
from ventrules.engine.once import once
from ventrules.job import Counts, Occupancy
from ventrules.units import at_least


@frozen
class StageFlow:
    """Airflow of one stage of one ventilator, m3/s.

    Attributes:
        stage: The stage's name.
        supply_m3s: Gross supply airflow.
        exhaust_m3s: Exhaust airflow.
        net_supply_m3s: Supply less the exhaust air that comes back with it.
        measured: True when it was measured on site, False when it is the catalog's.
    """

    stage: str
    supply_m3s: float
    exhaust_m3s: float
    net_supply_m3s: float
    measured: bool

    def counted(self, counts: Counts) -> float:
        """Return the airflow that counts, m3/s."""
        supply, exhaust = self.net_supply_m3s, self.exhaust_m3s
        if counts is Counts.SUPPLY:
            return supply
        if counts is Counts.EXHAUST:
            return exhaust
        if counts is Counts.LESSER:
            return min(supply, exhaust)
        return max(supply, exhaust) if counts is Counts.LARGER else (supply + exhaust) / 2.0


@frozen
class Run:
    """One stage's share in a program: the airflow that counts, and its time in each cycle.

    Attributes:
        stage: The stage's name.
        airflow_m3s: The airflow that counts, m3/s.
        time_s: Its time in each cycle, s.
    """

    stage: str
    airflow_m3s: float
    time_s: float


@frozen(slots=False)
class Delivery:
    """What one ventilator delivers by one program.

    Attributes:
        runs: The stages that run.
        cycle_s: Length of the cycle, s.
    """

    runs: tuple[Run, ...]
    cycle_s: float

    @once
    def run_s(self) -> float:
        """Time of each cycle in which it runs, s."""
        return sum(run.time_s for run in self.runs)

    @property
    def share(self) -> float:
        """Share of time in which it runs."""
        return self.run_s / self.cycle_s

    @once
    def average_m3s(self) -> float:
        """Average over a cycle, m3/s."""
        return sum(run.airflow_m3s * run.time_s for run in self.runs) / self.cycle_s

    @property
    def least_m3s(self) -> float:
        """The least airflow at any moment, m3/s: nothing as soon as it stops once in a cycle."""
        if not self.runs or not at_least(self.run_s, self.cycle_s):
            return 0.0
        return min(run.airflow_m3s for run in self.runs)

    def least_average_m3s(self, window_s: float) -> float:
        """Return the least average over a window of this length, wherever it falls, m3/s.

        Whole cycles count in full. In what is left of the window the least airtime is assumed, since
        nothing says how a controller spreads the minutes within the cycle.
        """
        whole, rest_s = divmod(window_s, self.cycle_s)
        air_m3 = whole * self.average_m3s * self.cycle_s
        left_s = rest_s - max(self.cycle_s - self.run_s, 0.0)
        for run in sorted(self.runs, key=lambda run: run.airflow_m3s):
            if left_s <= 0.0:
                break
            taken_s = min(run.time_s, left_s)
            air_m3 += run.airflow_m3s * taken_s
            left_s -= taken_s
        return air_m3 / window_s

    def least_share(self, window_s: float) -> float:
        """Return the least share of run time over a window of this length, wherever it falls."""
        whole, rest_s = divmod(window_s, self.cycle_s)
        run_s = whole * self.run_s + max(rest_s - max(self.cycle_s - self.run_s, 0.0), 0.0)
        return run_s / window_s


@frozen(slots=False)
class Judged:
    """What a dwelling's ventilators amount to together under its requirement, m3/s.

    Attributes:
        delivered_m3s: Plain average of the airflow that counts.
        equivalent_m3s: The same as a continuous airflow by the requirement's own rules: the average, or the
            airflow while running divided by the run-time factor.
        required_m3s: What the equivalent is compared with.
        least_share: Least share of run time, over the ventilators that run.
        factors: Run-time factor of each ventilator that runs; empty where none applies.
        too_short: True when a share is below the least that the requirement allows.
        least_m3s: The least airflow at any moment; of several ventilators, the sum of each one's least.
        floor_m3s: What is held at every moment under an average; 0 where nothing is.
    """

    delivered_m3s: float
    equivalent_m3s: float
    required_m3s: float
    least_share: float
    factors: tuple[float, ...]
    too_short: bool
    least_m3s: float = 0.0
    floor_m3s: float = 0.0

    @once
    def enough(self) -> bool:
        """True when the requirement is met."""
        return not self.too_short and self.above_floor and at_least(self.equivalent_m3s, self.required_m3s)

    @once
    def above_floor(self) -> bool:
        """True when the airflow never falls below the floor."""
        return at_least(self.least_m3s, self.floor_m3s)


@frozen
class Part:
    """One ventilator's airflow and run time over some stretch of time: averages."""

    average_m3s: float
    share: float


def judged(
    deliveries: Sequence[Delivery], requirement: Requirement, occupancy: Occupancy = Occupancy.OCCUPIED
) -> Judged:
    """Return what several ventilators' programs amount to together in one mode, in its worst window.

    Args:
        deliveries: What each ventilator delivers.
        requirement: The requirement.
        occupancy: The mode's occupancy, for a requirement with a level for each.
    """
    delivered = sum(delivery.average_m3s for delivery in deliveries)
    least = sum(delivery.least_m3s for delivery in deliveries)
    running = [delivery for delivery in deliveries if delivery.runs]
    if requirement.unbroken or requirement.kind is CodeKind.CAPACITY:
        share = min((min(delivery.share, 1.0) for delivery in running), default=0.0)
        return Judged(delivered, least, requirement.at(occupancy), share, (), too_short=False, least_m3s=least)
    window_s = requirement.window_s
    parts = [
        Part(delivery.least_average_m3s(window_s), min(delivery.least_share(window_s), 1.0)) for delivery in running
    ]
    found = combined(parts, requirement, delivered)
    if requirement.floor is None:
        return found
    return attrs.evolve(found, least_m3s=least, floor_m3s=requirement.floor.airflow_m3s)


class Amounts:
    """What the ventilators of one job deliver, and what that amounts to: for modes that are alike, worked out once."""

    def __init__(self) -> None:
        self._known: dict[tuple[int, ...], tuple[Delivery, ...]] = {}
        self._judged: dict[tuple[int, Occupancy], Judged] = {}

    def same(self, deliveries: tuple[Delivery, ...]) -> tuple[Delivery, ...]:
        """Return what was given first of the same deliveries, so that the same object tells that they are the same."""
        return self._known.setdefault(tuple(map(id, deliveries)), deliveries)

    def judged(self, deliveries: tuple[Delivery, ...], requirement: Requirement, occupancy: Occupancy) -> Judged:
        """Return what deliveries, as `same` gives them, amount to under the job's requirement in one occupancy."""
        found = self._judged.get((id(deliveries), occupancy))
        if found is None:
            found = self._judged[id(deliveries), occupancy] = judged(deliveries, requirement, occupancy)
        return found


def combined(parts: Sequence[Part], requirement: Requirement, delivered_m3s: float) -> Judged:
    """Return what several ventilators amount to together, given their airflow and run time.

    Under run-time factors each ventilator's equivalent is worked out by its own run time and the
    equivalents are added; the texts do not speak of several ventilators. Ventilators that never stop and
    meet the continuous rate by themselves settle the matter.
    """
    run = requirement.run_time
    if run is None:
        least = min((part.share for part in parts), default=0.0)
        total = sum(part.average_m3s for part in parts)
        short = not at_least(sum(part.share for part in parts), requirement.least_share)
        return Judged(delivered_m3s, total, requirement.continuous_m3s, least, (), too_short=short)
    steady = sum(part.average_m3s for part in parts if at_least(part.share, 1.0))
    if at_least(steady, requirement.continuous_m3s):
        return Judged(delivered_m3s, steady, requirement.continuous_m3s, 1.0, (1.0,), too_short=False)
    factors = [run_time_factor(run, part.share) for part in parts]
    return Judged(
        delivered_m3s=delivered_m3s,
        equivalent_m3s=sum(
            part.average_m3s / part.share / factor for part, factor in zip(parts, factors, strict=True) if factor
        ),
        required_m3s=requirement.continuous_m3s
        if all(at_least(part.share, 1.0) for part in parts)
        else requirement.intermittent_m3s,
        least_share=min((part.share for part in parts), default=0.0),
        factors=tuple(factor for factor in factors if factor is not None),
        too_short=None in factors,
    )


def over_modes(means: Sequence[float], requirement: Requirement) -> float:
    """Return the part of what is required over a window that spans modes; less than 1 when it is missed.

    Args:
        means: Mean over the window of the modes' equivalents, then of airflow and run-time share of each
            ventilator.
        requirement: The requirement.

    Where run-time factors apply, two readings are possible: the factor for the run time of the window as a
    whole, or each mode's equivalent by its own run time. The window passes when either is met; a run time of
    all ventilators together below the least allowed fails by both.
    """
    equivalent, *rest = means
    parts = [Part(rest[index], min(rest[index + 1], 1.0)) for index in range(0, len(rest), 2)]
    if not at_least(sum(part.share for part in parts), requirement.least_share):
        return 0.0
    if requirement.run_time is None:
        return equivalent / requirement.continuous_m3s if requirement.continuous_m3s > 0.0 else 1.0
    whole = combined([part for part in parts if part.share > 0.0], requirement, 0.0)
    return max(whole.equivalent_m3s, equivalent) / whole.required_m3s if whole.required_m3s > 0.0 else 1.0
