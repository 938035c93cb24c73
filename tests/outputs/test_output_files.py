"""`--output FORMAT=FILE`: several at once, each whole or not there, and refused before anything is checked."""

import json
import os
import signal
import stat
import subprocess
import sys
from contextlib import ExitStack
from pathlib import Path
from typing import Final, TextIO

import pytest

from tests.cli.running import AN_ERROR, BROKEN, CLEAN, FAULTY, UNCHECKED, invoke, run
from ventrules import Outcome
from ventrules.cli.outputs_opened import opened
from ventrules.cli.standard import UnusableError
from ventrules.files import written_beside
from ventrules.outputs import FORMATS, Closing, ReportWriter

OLD: Final = "what was there before\n"


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


# Several at once


def test_several_at_once_are_what_each_is_alone(tmp_path: Path) -> None:
    paths = [FAULTY / "two-bridges.yaml", UNCHECKED, CLEAN, BROKEN]
    asked = [f"--output={form}={tmp_path / form}" for form in FORMATS]
    for _again in range(2):  # a report that is there already is no job, and is replaced
        assert invoke("check", *paths, "--format", "json", *asked).exit_code == 2
    for form in FORMATS:
        alone = invoke("check", *paths, "--format", form, env={"COLUMNS": "100"})
        assert alone.exit_code == 2
        assert (tmp_path / form).read_bytes() == alone.stdout_bytes
        assert (tmp_path / form).stat().st_size > 100
    assert names(tmp_path) == set(FORMATS)


def test_every_format_is_the_same_whatever_the_hash_seed(tmp_path: Path) -> None:
    paths = [FAULTY / "two-bridges.yaml", FAULTY / "conductors-crossed.yaml", FAULTY / "ring-of-cables.yaml", BROKEN]
    for seed in ("1", "2"):
        asked = [f"--output={form}={tmp_path / seed}-{form}" for form in FORMATS]
        assert run(["check", *paths, *asked], PYTHONHASHSEED=seed).returncode == 2
    for form in FORMATS:
        assert (tmp_path / f"1-{form}").read_bytes() == (tmp_path / f"2-{form}").read_bytes()


@pytest.mark.parametrize(
    ("path", "options", "status"),
    [(CLEAN, [], 0), (AN_ERROR, [], 1), (AN_ERROR, ["--fail-at", "never"], 0), (BROKEN / "misspelled.yaml", [], 2)],
)
def test_reports_hold_the_exit_status(path: Path, options: list[str], status: int, tmp_path: Path) -> None:
    asked = [f"--output=sarif={tmp_path / 'a'}", f"--output=markdown={tmp_path / 'b'}"]
    assert invoke("check", path, *options, *asked).exit_code == status
    (invocation,) = json.loads((tmp_path / "a").read_bytes())["runs"][0]["invocations"]
    assert invocation["exitCode"] == status
    verdict = {0: "passed", 1: "failed", 2: "not everything could be used"}[status]
    assert (tmp_path / "b").read_text(encoding="utf-8").startswith(f"## ventrules: {verdict}\n")


def test_the_threshold_of_the_command_is_that_of_junit() -> None:
    assert "<failure" in invoke("check", AN_ERROR, "--format", "junit").stdout
    assert "<failure" not in invoke("check", AN_ERROR, "--format", "junit", "--fail-at", "never").stdout
    assert "<skipped" in invoke("check", UNCHECKED, "--format", "junit").stdout
    assert "<failure" in invoke("check", UNCHECKED, "--format", "junit", "--fail-unchecked").stdout


def test_remedies_become_fixes_on_standard_output_and_in_a_file(tmp_path: Path) -> None:
    path = FAULTY / "filter-reminder-forgotten.yaml"
    text = invoke("check", path, "--format", "sarif", f"--output=sarif={tmp_path / 'x'}").stdout
    (result,) = json.loads(text)["runs"][0]["results"]
    (replacement,) = result["fixes"][0]["artifactChanges"][0]["replacements"]
    assert replacement["insertedContent"]["text"] == "    filter_reminder: 90 days\n"
    assert (tmp_path / "x").read_text(encoding="utf-8") == text


# Refused before anything is checked


@pytest.mark.parametrize(
    ("output", "message"),
    [
        ("json", "expected FORMAT=FILE"),
        ("json=", "expected FORMAT=FILE"),
        ("=x", "unknown format ''"),
        ("serif=x", "unknown format 'serif'; expected annotations, csv, json, junit, markdown, sarif or text; nearest"),
        ("json=-", "standard output is what --format json writes"),
        ("json=none/x.json", "cannot be written: there is no folder none"),
        ("json=old.txt/x.json", "cannot be written: there is no folder old.txt"),
        ("json=folder", "is a folder"),
        ("json=job.yaml", "is a job"),
        ("json=./folder/../job.yaml", "is a job"),
        ("json=other.yaml", "is a job"),
        ("json=link.yaml", "is a job"),
        ("json=hard.yaml", "is a job"),
        ("json=no-job.txt", "is a job"),
        ("json=loop", "cannot be written"),
        ("json=a\x00b", "cannot be written"),
        (f"json={'x' * 300}", "cannot be written"),
        ("json=/proc/new.json", "cannot be written"),
    ],
)
def test_what_cannot_be_written_is_refused(
    output: str, message: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "folder").mkdir()
    (tmp_path / "old.txt").write_text(OLD, encoding="utf-8")
    (tmp_path / "no-job.txt").write_text(OLD, encoding="utf-8")
    for name in ("job.yaml", "other.yaml"):
        (tmp_path / name).write_bytes(CLEAN.read_bytes())
    (tmp_path / "link.yaml").symlink_to("job.yaml")
    (tmp_path / "hard.yaml").hardlink_to(tmp_path / "job.yaml")
    (tmp_path / "loop").symlink_to("loop")
    before = names(tmp_path)
    result = invoke("check", "job.yaml", "no-job.txt", "--output", "csv=old.txt", "--output", output)
    assert result.exit_code == 2
    assert message in result.stderr
    assert result.stdout == ""
    assert names(tmp_path) == before
    assert (tmp_path / "old.txt").read_text(encoding="utf-8") == OLD
    assert (tmp_path / "job.yaml").read_bytes() == (tmp_path / "other.yaml").read_bytes() == CLEAN.read_bytes()


@pytest.mark.parametrize("other", ["x", "./x", "folder/../x", "link"])
def test_one_file_is_written_once(other: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "folder").mkdir()
    (tmp_path / "link").symlink_to("x")
    result = invoke("check", CLEAN, "--output", "json=x", "--output", f"csv={other}")
    assert result.exit_code == 2
    assert "is written already" in result.stderr
    assert names(tmp_path) == {"folder", "link"}


def test_a_file_that_standard_output_goes_to_is_refused(tmp_path: Path) -> None:
    code = "from ventrules.cli import main; main()"
    with (tmp_path / "x").open("wb") as stream:
        words = [sys.executable, "-c", code, "check", str(CLEAN), "--output", f"json={tmp_path / 'x'}"]
        result = subprocess.run(words, stdout=stream, stderr=subprocess.PIPE, check=False)
    assert result.returncode == 2
    assert b"is standard output already" in result.stderr


# Whole, or as it was


def writer_on(stream: TextIO) -> ReportWriter:
    class Plain:
        def write(self, outcome: Outcome) -> None:
            stream.write(f"{outcome.file}\n")

        def close(self, closing: Closing) -> None:
            stream.write(f"{closing.interrupted}\n")

    return Plain()


@pytest.mark.parametrize("error", [KeyboardInterrupt, RuntimeError, OSError])
def test_a_run_that_breaks_off_leaves_files_as_they_were(error: type[BaseException], tmp_path: Path) -> None:
    (tmp_path / "old").write_text(OLD, encoding="utf-8")
    outputs = [f"json={tmp_path / 'old'}", f"csv={tmp_path / 'new'}"]

    def broken_off() -> None:
        with ExitStack() as stack:
            one, other = opened(stack, outputs, (), lambda _form, stream: writer_on(stream))
            one.write(Outcome("x" * 100_000))
            other.write(Outcome("y"))
            assert (tmp_path / "old").read_text(encoding="utf-8") == OLD
            raise error

    with pytest.raises(error):
        broken_off()
    assert names(tmp_path) == {"old"}
    assert (tmp_path / "old").read_text(encoding="utf-8") == OLD


def test_a_disk_that_is_full_is_named_and_no_file_takes_its_name(tmp_path: Path) -> None:
    """The system's device that is always full stands for the disk."""
    (tmp_path / "old").write_text(OLD, encoding="utf-8")
    for outputs in (["json", "csv"], ["csv", "json"]):
        places = {"json": "/dev/full", "csv": str(tmp_path / "old")}
        asked = [f"--output={form}={places[form]}" for form in outputs]
        result = invoke("check", FAULTY / "two-bridges.yaml", *asked)
        assert result.exit_code == 2
        assert "/dev/full cannot be written: No space left on device" in result.stderr
        assert names(tmp_path) == {"old"}
        assert (tmp_path / "old").read_text(encoding="utf-8") == OLD


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no device that is always full")
def test_a_small_report_that_finds_no_space_at_its_end_is_said_with_its_file() -> None:
    result = run(["check", CLEAN, "--output", "csv=/dev/full"])
    assert result.returncode == 2
    assert result.stderr.decode() == "Error: --output: /dev/full cannot be written: No space left on device\n"


def test_a_name_that_is_taken_in_the_meantime_is_said(tmp_path: Path) -> None:
    path = tmp_path / "x"

    def written_late() -> None:
        with ExitStack() as stack:
            opened(stack, [f"json={path}"], (), lambda _form, stream: writer_on(stream))
            path.mkdir()

    with pytest.raises(UnusableError, match="x cannot be written: "):
        written_late()
    assert names(tmp_path) == {"x"}


def test_a_process_that_is_killed_leaves_the_old_file_whole(tmp_path: Path) -> None:
    path = tmp_path / "x"
    path.write_text(OLD, encoding="utf-8")
    code = (
        "import sys; from pathlib import Path; from ventrules.files import written_beside\n"
        "with written_beside(Path(sys.argv[1])) as stream:\n"
        "    stream.write('half of it'); stream.flush(); print('ready', flush=True); sys.stdin.read()\n"
    )
    words = [sys.executable, "-c", code, str(path)]
    with subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"ready\n"
        process.send_signal(signal.SIGKILL)
        process.wait()
    assert path.read_text(encoding="utf-8") == OLD
    with written_beside(path) as stream:
        stream.write("new\n")
    assert path.read_text(encoding="utf-8") == "new\n"


def test_mode_bits_and_links_stay(tmp_path: Path) -> None:
    (tmp_path / "real").write_text(OLD, encoding="utf-8")
    (tmp_path / "real").chmod(0o640)
    (tmp_path / "link").symlink_to("real")
    assert invoke("check", CLEAN, "--output", f"csv={tmp_path / 'link'}").exit_code == 0
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real").read_text(encoding="utf-8").startswith("file,line,")
    assert stat.S_IMODE((tmp_path / "real").stat().st_mode) == 0o640
    assert names(tmp_path) == {"real", "link"}


def test_a_pipe_is_written_and_stays_a_pipe(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    end = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)  # so that nothing waits for it to be opened
    try:
        assert invoke("check", CLEAN, "--output", f"json={pipe}").exit_code == 0
        got = json.loads(os.read(end, 60_000))
    finally:
        os.close(end)
    assert got["summary"]["files"] == 1
    assert stat.S_ISFIFO(pipe.stat().st_mode)
    assert names(tmp_path) == {"pipe"}
