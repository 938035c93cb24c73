"""Worked numbers of United States codes: published ones, and ones computed from the published rules."""

from fractions import Fraction

import attrs
import pytest

from tests.codes.county import SEEN, county
from tests.codes.houses import (
    CFM_M3S,
    CREDIT,
    EDITIONS,
    LS_M3S,
    STANDARD,
    STATES,
    STATES_WITH_CREDIT,
    WITH_CREDIT,
    WITH_EQUATION,
    asked,
    equation_cfm,
    house,
    table_cfm,
)
from ventrules.codes import CodeKind, Requirement, System, requirement, run_time_factor
from ventrules.files import load_code, parse_code
from ventrules.job import Dwelling, Route, Target
from ventrules.units import Area

HOUSE = house("2400 ft2", 3)
FIFTEEN_ONE = (*WITH_EQUATION, *STATES)


def _at(required: Requirement, share: float) -> float | None:
    """Return the airflow needed at a share of run time, cfm, or None outside the table."""
    assert required.run_time is not None
    factor = run_time_factor(required.run_time, share)
    return None if factor is None else required.intermittent_m3s * factor / CFM_M3S


# The equation of the residential code, of programs and of ASHRAE 62.2-2010


@pytest.mark.parametrize("code", [*FIFTEEN_ONE, "ashrae-62.2-2010", "us-imc-2024"])
@pytest.mark.parametrize(
    ("area", "bedrooms", "rate"),
    [
        # Reference rates of ENERGY STAR and Zero Energy Ready homes in the tests of the National Renewable Energy
        # Laboratory's rating library: 0.01 x ft2 + 7.5 x (bedrooms + 1).
        ("2700 ft2", 3, 57.0),
        ("2700 ft2", 5, 72.0),
        ("1350 ft2", 3, 43.5),
        ("900 ft2", 3, 39.0),
        # A home-inspection trade article works the equation of the residential code: 50 cfm. (It misquotes the
        # section and the averaging period; the number is right.)
        ("2000 ft2", 3, 50.0),
        # A weatherization sheet of Vermont by the form of ASHRAE 62.2-2003: 57.5 cfm by bedrooms + 1.
        ("2000 ft2", 4, 57.5),
        # Computed from Equation 15-1 of M1505.4.3.
        ("2400 ft2", 3, 54.0),
        ("1500 ft2", 3, 45.0),
        ("10000 ft2", 3, 130.0),
    ],
)
def test_one_hundredth_of_the_area_and_seven_and_a_half_for_each(
    code: str, area: str, bedrooms: int, rate: float
) -> None:
    assert equation_cfm(code, house(area, bedrooms)) == pytest.approx(rate, rel=1e-12)


def test_the_sheet_by_people_who_live_there() -> None:
    # The same weatherization sheet of Vermont, three occupants instead of bedrooms + 1: 42.5 cfm.
    text = county(
        "continuous",
        rate=f"""
[rate.equation]
airflow_per_area = "0.01 cfm"
area = "1 ft2"
airflow_per_occupant = "7.5 cfm"
basis = {SEEN}
""",
    )
    code = parse_code(text, "county.toml")
    home = attrs.evolve(house("2000 ft2", 4), occupants=3)
    assert requirement(code, home, Target(code="county.toml")).continuous_m3s == pytest.approx(42.5 * CFM_M3S)
    unknown = requirement(code, house("2000 ft2", 4), Target(code="county.toml"))
    assert unknown.continuous_m3s == pytest.approx(57.5 * CFM_M3S)


def test_one_bedroom_at_least_or_not() -> None:
    # Computed: the residential equation has no least count of bedrooms, ASHRAE 62.2 and California have one.
    assert equation_cfm("us-irc-2021", house("1000 ft2", 0)) == pytest.approx(17.5)
    assert equation_cfm("ashrae-62.2-2010", house("1000 ft2", 0)) == pytest.approx(25.0)
    for code in (*STANDARD, "us-ca-2019", "us-ca-2022"):
        assert equation_cfm(code, house("1000 ft2", 0)) == pytest.approx(45.0)


@pytest.mark.parametrize("code", FIFTEEN_ONE)
def test_table_and_equation_side_by_side(code: str) -> None:
    # Computed from Table M1505.4.3(1) and Equation 15-1; upper areas inclusive.
    for area, bedrooms, table, equation in (
        ("2400 ft2", 3, 60.0, 54.0),
        ("1500 ft2", 3, 45.0, 45.0),
        ("10000 ft2", 3, 120.0, 130.0),  # outside the grid the table may be the lower of the two
        ("3000 ft2", 12, 105.0, 127.5),
    ):
        dwelling = house(area, bedrooms)
        assert table_cfm(code, dwelling) == pytest.approx(table, rel=1e-12)
        assert equation_cfm(code, dwelling) == pytest.approx(equation, rel=1e-12)
        assert asked(code, dwelling).continuous_m3s == pytest.approx(min(table, equation) * CFM_M3S, rel=1e-12)


@pytest.mark.parametrize("code", WITH_EQUATION)
def test_the_equation_is_named(code: str) -> None:
    assert asked(code, HOUSE, Route.EQUATION).basis.clause == "Equation 15-1 of M1505.4.3"


# ASHRAE 62.2 since 2013


@pytest.mark.parametrize("code", [*STANDARD, "us-ca-2019", "us-ca-2022"])
@pytest.mark.parametrize(
    ("area", "bedrooms", "rate", "metric_l_s"),
    [
        # Total rate of the sample house in the tests of the rating library: 111.0 cfm; the others computed from
        # Eq. 4.1a, 0.03 x ft2 + 7.5 x (bedrooms + 1), and Eq. 4.1b, 0.15 x m2 + 3.5 x (bedrooms + 1).
        (2700, 3, 111.0, 51.626),
        (900, 1, 42.0, 19.542),
        (1500, 2, 67.5, 31.403),
        (2000, 3, 90.0, 41.871),
        (4500, 5, 180.0, 83.710),
    ],
)
def test_total_rate(code: str, area: int, bedrooms: int, rate: float, metric_l_s: float) -> None:
    assert equation_cfm(code, house(f"{area} ft2", bedrooms)) == pytest.approx(rate, rel=1e-12)
    metric = asked(code, house(f"{area * 0.09290304:.8f} m2", bedrooms), Route.EQUATION)
    if load_code(code).metric_rate is None:
        assert metric.continuous_m3s == pytest.approx(rate * CFM_M3S, rel=1e-9)
    else:
        assert metric.continuous_m3s == pytest.approx(metric_l_s * LS_M3S, abs=0.0006 * LS_M3S)


@pytest.mark.parametrize("code", ["ashrae-62.2-2010", *STANDARD])
def test_more_people_than_bedrooms_and_one(code: str) -> None:
    # ASHRAE 62.2, 4.1 (from memory): 7.5 cfm or 3.5 L/s for each known occupant beyond bedrooms + 1; none less.
    for dwelling, each in ((house("2000 ft2", 3), 7.5 * CFM_M3S), (house("200 m2", 3), 3.5 * LS_M3S)):
        plain = asked(code, dwelling, Route.EQUATION).continuous_m3s
        for people, more in ((0, 0), (1, 0), (4, 0), (5, 1), (9, 5)):
            required = asked(code, attrs.evolve(dwelling, occupants=people), Route.EQUATION)
            assert required.continuous_m3s == pytest.approx(plain + more * each, rel=1e-12)
    # A studio is designed for two people, as a dwelling with one bedroom is.
    studio = attrs.evolve(house("400 ft2", 0), occupants=3)
    assert asked(code, studio, Route.EQUATION).continuous_m3s == pytest.approx(
        asked(code, house("400 ft2", 1), Route.EQUATION).continuous_m3s + 7.5 * CFM_M3S
    )


def test_2013_is_2010_with_its_default_infiltration() -> None:
    # Computed: 0.03 = 0.01 + 0.02 cfm for 1 ft2, 0.15 = 0.05 + 0.10 L/s for 1 m2.
    for dwelling, default in ((house("2400 ft2", 3), 48 * CFM_M3S), (house("220 m2", 3), 22 * LS_M3S)):
        fan = asked("ashrae-62.2-2010", dwelling, Route.EQUATION).continuous_m3s
        assert asked("ashrae-62.2-2013", dwelling, Route.EQUATION).continuous_m3s == pytest.approx(fan + default)


# Intermittent operation of the residential code


@pytest.mark.parametrize("code", [*WITH_CREDIT, "us-ny-2024", "us-or-2021"])
@pytest.mark.parametrize(
    ("route", "credit", "continuous", "at_33_percent"),
    [
        # Computed for 2,400 ft2 and 3 bedrooms: table 60, equation 54; x 0.7 with the credit of M1505.4.3,
        # Exception 1; x 3 at 33 % of each 4 h by Table M1505.4.3(2).
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
    assert _at(required, 0.33) == pytest.approx(at_33_percent, rel=1e-12)


@pytest.mark.parametrize("code", [*EDITIONS, *STATES])
def test_forty_percent_by_the_table_and_less_than_a_quarter_by_none(code: str) -> None:
    # Computed: 60 cfm x 2.5882 (linear between 33 and 50 %) = 155.29 cfm; below 25 % there is no factor.
    assert _at(asked(code, HOUSE, Route.TABLE), 0.40) == pytest.approx(155.29, abs=0.005)
    assert _at(asked(code, HOUSE, Route.TABLE), 0.24) is None


@pytest.mark.parametrize("code", [*EDITIONS, *STATES])
def test_one_hour_in_four(code: str) -> None:
    # Lawrence Berkeley National Laboratory, guide to ventilation control strategies (archived 2016):
    # 1 h on and 3 h off takes four times the continuous airflow; 4 x 60 cfm (computed).
    assert _at(asked(code, HOUSE, Route.TABLE), 0.25) == pytest.approx(240.0, rel=1e-12)


@pytest.mark.parametrize("code", ["us-irc-2018", "us-nc-2021", "us-fl-2023"])
def test_factors_of_some_multiply_the_table_rate_only(code: str) -> None:
    # International Residential Code 2018, M1505.4.3; North Carolina, based on 2021; Florida 2023, M1507.3:
    # the factor is applied to the rate of the table, also where the continuous rate comes from the equation.
    required = asked(code, HOUSE, Route.EQUATION)
    assert required.continuous_m3s == pytest.approx(54 * CFM_M3S)
    assert required.intermittent_m3s == pytest.approx(60 * CFM_M3S)
    assert _at(required, 0.33) == pytest.approx(180.0)


def test_florida_gives_its_credit_to_the_continuous_rate_only() -> None:
    # Florida Building Code, Residential 2023, M1507.3: the exception for intermittent operation names the table.
    for route, continuous in ((Route.TABLE, 42.0), (Route.EQUATION, 37.8)):
        required = asked("us-fl-2023", HOUSE, route, claimed=(CREDIT,), earned=(CREDIT,))
        assert required.continuous_m3s / CFM_M3S == pytest.approx(continuous)
        assert required.intermittent_m3s / CFM_M3S == pytest.approx(60.0)


@pytest.mark.parametrize("code", WITH_CREDIT)
@pytest.mark.parametrize("route", [Route.TABLE, Route.EQUATION])
def test_from_2021_factors_multiply_whichever_rate_is_used(code: str, route: Route) -> None:
    # International Residential Code 2021 and 2024, M1505.4.3, Exception 2.
    required = asked(code, HOUSE, route)
    assert required.intermittent_m3s == required.continuous_m3s


@pytest.mark.parametrize("code", ["us-irc-2015", "us-irc-2018", "us-nc-2021", "us-ak-2018", "us-wa-2021"])
def test_no_credit_before_2021_nor_where_a_state_leaves_it_out(code: str) -> None:
    # International Residential Code 2015, M1507.3.3; 2018, M1505.4.3; North Carolina, Alaska and Washington.
    assert not load_code(code).credits
    assert asked(code, HOUSE, claimed=(CREDIT,), earned=(CREDIT,)) == asked(code, HOUSE)


@pytest.mark.parametrize("code", [*WITH_CREDIT, *STATES_WITH_CREDIT, "us-imc-2024"])
def test_the_credit_is_thirty_percent_off_and_needs_balance(code: str) -> None:
    # International Residential Code 2021 and 2024, M1505.4.3, Exception 1, and those that adopt it; IMC 403.3.2.
    credit = load_code(code).credits[CREDIT]
    assert (credit.factor, [need.value for need in credit.needs]) == (0.7, ["balanced"])
    required = asked(code, HOUSE, Route.EQUATION, claimed=(CREDIT,), earned=(CREDIT,))
    assert required.continuous_m3s / CFM_M3S == pytest.approx(37.8)
    assert required.steps[-1].airflow_m3s == required.continuous_m3s


def test_alaska() -> None:
    # International Residential Code 2018 as adopted in Alaska, Equation 15-1 as amended:
    # 0.03 x 2,000 + 10 x 4 = 100 cfm (computed); the factor multiplies the table, which is not amended.
    required = asked("us-ak-2018", house("2000 ft2", 3))
    assert required.continuous_m3s / CFM_M3S == pytest.approx(100.0)
    assert required.intermittent_m3s / CFM_M3S == pytest.approx(60.0)
    assert _at(required, 0.25) == pytest.approx(240.0)
    assert load_code("us-ak-2018").routes == (Route.EQUATION,)


@pytest.mark.parametrize("code", ["us-or-2021", "us-ny-2024", "us-mn"])
def test_some_ask_for_a_balanced_system(code: str) -> None:
    # Oregon 2021 and New York 2024, M1505.4 as amended; Minnesota Rules 1322.1104.
    assert load_code(code).must_balance is not None


# Washington


@pytest.mark.parametrize(
    ("balanced", "distributed", "equation", "table"),
    [
        # WAC 51-51, Equation 15-2, computed from 54 and 55 cfm for 2,400 ft2 and 3 bedrooms: x 1, 1.25, 1.25, 1.5.
        (True, True, 54.0, 55.0),
        (True, False, 67.5, 68.75),
        (False, True, 67.5, 68.75),
        (False, False, 81.0, 82.5),
    ],
)
def test_washington(*, balanced: bool, distributed: bool, equation: float, table: float) -> None:
    dwelling = attrs.evolve(HOUSE, distributed=distributed)
    system = System(balanced=balanced)
    for route, rate in ((Route.EQUATION, equation), (Route.TABLE, table)):
        required = asked("us-wa-2021", dwelling, route, system=system)
        assert required.continuous_m3s / CFM_M3S == pytest.approx(rate, rel=1e-12)
        # M1505.4.3.2: at least 2 h in each 4-hour segment, x 2 at half of it.
        assert _at(required, 0.50) == pytest.approx(2 * rate, rel=1e-12)
        assert _at(required, 0.45) is None
    worst = asked("us-wa-2021", HOUSE, Route.EQUATION, system=System(balanced=False))
    assert _at(worst, 0.50) == pytest.approx(162.0)
    worst = asked("us-wa-2021", HOUSE, Route.TABLE, system=System(balanced=False))
    assert _at(worst, 0.50) == pytest.approx(165.0)


def test_washington_thirty_at_least_before_the_coefficient() -> None:
    # WAC 51-51, Equation 15-1: not below 30 cfm; computed for a studio of 400 ft2, whose equation gives 11.5.
    studio = attrs.evolve(house("400 ft2", 0), distributed=True)
    for route in (Route.EQUATION, Route.TABLE):
        assert asked("us-wa-2021", studio, route).continuous_m3s / CFM_M3S == pytest.approx(30.0)
        worst = asked("us-wa-2021", house("400 ft2", 0), route, system=System(balanced=False))
        assert worst.continuous_m3s / CFM_M3S == pytest.approx(45.0)


# Minnesota and the energy code


@pytest.mark.parametrize(
    ("area", "bedrooms", "total", "continuous"),
    [
        # Minnesota Rules 1322.1104 (N1104.2), table: 2,001 to 2,500 ft2 and 3 bedrooms; 1,501 to 2,000 and 4.
        ("2500 ft2", 3, 110, 55),
        ("2000 ft2", 4, 115, 58),
    ],
)
def test_minnesota_cells(area: str, bedrooms: int, total: int, continuous: int) -> None:
    required = asked("us-mn", house(area, bedrooms))
    assert required.kind is CodeKind.AVERAGE_WITH_FLOOR
    assert required.window_s == 3600  # an hourly average
    assert required.continuous_m3s / CFM_M3S == pytest.approx(total)
    assert required.floor is not None
    assert required.floor.airflow_m3s / CFM_M3S == pytest.approx(continuous, abs=0.5 + 1e-9)


def test_minnesota_continuous_part_is_not_below_forty() -> None:
    # N1104.2: half of the total, not below 40 cfm; computed for 500 ft2 and one bedroom: total 40.
    required = asked("us-mn", house("500 ft2", 1))
    assert required.floor is not None
    assert (required.continuous_m3s / CFM_M3S, required.floor.airflow_m3s / CFM_M3S) == pytest.approx((40.0, 40.0))


@pytest.mark.parametrize("code", WITH_EQUATION)
def test_fan_energy_of_the_performance_path(code: str) -> None:
    # IECC 2018 and 2021, R405.4.2: (0.0876 x ft2 + 65.7 x (bedrooms + 1)) / cfm for each W, kWh a year. Computed
    # for 2,400 ft2 and 3 bedrooms: 394.2 for a recovery ventilator at 1.2 cfm/W, 168.9 for exhaust at 2.8.
    rate_cfm = equation_cfm(code, HOUSE)
    efficacy = load_code(code).efficacy
    assert efficacy is not None
    by_recovery = efficacy.airflow.m3s / CFM_M3S / efficacy.power.w
    assert by_recovery == pytest.approx(1.2)
    assert rate_cfm * 8760 / 1000 == pytest.approx(0.0876 * 2400 + 65.7 * 4)
    assert rate_cfm / by_recovery * 8760 / 1000 == pytest.approx(394.2, abs=0.05)
    assert rate_cfm / 2.8 * 8760 / 1000 == pytest.approx(168.9, abs=0.05)


@pytest.mark.parametrize(
    ("code", "zones"), [("us-irc-2018", None), ("us-irc-2021", ("7", "8")), ("us-irc-2024", ("6", "7", "8"))]
)
def test_where_recovery_is_asked_for(code: str, zones: tuple[str, ...] | None) -> None:
    # IECC R403.6.1: 65 % at 32 degF in climate zones 7 and 8 (2021), 6 to 8 (2024); none in 2018.
    recovery = load_code(code).recovery
    assert [least.zones for least in recovery] == ([] if zones is None else [zones])
    for least in recovery:
        assert least.sensible == 0.65
        assert least.at is not None
        assert least.at.to("degC") == pytest.approx(0.0, abs=1e-9)


def test_areas_in_either_unit_by_hand() -> None:
    # 222.967296 m2 are 2,400 ft2 exactly; Equation 15-1 gives 54 cfm either way.
    exact = Fraction(1, 100) * 2400 + Fraction(15, 2) * 4
    assert exact == 54
    for area in ("222.967296 m2", "2400 ft2"):
        assert equation_cfm("us-irc-2021", Dwelling(Area.parse(area), 3)) == pytest.approx(54.0, rel=1e-12)
