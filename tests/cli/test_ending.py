"""How commands end when they are stopped or left alone, and what they refuse to write over or to take for a path."""

import os
import shutil
import signal
import subprocess
from pathlib import Path

import pytest

from tests.bulk.running import is_any_left, start
from tests.bulk.street import as_lines, texts
from tests.cli.running import A_WARNING, CLEAN, command, environment, invoke
from ventrules.cli.main import CLOSED_PIPE


@pytest.mark.parametrize(
    "words",
    [("baseline", "job.yaml", "--out"), ("schema", "job", "--out"), ("draw", CLEAN, "--format", "svg", "--out")],
    ids=["baseline", "schema", "draw"],
)
def test_no_job_is_written_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str | Path, ...]) -> None:
    monkeypatch.chdir(tmp_path)
    for name in ("job.yaml", "other.yaml"):
        shutil.copy(A_WARNING, name)
        result = invoke(*words, name)
        assert result.exit_code == 2
        assert f"{name} is a job" in result.stderr
        assert Path(name).read_bytes() == A_WARNING.read_bytes()
    for _again in range(2):
        assert invoke(*words, "new.json").exit_code == 0


@pytest.mark.parametrize("words", [("check",), ("check", CLEAN), ("baseline", "--out", "x.json")])
def test_an_empty_path_is_not_the_working_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str | Path, ...]
) -> None:
    monkeypatch.chdir(tmp_path)
    shutil.copy(CLEAN, tmp_path)
    result = invoke(*words, "")
    assert result.exit_code == 2
    assert "a path is empty" in result.stderr
    assert result.stdout == ""
    assert not (tmp_path / "x.json").exists()


@pytest.mark.skipif(os.name != "posix", reason="pipes are closed in another way here")
def test_a_reader_that_leaves_early_is_not_taken_for_findings(tmp_path: Path) -> None:
    path = as_lines(tmp_path / "lane.jsonl", texts(40) * 20)
    process = start(["check", path, "--workers", "1", "--output", f"csv={tmp_path / 'x.csv'}"])
    assert process.stdout is not None
    assert process.stderr is not None
    with process.stderr:
        with process.stdout:
            process.stdout.readline()
        assert process.stderr.read() == b""
    assert process.wait() == CLOSED_PIPE == 128 + signal.SIGPIPE
    assert not (tmp_path / "x.csv").exists()


@pytest.mark.skipif(os.name != "posix", reason="processes are asked to end in another way here")
def test_other_commands_that_are_stopped_say_so_and_leave_nothing_behind(tmp_path: Path) -> None:
    ours, theirs = os.pipe()
    with os.fdopen(theirs, "wb") as lines:
        process = start(
            ["baseline", "-", "--lines", "--workers", "1", "--out", tmp_path / "baseline.json"],
            stdin=ours,
            stdout=subprocess.DEVNULL,
        )
        os.close(ours)
        text = f"{texts(1)[0]}\n".encode()
        lines.write(text * (2 * 65536 // len(text)))  # more than a pipe holds: it has begun to read
        lines.flush()
        process.send_signal(signal.SIGINT)
        assert process.stderr is not None
        with process.stderr:
            assert process.stderr.read() == b"Error: stopped before the end\n"
    assert process.wait() == 130
    assert not (tmp_path / "baseline.json").exists()
    assert not is_any_left(process.pid)


def shell(line: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """Run a line of a shell in which `"$V"` is the command."""
    env = environment({"V": command()})
    return subprocess.run(["sh", "-c", line], cwd=folder, env=env, capture_output=True, text=True, check=False)  # noqa: S607


@pytest.mark.skipif(os.name != "posix", reason="streams are closed in another way here")
@pytest.mark.parametrize(
    ("line", "status", "complaint"),
    [
        ('"$V" check job.yaml --fail-at warning >&-', 1, ""),
        ('"$V" check job.yaml <&-', 0, ""),
        ('"$V" check nowhere.yaml 2>&-', 2, ""),
        ('"$V" plan - <&-', 2, "Error: <standard input>:1:1: the file is empty\n"),
        (
            'mkdir gone && cd gone && rmdir ../gone && "$V" check x',
            2,
            "Error: the working folder is not there any more\n",
        ),
    ],
    ids=["no standard output", "no standard input", "no standard error", "no standard input to read", "no folder"],
)
def test_what_is_missing_around_the_process_gives_no_traceback(
    tmp_path: Path, line: str, status: int, complaint: str
) -> None:
    shutil.copy(A_WARNING, tmp_path / "job.yaml")
    done = shell(line, tmp_path)
    assert (done.returncode, done.stderr) == (status, complaint)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no device that is always full")
@pytest.mark.parametrize("words", ["--help", "--version", "check --help", "check --explain-policy", "schema job"])
def test_a_full_disk_is_said_whatever_is_written(tmp_path: Path, words: str) -> None:
    done = shell(f'"$V" {words} >/dev/full', tmp_path)
    assert done.returncode == 2
    assert done.stderr == "Error: the output cannot be written: No space left on device\n"
