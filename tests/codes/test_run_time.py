"""Run-time factors of the International Residential Code: Table M1507.3.3(2) (2015), M1505.4.3(2) (2018 on)."""

import math
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.codes.houses import EDITIONS
from ventrules.codes import RunTime, run_time_factor
from ventrules.files import load_code

# International Residential Code 2015, Table M1507.3.3(2); 2018, 2021, 2024, Table M1505.4.3(2):
# run time in each 4-hour segment, %, and the factor on the continuous rate.
PRINTED = ((25, "4"), (33, "3"), (50, "2"), (66, "1.5"), (75, "1.3"), (100, "1.0"))


def _run_time(code: str) -> RunTime:
    run = load_code(code).run_time
    assert run is not None
    return run


def _factor(code: str, share: float) -> float:
    factor = run_time_factor(_run_time(code), share)
    assert factor is not None
    return factor


def _interpolated(share: Fraction) -> Fraction:
    """Return the linear factor between two printed columns, in exact arithmetic."""
    columns = [(Fraction(percent, 100), Fraction(factor)) for percent, factor in PRINTED]
    (x0, y0), (x1, y1) = next(pair for pair in pairwise(columns) if pair[0][0] <= share <= pair[1][0])
    return (y0 * (x1 - share) + y1 * (share - x0)) / (x1 - x0)


@pytest.mark.parametrize("code", EDITIONS)
@pytest.mark.parametrize(("percent", "factor"), PRINTED)
def test_printed_column(code: str, percent: int, factor: str) -> None:
    # International Residential Code, Table M1507.3.3(2) (2015), Table M1505.4.3(2) (2018 on).
    assert run_time_factor(_run_time(code), percent / 100) == float(factor)


@pytest.mark.parametrize("code", EDITIONS)
@pytest.mark.parametrize(
    ("share", "factor"),
    [
        # DERIVED: linear between the printed columns, worked by hand to four decimals.
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


@pytest.mark.parametrize("code", EDITIONS)
@pytest.mark.parametrize("share", [0.0, 0.10, 0.24, 0.2499, 1.0001, 1.5])
def test_never_extrapolated(code: str, share: float) -> None:
    # International Residential Code, M1507.3.3 (2015), M1505.4.3 (2018 on): at least 25 % of each segment;
    # extrapolation is prohibited.
    assert run_time_factor(_run_time(code), share) is None


@pytest.mark.parametrize("code", EDITIONS)
def test_the_segment_and_its_source(code: str) -> None:
    run = _run_time(code)
    assert run.segment.s == 4 * 3600
    assert run.basis.clause == ("Table M1507.3.3(2)" if code == "us-irc-2015" else "Table M1505.4.3(2)")


@pytest.mark.parametrize("code", EDITIONS)
def test_one_hour_on_and_three_off(code: str) -> None:
    # Lawrence Berkeley National Laboratory, guide to ventilation control strategies (archived 2016):
    # a fan that runs 1 h of every 4 h needs four times the continuous airflow.
    assert run_time_factor(_run_time(code), 1 / 4) == 4.0


shares = st.floats(0.25, 1.0)


@given(st.sampled_from(EDITIONS), shares, shares)
def test_more_run_time_never_needs_a_larger_factor(code: str, one: float, other: float) -> None:
    less, more = sorted((one, other))
    assert _factor(code, less) >= _factor(code, more)


@given(st.sampled_from(EDITIONS), shares)
def test_agrees_with_exact_interpolation(code: str, share: float) -> None:
    assert _factor(code, share) == pytest.approx(float(_interpolated(Fraction(share))), rel=1e-12)


@given(st.sampled_from(EDITIONS), shares)
def test_rounded_factors_give_at_most_two_and_a_half_percent_away(code: str, share: float) -> None:
    # DERIVED from the printed cells: factor x share is least at 75 %, where 1.3 x 0.75 = 0.975.
    # The table is used as printed; 1.3 is never "corrected" to 1.333.
    assert _factor(code, share) * share >= 0.975 - 1e-12


@given(st.sampled_from(EDITIONS), st.floats(0.0, 1.0) | st.floats(-100.0, 100.0))
def test_there_is_a_factor_inside_the_table_and_nowhere_else(code: str, share: float) -> None:
    inside = 0.25 <= share <= 1.0
    dust = math.isclose(share, 0.25, rel_tol=2e-9) or math.isclose(share, 1.0, rel_tol=2e-9)
    assert dust or (run_time_factor(_run_time(code), share) is not None) is inside
