"""How many jobs a second are checked, by how many workers; `python -m tests.bench.bulk` prints it.

With 0 workers this process does it all; with 1 it hands the jobs to one worker process, with more to so many.
"""

import argparse
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import Final

from tests.bulk.street import as_files, as_lines, texts
from ventrules import JobText, check_many
from ventrules.bulk import Source, job_lines
from ventrules.cli.crew import Crew
from ventrules.cli.inputs import Inputs
from ventrules.cli.workers import BATCHES_EACH

ROUNDS: Final = 3
JOBS: Final = 5000


def rate(workers: int, jobs: Sequence[Source]) -> float:
    """Return how many jobs a second are checked; workers are ready before the clock starts.

    Args:
        workers: Worker processes; 0 for none, so that this process checks them.
        jobs: What to check.
    """
    return _rate(workers, lambda: iter(jobs), jobs[: 40 * max(workers, 1)])


def _rate(workers: int, sources: Callable[[], Iterator[Source]], warm: Sequence[Source]) -> float:
    if not workers:
        list(check_many(warm))
        return _timed(lambda: check_many(sources()))
    with Crew(workers) as crew:
        ahead = BATCHES_EACH * workers
        list(check_many(warm, executor=crew, ahead=ahead, batch=len(warm) // workers))
        return _timed(lambda: check_many(sources(), executor=crew, ahead=ahead))


def _timed(outcomes: Callable[[], Iterator[object]]) -> float:
    begun = time.perf_counter()
    count = sum(1 for _outcome in outcomes())
    return count / (time.perf_counter() - begun)


def kinds(folder: Path, jobs: int) -> dict[str, Callable[[], Iterator[Source]]]:
    """Return ways to give the same jobs: as texts, as JSON Lines, as files found in a folder."""
    rows = texts(jobs)
    given = [JobText(f"{number}.json", text) for number, text in enumerate(rows)]
    lines = as_lines(folder / "lane.jsonl", rows)
    as_files(folder / "lane", rows)
    return {
        "texts": lambda: iter(given),
        "JSON Lines": lambda: job_lines(lines),
        "files in a folder": lambda: iter(Inputs((str(folder / "lane"),))),
    }


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--jobs", type=int, default=JOBS)
    words.add_argument("--rounds", type=int, default=ROUNDS)
    words.add_argument("--workers", type=int, nargs="+", default=[0, 1, 2])
    given = words.parse_args()
    with TemporaryDirectory() as name:
        for kind, sources in kinds(Path(name), given.jobs).items():
            warm = [JobText(f"{number}.json", text) for number, text in enumerate(texts(40 * max(*given.workers, 1)))]
            rates: dict[int, list[float]] = {workers: [] for workers in given.workers}
            for _round in range(given.rounds):  # one after the other, so that a busy moment meets them all alike
                for workers, measured in rates.items():
                    measured.append(_rate(workers, sources, warm))
            _tell(kind, {workers: median(measured) for workers, measured in rates.items()})


def _tell(kind: str, rates: dict[int, float]) -> None:
    alone = rates.get(1)
    for workers, found in rates.items():
        against = f", {found / alone:.2f} x one worker" if alone and workers != 1 else ""
        sys.stdout.write(
            f"{kind}, {workers or 'no'} worker{'s' * (workers != 1)}: {found:.0f} jobs a second{against}\n"
        )


if __name__ == "__main__":
    main()
