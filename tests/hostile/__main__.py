"""`python -m tests.hostile [--size BYTES] [BOMB ...]`: how long each bomb keeps a check busy, and its memory.

Each is checked in a process of its own, so that the memory is its own, and is ended when it has had its time.
"""

import argparse
import multiprocessing
import re
import sys
import tempfile
import time
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Final

from tests.fuzz.laws import hold_outcome
from tests.hostile.bombs import ALL, CATALOG_BOMBS, CODE_BOMBS, HEADS, LARGEST
from ventrules import JobFileError, Outcome, check, parse_job
from ventrules.files import CodeFileError, find_jobs, parse_catalog, parse_code

_PEAK: Final = re.compile(r"VmHWM:\s+(\d+) kB")


def came_of(name: str, text: str) -> str:
    """Do with a text what it was made for; return what came of it."""
    with tempfile.TemporaryDirectory() as folder:
        try:
            if name in CODE_BOMBS:
                parse_code(text, "own.toml")
            elif name in CATALOG_BOMBS:
                parse_catalog(text, "own.yaml")
            elif name in HEADS:
                path = Path(folder, "own.yaml")
                path.write_text(text, encoding="utf-8")
                return ", ".join(found.what for found in find_jobs([folder]))
            else:
                report = check(parse_job(text))
                hold_outcome(Outcome("bomb", report))
                return f"{len(report.findings)} findings"
        except (JobFileError, CodeFileError) as error:
            hold_outcome(Outcome("bomb", problems=error.problems))
            return f"{len(error.problems)} problems, first: {error.problems[0].message[:60]}"
    return "sound"


def _checked(name: str, size: int, say: Connection) -> None:
    text = ALL[name](size)
    say.send(("made", _peak("self")))
    began = time.perf_counter()
    came = came_of(name, text)
    say.send((f"{time.perf_counter() - began:6.2f} s  {came}", _peak("self")))


def _peak(process: int | str) -> float:
    """Return the most memory that a process had, MB; 0 where the system does not tell."""
    try:
        found = _PEAK.search(Path(f"/proc/{process}/status").read_text(encoding="utf-8"))
    except OSError:
        return 0.0
    return int(found.group(1)) / 1024 if found else 0.0


def _tried(name: str, size: int, seconds: float) -> str:
    mine, theirs = multiprocessing.Pipe(duplex=False)
    process = multiprocessing.get_context("fork").Process(target=_checked, args=(name, size, theirs))
    process.start()
    theirs.close()
    ends, said, peak = time.monotonic() + 60, [], 0.0
    while mine.poll(max(ends - time.monotonic(), 0)):
        try:
            step, peak = mine.recv()
        except EOFError:
            break
        if step == "made":
            ends = time.monotonic() + seconds
        else:
            said.append(step)
    else:
        said.append(f"not done after {seconds:g} s")
        peak = max(peak, _peak(process.pid or 0))
        process.kill()
    process.join()
    return f"{name:36} {peak:6.0f} MB  {'; '.join(said)}"


def main() -> None:
    """Print a line for each bomb."""
    asked = argparse.ArgumentParser(prog="python -m tests.hostile", description=__doc__)
    asked.add_argument("bombs", nargs="*", metavar="BOMB")
    asked.add_argument("--size", type=int, default=LARGEST, help="bytes that each is to have")
    asked.add_argument("--seconds", type=float, default=20, help="after which one is given up")
    given = asked.parse_args()
    for name in given.bombs or ALL:
        sys.stdout.write(_tried(name, given.size, given.seconds) + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
