"""Check, mend, plan and diagnose from many threads of a fresh process at once; print whether all said the same.

Run as a module, so that every lazy import and every cache is filled under contention:

    python -m tests.embedding.contention ROUND
"""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path
from typing import Final

import ventrules

EXAMPLES: Final = Path(__file__).parents[2] / "examples"
THREADS: Final = 12
STARTS: Final = range(0, 80, 10)  # of one shared survey, the rule that each thread begins with
OFTEN_S: Final = 1e-6  # how soon a thread gives way to another


def plainly(path: Path) -> object:
    return ventrules.check(ventrules.read_job(path)).as_dict()


def what_is_asked(path: Path) -> object:
    job = ventrules.read_job(path)
    return repr(ventrules.asked(job)), ventrules.job_document(job)


def mended(path: Path) -> object:
    repaired = ventrules.repair(ventrules.read_job(path), purchases=True)
    return ventrules.job_document(repaired.job), repaired.report.as_dict()


def planned(path: Path) -> object:
    return repr(ventrules.plan(ventrules.read_job(path)))


def diagnosed(path: Path) -> object:
    return repr(ventrules.diagnose(ventrules.read_job(path)))


def refused(_path: Path) -> object:
    try:
        ventrules.read_job(EXAMPLES / "broken" / "misspelled.yaml")
    except ventrules.JobFileError as error:
        return str(error)
    return None


WORK: Final[Sequence[tuple[Callable[[Path], object], str]]] = (
    (plainly, "faulty/too-little-air-in-winter.yaml"),
    (plainly, "faulty/interface-module-missing.yaml"),
    (plainly, "faulty/biased-twice.yaml"),
    (plainly, "sound/number-29.yaml"),
    (plainly, "sound/number-35.yaml"),
    (what_is_asked, "sound/number-29.yaml"),
    (mended, "faulty/buses-joined.yaml"),
    (planned, "faulty/too-little-air-in-winter.yaml"),
    (diagnosed, "faulty/fan-does-not-turn.yaml"),
    (refused, "."),
)


def together(tasks: Sequence[Callable[[], object]]) -> list[object]:
    """Return what each task gives, all begun at the same moment."""
    barrier = threading.Barrier(len(tasks))

    def begun(task: Callable[[], object]) -> object:
        barrier.wait()
        return task()

    with ThreadPoolExecutor(len(tasks)) as executor:
        return list(executor.map(begun, tasks))


def examined(survey: ventrules.Survey, start: int) -> object:
    """Return what every rule finds in a survey, beginning with another rule in each thread."""
    rules = list(ventrules.installed_rules())
    order = [*rules[start:], *rules[:start]]
    return {rule.id: list(rule.examine(survey)) for rule in order}


def main() -> None:
    """Run one round: the round says which thread does what."""
    turn = int(sys.argv[1])
    sys.setswitchinterval(OFTEN_S)
    chosen = [WORK[(turn + each) % len(WORK)] for each in range(THREADS)]
    found = together([partial(work, EXAMPLES / name) for work, name in chosen])
    alone = {(work, name): work(EXAMPLES / name) for work, name in set(chosen)}
    wrong = [name for (work, name), each in zip(chosen, found, strict=True) if each != alone[work, name]]

    for _work, name in WORK[:5]:
        job = ventrules.read_job(EXAMPLES / name)
        shared = ventrules.Survey(job)
        several = together([partial(examined, shared, start) for start in STARTS])
        expected = examined(ventrules.Survey(job), 0)
        wrong += [f"shared survey of {name}" for each in several if each != expected]
    sys.stdout.write(f"{wrong or 'all said the same'}\n")


if __name__ == "__main__":
    main()
