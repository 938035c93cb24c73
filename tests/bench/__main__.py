"""`python -m tests.bench` prints what a check costs beside other things, all from one run, and which bars are met."""

import os
import platform
import statistics
import sys
from itertools import islice
from typing import Final

from tests.bench import start, table
from tests.bench.bulk import rate
from tests.bench.variants import texts, typical
from ventrules import JobText

BULK_JOBS: Final = 1_500
BULK_ROUNDS: Final = 3
LEAST_FOR_TWO: Final = 1.7
"""Times the rate of one worker that two have to reach."""


def _say(line: str = "") -> None:
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def _checks() -> None:
    _say("Processor time for one job, and how many times json.loads of texts alike; jobs of 2, 6 and 60 devices.\n")
    for line in table.shown(table.measured(table.lines())):
        _say(line)


def _bulk() -> None:
    names = {0: "in this process", 1: "1 worker", 2: "2 workers"}
    fresh = texts(typical, faulty=False, start=10_000_000)
    rates: dict[int, list[float]] = {workers: [] for workers in names}
    for _round in range(BULK_ROUNDS):
        for workers, found in rates.items():
            jobs = [JobText(f"{number}.json", text) for number, text in enumerate(islice(fresh, BULK_JOBS))]
            found.append(rate(workers, jobs))
    for workers, name in names.items():
        _say(f"many typical jobs, {name:<21}{statistics.median(rates[workers]):7.0f} jobs a second")
    gain = statistics.median(two / one for one, two in zip(rates[1], rates[2], strict=True))
    _say(f"2 workers: {gain:.2f} times 1; {table.bar(gain, at_least=LEAST_FOR_TWO)}")


def _start() -> None:
    found = start.measured()
    base, base_cpu = found[start.IMPORTS]
    for name, (wall, cpu) in found.items():
        bar = "" if name == start.IMPORTS else f"; {table.bar(wall / base, at_most=start.MOST)}"
        times = f"{wall * 1e3:5.0f} ms {wall / base:5.2f} x"
        _say(f"{name:38}{times}, of a processor {cpu * 1e3:4.0f} ms {cpu / base_cpu:5.2f} x{bar}")


_say(f"Python {platform.python_version()}, {os.cpu_count()} cores; medians of rounds that take every line once.")
for part in (_checks, _bulk, _start):
    _say()
    part()
