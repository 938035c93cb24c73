"""The command as a process of its own whose workers start at once, which else takes a longer run."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import IO, Final

from tests.cli.running import environment

_AT_ONCE: Final = """
import sys
import ventrules.cli.progress, ventrules.cli.workers
ventrules.cli.workers.ALONE_S = 0.0
ventrules.cli.progress.FIRST_S = 0.0
from ventrules.cli import main
main(prog_name="ventrules")
"""


def start(
    args: Sequence[str | Path],
    *,
    stdin: int = subprocess.DEVNULL,
    stdout: int | IO[bytes] = subprocess.PIPE,
    stderr: int | IO[bytes] = subprocess.PIPE,
    env: Mapping[str, str] | None = None,
) -> subprocess.Popen[bytes]:
    """Start the command in a process group of its own."""
    return subprocess.Popen(
        [sys.executable, "-c", _AT_ONCE, *map(str, args)],
        stdin=stdin,
        stdout=stdout,
        stderr=stderr,
        env=environment(env or {}),
        start_new_session=True,
    )


def is_any_left(group: int, patience_s: float = 10.0) -> bool:
    """Say whether a process of a group is still there after a while."""
    end = time.monotonic() + patience_s
    while time.monotonic() < end:
        try:
            os.killpg(group, 0)
        except ProcessLookupError:
            return False
        time.sleep(0.02)
    os.killpg(group, signal.SIGKILL)
    return True
