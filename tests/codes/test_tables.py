"""Every cell of every rate table, against the printed table or an independent rule, and where its edges lie."""

import math
from fractions import Fraction

import pytest

from tests.codes.houses import CFM_M3S, EDITIONS, LS_M3S, M3H_M3S, STANDARD, STATES, asked, house, table_cfm
from ventrules.codes import RateTable, table_rate
from ventrules.files import load_code
from ventrules.files.resources import code_names
from ventrules.job import Dwelling, Occupancy, Route
from ventrules.units import Area

# International Residential Code 2015, Table M1507.3.3(1); 2018, 2021 and 2024, Table M1505.4.3(1), cfm:
# identical cells in all four editions and in the states that take the table over. The printed rows leave
# 1,500 ft2 and the like out of every row; the upper figure is read as inclusive.
IRC_BEDROOMS = ((0, 1), (2, 3), (4, 5), (6, 7), (8, 9, 10, 14))
IRC = (
    # just above the limit below, at the row's upper area; the same two in m2 (1 ft2 = 0.09290304 m2)
    (("1 ft2", "1500 ft2", "0.1 m2", "139.35456 m2"), (30, 45, 60, 75, 90)),
    (("1500.01 ft2", "3000 ft2", "139.355 m2", "278.70912 m2"), (45, 60, 75, 90, 105)),
    (("3000.01 ft2", "4500 ft2", "278.71 m2", "418.06368 m2"), (60, 75, 90, 105, 120)),
    (("4500.01 ft2", "6000 ft2", "418.065 m2", "557.41824 m2"), (75, 90, 105, 120, 135)),
    (("6000.01 ft2", "7500 ft2", "557.42 m2", "696.7728 m2"), (90, 105, 120, 135, 150)),
    (("7500.01 ft2", "20000 ft2", "696.775 m2", "1858.0608 m2"), (105, 120, 135, 150, 165)),
)
IRC_CELLS = [
    pytest.param(areas, bedrooms, rate, id=f"{areas[1]}-{bedrooms[-1]}br".replace(" ", ""))
    for areas, rates in IRC
    for bedrooms, rate in zip(IRC_BEDROOMS, rates, strict=True)
]

# ASHRAE 62.2-2013 and later, Table 4.1a, cfm, as reprinted in the Uniform Mechanical Code, Appendix E.
STANDARD_CELLS = (
    (30, 38, 45, 53, 60),
    (45, 53, 60, 68, 75),
    (60, 68, 75, 83, 90),
    (75, 83, 90, 98, 105),
    (90, 98, 105, 113, 120),
    (105, 113, 120, 128, 135),
    (120, 128, 135, 143, 150),
    (135, 143, 150, 158, 165),
    (150, 158, 165, 173, 180),
    (165, 173, 180, 188, 195),
)

# Washington Administrative Code 51-51, Table M1505.4.3(1), cfm: 0-1, 2, 3, 4, 5 or more bedrooms.
WASHINGTON_CELLS = (
    (30, 30, 35, 45, 50),
    (30, 35, 40, 50, 55),
    (30, 40, 45, 55, 60),
    (35, 45, 50, 60, 65),
    (40, 50, 55, 65, 70),
    (45, 55, 60, 70, 75),
    (50, 60, 65, 75, 80),
    (55, 65, 70, 80, 85),
    (60, 70, 75, 85, 90),
    (65, 75, 80, 90, 95),
)

# British Columbia Building Code 2024, Table 9.32.3.5, L/s: 0-1, 2-3, 4-5, 6-7, more than 7 bedrooms.
BRITISH_COLUMBIA_CELLS = (
    (14, 21, 28, 35, 42),
    (21, 28, 35, 42, 49),
    (28, 35, 42, 49, 56),
    (35, 42, 49, 56, 64),
    (42, 49, 56, 64, 71),
    (49, 56, 64, 71, 78),
)

# Approved Document F volume 1, 2021 edition, Table 1.3, L/s; 6 L/s for each further bedroom.
ENGLAND = {1: 19, 2: 25, 3: 31, 4: 37, 5: 43, 6: 49, 7: 55, 8: 61, 12: 85}

# Ontario O. Reg. 332/12, Division B, Table 9.32.3.4.A, L/s.
ONTARIO = {1: 15.0, 2: 22.5, 3: 30.0, 4: 37.5, 5: 45.0}

# France, order of 24 March 1982, art. 4, by main rooms, m3/h: least total extract when turned down, and with
# authorized automatic modulation.
FRANCE = {1: 35, 2: 60, 3: 75, 4: 90, 5: 105, 6: 120, 7: 135}
FRANCE_MODULATED = {1: 10, 2: 10, 3: 15, 4: 20, 5: 25, 6: 30, 7: 35}

BY_FIVE_HUNDRED = tuple(range(500, 5001, 500))


def _cells(table: RateTable | None, unit: str) -> tuple[tuple[float, ...], ...]:
    assert table is not None
    return tuple(tuple(cell.to(unit) for cell in row) for row in table.rates)


def _close(cells: tuple[tuple[float, ...], ...], printed: tuple[tuple[float, ...], ...]) -> None:
    assert len(cells) == len(printed)
    for row, expected in zip(cells, printed, strict=True):
        assert row == pytest.approx(expected, rel=1e-12)


def test_no_table_of_any_code_is_passed_over() -> None:
    tabled = {name for name in code_names() if load_code(name).rate.table is not None}
    assert tabled == {
        *EDITIONS,
        *STATES,
        *STANDARD,
        "us-wa-2021",
        "ca-bc-2024",
        "gb-eng-2021",
        "ca-on-332-12",
        "fr-1982",
    }
    others = set()
    for name in code_names():
        code = load_code(name)
        rates = [rate.table for rate in (code.metric_rate, code.total) if rate is not None]
        if any((*rates, code.run_time.table if code.run_time is not None else None)):
            others.add(name)
    assert others == {"us-ak-2018"}


def test_all_cells_are_here() -> None:
    assert len(IRC_CELLS) == 30
    assert sum(map(len, STANDARD_CELLS)) == sum(map(len, WASHINGTON_CELLS)) == 50
    assert sum(map(len, BRITISH_COLUMBIA_CELLS)) == 30
    assert (len(FRANCE), len(FRANCE_MODULATED)) == (7, 7)


# The residential code


@pytest.mark.parametrize("code", [*EDITIONS, *STATES])
@pytest.mark.parametrize(("areas", "bedrooms", "rate"), IRC_CELLS)
def test_residential_code_cell(code: str, areas: tuple[str, ...], bedrooms: tuple[int, ...], rate: int) -> None:
    # International Residential Code, Table M1507.3.3(1) (2015), Table M1505.4.3(1) (2018 on).
    for area in areas:
        for count in bedrooms:
            assert table_cfm(code, house(area, count)) == pytest.approx(rate, rel=1e-12), (area, count)


@pytest.mark.parametrize(("areas", "bedrooms", "rate"), IRC_CELLS)
def test_alaska_keeps_the_table_for_intermittent_operation(
    areas: tuple[str, ...], bedrooms: tuple[int, ...], rate: int
) -> None:
    # International Residential Code 2018 as adopted in Alaska: the equation is amended, Table M1505.4.3(1) is not.
    for area in areas:
        for count in bedrooms:
            assert asked("us-ak-2018", house(area, count)).intermittent_m3s == pytest.approx(rate * CFM_M3S, rel=1e-12)


def test_the_residential_table_is_the_equation_at_the_end_of_each_row_and_column() -> None:
    # Computed from Equation 15-1: 0.01 x upper area + 7.5 x (upper bedrooms + 1); 9,000 ft2 and 9 for the open ends.
    rule = tuple(
        tuple(float(Fraction(area, 100) + Fraction(15, 2) * (bedrooms + 1)) for bedrooms in (1, 3, 5, 7, 9))
        for area in (1500, 3000, 4500, 6000, 7500, 9000)
    )
    for code in (*EDITIONS, *STATES):
        _close(_cells(load_code(code).rate.table, "cfm"), rule)
    alaska = load_code("us-ak-2018").run_time
    assert alaska is not None
    _close(_cells(alaska.table, "cfm"), rule)


@pytest.mark.parametrize("code", EDITIONS)
def test_the_rate_names_its_table(code: str) -> None:
    clause = "Table M1507.3.3(1)" if code == "us-irc-2015" else "Table M1505.4.3(1)"
    assert asked(code, house("2000 ft2", 3), Route.TABLE).basis.clause == clause


# ASHRAE 62.2 and Washington


@pytest.mark.parametrize("code", STANDARD)
def test_standard_table_as_printed(code: str) -> None:
    # ASHRAE 62.2-2013 and later, Table 4.1a.
    _close(_cells(load_code(code).rate.table, "cfm"), STANDARD_CELLS)


def test_standard_table_is_the_equation_rounded_half_up() -> None:
    # Computed from Eq. 4.1a at the upper end of each row.
    for area, row in zip(BY_FIVE_HUNDRED, STANDARD_CELLS, strict=True):
        for bedrooms, cell in enumerate(row, start=1):
            exact = Fraction(3, 100) * area + Fraction(15, 2) * (bedrooms + 1)
            assert cell == math.floor(exact + Fraction(1, 2))


def test_washington_table_as_printed() -> None:
    # Washington Administrative Code 51-51, Table M1505.4.3(1).
    _close(_cells(load_code("us-wa-2021").rate.table, "cfm"), WASHINGTON_CELLS)


def test_washington_table_is_the_equation_rounded_up_to_five_and_not_below_thirty() -> None:
    # Computed from Equation 15-1 of M1505.4.3 as amended, at the upper end of each row.
    for area, row in zip(BY_FIVE_HUNDRED, WASHINGTON_CELLS, strict=True):
        for bedrooms, cell in enumerate(row, start=1):
            exact = Fraction(1, 100) * area + Fraction(15, 2) * (bedrooms + 1)
            assert cell == max(30, 5 * math.ceil(exact / 5))


def _from_table(code: str, area: str, bedrooms: int) -> float | None:
    table = load_code(code).rate.table
    assert table is not None
    return table_rate(table, house(area, bedrooms))


@pytest.mark.parametrize("code", [*STANDARD, "us-wa-2021"])
@pytest.mark.parametrize("row", range(10))
def test_rows_of_five_hundred_include_their_upper_area(code: str, row: int) -> None:
    cells = WASHINGTON_CELLS if code == "us-wa-2021" else STANDARD_CELLS
    upper = BY_FIVE_HUNDRED[row]
    for bedrooms, cell in enumerate(cells[row], start=1):
        for area in (f"{upper - 499.99} ft2", f"{upper} ft2", f"{upper * 0.09290304:.8f} m2"):
            assert _from_table(code, area, bedrooms) == pytest.approx(cell * CFM_M3S, rel=1e-12), (area, bedrooms)


@pytest.mark.parametrize("code", [*STANDARD, "us-wa-2021"])
def test_tables_of_ten_rows_end_after_the_last(code: str) -> None:
    assert _from_table(code, "5000 ft2", 3) is not None
    assert _from_table(code, "5000.01 ft2", 3) is None


def test_washington_counts_no_bedroom_as_one_and_more_than_five_as_five() -> None:
    # Columns 0-1 and 5+ of Table M1505.4.3(1).
    assert _from_table("us-wa-2021", "2400 ft2", 0) == _from_table("us-wa-2021", "2400 ft2", 1)
    assert _from_table("us-wa-2021", "2400 ft2", 9) == _from_table("us-wa-2021", "2400 ft2", 5)


@pytest.mark.parametrize("code", STANDARD)
def test_standard_table_ends_after_five_bedrooms(code: str) -> None:
    assert _from_table(code, "2400 ft2", 5) is not None
    assert _from_table(code, "2400 ft2", 6) is None


# British Columbia


def test_british_columbia_table_as_printed() -> None:
    # British Columbia Building Code 2024, Division B, Table 9.32.3.5.
    _close(_cells(load_code("ca-bc-2024").rate.table, "L/s"), BRITISH_COLUMBIA_CELLS)


def test_british_columbia_a_row_down_is_a_column_across() -> None:
    # Computed from the residential grid behind it, where 1,500 ft2 and two bedrooms add the same 15 cfm.
    diagonal: dict[int, int] = {}
    for row, cells in enumerate(BRITISH_COLUMBIA_CELLS):
        for column, cell in enumerate(cells):
            assert diagonal.setdefault(row + column, cell) == cell
    assert list(diagonal.values()) == sorted(diagonal.values())


@pytest.mark.parametrize(
    ("row", "areas"),
    [
        # The first band is below 140 m2, the second begins with it; the bands are printed in whole square meters,
        # and what lies between two of them goes to the higher.
        (0, ("20", "139", "139.9", "139.999")),
        (1, ("140", "140.001", "200", "280")),
        (2, ("280.001", "280.4", "281", "420")),
        (3, ("420.4", "421", "560")),
        (4, ("560.4", "561", "700")),
        (5, ("700.4", "701", "900")),
    ],
)
def test_british_columbia_bands(row: int, areas: tuple[str, ...]) -> None:
    for column, counts in enumerate(((0, 1), (2, 3), (4, 5), (6, 7), (8, 9, 20))):
        expected = BRITISH_COLUMBIA_CELLS[row][column] * LS_M3S
        for area in areas:
            for bedrooms in counts:
                assert asked("ca-bc-2024", house(f"{area} m2", bedrooms)).continuous_m3s == pytest.approx(
                    expected, rel=1e-12
                ), (area, bedrooms)


# England, Ontario, France


@pytest.mark.parametrize(("bedrooms", "rate"), ENGLAND.items())
def test_england_by_bedrooms(bedrooms: int, rate: int) -> None:
    # Approved Document F volume 1, 2021 edition, Table 1.3; a small floor area leaves the table in force.
    # Six bedrooms are 49 L/s: the government's open Home Energy Model takes the same 6 L/s for a further one.
    assert rate == 13 + 6 * bedrooms
    assert asked("gb-eng-2021", house("40 m2", bedrooms)).continuous_m3s == pytest.approx(rate * LS_M3S, rel=1e-12)


@pytest.mark.parametrize("bedrooms", [0, 1])
def test_england_single_habitable_room(bedrooms: int) -> None:
    # Table 1.3, note: 13 L/s where there is only one habitable room.
    studio = Dwelling(Area.parse("30 m2"), bedrooms, main_rooms=1)
    assert asked("gb-eng-2021", studio).continuous_m3s == pytest.approx(13 * LS_M3S, rel=1e-12)
    two = Dwelling(Area.parse("30 m2"), bedrooms, main_rooms=2)
    assert asked("gb-eng-2021", two).continuous_m3s == pytest.approx(19 * LS_M3S, rel=1e-12)


@pytest.mark.parametrize(("bedrooms", "rate"), [(0, 15.0), *ONTARIO.items()])
@pytest.mark.parametrize("area", ["20 m2", "200 m2", "900 m2"])
def test_ontario_principal_exhaust(area: str, bedrooms: int, rate: float) -> None:
    # Ontario O. Reg. 332/12, Table 9.32.3.4.A: by bedrooms only; 7.5 L/s for each and 7.5 more.
    assert rate == 7.5 * (max(bedrooms, 1) + 1)
    assert asked("ca-on-332-12", house(area, bedrooms)).continuous_m3s == pytest.approx(rate * LS_M3S, rel=1e-12)


@pytest.mark.parametrize("main_rooms", FRANCE)
def test_france_turned_down(main_rooms: int) -> None:
    # Order of 24 March 1982, art. 4.
    home = Dwelling(Area.parse("70 m2"), 2, main_rooms=main_rooms)
    required = asked("fr-1982", home)
    assert required.continuous_m3s == pytest.approx(FRANCE[main_rooms] * M3H_M3S, rel=1e-12)
    assert required.levels == {}


@pytest.mark.parametrize("main_rooms", FRANCE_MODULATED)
def test_france_with_authorized_modulation(main_rooms: int) -> None:
    # Order of 24 March 1982, art. 4: the modulated figure holds at all hours.
    home = Dwelling(Area.parse("70 m2"), 2, main_rooms=main_rooms)
    credit = ("authorized-modulation",)
    required = asked("fr-1982", home, claimed=credit, earned=credit)
    for occupancy in Occupancy:
        assert required.at(occupancy) == pytest.approx(FRANCE_MODULATED[main_rooms] * M3H_M3S, rel=1e-12)
    assert required.continuous_m3s == pytest.approx(FRANCE[main_rooms] * M3H_M3S, rel=1e-12)


# Areas a hair beside a limit

LIMITS = [
    *((code, (1500, 3000, 4500, 6000, 7500)) for code in (*EDITIONS, *STATES)),
    *((code, BY_FIVE_HUNDRED[:-1]) for code in (*STANDARD, "us-wa-2021")),
]


@pytest.mark.parametrize(("code", "limits"), LIMITS, ids=[code for code, _limits in LIMITS])
def test_what_is_printed_in_no_row_belongs_to_the_row_below(code: str, limits: tuple[int, ...]) -> None:
    table = load_code(code).rate.table
    assert table is not None
    for limit in limits:
        at, above = house(f"{limit} ft2", 3), Dwelling(Area.of(limit * (1 + 1e-6), "ft2"), 3)
        # What floating point adds to an area is no floor area.
        dust = Dwelling(Area.of(limit * (1 + 1e-12), "ft2"), 3)
        lower, upper = table_rate(table, at), table_rate(table, above)
        assert lower is not None
        assert upper is not None
        assert lower < upper
        assert table_rate(table, dust) == lower
