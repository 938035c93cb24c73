"""Ways to run the command: in this process where output and exit status are enough, else as a process of its own."""

import json
import os
import shutil
import subprocess
import sysconfig
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from click.testing import CliRunner, Result

from ventrules.cli import main

EXAMPLES: Final = Path(__file__).parents[2] / "examples"
SOUND: Final = EXAMPLES / "sound"
FAULTY: Final = EXAMPLES / "faulty"
BROKEN: Final = EXAMPLES / "broken"

AN_ERROR: Final = FAULTY / "limits-inverted.yaml"
A_WARNING: Final = FAULTY / "filter-reminder-too-long.yaml"
AN_ADVICE: Final = FAULTY / "far-more-air-than-asked.yaml"
UNCHECKED: Final = FAULTY / "no-calendar.yaml"
CLEAN: Final = SOUND / "number-02.yaml"
CLEAN_JSON: Final = SOUND / "number-11.json"


def invoke(*args: str | Path, text: str | bytes | None = None, env: Mapping[str, str] | None = None) -> Result:
    """Run the command in this process; an exception that it lets out is raised here."""
    return CliRunner().invoke(main, [str(arg) for arg in args], input=text, env=dict(env or {}), catch_exceptions=False)


def said(result: Result) -> str:
    """Return what stands on standard output, with every run of white space as one space."""
    return " ".join(result.stdout.split())


def as_json(*args: str | Path, text: str | bytes | None = None) -> Any:
    """Run a command with JSON output; return the data."""
    return json.loads(invoke(*args, "--format", "json", text=text).stdout)


def command() -> str:
    """Return the installed script.

    Raises:
        FileNotFoundError: The package is not installed.
    """
    found = shutil.which("ventrules", path=sysconfig.get_path("scripts"))
    if found is None:
        raise FileNotFoundError("the script ventrules is not installed beside this Python")
    return found


def environment(changes: Mapping[str, str]) -> dict[str, str]:
    """Return this process's environment without what steers terminals, and with changes."""
    steering = {
        "COLUMNS",
        "NO_COLOR",
        "FORCE_COLOR",
        "CLICOLOR",
        "CLICOLOR_FORCE",
        "TTY_COMPATIBLE",
        "PYTHONIOENCODING",
    }
    return {key: value for key, value in os.environ.items() if key not in steering} | dict(changes)


def run(args: Sequence[str | Path], *, data: bytes = b"", **env: str) -> subprocess.CompletedProcess[bytes]:
    """Run the installed script as a process of its own."""
    return subprocess.run(
        [command(), *map(str, args)], input=data, capture_output=True, check=False, env=environment(env)
    )
