"""Code run in an interpreter of its own, where nothing is loaded, cached or set up yet."""

import json
import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

ROOT: Final = Path(__file__).parents[2]
EXAMPLES: Final = ROOT / "examples"


def run(code: str, *options: str, folder: Path = ROOT, env: Mapping[str, str] | None = None) -> str:
    """Return what code prints; what it says on standard error, or a status other than 0, is a failure."""
    done = subprocess.run(
        [sys.executable, *options, "-c", code],
        capture_output=True,
        text=True,
        check=False,
        cwd=folder,
        env={**os.environ, **(env or {})},
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    return done.stdout


def answer(code: str, *options: str, folder: Path = ROOT) -> Any:
    """Return the JSON on the last line that code prints."""
    return json.loads(run(code, *options, folder=folder).splitlines()[-1])
