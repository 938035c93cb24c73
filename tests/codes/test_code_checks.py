"""What has to go together in a code file: a text for each message, which triggers it alone, at its line.

In each text `# here` marks the line that the problem has to name.
"""

import ast
import inspect
import re

import pytest
from attrs import frozen

from tests.codes.county import EQUATION, EXPOSURE, FLOOR, LEVELS, PARTS, RUN_TIME, SEEN, TABLE, WINDOW, county
from ventrules.codes import Code, LeakageForm, Rate
from ventrules.engine import Position
from ventrules.files import CodeFileError, code_checks, parse_code
from ventrules.files.problems import Problem
from ventrules.files.schema_bonds import BONDS

HERE = "# here"


@frozen
class Bad:
    """A text with one thing that does not go together."""

    where: str
    message: str
    text: str


def _rate(*lines: str, under: str = "rate.equation") -> str:
    return "\n".join(("", f"[{under}]", *lines, f"basis = {SEEN}", ""))


def _lines(*lines: str) -> str:
    head = f"\n[rate.rooms]\nbasis = {SEEN}\n\n[[rate.rooms.lines]]\nrooms = ['toilet']\nairflow = '5 L/s'\n"
    return "\n".join((f"{head}\n[[rate.rooms.lines]] {HERE}", "rooms = ['kitchen']", "airflow = '9 L/s'", *lines, ""))


def _table(old: str, new: str, *, under: str = "rate.table") -> str:
    assert old in TABLE
    return TABLE.replace("[rate.table]", f"[{under}]").replace(old, f"{new} {HERE}")


def _run(old: str, new: str, *, mark: str = "") -> str:
    assert old in RUN_TIME
    text = RUN_TIME.replace(old, new)
    return text.replace(mark, f"{mark} {HERE}") if mark else text


def _plain(rate: str, *parts: str) -> str:
    return county("continuous", *parts, rate=rate)


def _segments(run_time: str) -> str:
    return county("segment-factors", own=run_time)


def _marked(text: str, at: str) -> str:
    assert text.count(at) == 1
    return text.replace(at, f"{at} {HERE}")


INFILTRATION = f"""
[infiltration]
height_exponent = 0.4
exponent = 0.65
reference_pressure = "4 Pa"
air_density = 1.2
form = {{ reference_height = "8.2 ft", airflow = "1 cfm", area = "7.3 ft2" }}
basis = {SEEN}
chain_basis = {SEEN}
"""
EXAMPLE = """
[[examples]]
floor_area = "100 m2"
bedrooms = 2
airflow = "20 L/s"
source = "computed"
"""
LEAST_RUN = f"""
[least_run]
time = "1 h"
period = "4 h"
basis = {SEEN}
"""
AREAS, COLUMNS = '["100 m2", "200 m2"]', "column_limits = [1, 3]"
LAST_ROW = '  ["20 L/s", "25 L/s", "30 L/s"],\n'
FURTHER = "goes with a table whose last column has a limit"
NO_WAY = "expected a table, an equation, people, rooms or wet_rooms"
BY_AREA = "an airflow by area and `area` go together"
RISING = "expected rising limits"
SHARES = "expected rising shares and one factor for each"
FACTORS = "expected factors above 0 that do not rise with the share"
ENDS = "expected shares above 0 that end with 1"
ONE_OF = "expected one of share, airflow_per_area and by_main_rooms"

RATES = [
    Bad("rate", NO_WAY, _plain(f"\n[rate] {HERE}\njoined = 'largest'\n")),
    Bad("rate", NO_WAY, _plain(f"\nrate = {{}} {HERE}\n")),
    Bad("metric_rate", NO_WAY, county("continuous", f"\n[metric_rate] {HERE}\njoined = 'choice'\n")),
    Bad("total", NO_WAY, county("continuous", f"\n[total] {HERE}\njoined = 'choice'\n")),
    Bad("rate / rooms / lines", "expected at least one line", _plain(_rate(f"lines = [] {HERE}", under="rate.rooms"))),
    Bad(
        "rate / wet_rooms / lines",
        "expected at least one line",
        _plain(EQUATION + _rate(f"lines = [] {HERE}", under="rate.wet_rooms")),
    ),
    Bad("rate / rooms / lines / 1", BY_AREA, _plain(_lines("area = '1 m2'"))),
    Bad("rate / rooms / lines / 1", BY_AREA, _plain(_lines("airflow_per_area = '1 L/s'"))),
    Bad("rate / equation", BY_AREA, _plain(_marked(_rate("constant = '9 L/s'", "area = '1 m2'"), "[rate.equation]"))),
    Bad("rate / equation", BY_AREA, _plain(_marked(_rate("airflow_per_area = '1 L/s'"), "[rate.equation]"))),
    Bad(
        "rate / equation",
        BY_AREA,
        _plain(_marked(_rate("constant = '9 L/s'", "less_per_area_squared = '1 L/s'"), "[rate.equation]")),
    ),
    Bad(
        "rate / people",
        BY_AREA,
        _plain(EQUATION + _marked(_rate("airflow_per_area = '1 L/s'", under="rate.people"), "[rate.people]")),
    ),
    Bad("rate / equation", "expected at least one term", _plain(_marked(_rate("extra_people = 1"), "[rate.equation]"))),
    Bad(
        "metric_rate / people",
        "expected at least one term",
        county("continuous", _marked(_rate("extra_people = 1", under="metric_rate.people"), "[metric_rate.people]")),
    ),
]
TABLES = [
    Bad(
        "rate / table / rates", "expected 3 rows of 3 rates", _plain(_marked(TABLE.replace(LAST_ROW, ""), "rates = ["))
    ),
    Bad(
        "rate / table / rates",
        "expected 3 rows of 3 rates",
        _plain(_marked(TABLE.replace(', "30 L/s"],', "],"), "rates = [")),
    ),
    Bad(
        "rate / table / rates",
        "expected 2 rows of 3 rates",
        _plain(_marked(TABLE, "rates = [").replace("column_limits", "open_rows = false\ncolumn_limits")),
    ),
    Bad(
        "rate / table / rates",
        "expected 3 rows of 2 rates",
        _plain(_marked(TABLE, "rates = [").replace("column_limits", "open_columns = false\ncolumn_limits")),
    ),
    Bad("rate / table / column_limits", RISING, _plain(_table(COLUMNS, "column_limits = [3, 1]"))),
    Bad("rate / table / column_limits", RISING, _plain(_table(COLUMNS, "column_limits = [3, 3]"))),
    Bad("rate / table / area_limits", RISING, _plain(_table(AREAS, '["200 m2", "100 m2"]'))),
    Bad("rate / table / area_limits", RISING, _plain(_table(AREAS, '["200 m2", "200 m2"]'))),
    Bad(
        "rate / table / area_below",
        "expected limits that are in `area_limits`",
        _plain(_table(AREAS, '["100 m2", "200 m2"]\n  area_below = ["150 m2"]')),
    ),
    Bad("rate / table / further", FURTHER, _plain(_table(COLUMNS, "column_limits = [1, 3]\n  further = '5 L/s'"))),
    Bad(
        "metric_rate / table / area_limits",
        RISING,
        county("continuous", _table(AREAS, '["200 m2", "100 m2"]', under="metric_rate.table")),
    ),
    Bad(
        "total / table / column_limits",
        RISING,
        county("continuous", _table(COLUMNS, "column_limits = [3, 1]", under="total.table")),
    ),
    Bad(
        "run_time / table / column_limits",
        RISING,
        county("segment-factors", _table(COLUMNS, "column_limits = [3, 1]", under="run_time.table")),
    ),
]
RUNS = [
    Bad("run_time", SHARES, _segments(_run("[4.0, 2.0, 1.0]", "[4.0, 1.0]", mark="[run_time]"))),
    Bad("run_time", SHARES, _segments(_run("[0.25, 0.5, 1.0]", "[0.5, 0.25, 1.0]", mark="[run_time]"))),
    Bad("run_time", SHARES, _segments(_run("[0.25, 0.5, 1.0]", "[0.25, 0.25, 1.0]", mark="[run_time]"))),
    Bad(
        "run_time",
        SHARES,
        _segments(_run("[0.25, 0.5, 1.0]", "[]", mark="[run_time]").replace("[4.0, 2.0, 1.0]", "[]")),
    ),
    Bad("run_time / factors", FACTORS, _segments(_run("[4.0, 2.0, 1.0]", f"[4.0, 2.0, 0.0] {HERE}"))),
    Bad("run_time / factors", FACTORS, _segments(_run("[4.0, 2.0, 1.0]", f"[2.0, 4.0, 1.0] {HERE}"))),
    Bad("run_time / shares", ENDS, _segments(_run("[0.25, 0.5, 1.0]", f"[0.25, 0.5, 0.9] {HERE}"))),
    Bad("run_time / shares", ENDS, _segments(_run("[0.25, 0.5, 1.0]", f"[0.0, 0.5, 1.0] {HERE}"))),
    Bad("run_time / route", "the code has no table", county("segment-factors", f"  route = 'table' {HERE}\n")),
    Bad("run_time / route", "the code has no wet-rooms", county("segment-factors", f"  route = 'wet-rooms' {HERE}\n")),
    Bad("least_run", "goes with an average", county("continuous", _marked(LEAST_RUN, "[least_run]"))),
    Bad(
        "least_run / time",
        "the time must fit into the period",
        county("average", LEAST_RUN.replace('"1 h"', f'"5 h" {HERE}')),
    ),
]
LEVEL_WITHOUT = LEVELS.replace("share = 0.4\n", "")
OTHERS = [
    Bad(
        "levels / 1 / credit",
        "the code has no credit 'own-control'",
        county("levels", LEVELS, f"credit = 'own-control' {HERE}\n"),
    ),
    Bad("levels / 1", ONE_OF, county("levels", _marked(LEVEL_WITHOUT, "[[levels]]"))),
    Bad("levels / 0", ONE_OF, county("levels", own=_marked(LEVELS, "[[levels]]") + "by_main_rooms = ['9 L/s']\n")),
    Bad(
        "levels / 0",
        ONE_OF,
        county("levels", own=_marked(LEVELS, "[[levels]]") + "airflow_per_area = '1 L/s'\narea = '1 m2'\n"),
    ),
    Bad(
        "infiltration / credit",
        "the code has no credit 'tested'",
        county("average", INFILTRATION, f"credit = 'tested' {HERE}\n"),
    ),
    Bad(
        "examples / 1 / credits",
        "the code has no credit 'quiet'",
        county("continuous", EXAMPLE, EXAMPLE, f"credits = ['quiet'] {HERE}\n"),
    ),
]


def _needed(kind: str, key: str, own: str) -> Bad:
    return Bad(key, f"codes of kind {kind} need `{key}`", county(kind, own=own))


def _unwanted(kind: str, key: str, part: str) -> Bad:
    return Bad(key, f"codes of kind {kind} have no `{key}`", _marked(county(kind, part), f"[{key}]"))


INLINE_LEVELS = f"levels = [{{ occupancy = 'unoccupied', share = 0.4, basis = {SEEN} }}] {HERE}\n"
NEEDS = [
    _needed("average", "window", ""),
    _needed("exposure", "window", EXPOSURE),
    _needed("average-with-floor", "window", FLOOR),
    _needed("average-with-floor", "floor", WINDOW),
    _needed("exposure", "exposure", WINDOW),
    _needed("levels", "levels", ""),
    _needed("segment-factors", "run_time", ""),
    Bad("judged", "codes of kind continuous need `judged`", county("continuous", judged=f"judged = [] {HERE}")),
    Bad(
        "judged", "codes of kind capacity have no `judged`", county("capacity", judged=f"judged = ['occupied'] {HERE}")
    ),
]
UNWANTED = [
    *(_unwanted(kind, "run_time", RUN_TIME) for kind in PARTS if kind != "segment-factors"),
    *(_unwanted(kind, "window", WINDOW) for kind in ("capacity", "continuous", "segment-factors", "levels")),
    *(_unwanted(kind, "floor", FLOOR) for kind in PARTS if kind != "average-with-floor"),
    *(_unwanted(kind, "exposure", EXPOSURE) for kind in PARTS if kind != "exposure"),
    *(
        Bad("levels", f"codes of kind {kind} have no `levels`", county(kind, rate=INLINE_LEVELS + EQUATION))
        for kind in PARTS
        if kind != "levels"
    ),
]
EVERY = [*RATES, *TABLES, *RUNS, *OTHERS, *NEEDS, *UNWANTED]


def _one_problem(text: str) -> Problem:
    with pytest.raises(CodeFileError) as caught:
        parse_code(text, "county.toml")
    (problem,) = caught.value.problems
    return problem


def _marked_place(text: str) -> Position | None:
    marked = [(number, line) for number, line in enumerate(text.splitlines(), 1) if line.endswith(HERE)]
    if not marked:
        return None
    ((number, line),) = marked
    return Position("county.toml", number, len(line) - len(line.lstrip()) + 1)


IDS = [f"{number}-{bad.where}".replace(" ", "") for number, bad in enumerate(EVERY)]


@pytest.mark.parametrize("bad", EVERY, ids=IDS)
def test_what_does_not_go_together_is_said_alone_and_at_its_line(bad: Bad) -> None:
    problem = _one_problem(bad.text)
    assert (problem.where, problem.message) == (bad.where, bad.message)
    assert problem.position == _marked_place(bad.text)
    assert problem.file == "county.toml"


def test_what_is_left_out_has_no_line_and_all_else_has_one() -> None:
    left_out = [bad for bad in EVERY if _marked_place(bad.text) is None]
    keys = ["window", "window", "window", "floor", "exposure", "levels", "run_time"]
    assert [bad.where for bad in left_out] == keys


def _messages() -> list[str]:
    """Return a pattern for every message in the source of the checks."""
    patterns = []
    for node in ast.walk(ast.parse(inspect.getsource(code_checks))):
        if (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name)
            and node.func.id in {"_contradiction", "_reference"}
        ):
            text = node.args[0]
            parts = text.values if isinstance(text, ast.JoinedStr) else [text]
            patterns.append(
                "".join(re.escape(str(part.value)) if isinstance(part, ast.Constant) else ".+" for part in parts)
            )
    return patterns


def _claimed() -> list[str]:
    """A pattern for each message of the claims that the classes of a code file make."""
    modules = {Code.__module__, Rate.__module__, LeakageForm.__module__}
    bonds = [bond for shape, bonds in BONDS.items() if shape.__module__ in modules for bond in bonds]
    return [re.escape(bond.message).replace(re.escape("{kind}"), ".+") for bond in bonds]


def test_there_is_a_text_for_every_message() -> None:
    patterns = [*(pattern for pattern in _messages() if pattern != ".+"), *_claimed()]
    assert len(patterns) >= 20
    for pattern in patterns:
        assert any(re.fullmatch(pattern, bad.message) for bad in EVERY), pattern


def test_a_least_run_may_fill_its_period() -> None:
    assert parse_code(county("average", LEAST_RUN.replace('"1 h"', '"4 h"')), "county.toml").least_run is not None


def test_several_that_do_not_go_together_are_all_said() -> None:
    text = county("continuous", WINDOW, FLOOR, rate=_rate("extra_people = 1"))
    with pytest.raises(CodeFileError) as caught:
        parse_code(text, "county.toml")
    assert [problem.where for problem in caught.value.problems] == ["rate / equation", "window", "floor"]
