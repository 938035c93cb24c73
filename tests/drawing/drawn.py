"""Jobs ready to be drawn, for tests of pictures and wiring tables, and what is read back from the drawn."""

import csv
import io
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Final
from xml.etree import ElementTree as ET

from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from tests.cli.running import FAULTY, SOUND
from ventrules import check, read_job
from ventrules.engine import Finding
from ventrules.engine.findings import Document
from ventrules.files import job_from_document, packaged_catalog
from ventrules.job import Job
from ventrules.outputs import PlainPaper
from ventrules.outputs.draw_marks import Drawing, drawing
from ventrules.outputs.draw_table import wiring_csv, wiring_text
from ventrules.survey import Survey

JOBS: Final = sorted([*SOUND.glob("number-*"), *FAULTY.glob("*.*")])
CROSSED: Final = FAULTY / "conductors-crossed.yaml"
LONGEST: Final = 63


def drawn(job: Job, more: Sequence[Finding] = ()) -> Drawing:
    """Return a job with its findings, and some more, ready to be drawn."""
    return drawing(Survey(job), [*check(job).findings, *more])


@cache
def example(path: Path) -> Drawing:
    """Return an example with its findings, ready to be drawn."""
    return drawn(read_job(path))


def bare(job: Job) -> Drawing:
    """Return a job without any finding, ready to be drawn."""
    return drawing(Survey(job), ())


def numbered(found: Drawing) -> list[tuple[int, Finding]]:
    """Return the findings as they are to be numbered."""
    assert [item.number for item in found.findings] == list(range(1, len(found.findings) + 1))
    return [(item.number, item.finding) for item in found.findings]


def parsed(text: str) -> ET.Element:
    """Return the root of an SVG text, its names without their namespace."""
    root = ET.fromstring(text)  # noqa: S314 - our own
    for element in root.iter():
        assert element.tag.startswith("{http://www.w3.org/2000/svg}")
        element.tag = element.tag.partition("}")[2]
    return root


def table_text(found: Drawing) -> list[str]:
    """Return the lines of the wiring table for people."""
    stream = io.StringIO()
    wiring_text(PlainPaper(stream, 100), found)
    return stream.getvalue().splitlines()


def csv_rows(found: Drawing) -> list[list[str]]:
    """Return the rows of the CSV table, header first."""
    return list(csv.reader(io.StringIO(wiring_csv(found))))


@st.composite
def wild_jobs(draw: DrawFn) -> Job:
    """Strategy for jobs whose devices are joined anyhow, under names of any length: rings, islands, wrong ports."""
    models = packaged_catalog("demo").models
    letters = st.text("aWi_0 漢é", min_size=1, max_size=LONGEST - 2).map(lambda name: f"n{name}x")
    names = draw(st.lists(letters, min_size=1, max_size=9, unique=True))
    devices = {name: draw(st.sampled_from(sorted(models))) for name in names}
    ports = sorted(f"{name}.{port}" for name, model in devices.items() for port in models[model].ports)
    pair = st.lists(st.sampled_from(ports), min_size=2, max_size=2, unique=len(ports) > 1)
    pairs = draw(st.lists(pair, max_size=14 if len(ports) > 1 else 0))
    sizes: list[dict[str, Document]] = [{}, {"gauge": "18 AWG", "length": "30 ft"}, {"gauge": "0.82 mm2"}]
    cables: list[Document] = [{"from": a, "to": b, **draw(st.sampled_from(sizes))} for a, b in pairs]
    return job_from_document(
        {
            "ventrules": 1,
            "job": "Quarry Lane 1",
            "catalogs": ["demo"],
            "dwelling": {"floor_area": "2000 ft2", "bedrooms": 3},
            "target": {"airflow": "60 cfm", "window": "4 h"},
            "devices": {name: {"model": model} for name, model in devices.items()},
            "cables": cables,
            "modes": {"day": "occupied"},
        }
    )
