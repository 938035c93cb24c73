"""`ventrules plan`: what to key in, why, and what it comes to; what is written, and what is refused."""

import json
import re
import shutil
import unicodedata
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import pytest
from click.testing import Result
from hypothesis import given, settings
from hypothesis import strategies as st

import ventrules
from tests.bench.sample import SIX_DEVICES
from tests.cli.running import CLEAN, FAULTY, SOUND, as_json, invoke, run, said
from tests.cli.test_targets import FORBIDDEN, NAMES, section
from ventrules.cli.plan import plan_command
from ventrules.files.shapes import unstructure
from ventrules.planner.orders import Least

SAMPLE: Final[dict[str, Any]] = SIX_DEVICES
JOBS: Final = sorted([*SOUND.glob("number-*"), *FAULTY.glob("*.*")])
TOO_SMALL: Final = FAULTY / "unit-too-small.yaml"
CAPACITY: Final = SOUND / "number-35.yaml"
EXPOSURE: Final = SOUND / "number-29.yaml"
IN_WINTER: Final = FAULTY / "too-little-air-in-winter.yaml"


def planned(*args: str | Path, changes: Mapping[str, Any] | None = None, columns: int | None = None) -> Result:
    """Run the command on the job of six devices with some of its parts changed."""
    text = json.dumps({**SAMPLE, **(changes or {})})
    return invoke("plan", "-", *args, text=text, env={"COLUMNS": str(columns)} if columns else None)


def with_programs(**programs: Any) -> dict[str, Any]:
    """Return the changes that give the ventilator other programs in some modes."""
    ventilator = SAMPLE["settings"]["ventilator"]
    return {"settings": {"ventilator": {**ventilator, "programs": {**ventilator["programs"], **programs}}}}


# What to key in


def test_every_program_stands_on_the_sheet_with_what_is_set_now() -> None:
    shown = planned()
    assert shown.exit_code == 0
    assert shown.stdout.startswith("<standard input>: Quarry Lane 7\n")
    sheet = section(shown.stdout, "Key in for ventilator")
    for part in (
        "Cycle 60 min",
        "low 64.85 cfm (rated) and medium 95.05 cfm (rated)",
        "day both CHANGE low 40 min + medium 5 min in each 60 min low 50 min 51.15 cfm",
        "out both leave off the same 0 cfm",
    ):
        assert part in sheet
    assert "4 of 6 programs differ from what is set now" in said(shown)


def test_modes_come_in_the_order_in_which_the_week_calls_them_up() -> None:
    sheet = section(planned().stdout, "Key in for ventilator")
    assert sheet.index(" day both") < sheet.index(" out both") < sheet.index(" night both")


def test_seasons_that_differ_are_told_apart() -> None:
    programs = {"day": {"heating": {"low": "50 min"}, "cooling": {"medium": "60 min"}}}
    shown = planned("--hold", "day", changes=with_programs(**programs))
    sheet = section(shown.stdout, "Key in for ventilator")
    assert "day heating held low 50 min in each 60 min the same 54.04 cfm" in sheet
    assert "day cooling held medium without a break the same 95.05 cfm" in sheet
    assert "night both CHANGE" in sheet
    assert "Held day: as set" in section(shown.stdout, "What it spends, heating season")
    assert "Held day: as set" in section(shown.stdout, "What it spends, cooling season")
    why = section(shown.stdout, "Why not less")
    assert "ventilator, night, low 40 min" in why
    assert "day" not in why


def test_what_is_set_now_is_told_by_season_where_it_differs() -> None:
    sheet = section(invoke("plan", IN_WINTER).stdout, "Key in for ventilator")
    assert "heating low 40 min" in sheet


def test_each_ventilator_has_a_sheet_of_its_own() -> None:
    shown = invoke("plan", SOUND / "number-08.yaml").stdout
    assert "low 45 min in each 60 min" in section(shown, "Key in for downstairs")
    assert "low 40 min + high 5 min" in section(shown, "Key in for upstairs")
    assert "would deliver 33.5 cfm, with the other ventilators as planned, but would count as" in " ".join(
        shown.split()
    )


def test_measured_airflow_is_told_from_rated() -> None:
    readings = {"ventilator": {"low": {"supply": "68 cfm", "exhaust": "71 cfm"}}}
    sheet = section(planned(changes={"readings": readings}).stdout, "Key in for ventilator")
    assert re.search(r"low [\d.]+ cfm \(measured\)", sheet)
    assert "(rated)" in sheet or "medium" not in sheet


def test_another_cycle_than_the_controller_s_is_said() -> None:
    shown = invoke("plan", FAULTY / "half-hour-cycle.yaml", env={"COLUMNS": "160"}).stdout
    sheet = section(shown, "Key in for ventilator")
    assert "the controller's own; the job is written for 30 min" in sheet
    assert "low without a break (cycle of 30 min)" in sheet
    assert "off (cycle of 30 min)" in sheet


def test_exhaust_that_is_held_is_said() -> None:
    sheet = section(invoke("plan", FAULTY / "kitchen-on-the-ventilator.yaml").stdout, "Key in for ventilator")
    assert "65 cfm have to be exhausted at every moment from kitchen, lower bath and upper bath" in sheet


@pytest.mark.parametrize(
    ("programs", "now"),
    [
        ({"day": {"heating": "managed", "cooling": {}}}, "heating left to the controller, cooling off"),
        ({"day": {"cooling": {}}}, "heating nothing, cooling off"),
    ],
    ids=["managed", "missing"],
)
def test_programs_that_are_not_set_are_said_so(programs: dict[str, Any], now: str) -> None:
    shown = planned(columns=160, changes=with_programs(**programs))
    assert shown.exit_code == 0
    assert now in said(shown)


# What it comes to, and why


def test_delivered_counted_asked_and_surplus_stand_beside_each_mode() -> None:
    table = section(planned().stdout, "What each mode comes to")
    assert "day (occupied) both 42.3 % 51.15 cfm 52.47 cfm 51.5 cfm -0.35 cfm" in table
    assert "out (unoccupied) both 25.3 % 0 cfm - nothing -" in table
    assert "part-time operation counts for more than its average" in table


def test_the_target_the_cost_and_the_proof_are_told() -> None:
    shown = planned().stdout
    asked = section(shown, "What is asked for")
    assert "51.5 cfm, the average over 4 h" in asked
    assert "(Equation 15-1 of M1505.4.3)" in asked
    spent = section(shown, "What it spends")
    for part in (
        "first of delivered airflow, then of fan energy, then of stage changes",
        "38.21 cfm on average over the week; asked for on the same average 38.47 cfm; surplus -0.26 cfm",
        "Fan power 20.54 W",
        "2.24 stage changes an hour",
        "nothing that can be set has less delivered airflow",
    ):
        assert part in spent


def test_the_next_cheaper_program_says_why_it_will_not_do() -> None:
    assert (
        "ventilator, day and night, low 40 min + medium 5 min in each 60 min: the next cheaper program, low 25 min + "
        "medium 15 min in each 60 min, would deliver 50.78 cfm, but would count as 51.29 cfm, 0.21 cfm short of the "
        "51.5 cfm asked for."
    ) in section(planned().stdout, "Why not less")


@pytest.mark.parametrize("least", list(Least))
def test_what_is_spent_least_of_comes_first(least: Least) -> None:
    words = {Least.AIR: "delivered airflow", Least.ENERGY: "fan energy", Least.CHANGES: "stage changes"}
    shown = planned("--least", least.value)
    assert shown.exit_code == 0
    assert f"Spent least first of {words[least]}, then of" in said(shown)
    assert re.search(rf"nothing that can be set has (less|fewer) {words[least]}", said(shown))


def test_the_choices_are_those_of_the_planner() -> None:
    (option,) = (parameter for parameter in plan_command.params if parameter.name == "least")
    assert list(getattr(option.type, "choices", ())) == [least.value for least in Least]


def test_exposure_that_carries_a_plan_comes_with_its_figures_and_a_caution() -> None:
    shown = invoke("plan", EXPOSURE)
    text = said(shown)
    assert "Carried by relative exposure, which keeps its limits; not every window of 3 h has its airflow" in text
    assert re.search(r"Exposure 1\.000 on average over the week, .*limits 1 on average and 5 at its highest", text)
    assert "each cycle begins with the mode, and the stage with the most airflow runs first" in text
    assert "measure before you rely on it" in text
    assert "the week as a whole makes up for it through relative exposure" in text
    assert "Caution" not in said(planned())


def test_findings_that_are_left_are_named() -> None:
    left = section(invoke("plan", FAULTY / "ring-of-cables.yaml").stdout, "What the rules still say")
    assert left.startswith("error wiring/ring at cables")
    assert "Mend the errors as well" in left
    left = section(invoke("plan", FAULTY / "filter-reminder-forgotten.yaml").stdout, "What the rules still say")
    assert left.startswith("warning upkeep/no-filter-reminder at settings / ventilator")
    assert "Mend the errors" not in left
    unknown = FAULTY / "design-temperatures-unknown.yaml"
    assert section(invoke("plan", unknown).stdout, "What the rules still say").startswith("not checked settings/")
    assert section(invoke("plan", CLEAN).stdout, "What the rules still say") == "Nothing."


def test_what_to_look_at_on_site_is_told() -> None:
    site = section(planned().stdout, "On site")
    for part in ("Measure supply and exhaust", "ventilator at low and medium", "Read back the programs", "licensed"):
        assert part in site
    assert "where nothing runs while nobody is there" in site
    assert "where nothing runs" not in section(invoke("plan", EXPOSURE).stdout, "On site")


def test_without_a_calendar_modes_weigh_alike() -> None:
    text = said(invoke("plan", FAULTY / "no-calendar.yaml"))
    assert "each mode alike, since there is no calendar" in text
    assert "not called up" in text


# What is in the way


def test_a_shortage_says_what_there_is_what_is_asked_and_what_would_do() -> None:
    shown = invoke("plan", TOO_SMALL)
    assert shown.exit_code == 1
    assert shown.stderr == ""
    text = said(shown)
    assert "would count as 69.95 cfm, 11.05 cfm short of the 81 cfm asked for in day" in text
    assert "downstairs demo-erv-single, demo-hrv-100," in text
    assert "smallest first; has to be bought" in text
    data = as_json("plan", TOO_SMALL)
    assert data["found"] is False
    assert data["shortage"]["curable"] is True
    assert data["shortage"]["failure"]["kind"] == "below"
    assert data["shortage"]["models"]["downstairs"][0] == "demo-erv-single"


def test_what_is_held_can_be_what_is_in_the_way() -> None:
    shown = invoke("plan", IN_WINTER, "--hold", "day")
    assert shown.exit_code == 1
    assert "No airflow would, however much" in said(shown)
    assert "Held day: as set" in said(shown)
    assert as_json("plan", IN_WINTER, "--hold", "day")["shortage"]["curable"] is False


def test_a_shortage_has_no_edits_and_writes_nothing(tmp_path: Path) -> None:
    path = Path(shutil.copytree(FAULTY, tmp_path / "faulty")) / TOO_SMALL.name
    shown = invoke("plan", path, "--format", "edits", "--write")
    assert shown.exit_code == 1
    assert shown.stdout == ""
    assert "no programs meet the target" in shown.stderr
    assert path.read_bytes() == TOO_SMALL.read_bytes()


def test_a_capacity_leaves_nothing_to_plan() -> None:
    shown = invoke("plan", CAPACITY)
    assert shown.exit_code == 0
    assert "Nothing is planned: a capacity is asked for" in said(shown)
    assert json.loads(invoke("plan", CAPACITY, "--format", "edits").stdout) == []
    data = as_json("plan", CAPACITY)
    assert (data["found"], data["asked"]["kind"]) == (False, "capacity")
    assert data["missing"].startswith("a capacity is asked for")


@pytest.mark.parametrize("form", ["text", "json", "edits"])
@pytest.mark.parametrize(
    ("name", "missing"),
    [
        ("rooms-not-told.yaml", "the rooms are missing; give `dwelling.rooms`"),
        ("second-controller.yaml", "no controller tells what programs it can be set to"),
        ("ventilator-forgotten.yaml", "no ventilator is run by a controller"),
    ],
)
def test_a_job_that_does_not_tell_enough_is_refused(name: str, missing: str, form: str) -> None:
    shown = invoke("plan", FAULTY / name, "--format", form)
    assert shown.exit_code == 2
    assert missing in shown.stderr
    if form == "json":
        assert missing in json.loads(shown.stdout)["missing"]
    else:
        assert shown.stdout == ""


def test_the_least_energy_without_powers_is_refused(tmp_path: Path) -> None:
    catalog = {"ventrules-catalog": 1, "catalog": "bare", **_bare_models()}
    (tmp_path / "bare.json").write_text(json.dumps(catalog), encoding="utf-8")
    path = tmp_path / "job.json"
    path.write_text(json.dumps({**SAMPLE, "catalogs": ["bare.json"]}), encoding="utf-8")
    assert "not known: the catalog does not give it" in said(invoke("plan", path))
    assert as_json("plan", path)["seasons"][0]["power"] is None
    shown = invoke("plan", path, "--least", "energy")
    assert shown.exit_code == 2
    assert "the catalog gives no power of" in shown.stderr


def _bare_models() -> dict[str, Any]:
    """Return the models of the sample's catalog without their fans' power, and its bus profiles."""
    job = ventrules.parse_job(json.dumps(SAMPLE), name="job.json")

    whole: Any = unstructure(job.catalog)
    models = whole["models"]
    for model in models.values():
        for stage in model.get("stages", {}).values():
            stage.pop("power", None)
    used = {name: models[name] for name in {device["model"] for device in SAMPLE["devices"].values()}}
    return {"models": used, "profiles": whole["profiles"]}


# Paper


@pytest.mark.parametrize("columns", [24, 40, 64, 80, 200])
@pytest.mark.parametrize("path", [EXPOSURE, TOO_SMALL, FAULTY / "ring-of-cables.yaml"], ids=lambda path: path.stem)
def test_no_line_is_wider_than_the_columns_asked_for(columns: int, path: Path) -> None:
    _head, *lines = invoke("plan", path, env={"COLUMNS": str(columns)}).stdout.splitlines()
    assert max(map(len, lines)) <= columns


def test_the_script_writes_no_styles_into_a_pipe() -> None:
    done = run(["plan", EXPOSURE], PYTHONIOENCODING="ascii")
    assert done.returncode == 0
    assert b"\x1b" not in done.stdout
    assert b"Key in for ventilator" in done.stdout


@settings(max_examples=25)
@given(title=NAMES, mode=NAMES.filter(lambda name: name not in SAMPLE["modes"]), held=st.booleans())
def test_names_from_jobs_are_made_harmless(title: str, mode: str, *, held: bool) -> None:
    modes = {**SAMPLE["modes"], mode: "occupied"}
    calendar = {"weekdays": {"06:00": mode, "08:30": "out"}, "weekend": {"07:30": "day", "23:00": "night"}}
    programs = {mode: {"heating": {"low": "55 min"}, "cooling": {"low": "55 min"}}}
    text = json.dumps({**SAMPLE, "job": title, "modes": modes, "calendar": calendar, **with_programs(**programs)})
    for options in ([], ["--format", "json"], ["--format", "edits"], ["--hold", "dya"]):
        hold = ["--hold", mode] if held and "--hold" not in options and not mode.startswith("-") else []
        shown = invoke("plan", "-", *options, *hold, text=text)
        assert "Traceback" not in shown.output
        assert {c for c in shown.output if c != "\n" and unicodedata.category(c) in FORBIDDEN} == set()
