"""`ventrules codes`: the list, one code whole, and code files of one's own."""

import json
import re
from pathlib import Path

import pytest

from tests.cli.running import invoke
from tests.cli.test_streams import on_a_terminal
from ventrules.files import load_code
from ventrules.files.resources import code_names, packaged

IRC = packaged("codes", "us-irc-2021.toml").read_text(encoding="utf-8")


def test_every_packaged_code_is_listed_with_edition_kind_window_and_how_well_it_is_known() -> None:
    shown = invoke("codes")
    assert shown.exit_code == 0
    lines = {line.split()[0]: line for line in shown.stdout.splitlines()[1:-1]}
    assert sorted(lines) == sorted(code_names())
    for name, line in lines.items():
        code = load_code(name)
        assert code.kind.value in line
        assert line.endswith(code.edition)
    assert "each 4 h" in lines["us-irc-2021"]
    assert "24 h (fixed)" in lines["no-tek10"]
    assert "every moment" in lines["ca-bc-2024"]
    assert "from memory" in lines["ashrae-62.2-2016"]
    assert shown.stdout.splitlines()[-1].startswith(f"{len(code_names())} codes.")


def test_one_code_is_printed_whole() -> None:
    shown = invoke("codes", "us-wa-2021")
    assert shown.exit_code == 0
    for said in ("Washington", "95 cfm", "Equation 15-1", "1.25", "(seen)", "at least 2 h in each segment", "Examples"):
        assert said in shown.stdout


def test_json_holds_what_the_file_holds() -> None:
    shown = invoke("codes", "--format", "json", "us-mn", "gb-eng-2021")
    data = json.loads(shown.stdout)
    assert [code["code"] for code in data["codes"]] == ["us-mn", "gb-eng-2021"]
    assert data["codes"][0]["file"]["floor"]["least"] == "40 cfm"
    assert [code["failed_examples"] for code in data["codes"]] == [[], []]
    every = json.loads(invoke("codes", "--format", "json").stdout)
    assert [code["code"] for code in every["codes"]] == list(code_names())


def test_an_unknown_name_gets_the_nearest_one() -> None:
    shown = invoke("codes", "us-irc-2020")
    assert shown.exit_code == 2
    assert "unknown code 'us-irc-2020'; nearest is 'us-irc-20" in shown.stderr
    assert shown.stdout == ""


def test_a_file_of_ones_own_is_printed_when_it_is_sound(tmp_path: Path) -> None:
    own = tmp_path / "lane.toml"
    own.write_text(IRC.replace('code = "us-irc-2021"', 'code = "lane"'), encoding="utf-8")
    shown = invoke("codes", str(own))
    assert shown.exit_code == 0
    assert shown.stdout.startswith("# `lane`")


def test_a_file_that_is_not_sound_says_every_problem_in_its_place(tmp_path: Path) -> None:
    own = tmp_path / "lane.toml"
    broken = IRC.replace('kind = "segment-factors"', 'kind = "segments"').replace('segment = "4 h"', 'segment = "4"')
    own.write_text(broken, encoding="utf-8")
    shown = invoke("codes", str(own))
    assert shown.exit_code == 2
    lines = shown.stderr.splitlines()
    assert len(lines) == 2
    for line, word in zip(lines, ("kind =", "segment ="), strict=True):
        number = int(line.removeprefix(f"Error: {own}:").split(":")[0])
        assert word in broken.splitlines()[number - 1]


def test_examples_that_it_does_not_reproduce_are_said(tmp_path: Path) -> None:
    own = tmp_path / "lane.toml"
    own.write_text(IRC.replace('airflow_per_area = "0.01 cfm"', 'airflow_per_area = "0.03 cfm"'), encoding="utf-8")
    shown = invoke("codes", str(own))
    assert shown.exit_code == 1
    assert "does not reproduce its own example" in shown.stderr
    assert "expected" in shown.stderr


@pytest.mark.parametrize("name", ["missing.toml", "folder.toml"])
def test_a_file_that_cannot_be_read_is_no_traceback(tmp_path: Path, name: str) -> None:
    (tmp_path / "folder.toml").mkdir()
    shown = invoke("codes", str(tmp_path / name))
    assert shown.exit_code == 2
    assert shown.stderr.startswith("Error: ")
    assert "Traceback" not in shown.stderr


def test_good_and_bad_ones_together_show_the_good_and_fail(tmp_path: Path) -> None:
    shown = invoke("codes", "us-mn", "us-mm")
    assert shown.exit_code == 2
    assert shown.stdout.startswith("# `us-mn`")
    assert "nearest is 'us-mn'" in shown.stderr
    assert not list(tmp_path.iterdir())


def test_a_file_of_ones_own_cannot_speak_to_the_terminal(tmp_path: Path) -> None:
    own = tmp_path / "lane.toml"
    own.write_text(IRC.replace("International Residential", r"\u001b[2J \u202e International"), encoding="utf-8")
    for options in ([], ["--format", "json"]):
        shown = invoke("codes", str(own), *options)
        assert shown.exit_code == 0
        assert not {"\x1b", "\u202e"} & set(shown.output)
        assert "\\u001b" in shown.stdout


def test_a_page_on_a_terminal_is_laid_out() -> None:
    shown = re.sub(rb"\x1b\[[0-9;]*m", b"", on_a_terminal(["codes", "us-mn"])).decode()
    assert "Minnesota Rules 1322.1104" in " ".join(shown.split())
    assert "| ---" not in shown


def test_text_that_is_no_toml_says_where(tmp_path: Path) -> None:
    own = tmp_path / "lane.toml"
    own.write_text('ventrules-code = 1\ncode = "lane\n', encoding="utf-8")
    shown = invoke("codes", str(own))
    assert shown.exit_code == 2
    assert "lane.toml:2:13: not valid TOML" in shown.stderr
