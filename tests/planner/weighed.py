"""Strategies for requirements of every kind, and for ventilators whose airflow is near what is asked."""

from collections.abc import Sequence
from functools import cache
from typing import Final

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn, SearchStrategy

from tests.planner.planner import Kit
from ventrules.codes import Requirement, UnknownRequirementError, own_requirement, requirement
from ventrules.files import load_code
from ventrules.files.resources import code_names
from ventrules.job import Counts, Occupancy, Target
from ventrules.testing.targets import Home, needs_rooms
from ventrules.units import Airflow

OCCUPANCIES: Final = st.sampled_from(list(Occupancy))
_OWN: Final = own_requirement(Airflow.of(60.0, "cfm"), 4 * 3600.0, [Occupancy.OCCUPIED], Counts.SUPPLY)
_DAY: Final = own_requirement(Airflow.of(60.0, "cfm"), 24 * 3600.0, [Occupancy.OCCUPIED], Counts.SUPPLY)


@cache
def every_requirement() -> tuple[Requirement, ...]:
    """Return what every packaged code asks of one dwelling, and two targets of one's own."""
    found = [_OWN, _DAY]
    for name in code_names():
        code = load_code(name)
        dwelling = Home(1200, 3, metric=False, tall=True, rooms=needs_rooms(code)).dwelling()
        try:
            found.append(requirement(code, dwelling, Target(code=name)))
        except UnknownRequirementError:
            continue
    return tuple(found)


def requirements() -> SearchStrategy[Requirement]:
    """Strategy for requirements of every kind."""
    return st.sampled_from(every_requirement())


def levels(asked: Requirement) -> list[float]:
    """Return every airflow that a requirement compares with, m3/s."""
    every = [asked.continuous_m3s, asked.intermittent_m3s, *(asked.at(occupancy) for occupancy in Occupancy)]
    if asked.floor is not None:
        every.append(asked.floor.airflow_m3s)
    return sorted({level for level in every if level > 0.0})


@st.composite
def kits(draw: DrawFn, asked: Requirement, *, stages: int = 3, most_steps: int = 8) -> Kit:
    """Strategy for what a ventilator can be set to, its airflow at or near what is asked."""
    factors: Sequence[float] = asked.run_time.factors if asked.run_time is not None else (2.0, 4.0 / 3.0)
    near = st.sampled_from([level * factor for level in levels(asked) for factor in (1.0, 0.5, *factors)])
    flow = near | st.tuples(near, st.floats(0.3, 1.7)).map(lambda pair: pair[0] * pair[1])
    names = ["run", "low", "high"][: draw(st.integers(1, stages))]
    step_s = draw(st.sampled_from([300.0, 600.0, 900.0, 1200.0, 1800.0]))
    cycle_s = step_s * draw(st.integers(1, most_steps)) + draw(st.sampled_from([0.0, 0.0, 120.0]))
    flows = {name: draw(flow) for name in names}
    powers = {name: draw(st.sampled_from([0.0, 20.0, 35.5, 80.0])) for name in names}
    unbroken = frozenset(draw(st.sets(st.sampled_from(names)))) if draw(st.integers(0, 5)) == 5 else frozenset()
    return Kit(flows, powers, cycle_s, step_s, draw(st.integers(1, 3)), unbroken)
