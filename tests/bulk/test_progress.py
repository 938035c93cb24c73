"""How far a run is, on real terminals."""

import json
import os
import re
import subprocess
from pathlib import Path
from threading import Thread
from typing import Any

import pytest

from tests.bulk.running import start
from tests.bulk.street import as_files, as_lines, texts
from ventrules.cli.progress import _Count, metered

ESCAPE = re.compile(r"\x1b\[[0-9;?]*[a-zA-Z]")


def on_terminals(args: list[str | Path], *, stdout: bool, **env: str) -> tuple[bytes, str]:
    """Run the command with standard error on a terminal, and standard output there as well or in a pipe."""
    pty: Any = pytest.importorskip("pty")
    ours, theirs = pty.openpty()
    seen = bytearray()

    def watch() -> None:
        while True:
            try:
                piece = os.read(ours, 65536)
            except OSError:  # Linux says so when the other side is closed
                return
            if not piece:
                return
            seen.extend(piece)

    terminal = {"TERM": "xterm-256color", "COLUMNS": "100"}
    process = start(args, stdout=theirs if stdout else subprocess.PIPE, stderr=theirs, env={**terminal, **env})
    os.close(theirs)
    watcher = Thread(target=watch)
    watcher.start()
    printed, _none = process.communicate()
    watcher.join()
    os.close(ours)
    return printed or b"", seen.decode()


def plain(text: str) -> str:
    return " ".join(ESCAPE.sub(" ", text).split())


@pytest.mark.parametrize("workers", ["1", "2"])
def test_a_terminal_shows_count_total_rate_and_time_left_and_the_report_is_whole(tmp_path: Path, workers: str) -> None:
    path = as_lines(tmp_path / "lane.jsonl", texts(30) * 20)
    printed, seen = on_terminals(["check", path, "--format", "json", "--workers", workers], stdout=False)
    assert len(json.loads(printed)["files"]) == 600
    assert re.search(r"\d+ of 600 jobs, \d+ a second", plain(seen))
    assert re.search(r"\d:\d\d left", plain(seen))
    assert b"\x1b" not in printed


def test_the_bar_is_one_line_of_a_narrow_terminal(tmp_path: Path) -> None:
    path = as_lines(tmp_path / "lane.jsonl", texts(30) * 40)
    _printed, seen = on_terminals(["check", path, "--format", "json", "--workers", "1"], stdout=False, COLUMNS="80")
    frames = [frame for frame in re.split(r"[\r\n]+", ESCAPE.sub("", seen)) if frame.strip()]
    assert any(re.search(r"of 1,200 jobs, [\d,]+ a second +\d", frame) for frame in frames)
    assert all("jobs" in frame and "…" not in frame and len(frame) <= 80 for frame in frames)


@pytest.mark.parametrize(
    ("words", "stdout", "env"),
    [
        (["--no-progress"], False, {}),
        ([], False, {"TERM": "dumb"}),
        (["--format", "json"], True, {}),
    ],
    ids=["not wanted", "a terminal without abilities", "both on one terminal"],
)
def test_there_is_no_bar(tmp_path: Path, words: list[str], stdout: bool, env: dict[str, str]) -> None:
    path = as_lines(tmp_path / "lane.jsonl", texts(30) * 4)
    printed, seen = on_terminals(["check", path, "--workers", "1", *words], stdout=stdout, **env)
    if stdout:
        assert len(json.loads(seen)["files"]) == 120
    else:
        assert printed
        assert seen == ""


def test_without_a_terminal_nothing_is_imported_and_nothing_shown(capsys: pytest.CaptureFixture[str]) -> None:
    with metered(["x"], lines=False, wanted=True) as meter:
        meter.tell(3)
        assert meter.total is None
    assert capsys.readouterr() == ("", "")


def test_the_count_is_what_a_run_comes_to(tmp_path: Path) -> None:
    as_files(tmp_path / "lane", texts(5))
    as_lines(tmp_path / "lane" / "more.jsonl", texts(4))
    (tmp_path / "last.jsonl").write_text('{"ventrules": 1}\n{"ventrules": 1}', encoding="utf-8")
    for paths, lines, total in (
        ([tmp_path], False, 11),
        ([tmp_path / "lane" / "*.json", "-"], False, 6),
        ([tmp_path / "none.jsonl"], False, 1),
        (["-"], True, None),
        ([tmp_path / "last.jsonl", "-"], True, None),
    ):
        count = _Count([str(path) for path in paths], lines=lines)
        count.run()
        assert count.total == total
