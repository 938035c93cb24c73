"""The example of a hundred thousand jobs, over two hundred of them."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.bulk.street import EXAMPLE, SCRIPT
from ventrules import check, job_from_document


@pytest.mark.parametrize(
    "executor", [pytest.param("cluster", marks=pytest.mark.filterwarnings("default")), "threads", "here"]
)
def test_the_example_makes_jobs_and_checks_them(tmp_path: Path, executor: str) -> None:
    if executor == "cluster":
        pytest.importorskip("distributed", reason="the extra ventrules[cluster] is not installed")
    file = tmp_path / "jobs.jsonl"
    done = subprocess.run(
        [sys.executable, str(SCRIPT), str(file), "--jobs", "200", "--executor", executor],
        capture_output=True,
        text=True,
        check=True,
        cwd=tmp_path,
        env={**os.environ, "PYTHONWARNINGS": "default"},
    )
    assert len(file.read_text(encoding="utf-8").splitlines()) == 200
    assert "200 jobs written" in done.stdout
    assert re.search(r"^200 jobs checked in \d+ s, \d+ a second$", done.stdout, re.MULTILINE)
    assert "2 could not be used; " in done.stdout
    rules = set(re.findall(r"^  \d+ (\S+)$", done.stdout, re.MULTILINE))
    assert rules == {
        "airflow/run-time-too-short",
        "settings/outdoor-limits-inverted",
        "upkeep/no-filter-reminder",
        "wiring/device-without-cable",
        "wiring/no-path-to-controller",
    }


def test_a_job_without_a_fault_made_is_sound() -> None:
    for number in range(120):
        if number % 20 not in {3, 10, 17}:
            made = EXAMPLE.job(number)
            assert check(job_from_document(made)).findings == (), number
