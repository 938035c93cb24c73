"""What `ventrules check` reads: files, folders, several of them, standard input."""

import json
import shutil
from pathlib import Path

import pytest

from tests.cli.running import (
    AN_ERROR,
    BROKEN,
    CLEAN,
    CLEAN_JSON,
    EXAMPLES,
    FAULTY,
    SOUND,
    as_json,
    invoke,
    said,
)


def names(*args: str | Path) -> list[str]:
    """The files that were checked, in order."""
    return [str(file["file"]) for file in as_json("check", *args)["files"]]


def test_a_clean_file_is_named_with_its_job_and_the_exit_status_is_zero() -> None:
    result = invoke("check", CLEAN)
    assert result.exit_code == 0
    assert f"{CLEAN}: Quarry Lane 2" in said(result)
    assert result.stderr == ""


def test_a_faulty_file_says_place_rule_basis_and_next_step() -> None:
    result = invoke("check", AN_ERROR)
    assert result.exit_code == 1
    lines = AN_ERROR.read_text(encoding="utf-8").splitlines()
    line = next(number for number, text in enumerate(lines, 1) if "outdoor_limits" in text)
    for part in (
        "error: Outdoor limits leave no temperature at which ventilation may run",
        f"Where settings / ventilator / outdoor_limits, line {line}",
        "Found ventilator is off at or below 105 degF and at or above 0 degF",
        "Basis ",
        "common practice",
        "To do Set the lower limit below the upper one.",
        "Offer ",
        "Rule settings/outdoor-limits-inverted",
    ):
        assert part in said(result)


def test_a_broken_file_lists_every_problem_with_file_line_and_column() -> None:
    path = BROKEN / "misspelled.yaml"
    result = invoke("check", path, env={"COLUMNS": "1000"})
    assert result.exit_code == 2
    assert f"{path}: cannot be used" in result.stdout
    lines = path.read_text(encoding="utf-8").splitlines()
    for word in ("sqft", "bedroms", "us-irc-2012", "demo-furnce", "modul.", "guage", "ocupied", "nite", "setings"):
        number = next(number for number, text in enumerate(lines, 1) if word in text)
        assert f"  {path}:{number}:" in result.stdout
    assert "Traceback" not in result.output


def test_other_files_are_still_checked_beside_a_broken_one() -> None:
    result = invoke("check", BROKEN / "half-written.yaml", AN_ERROR, CLEAN)
    assert result.exit_code == 2
    assert "settings/outdoor-limits-inverted" in result.stdout
    assert "2 files checked" in said(result)
    assert "1 file could not be used." in said(result)


def test_several_paths_are_checked_in_the_order_given() -> None:
    paths = [AN_ERROR, CLEAN_JSON, CLEAN]
    assert names(*paths) == [str(path) for path in paths]


def test_a_file_is_checked_once_however_often_it_is_named() -> None:
    assert names(CLEAN, CLEAN, CLEAN.parent).count(str(CLEAN)) == 1


def test_a_folder_is_searched_below_and_what_is_no_job_is_named_at_the_end(tmp_path: Path) -> None:
    deep = tmp_path / "street" / "number 2"
    deep.mkdir(parents=True)
    shutil.copy(CLEAN, deep / "job.yml")
    shutil.copy(CLEAN_JSON, tmp_path / "job.json")
    shutil.copy(SOUND / "lane-catalog.yaml", deep / "lane.yaml")
    (tmp_path / "notes.txt").write_text("ventrules: no", encoding="utf-8")
    for hidden in (tmp_path / ".kept" / "job.yaml", tmp_path / ".job.yaml"):
        hidden.parent.mkdir(exist_ok=True)
        shutil.copy(AN_ERROR, hidden)
    data = as_json("check", tmp_path)
    assert [file["file"] for file in data["files"]] == [str(tmp_path / "job.json"), str(deep / "job.yml")]
    assert data["left_out"] == [str(deep / "lane.yaml")]
    closing = said(invoke("check", tmp_path, env={"COLUMNS": "1000"})).partition("files checked")[2]
    assert "not jobs" in closing
    assert str(deep / "lane.yaml") in closing


def test_a_file_that_is_named_is_never_left_out() -> None:
    result = invoke("check", BROKEN / "not-a-job.json")
    assert result.exit_code == 2
    assert "`ventrules: 1`" in result.stdout


def test_every_example_folder_can_be_checked_at_once() -> None:
    result = invoke("check", EXAMPLES)
    data = as_json("check", EXAMPLES)
    jobs = [path for path in EXAMPLES.rglob("*.*") if path.suffix in {".yaml", ".json"}]
    assert result.exit_code == 2
    assert len(data["files"]) + len(data["left_out"]) == len(jobs)
    assert len(jobs) > 40


@pytest.mark.parametrize("path", [CLEAN, CLEAN_JSON], ids=lambda path: path.suffix)
def test_standard_input_is_read_as_yaml_or_json(path: Path) -> None:
    result = invoke("check", "-", text=path.read_bytes())
    assert result.exit_code == 0
    assert "<standard input>: Quarry Lane" in said(result)


@pytest.mark.parametrize("name", ["limits-inverted.yaml", "worst-window-too-low.json"])
def test_standard_input_gets_the_findings_that_the_file_gets(name: str) -> None:
    (from_file,) = as_json("check", FAULTY / name)["files"]
    (from_stream,) = as_json("check", "-", text=(FAULTY / name).read_bytes())["files"]
    assert from_file["findings"]
    assert from_stream["findings"] == from_file["findings"]


def test_standard_input_can_stand_beside_files() -> None:
    data = as_json("check", CLEAN, "-", text=AN_ERROR.read_bytes())
    assert {file["file"] for file in data["files"]} == {str(CLEAN), "<standard input>"}
    assert data["summary"]["error"] == 1


@pytest.mark.parametrize(
    ("text", "expected"),
    [(b"", "empty"), (b"\xff\xfe\x00", "UTF-8"), (b"{", "not valid JSON"), (b"[1, 2]", "a mapping"), (b"a: [", "YAML")],
    ids=["nothing", "not UTF-8", "half JSON", "a list", "half YAML"],
)
def test_standard_input_that_is_no_job_is_refused_with_a_reason(text: bytes, expected: str) -> None:
    result = invoke("check", "-", text=text)
    assert result.exit_code == 2
    assert "<standard input>: cannot be used" in said(result)
    assert expected in said(result)


def test_standard_input_is_read_once_only() -> None:
    result = invoke("check", "-", "-", text=CLEAN.read_bytes())
    assert result.exit_code == 2
    assert "once" in result.stderr


def test_a_path_that_does_not_exist_is_said_and_the_exit_status_is_two(tmp_path: Path) -> None:
    result = invoke("check", tmp_path / "none.yaml", CLEAN, env={"COLUMNS": "1000"})
    assert result.exit_code == 2
    assert f"{tmp_path / 'none.yaml'}: cannot be used" in result.stdout
    assert "no such file" in result.stdout
    assert "Quarry Lane 2" in result.stdout


def test_a_folder_without_jobs_is_unusable_and_nothing_passes_in_silence(tmp_path: Path) -> None:
    result = invoke("check", tmp_path)
    assert result.exit_code == 2
    assert str(tmp_path) in result.stdout
    assert "`ventrules`" in result.stdout
    assert "1 file could not be used" in result.stdout


def test_a_folder_without_jobs_is_named_even_beside_one_that_has_some(tmp_path: Path) -> None:
    result = invoke("check", CLEAN, tmp_path, env={"COLUMNS": "1000"})
    assert str(tmp_path) in result.stdout + result.stderr


def test_a_job_whose_catalog_lies_outside_its_folder_needs_a_word(tmp_path: Path) -> None:
    shutil.copy(SOUND / "lane-catalog.yaml", tmp_path / "lane-catalog.yaml")
    job = tmp_path / "jobs" / "number-14.yaml"
    job.parent.mkdir()
    text = (SOUND / "number-14.yaml").read_text(encoding="utf-8")
    job.write_text(text.replace("lane-catalog.yaml]", "../lane-catalog.yaml]"), encoding="utf-8")
    refused = invoke("check", job)
    assert refused.exit_code == 2
    assert "--catalogs-outside" in refused.stdout
    assert invoke("check", "--catalogs-outside", job).exit_code == 0


def test_a_problem_in_a_catalog_is_placed_in_the_catalog(tmp_path: Path) -> None:
    job, catalog = tmp_path / "number-14.yaml", tmp_path / "lane-catalog.yaml"
    shutil.copy(SOUND / "number-14.yaml", job)
    text = (SOUND / "lane-catalog.yaml").read_text(encoding="utf-8")
    line = next(number for number, row in enumerate(text.splitlines(), 1) if "kind: erv" in row)
    catalog.write_text(text.replace("kind: erv", "kind: ervv"), encoding="utf-8")
    (file,) = as_json("check", job)["files"]
    assert [problem["file"] for problem in file["problems"]] == [str(catalog)]
    assert [problem["position"]["line"] for problem in file["problems"]] == [line]
    assert f"{catalog}:{line}:" in invoke("check", job, env={"COLUMNS": "1000"}).stdout


def test_a_catalog_path_on_standard_input_starts_at_the_working_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = (SOUND / "number-14.yaml").read_bytes()
    monkeypatch.chdir(SOUND)
    assert invoke("check", "-", text=text).exit_code == 0
    monkeypatch.chdir(tmp_path)
    missing = invoke("check", "-", text=text)
    assert missing.exit_code == 2
    assert "lane-catalog.yaml" in missing.stdout


def test_json_with_a_byte_order_mark_is_read(tmp_path: Path) -> None:
    job = tmp_path / "job.json"
    job.write_bytes(b"\xef\xbb\xbf" + json.dumps(json.loads(CLEAN_JSON.read_bytes())).encode())
    assert invoke("check", job).exit_code == 0
