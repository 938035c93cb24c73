"""The policy on the command line: found or named, overruled by options, explained, and the same for every command."""

import json
import os
import shutil
from pathlib import Path
from typing import Any, Final

import attrs
import pytest
from click.testing import Result
from hypothesis import given
from hypothesis import strategies as st

from tests.cli.running import A_WARNING, AN_ADVICE, AN_ERROR, BROKEN, CLEAN, SOUND, UNCHECKED, as_json, invoke, said
from tests.policy.made import INVERTED
from tests.policy.test_policy_files import FULL, beside
from ventrules.policy import PolicyTable, read_policy
from ventrules.policy.explain import KEYS, From, settings

TOO_LONG: Final = "upkeep/filter-interval-out-of-range"


@pytest.fixture
def lane(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A working folder, the root of a repository, with jobs in the folder `jobs`."""
    (tmp_path / ".git").mkdir()
    (tmp_path / "jobs").mkdir()
    for path in (AN_ERROR, A_WARNING, CLEAN):
        shutil.copy(path, tmp_path / "jobs" / path.name)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def policy(folder: Path, text: str, name: str = ".ventrules.toml") -> Path:
    (folder / name).write_text(text, encoding="utf-8")
    return folder / name


def rules_found(result: Result) -> list[str]:
    return [finding["rule"] for file in json.loads(result.stdout)["files"] for finding in file["findings"]]


# Which policy


@pytest.mark.parametrize("name", [".ventrules.toml", "pyproject.toml"])
def test_the_policy_is_found_from_a_folder_below_named_or_ignored(
    name: str, lane: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    table = "[tool.ventrules]\n" if name == "pyproject.toml" else ""
    policy(lane, f"{table}fail_at = 'warning'\n", name)
    monkeypatch.chdir(lane / "jobs")
    assert invoke("check", A_WARNING.name).exit_code == 1
    assert invoke("check", A_WARNING.name, "--no-policy").exit_code == 0
    other = policy(lane, "fail_at = 'never'\n", "other.toml")
    assert invoke("check", AN_ERROR.name, "--policy", other).exit_code == 0
    assert invoke("check", AN_ERROR.name, "--policy", other, "--no-policy").exit_code == 1


def test_of_two_in_one_folder_the_own_file_is_used_and_that_is_said(lane: Path) -> None:
    policy(lane, "fail_at = 'never'\n")
    policy(lane, "[tool.ventrules]\nfail_at = 'advice'\n", "pyproject.toml")
    result = invoke("check", "jobs")
    assert result.exit_code == 0
    assert "pyproject.toml is not used" in result.stderr
    policy(lane, "[tool.other]\n", "pyproject.toml")
    assert invoke("check", "jobs").stderr == ""


@pytest.mark.parametrize(
    "command",
    [
        ["check", "jobs"],
        ["check", "jobs", "--format", "json"],
        ["check", "jobs", "--explain-policy"],
        ["rules"],
        ["baseline", "jobs", "--out", "b.json"],
        ["repair", "jobs/number-02.yaml"],
        ["plan", "jobs/number-02.yaml"],
        ["target", "jobs/number-02.yaml"],
        ["diagnose", "jobs/number-02.yaml"],
        ["draw", "jobs/number-02.yaml"],
    ],
    ids=" ".join,
)
def test_a_policy_that_cannot_be_used_stops_every_command_with_all_that_is_wrong(
    command: list[str], lane: Path
) -> None:
    policy(lane, "fail_att = 'error'\n[severity]\nwirng = 'eror'\n")
    result = invoke(*command)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert ".ventrules.toml:1:1: fail_att" in result.stderr
    assert ".ventrules.toml:3:1: severity / wirng" in result.stderr
    assert not (lane / "b.json").exists()
    named = invoke(*command, "--policy", "nowhere.toml")
    assert (named.exit_code, "no such file" in named.stderr) == (2, True)
    assert "wirng" not in invoke(*command, "--no-policy").stderr


# The command line wins over the policy, the policy over what holds by default


@pytest.mark.parametrize("own", [None, "error", "warning", "advice", "never"])
@pytest.mark.parametrize("given_too", [None, "error", "warning", "advice", "never"])
def test_the_threshold_is_the_one_given_else_the_policy_s_else_error(
    own: str | None, given_too: str | None, lane: Path
) -> None:
    policy(lane, f"fail_at = '{own}'\n" if own is not None else "")
    options = ["--fail-at", given_too] if given_too is not None else []
    asked = given_too or own or "error"
    for path, status in ((CLEAN, 0), (AN_ADVICE, 1 * (asked == "advice")), (A_WARNING, asked in ("warning", "advice"))):
        assert invoke("check", path, *options).exit_code == status
    assert invoke("check", AN_ERROR, *options).exit_code == (asked != "never")


def test_unchecked_checks_fail_as_the_command_line_says_else_as_the_policy_does(lane: Path) -> None:
    policy(lane, "fail_unchecked = true\n")
    assert invoke("check", UNCHECKED).exit_code == 1
    assert invoke("check", UNCHECKED, "--no-fail-unchecked").exit_code == 0
    assert invoke("check", UNCHECKED, "--no-policy").exit_code == 0
    assert invoke("check", UNCHECKED, "--no-policy", "--fail-unchecked").exit_code == 1


def test_severities_show_in_every_list_and_count_for_the_exit_status(lane: Path) -> None:
    policy(lane, f"[severity]\n'{TOO_LONG}' = 'error'\n'{INVERTED}' = 'advice'\nwiring = 'left-out'\n")
    assert [invoke("check", path).exit_code for path in (A_WARNING, AN_ERROR)] == [1, 0]
    listed = {rule["rule"]: rule["severity"] for rule in as_json("rules")["rules"]}
    assert (listed[TOO_LONG], listed[INVERTED]) == ("error", "advice")
    assert not [name for name in listed if name.startswith("wiring/")]
    own = {rule["rule"]: rule["severity"] for rule in as_json("rules", "--no-policy")["rules"]}
    assert (own[TOO_LONG], own[INVERTED]) == ("warning", "error")
    assert {rule["rule"] for rule in as_json("rules", "--only", "wiring")["rules"]} == {
        name for name in own if name.startswith("wiring/")
    }


def test_paths_of_the_policy_are_checked_when_none_is_named(lane: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    policy(lane, f"paths = ['jobs']\nleave_out = ['jobs/{AN_ERROR.name}']\n")
    for here in (lane, lane / "jobs"):
        monkeypatch.chdir(here)
        result = invoke("check", "--format", "json")
        assert result.exit_code == 0
        assert [Path(file["file"]).name for file in json.loads(result.stdout)["files"]] == [A_WARNING.name, CLEAN.name]
        assert "1 file is left out by" in result.stderr
        assert all(Path(file["file"]).exists() for file in json.loads(result.stdout)["files"])
    named = invoke("check", AN_ERROR.name)  # what is named is checked
    assert (named.exit_code, named.stderr) == (1, "")
    assert invoke("check", f"./{AN_ERROR.name}").exit_code == 1
    assert invoke("check", AN_ERROR.name, CLEAN.name, "--only-jobs").exit_code == 0
    assert invoke("check", "--no-policy").exit_code == 2


def test_a_policy_that_leaves_everything_out_is_no_success(lane: Path) -> None:
    policy(lane, "leave_out = ['**']\n")
    result = invoke("check", "jobs")
    assert result.exit_code == 2
    assert "nothing was checked" in said(result)
    assert ".ventrules.toml:1:1" in said(result)


def test_nothing_to_check_is_said(lane: Path) -> None:
    policy(lane, "fail_at = 'error'\n")
    result = invoke("check")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "paths" in result.stderr


def test_catalogs_and_codes_of_the_policy_serve_every_command_that_reads_a_job(lane: Path) -> None:
    policy(beside(lane), "[catalogs]\nhouse = 'house.yaml'\n[codes]\ntown = 'town.toml'\n")
    text = (SOUND / "number-23.yaml").read_text(encoding="utf-8")
    (lane / "job.yaml").write_text(
        text.replace("lane-catalog.yaml", "house").replace("lane-code.toml", "town"), encoding="utf-8"
    )
    for command in ("check", "repair", "plan", "target", "draw"):
        assert invoke(command, "job.yaml").exit_code == 0, command
        assert invoke(command, "job.yaml", "--no-policy").exit_code == 2, command
    assert invoke("check", "-", text=(lane / "job.yaml").read_bytes()).exit_code == 0
    assert invoke("target", "-", text=(lane / "job.yaml").read_bytes()).exit_code == 0


# Acceptances


def test_what_the_policy_lets_stand_counts_no_more_until_its_last_day_is_past(lane: Path) -> None:
    policy(lane, f"[[accepted]]\nrule = '{INVERTED}'\nreason = 'parts are ordered'\nuntil = 2026-06-30\n")
    assert invoke("check", "jobs", "--on", "2026-06-30").exit_code == 0
    past = invoke("check", "jobs", "--on", "2026-07-01", "--format", "json")
    assert past.exit_code == 1
    assert rules_found(past) == [TOO_LONG, INVERTED, "engine/acceptance-expired"]
    assert json.loads(past.stdout)["files"][-1]["file"] == ".ventrules.toml"


@pytest.mark.parametrize(
    ("paths", "told"), [(["."], True), (["jobs"], False), ([f"jobs/{CLEAN.name}"], False), (["jobs", "."], True)]
)
def test_an_acceptance_is_called_unused_in_a_run_over_all_below_the_policy(
    paths: list[str], told: bool, lane: Path
) -> None:
    policy(lane, "[[accepted]]\nrule = 'wiring/ring'\nreason = 'why'\n")
    assert ("engine/acceptance-unused" in invoke("check", *paths).stdout) is told


def test_no_acceptance_is_called_unused_when_a_folder_could_not_be_searched(
    lane: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    policy(lane, "[[accepted]]\nrule = 'wiring/ring'\nreason = 'why'\nfiles = ['jobs/**']\n")
    (lane / "closed").mkdir()
    scan = os.scandir

    def refuse(path: str) -> Any:
        if os.path.basename(path) == "closed":  # noqa: PTH119 - as it is called
            raise PermissionError(13, "denied", path)
        return scan(path)

    assert "engine/acceptance-unused" in invoke("check", ".").stdout
    monkeypatch.setattr(os, "scandir", refuse)
    result = invoke("check", ".")
    assert result.exit_code == 2
    assert "engine/acceptance-unused" not in result.stdout


@pytest.mark.parametrize(
    ("args", "told"), [([], True), (["jobs"], True), (["."], True), ([f"jobs/{CLEAN.name}"], False)]
)
def test_a_run_over_the_paths_of_the_policy_is_over_the_whole_project(args: list[str], told: bool, lane: Path) -> None:
    policy(lane, "paths = ['jobs']\n[[accepted]]\nrule = 'wiring/ring'\nreason = 'why'\n")
    assert ("engine/acceptance-unused" in invoke("check", *args).stdout) is told


def test_a_repair_keeps_to_the_policy(lane: Path) -> None:
    job = Path("jobs", AN_ERROR.name)
    policy(lane, f"[[accepted]]\nrule = '{INVERTED}'\nreason = 'why'\nuntil = 2026-06-30\nfiles = ['jobs/*']\n")
    assert as_json("repair", job, "--on", "2026-06-30")["changes"] == []
    assert len(as_json("repair", job, "--on", "2026-07-01")["changes"]) == 1
    policy(lane, f"[severity]\n'{INVERTED}' = 'left-out'\n")
    assert as_json("repair", job)["changes"] == []


@pytest.mark.parametrize("day", ["2026-02-30", "tomorrow", "2026-7-1"])
def test_a_day_that_is_none_is_refused(day: str, lane: Path) -> None:
    assert (lane / "jobs").is_dir()
    result = invoke("check", "jobs", "--on", day)
    assert (result.exit_code, "expected a date" in result.stderr) == (2, True)


# The baseline


def test_only_what_is_new_fails_under_a_baseline(lane: Path) -> None:
    written = invoke("baseline", "jobs", "--out", "baseline.json")
    assert (written.exit_code, "2 findings" in written.stdout) == (0, True)
    assert invoke("check", "jobs", "--fail-at", "advice").exit_code == 1
    assert invoke("check", "jobs", "--fail-at", "advice", "--baseline", "baseline.json").exit_code == 0
    shutil.copy(AN_ERROR, lane / "jobs" / "new.yaml")
    new = as_json("check", "jobs", "--baseline", "baseline.json")
    assert [Path(file["file"]).name for file in new["files"] if file["findings"]] == ["new.yaml"]
    assert new["summary"]["accepted"] == 2


def test_the_baseline_of_the_policy_is_written_and_used_without_being_named(lane: Path) -> None:
    policy(lane, "fail_at = 'advice'\npaths = ['jobs']\nbaseline = 'legacy/baseline.json'\n")
    missing = invoke("check")
    assert (missing.exit_code, "ventrules baseline" in missing.stderr) == (2, True)
    (lane / "legacy").mkdir()
    assert invoke("baseline").exit_code == 0
    entries = json.loads((lane / "legacy" / "baseline.json").read_text(encoding="utf-8"))["entries"]
    assert {entry["file"] for entry in entries} == {f"../jobs/{AN_ERROR.name}", f"../jobs/{A_WARNING.name}"}
    assert invoke("check").exit_code == 0
    shutil.copy(CLEAN, lane / "jobs" / AN_ERROR.name)
    gone = invoke("check")
    assert (gone.exit_code, "what 1 entry let stand" in said(gone)) == (1, True)
    assert invoke("baseline").exit_code == 0
    assert invoke("check").exit_code == 0


def test_a_baseline_of_jobs_that_cannot_be_used_is_not_written(lane: Path) -> None:
    shutil.copy(BROKEN / "half-written.yaml", lane / "jobs" / "broken.yaml")
    result = invoke("baseline", "jobs", "--out", "b.json")
    assert (result.exit_code, (lane / "b.json").exists()) == (2, False)
    assert "broken.yaml:17" in result.stderr
    assert invoke("baseline", f"jobs/{CLEAN.name}").exit_code == 2
    unwritable = invoke("baseline", f"jobs/{CLEAN.name}", "--out", "nowhere/b.json")
    assert (unwritable.exit_code, "cannot be written" in unwritable.stderr) == (2, True)


def test_a_broken_baseline_is_refused_with_its_line(lane: Path) -> None:
    (lane / "b.json").write_text('{\n"ventrules-baseline": 1,\n"entires": []}', encoding="utf-8")
    result = invoke("check", "jobs", "--baseline", "b.json")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "b.json:3:1: entires" in result.stderr


# Files that are no jobs


def test_files_named_that_are_no_jobs_are_passed_over_where_that_is_asked_for(lane: Path) -> None:
    (lane / "other.yaml").write_text("color: blue\n", encoding="utf-8")
    assert invoke("check", "other.yaml").exit_code == 2
    passed = as_json("check", "other.yaml", f"jobs/{CLEAN.name}", "--only-jobs")
    assert passed["left_out"] == ["other.yaml"]
    assert passed["summary"]["files"] == 1
    assert invoke("check", "other.yaml", "--only-jobs").exit_code == 0
    assert invoke("check", "nowhere.yaml", "--only-jobs").exit_code == 2
    assert invoke("check", BROKEN / "half-written.yaml", "--only-jobs").exit_code == 2


@pytest.mark.parametrize(
    "rule", ["engine/acceptance-expired", "engine/acceptance-unused", "engine/baseline-entry-gone"]
)
def test_what_is_said_of_acceptances_and_baselines_is_explained(rule: str) -> None:
    assert invoke("explain", rule).stdout.startswith(f"# {rule}\n")


# What is in force


def explained(*args: str) -> dict[str, Any]:
    data = as_json("check", "--explain-policy", *args)
    return {row["key"]: row for row in data["settings"]}


def test_every_key_of_a_policy_is_explained(lane: Path) -> None:
    assert tuple(field.name for field in attrs.fields(PolicyTable)) == KEYS
    nothing, everything = settings(None, {}), settings(read_policy(policy(beside(lane), FULL)), {})
    for rows in (nothing, everything):
        assert list(dict.fromkeys(row.key.partition(" / ")[0] for row in rows)) == list(KEYS)
    assert {row.source for row in nothing} == {From.DEFAULT}
    assert {row.source for row in everything} == {From.POLICY}
    assert [row.key for row in everything if row.position is None or row.value is None] == []
    assert [row.key for row in nothing if row.value is None and not row.note] == []
    lines = FULL.splitlines()
    for row in everything:
        name = row.key.rpartition(" / ")[2]
        assert row.position is not None
        assert name.isdigit() or name in lines[row.position.line - 1]


@given(st.sets(st.sampled_from(KEYS)))
def test_what_the_command_line_says_is_explained_as_such(given_keys: set[str]) -> None:
    rows = {row.key: row for row in settings(None, {key: f"<{key}>" for key in given_keys})}
    assert {key for key, row in rows.items() if row.source is From.COMMAND_LINE} == given_keys
    assert all(rows[key].value == f"<{key}>" for key in given_keys)


def test_it_is_told_where_each_setting_came_from(lane: Path) -> None:
    policy(lane, f"fail_at = 'warning'\n[severity]\nupkeep = 'advice'\n'{INVERTED}' = 'left-out'\n")
    rows = explained("jobs", "--workers", "2", "--only", "upkeep", "--on", "2026-07-01")
    assert {key: row["from"] for key, row in rows.items() if row["from"] != "default"} == {
        "fail_at": "policy",
        "severity / upkeep": "policy",
        f"severity / {INVERTED}": "policy",
        "workers": "command line",
        "paths": "command line",
        "only": "command line",
        "on": "command line",
    }
    assert rows["policy"]["value"] == ".ventrules.toml"
    assert rows["fail_at"]["position"] == {"line": 1, "column": 1}
    assert rows[f"severity / {INVERTED}"]["note"] == f"{INVERTED} is error by itself"
    assert TOO_LONG in rows["severity / upkeep"]["note"]
    assert explained("--fail-at", "error")["fail_at"] == {
        **rows["fail_at"],
        "value": "error",
        "from": "command line",
        "position": None,
    }
    assert explained("--no-fail-unchecked")["fail_unchecked"]["from"] == "command line"
    assert explained("--no-policy")["policy"]["note"] == "none"
    text = invoke("check", "--explain-policy")
    assert text.exit_code == 0
    assert "fail_at" in text.stdout
    assert ".ventrules.toml:1:1" in text.stdout


@pytest.mark.parametrize("words", [["--format", "csv"], ["--output", "json=x.json"]], ids=["a format", "an output"])
def test_explaining_refuses_what_it_cannot_do(lane: Path, words: list[str]) -> None:
    result = invoke("check", "--explain-policy", *words)
    assert result.exit_code == 2
    assert "expected --format text or json, and no --output" in result.stderr
    assert not (lane / "x.json").exists()


@pytest.mark.parametrize("option", ["--policy", "--baseline"])
def test_an_empty_name_of_a_file_is_refused(lane: Path, option: str) -> None:
    policy(lane, "")
    result = invoke("check", "jobs", option, "")
    assert result.exit_code == 2
    assert "expected a file; found an empty name" in result.stderr
    assert result.stdout == ""
