"""The JSON of `ventrules check`: keys, positions, quantities, edits."""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import jsonpatch
import pint
import pytest
import yaml

from tests.cli.running import A_WARNING, AN_ADVICE, AN_ERROR, BROKEN, CLEAN, FAULTY, SOUND, UNCHECKED, as_json, invoke
from ventrules import __version__

FILES: Final = sorted(FAULTY.glob("*.*"))
REPORT_KEYS: Final = {"ventrules-report", "version", "summary", "files", "left_out"}
SUMMARY_KEYS: Final = {"files", "unusable", "error", "warning", "advice", "unchecked", "accepted", "interrupted"}
FILE_KEYS: Final = {"file", "line", "job", "usable", "problems", "ok", "counts", "rules_run", "findings", "accepted"}
PROBLEM_KEYS: Final = {"file", "position", "place", "message"}
FINDING_KEYS: Final = {
    "rule", "title", "severity", "unchecked", "pointer", "place", "fingerprint", "message", "working", "todo",
    "basis", "evidence", "related", "cautions", "position", "remedy",
}  # fmt: skip


@pytest.fixture(scope="module")
def faulty() -> Any:
    return as_json("check", FAULTY)


def every_finding(report: Any) -> Iterator[tuple[Path, Any]]:
    count = 0
    for file in report["files"]:
        for finding in file["findings"]:
            count += 1
            yield Path(file["file"]), finding
    assert count > len(FILES) // 2


def steps(pointer: str) -> list[str]:
    """The reference tokens of a JSON Pointer (RFC 6901, section 4)."""
    assert pointer == "" or pointer.startswith("/")
    return [token.replace("~1", "/").replace("~0", "~") for token in pointer.split("/")[1:]]


def test_standard_output_holds_the_report_and_nothing_else() -> None:
    result = invoke("check", FAULTY, SOUND, BROKEN, "--format", "json")
    assert json.loads(result.stdout)["ventrules-report"] == 1
    assert result.stdout.startswith("{\n")
    assert result.stdout.endswith("\n}\n")
    assert result.stderr == ""


def test_the_documented_keys_are_there(faulty: Any) -> None:
    assert faulty.keys() >= REPORT_KEYS
    assert faulty["version"] == __version__
    assert faulty["summary"].keys() >= SUMMARY_KEYS
    for file in faulty["files"]:
        assert file.keys() >= FILE_KEYS
        assert file["usable"]
        assert file["problems"] == []
    for _path, finding in every_finding(faulty):
        assert finding.keys() >= FINDING_KEYS
        assert finding["basis"].keys() >= {"title", "clause", "known", "note"}
        assert finding["severity"] in {"error", "warning", "advice"}
        assert finding["message"]
        assert finding["todo"]
        assert re.fullmatch(r"[0-9a-f]{16}", finding["fingerprint"])


def test_a_file_that_cannot_be_used_says_so_with_its_problems() -> None:
    report = as_json("check", BROKEN / "misspelled.yaml", CLEAN)
    broken, clean = report["files"]
    assert report["summary"]["unusable"] == 1
    assert not broken["usable"]
    assert clean["usable"]
    assert len(broken["problems"]) > 10
    for problem in broken["problems"]:
        assert problem.keys() >= PROBLEM_KEYS
        assert problem["position"]["line"] >= 1
        assert problem["position"]["column"] >= 1


def test_the_summary_is_the_sum_of_the_files(faulty: Any) -> None:
    mixed = as_json("check", AN_ERROR, A_WARNING, AN_ADVICE, UNCHECKED, CLEAN)
    assert mixed["summary"] == {
        "files": 5, "unusable": 0, "error": 1, "warning": 1, "advice": 1, "unchecked": 1, "accepted": 0,
        "interrupted": False,
    }  # fmt: skip
    for report in (mixed, faulty):
        assert report["summary"]["files"] == len(report["files"])
        for key in ("error", "warning", "advice", "unchecked", "accepted"):
            assert report["summary"][key] == sum(file["counts"][key] for file in report["files"])
        for file in report["files"]:
            found = [f["severity"] for f in file["findings"] if not f["unchecked"]]
            assert {key: found.count(key) for key in ("error", "warning", "advice")} == {
                key: file["counts"][key] for key in ("error", "warning", "advice")
            }
            assert file["counts"]["unchecked"] == sum(f["unchecked"] for f in file["findings"])
            assert file["ok"] == (file["counts"]["error"] == 0)


def test_a_pointer_leads_into_the_document_or_to_what_is_missing_in_it(faulty: Any) -> None:
    """The files are read by PyYAML's own loader and by the json module, not by ours."""
    missing = {("no-calendar.yaml", "calendar"), ("night-without-cooling-program.yaml", "cooling")}
    met = set()
    for path, finding in every_finding(faulty):
        text = path.read_text(encoding="utf-8")
        here = json.loads(text) if path.suffix == ".json" else yaml.safe_load(text)
        for step in steps(finding["pointer"]):
            if (path.name, step) in missing:
                assert step not in here
                met.add((path.name, step))
                break
            here = here[int(step)] if isinstance(here, list) else here[step]
    assert met == missing


def test_a_position_in_json_is_where_the_key_stands() -> None:
    path = FAULTY / "worst-window-too-low.json"
    document = json.loads(path.read_bytes())
    document["settings"]["ventilator"]["filter_reminder"] = "400 days"
    document["settings"]["ventilator"]["outdoor_limits"] = {"off_at_or_below": "-40 degC"}
    text = json.dumps(document, indent=3)
    (file,) = as_json("check", "-", text=text)["files"]
    lines = text.splitlines()
    seen = set()
    for finding in file["findings"]:
        key = steps(finding["pointer"])[-1]
        at = finding["position"]
        assert lines[at["line"] - 1][at["column"] - 1 :].startswith(f'"{key}":')
        seen.add(key)
    assert seen >= {"calendar", "filter_reminder", "outdoor_limits"}


def test_a_position_in_yaml_is_where_the_key_or_the_list_item_stands(faulty: Any) -> None:
    seen = set()
    for path, finding in every_finding(faulty):
        if path.suffix == ".json":
            continue
        lines = path.read_text(encoding="utf-8").splitlines()
        at, key = finding["position"], steps(finding["pointer"])[-1]
        rest = lines[at["line"] - 1][at["column"] - 1 :]
        if rest.startswith(f"{key}:"):
            seen.add("key")
        elif key.isdigit():
            assert rest.startswith("{from: ")
            seen.add("item")
        else:  # what is missing is placed at the nearest thing above it
            above = steps(finding["pointer"])[:-1]
            assert rest.startswith(f"{above[-1]}:" if above else "ventrules:")
            seen.add("missing")
    assert seen == {"key", "item", "missing"}


UNITS: Final = {
    "%": "percent",
    "cfm": "foot**3/minute",
    "L/s": "liter/second",
    "min": "minute",
    "h": "hour",
    "days": "day",
    "degF": "degF",
    "degC": "degC",
    "W": "watt",
    "V": "volt",
    "VA": "volt*ampere",
    "A": "ampere",
    "ohm": "ohm",
    "m": "meter",
    "ft": "foot",
    "in": "inch",
    "mm2": "millimeter**2",
}
SI: Final = {
    "1": "dimensionless",
    "m3/s": "meter**3/second",
    "s": "second",
    "K": "kelvin",
    "W": "watt",
    "V": "volt",
    "A": "ampere",
    "ohm": "ohm",
    "m": "meter",
    "m2": "meter**2",
}


def test_a_quantity_in_evidence_has_its_si_value_beside_its_text(faulty: Any) -> None:
    """The unit library pint is the referee of the conversion."""
    registry: Any = pint.UnitRegistry()
    seen = set()
    for _path, finding in every_finding(faulty):
        for value in finding["evidence"].values():
            if not isinstance(value, dict):
                continue
            assert value.keys() == {"value", "unit", "text"}
            number, unit = value["text"].split(" ", 1)
            if unit == "AWG":  # a series, and no unit that pint could know
                continue
            converted = registry.Quantity(value["value"], SI[value["unit"]]).to(UNITS[unit]).magnitude
            assert converted == pytest.approx(float(number), abs=0.0051)
            seen.add(unit)
    assert seen >= {"cfm", "L/s", "min", "days", "degF"}


def test_the_message_says_what_the_evidence_holds(faulty: Any) -> None:
    checked = 0
    for _path, finding in every_finding(faulty):
        told = " ".join((finding["message"], finding["working"], finding["todo"]))
        for value in finding["evidence"].values():
            if isinstance(value, dict) and value["text"] in told:
                checked += 1
    assert checked > 20


def test_edits_are_a_json_patch_that_another_library_can_apply(faulty: Any) -> None:
    """RFC 6902 by the library jsonpatch, on the document as PyYAML and the json module read it."""
    applied = 0
    for path, finding in every_finding(faulty):
        remedy = finding["remedy"]
        if remedy is None:
            continue
        assert remedy.keys() >= {"title", "edits", "check_on_site", "changes_purchase", "assumes"}
        assert remedy["edits"]
        for edit in remedy["edits"]:
            assert edit["op"] in {"add", "remove", "replace"}
            assert edit.keys() == ({"op", "path"} if edit["op"] == "remove" else {"op", "path", "value"})
        text = path.read_text(encoding="utf-8")
        document = json.loads(text) if path.suffix == ".json" else yaml.safe_load(text)
        changed = jsonpatch.apply_patch(document, remedy["edits"])
        (after,) = as_json("check", "-", text=json.dumps(changed))["files"]
        assert after["usable"]
        assert finding["fingerprint"] not in {f["fingerprint"] for f in after["findings"]}
        applied += 1
    assert applied > 20


def test_findings_come_worst_first_and_what_could_not_be_checked_last(faulty: Any) -> None:
    rank = {"error": 0, "warning": 1, "advice": 2}
    several = 0
    for file in faulty["files"]:
        order = [(f["unchecked"], rank[f["severity"]], f["place"], f["rule"]) for f in file["findings"]]
        assert order == sorted(order)
        several += len(order) > 1
    assert several > 3


def test_text_outside_ascii_and_control_characters_survive_in_json() -> None:
    title = 'Käsmu 家 \u202e \u001b[31m [red] " \\ \u2028'
    document = json.loads((SOUND / "number-11.json").read_bytes()) | {"job": title}
    result = invoke("check", "-", "--format", "json", text=json.dumps(document))
    (file,) = json.loads(result.stdout)["files"]
    assert file["job"] == title
    assert "\x1b" not in result.stdout
