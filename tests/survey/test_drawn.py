"""The bound by which most supply nets need no voltages, held to the voltages."""

import math

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.survey.power_jobs import Drawn, cable, job, load, source, supply, trees
from ventrules import Survey
from ventrules.job import Job
from ventrules.rules import power
from ventrules.testing import jobs
from ventrules.units import at_least

FEW = settings(max_examples=min(settings().max_examples, 50))


def hold(survey: Survey) -> None:
    """Hold the bounds of all nets to what their voltages are."""
    for view in survey.supplies:
        assert view.drawing == tuple(draw.port for draw in view.draws)
        assert view.most_va >= view.taken_va * (1.0 - 1e-9)
        if view.surely_fed:
            windows = {draw.port: view.window(draw.port) for draw in view.draws}
            assert all(
                known is not None and at_least(view.voltages_v[port], known[0].lowest.v)
                for port, known in windows.items()
            )


@FEW
@given(trees())
def test_bounds_hold_on_any_tree(tree: Drawn) -> None:
    hold(Survey(tree.job))


@FEW
@given(jobs())
def test_bounds_hold_in_any_sound_job(job: Job) -> None:
    hold(Survey(job))


@given(st.integers(1, 470))
def test_a_cable_is_long_enough_for_the_bound_before_it_is_for_the_voltages(feet: int) -> None:
    view = supply(job({"source": source(), "load": load(20.0)}, [cable("source.out", "load.in", f"{feet} ft")]))
    too_low = next(rule for rule in power.RULES if rule.id == "power/voltage-too-low")
    if view.surely_fed:
        assert too_low.check(view) is None
    if feet < 100:
        assert view.surely_fed
    if too_low.check(view) is not None:
        assert not view.surely_fed
        assert math.isinf(view.most_va)
