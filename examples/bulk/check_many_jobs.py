"""Make the saved jobs of a whole district as JSON Lines, and check them on a Dask cluster on this machine.

    python examples/bulk/check_many_jobs.py jobs.jsonl
    python examples/bulk/check_many_jobs.py jobs.jsonl --jobs 1000 --executor processes

The Quarry Lane district is invented, and so is what is wrong in it: three jobs in twenty have one fault, and one in a
hundred cannot be used at all. To use machines of your own, start a Dask scheduler and workers on them and give
`Client` the scheduler's address; nothing else changes.
"""

import argparse
import json
import random
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import contextmanager
from itertools import pairwise
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import ventrules
from ventrules.bulk import job_lines

CONTROLS = ("demo-control", "demo-control-fine")
CODES = ("us-irc-2021", "us-irc-2024")
UNITS = {  # the stages of some ventilators of the demo catalog: at least so much of each counts, cfm
    "demo-hrv-100": {"low": 50, "high": 100},
    "demo-erv-130": {"low": 64, "medium": 94, "high": 129},
    "demo-hrv-150": {"low": 60, "medium": 100, "high": 150},
}
STEP_MIN = 5  # both controls can be set in such steps
# Shares of the time, and how many times the airflow is then asked for: Table M1505.4.3(2), interpolated.
FACTORS = ((0.25, 4.0), (0.33, 3.0), (0.5, 2.0), (0.66, 1.5), (0.75, 1.3), (1.0, 1.0))
TOLD_EVERY_S = 10.0


def factor(share: float) -> float:
    """Return how many times the airflow is asked for that would be enough all of the time."""
    for (low, high_factor), (high, low_factor) in pairwise(FACTORS):
        if low <= share <= high:
            return high_factor + (low_factor - high_factor) * (share - low) / (high - low)
    raise ValueError(f"the table does not go as far as {share}")


def program(asked_cfm: float, stages: dict[str, int]) -> dict[str, str]:
    """Return the stage and the minutes in the hour that are enough and move the least air."""
    enough = [
        (cfm * minutes, stage, minutes)
        for stage, cfm in stages.items()
        for minutes in range(15, 60 + STEP_MIN, STEP_MIN)
        if cfm >= asked_cfm * factor(minutes / 60)
    ]
    _air, stage, minutes = min(enough)
    return {stage: f"{minutes} min"}


def sound_job(number: int, chance: random.Random) -> dict[str, Any]:
    """Return a sound job: a dwelling, what is installed in it and how it is set."""
    area, bedrooms = chance.randrange(1200, 3200, 10), chance.randint(2, 4)
    asked = 0.01 * area + 7.5 * (bedrooms + 1)  # Equation 15-1, International Residential Code, M1505.4.3
    model = chance.choice(tuple(UNITS))
    on = program(asked, UNITS[model])
    indoor = chance.choice(("furnace", "air-handler"))
    devices = {
        "control": chance.choice(CONTROLS),
        indoor: f"demo-{indoor}",
        "module": "demo-interface",
        "ventilator": model,
    }
    cables = [("control.system", f"{indoor}.system"), (f"{indoor}.system", "module.system")]
    if chance.random() < 0.5:
        devices["heat-pump"] = "demo-heat-pump"
        cables.append((f"{indoor}.system", "heat-pump.system"))
    cables.append(("module.ventilator", "ventilator.bus"))
    both_seasons = {"heating": on, "cooling": on}
    return {
        "ventrules": 1,
        "job": f"Quarry Lane district, number {number}",
        "catalogs": ["demo"],
        "dwelling": {"floor_area": f"{area} ft2", "bedrooms": bedrooms},
        "target": {"code": chance.choice(CODES)},
        "site": {"winter_design": f"{chance.randint(5, 20)} degF", "summer_design": f"{chance.randint(85, 95)} degF"},
        "devices": {name: {"model": model} for name, model in devices.items()},
        "cables": [
            {"from": start, "to": end, "gauge": "18 AWG", "length": f"{chance.randint(6, 40)} ft"}
            for start, end in cables
        ],
        "modes": {"day": "occupied", "night": "occupied"},
        "calendar": {"every-day": {f"{chance.randint(5, 8):02d}:30": "day", f"{chance.randint(21, 23)}:00": "night"}},
        "settings": {
            "ventilator": {
                "filter_reminder": f"{chance.choice((60, 90))} days",
                "outdoor_limits": {"off_at_or_below": "0 degF", "off_at_or_above": "100 degF"},
                "programs": {"day": both_seasons, "night": both_seasons},
            }
        },
    }


def filter_forgotten(job: dict[str, Any]) -> None:
    del job["settings"]["ventilator"]["filter_reminder"]


def limits_inverted(job: dict[str, Any]) -> None:
    job["settings"]["ventilator"]["outdoor_limits"] = {"off_at_or_below": "100 degF", "off_at_or_above": "0 degF"}


def cable_left_out(job: dict[str, Any]) -> None:
    del job["cables"][-1]


def night_too_short(job: dict[str, Any]) -> None:
    job["settings"]["ventilator"]["programs"]["night"] = {
        season: {"low": "10 min"} for season in ("heating", "cooling")
    }


def model_misspelled(job: dict[str, Any]) -> None:
    job["devices"]["module"]["model"] = "demo-interfase"


FAULTS = (filter_forgotten, limits_inverted, cable_left_out, night_too_short)


def job(number: int) -> dict[str, Any]:
    """Return a job of the district: the same for the same number."""
    chance = random.Random(number)  # noqa: S311 - no secret
    made = sound_job(number, chance)
    if number % 100 == 50:
        model_misspelled(made)
    elif number % 20 in {3, 10, 17}:
        chance.choice(FAULTS)(made)
    return made


def write_jobs(path: Path, count: int) -> None:
    """Write so many jobs, one a line."""
    with path.open("w", encoding="utf-8") as lines:
        for number in range(count):
            lines.write(json.dumps(job(number)) + "\n")


@contextmanager
def executor_of(kind: str, workers: int) -> Iterator[Executor | None]:
    """Yield an executor of a kind; all of them are used alike."""
    if kind == "cluster":
        import dask.config
        from dask.distributed import Client, LocalCluster

        local = "127.0.0.1"
        # Dask's log of what it did last holds what the jobs were, a thousand batches of them
        dask.config.set({"distributed.admin.low-level-log-length": 10})
        with (
            LocalCluster(
                n_workers=workers, threads_per_worker=1, host=local, dashboard_address=f"{local}:0"
            ) as cluster,
            Client(cluster) as client,
            client.get_executor() as executor,
        ):
            yield executor
    elif kind == "processes":
        with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as executor:
            yield executor
    elif kind == "threads":
        with ThreadPoolExecutor(workers) as executor:
            yield executor
    else:
        yield None


def check_jobs(path: Path, executor: Executor | None, workers: int) -> None:
    """Check the jobs of a file and say what came of them; none of them is kept."""
    rules: Counter[str] = Counter()
    tally = ventrules.Tally()
    begun = told = time.monotonic()
    for outcome in ventrules.check_many(job_lines(path), executor=executor, batch=32, ahead=4 * workers):
        tally.add(outcome)
        if outcome.report is not None:
            rules.update(finding.rule for finding in outcome.report.findings)
        if time.monotonic() > told + TOLD_EVERY_S:
            told = time.monotonic()
            print(f"{tally.files} jobs, {tally.files / (told - begun):.0f} a second", flush=True)
    took = time.monotonic() - begun
    print(f"{tally.files} jobs checked in {took:.0f} s, {tally.files / took:.0f} a second")
    print(f"{tally.unusable} could not be used; {sum(rules.values())} findings:")
    for rule, count in sorted(rules.items()):
        print(f"  {count} {rule}")


def main() -> None:
    words = argparse.ArgumentParser(description="Make many jobs, and check them.")
    words.add_argument("file", type=Path, help="where to put the jobs, a job a line")
    words.add_argument("--jobs", type=int, default=100_000, help="how many (default: 100000)")
    words.add_argument("--executor", choices=("cluster", "processes", "threads", "here"), default="cluster")
    words.add_argument("--workers", type=int, default=2, help="how many (default: 2)")
    given = words.parse_args()
    write_jobs(given.file, given.jobs)
    print(f"{given.jobs} jobs written to {given.file}")
    with executor_of(given.executor, given.workers) as executor:
        check_jobs(given.file, executor, given.workers)


if __name__ == "__main__":
    main()
