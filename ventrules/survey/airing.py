"""The week's airflow, moment by moment: blocks of one mode each, for exposure and for time without ventilation.

How a controller spreads a program's minutes within the cycle is not written anywhere. Here each cycle begins
with the mode, the stage with the most airflow runs first, and what is left of the cycle is off.
"""

from collections.abc import Mapping, Sequence

from attrs import frozen

from ventrules.job import Occupancy
from ventrules.survey.airflow import Delivery
from ventrules.survey.exposure import Block, Exposure, Flow, Homecoming, Unventilated, with_infiltration
from ventrules.survey.week import WEEK_MIN, Week
from ventrules.units import at_least, at_most

_MINUTE_S = 60.0


@frozen
class Airing:
    """What a week of airflow comes to in one season.

    Attributes:
        exposure: Relative exposure once the week has settled; None when there is no airflow at all.
        unventilated: Time without airflow.
        homecomings: What people find when they come.
    """

    exposure: Exposure | None
    unventilated: Unventilated
    homecomings: tuple[Homecoming, ...]


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
    if not all(at_least(d.cycle_s, cycle_s) and at_most(d.cycle_s, cycle_s) for d in deliveries):
        total = sum(delivery.average_m3s for delivery in deliveries)
        return (Flow(_with(total, infiltrating), cycle_s),)
    courses = [_course(delivery) for delivery in deliveries]
    edges = sorted({edge for course in courses for edge, _flow in course} | {cycle_s})
    flows, before = [], 0.0
    for edge in edges:
        if edge > before:
            total = sum(next((flow for end, flow in course if end > before), 0.0) for course in courses)
            flows.append(Flow(_with(total, infiltrating), edge - before))
            before = edge
    return tuple(flows)


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
    return tuple(
        Block(
            span.start % WEEK_MIN * _MINUTE_S,
            span.length * _MINUTE_S,
            cycles[span.mode],
            occupancies[span.mode] is not Occupancy.UNOCCUPIED,
        )
        for span in week.spans
    )
