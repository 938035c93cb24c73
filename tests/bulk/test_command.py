"""`ventrules check` over many jobs: patterns, JSON Lines, archives, workers."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.bulk.running import is_any_left, start
from tests.bulk.street import as_files, as_lines, texts
from tests.cli.running import AN_ERROR, CLEAN, SOUND, as_json, invoke, said
from ventrules.cli import inputs as inputs_module
from ventrules.cli import workers as workers_module
from ventrules.cli.inputs import Inputs
from ventrules.outputs import FORMATS


def test_a_pattern_in_quotes_is_expanded(tmp_path: Path) -> None:
    (tmp_path / "deep").mkdir()
    shutil.copy(CLEAN, tmp_path / "deep" / "b.yaml")
    shutil.copy(CLEAN, tmp_path / "a.yaml")
    data = as_json("check", f"{tmp_path}/**/*.yaml")
    assert [file["file"] for file in data["files"]] == [str(tmp_path / "a.yaml"), str(tmp_path / "deep" / "b.yaml")]


def test_a_pattern_that_matches_nothing_is_said_and_hides_nothing(tmp_path: Path) -> None:
    result = invoke("check", f"{tmp_path}/*.yaml", CLEAN, env={"COLUMNS": "1000"})
    assert result.exit_code == 2
    assert "nothing matches it" in result.stdout
    assert "Quarry Lane 2" in result.stdout


def test_an_archive_is_not_opened_and_hides_nothing(tmp_path: Path) -> None:
    name = shutil.make_archive(str(tmp_path / "jobs"), "zip", SOUND)
    result = invoke("check", name, CLEAN, env={"COLUMNS": "1000"})
    assert result.exit_code == 2
    assert f"{name}: cannot be used" in result.stdout
    assert "archives are not opened" in result.stdout
    assert "Quarry Lane 2" in result.stdout


def lane(folder: Path) -> Path:
    """Two jobs a line, with a broken line between them."""
    rows = [json.dumps(json.loads((SOUND / "number-11.json").read_text(encoding="utf-8"))), "{", "", texts(4)[3]]
    return as_lines(folder / "lane.jsonl", rows)


def summary(data: Any) -> list[tuple[int | None, bool]]:
    return [(file["line"], file["usable"]) for file in data["files"]]


THREE = [(1, True), (2, False), (4, True)]


def test_a_file_of_json_lines_is_read_a_line_at_a_time(tmp_path: Path) -> None:
    path = lane(tmp_path)
    data = as_json("check", path)
    assert summary(data) == THREE
    assert invoke("check", path).exit_code == 2
    (finding, *_others) = data["files"][2]["findings"]
    assert finding["position"]["line"] == 4
    assert data["files"][1]["problems"][0]["position"]["line"] == 2
    assert f"{path}, line 2: cannot be used" in invoke("check", path, env={"COLUMNS": "1000"}).stdout


def test_json_lines_come_from_a_folder_from_a_pattern_and_from_standard_input(tmp_path: Path) -> None:
    data = lane(tmp_path).read_bytes()
    assert summary(as_json("check", tmp_path)) == THREE
    assert summary(as_json("check", f"{tmp_path}/*.jsonl")) == THREE
    assert summary(as_json("check", "-", "--lines", text=data)) == THREE
    (tmp_path / "lane.jsonl").rename(tmp_path / "lane.txt")
    assert summary(as_json("check", "--lines", tmp_path / "lane.txt")) == THREE


def test_standard_input_without_a_job_a_line_is_not_passed_in_silence() -> None:
    result = invoke("check", "-", "--lines", text=b"\n")
    assert result.exit_code == 2
    assert "a job on each line" in said(result)


def test_names_left_out_are_bounded_and_the_others_are_counted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for number in range(7):
        (tmp_path / f"{number}.json").write_text("{}", encoding="utf-8")
    shutil.copy(CLEAN, tmp_path / "a.yaml")
    monkeypatch.setattr(inputs_module, "_MOST_LISTED", 5)
    inputs = Inputs((str(tmp_path),))
    assert list(inputs) == [tmp_path / "a.yaml"]
    assert inputs.left_out == [str(tmp_path / f"{number}.json") for number in range(5)]
    assert (inputs.more_left_out, inputs.count_left_out, inputs.told, inputs.ended) == (2, 7, 1, True)
    data = as_json("check", tmp_path)
    assert len(data["left_out"]) == 5
    assert data["more_left_out"] == 2


@pytest.mark.parametrize("workers", ["0", "-1", "two"])
def test_a_number_of_workers_that_makes_no_sense_is_refused(workers: str) -> None:
    result = invoke("check", CLEAN, "--workers", workers)
    assert result.exit_code == 2
    assert "--workers" in result.stderr


def test_output_is_the_same_in_every_format_whatever_the_number_of_workers(tmp_path: Path) -> None:
    as_files(tmp_path / "lane", texts(40))
    lane(tmp_path)
    shutil.copy(AN_ERROR, tmp_path / "error.yaml")
    (tmp_path / "lane" / "half.json").write_text('{"ventrules": 1', encoding="utf-8")
    (tmp_path / "lane" / "other.json").write_text("{}", encoding="utf-8")
    outputs = []
    for workers in (1, 2, 3):
        files = {form: tmp_path / f"{workers}.{form}" for form in FORMATS}
        words = [word for form, path in files.items() for word in ("--output", f"{form}={path}")]
        process = start(["check", tmp_path, *words, "--workers", str(workers)])
        printed, complaints = process.communicate()
        assert complaints == b""
        assert process.returncode == 2
        written = {form: path.read_bytes() for form, path in files.items()}
        for path in files.values():
            path.unlink()
        outputs.append({"": printed, **written})
        assert not is_any_left(process.pid)
    assert outputs[1] == outputs[0]
    assert outputs[2] == outputs[0]
    assert min(map(len, outputs[0].values())) > 100


def test_a_short_run_starts_no_worker(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    as_files(tmp_path / "lane", texts(3))
    monkeypatch.setattr(workers_module, "ALONE_S", 3600.0)
    monkeypatch.setitem(sys.modules, "ventrules.cli.crew", None)  # importing it would raise
    assert len(as_json("check", tmp_path, "--workers", "3")["files"]) == 3


DEADLY = """
import os
import ventrules.bulk as bulk

whole = bulk.parse_job

def parse_job(text, **words):
    if '"deadly"' in text:
        os._exit(9)
    return whole(text, **words)

bulk.parse_job = parse_job
"""


@pytest.mark.skipif(os.name != "posix", reason="processes end in another way here")
def test_a_job_that_a_worker_dies_of_is_said_and_the_others_are_checked(tmp_path: Path) -> None:
    jobs = texts(24)
    jobs[17] = json.dumps({**json.loads(jobs[17]), "job": "deadly"})
    path = as_lines(tmp_path / "lane.jsonl", jobs)
    (tmp_path / "sitecustomize.py").write_text(DEADLY, encoding="utf-8")
    process = start(["check", path, "--workers", "2", "--format", "json"], env={"PYTHONPATH": str(tmp_path)})
    printed, complaints = process.communicate()
    assert complaints == b""
    assert process.returncode == 2
    files = json.loads(printed)["files"]
    assert [file["line"] for file in files] == list(range(1, 25))
    (dead,) = [file for file in files if "a worker died" in str(file["problems"])]
    assert dead["line"] == 18
    assert not is_any_left(process.pid)


@pytest.mark.skipif(os.name != "posix", reason="pipes are closed in another way here")
def test_a_reader_that_leaves_early_leaves_no_worker_behind(tmp_path: Path) -> None:
    path = as_lines(tmp_path / "lane.jsonl", texts(40) * 20)
    process = start(["check", path, "--workers", "2"], stderr=subprocess.PIPE)
    assert process.stdout is not None
    assert process.stderr is not None
    assert process.stdout.readline()
    process.stdout.close()
    assert process.stderr.read() == b""
    process.stderr.close()
    process.wait()
    assert not is_any_left(process.pid)
