"""What a code asks: its routes, credits and levels together, what it rests on, and what it cannot tell."""

import re

import attrs
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.codes.county import LEVELS, SEEN, TABLE, county
from tests.codes.houses import (
    CFM_M3S,
    CREDIT,
    EDITIONS,
    LS_M3S,
    STANDARD,
    WITH_CREDIT,
    WITH_EQUATION,
    asked,
    house,
    leak,
    rooms,
)
from tests.codes.trees import text_of
from ventrules.codes import (
    Code,
    CodeKind,
    Counts,
    Requirement,
    System,
    UnknownRequirementError,
    own_requirement,
    requirement,
)
from ventrules.files import load_code, parse_code
from ventrules.files.resources import code_names
from ventrules.job import Dwelling, Occupancy, RoomKind, Route, Target
from ventrules.sources import Known
from ventrules.units import Airflow, Area, Volume

HOUSE = house("2400 ft2", 3)

# A dwelling that every code can judge, and one that adds people whom nobody planned for.
HOME = attrs.evolve(
    house("150 m2", 3),
    volume=Volume.parse("375 m3"),
    main_rooms=4,
    leakage=leak(5.0, stories=2.0),
    rooms=rooms([(RoomKind.LIVING, "30 m2"), (RoomKind.KITCHEN, "10 m2"), (RoomKind.BEDROOM, "15 m2")]),
)
CROWDED = attrs.evolve(HOME, occupants=7)


def _own(text: str, dwelling: Dwelling, *, claimed: tuple[str, ...] = (), system: System | None = None) -> Requirement:
    """Return what a code of one's own asks of a dwelling; what is claimed is earned."""
    code = parse_code(text, "county.toml")
    return requirement(code, dwelling, Target(code="county.toml", credits=claimed), claimed, system)


# Steps and routes


def test_2015_knows_the_table_only() -> None:
    # International Residential Code 2015, M1507.3.3: no equation.
    code = load_code("us-irc-2015")
    assert code.routes == (Route.TABLE,)
    required = asked("us-irc-2015", HOUSE)
    assert required.continuous_m3s == required.intermittent_m3s == pytest.approx(60 * CFM_M3S)
    assert [step.basis.clause for step in required.steps] == ["Table M1507.3.3(1)"]


def test_2018_shows_both_ways() -> None:
    required = asked("us-irc-2018", HOUSE, Route.EQUATION)
    assert [step.basis.clause for step in required.steps] == ["Equation 15-1 of M1505.4.3", "Table M1505.4.3(1)"]


@pytest.mark.parametrize("code", WITH_CREDIT)
def test_the_credit_is_a_step(code: str) -> None:
    required = asked(code, HOUSE, Route.TABLE, claimed=(CREDIT,), earned=(CREDIT,))
    assert [step.basis.clause for step in required.steps] == ["Table M1505.4.3(1)", "M1505.4.3, Exception 1"]
    assert required.steps[-1].airflow_m3s == required.continuous_m3s


@pytest.mark.parametrize("code", [name for name in code_names() if load_code(name).credits])
def test_a_credit_must_be_both_claimed_and_earned(code: str) -> None:
    plain, system = asked(code, HOME), System(wsf=0.6)
    for name in load_code(code).credits:
        assert asked(code, HOME, claimed=(name,)) == plain
        assert asked(code, HOME, earned=(name,)) == plain
        both = asked(code, HOME, claimed=(name,), earned=(name,), system=system)
        assert both != plain
        assert asked(code, HOME, claimed=(name, name), earned=(name,), system=system) == both
    assert asked(code, HOME, claimed=("no such credit",), earned=("no such credit",)) == plain


@given(
    st.sampled_from(EDITIONS),
    st.integers(1, 20_000),
    st.integers(0, 15),
    st.sampled_from([None, *Route]),
    st.booleans(),
)
def test_what_is_asked_is_a_step_with_its_clause(
    code: str, area: int, bedrooms: int, route: Route | None, credit: bool
) -> None:
    names = (CREDIT,) if credit else ()
    required = asked(code, house(f"{area} ft2", bedrooms), route, claimed=names, earned=names)
    shown = {step.airflow_m3s for step in required.steps}
    assert {required.continuous_m3s, required.intermittent_m3s} <= shown
    assert all(step.basis.clause for step in required.steps)


@pytest.mark.parametrize("name", code_names())
def test_every_step_of_every_code_has_an_outcome_and_a_clause(name: str) -> None:
    names = tuple(load_code(name).credits)
    required = asked(name, CROWDED, claimed=names, earned=names, system=System(balanced=False, wsf=0.6))
    shown = [step.airflow_m3s for step in required.steps]
    assert required.continuous_m3s in shown
    assert required.total_m3s in shown
    for occupancy in Occupancy:
        assert required.at(occupancy) in shown
    for step in required.steps:
        assert (step.airflow_m3s is None) is (step.number is not None)
        assert step.name
        assert step.basis.clause


@pytest.mark.parametrize("code", [*WITH_EQUATION, *STANDARD, "us-wa-2021", "us-nc-2021"])
def test_the_job_chooses_among_the_ways_and_else_the_lesser_is_asked(code: str) -> None:
    table, equation = (asked(code, HOUSE, route) for route in (Route.TABLE, Route.EQUATION))
    assert (table.route, equation.route) == (Route.TABLE, Route.EQUATION)
    assert table.continuous_m3s > equation.continuous_m3s
    assert asked(code, HOUSE) == equation
    # A way that the code does not have is no choice.
    assert asked(code, HOUSE, Route.ROOMS) == equation


@pytest.mark.parametrize("code", ["gb-eng-2021", "fi-2018", "ie-2019", "no-tek17", "nl-2012"])
def test_where_the_largest_holds_there_is_no_choice(code: str) -> None:
    plain = asked(code, HOME)
    for route in Route:
        assert asked(code, HOME, route) == plain


@pytest.mark.parametrize("code", [*STANDARD, "us-wa-2021"])
def test_where_the_table_ends_the_equation_holds(code: str) -> None:
    beyond = house("6000 ft2", 3)
    required = asked(code, beyond, Route.TABLE)
    assert required.route is Route.EQUATION
    assert required == asked(code, beyond)


def test_a_target_of_ones_own_rests_on_the_job() -> None:
    required = own_requirement(Airflow.parse("75 cfm"), 4 * 3600.0, [Occupancy.OCCUPIED], Counts.SUPPLY)
    assert required.kind is CodeKind.AVERAGE
    assert required.continuous_m3s == required.intermittent_m3s == pytest.approx(75 * CFM_M3S)
    assert required.total_m3s == required.continuous_m3s
    assert (required.window_s, required.counts, required.least_share) == (4 * 3600.0, Counts.SUPPLY, 0.0)
    assert required.basis.known is Known.JOB
    assert required.run_time is None
    assert required.judged == {Occupancy.OCCUPIED}
    assert (required.from_memory, required.remarks) == ((), ())


# Levels and floors


@given(
    st.lists(st.tuples(st.integers(1, 100), st.sampled_from([None, "one", "two"])), min_size=1, max_size=5),
    st.sets(st.sampled_from(["one", "two"])),
)
def test_the_lowest_level_that_may_be_used_is_taken(levels: list[tuple[int, str | None]], claimed: set[str]) -> None:
    text = [f'\n[credits.{name}]\ntitle = "a"\nconditions = "b"\nbasis = {SEEN}\n' for name in ("one", "two")]
    for share, credit in levels:
        line = f'credit = "{credit}"\n' if credit else ""
        text.append(LEVELS.replace("share = 0.4", f"share = {share / 100}") + line)
    required = _own(county("levels", *text, own=""), HOUSE, claimed=tuple(sorted(claimed)))
    usable = [share for share, credit in levels if credit is None or credit in claimed]
    expected = min(usable) / 100 * 20 * LS_M3S if usable else 20 * LS_M3S
    assert required.at(Occupancy.UNOCCUPIED) == pytest.approx(expected, rel=1e-12)
    assert required.at(Occupancy.OCCUPIED) == required.continuous_m3s == pytest.approx(20 * LS_M3S)
    assert set(required.levels) == ({Occupancy.UNOCCUPIED} if usable else set())


@pytest.mark.parametrize(
    ("lines", "floor"),
    [
        ("share = 0.5", 10.0),
        ("airflow_per_area = '0.1 L/s'\narea = '1 m2'", 15.0),
        ("least = '12 L/s'", 12.0),
        ("share = 0.5\nleast = '12 L/s'", 12.0),
        ("share = 0.5\nleast = '12 L/s'\nairflow_per_area = '0.1 L/s'\narea = '1 m2'", 15.0),
    ],
)
def test_a_floor_is_the_largest_of_what_it_names(lines: str, floor: float) -> None:
    text = county("average-with-floor").replace("share = 0.5", lines)
    required = _own(text, HOME)
    assert required.floor is not None
    assert required.floor.airflow_m3s == pytest.approx(floor * LS_M3S, rel=1e-12)
    assert required.steps[-1].airflow_m3s == required.floor.airflow_m3s


@pytest.mark.parametrize(("main_rooms", "rate"), [(1, 5.0), (2, 8.0), (3, 11.0), (4, 11.0), (9, 11.0)])
def test_a_level_by_main_rooms_keeps_its_last_for_more(main_rooms: int, rate: float) -> None:
    lines = "by_main_rooms = ['5 L/s', '8 L/s', '11 L/s']"
    text = county("levels").replace("share = 0.4", lines)
    required = _own(text, attrs.evolve(HOME, main_rooms=main_rooms))
    assert required.at(Occupancy.UNOCCUPIED) == pytest.approx(rate * LS_M3S, rel=1e-12)


# What cannot be told


@pytest.mark.parametrize(
    ("code", "dwelling", "words"),
    [
        ("csa-f326", HOUSE, "the rooms are missing; give `dwelling.rooms`"),
        ("nl-2012", HOUSE, "the rooms are missing; give `dwelling.rooms`"),
        (
            "nl-2012",
            attrs.evolve(HOUSE, rooms=rooms([RoomKind.LIVING, RoomKind.BATHROOM])),
            "the floor area of room 'living-room 00' is missing",
        ),
        ("fr-1982", HOUSE, "the number of main rooms is missing; give `dwelling.main_rooms` or `dwelling.rooms`"),
        (
            "fr-1982",
            attrs.evolve(HOUSE, rooms=rooms([RoomKind.KITCHEN, RoomKind.BATHROOM])),
            "the number of main rooms is missing; give `dwelling.main_rooms` or `dwelling.rooms`",
        ),
        ("fr-1982", attrs.evolve(HOUSE, main_rooms=8), "the table ends before "),
        ("ca-on-332-12", house("2400 ft2", 6), "the table ends before 2400 ft2 and 6 bedrooms"),
    ],
)
def test_what_is_missing_is_said(code: str, dwelling: Dwelling, words: str) -> None:
    with pytest.raises(UnknownRequirementError, match=re.escape(words)):
        asked(code, dwelling)


@pytest.mark.parametrize(
    ("area", "bedrooms", "words"),
    [
        ("200.1 m2", 1, "the table ends before 200.1 m2 and 1 bedroom"),
        ("150 m2", 4, "the table ends before 150 m2 and 4 bedrooms"),
    ],
)
def test_a_table_of_ones_own_ends_where_it_says(area: str, bedrooms: int, words: str) -> None:
    closed = TABLE.replace("column_limits", "open_rows = false\nopen_columns = false\ncolumn_limits")
    closed = closed.replace('  ["20 L/s", "25 L/s", "30 L/s"],\n', "").replace(', "20 L/s"]', "]")
    text = county("continuous", rate=closed.replace(', "25 L/s"],', "],"))
    assert _own(text, house("200 m2", 3)).continuous_m3s == pytest.approx(20 * LS_M3S)
    with pytest.raises(UnknownRequirementError, match=re.escape(words)):
        _own(text, house(area, bedrooms))


def test_run_time_on_a_table_that_ends_cannot_be_told() -> None:
    table = TABLE.replace("[rate.table]", "[run_time.table]").replace(
        "column_limits", "open_rows = false\ncolumn_limits"
    )
    text = county("segment-factors", table.replace('  ["20 L/s", "25 L/s", "30 L/s"],\n', ""))
    assert _own(text, house("200 m2", 2)).intermittent_m3s == pytest.approx(20 * LS_M3S)
    with pytest.raises(UnknownRequirementError, match="the table that run-time factors multiply ends"):
        _own(text, house("201 m2", 2))


@pytest.mark.parametrize("joined", ["choice", "largest"])
def test_one_way_that_cannot_be_told_is_enough_only_where_all_count(joined: str) -> None:
    text = county(
        "continuous",
        f"\n[rate.rooms]\nbasis = {SEEN}\n[[rate.rooms.lines]]\nrooms = ['kitchen']\nairflow = '25 L/s'\n",
    ).replace("[rate.equation]", f"[rate]\njoined = '{joined}'\n\n[rate.equation]")
    if joined == "choice":
        assert _own(text, HOUSE).continuous_m3s == pytest.approx(20 * LS_M3S)
        assert _own(text, HOME).continuous_m3s == pytest.approx(20 * LS_M3S)
    else:
        with pytest.raises(UnknownRequirementError, match=re.escape("give `dwelling.rooms`")):
            _own(text, HOUSE)
        assert _own(text, HOME).continuous_m3s == pytest.approx(25 * LS_M3S)


# What it rests on

MEMORY = {
    # Of CROWDED, all credits claimed: the clauses that are marked so among those that take part.
    "ashrae-62.2-2010": ("ASHRAE 62.2-2010, 4.1",),
    "ashrae-62.2-2013": ("ASHRAE 62.2-2013, 4.1", "ASHRAE 62.2-2013, 4.5"),
    "ashrae-62.2-2016": ("ASHRAE 62.2-2016, 4.1", "ASHRAE 62.2-2016, 4.5", "ASHRAE 62.2-2016, Normative Appendix C"),
    "ashrae-62.2-2019": ("ASHRAE 62.2-2019, 4.1", "ASHRAE 62.2-2019, 4.5", "ASHRAE 62.2-2019, Normative Appendix C"),
    "ashrae-62.2-2022": (
        "ASHRAE 62.2-2022, 4.1",
        "ASHRAE 62.2-2022, 4.1.2",
        "ASHRAE 62.2-2022, 4.5",
        "ASHRAE 62.2-2022, Normative Appendix C",
    ),
    "de-din-1946-6-2009": ("DIN 1946-6:2009, reduced ventilation",),
    "ie-2019": ("Technical Guidance Document F, 2019, general ventilation rate",),
    "us-ca-2019": ("ASHRAE 62.2-2016, 4.5",),
    "us-ca-2022": ("ASHRAE 62.2-2016, 4.5",),
}


def _all_claimed(code: Code, dwelling: Dwelling) -> Requirement:
    names = tuple(code.credits)
    return requirement(code, dwelling, Target(code=code.code, credits=names), names, System(wsf=0.6))


@pytest.mark.parametrize("name", code_names())
def test_what_rests_on_memory_is_listed(name: str) -> None:
    assert _all_claimed(load_code(name), CROWDED).from_memory == MEMORY.get(name, ())


def test_only_what_takes_part_is_listed() -> None:
    # No people beyond the design number, no infiltration, an area inside the range: their clauses take no part.
    assert asked("ashrae-62.2-2010", HOUSE).from_memory == ()
    assert asked("ashrae-62.2-2022", HOUSE).from_memory == (
        "ASHRAE 62.2-2022, 4.5",
        "ASHRAE 62.2-2022, Normative Appendix C",
    )
    assert asked("ashrae-62.2-2022", HOUSE, Route.TABLE).from_memory[0] == "ASHRAE 62.2-2022, Table 4.1a"
    for area, ends in (("29 m2", True), ("30 m2", False), ("210 m2", False), ("211 m2", True)):
        listed = asked("de-din-1946-6-2009", house(area, 1)).from_memory
        assert ("DIN 1946-6:2009, nominal ventilation, range of the equation" in listed) is ends


@pytest.mark.parametrize("name", code_names())
def test_the_marks_alone_decide_what_is_listed(name: str) -> None:
    marks = re.compile(r'known = "[a-z -]+"')
    seen, memory = (
        parse_code(marks.sub(f'known = "{known}"', text_of(name)), "county.toml") for known in ("seen", "from memory")
    )
    assert _all_claimed(seen, CROWDED).from_memory == ()
    required = _all_claimed(memory, CROWDED)
    listed = set(required.from_memory)
    for basis in (required.basis, required.window_basis, *(step.basis for step in required.steps)):
        assert f"{basis.title}, {basis.clause}" in listed
    assert f"{memory.basis(memory.counts_basis).title}, {memory.counts_basis.clause}" in listed
    # Marks change no figure.
    assert required.continuous_m3s == _all_claimed(load_code(name), CROWDED).continuous_m3s


@pytest.mark.parametrize("code", ["fi-2018", "ie-2019", "no-tek17"])
def test_assumed_people_are_said(code: str) -> None:
    (remark,) = asked(code, HOUSE).remarks
    assert remark == "4 people are assumed, one more than bedrooms; give `dwelling.occupants`"
    assert asked(code, attrs.evolve(HOUSE, occupants=4)).remarks == ()
    assert asked(code, attrs.evolve(HOUSE, occupants=4)).continuous_m3s == asked(code, HOUSE).continuous_m3s


@pytest.mark.parametrize("code", [name for name in code_names() if name not in ("fi-2018", "ie-2019", "no-tek17")])
def test_nothing_else_is_remarked_on_where_nothing_was_measured(code: str) -> None:
    remarks = asked(code, attrs.evolve(HOME, leakage=None)).remarks
    # California assumes a leakage, and so has to know height and weather.
    assert bool(remarks) is code.startswith("us-ca-")


def test_main_rooms_are_counted_or_given() -> None:
    counted = Dwelling(Area.parse("70 m2"), 2, rooms=rooms([RoomKind.LIVING, RoomKind.BEDROOM, RoomKind.KITCHEN]))
    assert counted.count_main_rooms == 2
    given = attrs.evolve(counted, main_rooms=3)
    assert asked("fr-1982", given).continuous_m3s > asked("fr-1982", counted).continuous_m3s
