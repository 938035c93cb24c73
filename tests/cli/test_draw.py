"""`ventrules draw`: pictures and wiring tables on standard output and in files, and what is refused."""

import csv
import io
import os
import re
import shutil
import stat
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Final
from xml.etree import ElementTree as ET

import pytest

from tests.cli.running import AN_ERROR, BROKEN, CLEAN, CLEAN_JSON, FAULTY, invoke, run
from tests.cli.test_streams import on_a_terminal
from tests.pages import DOCS
from ventrules import check, read_job
from ventrules.files import write_text

FORMATS: Final = ("svg", "mermaid", "table", "csv")
CROSSED: Final = FAULTY / "conductors-crossed.yaml"
BEGINS: Final = {
    "svg": "<?xml ",
    "mermaid": "flowchart LR\n",
    "table": "Wiring of Quarry Lane 2\n",
    "csv": "cable,from,",
}
ENDINGS: Final = {".svg": "svg", ".mmd": "mermaid", ".txt": "table", ".csv": "csv", ".SVG": "svg"}


@pytest.fixture
def street(tmp_path: Path) -> Path:
    """A folder with a copy of the job with a fault."""
    shutil.copy(CROSSED, tmp_path / "job.yaml")
    return tmp_path


@pytest.mark.parametrize("form", FORMATS)
@pytest.mark.parametrize("path", [CLEAN, CROSSED], ids=["sound", "faulty"])
def test_the_exit_status_is_0_whatever_the_findings_are(path: Path, form: str) -> None:
    done = invoke("draw", path, "--format", form)
    assert (done.exit_code, done.stderr) == (0, "")
    assert done.stdout.startswith(BEGINS[form])
    assert done.stdout.endswith("\n")
    assert ("data+ / data-" in done.stdout) is (path == CROSSED and form in ("table", "csv"))


def test_the_table_is_what_comes_when_nothing_else_is_asked_for() -> None:
    assert invoke("draw", CROSSED).stdout == invoke("draw", CROSSED, "--format", "table").stdout


def test_the_numbers_are_those_of_the_report() -> None:
    path = FAULTY / "two-bridges.yaml"
    findings = check(read_job(path)).findings
    assert len(findings) > 1
    shown = invoke("draw", path).stdout.partition("\nFindings\n")[2]
    for number, finding in enumerate(findings, start=1):
        piece = " ".join(shown.partition(f"\n{number + 1}. ")[0].split())
        assert piece.startswith(f"{number}. ")
        assert f"({finding.rule})" in piece
        shown = shown[shown.find(f"\n{number + 1}. ") + 1 :]


def test_the_csv_is_one_that_a_reader_takes() -> None:
    rows = list(csv.DictReader(io.StringIO(invoke("draw", CROSSED, "--format", "csv").stdout)))
    crossed = [(row["from terminal"], row["to terminal"]) for row in rows if row["findings"]]
    assert crossed == [("data+", "data-"), ("data-", "data+")]


def test_the_svg_is_well_formed_and_says_the_finding() -> None:
    root = ET.fromstring(invoke("draw", CROSSED, "--format", "svg").stdout)  # noqa: S314 - our own
    assert "wiring/conductors-crossed" in "".join(root.itertext())


def test_on_a_terminal_the_table_says_the_same_as_in_a_pipe() -> None:
    shown = re.sub(r"\x1b\[[0-9;]*m", "", on_a_terminal(["draw", CROSSED]).decode())
    assert shown.replace("\r\n", "\n") == run(["draw", CROSSED], COLUMNS="100").stdout.decode()


@pytest.mark.parametrize("form", FORMATS)
def test_the_bytes_are_the_same_in_every_process(form: str) -> None:
    path = FAULTY / "ring-of-cables.yaml"
    first, second = (run(["draw", path, "--format", form], PYTHONHASHSEED=seed).stdout for seed in ("1", "2"))
    assert first
    assert first == second


def test_a_picture_survives_an_output_that_knows_few_letters(tmp_path: Path) -> None:
    text = CLEAN.read_text(encoding="utf-8").replace("job: Quarry Lane 2", "job: Größe 漢")
    path = tmp_path / "job.yaml"
    path.write_text(text, encoding="utf-8")
    done = run(["draw", path, "--format", "svg"], PYTHONIOENCODING="ascii")
    assert done.returncode == 0
    title = ET.fromstring(done.stdout).findtext("{http://www.w3.org/2000/svg}title")  # noqa: S314 - our own
    assert title == "Wiring of Größe 漢"


def test_standard_input_is_drawn() -> None:
    text = CLEAN_JSON.read_text(encoding="utf-8")
    for form in FORMATS:
        piped = invoke("draw", "-", "--format", form, text=text)
        assert (piped.exit_code, piped.stdout) == (0, invoke("draw", CLEAN_JSON, "--format", form).stdout)


def test_the_picture_of_the_page_is_the_one_that_the_command_draws() -> None:
    """After a change to pictures: ventrules draw examples/faulty/two-bridges.yaml --out docs/two-bridges.svg."""
    drawn = invoke("draw", FAULTY / "two-bridges.yaml", "--format", "svg").stdout
    assert (DOCS / "two-bridges.svg").read_text(encoding="ascii") == drawn


# Into a file


@pytest.mark.parametrize("ending", ENDINGS)
def test_the_ending_of_the_file_chooses_the_format(street: Path, ending: str) -> None:
    out = street / f"wiring{ending}"
    done = invoke("draw", street / "job.yaml", "--out", out)
    assert (done.exit_code, done.stdout, done.stderr) == (0, f"{out}: written.\n", "")
    text = out.read_bytes().decode("utf-8")
    assert text == invoke("draw", street / "job.yaml", "--format", ENDINGS[ending]).stdout
    assert sorted(entry.name for entry in street.iterdir()) == sorted(["job.yaml", out.name])


def test_a_format_that_is_said_goes_before_the_ending(street: Path) -> None:
    out = street / "wiring.html"
    assert invoke("draw", street / "job.yaml", "--format", "svg", "--out", out).exit_code == 0
    assert out.read_text(encoding="utf-8").startswith(BEGINS["svg"])


def test_an_old_file_is_replaced_whole_and_keeps_its_mode(street: Path) -> None:
    out = street / "wiring.svg"
    out.write_text("old", encoding="utf-8")
    out.chmod(0o640)
    before = out.stat().st_ino
    assert invoke("draw", street / "job.yaml", "--out", out).exit_code == 0
    assert out.stat().st_ino != before  # renamed over it, never half written
    assert stat.S_IMODE(out.stat().st_mode) == 0o640
    assert out.read_text(encoding="utf-8").endswith("</svg>\n")


def test_a_file_is_as_it_was_when_writing_fails(street: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = street / "wiring.svg"
    out.write_text("old", encoding="utf-8")

    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    done = invoke("draw", street / "job.yaml", "--out", out)
    assert (done.exit_code, done.stdout) == (2, "")
    assert done.stderr == f"Error: --out {out}: cannot be written: No space left on device\n"
    assert out.read_text(encoding="utf-8") == "old"
    assert sorted(entry.name for entry in street.iterdir()) == ["job.yaml", "wiring.svg"]
    with pytest.raises(OSError, match="No space"):
        write_text(out, "new")


def _folder(street: Path) -> Path:
    (street / "plans.svg").mkdir()
    return street / "plans.svg"


def _job_itself(street: Path) -> Path:
    (street / "other.svg").symlink_to(street / "job.yaml")
    return street / "other.svg"


def _pipe(street: Path) -> Path:
    os.mkfifo(street / "pipe.svg")
    return street / "pipe.svg"


def _nowhere(street: Path) -> Path:
    return street / "no such folder" / "wiring.svg"


def _below_a_file(street: Path) -> Path:
    return street / "job.yaml" / "wiring.svg"


def _circle(street: Path) -> Path:
    (street / "circle.svg").symlink_to(street / "circle.svg")
    return street / "circle.svg"


REFUSED: Final[dict[str, tuple[Callable[[Path], Path], str]]] = {
    "folder": (_folder, "is a folder; expected a file"),
    "job itself": (_job_itself, "is the job itself; nothing was written"),
    "pipe": (_pipe, "is no regular file; nothing was written"),
    "nowhere": (_nowhere, "cannot be written: No such file or directory"),
    "below a file": (_below_a_file, "cannot be written: Not a directory"),
    "circle": (_circle, "cannot be written: "),
}


@pytest.mark.skipif(sys.platform == "win32", reason="links and pipes of Unix")
@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_written_is_refused_and_nothing_is_lost(street: Path, name: str) -> None:
    make, said = REFUSED[name]
    out = make(street)
    before = sorted(entry.name for entry in street.iterdir())
    text = (street / "job.yaml").read_bytes()
    done = invoke("draw", street / "job.yaml", "--out", out)
    assert (done.exit_code, done.stdout) == (2, "")
    assert done.stderr.startswith(f"Error: --out {out}: {said}")
    assert sorted(entry.name for entry in street.iterdir()) == before
    assert (street / "job.yaml").read_bytes() == text


def test_the_job_itself_is_refused_under_its_own_name(street: Path) -> None:
    path = street / "job.yaml"
    text = path.read_bytes()
    done = invoke("draw", path, "--format", "svg", "--out", path)
    assert done.exit_code == 2
    assert "is the job itself" in done.stderr
    assert path.read_bytes() == text


def test_a_write_protected_file_is_left_alone(street: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = street / "wiring.svg"
    out.write_text("old", encoding="utf-8")
    monkeypatch.setattr(os, "access", lambda _path, mode: mode != os.W_OK)
    done = invoke("draw", street / "job.yaml", "--out", out)
    assert done.exit_code == 2
    assert "is write-protected" in done.stderr
    assert out.read_text(encoding="utf-8") == "old"


@pytest.mark.parametrize("out", ["wiring", "wiring.pdf", "wiring.yaml", "", "a\x1b[31m.x"])
def test_a_name_that_tells_no_format_is_refused(street: Path, out: str) -> None:
    done = invoke("draw", street / "job.yaml", "--out", out)
    assert (done.exit_code, done.stdout) == (2, "")
    assert "which format? End the name in .svg, .mmd, .txt or .csv, or say --format" in done.stderr
    assert "\x1b" not in done.stderr


# What cannot be used


@pytest.mark.parametrize("name", ["misspelled.yaml", "half-written.yaml", "not-a-job.json", "none.yaml"])
@pytest.mark.parametrize("form", FORMATS)
def test_a_file_that_cannot_be_used(street: Path, name: str, form: str) -> None:
    out = street / "wiring.svg"
    for more in ([], ["--out", str(out)]):
        done = invoke("draw", BROKEN / name, "--format", form, *more)
        assert (done.exit_code, done.stdout) == (2, "")
        assert done.stderr.startswith("Error: ")
    assert not out.exists()


@pytest.mark.parametrize("args", [["--wrong"], ["--format", "pdf"], [], ["a.yaml", "b.yaml"]], ids=str)
def test_unusable_options_and_arguments(args: list[str]) -> None:
    done = invoke("draw", *args)
    assert done.exit_code == 2
    assert done.stderr


def test_help_says_the_formats_and_the_exit_status() -> None:
    done = invoke("draw", "--help")
    said = " ".join(done.output.split())
    assert done.exit_code == 0
    for form in FORMATS:
        assert form in said
    assert "Exit status: 0, whatever the findings are" in said
    assert "draw" in invoke("--help").output


def test_drawing_loads_what_it_needs_and_checking_does_not() -> None:
    script = (
        "import sys\nfrom click.testing import CliRunner\nfrom ventrules.cli import main\n"
        "done = CliRunner().invoke(main, sys.argv[1:])\nassert done.exit_code in (0, 1), done.output\n"
        "print(*('networkx' in sys.modules, 'ventrules.outputs.draw_svg' in sys.modules))"
    )
    for args, loaded in ((["draw", str(AN_ERROR), "--format", "svg"], "True True"), (["rules"], "False False")):
        done = subprocess.run([sys.executable, "-c", script, *args], capture_output=True, text=True, check=True)
        assert done.stdout.split() == loaded.split()
