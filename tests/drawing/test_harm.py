"""No text of a job does harm in what is drawn, and letters are counted as they are shown."""

import math
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Final

import attrs
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.cli.running import SOUND
from tests.drawing.drawn import CROSSED, JOBS, bare, csv_rows, example, parsed, table_text
from tests.drawing.mermaid_grammar import assert_mermaid
from ventrules import check, read_job
from ventrules.engine import Place
from ventrules.job import Conductor, Conductors
from ventrules.outputs.draw_lettering import cells, wrapped
from ventrules.outputs.draw_marks import Drawing, drawing
from ventrules.outputs.draw_mermaid import mermaid
from ventrules.outputs.draw_svg import svg
from ventrules.outputs.draw_table import HEAD, wiring_csv
from ventrules.survey import Survey

OBEYED: Final = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2066-\u2069\ufeff]")

# Text that would do harm

HARMFUL: Final = [
    "=1+1",
    "+1",
    "-1",
    "@SUM(A1)",
    "\t=1",
    "a\r=1",
    'a "quoted", b',
    "a < b & c > d ]]> <script>",
    "\x1b[31m red \x00",
    "\u202e back \u2066 \ufeff",
    "#quot; #35; `x` | ]",
    "\ud800",
]


def harmful(text: str) -> Drawing:
    """Return a job that says something everywhere where a job may say anything."""
    job = read_job(CROSSED)
    wires = Conductors((Conductor("data+", "data+", text),), listed=True)
    cable = attrs.evolve(job.cables[2], conductors=wires)
    job = attrs.evolve(job, title=text, cables=(*job.cables[:2], cable))
    (like, *_rest) = check(read_job(CROSSED)).findings
    return drawing(Survey(job), [attrs.evolve(like, message=text, place=Place(("cables", 2), text))])


@pytest.mark.parametrize("text", HARMFUL, ids=ascii)
def test_harmful_text_is_made_harmless_everywhere(text: str) -> None:
    found = harmful(text)
    picture_text = svg(found)
    assert picture_text.isascii()
    root = parsed(picture_text)
    everything = "".join(root.itertext())
    for shown in (everything, mermaid(found), wiring_csv(found), "\n".join(table_text(found))):
        shown.encode()
        assert not OBEYED.search(shown)
    assert_mermaid(found)
    for row in csv_rows(found):
        assert not any(cell.startswith(("=", "+", "-", "@", "\t", "\r")) for cell in row)
    allowed = {"svg", "title", "desc", "g", "rect", "line", "polyline", "circle", "text"}
    assert {element.tag for element in root.iter()} <= allowed
    names = {name for element in root.iter() for name in element.attrib}
    assert not {name for name in names if name.startswith("on") or "href" in name or name == "style"}


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)"])
def test_a_cell_that_looks_like_a_formula_keeps_its_text(text: str) -> None:
    colors = {row[HEAD.index("color")] for row in csv_rows(harmful(text))}
    assert f"'{text}" in colors
    terminals = {row[HEAD.index("from terminal")] for row in csv_rows(harmful(text))}
    assert "data+" in terminals


def test_markup_in_a_message_is_text() -> None:
    root = parsed(svg(harmful("a < b & c")))
    assert root.findtext("title") == "Wiring of a < b & c"
    assert "a < b & c" in [text.text for text in root.iter("text")]


# Letters


@given(st.text(max_size=200), st.integers(2, 40))
def test_wrapped_lines_fit_and_lose_nothing(text: str, most: int) -> None:
    lines = wrapped(text, most)
    assert lines
    assert all(cells(line) <= most for line in lines)
    assert "".join("".join(lines).split()) == "".join(wrapped(text, 10_000)[0].split())


def test_wide_and_combining_letters_are_counted_as_they_are_shown() -> None:
    assert [cells(text) for text in ("ab", "漢字", "e\u0301", "")] == [2, 4, 1, 0]


@pytest.mark.parametrize("path", JOBS, ids=lambda path: path.stem)
def test_lines_end_within_the_picture_where_letters_are_a_whole_px_wide(path: Path) -> None:
    # letters of common monospaced fonts are 0.602 of their size wide; some programs round that up: common practice
    root = parsed(svg(example(path)))
    width = float(root.get("width", ""))
    for text in root.findall("text") + root.findall("g[@id='findings']//text"):
        if text.get("text-anchor") is None:
            letter = math.ceil(0.602 * float(text.get("font-size", "")))
            assert float(text.get("x", "")) + letter * cells(text.text or "") <= width


def test_ids_of_different_names_differ() -> None:
    job = read_job(SOUND / "number-02.yaml")
    names = ["a b", "a_b", "a-b", "a_20_b", "ä", "a+b"]
    like = job.devices["furnace"]
    devices = {**job.devices, **dict.fromkeys(names, like)}
    root = parsed(svg(bare(attrs.evolve(job, devices=devices))))
    ids: Mapping[str | None, int] = {g.get("id"): 1 for g in root.iter("g") if g.get("class") == "device"}
    assert len(ids) == len(devices)
