"""Continuous rates of the International Residential Code, cell by cell and by the equation."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.codes.houses import (
    EDITIONS,
    FT2_M2,
    WITH_EQUATION,
    asked,
    equation_cfm,
    house,
    table_cfm,
)
from ventrules.job import Dwelling, Route
from ventrules.units import Area

# International Residential Code 2015, Table M1507.3.3(1); 2018, 2021 and 2024, Table M1505.4.3(1), cfm:
# identical cells in all four editions. The printed rows leave 1,500 ft2 and the like out of every row;
# the upper figure is read as inclusive.
COLUMNS = ((0, 1), (2, 3), (4, 5), (6, 7), (8, 9, 10, 14))
ROWS = (
    # just above the limit below, at the row's upper area; the same two in m2 (1 ft2 = 0.09290304 m2)
    (("1 ft2", "1500 ft2", "0.1 m2", "139.35456 m2"), (30, 45, 60, 75, 90)),
    (("1500.01 ft2", "3000 ft2", "139.355 m2", "278.70912 m2"), (45, 60, 75, 90, 105)),
    (("3000.01 ft2", "4500 ft2", "278.71 m2", "418.06368 m2"), (60, 75, 90, 105, 120)),
    (("4500.01 ft2", "6000 ft2", "418.065 m2", "557.41824 m2"), (75, 90, 105, 120, 135)),
    (("6000.01 ft2", "7500 ft2", "557.42 m2", "696.7728 m2"), (90, 105, 120, 135, 150)),
    (("7500.01 ft2", "20000 ft2", "696.775 m2", "1858.0608 m2"), (105, 120, 135, 150, 165)),
)
CELLS = [
    pytest.param(areas, bedrooms, rate, id=f"{areas[1]}-{bedrooms[-1]}br".replace(" ", ""))
    for areas, rates in ROWS
    for bedrooms, rate in zip(COLUMNS, rates, strict=True)
]


def test_all_thirty_cells_are_here() -> None:
    assert len(CELLS) == 30


@pytest.mark.parametrize("code", EDITIONS)
@pytest.mark.parametrize(("areas", "bedrooms", "rate"), CELLS)
def test_table_cell(code: str, areas: tuple[str, ...], bedrooms: tuple[int, ...], rate: int) -> None:
    # International Residential Code, Table M1507.3.3(1) (2015), Table M1505.4.3(1) (2018 on).
    for area in areas:
        for count in bedrooms:
            assert table_cfm(code, house(area, count)) == pytest.approx(rate, rel=1e-12), (area, count)


@pytest.mark.parametrize("code", EDITIONS)
def test_the_rate_names_its_table(code: str) -> None:
    clause = "Table M1507.3.3(1)" if code == "us-irc-2015" else "Table M1505.4.3(1)"
    assert asked(code, house("2000 ft2", 3), Route.TABLE).basis.clause == clause


@pytest.mark.parametrize("code", WITH_EQUATION)
def test_equation_published(code: str) -> None:
    # A home-inspection trade article works the equation of the IRC for 2,000 ft2 and 3 bedrooms: 50 cfm.
    # (It misquotes the section and the averaging period; the number is right.)
    assert equation_cfm(code, house("2000 ft2", 3)) == pytest.approx(50.0, rel=1e-12)


@pytest.mark.parametrize("code", WITH_EQUATION)
@pytest.mark.parametrize(
    ("area", "bedrooms", "rate"),
    [
        # DERIVED from Equation 15-1 of M1505.4.3: 0.01 x ft2 + 7.5 x (bedrooms + 1), by hand.
        ("2400 ft2", 3, 54.0),
        ("1500 ft2", 3, 45.0),
        ("10000 ft2", 3, 130.0),
        ("1000 ft2", 0, 17.5),  # no bedroom is no bedroom: this equation has no least count
        ("222.967296 m2", 3, 54.0),  # 2,400 ft2 exactly
    ],
)
def test_equation_worked_by_hand(code: str, area: str, bedrooms: int, rate: float) -> None:
    required = asked(code, house(area, bedrooms), Route.EQUATION)
    assert equation_cfm(code, house(area, bedrooms)) == pytest.approx(rate, rel=1e-12)
    assert required.basis.clause == "Equation 15-1 of M1505.4.3"


@pytest.mark.parametrize("code", WITH_EQUATION)
def test_table_and_equation_side_by_side(code: str) -> None:
    # DERIVED, from the two rules above; upper areas inclusive.
    for area, bedrooms, table, equation in (
        ("2400 ft2", 3, 60.0, 54.0),
        ("1500 ft2", 3, 45.0, 45.0),
        ("10000 ft2", 3, 120.0, 130.0),  # outside the grid the table may be the lower of the two
        ("3000 ft2", 12, 105.0, 127.5),
    ):
        dwelling = house(area, bedrooms)
        assert table_cfm(code, dwelling) == pytest.approx(table, rel=1e-12)
        assert equation_cfm(code, dwelling) == pytest.approx(equation, rel=1e-12)


areas_ft2 = st.integers(1, 30_000)
bedroom_counts = st.integers(0, 20)


@given(st.sampled_from(WITH_EQUATION), st.integers(1, 9_000) | st.floats(1.0, 9_000.0), st.integers(0, 9))
def test_inside_the_grid_the_table_never_asks_for_less_than_the_equation(code: str, area: float, bedrooms: int) -> None:
    dwelling = Dwelling(Area.of(area, "ft2"), bedrooms)
    assert table_cfm(code, dwelling) >= equation_cfm(code, dwelling) * (1.0 - 1e-12)


@given(st.sampled_from(WITH_EQUATION), areas_ft2, bedroom_counts)
def test_the_equation_is_the_printed_expression(code: str, area: int, bedrooms: int) -> None:
    exact = Fraction(1, 100) * area + Fraction(15, 2) * (bedrooms + 1)
    assert equation_cfm(code, house(f"{area} ft2", bedrooms)) == pytest.approx(float(exact), rel=1e-12)


@given(st.sampled_from(EDITIONS), areas_ft2, areas_ft2, bedroom_counts, bedroom_counts)
def test_a_larger_dwelling_never_needs_less(code: str, area: int, more: int, bedrooms: int, rooms_more: int) -> None:
    small, large = house(f"{area} ft2", bedrooms), house(f"{area + more} ft2", bedrooms + rooms_more)
    for route in (Route.TABLE, None):
        assert asked(code, large, route).continuous_m3s >= asked(code, small, route).continuous_m3s


@given(st.sampled_from(EDITIONS), areas_ft2, bedroom_counts)
def test_the_unit_in_which_the_area_is_written_makes_no_difference(code: str, area: int, bedrooms: int) -> None:
    feet = house(f"{area} ft2", bedrooms)
    meters = house(f"{area * 9290304 // 10**8}.{area * 9290304 % 10**8:08d} m2", bedrooms)
    assert meters.floor_area.m2 == pytest.approx(area * FT2_M2, rel=1e-12)
    assert table_cfm(code, meters) == table_cfm(code, feet)
    assert asked(code, meters).continuous_m3s == pytest.approx(asked(code, feet).continuous_m3s, rel=1e-12)


@given(st.sampled_from(WITH_EQUATION), areas_ft2, bedroom_counts)
def test_a_job_that_fixes_no_route_is_asked_for_the_lesser(code: str, area: int, bedrooms: int) -> None:
    dwelling = house(f"{area} ft2", bedrooms)
    routes = [asked(code, dwelling, route).continuous_m3s for route in Route]
    assert asked(code, dwelling).continuous_m3s == min(routes)
