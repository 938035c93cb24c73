"""`ventrules plan` for programs: its JSON, its edits, what it writes into a file, and what it refuses."""

import json
import shutil
from pathlib import Path

import attrs
import jsonpatch
import pytest

import ventrules
from tests.cli.running import BROKEN, CLEAN, FAULTY, SOUND, as_json, invoke, said
from tests.cli.test_plan import EXPOSURE, JOBS, TOO_SMALL, planned
from tests.test_docs import documented_keys, keys_of
from ventrules.files import apply_edits, job_document
from ventrules.planning import plan

# JSON and edits


def test_json_says_the_same() -> None:
    data = json.loads(planned("--format", "json").stdout)
    assert (data["ventrules-plan"], data["usable"], data["problems"]) == (1, True, [])
    assert (data["found"], data["proved"], data["alike"], data["written"]) == (True, True, True, False)
    assert (data["least"], data["hold"], data["missing"], data["shortage"]) == ("air", [], None, None)
    assert data["asked"]["requirement"]["required"]["text"] == "51.5 cfm"
    heating, cooling = data["seasons"]
    assert (heating["season"], cooling["season"]) == ("heating", "cooling")
    assert heating["delivered"]["text"] == "38.21 cfm"
    assert heating["surplus"]["value"] == pytest.approx(heating["delivered"]["value"] - heating["required"]["value"])
    day = heating["modes"][0]
    assert (day["mode"], day["occupancy"], day["surplus"]["text"]) == ("day", "occupied", "-0.35 cfm")
    (program,) = day["programs"]
    assert program["text"] == "low 40 min + medium 5 min in each 60 min"
    assert [(stage["stage"], stage["time_s"]) for stage in program["stages"]] == [("medium", 300.0), ("low", 2400.0)]
    cheaper = program["next_cheaper"]
    assert cheaper["failure"]["kind"] == "below"
    assert cheaper["failure"]["value"] == {"value": pytest.approx(0.0242061, rel=1e-5), "unit": "m3/s"} | {
        "text": "51.29 cfm"
    }


def test_the_edits_are_a_patch_that_leads_to_the_planned_job() -> None:
    job = ventrules.read_job(CLEAN)
    found = plan(job)
    patch = json.loads(invoke("plan", CLEAN, "--format", "edits").stdout)
    assert patch == as_json("plan", CLEAN)["edits"]
    assert patch
    expected = apply_edits(job_document(job), found.edits)
    assert (
        jsonpatch.apply_patch(json.loads(json.dumps(job_document(job))), patch) == expected == job_document(found.job)
    )


@pytest.mark.parametrize("path", JOBS, ids=lambda path: path.name)
def test_every_example_can_be_shown_in_every_form(path: Path) -> None:
    data = as_json("plan", path)
    text = invoke("plan", path, env={"COLUMNS": "250"})
    left_open = data["asked"]["kind"] == "capacity" and data["asked"]["requirement"] is not None
    assert (text.exit_code == 0) == (data["found"] or left_open)
    assert (text.exit_code == 1) == (data["shortage"] is not None)
    assert (text.exit_code == 2) == (text.stdout == "")
    for program in (p for season in data["seasons"] for mode in season["modes"] for p in mode["programs"]):
        assert f" {program['text']} " in said(text)


def test_json_has_the_keys_of_its_page_and_no_other() -> None:
    whole = frozenset({frozenset({"value", "unit", "text"})})
    given = [[EXPOSURE], [TOO_SMALL], [CLEAN], [FAULTY / "out-of-balance.yaml"], [BROKEN / "misspelled.yaml"]]
    keys = set()
    for words in given:
        data = as_json("plan", *words)
        for name in ("asked", "findings"):
            if name in data:
                data[name] = None
        for edit in data.get("edits", []):
            edit["value"] = None
        if data.get("shortage"):
            data["shortage"]["models"] = None
            data["shortage"]["failure"] = None
        keys |= set(keys_of(data, "", whole))
    assert keys == documented_keys("Plan")


# Writing


@pytest.mark.parametrize("name", ["number-02.yaml", "number-29.yaml", "number-11.json"])
def test_written_programs_are_those_of_the_plan_and_all_else_stays(tmp_path: Path, name: str) -> None:
    folder = Path(shutil.copytree(SOUND, tmp_path / "sound"))
    path, before = folder / name, (SOUND / name).read_text(encoding="utf-8")
    shown = invoke("plan", path, "--write")
    assert shown.exit_code == 0
    after = path.read_text(encoding="utf-8")
    found = plan(ventrules.read_job(SOUND / name))
    assert job_document(ventrules.read_job(path)) == job_document(found.job)
    assert ("Written into the file." in said(shown)) == bool(found.edits) == (after != before)
    comments = [line for line in before.splitlines() if line.lstrip().startswith("#")]
    assert [line for line in after.splitlines() if line.lstrip().startswith("#")] == comments
    again = invoke("plan", path, "--write")
    assert "There is nothing to write: the file says all of it already." in said(again)
    assert path.read_text(encoding="utf-8") == after


def test_nothing_is_written_unless_asked_for(tmp_path: Path) -> None:
    path = Path(shutil.copytree(SOUND, tmp_path / "sound")) / CLEAN.name
    assert "Nothing was written; --write puts" in said(invoke("plan", path))
    assert path.read_bytes() == CLEAN.read_bytes()
    assert as_json("plan", path)["written"] is False
    assert as_json("plan", path, "--write")["written"] is True
    assert path.read_bytes() != CLEAN.read_bytes()


@pytest.mark.parametrize("form", ["text", "json", "edits"])
def test_a_file_that_cannot_be_written_is_said_and_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, form: str
) -> None:
    path = Path(shutil.copytree(SOUND, tmp_path / "sound")) / CLEAN.name

    def refuse(*_args: object) -> None:
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr("ventrules.cli.standard.replace_text", refuse)
    shown = invoke("plan", path, "--write", "--format", form)
    assert shown.exit_code == 2
    assert "cannot be written: Permission denied" in shown.stderr
    assert "Written into" not in shown.stdout
    if form == "json":
        assert json.loads(shown.stdout)["written"] is False
    assert path.read_bytes() == CLEAN.read_bytes()


@pytest.mark.parametrize("form", ["text", "json", "edits"])
def test_standard_input_cannot_be_written(form: str) -> None:
    shown = planned("--write", "--format", form)
    assert shown.exit_code == 2
    assert shown.stderr == "Error: <standard input>: cannot be written; --write needs a file\n"
    assert (json.loads(shown.stdout)["usable"] is False) if form == "json" else shown.stdout == ""


# What cannot be used


def test_an_unknown_mode_is_refused_with_the_nearest_name() -> None:
    for form in ("text", "json", "edits"):
        shown = planned("--hold", "nihgt", "--format", form)
        assert shown.exit_code == 2
        assert "no mode nihgt in the job; it has day, night and out; nearest is 'night'" in shown.stderr


def test_held_modes_stay() -> None:
    data = json.loads(planned("--hold", "night", "--hold", "out", "--format", "json").stdout)
    assert data["hold"] == ["night", "out"]
    kept = {m["mode"]: p["kept"] for s in data["seasons"] for m in s["modes"] for p in m["programs"]}
    assert kept == {"day": False, "night": True, "out": True}
    assert {edit["path"].split("/")[4] for edit in data["edits"]} == {"day"}


@pytest.mark.parametrize("args", [["--least", "noise"], ["--format", "xml"], ["--wrong"], ["--hold"]])
def test_a_wrong_option_is_a_usage_error(args: list[str]) -> None:
    shown = invoke("plan", CLEAN, *args)
    assert shown.exit_code == 2
    assert "Error: " in shown.stderr
    assert invoke("plan").exit_code == 2


@pytest.mark.parametrize("path", sorted({*BROKEN.glob("*.yaml"), *BROKEN.glob("*.json")}), ids=lambda path: path.name)
def test_a_file_that_cannot_be_used_says_every_problem(path: Path) -> None:
    shown = invoke("plan", path)
    assert (shown.exit_code, shown.stdout) == (2, "")
    data = as_json("plan", path)
    assert data["usable"] is False
    assert len(shown.stderr.splitlines()) == len(data["problems"]) > 0


@pytest.mark.parametrize("text", [b"", b"\xff\xfe", b"[]", b"{", b"ventrules: 1", b"a: &a [*a]"])
def test_odd_input_is_no_traceback(text: bytes) -> None:
    shown = invoke("plan", "-", text=text)
    assert shown.exit_code == 2
    assert shown.stderr.startswith("Error: ")


def test_a_plan_that_the_rules_are_against_is_no_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    problem = "the cheapest programs would bring another error: lane/no at somewhere"
    found = plan(ventrules.read_job(CLEAN))
    refused = attrs.evolve(found, seasons=(), edits=(), findings=(), missing=problem)
    monkeypatch.setattr("ventrules.planning.plan", lambda *_args, **_kwargs: refused)
    shown = invoke("plan", CLEAN)
    assert shown.exit_code == 1
    assert f"Nothing is planned: {problem}." in said(shown)
    assert as_json("plan", CLEAN)["missing"] == problem
    edits = invoke("plan", CLEAN, "--format", "edits")
    assert (edits.exit_code, edits.stdout) == (1, "")
    assert problem in edits.stderr


def test_a_fault_in_the_planner_is_not_taken_for_a_wrong_option(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_args: object, **_kwargs: object) -> None:
        raise ValueError("arrays do not fit")

    monkeypatch.setattr("ventrules.planning.plan", fail)
    with pytest.raises(ValueError, match="arrays do not fit"):
        invoke("plan", CLEAN, "--hold", "day")
