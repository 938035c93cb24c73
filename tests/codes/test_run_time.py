"""Run-time factors: the residential code's, as the states take them over, and Washington's.

International Residential Code, Table M1507.3.3(2) (2015), M1505.4.3(2) (2018 on); WAC 51-51, M1505.4.3.2.
"""

import math
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.codes.houses import EDITIONS, STATES
from ventrules.codes import CodeKind, Placing, RunTime, run_time_factor
from ventrules.files import load_code
from ventrules.files.resources import code_names
from ventrules.units import Factor

# International Residential Code 2015, Table M1507.3.3(2); 2018, 2021, 2024, Table M1505.4.3(2):
# run time in each 4-hour segment, %, and the factor on the continuous rate.
PRINTED = ((25, "4"), (33, "3"), (50, "2"), (66, "1.5"), (75, "1.3"), (100, "1.0"))
# Washington Administrative Code 51-51, M1505.4.3.2: at least 2 h in each 4-hour segment.
WASHINGTON = "us-wa-2021"
WITH_TABLE = (*EDITIONS, *STATES, "us-ak-2018")
EVERY = (*WITH_TABLE, WASHINGTON)


def _run_time(code: str) -> RunTime:
    run = load_code(code).run_time
    assert run is not None
    return run


def _factor(code: str, share: float) -> float:
    factor = run_time_factor(_run_time(code), share)
    assert factor is not None
    return factor


def _least(code: str) -> float:
    return 0.5 if code == WASHINGTON else 0.25


def _interpolated(share: Fraction) -> Fraction:
    """Return the linear factor between two printed columns, in exact arithmetic."""
    columns = [(Fraction(percent, 100), Fraction(factor)) for percent, factor in PRINTED]
    (x0, y0), (x1, y1) = next(pair for pair in pairwise(columns) if pair[0][0] <= share <= pair[1][0])
    return (y0 * (x1 - share) + y1 * (share - x0)) / (x1 - x0)


@pytest.mark.parametrize("code", WITH_TABLE)
@pytest.mark.parametrize(("percent", "factor"), PRINTED)
def test_printed_column(code: str, percent: int, factor: str) -> None:
    # International Residential Code, Table M1507.3.3(2) (2015), Table M1505.4.3(2) (2018 on).
    assert run_time_factor(_run_time(code), percent / 100) == float(factor)


@pytest.mark.parametrize("code", WITH_TABLE)
@pytest.mark.parametrize(
    ("share", "factor"),
    [
        # Computed: linear between the printed columns, worked by hand to four decimals.
        (0.30, 3.375),
        (1 / 3, 2.9804),
        (0.40, 2.5882),
        (0.60, 1.6875),
        (2 / 3, 1.4852),
        (0.70, 1.4111),
        (0.90, 1.12),
    ],
)
def test_between_the_columns(code: str, share: float, factor: float) -> None:
    assert run_time_factor(_run_time(code), share) == pytest.approx(factor, abs=5e-5)


@pytest.mark.parametrize("code", WITH_TABLE)
@pytest.mark.parametrize("share", [0.0, 0.10, 0.24, 0.2499, 1.0001, 1.5])
def test_never_extrapolated(code: str, share: float) -> None:
    # International Residential Code, M1507.3.3 (2015), M1505.4.3 (2018 on): at least 25 % of each segment;
    # extrapolation is prohibited.
    assert run_time_factor(_run_time(code), share) is None


@pytest.mark.parametrize(("percent", "factor"), PRINTED)
def test_washington_begins_at_half(percent: int, factor: str) -> None:
    # WAC 51-51, M1505.4.3.2: x 2 at 50 %, 1.5 at 66 %, 1.3 at 75 %, 1.0 at 100 %; no extrapolation.
    found = run_time_factor(_run_time(WASHINGTON), percent / 100)
    assert found == (None if percent < 50 else float(factor))


@pytest.mark.parametrize("share", [0.0, 0.25, 0.45, 0.4999, 1.0001])
def test_washington_is_never_extrapolated(share: float) -> None:
    assert run_time_factor(_run_time(WASHINGTON), share) is None


@pytest.mark.parametrize("code", EVERY)
def test_segments_of_four_hours(code: str) -> None:
    run = _run_time(code)
    assert (run.segment.s, run.placing) == (4 * 3600, Placing.SLIDING)
    # The reading that segments may begin anywhere is said beside it.
    assert "segments slide" in run.basis.note


def test_no_code_with_factors_is_passed_over() -> None:
    assert {name for name in code_names() if load_code(name).kind is CodeKind.SEGMENT_FACTORS} == set(EVERY)


@pytest.mark.parametrize("code", EDITIONS)
def test_the_source_of_the_factors(code: str) -> None:
    clause = "Table M1507.3.3(2)" if code == "us-irc-2015" else "Table M1505.4.3(2)"
    assert _run_time(code).basis.clause == clause


@pytest.mark.parametrize("code", WITH_TABLE)
def test_one_hour_on_and_three_off(code: str) -> None:
    # Lawrence Berkeley National Laboratory, guide to ventilation control strategies (archived 2016):
    # a fan that runs 1 h of every 4 h needs four times the continuous airflow.
    assert run_time_factor(_run_time(code), 1 / 4) == 4.0


shares = st.floats(0.25, 1.0)


@given(st.sampled_from(EVERY), shares, shares)
def test_more_run_time_never_needs_a_larger_factor(code: str, one: float, other: float) -> None:
    less, more = sorted((max(one, _least(code)), max(other, _least(code))))
    assert _factor(code, less) >= _factor(code, more)


@given(st.sampled_from(EVERY), shares)
def test_agrees_with_exact_interpolation(code: str, share: float) -> None:
    share = max(share, _least(code))
    assert _factor(code, share) == pytest.approx(float(_interpolated(Fraction(share))), rel=1e-12)


@given(st.sampled_from(EVERY), shares)
def test_rounded_factors_give_at_most_two_and_a_half_percent_away(code: str, share: float) -> None:
    share = max(share, _least(code))
    # Computed from the printed cells: factor x share is least at 75 %, where 1.3 x 0.75 = 0.975.
    # The table is used as printed; 1.3 is never "corrected" to 1.333.
    assert _factor(code, share) * share >= 0.975 - 1e-12


@given(st.sampled_from(EVERY), shares)
def test_a_factor_lies_between_those_of_its_neighbors(code: str, share: float) -> None:
    run, share = _run_time(code), max(share, _least(code))
    factor = _factor(code, share)
    below = [f for s, f in zip(run.shares, run.factors, strict=True) if s <= share]
    above = [f for s, f in zip(run.shares, run.factors, strict=True) if s >= share]
    assert above[0] - 1e-12 <= factor <= below[-1] + 1e-12


@given(st.sampled_from(EVERY), st.floats(0.0, 1.0) | st.floats(-100.0, 100.0))
def test_there_is_a_factor_inside_the_table_and_nowhere_else(code: str, share: float) -> None:
    least = _least(code)
    dust = math.isclose(share, least, rel_tol=2e-9) or math.isclose(share, 1.0, rel_tol=2e-9)
    assert dust or (run_time_factor(_run_time(code), share) is not None) is (least <= share <= 1.0)


@st.composite
def _tables(draw: st.DrawFn) -> RunTime:
    shares = draw(st.lists(st.integers(1, 99), min_size=1, max_size=5, unique=True))
    factors = draw(st.lists(st.floats(1.0, 20.0), min_size=len(shares), max_size=len(shares)))
    run = _run_time("us-irc-2021")
    return RunTime(
        run.segment,
        (*(share / 100 for share in sorted(shares)), 1.0),
        (*(Factor(factor) for factor in sorted(factors, reverse=True)), Factor(1.0)),
        run.basis,
    )


@given(_tables(), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_any_falling_table_gives_falling_factors_and_its_own_cells(run: RunTime, one: float, other: float) -> None:
    for share, factor in zip(run.shares, run.factors, strict=True):
        assert run_time_factor(run, share) == factor
    less, more = sorted((max(one, run.shares[0]), max(other, run.shares[0])))
    low, high = run_time_factor(run, more), run_time_factor(run, less)
    assert low is not None
    assert high is not None
    assert low <= high * (1.0 + 1e-12)
