"""Writers keep no outcomes: what many jobs leave in memory is what some do."""

import gc
import io
import tracemalloc
from pathlib import Path
from typing import Final

import pytest

from ventrules import Outcome, Tally, check_one, installed_rules
from ventrules.outputs import FORMATS, Closing, ReportWriter, report_writer

FAULTY: Final = Path(__file__).parents[2] / "examples" / "faulty" / "two-bridges.yaml"


class Nowhere(io.StringIO):
    """A stream that keeps nothing but how much it was given."""

    size = 0

    def write(self, text: str, /) -> int:
        self.size += len(text)
        return len(text)


def held(writer: ReportWriter, tally: Tally, outcome: Outcome, number: int) -> int:
    for _again in range(number):
        tally.add(outcome)
        writer.write(outcome)
    gc.collect()
    return tracemalloc.get_traced_memory()[0]


@pytest.mark.parametrize("form", sorted(FORMATS))
def test_what_is_held_does_not_grow_with_the_jobs(form: str) -> None:
    outcome, tally, stream = check_one(FAULTY, in_text=True), Tally(), Nowhere()
    tracemalloc.start()
    try:
        writer = report_writer(form, stream, installed_rules())
        few = held(writer, tally, outcome, 210)
        many = held(writer, tally, outcome, 60)
        writer.close(Closing(tally))
    finally:
        tracemalloc.stop()
    assert many - few < 60 * 40  # far less than the name of a file for each job
    assert stream.size > 10_000
