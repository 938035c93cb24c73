"""`ventrules target`: what is asked of one dwelling, how it comes about, and what its week comes to."""

import json
import re
import subprocess
import unicodedata
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import pytest
from click.testing import Result
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.bench.sample import SIX_DEVICES
from tests.cli.running import BROKEN, CLEAN, CLEAN_JSON, FAULTY, SOUND, as_json, command, environment, invoke, run, said
from tests.cli.test_streams import on_a_terminal
from ventrules.files import load_code
from ventrules.files.resources import code_names

SAMPLE: Final[dict[str, Any]] = SIX_DEVICES
JOBS: Final = sorted([*SOUND.glob("number-*"), *FAULTY.glob("*.*")])
FORBIDDEN: Final = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})


def target(*args: str | Path, changes: Mapping[str, Any] | None = None, columns: int | None = None) -> Result:
    """Run the command on the job of six devices with some of its parts changed."""
    text = json.dumps({**SAMPLE, **(changes or {})})
    return invoke("target", "-", *args, text=text, env={"COLUMNS": str(columns)} if columns else None)


def section(text: str, head: str) -> str:
    """Return one section of a page, white space made single."""
    body = re.split(rf"^{re.escape(head)}.*$", text, maxsplit=1, flags=re.MULTILINE)[1]
    return " ".join(re.split(r"^\S", body, maxsplit=1, flags=re.MULTILINE)[0].split())


# What is asked


def test_the_code_its_rate_its_window_and_every_step_are_shown() -> None:
    shown = target()
    assert shown.exit_code == 0
    assert shown.stdout.startswith("<standard input>: Quarry Lane 7\n")
    asked = section(shown.stdout, "What is asked")
    code = load_code("us-irc-2021")
    assert code.run_time is not None
    for part in (code.title, "us-irc-2021", f"Edition {code.edition}", code.jurisdiction, "Required 51.5 cfm"):
        assert part in asked
    for part in ("4 h, wherever it begins", "50 % of the time x 2", "less than 25 %", "the mean of supply and exhaust"):
        assert part in asked
    for clause in (code.run_time.basis, code.counts_basis, code.judged_basis):
        assert clause.clause in asked
        assert clause.note in asked
    steps = section(shown.stdout, "How it comes about")
    assert "51.5 cfm rate by equation for 2150 ft2 and 3 bedrooms. Equation 15-1 of M1505.4.3 (text seen)" in steps
    assert "at its weakest: common practice" in steps


def test_a_figure_from_memory_is_marked_plainly() -> None:
    shown = said(target(changes={"target": {"code": "ashrae-62.2-2019"}}))
    assert "Window 3 h, wherever it begins. 4.5 (FROM MEMORY, look it up)" in shown
    assert "Known at its weakest: FROM MEMORY, look it up" in shown
    assert "Look up these are from memory" in shown
    assert "FROM MEMORY" not in said(target(changes={"target": {"code": "us-mn"}}))


def test_limits_of_exposure_are_shown_where_they_may_be_kept_instead() -> None:
    shown = said(target(changes={"target": {"code": "ashrae-62.2-2019"}}))
    assert "Or else relative exposure: mean at most 1," in shown
    assert "peak at most 5," in shown


def test_a_floor_is_shown_beside_its_average() -> None:
    """N1104.2: an hourly average, and half of it at every moment, no less than 40 cfm."""
    shown = said(target(changes={"target": {"code": "us-mn"}}))
    assert "Required 103 cfm" in shown
    assert "Floor 51.5 cfm at every moment, whatever the average. N1104.2, continuous ventilation (text seen)" in shown


def test_levels_are_shown_for_each_occupancy() -> None:
    shown = said(invoke("target", SOUND / "number-26.yaml"))
    assert "Occupied 52.5 L/s at every moment. No level of its own" in shown
    assert "Unoccupied 21 L/s at every moment. s. 10 (text seen)" in shown


def test_infiltration_is_shown_with_its_chain() -> None:
    shown = said(invoke("target", SOUND / "number-29.yaml"))
    assert "In all 102 cfm; infiltration counts with 44.89 cfm" in shown
    for step in ("effective leakage area", "normalized leakage", "left for the fans"):
        assert step in shown


@pytest.mark.parametrize(("path", "unit", "other"), [(CLEAN, "cfm", "L/s"), (SOUND / "number-26.yaml", "L/s", "cfm")])
def test_airflow_is_in_the_units_of_the_job(path: Path, unit: str, other: str) -> None:
    for options in ([], ["--every-code"]):
        text = re.sub(r"Note .*?\n\n", "", invoke("target", path, *options).stdout, flags=re.DOTALL)
        assert re.search(rf"\d {unit}\b", text)
        assert not re.search(rf"\d {other}\b", text)


def test_a_target_of_the_job_s_own_is_shown_in_its_own_unit() -> None:
    shown = target(changes={"target": {"airflow": "120 m3/h", "window": "4 h"}})
    assert shown.exit_code == 0
    text = said(shown)
    for part in ("Target the job's own", "Required 120 m3/h", "Window 4 h, wherever it begins", "while occupied and"):
        assert part in text
    assert "Edition" not in text


# The week


def test_the_week_is_shown_window_stillness_exposure_and_homecoming() -> None:
    week = section(target().stdout, "The week, the same in both seasons")
    for part in (
        "Verdict met, as far as this tells",
        "Weakest Monday 17:00 to Monday 21:00 (day): worth 54.04 cfm of 51.5 cfm, 104.94 %",
        "Still with people there no ventilation",
        "10 min at a stretch at most; with nobody there no ventilation 100 % of the time, 8 h 30 min",
        "on average over the week",
        "while people are there",
        "Coming home Monday at 17:00: 2.",
        "Tuesday to Friday at 17:00: 2.",
        "fresh again (1.1 or less) after",
    ):
        assert part in week


def test_seasons_that_differ_are_shown_apart() -> None:
    programs = {
        "day": {"heating": {"low": "50 min"}, "cooling": {"low": "20 min"}},
        "night": {"heating": {"low": "50 min"}, "cooling": {"low": "50 min"}},
        "out": {"heating": {}, "cooling": {}},
    }
    ventilator = {**SAMPLE["settings"]["ventilator"], "programs": programs}
    shown = target(changes={"settings": {"ventilator": ventilator}}).stdout
    assert "Verdict met" in section(shown, "The week, heating season")
    assert "Verdict not met" in section(shown, "The week, cooling season")


def test_met_by_exposure_is_said_so() -> None:
    shown = said(invoke("target", SOUND / "number-29.yaml"))
    assert "Verdict met by relative exposure, though not by every window" in shown


@pytest.mark.parametrize(
    ("name", "missing"),
    [
        ("no-calendar.yaml", "the job has no calendar"),
        ("controller-decides.yaml", "left to its controller"),
        ("calendar-gap.yaml", "first on Sunday 00:00"),
    ],
)
def test_what_is_missing_for_the_week_is_said(name: str, missing: str) -> None:
    shown = invoke("target", FAULTY / name)
    assert shown.exit_code == 0
    assert missing in said(shown)


# Every code


def test_every_code_is_one_table_with_a_row_for_each() -> None:
    shown = target("--every-code")
    assert shown.exit_code == 0
    lines = shown.stdout.splitlines()
    assert lines[1] == "The job goes by us-irc-2021: 51.5 cfm over 4 h."
    heads = ["code", "edition", "kind", "required", "window", "exposure", "known"]
    assert lines[3].split() == heads
    first_words = [line.split()[0] for line in lines[4:] if line and not line.startswith(" ")]
    assert [word for word in first_words if word in code_names()] == list(code_names())
    row = next(line for line in lines if line.startswith("us-mn "))
    assert re.split(r"\s{2,}", row)[:5] == ["us-mn", "N1104.2", "average and", "103 cfm", "1 h"]
    assert f"{len(code_names())} codes:" in said(shown)


def test_a_code_that_cannot_be_told_says_what_is_missing() -> None:
    assert "cannot be told: the rooms are missing; give `dwelling.rooms`" in said(target("--every-code"))


def test_exposures_of_both_seasons_stand_where_they_differ() -> None:
    programs = {mode: {"heating": {"low": "60 min"}, "cooling": {"medium": "60 min"}} for mode in SAMPLE["modes"]}
    ventilator = {**SAMPLE["settings"]["ventilator"], "programs": programs}
    shown = target("--every-code", changes={"settings": {"ventilator": ventilator}}).stdout
    assert re.search(r"^us-mn .*\d\.\d\d/\d\.\d\d ", shown, re.MULTILINE)
    assert not re.search(r"^us-mn .*\d\.\d\d/\d\.\d\d ", target("--every-code").stdout, re.MULTILINE)


def test_every_code_can_be_asked_where_the_job_s_own_cannot_be_told() -> None:
    shown = target("--every-code", changes={"target": {"code": "csa-f326"}})
    assert shown.exit_code == 0
    assert "The job goes by csa-f326; what it asks cannot be told" in said(shown)


def test_every_code_beside_a_target_of_the_job_s_own() -> None:
    shown = invoke("target", CLEAN_JSON, "--every-code")
    assert shown.exit_code == 0
    assert "The job goes by the job's own target: 28.2 L/s over 4 h." in said(shown)


# JSON


def test_json_says_the_same() -> None:
    data = json.loads(target("--format", "json").stdout)
    assert data["ventrules-target"] == 1
    assert data["usable"] is True
    assert data["problems"] == []
    asked = data["asked"]
    assert asked["code"] == "us-irc-2021"
    assert asked["requirement"]["required"]["text"] == "51.5 cfm"
    assert asked["requirement"]["required"]["value"] == pytest.approx(51.5 * 0.3048**3 / 60.0)
    assert asked["requirement"]["window_s"] == 4 * 3600.0
    assert asked["requirement"]["steps"][0]["basis"]["clause"] == "Equation 15-1 of M1505.4.3"
    assert asked["known"] == "common practice"
    assert asked["missing"] is None
    heating, cooling = asked["seasons"]
    assert (heating["season"], cooling["season"]) == ("heating", "cooling")
    assert heating["met"] is True
    assert heating["window"]["start"] == "Monday 17:00"
    assert heating["window"]["modes"] == ["day"]
    assert heating["exposure"]["peak"] > heating["exposure"]["mean"] > 1.0
    assert len(heating["homecomings"]) == 5
    assert heating["still"]["share_absent"] == 1.0
    assert "every_code" not in data


def test_json_of_every_code_has_each_with_its_weeks() -> None:
    data = json.loads(target("--every-code", "--format", "json").stdout)
    every = data["every_code"]
    assert [one["code"] for one in every] == list(code_names())
    for one in every:
        assert (one["requirement"] is None) == (one["missing"] is not None)
        assert len(one["seasons"]) == (2 if one["requirement"] else 0)
    own = next(one for one in every if one["code"] == "us-irc-2021")
    assert own["requirement"] == data["asked"]["requirement"]
    assert own["seasons"][0]["exposure"] == pytest.approx(data["asked"]["seasons"][0]["exposure"])


@pytest.mark.parametrize("path", JOBS, ids=lambda path: path.name)
def test_every_example_can_be_shown_in_every_form(path: Path) -> None:
    data = as_json("target", path, "--every-code")
    assert data["file"] == str(path)
    text = invoke("target", path)
    assert (text.exit_code == 0) == (data["asked"]["requirement"] is not None)
    if text.exit_code == 0:
        assert data["asked"]["requirement"]["required"]["text"] in text.stdout


# What cannot be used


def test_a_requirement_that_cannot_be_told_is_refused_with_what_to_add() -> None:
    changes = {"target": {"code": "csa-f326"}}
    text, data = target(changes=changes), target("--format", "json", changes=changes)
    for shown in (text, data):
        assert shown.exit_code == 2
        assert shown.stderr.startswith("Error: <standard input>: ")
        assert "give `dwelling.rooms`" in shown.stderr
    assert text.stdout == ""
    assert json.loads(data.stdout)["asked"]["missing"] == "the rooms are missing; give `dwelling.rooms`"


@pytest.mark.parametrize("path", sorted({*BROKEN.glob("*.yaml"), *BROKEN.glob("*.json")}), ids=lambda path: path.name)
def test_a_file_that_cannot_be_used_says_every_problem(path: Path) -> None:
    shown = invoke("target", path)
    assert shown.exit_code == 2
    assert shown.stdout == ""
    data = as_json("target", path)
    assert data["usable"] is False
    assert [problem["message"] for problem in data["problems"]]
    assert len(shown.stderr.splitlines()) == len(data["problems"])
    for line, problem in zip(shown.stderr.splitlines(), data["problems"], strict=True):
        position = problem["position"]
        assert line.startswith(f"Error: {problem['file']}:{position['line']}:{position['column']}: ")


@pytest.mark.parametrize("name", ["missing.yaml", "", "folder", "\x00.yaml"])
def test_a_path_that_leads_nowhere_is_no_traceback(tmp_path: Path, name: str) -> None:
    (tmp_path / "folder").mkdir()
    shown = invoke("target", f"{tmp_path}/{name}")
    assert shown.exit_code == 2
    assert shown.stderr.startswith("Error: ")


@pytest.mark.parametrize("text", [b"", b"\xff\xfe", b"[]", b"{", b"ventrules: 1", b"\x00" * 10, b"a: &a [*a]"])
def test_odd_input_is_no_traceback(text: bytes) -> None:
    shown = invoke("target", "-", text=text)
    assert shown.exit_code == 2
    assert shown.stderr.startswith("Error: ")


def test_no_path_is_a_usage_error() -> None:
    assert invoke("target").exit_code == 2


# Paper


@pytest.mark.parametrize("columns", [30, 48, 64, 80, 120, 200])
@pytest.mark.parametrize("options", [[], ["--every-code"]], ids=["own", "every"])
def test_no_line_is_wider_than_the_columns_asked_for(columns: int, options: list[str]) -> None:
    shown = target(*options, columns=columns, changes={"target": {"code": "ashrae-62.2-2019"}})
    head, *lines = shown.stdout.splitlines()
    assert head.startswith("<standard input>")
    assert max(map(len, lines)) <= columns


def test_the_same_words_stand_on_paper_of_any_width() -> None:
    def words(columns: int) -> list[str]:
        return target(columns=columns, changes={"target": {"code": "us-mn"}}).stdout.replace(":", " ").split()

    assert words(30) == words(80) == words(200)


def test_piped_output_has_no_styles_and_a_closed_pipe_no_traceback() -> None:
    done = run(["target", CLEAN, "--every-code"])
    assert done.returncode == 0
    assert b"\x1b" not in done.stdout
    with subprocess.Popen(
        [command(), "target", str(CLEAN), "--every-code"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=environment({}),
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        assert b"Traceback" not in process.stderr.read()


@pytest.mark.parametrize("encoding", ["cp1252", "ascii"])
def test_a_stream_that_cannot_hold_every_character_still_gets_the_page(encoding: str) -> None:
    done = run(["target", SOUND / "number-29.yaml"], PYTHONIOENCODING=encoding)
    assert done.returncode == 0
    assert b"Coming home" in done.stdout


NAMES: Final = st.text(
    st.characters(codec="utf-8", exclude_categories=["Cs"]) | st.sampled_from("\x1b\u202e\u2028[]"), min_size=1
)


@settings(max_examples=30)
@given(title=NAMES, mode=NAMES.filter(lambda name: name not in SAMPLE["modes"]))
def test_names_from_jobs_are_made_harmless(title: str, mode: str) -> None:
    modes = {**SAMPLE["modes"], mode: "occupied"}
    calendar = {"weekdays": {"06:00": mode, "08:30": "out"}, "weekend": {"07:30": "day", "23:00": "night"}}
    text = json.dumps({**SAMPLE, "job": title, "modes": modes, "calendar": calendar})
    for options in ([], ["--every-code"], ["--format", "json"]):
        shown = invoke("target", "-", *options, text=text)
        assert "Traceback" not in shown.output
        harmful = {c for c in shown.output if c != "\n" and unicodedata.category(c) in FORBIDDEN}
        assert harmful == set()


def test_a_terminal_gets_the_same_words_in_its_own_width() -> None:
    def words(data: bytes) -> list[str]:
        return re.sub(rb"\x1b\[[0-9;]*m", b"", data).decode().split()

    shown = on_a_terminal(["target", CLEAN], COLUMNS="70")
    assert b"\x1b[1m" in shown
    assert words(shown) == words(run(["target", CLEAN], COLUMNS="70").stdout)
