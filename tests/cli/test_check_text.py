"""The text of `ventrules check`: what it counts, how it wraps, what it makes harmless."""

import json
import re
import unicodedata
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.cli.running import (
    A_WARNING,
    AN_ADVICE,
    AN_ERROR,
    BROKEN,
    CLEAN,
    CLEAN_JSON,
    FAULTY,
    SOUND,
    UNCHECKED,
    as_json,
    invoke,
    said,
)

HOSTILE: Final = {
    "a terminal's escape": "\x1b[31mred\x1b[0m\x1b[2J",
    "an 8-bit escape": "\x9b31m",
    "markup": "[red]alarm[/red] [bold]x[/] [link=file:///]y[/link] :smile:",
    "right to left": "\u202edrawkcab\u202c \u2067x\u2069 \u200f\u061c",
    "new lines": "one\ntwo\r\nthree\u2028four\u2029five\x0b\x0c\x85",
    "bells and backspaces": "\x07\x08\x08\x7f\x00",
    "nothing to see": "\u200b\u200d\ufeff\u00ad\U000e0041",
}
FORBIDDEN: Final = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})


def harmful(text: str) -> set[str]:
    """What a terminal would obey or hide; a line's end is no harm."""
    return {char for char in text if char != "\n" and unicodedata.category(char) in FORBIDDEN}


def clean_document() -> dict[str, Any]:
    document: dict[str, Any] = json.loads(CLEAN_JSON.read_bytes())
    return document


def squeezed(text: str) -> str:
    return "".join(text.split())


# The closing line

CLOSING: Final = re.compile(
    r"(?P<files>\d+) files? checked: (?P<error>\d+) errors?, (?P<warning>\d+) warnings? and "
    r"(?P<advice>\d+) pieces? of advice\.(?: (?P<accepted>\d+) findings? (?:is|are) let stand\.)?"
    r"(?: (?P<unchecked>\d+) checks? could not be made\.)?"
    r"(?: (?P<unusable>\d+) files? could not be used\.)?"
)


@pytest.mark.parametrize(
    "paths",
    [
        [CLEAN],
        [AN_ERROR],
        [AN_ERROR, A_WARNING, AN_ADVICE, UNCHECKED, CLEAN],
        [SOUND],
        [FAULTY],
        [BROKEN],
        [FAULTY, SOUND, BROKEN],
    ],
    ids=lambda paths: "+".join(path.name for path in paths),
)
def test_the_closing_line_counts_what_the_json_counts(paths: list[Path]) -> None:
    found = CLOSING.search(said(invoke("check", *paths)))
    assert found is not None
    counted = {key: int(number or 0) for key, number in found.groupdict().items()}
    counted["files"] += counted["unusable"]  # a file that could not be used was not checked
    assert counted | {"interrupted": False} == as_json("check", *paths)["summary"]


def test_the_closing_line_has_singulars_and_plurals() -> None:
    one = said(invoke("check", AN_ERROR, UNCHECKED, BROKEN / "half-written.yaml"))
    assert "2 files checked: 1 error, 0 warnings and 0 pieces of advice." in one
    assert "1 check could not be made. 1 file could not be used." in one
    assert "1 file checked: 0 errors, 1 warning and " in said(invoke("check", A_WARNING))
    assert " and 1 piece of advice." in said(invoke("check", AN_ADVICE))


def test_the_text_holds_as_many_findings_as_it_counts() -> None:
    text = invoke("check", FAULTY, env={"COLUMNS": "400"}).stdout
    summary = as_json("check", FAULTY)["summary"]
    for word in ("error", "warning", "advice"):
        assert len(re.findall(rf"^  {word}: ", text, re.MULTILINE)) == summary[word]
    assert len(re.findall(r"^  not checked: ", text, re.MULTILINE)) == summary["unchecked"]
    assert text.count("    Rule     ") == sum(summary[key] for key in ("error", "warning", "advice", "unchecked"))


def test_a_finding_never_comes_without_basis_place_and_next_step() -> None:
    text = invoke("check", FAULTY, env={"COLUMNS": "400"}).stdout
    rules = text.count("    Rule     ")
    assert rules > 40
    for label in ("Where", "Found", "Basis", "To do"):
        assert text.count(f"    {label:<9}") == rules


def test_a_caution_is_said_once_for_each_file() -> None:
    text = said(invoke("check", FAULTY / "interface-module-missing.yaml"))
    assert text.count("lock out power") == 1
    assert text.count("Caution") == 1


@pytest.mark.parametrize("name", ["out-of-balance.yaml", "credit-not-earned.yaml"])
def test_imbalance_comes_with_the_caution_about_combustion(name: str) -> None:
    assert "depressurization and spillage" in said(invoke("check", FAULTY / name))


# Width


@pytest.mark.parametrize("columns", [45, 60, 80, 100, 133, 400])
def test_no_line_is_wider_than_the_columns_asked_for(columns: int) -> None:
    lines = invoke("check", FAULTY, SOUND, BROKEN, env={"COLUMNS": str(columns)}).stdout.splitlines()
    assert len(lines) > 300
    headings = [line for line in lines if line.startswith("/")]  # a path is never broken, so that it can be copied
    assert 0 < len(headings) < len(lines) / 4
    assert max(len(line) for line in lines if line not in headings) <= columns


@pytest.mark.parametrize("columns", ["", "1", "7", "20", "45", "80", "1000", "100000"])
def test_the_width_changes_line_breaks_and_nothing_else(columns: str) -> None:
    usual = invoke("check", FAULTY, BROKEN)
    other = invoke("check", FAULTY, BROKEN, env={"COLUMNS": columns})
    assert other.exit_code == usual.exit_code
    assert squeezed(other.stdout) == squeezed(usual.stdout)


@pytest.mark.parametrize("columns", ["0", "-5", "wide", "12.5", " 80 "])
def test_a_width_that_makes_no_sense_does_not_swallow_the_report(columns: str) -> None:
    usual = invoke("check", AN_ERROR)
    other = invoke("check", AN_ERROR, env={"COLUMNS": columns})
    assert other.exit_code == usual.exit_code
    assert squeezed(other.stdout) == squeezed(usual.stdout)


# Harmless names


@pytest.mark.parametrize("hostile", HOSTILE.values(), ids=HOSTILE)
def test_a_hostile_job_title_is_made_harmless_and_stays_legible(hostile: str) -> None:
    document = clean_document() | {"job": f"Lane {hostile} end", "notes": hostile}
    result = invoke("check", "-", text=json.dumps(document), env={"COLUMNS": "500"})
    assert result.exit_code == 0
    assert harmful(result.stdout) == set()
    assert f"Lane {visible(hostile)} end" in said(result)


def visible(text: str) -> str:
    """The text as it has to be shown: what a terminal would obey stands as its code."""
    shown = (f"\\u{ord(char):04x}" if harmful(char) or char == "\n" else char for char in text)
    return " ".join("".join(shown).split())


@pytest.mark.parametrize("hostile", HOSTILE.values(), ids=HOSTILE)
@pytest.mark.parametrize("place", ["device", "mode", "model", "code", "catalog", "day", "unit", "key", "port", "stage"])
def test_a_hostile_name_in_a_problem_is_made_harmless(hostile: str, place: str) -> None:
    document = clean_document()
    changes: Mapping[str, Any] = {
        "device": {"devices": document["devices"] | {hostile: {"model": "demo-furnace"}}},
        "mode": {"modes": document["modes"] | {hostile: "occupied"}},
        "model": {"devices": document["devices"] | {"extra": {"model": hostile}}},
        "code": {"target": {"code": hostile}},
        "catalog": {"catalogs": ["demo", hostile]},
        "day": {"calendar": {hostile: {"06:00": "day"}}},
        "unit": {"dwelling": {"floor_area": f"100 {hostile}", "bedrooms": 2}},
        "key": {hostile: 1},
        "port": {"cables": [{"from": f"control.{hostile}", "to": f"{hostile}.system"}]},
        "stage": {"readings": {"ventilator": {hostile: {"supply": "1 cfm", "exhaust": "1 cfm"}}}},
    }
    result = invoke("check", "-", text=json.dumps(document | changes[place]))
    assert result.exit_code == 2
    assert harmful(result.stdout) == set()


@pytest.mark.parametrize("hostile", HOSTILE.values(), ids=HOSTILE)
def test_a_hostile_file_name_is_made_harmless(hostile: str, tmp_path: Path) -> None:
    name = hostile.replace("/", "").replace("\x00", "")
    folder = tmp_path / name[:80]
    try:
        folder.mkdir()
        (folder / f"{name[:80]}.yaml").write_bytes(AN_ERROR.read_bytes())
    except OSError:
        pytest.skip("this file system cannot hold the name")
    (folder / "other.json").write_text("{}", encoding="utf-8")
    for args in ([tmp_path], [folder / "none.yaml"], [tmp_path, "--only", hostile.replace("\x00", "")]):
        result = invoke("check", *args)
        assert result.exit_code in {1, 2}
        assert harmful(result.stdout + result.stderr) == set()


@given(title=st.text(), mode=st.text(min_size=1), code=st.text())
def test_no_text_in_a_job_can_make_the_report_obeyed_by_a_terminal(title: str, mode: str, code: str) -> None:
    document = clean_document() | {"job": title}
    document["modes"] = document["modes"] | {mode: "occupied"}
    first = invoke("check", "-", text=json.dumps(document))
    second = invoke("check", "-", text=json.dumps(document | {"target": {"code": code}}))
    assert harmful(first.stdout) == harmful(second.stdout) == set()
    assert CLOSING.search(said(first)) is not None
    assert CLOSING.search(said(second)) is not None


@pytest.mark.parametrize("args", [["check", "\x1b[31mx"], ["explain", "\x1b[31mx"], ["rules", "--only", "\x1b[31m"]])
def test_a_hostile_argument_is_made_harmless(args: list[str]) -> None:
    result = invoke(*args)
    assert result.exit_code == 2
    assert harmful(result.output) == set()
