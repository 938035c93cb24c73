"""A district of jobs for these tests: the one of the example, which is a script and no package."""

import json
from collections.abc import Sequence
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from types import ModuleType
from typing import Final

SCRIPT: Final = Path(__file__).parents[2] / "examples" / "bulk" / "check_many_jobs.py"


def _loaded() -> ModuleType:
    spec = spec_from_file_location("check_many_jobs", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


EXAMPLE: Final = _loaded()


def texts(count: int) -> list[str]:
    """The texts of so many different jobs, on one line each; some have a fault, and one in a hundred is unusable."""
    return [json.dumps(EXAMPLE.job(number)) for number in range(count)]


def as_lines(path: Path, jobs: Sequence[str]) -> Path:
    """Write jobs as JSON Lines."""
    path.write_text("".join(f"{text}\n" for text in jobs), encoding="utf-8")
    return path


def as_files(folder: Path, jobs: Sequence[str]) -> list[Path]:
    """Write jobs as files of a folder."""
    folder.mkdir()
    paths = [folder / f"{number:06d}.json" for number in range(len(jobs))]
    for path, text in zip(paths, jobs, strict=True):
        path.write_text(text, encoding="utf-8")
    return paths
