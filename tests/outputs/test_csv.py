"""CSV: RFC 4180, a row for each finding, and nothing that a spreadsheet would calculate."""

import csv
import io
import re
from typing import Final

from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.outputs.telling import outcomes, written
from ventrules import JobText, Outcome, check_one
from ventrules.outputs.findings_csv import COLUMNS
from ventrules.outputs.text import printable
from ventrules.outputs.told import told

FORMULA: Final = ("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20", "::")


def rows(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text, newline=""), strict=True))


def taken_back(cell: str) -> str:
    """What a cell holds: an apostrophe before what looks like a formula is taken away, as the page says."""
    bare = cell.removeprefix("'")
    return bare if bare != cell and re.sub(r"^['\s]+", "", cell).startswith(FORMULA) else cell


@settings(max_examples=settings().max_examples // 10)
@given(outcomes())
def test_there_is_a_heading_and_a_row_for_each_finding(found: list[Outcome]) -> None:
    text = written("csv", found)
    heading, *others = rows(text)
    assert tuple(heading) == COLUMNS
    assert len(others) == sum(len(list(told(outcome))) for outcome in found)
    assert {len(row) for row in others} <= {len(COLUMNS)}
    assert text.count("\n") == len(others) + 1  # no row goes over two lines
    assert re.search(r"(?<!\r)\n", text) is None  # RFC 4180, section 2: lines end with CRLF


@given(st.text(min_size=1))
@example("=1+1")
@example("'=1+1")
@example("''@x")
@example(" ' =1")
@example("-5")
@example('a,"b"\r\nc')
def test_no_cell_begins_like_a_formula_and_every_text_comes_back(name: str) -> None:
    text = written("csv", [check_one(JobText(name, "job: ["))])
    _heading, row = rows(text)
    assert not row[0].lstrip().startswith(FORMULA)
    assert taken_back(row[0]) == printable(name)
