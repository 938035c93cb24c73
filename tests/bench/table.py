"""The table of ratios: what a check costs beside other things that are done with the same texts, in one run."""

import json
import statistics
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import islice
from time import process_time
from typing import Any, Final

import jsonschema_rs
import orjson
from attrs import frozen
from jsonschema import Draft202012Validator

from tests.bench.variants import SIZES, texts
from tests.shacl.export import bus_graph
from tests.shacl.oracle import topology_rules, validated
from ventrules import Job, check, parse_job, schema
from ventrules.checking import found_in

ROUNDS: Final = 7
JOBS: Final[Mapping[str, int]] = {"small": 40, "typical": 40, "large": 6}
"""Jobs that each line takes in one round."""
_SLOW_ROUNDS: Final = 3
_SLOW_JOBS: Final = 1
BASE: Final = "json.loads"
FULL: Final = "full check from text, nothing found"
FULL_FAULTY: Final = "full check from text, with findings"
MOST: Final = 30.0
"""Times `json.loads` that a full check may take on the typical job."""


@frozen
class Line:
    """One line of the table: what is done with each job.

    Attributes:
        name: What it is.
        do: What is timed.
        prepare: What is done to the text before, untimed.
        faulty: Whether the jobs have faults.
        slow: Whether a few jobs have to do.
    """

    name: str
    do: Callable[[Any], object]
    prepare: Callable[[str], object] = str
    faulty: bool = False
    slow: bool = False


def _job(text: str) -> Job:
    return parse_job(text, name="job.json")


def lines() -> Sequence[Line]:
    """Return the lines of the table; other validators are given the published schema of jobs."""
    job_schema = schema("job")
    pure, compiled = Draft202012Validator(job_schema), jsonschema_rs.validator_for(job_schema)
    rules = topology_rules()
    return (
        Line(BASE, json.loads),
        Line("orjson.loads", orjson.loads),
        Line("json.loads and jsonschema-rs", lambda text: compiled.is_valid(json.loads(text))),
        Line("json.loads and jsonschema", lambda text: pure.is_valid(json.loads(text))),
        Line("text to job, no rule", _job),
        Line(FULL, lambda text: check(_job(text)).findings),
        Line(FULL_FAULTY, lambda text: check(_job(text)).findings, faulty=True),
        Line("topology rules alone", lambda job: found_in(job, rules), _job),
        Line("pySHACL on the topology rules alone", validated, lambda text: bus_graph(_job(text)), slow=True),
    )


Figures = Mapping[tuple[str, str], tuple[float, float]]
"""For each line and size: processor time for one job, s, and how many times `json.loads` of the same texts that is."""


def measured(table: Sequence[Line], rounds: int = ROUNDS, jobs: Mapping[str, int] = JOBS) -> Figures:
    """Measure in rounds that take every line once: medians of them. No line sees a text a second time.

    Args:
        table: The lines.
        rounds: How many rounds.
        jobs: How many jobs of each size a line takes in one round.
    """
    fresh = {
        (line.name, size): texts(make, faulty=line.faulty, start=number * 100_000)
        for number, line in enumerate(table)
        for size, make in SIZES.items()
    }
    times: dict[tuple[str, str], list[tuple[float, float]]] = {key: [] for key in fresh}
    for number in range(-1, rounds):  # the first is for warming up
        for size in SIZES:
            for line in table:
                if not line.slow or number < _SLOW_ROUNDS:
                    given = list(islice(fresh[line.name, size], _SLOW_JOBS if line.slow else jobs[size]))
                    again = given * max(1, jobs[size] // len(given))
                    base = _timed(json.loads, again) / len(again)
                    ready = [line.prepare(text) for text in given]
                    taken = _timed(line.do, ready) / len(given) if line.name != BASE else base
                    if number >= 0:
                        times[line.name, size].append((taken, taken / base))
    return {
        key: (statistics.median(t for t, _r in found), statistics.median(r for _t, r in found))
        for key, found in times.items()
    }


def _timed(do: Callable[[Any], object], given: Sequence[object]) -> float:
    """Return the processor time, s: what else the machine does at the moment would meet one line and spare another."""
    start = process_time()
    for each in given:
        do(each)
    return process_time() - start


def shown(figures: Figures) -> Iterator[str]:
    """Yield the table as text, with the bar beside what it is for."""
    yield f"{'':38}" + "".join(f"{size:>20}" for size in SIZES)
    for name in dict.fromkeys(name for name, _size in figures):
        cells = [f"{_seconds(figures[name, size][0])} {figures[name, size][1]:7.1f} x" for size in SIZES]
        yield f"{name:38}" + "".join(f"{cell:>20}" for cell in cells)
    for name in (FULL, FULL_FAULTY):
        ratio = figures[name, "typical"][1]
        yield f"{name}, typical: {ratio:.1f} times {BASE}; {bar(ratio, at_most=MOST)}"


def _seconds(taken: float) -> str:
    return f"{taken * 1e6:.1f} us" if taken < 1e-3 else f"{taken * 1e3:.2f} ms"


def bar(ratio: float, *, at_most: float | None = None, at_least: float | None = None) -> str:
    """Return a bar in words, and whether it is met."""
    if at_most is not None:
        return f"bar: at most {at_most:g}, {'met' if ratio <= at_most else 'NOT MET'}"
    assert at_least is not None
    return f"bar: at least {at_least:g}, {'met' if ratio >= at_least else 'NOT MET'}"
