"""`ventrules repair`: what its remedies change in a file, shown or written, and what it says about it."""

import json
import os
import shutil
import stat
import subprocess
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import pytest

from tests.cli.running import AN_ERROR, BROKEN, CLEAN, CLEAN_JSON, FAULTY, UNCHECKED, as_json, invoke, said
from tests.pages import DOCS, rows
from tests.test_docs import keys_of
from ventrules import check, job_document, read_job, repair
from ventrules.engine import EditKind
from ventrules.files import JobFileError, apply_edits, replace_text
from ventrules.files.spans import comments, yaml_spans

TO_BUY: Final = FAULTY / "interface-module-missing.yaml"
LEFT: Final = FAULTY / "credit-not-earned.yaml"
MENDABLE: Final = [path for path in sorted(FAULTY.glob("*.*")) if repair(read_job(path), purchases=True).changes]


@pytest.fixture
def street(tmp_path: Path) -> Path:
    """A folder with copies of the faulty examples."""
    return Path(shutil.copytree(FAULTY, tmp_path / "lane"))


# Every example that has a remedy


def test_there_are_examples_with_remedies() -> None:
    assert len(MENDABLE) > 15


@pytest.mark.parametrize("example", MENDABLE, ids=lambda path: str(path.name))
def test_an_example_is_repaired_on_disk_and_keeps_its_comments(example: Path, street: Path) -> None:
    path = street / example.name
    old, job = path.read_text(encoding="utf-8"), read_job(path)
    done = invoke("repair", "--write", "--purchases", path)
    expected = repair(job, purchases=True)
    assert done.exit_code == (0 if expected.report.ok else 1)
    assert "written to" in said(done)
    new = path.read_text(encoding="utf-8")
    assert new != old
    assert job_document(read_job(path)) == job_document(expected.job)
    if path.suffix != ".json":
        before = comments(old, yaml_spans(old))
        assert before
        assert [comment for comment in before if comment not in comments(new, yaml_spans(new))] == []
    again = invoke("repair", "--write", "--purchases", path)
    assert "the file stays as it is" in said(again)
    assert path.read_text(encoding="utf-8") == new


@pytest.mark.skipif(shutil.which("git") is None, reason="git reads the diff")
@pytest.mark.parametrize("example", MENDABLE[::4], ids=lambda path: str(path.name))
def test_the_diff_is_one_that_patch_can_use(example: Path, street: Path) -> None:
    path = street / example.name
    shown = as_json("repair", "--purchases", path)
    assert path.read_bytes() == example.read_bytes()
    assert shown["written"] is False
    patch = subprocess.run(
        ["git", "apply", "--unsafe-paths", "-"],  # noqa: S607 - as people call it
        cwd="/",
        input=shown["diff"].encode(),
        capture_output=True,
        check=False,
    )
    assert patch.returncode == 0, patch.stderr
    assert job_document(read_job(path)) == job_document(repair(read_job(example), purchases=True).job)


# What is said


def test_each_change_says_what_was_wrong_what_was_done_what_it_assumes_and_what_to_look_at() -> None:
    example = FAULTY / "cable-run-twice.yaml"
    (change,) = repair(read_job(example)).changes
    assert change.remedy.assumes
    shown = invoke("repair", example)
    assert shown.exit_code == 0
    text = said(shown)
    for part in (
        "1. error: Cables form a ring",
        change.finding.message,
        f"Change {change.remedy.title}",
        f"Assumes {change.remedy.assumes}",
        f"On site {change.remedy.check_on_site}",
        "Rule wiring/ring",
        *change.finding.cautions,
        "1 change, not written (--write writes); with them 0 errors",
    ):
        assert part in text
    assert f"\n--- a/{str(example).lstrip('/')}\n+++ b/{str(example).lstrip('/')}\n@@ " in shown.stdout
    assert "\n-  - {from: module.system, to: furnace.system, gauge: 20 AWG, length: 5 ft}\n" in shown.stdout


def test_what_has_to_be_bought_is_offered_and_not_done() -> None:
    text = said(shown := invoke("repair", TO_BUY))
    assert shown.exit_code == 1
    assert "HAS TO BE BOUGHT, and is only offered (--purchases takes it in)" in text
    assert "Offer Fit interface module demo-interface" in text
    assert "Nothing that can be changed: the file stays as it is; 2 errors" in text
    assert "+++" not in text
    bought = invoke("repair", "--purchases", TO_BUY)
    assert bought.exit_code == 0
    assert "To buy something has to be bought for this" in said(bought)
    assert "HAS TO BE BOUGHT" not in said(bought)


def test_what_no_remedy_answers_is_listed_with_what_to_do() -> None:
    text = said(shown := invoke("repair", LEFT))
    assert shown.exit_code == 1
    left = text.partition("LEFT, since no remedy by itself answers it")[2]
    for finding in repair(read_job(LEFT)).left:
        assert f"{finding.severity.value}: {finding.title} Where {finding.place.name}, line " in left
        assert f"Found {finding.message} To do {finding.todo} Rule {finding.rule}" in left


def test_a_check_that_could_not_be_made_is_said() -> None:
    text = said(shown := invoke("repair", UNCHECKED))
    assert shown.exit_code == 0
    assert "not checked: " in text
    assert "1 check could not be made" in text


@pytest.mark.parametrize("path", [CLEAN, CLEAN_JSON])
def test_nothing_to_repair_is_said(path: Path) -> None:
    shown = invoke("repair", path)
    assert shown.exit_code == 0
    assert "Nothing to repair: the file stays as it is; 0 errors, 0 warnings and 0 pieces of advice left." in said(
        shown
    )


def test_names_that_a_terminal_would_obey_are_made_visible(tmp_path: Path) -> None:
    path = tmp_path / "a\x1b[31mb.yaml"
    text = AN_ERROR.read_text(encoding="utf-8").replace("# Number", "# \u202eNumber")
    path.write_text(text, encoding="utf-8")
    assert "\u202e" in text
    for args in ((path,), ("--write", path)):
        shown = invoke("repair", *args)
        assert shown.exit_code == 0
        assert not {"\x1b", "\u202e"} & set(shown.output)
        assert "\\u001b[31mb.yaml" in shown.output


@pytest.mark.parametrize("columns", ["20", "60", "200"])
def test_lines_of_the_diff_are_never_broken(columns: str) -> None:
    shown = invoke("repair", FAULTY / "cable-run-twice.yaml", env={"COLUMNS": columns})
    assert "\n-  - {from: module.system, to: furnace.system, gauge: 20 AWG, length: 5 ft}\n" in shown.stdout


# JSON


def test_json_has_the_edits_the_diff_and_what_is_left() -> None:
    shown = as_json("repair", LEFT)
    job = read_job(LEFT)
    done = repair(job)
    assert (shown["ventrules-repair"], shown["usable"], shown["ok"], shown["written"]) == (1, True, False, False)
    edits = [edit for change in done.changes for edit in change.remedy.edits]
    assert shown["edits"] == [edit.as_patch() for edit in edits]
    assert job_document(done.job) == apply_edits(job_document(job), edits)
    assert [change["remedy"]["title"] for change in shown["changes"]] == [c.remedy.title for c in done.changes]
    assert shown["before"]["error"] == len(check(job).findings) - 2
    assert shown["after"] == {"error": 1, "warning": 2, "advice": 0, "unchecked": 0}
    assert [finding["rule"] for finding in shown["left"]] == [finding.rule for finding in done.left]
    assert shown["diff"].startswith("--- a/")
    assert [offer["rule"] for offer in as_json("repair", TO_BUY)["offered"]] == ["wiring/no-path-to-controller"]


def test_the_json_has_the_keys_of_its_page_and_no_other() -> None:
    text = (DOCS / "repair.md").read_text(encoding="utf-8")
    documented = {row[0].strip("`") for row in rows(text.partition("\n## JSON\n")[2]) if row[0] != "key"}
    keys = set()
    for args in ([LEFT], [TO_BUY], [AN_ERROR], [BROKEN / "misspelled.yaml"], ["--purchases", TO_BUY]):
        keys |= set(keys_of(as_json("repair", *args)))
    inner = ("changes[].", "offered[].", "left[].", "edits[].")
    assert {key for key in keys if not key.startswith(inner)} == documented


# Writing


def test_without_write_no_file_is_touched(street: Path) -> None:
    path = street / AN_ERROR.name
    before = path.stat()
    assert "not written" in said(invoke("repair", path))
    after = path.stat()
    assert (after.st_mtime_ns, after.st_ino, after.st_size) == (before.st_mtime_ns, before.st_ino, before.st_size)


@pytest.mark.parametrize("name", ["no-calendar.yaml", "out-of-balance.yaml", "interface-module-missing.yaml"])
def test_a_file_in_which_nothing_is_changed_is_not_written(street: Path, name: str) -> None:
    path = street / name
    os.utime(path, ns=(1, 1))
    before = path.stat()
    assert "the file stays as it is" in said(invoke("repair", "--write", path))
    assert (path.stat().st_mtime_ns, path.stat().st_ino) == (1, before.st_ino)


def test_permissions_survive_and_a_link_stays_one(street: Path, tmp_path: Path) -> None:
    path, link = street / AN_ERROR.name, tmp_path / "link.yaml"
    path.chmod(0o640)
    link.symlink_to(path)
    done = invoke("repair", "--write", link)
    assert done.exit_code == 0
    assert link.is_symlink()
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert check(read_job(path)).ok
    assert sorted(entry.name for entry in street.iterdir()) == sorted(entry.name for entry in FAULTY.iterdir())


def test_line_breaks_and_a_byte_order_mark_survive(street: Path) -> None:
    path = street / AN_ERROR.name
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    assert invoke("repair", "--write", path).exit_code == 0
    data = path.read_bytes()
    assert data.startswith(b"\xef\xbb\xbf# ")
    assert data.count(b"\r\n") == data.count(b"\n") > 10
    assert check(read_job(path)).ok


def test_a_write_protected_file_is_left_alone(street: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = street / AN_ERROR.name
    before = path.read_bytes()
    monkeypatch.setattr(os, "access", lambda _path, mode: mode != os.W_OK)
    done = invoke("repair", "--write", path)
    assert done.exit_code == 2
    assert f"Error: {path}: cannot be written: is write-protected\n" in done.stderr
    assert path.read_bytes() == before


def test_a_file_that_changed_meanwhile_is_left_alone(street: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = street / AN_ERROR.name

    def meanwhile(*args: Any, **named: Any) -> Any:
        path.write_text("somebody else's", encoding="utf-8")
        return repair(*args, **named)

    monkeypatch.setattr("ventrules.cli.repair.repair", meanwhile)
    done = invoke("repair", "--write", path)
    assert done.exit_code == 2
    assert "has changed since it was read; nothing was written" in done.stderr
    assert path.read_text(encoding="utf-8") == "somebody else's"


def test_only_a_regular_file_is_written() -> None:
    with pytest.raises(JobFileError, match="is no regular file; nothing was written"):
        replace_text(Path(os.devnull), "", "new")


def test_a_text_that_cannot_be_edited_is_said_and_left_alone(street: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = street / AN_ERROR.name
    before = path.read_bytes()

    def refuse(*_args: object) -> str:
        raise ValueError("job.yaml: the text cannot be edited in place")

    monkeypatch.setattr("ventrules.files.round_trip.edited_text", refuse)
    done = invoke("repair", "--write", path)
    assert done.exit_code == 2
    assert "1 change, which cannot be written into this file." in said(done)
    assert done.stderr == "Error: job.yaml: the text cannot be edited in place\n"
    assert path.read_bytes() == before
    shown = as_json("repair", path)
    assert (shown["usable"], shown["written"], shown["diff"]) == (True, False, "")
    assert [problem["message"] for problem in shown["problems"]] == ["job.yaml: the text cannot be edited in place"]


# Standard input, options, what cannot be used


def test_standard_input_is_shown_and_never_written() -> None:
    text = AN_ERROR.read_text(encoding="utf-8")
    shown = invoke("repair", "-", text=text)
    assert shown.exit_code == 0
    assert "\n--- a/<standard input>\n" in shown.stdout
    refused = invoke("repair", "-", "--write", text=text)
    assert refused.exit_code == 2
    assert refused.stdout == ""
    assert refused.stderr == "Error: <standard input>: cannot be written; --write needs a file\n"


def test_rules_can_be_chosen() -> None:
    assert "Nothing to repair" in said(invoke("repair", "--only", "upkeep", AN_ERROR))
    assert "Nothing to repair" in said(invoke("repair", "--skip", "settings", AN_ERROR))
    assert "1 change" in said(invoke("repair", "--only", "settings", AN_ERROR))
    unknown = invoke("repair", "--only", "setings", AN_ERROR)
    assert unknown.exit_code == 2
    assert "setings" in unknown.stderr


@pytest.mark.parametrize("name", ["misspelled.yaml", "half-written.yaml", "not-a-job.json", "none.yaml"])
def test_a_file_that_cannot_be_used(name: str) -> None:
    done = invoke("repair", "--write", BROKEN / name)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert done.stderr.startswith("Error: ")
    shown: Mapping[str, Any] = json.loads(invoke("repair", "--format", "json", BROKEN / name).stdout)
    assert shown["usable"] is False
    assert shown["problems"]


def test_json_in_json_out(street: Path) -> None:
    path = street / "worst-window-too-low.json"
    old = path.read_text(encoding="utf-8").splitlines()
    assert invoke("repair", "--write", path).exit_code == 0
    new = path.read_text(encoding="utf-8").splitlines()
    assert sum(a != b for a, b in zip(old, new, strict=True)) == 1
    assert json.loads("\n".join(new)) == job_document(repair(read_job(FAULTY / path.name)).job)


def test_edits_are_those_three_of_json_patch() -> None:
    assert {edit["op"] for edit in as_json("repair", "--purchases", TO_BUY)["edits"]} <= {
        kind.value for kind in EditKind
    }
