"""How long the command takes to start, read one clean job and end, beside two imports that a program may need."""

import os
import resource
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Mapping, Sequence
from time import perf_counter
from typing import Final

from tests.cli.running import CLEAN, CLEAN_JSON, command

ROUNDS: Final = 9
MOST: Final = 1.5
"""Times the two imports that a check of one clean file may take."""
IMPORTS: Final = "import networkx, click"
COMMANDS: Final[Mapping[str, Sequence[str]]] = {
    IMPORTS: (sys.executable, "-c", IMPORTS),
    "ventrules check, clean YAML": (command(), "check", str(CLEAN)),
    "ventrules check, clean JSON": (command(), "check", str(CLEAN_JSON)),
}


def measured(rounds: int = ROUNDS) -> Mapping[str, tuple[float, float]]:
    """Return, for each command, the medians of the time it took and of the processor time, both in s.

    Compiled modules are kept for all of them, as an installation keeps them, whatever the environment says of that.

    Args:
        rounds: How many rounds, each of which runs every command once.
    """
    with tempfile.TemporaryDirectory() as kept:
        env = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
        env["PYTHONPYCACHEPREFIX"] = kept
        one_round(env)  # compiles them
        times = [one_round(env) for _round in range(rounds)]
    return {
        name: (statistics.median(each[name][0] for each in times), statistics.median(each[name][1] for each in times))
        for name in COMMANDS
    }


def one_round(env: Mapping[str, str]) -> Mapping[str, tuple[float, float]]:
    """Run every command once; return the time that each took and its processor time, s."""
    return {name: _run(words, env) for name, words in COMMANDS.items()}


def _run(words: Sequence[str], env: Mapping[str, str]) -> tuple[float, float]:
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), perf_counter()
    subprocess.run(words, env=env, check=True, stdout=subprocess.DEVNULL)
    taken, after = perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    return taken, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
