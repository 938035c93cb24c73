"""The installed script as a process: real streams, terminals, hash seeds."""

import json
import os
import re
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import pytest
import yaml

from tests.cli.running import AN_ERROR, BROKEN, CLEAN, EXAMPLES, FAULTY, SOUND, as_json, command, environment, run
from ventrules import __version__

ESCAPE: Final = b"\x1b"
COLOR: Final = re.compile(rb"\x1b\[(?:[0-9]+;)*(?:3[0-8]|4[0-8]|9[0-7]|10[0-7])(?:;[0-9]+)*m")


def on_a_terminal(args: Sequence[str | Path], **env: str) -> bytes:
    """Run the script with standard output on a pseudo-terminal; return what it wrote there."""
    pty: Any = pytest.importorskip("pty")
    ours, theirs = pty.openpty()
    changes = {"TERM": "xterm-256color", "COLUMNS": "100", **env}
    with subprocess.Popen(
        [command(), *map(str, args)], stdin=subprocess.DEVNULL, stdout=theirs, env=environment(changes)
    ):
        os.close(theirs)
        read = bytearray()
        while True:
            try:
                piece = os.read(ours, 65536)
            except OSError:  # Linux says so when the other side is closed
                break
            if not piece:
                break
            read += piece
    os.close(ours)
    return bytes(read)


def test_the_script_is_installed_and_says_its_version() -> None:
    done = run(["--version"])
    assert done.returncode == 0
    assert done.stdout.decode().split() == ["ventrules", __version__]


def test_the_package_can_be_run_as_a_module() -> None:
    done = subprocess.run([sys.executable, "-m", "ventrules", "--version"], capture_output=True, check=False)
    assert done.returncode == 0
    assert done.stdout.decode().split() == ["ventrules", __version__]


@pytest.mark.parametrize(
    ("path", "status"), [(CLEAN, 0), (AN_ERROR, 1), (BROKEN / "half-written.yaml", 2)], ids=["clean", "error", "broken"]
)
def test_the_process_ends_with_the_exit_status_and_writes_nothing_to_standard_error(path: Path, status: int) -> None:
    done = run(["check", path])
    assert done.returncode == status
    assert done.stdout
    assert done.stderr == b""


def test_standard_input_comes_through_a_pipe() -> None:
    done = run(["check", "-", "--format", "json"], data=AN_ERROR.read_bytes())
    assert done.returncode == 1
    assert json.loads(done.stdout)["summary"]["error"] == 1


@pytest.mark.parametrize(
    "args",
    [
        ["check", FAULTY, BROKEN],
        ["check", FAULTY, BROKEN, "--format", "json"],
        ["rules"],
        ["explain", "wiring/ring"],
        ["check", "--help"],
        ["check", "--wrong"],
    ],
    ids=lambda args: " ".join(Path(arg).name for arg in args),
)
def test_what_is_no_terminal_gets_no_escape_sequence(args: list[str | Path]) -> None:
    done = run(args, TERM="xterm-256color", COLORTERM="truecolor")
    assert done.stdout + done.stderr
    assert ESCAPE not in done.stdout + done.stderr
    assert b"Traceback" not in done.stderr


def test_a_terminal_gets_color_unless_it_asks_for_none() -> None:
    colored, plain = (on_a_terminal(["check", AN_ERROR], **env) for env in ({}, {"NO_COLOR": "1"}))
    assert COLOR.search(colored)
    assert not COLOR.search(plain)
    assert b"Outdoor limits leave no temperature" in plain


def test_a_terminal_without_abilities_gets_no_escape_sequence() -> None:
    plain = on_a_terminal(["check", AN_ERROR], TERM="dumb")
    assert b"Outdoor limits leave no temperature" in plain
    assert ESCAPE not in plain


def test_json_on_a_terminal_is_still_plain_json() -> None:
    assert json.loads(on_a_terminal(["check", AN_ERROR, "--format", "json"]))["summary"]["error"] == 1


def test_a_terminal_gets_a_hostile_title_harmless(tmp_path: Path) -> None:
    document = yaml.safe_load(AN_ERROR.read_text(encoding="utf-8")) | {"job": "[red]x \x1b[2J\x1b]0;title\x07 \u202e y"}
    (tmp_path / "job.json").write_text(json.dumps(document), encoding="utf-8")
    shown = on_a_terminal(["check", tmp_path / "job.json"], COLUMNS="300")
    assert b"[red]x \\u001b[2J\\u001b]0;title\\u0007 \\u202e y" in shown
    assert set(re.findall(rb"\x1b[^m]*.", shown)) == set(re.findall(rb"\x1b\[[0-9;]*m", shown))


@pytest.mark.parametrize("form", ["text", "json"])
def test_output_is_the_same_for_every_hash_seed(form: str) -> None:
    outputs = {
        run(["check", EXAMPLES, "--format", form], PYTHONHASHSEED=seed).stdout for seed in ("0", "1", "4294967295")
    }
    assert len(outputs) == 1
    assert len(outputs.pop()) > 10_000


def turned(value: Any) -> Any:
    """The same data with the keys of every mapping in the opposite order."""
    if isinstance(value, dict):
        return {key: turned(item) for key, item in reversed(list(value.items()))}
    return [turned(item) for item in value] if isinstance(value, list) else value


def unplaced(file: Any) -> Any:
    return {**file, "findings": [{**finding, "position": None} for finding in file["findings"]]}


@pytest.mark.parametrize("path", sorted(FAULTY.glob("*.*")), ids=lambda path: path.name)
def test_output_is_the_same_for_every_order_of_keys(path: Path) -> None:
    document = yaml.safe_load(path.read_text(encoding="utf-8"))
    (straight,) = as_json("check", "-", text=json.dumps(document))["files"]
    (other,) = as_json("check", "-", text=json.dumps(turned(document)))["files"]
    assert straight["findings"]
    assert unplaced(other) == unplaced(straight)


def test_a_reader_that_leaves_early_gets_no_traceback() -> None:
    with subprocess.Popen(
        [command(), "check", str(FAULTY), str(SOUND)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=environment({}),
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        assert process.stdout.readline()
        process.stdout.close()
        assert b"Traceback" not in process.stderr.read()


@pytest.mark.parametrize("form", ["text", "json"])
@pytest.mark.parametrize("encoding", ["cp1252", "ascii", "latin-1"])
def test_a_stream_that_cannot_hold_every_character_still_gets_the_report(encoding: str, form: str) -> None:
    done = run(["check", FAULTY / "foreign-dialect.yaml", "--format", form], PYTHONIOENCODING=encoding)
    assert b"Traceback" not in done.stderr
    assert done.returncode == 1
    assert b"equipment/dialect-mismatch" in done.stdout


def test_json_stays_utf_8_whatever_bytes_a_file_name_has(tmp_path: Path) -> None:
    path = os.fsencode(tmp_path) + b"/number \xff.yaml"
    try:
        with open(path, "wb") as stream:  # noqa: PTH123 - the name is no text
            stream.write(AN_ERROR.read_bytes())
    except OSError:
        pytest.skip("this file system holds only names that are text")
    done = run(["check", os.fsdecode(path), "--format", "json"])
    assert json.loads(done.stdout.decode("utf-8"))["summary"]["error"] == 1


def test_an_explanation_on_a_terminal_is_laid_out_and_complete() -> None:
    shown = " ".join(re.sub(rb"\x1b\[[0-9;]*m", b"", on_a_terminal(["explain", "wiring/ring"])).decode().split())
    for part in ("wiring/ring", "Cables form a ring.", "Meaning", "Basis", "At fault", "Put right", "Not seen"):
        assert part in shown
    assert "```" not in shown
    assert "lock out power" in shown


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
@pytest.mark.parametrize("words", [["check"], ["draw"], ["target"], ["check", "--format", "json"]], ids=" ".join)
def test_output_that_has_no_place_to_go_is_said_and_is_no_finding(words: list[str]) -> None:
    with Path("/dev/full").open("w", encoding="utf-8") as full:
        done = subprocess.run(
            [command(), *words, str(CLEAN)], stdout=full, stderr=subprocess.PIPE, text=True, check=False
        )
    assert done.returncode == 2
    assert done.stderr.strip().startswith("Error: the output cannot be written: ")
    assert done.stderr.count("\n") == 1
