"""The homecoming that a message speaks of, against all of them."""

from hypothesis import given
from hypothesis import strategies as st

from tests.survey.test_exposure_laws import days_out, exposed, references, volumes, weeks
from ventrules.survey.exposure import Block, homecomings, worst_homecoming


@given(weeks(longest=1500, longest_cycle=600) | days_out(), references, volumes, st.floats(0.2, 2.0))
def test_the_worst_homecoming_is_one_of_all_and_the_worst(
    blocks: list[Block], reference: float, volume: float, recovered: float
) -> None:
    exposure = exposed(blocks, reference, volume)
    every = homecomings(blocks, exposure, reference, volume, recovered)
    worst = worst_homecoming(blocks, exposure, reference, volume, recovered)
    if not every:
        assert worst is None
        return
    assert worst in every
    assert worst == max(every, key=lambda home: (float(f"{home.exposure:.9g}"), -home.at_s))
