"""Facts that are worked out once, against `functools.cached_property`, and under threads."""

import gc
import weakref
from concurrent.futures import ThreadPoolExecutor
from functools import cached_property
from threading import Barrier

import pytest
from attrs import evolve, frozen

from tests.bench.sample import SIX_DEVICES
from ventrules import Survey, installed_rules, job_from_document
from ventrules.engine import run
from ventrules.engine.once import forget, once


@frozen(slots=False)
class Field:
    """A field; what was worked out of it is counted."""

    length: float
    width: float

    @once
    def asked(self) -> list[str]:
        """What was asked, in order."""
        return []

    @once
    def area(self) -> float:
        """Its area."""
        self.asked.append("area")
        return self.length * self.width

    @once
    def fenced(self) -> float:
        """What is not told."""
        self.asked.append("fenced")
        raise LookupError("nobody measured the fence")

    @cached_property
    def usual(self) -> float:
        """The same as `area`, the usual way."""
        return self.length * self.width


def test_it_is_worked_out_when_first_asked_and_kept() -> None:
    field = Field(3.0, 4.0)
    assert "area" not in vars(field)
    assert field.area == field.area == field.usual == 12.0
    assert field.asked == ["area"]
    assert vars(field)["area"] == 12.0


def test_what_raises_is_not_kept() -> None:
    field = Field(3.0, 4.0)
    for _time in range(2):
        with pytest.raises(LookupError, match="fence"):
            _ = field.fenced
    assert field.asked == ["fenced", "fenced"]


def test_it_is_no_part_of_the_value() -> None:
    field, other = Field(3.0, 4.0), Field(3.0, 4.0)
    assert field.area == 12.0
    assert field == other
    assert evolve(field, width=5.0).area == 15.0


def test_the_class_shows_it_as_a_property_does() -> None:
    assert isinstance(Field.area, once)
    assert Field.area.__doc__ == "Its area."


def test_what_is_forgotten_is_worked_out_again() -> None:
    field = Field(3.0, 4.0)
    assert field.area == 12.0
    forget(field)
    assert vars(field).keys() == {"length", "width"}
    assert field.area == 12.0


def test_a_survey_that_is_forgotten_leaves_nothing_to_the_garbage_collector() -> None:
    job = job_from_document(SIX_DEVICES)
    gc.collect()
    gc.disable()
    try:
        survey = Survey(job)
        findings = run(installed_rules(), survey)
        seen = weakref.ref(survey.dwelling)
        assert seen() is not None
        forget(survey)
        assert seen() is None
    finally:
        gc.enable()
    assert run(installed_rules(), survey) == findings


def test_threads_that_ask_at_once_get_the_same_object() -> None:
    count = 8
    for _time in range(20):
        field, together = Field(3.0, 4.0), Barrier(count)

        def ask(_number: int, field: Field = field, together: Barrier = together) -> list[str]:
            together.wait()
            return field.asked

        with ThreadPoolExecutor(count) as pool:
            found = list(pool.map(ask, range(count)))
        assert all(one is field.asked for one in found)
