"""What an edition asks: routes, run-time factors and credits together."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.codes.houses import CFM_M3S, CREDIT, EDITIONS, WITH_CREDIT, WITH_EQUATION, asked, house
from ventrules.codes import CodeKind, Counts, own_requirement, run_time_factor
from ventrules.files import load_code
from ventrules.job import Occupancy, Route
from ventrules.sources import Known
from ventrules.units import Airflow

HOUSE = house("2400 ft2", 3)


def _intermittent_cfm(code: str, route: Route, share: float, *, credit: bool = False) -> float:
    names = (CREDIT,) if credit else ()
    required = asked(code, HOUSE, route, claimed=names, earned=names)
    assert required.run_time is not None
    factor = run_time_factor(required.run_time, share)
    assert factor is not None
    return required.intermittent_m3s * factor / CFM_M3S


@pytest.mark.parametrize("code", WITH_CREDIT)
@pytest.mark.parametrize(
    ("route", "credit", "continuous", "at_33_percent"),
    [
        # DERIVED for 2,400 ft2 and 3 bedrooms: table 60, equation 54; x 0.7 with the credit of
        # M1505.4.3, Exception 1; x 3 at 33 % of each 4 h by Table M1505.4.3(2).
        (Route.TABLE, False, 60.0, 180.0),
        (Route.EQUATION, False, 54.0, 162.0),
        (Route.TABLE, True, 42.0, 126.0),
        (Route.EQUATION, True, 37.8, 113.4),
    ],
)
def test_one_house_by_every_way(
    code: str, route: Route, *, credit: bool, continuous: float, at_33_percent: float
) -> None:
    names = (CREDIT,) if credit else ()
    required = asked(code, HOUSE, route, claimed=names, earned=names)
    assert required.continuous_m3s / CFM_M3S == pytest.approx(continuous, rel=1e-12)
    assert _intermittent_cfm(code, route, 0.33, credit=credit) == pytest.approx(at_33_percent, rel=1e-12)


@pytest.mark.parametrize("code", EDITIONS)
def test_forty_percent_by_the_table(code: str) -> None:
    # DERIVED: 60 cfm x 2.5882 (linear between 33 and 50 %) = 155.29 cfm.
    assert _intermittent_cfm(code, Route.TABLE, 0.40) == pytest.approx(155.29, abs=0.005)


@pytest.mark.parametrize("code", EDITIONS)
def test_one_hour_in_four(code: str) -> None:
    # Lawrence Berkeley National Laboratory, guide to ventilation control strategies (archived 2016):
    # 1 h on and 3 h off takes four times the continuous airflow; 4 x 60 cfm (DERIVED).
    assert _intermittent_cfm(code, Route.TABLE, 0.25) == pytest.approx(240.0, rel=1e-12)


def test_2015_knows_the_table_only() -> None:
    # International Residential Code 2015, M1507.3.3: no equation.
    code = load_code("us-irc-2015")
    assert code.rate.equation is None
    assert code.rate.table is not None
    required = asked("us-irc-2015", HOUSE)
    assert required.continuous_m3s == required.intermittent_m3s == pytest.approx(60 * CFM_M3S)
    assert [step.basis.clause for step in required.steps] == ["Table M1507.3.3(1)"]


def test_2018_factors_multiply_the_table_rate() -> None:
    # International Residential Code 2018, M1505.4.3: the factor is applied to the rate of the table,
    # also where the continuous rate comes from the equation.
    required = asked("us-irc-2018", HOUSE, Route.EQUATION)
    assert required.continuous_m3s == pytest.approx(54 * CFM_M3S)
    assert required.intermittent_m3s == pytest.approx(60 * CFM_M3S)
    assert _intermittent_cfm("us-irc-2018", Route.EQUATION, 0.33) == pytest.approx(180.0)
    assert [step.basis.clause for step in required.steps] == ["Equation 15-1 of M1505.4.3", "Table M1505.4.3(1)"]


@pytest.mark.parametrize("code", WITH_CREDIT)
@pytest.mark.parametrize("route", list(Route))
def test_from_2021_factors_multiply_whichever_rate_is_used(code: str, route: Route) -> None:
    # International Residential Code 2021 and 2024, M1505.4.3, Exception 2.
    required = asked(code, HOUSE, route)
    assert required.intermittent_m3s == required.continuous_m3s


@pytest.mark.parametrize("code", ["us-irc-2015", "us-irc-2018"])
def test_no_credit_before_2021(code: str) -> None:
    # International Residential Code 2015, M1507.3.3; 2018, M1505.4.3: no reduction for balanced systems.
    assert not load_code(code).credits
    assert asked(code, HOUSE, claimed=(CREDIT,), earned=(CREDIT,)) == asked(code, HOUSE)


@pytest.mark.parametrize("code", WITH_CREDIT)
def test_the_credit_is_thirty_percent_off(code: str) -> None:
    # International Residential Code 2021 and 2024, M1505.4.3, Exception 1.
    credit = load_code(code).credits[CREDIT]
    assert (credit.factor, credit.basis.clause) == (0.7, "M1505.4.3, Exception 1")
    required = asked(code, HOUSE, Route.TABLE, claimed=(CREDIT,), earned=(CREDIT,))
    assert [step.basis.clause for step in required.steps] == ["Table M1505.4.3(1)", "M1505.4.3, Exception 1"]
    assert required.steps[-1].airflow_m3s == required.continuous_m3s


@pytest.mark.parametrize("code", WITH_CREDIT)
def test_a_credit_must_be_both_claimed_and_earned(code: str) -> None:
    plain = asked(code, HOUSE)
    assert asked(code, HOUSE, claimed=(CREDIT,)) == plain
    assert asked(code, HOUSE, earned=(CREDIT,)) == plain
    assert asked(code, HOUSE, claimed=("no such credit",), earned=("no such credit",)) == plain
    assert asked(code, HOUSE, claimed=(CREDIT, CREDIT), earned=(CREDIT,)) == asked(
        code, HOUSE, claimed=(CREDIT,), earned=(CREDIT,)
    )


@pytest.mark.parametrize(
    ("code", "counts"),
    [
        # International Residential Code 2021 and 2024, R202: airflow of a balanced system is the average
        # of supply and exhaust. 2015 and 2018 name none: the outdoor air supplied (common practice).
        ("us-irc-2015", Counts.SUPPLY),
        ("us-irc-2018", Counts.SUPPLY),
        ("us-irc-2021", Counts.MEAN),
        ("us-irc-2024", Counts.MEAN),
    ],
)
def test_what_counts_and_how_it_is_judged(code: str, counts: Counts) -> None:
    required = asked(code, HOUSE)
    assert required.counts is counts
    assert required.kind is CodeKind.SEGMENT_FACTORS
    assert required.window_s == 4 * 3600  # M1507.3.3 (2015), M1505.4.3 (2018 on): each 4-hour segment
    assert Occupancy.OCCUPIED in required.judged


def test_a_target_of_ones_own_rests_on_the_job() -> None:
    required = own_requirement(Airflow.parse("75 cfm"), 4 * 3600.0, [Occupancy.OCCUPIED], Counts.SUPPLY)
    assert required.kind is CodeKind.AVERAGE
    assert required.continuous_m3s == required.intermittent_m3s == pytest.approx(75 * CFM_M3S)
    assert required.basis.known is Known.JOB
    assert required.run_time is None
    assert required.judged == {Occupancy.OCCUPIED}


@given(
    st.sampled_from(EDITIONS),
    st.integers(1, 20_000),
    st.integers(0, 15),
    st.sampled_from([None, *Route]),
    st.booleans(),
)
def test_the_last_step_of_each_kind_is_the_requirement(
    code: str, area: int, bedrooms: int, route: Route | None, credit: bool
) -> None:
    names = (CREDIT,) if credit else ()
    required = asked(code, house(f"{area} ft2", bedrooms), route, claimed=names, earned=names)
    shown = {step.airflow_m3s for step in required.steps}
    assert {required.continuous_m3s, required.intermittent_m3s} <= shown
    assert all(step.basis.clause for step in required.steps)


@given(st.sampled_from(WITH_EQUATION), st.integers(1, 20_000), st.integers(0, 15), st.sampled_from(list(Route)))
def test_a_credit_scales_whatever_the_route_gives(code: str, area: int, bedrooms: int, route: Route) -> None:
    dwelling = house(f"{area} ft2", bedrooms)
    plain = asked(code, dwelling, route)
    credited = asked(code, dwelling, route, claimed=(CREDIT,), earned=(CREDIT,))
    factor = 0.7 if code in WITH_CREDIT else 1.0
    assert credited.continuous_m3s == pytest.approx(plain.continuous_m3s * factor, rel=1e-12)
    assert credited.intermittent_m3s == pytest.approx(plain.intermittent_m3s * factor, rel=1e-12)
