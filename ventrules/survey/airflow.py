"""Delivered airflow: from the stages of a ventilator and a program to what counts toward the target.

Net supply airflow is gross supply x (1 - EATR): the outdoor air actually delivered (definition as in
ANSI/ASHRAE 84, from memory).
"""

from collections.abc import Sequence
from functools import cached_property

from attrs import frozen

from ventrules.codes import Counts, Requirement, run_time_factor
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

    @cached_property
    def run_s(self) -> float:
        """Time of each cycle in which it runs, s."""
        return sum(run.time_s for run in self.runs)

    @property
    def share(self) -> float:
        """Share of time in which it runs."""
        return self.run_s / self.cycle_s

    @cached_property
    def average_m3s(self) -> float:
        """Average over a cycle, m3/s."""
        return sum(run.airflow_m3s * run.time_s for run in self.runs) / self.cycle_s

    @property
    def running_m3s(self) -> float:
        """Average while it runs, m3/s; 0 when it never does."""
        return self.average_m3s / self.share if self.runs and self.run_s > 0.0 else 0.0

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


@frozen
class Judged:
    """What a dwelling's programs of one mode and season amount to under its requirement, m3/s.

    Attributes:
        delivered_m3s: Plain average of the airflow that counts.
        equivalent_m3s: The same as a continuous airflow by the requirement's own rules: the least average
            over its window, or the airflow while running divided by the run-time factor.
        required_m3s: What the equivalent is compared with.
        least_share: Least share of run time in a segment, over the ventilators that run.
        too_short: True when run-time factors apply and a share is below the least that they allow.
    """

    delivered_m3s: float
    equivalent_m3s: float
    required_m3s: float
    least_share: float
    too_short: bool


def judged(deliveries: Sequence[Delivery], requirement: Requirement) -> Judged:
    """Return what several ventilators' programs amount to together.

    Under run-time factors each ventilator's equivalent is worked out by its own run time and the
    equivalents are added; the texts do not speak of several ventilators.
    """
    equivalent, shares, too_short = 0.0, [], False
    intermittent = False
    for delivery in deliveries:
        if not delivery.runs:
            continue
        least, share = _equivalent(delivery, requirement)
        shares.append(share)
        intermittent = intermittent or not at_least(share, 1.0)
        if least is None:
            too_short = True
        else:
            equivalent += least
    factored = intermittent and requirement.run_time is not None
    return Judged(
        delivered_m3s=sum(delivery.average_m3s for delivery in deliveries),
        equivalent_m3s=equivalent,
        required_m3s=requirement.intermittent_m3s if factored else requirement.continuous_m3s,
        least_share=min(shares, default=0.0),
        too_short=too_short,
    )


def _equivalent(delivery: Delivery, requirement: Requirement) -> tuple[float | None, float]:
    share = min(delivery.least_share(requirement.window_s), 1.0)
    average = delivery.least_average_m3s(requirement.window_s)
    if requirement.run_time is None:
        return average, share
    factor = run_time_factor(requirement.run_time, share)
    return (average / share / factor if factor else None), share
