"""The benchmark table as a test that it works: one small round, and what its jobs are."""

import os
from itertools import islice

import pytest

from tests.bench import start
from tests.bench.table import FULL, FULL_FAULTY, bar, lines, measured, shown
from tests.bench.variants import SIZES, texts
from ventrules import check, parse_job

DEVICES = {"small": 2, "typical": 6, "large": 60}


@pytest.mark.parametrize("size", SIZES)
def test_no_two_jobs_are_alike_and_they_are_as_sound_or_faulty_as_is_said(size: str) -> None:
    sound = list(islice(texts(SIZES[size], faulty=False), 240))
    assert len(set(sound)) == len(sound)
    for number, faulty in [(0, False), (101, False), (1, True), (2, True), (3, True), (4, True)]:
        (text,) = islice(texts(SIZES[size], faulty=faulty, start=number), 1)
        job = parse_job(text, name="job.json")
        assert len(job.devices) == DEVICES[size]
        rules = {finding.rule for finding in check(job).findings}
        if size == "small":
            assert rules == {"settings/run-outside-controller"}  # none of two devices is the controller's
        else:
            assert bool(rules) is faulty


def test_the_table_has_a_figure_for_every_line_and_size() -> None:
    table = [line for line in lines() if not line.slow]
    figures = measured(table, rounds=1, jobs=dict.fromkeys(SIZES, 1))
    assert figures.keys() == {(line.name, size) for line in table for size in SIZES}
    assert all(seconds > 0.0 and ratio > 0.0 for seconds, ratio in figures.values())
    text = "\n".join(shown(figures))
    assert all(line.name in text for line in table)
    assert text.count("bar: at most 30") == len([FULL, FULL_FAULTY])


def test_other_validators_accept_what_they_are_timed_on() -> None:
    validators = [line for line in lines() if "jsonschema" in line.name]
    assert len(validators) == 2
    for size in SIZES:
        (text,) = islice(texts(SIZES[size], faulty=False), 1)
        assert [line.do(line.prepare(text)) for line in validators] == [True, True]


def test_a_bar_says_whether_it_is_met() -> None:
    assert bar(29.0, at_most=30.0) == "bar: at most 30, met"
    assert bar(31.0, at_most=30.0) == "bar: at most 30, NOT MET"
    assert bar(1.75, at_least=1.7) == "bar: at least 1.7, met"
    assert bar(1.65, at_least=1.7) == "bar: at least 1.7, NOT MET"


def test_the_commands_whose_start_is_measured_run() -> None:
    found = start.one_round(os.environ)
    assert found.keys() == start.COMMANDS.keys()
    assert all(wall > 0.0 and cpu > 0.0 for wall, cpu in found.values())
