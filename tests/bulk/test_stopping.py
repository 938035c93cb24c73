"""A run that is asked to end: real processes and real signals."""

import json
import os
import signal
import subprocess
import time
from pathlib import Path
from threading import Thread, Timer
from typing import Final

import pytest

from tests.bulk.running import is_any_left, start
from tests.bulk.street import as_lines, texts
from ventrules.cli.stopping import Stop, Stopped

pytestmark = pytest.mark.skipif(os.name != "posix", reason="processes are asked to end in another way here")

MANY: Final = 60_000  # more than any run gets through before it is stopped


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return as_lines(tmp_path_factory.mktemp("many") / "lane.jsonl", texts(40) * (MANY // 40))


def begun(process: subprocess.Popen[bytes], jobs: int) -> bytes:
    """Read standard output until so many jobs have been told."""
    assert process.stdout is not None
    read = b""
    while read.count(b'"usable": ') < jobs:
        line = process.stdout.readline()
        assert line, process.communicate()[1]
        read += line
    return read


def ended(process: subprocess.Popen[bytes]) -> tuple[bytes, bytes]:
    """Return what a process still writes, after it has ended; one that does not end is killed, and that is an error."""
    assert process.stdout is not None
    assert process.stderr is not None
    killer = Timer(60.0, process.kill)
    killer.start()
    try:
        with process.stdout, process.stderr:
            rest, complaints = process.stdout.read(), process.stderr.read()
        process.wait()
    finally:
        killer.cancel()
    return rest, complaints


@pytest.mark.parametrize("workers", [1, 2])
@pytest.mark.parametrize("asked", [signal.SIGINT, signal.SIGTERM], ids=lambda asked: asked.name)
def test_a_run_that_is_stopped_tells_what_was_found_so_far(
    many: Path, tmp_path: Path, asked: signal.Signals, workers: int
) -> None:
    file = tmp_path / "report.json"
    process = start(["check", many, "--workers", str(workers), "--format", "json", "--output", f"json={file}"])
    read = begun(process, 100)
    if asked is signal.SIGINT:  # a key goes to the whole group
        os.killpg(process.pid, asked)
    else:
        process.send_signal(asked)
    rest, complaints = ended(process)
    report = json.loads(read + rest)
    assert report["summary"]["interrupted"]
    told = len(report["files"])
    assert 100 <= told == report["summary"]["files"] < MANY
    assert [each["line"] for each in report["files"]] == list(range(1, told + 1))
    assert complaints.decode() == f"Error: stopped after {told} jobs\n"
    assert process.returncode == 128 + asked
    assert json.loads(file.read_text(encoding="utf-8")) == report
    assert list(tmp_path.iterdir()) == [file]
    assert not is_any_left(process.pid)


def test_a_run_that_waits_for_its_input_can_be_stopped(tmp_path: Path) -> None:
    ours, theirs = os.pipe()
    file = tmp_path / "report.json"
    with os.fdopen(theirs, "wb") as lines:
        lines.write(f"{texts(1)[0]}\n".encode())
        lines.flush()
        process = start(
            ["check", "-", "--lines", "--workers", "1", "--format", "json", "--output", f"json={file}"], stdin=ours
        )
        os.close(ours)
        read = begun(process, 1)
        process.send_signal(signal.SIGINT)
        rest, complaints = ended(process)
    assert json.loads(read + rest)["summary"]["files"] == 1
    assert complaints.decode() == "Error: stopped after 1 jobs\n"
    assert process.returncode == 130


def test_workers_end_when_the_run_is_killed(many: Path) -> None:
    process = start(["check", many, "--workers", "2", "--format", "json"])
    begun(process, 50)
    process.kill()
    ended(process)
    assert not is_any_left(process.pid)


# The parts of it


def test_a_signal_raises_where_nothing_is_held_and_the_handlers_are_given_back() -> None:
    before = [signal.getsignal(which) for which in (signal.SIGINT, signal.SIGTERM)]
    assert Stop().status is None
    with Stop() as stop:
        with pytest.raises(Stopped):
            signal.raise_signal(signal.SIGTERM)
        assert stop.signal == signal.SIGTERM
    assert stop.status == 143
    assert [signal.getsignal(which) for which in (signal.SIGINT, signal.SIGTERM)] == before


def test_a_signal_is_only_noted_while_something_is_held() -> None:
    with Stop() as stop, stop.held():
        signal.raise_signal(signal.SIGINT)
        assert stop.signal == signal.SIGINT
    with Stop() as stop:
        stop.hold()
        signal.raise_signal(signal.SIGINT)
        assert stop.status == 130


def test_what_is_not_caught_becomes_the_exit_status() -> None:
    with pytest.raises(SystemExit) as caught, Stop():
        signal.raise_signal(signal.SIGINT)
    assert caught.value.code == 130


def test_a_second_signal_ends_the_process_unless_it_comes_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    killed: list[int] = []
    monkeypatch.setattr(os, "kill", lambda _process, number: killed.append(number))
    clock = [10.0]
    monkeypatch.setattr(time, "monotonic", lambda: clock[0])
    with Stop() as stop, stop.held():
        signal.raise_signal(signal.SIGINT)
        clock[0] += 0.5
        signal.raise_signal(signal.SIGINT)
        assert killed == []
        clock[0] += 1.0
        signal.raise_signal(signal.SIGTERM)
        assert killed == [signal.SIGTERM]


def test_a_signal_that_is_ignored_stays_ignored_and_other_threads_change_nothing() -> None:
    before = signal.signal(signal.SIGTERM, signal.SIG_IGN)
    try:
        with Stop() as stop:
            signal.raise_signal(signal.SIGTERM)
            assert stop.signal is None
    finally:
        signal.signal(signal.SIGTERM, before)
    seen: list[object] = []

    def elsewhere() -> None:
        with Stop():
            seen.append(signal.getsignal(signal.SIGINT))

    thread = Thread(target=elsewhere)
    thread.start()
    thread.join()
    assert seen == [signal.getsignal(signal.SIGINT)]
