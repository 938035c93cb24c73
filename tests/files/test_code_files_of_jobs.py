"""Jobs that bring a code file of their own."""

from pathlib import Path

import pytest

from ventrules import JobFileError, Survey, check, read_job
from ventrules.files import job_document, job_from_document, rebuilt
from ventrules.files.resources import packaged

BASE = packaged("rules/pages", "base.yaml").read_text(encoding="utf-8")
IRC = packaged("codes", "us-irc-2021.toml").read_text(encoding="utf-8")


def _lane(folder: Path, code: str, name: str = "lane.toml") -> Path:
    (folder / name).write_text(code, encoding="utf-8")
    job = folder / "job.yaml"
    job.write_text(BASE.replace("us-irc-2021", name), encoding="utf-8")
    return job


def test_a_code_file_beside_the_job_counts_like_a_packaged_one(tmp_path: Path) -> None:
    own = read_job(_lane(tmp_path, IRC))
    (tmp_path / "packaged.yaml").write_text(BASE, encoding="utf-8")
    packaged_one = read_job(tmp_path / "packaged.yaml")
    assert Survey(own).requirement == Survey(packaged_one).requirement
    assert check(own).findings == check(packaged_one).findings


def test_its_figures_are_the_ones_that_count(tmp_path: Path) -> None:
    printed = read_job(_lane(tmp_path, IRC))
    lower = read_job(
        _lane(
            tmp_path,
            IRC[: IRC.index("[[examples]]")].replace('airflow_per_area = "0.01 cfm"', 'airflow_per_area = "0 cfm"'),
        )
    )
    assert Survey(lower).requirement.continuous_m3s < Survey(printed).requirement.continuous_m3s


def test_a_slip_against_its_own_examples_is_refused(tmp_path: Path) -> None:
    with pytest.raises(JobFileError, match="does not reproduce its own example"):
        read_job(_lane(tmp_path, IRC.replace('airflow_per_area = "0.01 cfm"', 'airflow_per_area = "0.03 cfm"')))


def test_a_changed_job_keeps_its_code_file(tmp_path: Path) -> None:
    job = read_job(_lane(tmp_path, IRC))
    assert rebuilt(job_document(job), job).code_file == job.code_file


@pytest.mark.parametrize(
    ("code", "line", "said"),
    [
        (IRC.replace('kind = "segment-factors"', 'kind = "segment-factor"'), "kind =", "unknown word 'segment-factor'"),
        (IRC.replace("extra_people = 1", "extra_peple = 1"), "extra_peple", "unknown key 'extra_peple'"),
        (IRC.replace('segment = "4 h"', 'segment = "4"'), "segment =", "has no unit"),
        ("ventrules-code = 2\n", "", "expected `ventrules-code = 1`"),
        ("ventrules-code = 1\nx = [\n", "", "not valid TOML"),
    ],
)
def test_what_is_wrong_with_it_is_said_in_its_place(tmp_path: Path, code: str, line: str, said: str) -> None:
    with pytest.raises(JobFileError) as refused:
        read_job(_lane(tmp_path, code))
    problem = next(problem for problem in refused.value.problems if said in problem.message)
    assert problem.file.endswith("lane.toml")
    if line:
        assert problem.position is not None
        assert line in code.splitlines()[problem.position.line - 1]


def test_it_stays_in_the_folder_of_the_job(tmp_path: Path) -> None:
    inside = tmp_path / "inside"
    inside.mkdir()
    (tmp_path / "lane.toml").write_text(IRC, encoding="utf-8")
    job = inside / "job.yaml"
    job.write_text(BASE.replace("us-irc-2021", "../lane.toml"), encoding="utf-8")
    with pytest.raises(JobFileError, match="lies outside the job's folder"):
        read_job(job)
    assert read_job(job, outside=True).code_file is not None


@pytest.mark.parametrize("name", ["missing.toml", "folder.toml"])
def test_a_file_that_cannot_be_read_is_said(tmp_path: Path, name: str) -> None:
    (tmp_path / "folder.toml").mkdir()
    job = tmp_path / "job.yaml"
    job.write_text(BASE.replace("us-irc-2021", name), encoding="utf-8")
    with pytest.raises(JobFileError):
        read_job(job)


def test_plain_data_may_name_one_too(tmp_path: Path) -> None:
    document = job_document(read_job(_lane(tmp_path, IRC)))
    assert job_from_document(document, folder=tmp_path).code_file is not None
