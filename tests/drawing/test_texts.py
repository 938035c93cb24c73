"""Mermaid texts and wiring tables: they keep their grammar, and all is in them."""

from pathlib import Path

import attrs
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.cli.running import SOUND
from tests.drawing.drawn import CROSSED, JOBS, bare, csv_rows, drawn, example, numbered, parsed, table_text, wild_jobs
from tests.drawing.geometry import assert_clear
from tests.drawing.mermaid_grammar import assert_mermaid
from ventrules import read_job
from ventrules.job import Job
from ventrules.outputs.draw_boxes import picture
from ventrules.outputs.draw_mermaid import mermaid
from ventrules.outputs.draw_svg import svg
from ventrules.outputs.draw_table import HEAD, WiringRow, wiring_rows
from ventrules.testing import jobs

# Mermaid


@pytest.mark.parametrize("path", JOBS, ids=lambda path: str(path.name))
def test_mermaid_text_keeps_its_grammar_in_the_examples(path: Path) -> None:
    assert_mermaid(example(path))


@settings(max_examples=25)
@given(wild_jobs())
def test_mermaid_text_keeps_its_grammar_however_devices_are_joined(job: Job) -> None:
    assert_mermaid(drawn(job))


# The table


@settings(max_examples=30)
@given(st.one_of(jobs(), wild_jobs()))
def test_csv_comes_back_as_it_was_and_lists_every_conductor(job: Job) -> None:
    found = bare(job)
    head, *rows = csv_rows(found)
    assert tuple(head) == HEAD
    assert [WiringRow(*row) for row in rows] == list(wiring_rows(found))
    expected = []
    for cable in found.cables:
        start, end = cable.view.ends
        wires = [wire for _number, wire in cable.wires]
        assert len(wires) == len(cable.view.conductors)
        joined = [(w.conductor.start or "", w.conductor.end or "") for w in wires] or [("", "")]
        expected += [[cable.label, str(start), a, str(end), b] for a, b in joined]
    assert [row[:5] for row in rows] == expected
    assert {row[0] for row in rows} == {f"W{number}" for number in range(1, len(job.cables) + 1)}


def test_a_straight_cable_has_a_row_for_each_terminal_that_both_ports_have() -> None:
    rows = wiring_rows(bare(read_job(SOUND / "number-02.yaml")))
    first = [(row.start_terminal, row.end_terminal, row.role) for row in rows if row.start == "control.system"]
    assert first == [(name, name, name) for name in ("common", "data+", "data-", "supply")]
    assert {(row.gauge, row.length) for row in rows if row.cable == "W1"} == {("18 AWG", "34 ft")}


def test_roles_that_differ_are_both_named() -> None:
    rows = wiring_rows(bare(read_job(CROSSED)))
    crossed = {row.start_terminal: row.role for row in rows if row.start == "module.ventilator"}
    assert crossed["data+"] == "data+ / data-"
    assert crossed["supply"] == "supply"


@pytest.mark.parametrize("path", JOBS, ids=lambda path: str(path.name))
def test_text_and_csv_say_the_same(path: Path) -> None:
    found = example(path)
    lines = table_text(found)
    head, *rows = csv_rows(found)
    kept = [number for number in range(len(head)) if any(row[number] for row in rows)]
    widths = [max(len(row[number]) for row in (head, *rows)) for number in kept]
    begun = [sum(widths[:at]) + 2 * at for at in range(len(widths))]
    said = [
        [line[at : at + width].rstrip() for at, width in zip(begun, widths, strict=True)]
        for line in lines[2 : 3 + len(rows)]
    ]
    assert said == [[row[number] for number in kept] for row in (head, *rows)]
    rest = " ".join(" ".join(lines[3 + len(rows) :]).split())
    for number, finding in numbered(found):
        assert f"{number}. " in rest
        assert " ".join(finding.message.split()) in rest
        assert finding.rule in rest


def test_a_job_without_a_cable_has_a_picture_and_says_so_in_its_table() -> None:
    job = attrs.evolve(read_job(SOUND / "number-02.yaml"), cables=())
    found = bare(job)
    assert table_text(found)[2] == "There is no cable."
    assert csv_rows(found) == [list(HEAD)]
    assert_clear(picture(found))
    assert "Without a cable:" in svg(found)
    assert_mermaid(found)


def test_a_job_without_a_device_has_a_picture() -> None:
    job = attrs.evolve(read_job(SOUND / "number-02.yaml"), cables=(), devices={}, settings={})
    assert parsed(svg(bare(job))).findtext("desc") == "0 devices, 0 cables and 0 findings."
    assert mermaid(bare(job)) == "flowchart LR\n"
