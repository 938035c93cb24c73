"""The worked examples inside the code files: all hold, and one that is off is reported."""

import attrs
import pytest

from ventrules.codes import Code, Example, failed_examples, worked
from ventrules.files import load_code, parse_code
from ventrules.files.resources import code_names
from ventrules.job import Room, RoomKind
from ventrules.units import Airflow

CODES = {name: load_code(name) for name in code_names()}
EVERY = [(name, number) for name, code in CODES.items() for number in range(len(code.examples))]


def _with(code: Code, number: int, example: Example) -> Code:
    examples = (*code.examples[:number], example, *code.examples[number + 1 :])
    return attrs.evolve(code, examples=examples)


def test_all_of_them_are_here() -> None:
    assert len(CODES) == 32
    assert len(EVERY) == 290
    assert all(code.examples for code in CODES.values())


@pytest.mark.parametrize("name", CODES)
def test_every_example_holds(name: str) -> None:
    assert failed_examples(CODES[name]) == ()


@pytest.mark.parametrize("name", CODES)
def test_every_example_says_whether_it_was_published_or_computed(name: str) -> None:
    for example in CODES[name].examples:
        assert example.source.startswith(("published: ", "computed from "))
        assert 0.0 < example.tolerance <= 0.005  # the rounding of a printed figure, and no more


@pytest.mark.parametrize("name", CODES)
@pytest.mark.parametrize("factor", [0.98, 1.02])
def test_an_example_that_is_off_by_two_percent_is_reported(name: str, factor: float) -> None:
    code = CODES[name]
    for number, example in enumerate(code.examples):
        wrong = Airflow.of(example.airflow.to(example.airflow.unit) * factor, example.airflow.unit)
        (line,) = failed_examples(_with(code, number, attrs.evolve(example, airflow=wrong)))
        assert line.startswith(f"example {number + 1} ({example.source}): expected {wrong}, found ")
        assert line.endswith(f" {example.airflow.unit}")


@pytest.mark.parametrize(("name", "number"), EVERY)
def test_an_example_is_reproduced_to_its_last_written_decimal(name: str, number: int) -> None:
    code = CODES[name]
    example = code.examples[number]
    found = worked(code, example)
    # Half a unit of the last decimal that is written: nothing is hidden in the relative tolerance.
    written = (example.airflow.written or "").split()[0]
    decimals = len(written.partition(".")[2])
    half = Airflow.of(0.5 * 10.0**-decimals, example.airflow.unit).m3s
    assert abs(found - example.airflow.m3s) <= half * (1.0 + 1e-9)


def test_an_example_that_cannot_be_worked_is_reported_with_what_is_missing() -> None:
    rooms = CODES["csa-f326"]
    lines = failed_examples(_with(rooms, 0, attrs.evolve(rooms.examples[0], rooms=())))
    assert lines == (f"example 1 ({rooms.examples[0].source}): the rooms are missing; give `dwelling.rooms`",)
    main = CODES["fr-1982"]
    (line,) = failed_examples(_with(main, 2, attrs.evolve(main.examples[2], main_rooms=None)))
    assert line.startswith("example 3 (published: art. 4, main rooms: 3): the number of main rooms is missing")


def test_the_first_room_of_an_example_is_the_first_room_beyond_ninety_nine_too() -> None:
    code = CODES["csa-f326"]
    example = attrs.evolve(code.examples[0], rooms=(Room(RoomKind.BEDROOM),) * 120)
    assert worked(code, example) == pytest.approx((10 + 119 * 5) * 1e-3)


def test_an_example_of_ones_own_that_is_off_is_reported() -> None:
    text = """\
ventrules-code = 1
code = "county"
title = "Ordinance of an invented county"
edition = "2020"
jurisdiction = "an invented county"
kind = "continuous"
counts = "supply"
counts_basis = { clause = "1", known = "seen" }
judged = ["occupied"]
judged_basis = { clause = "1", known = "seen" }
[rate.equation]
airflow_per_occupant = "10 L/s"
basis = { clause = "2", known = "seen" }
[[examples]]
floor_area = "100 m2"
bedrooms = 2
airflow = "30 L/s"
source = "computed from 2: one more than bedrooms"
[[examples]]
floor_area = "100 m2"
bedrooms = 2
occupants = 5
airflow = "51 L/s"
source = "computed from 2: people who live there"
"""
    assert failed_examples(parse_code(text, "county.toml")) == (
        "example 2 (computed from 2: people who live there): expected 51 L/s, found 50 L/s",
    )
