"""Mermaid texts and wiring tables: they keep their grammar, and all is in them."""

from pathlib import Path

import attrs
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.cli.running import FAULTY, SOUND
from tests.drawing.drawn import CROSSED, JOBS, bare, csv_rows, drawn, example, numbered, parsed, table_text, wild_jobs
from tests.drawing.geometry import assert_clear
from tests.drawing.mermaid_grammar import assert_mermaid
from ventrules import read_job
from ventrules.job import Job
from ventrules.outputs.draw_boxes import picture
from ventrules.outputs.draw_mermaid import mermaid
from ventrules.outputs.draw_supply import supply_rows
from ventrules.outputs.draw_svg import svg
from ventrules.outputs.draw_table import HEAD, WiringRow, wiring_rows
from ventrules.survey import PortRef
from ventrules.testing import jobs
from ventrules.units import Voltage

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


@settings(max_examples=30)
@given(jobs())
def test_a_voltage_to_expect_is_that_of_the_survey_and_the_least_margin_is_marked(job: Job) -> None:
    found = bare(job)
    rows = supply_rows(found)
    ends = {end for index in range(len(job.cables)) for end in found.survey.topology.ends[index]}
    drawing = {
        port: volt
        for device in found.survey.devices
        for name, told in device.model.ports.items()
        if told.draw is not None
        and told.supplies is None
        and (port := PortRef(device.name, name)) in ends
        and (volt := found.survey.voltage_at(port)) is not None
    }
    assert {row.port: row.voltage for row in rows} == {
        str(port): str(Voltage.shown(volt, "V")) for port, volt in drawing.items()
    }
    for source in {row.source for row in rows}:
        together = [row for row in rows if row.source == source]
        marked = [row for row in together if "least margin" in row.note]
        assert len(marked) == (len(together) > 1)
        assert all(
            float(row.margin.removesuffix(" V")) >= float(m.margin.removesuffix(" V"))
            for row in together
            for m in marked
        )
    text = table_text(found)
    assert all(any(row.port in line and row.voltage in line for line in text) for row in rows)


def test_a_circuit_of_faulty_conductors_and_one_of_unknown_length_promise_no_voltage() -> None:
    crossed = drawn(read_job(FAULTY / "supply-on-data.yaml"))
    assert not any(row.source == "module.ventilator" for row in supply_rows(crossed))
    untold = drawn(read_job(FAULTY / "length-of-a-cable-unknown.yaml"))
    (row,) = (row for row in supply_rows(untold) if row.source == "transformer.secondary")
    assert (row.voltage, row.margin) == ("cannot be told", "")
    assert "usual window" in row.note


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
