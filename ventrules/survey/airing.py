"""The week's airflow, moment by moment: blocks of one mode each, for exposure and for time without ventilation.

How a controller spreads a program's minutes within the cycle is not written anywhere. Here each cycle begins
with the mode, the stage with the most airflow runs first, and what is left of the cycle is off.
"""

from collections.abc import Mapping, Sequence
from functools import lru_cache

from attrs import field, frozen

from ventrules.engine.once import once
from ventrules.job import Occupancy
from ventrules.survey.airflow import Delivery
from ventrules.survey.exposure import (
    Block,
    Exposure,
    Flow,
    Homecoming,
    Unventilated,
    homecomings,
    unventilated,
    with_infiltration,
    worst_homecoming,
)
from ventrules.survey.week import FEW_SPANS, WEEK_MIN, Week
from ventrules.units import at_least, at_most

_MINUTE_S = 60.0


@frozen(eq=False, slots=False)
class Airing:
    """What a week of airflow comes to in one season.

    Attributes:
        blocks: The week's total airflow.
        fans: The same without infiltration, which is no ventilation.
        exposure: Relative exposure once the week has settled; None when there is no airflow at all.
        reference_m3s: The required total airflow, infiltration included, m3/s.
        volume_m3: The dwelling's volume, m3.
        recovered: Relative exposure at or below which air counts as fresh again.
    """

    blocks: tuple[Block, ...] = field(repr=False)
    fans: tuple[Block, ...] = field(repr=False)
    exposure: Exposure | None
    reference_m3s: float
    volume_m3: float
    recovered: float

    @once
    def unventilated(self) -> Unventilated:
        """Time without airflow."""
        return unventilated(self.fans)

    @once
    def homecomings(self) -> tuple[Homecoming, ...]:
        """What people find when they come; empty when there is no airflow at all."""
        if self.exposure is None:
            return ()
        return homecomings(self.blocks, self.exposure, self.reference_m3s, self.volume_m3, self.recovered)

    @once
    def worst_homecoming(self) -> Homecoming | None:
        """The one of them at which the air is worst; None when there is none."""
        if self.exposure is None:
            return None
        return worst_homecoming(self.blocks, self.exposure, self.reference_m3s, self.volume_m3, self.recovered)


@frozen
class Infiltrating:
    """Infiltration that adds to the fans.

    Attributes:
        airflow_m3s: Infiltration, m3/s.
        balanced: True when every stage in use is balanced.
    """

    airflow_m3s: float
    balanced: bool


def cycle_of(deliveries: Sequence[Delivery], infiltrating: Infiltrating) -> tuple[Flow, ...]:
    """Return one cycle of all ventilators together, the most airflow first, infiltration added.

    Ventilators whose cycles differ in length are taken at their averages.
    """
    cycle_s = deliveries[0].cycle_s
    if not all(at_least(d.cycle_s, cycle_s) and at_most(d.cycle_s, cycle_s) for d in deliveries[1:]):
        total = sum(delivery.average_m3s for delivery in deliveries)
        return (Flow(_with(total, infiltrating), cycle_s),)
    courses = [_course(delivery) for delivery in deliveries]
    edges = sorted({edge for course in courses for edge, _flow in course} | {cycle_s})
    flows, before = [], 0.0
    for edge in edges:
        if edge > before:
            total = sum([_flow_after(course, before) for course in courses])
            flows.append(Flow(_with(total, infiltrating), edge - before))
            before = edge
    return tuple(flows)


def _flow_after(course: Sequence[tuple[float, float]], at_s: float) -> float:
    for end, flow in course:
        if end > at_s:
            return flow
    return 0.0


def _course(delivery: Delivery) -> list[tuple[float, float]]:
    """Return the end of each run in the cycle, s, and its airflow, m3/s."""
    ends, at_s = [], 0.0
    for run in sorted(delivery.runs, key=lambda run: -run.airflow_m3s):
        at_s += run.time_s
        ends.append((at_s, run.airflow_m3s))
    return ends


def _with(fan_m3s: float, infiltrating: Infiltrating) -> float:
    return with_infiltration(fan_m3s, infiltrating.airflow_m3s, balanced=infiltrating.balanced)


def blocks_of(
    week: Week, cycles: Mapping[str, tuple[Flow, ...]], occupancies: Mapping[str, Occupancy]
) -> tuple[Block, ...] | None:
    """Return the week as blocks of one mode each, or None where the calendar has gaps or a mode is unknown.

    Args:
        week: The week.
        cycles: Each mode's cycle.
        occupancies: Each mode's occupancy.
    """
    if week.gaps or not week.spans or not week.modes <= cycles.keys():
        return None
    of_modes = tuple([(mode, cycles[mode], occupancies[mode] is not Occupancy.UNOCCUPIED) for mode in week.modes])
    few = len(week.spans) <= FEW_SPANS
    return _blocks_of(week, of_modes) if few else _blocks_of.__wrapped__(week, of_modes)


@lru_cache(maxsize=64)
def _blocks_of(week: Week, of_modes: tuple[tuple[str, tuple[Flow, ...], bool], ...]) -> tuple[Block, ...]:
    """Return the blocks, given each mode's cycle and whether people are there; homes of a district share many."""
    of_mode = {mode: (cycle, present) for mode, cycle, present in of_modes}
    return tuple(
        [
            Block(start % WEEK_MIN * _MINUTE_S, (end - start) * _MINUTE_S, *of_mode[mode])
            for start, end, mode in week.spans
        ]
    )
