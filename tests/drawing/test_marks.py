"""Pictures have every device, cable and finding, and each finding is marked at its place."""

import re
from pathlib import Path

import attrs
import pytest

from tests.cli.running import FAULTY, SOUND
from tests.drawing.drawn import CROSSED, JOBS, drawn, example, numbered, parsed, table_text
from tests.drawing.mermaid_grammar import plain
from ventrules import check, read_job
from ventrules.engine import Place
from ventrules.outputs.draw_marks import Spot, drawing
from ventrules.outputs.draw_mermaid import mermaid
from ventrules.outputs.draw_svg import svg
from ventrules.outputs.draw_table import wiring_rows
from ventrules.survey import Survey


@pytest.mark.parametrize("path", JOBS, ids=lambda path: str(path.name))
def test_an_svg_has_each_device_cable_and_finding_once(path: Path) -> None:
    found = example(path)
    root = parsed(svg(found))
    assert (root.tag, root.get("role")) == ("svg", "img")
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    classes = [element.get("class") for element in root.iter()]
    assert classes.count("device") == len(found.survey.devices)
    assert classes.count("cable") == len(found.cables)
    titles = [group.findtext("title") for group in root.iter("g") if group.get("class") == "device"]
    assert titles == [device.name for device in found.survey.devices]
    for number, finding in numbered(found):
        (item,) = (element for element in root.iter() if element.get("id") == f"finding-{number}")
        said = " ".join(text.text or "" for text in item.iter("text"))
        assert said.startswith(f"{number} ")
        assert finding.rule in said
        assert " ".join(finding.message.split()) in said
    assert root.findtext("title") == f"Wiring of {found.survey.job.title}"


@pytest.mark.parametrize("path", JOBS, ids=lambda path: str(path.name))
def test_a_finding_is_marked_at_the_device_or_cable_of_its_place(path: Path) -> None:
    found = example(path)
    groups = {group.get("id"): group for group in parsed(svg(found)).iter("g")}
    labels = {cable.view.index: f"cable-{cable.label}" for cable in found.cables}
    for number, finding in numbered(found):
        match finding.place.path:
            case ("devices" | "settings" | "readings" | "indicators", str(device), *_within):
                (group,) = (g for g in groups.values() if g.get("class") == "device" and g.findtext("title") == device)
            case ("cables", int(index), *_within):
                group = groups[labels[index]]
            case _elsewhere:
                continue
        marks = [mark for mark in group.iter("g") if mark.get("data-finding") == str(number)]
        assert marks, finding
        assert any(mark.findtext("text") == str(number) for mark in marks)


def test_what_takes_part_in_a_finding_is_marked_in_white() -> None:
    found = drawn(read_job(FAULTY / "two-bridges.yaml"))
    (number,) = (f.number for f in found.findings if f.finding.rule == "wiring/two-bridges")
    own = {name: mark.own for name in found.survey.models for mark in found.marks(Spot(name)) if mark.number == number}
    (finding,) = (f.finding for f in found.findings if f.number == number)
    parts = {str(place.path[1]) for place in finding.related} - {str(finding.place.path[1])}
    assert own == {**dict.fromkeys(parts, False), str(finding.place.path[1]): True}
    assert parts


def test_the_cables_of_a_ring_are_marked_as_its_place() -> None:
    found = drawn(read_job(FAULTY / "ring-of-cables.yaml"))
    (number,) = (f.number for f in found.findings if f.finding.rule == "wiring/ring")
    marked = {
        cable.view.index for cable in found.cables for mark in found.marks(Spot(cable=cable.view.index)) if mark.own
    }
    assert marked == {1, 2, 3}
    assert number in {mark.number for mark in found.all_marks}


def test_a_finding_of_no_device_is_said_to_be_of_none() -> None:
    found = drawn(read_job(FAULTY / "calendar-gap.yaml"))
    assert [item.marked for item in found.findings if item.finding.place.path == ("calendar",)] == [False]
    assert "(not at one device or cable)" in svg(found)


@pytest.mark.parametrize("path", [CROSSED, SOUND / "number-02.yaml"], ids=["listed", "straight through"])
def test_a_finding_at_a_conductor_is_marked_at_that_conductor_alone(path: Path) -> None:
    job = read_job(path)
    view = Survey(job).cables[2]
    (like, *_rest) = check(read_job(CROSSED)).findings
    finding = attrs.evolve(like, place=view.conductors[1].place, related=(), message="the second of them")
    found = drawing(Survey(job), [finding])
    wire = view.conductors[1].conductor
    marked = [row for row in wiring_rows(found) if row.findings]
    ends = (str(view.ends[0]), wire.start, str(view.ends[1]), wire.end)
    assert [(row.start, row.start_terminal, row.end, row.end_terminal) for row in marked] == [ends]
    assert marked[0].findings == "1"
    (cable,) = (cable for cable in found.cables if cable.view.index == 2)
    (group,) = (g for g in parsed(svg(found)).iter("g") if g.get("id") == f"cable-{cable.label}")
    assert [mark.get("data-finding") for mark in group.iter("g") if mark.get("class") == "mark"] == ["1"]
    assert f"{wire.start} to {wire.end}" in [text.text for text in group.iter("text")]
    assert "<br/>finding 1" in mermaid(found)


def test_a_finding_at_a_port_is_marked_in_its_row() -> None:
    job = read_job(SOUND / "number-02.yaml")
    (like, *_rest) = check(read_job(CROSSED)).findings
    places = [
        Place.at("devices", "module", "ports", "ventilator", "address"),
        Place.at("voltages", "module.ventilator"),
        Place.at("voltages", "module.cellar"),
        Place.at("devices", "nobody"),
        Place(("cables", 99), "cables / none"),
    ]
    findings = [attrs.evolve(like, place=place, related=()) for place in places]
    found = drawing(Survey(job), findings)
    assert [mark.number for mark in found.marks(Spot("module", "ventilator"))] == [1, 2]
    assert [item.marked for item in found.findings] == [True, True, False, False, False]


@pytest.mark.parametrize("path", JOBS, ids=lambda path: str(path.name))
def test_cautions_go_with_their_findings(path: Path) -> None:
    found = example(path)
    cautions = {caution for _number, finding in numbered(found) for caution in finding.cautions}
    labels = [" ".join(plain(label)) for label in re.findall(r'^    c\d+\["(.*)"\]$', mermaid(found), re.MULTILINE)]
    assert sorted(labels) == sorted(f"Caution: {caution}" for caution in cautions)
    in_picture = " ".join(text.text or "" for text in parsed(svg(found)).iter("text"))
    in_table = " ".join(" ".join(table_text(found)).split())
    for said in (in_picture, in_table):
        assert said.count("Caution: ") == len(cautions)
        assert all(caution in said for caution in cautions)
