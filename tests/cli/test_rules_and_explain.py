"""`ventrules rules`, `ventrules explain`, help and version."""

import json
import re
from typing import Final

import pytest

from tests.cli.running import CLEAN, invoke
from ventrules import __version__
from ventrules.checking import installed_rules
from ventrules.engine.registry import AnyRule
from ventrules.survey import Survey

EVERY: Final = list(installed_rules())
FAMILIES: Final = sorted({rule.family for rule in EVERY})


def test_rules_lists_every_rule_once_with_severity_and_title_and_counts_them() -> None:
    result = invoke("rules")
    assert result.exit_code == 0
    *lines, closing = result.stdout.splitlines()
    assert [re.split(r"\s{2,}", line) for line in lines] == [
        [rule.id, rule.severity.value, rule.title] for rule in EVERY
    ]
    assert closing.startswith(f"{len(EVERY)} rules.")
    assert "ventrules explain RULE" in closing


def test_rules_as_json_says_the_same_and_more() -> None:
    result = invoke("rules", "--format", "json")
    data = json.loads(result.stdout)
    assert data["ventrules-rules"] == 1
    assert data["version"] == __version__
    assert [(rule["rule"], rule["severity"], rule["title"]) for rule in data["rules"]] == [
        (rule.id, rule.severity.value, rule.title) for rule in EVERY
    ]
    for rule in data["rules"]:
        assert rule.keys() >= {"rule", "title", "severity", "pack", "since", "basis"}
        assert rule["pack"]
        assert rule["basis"]


@pytest.mark.parametrize("family", FAMILIES)
def test_rules_can_be_narrowed_to_a_family_or_to_the_others(family: str) -> None:
    def ids(option: str) -> list[str]:
        data = json.loads(invoke("rules", option, family, "--format", "json").stdout)
        return [rule["rule"] for rule in data["rules"]]

    assert ids("--only") == [rule.id for rule in EVERY if rule.family == family]
    assert ids("--skip") == [rule.id for rule in EVERY if rule.family != family]


@pytest.mark.parametrize("rule", EVERY, ids=lambda rule: rule.id)
def test_every_rule_is_explained_in_full(rule: AnyRule[Survey]) -> None:
    result = invoke("explain", rule.id)
    assert result.exit_code == 0
    text = result.stdout
    assert text.startswith(f"# {rule.id}\n")
    assert rule.title in text
    assert str(rule.basis) in text
    assert f"Severity {rule.severity.value}" in text
    for caution in rule.cautions:
        assert caution in text
    headings = re.findall(r"^## (.+)$", text, re.MULTILINE)
    assert headings[:5] == ["Meaning", "Basis", "At fault", "Put right", "Not seen"]
    assert text.count("```yaml\n") == 2
    assert "\x1b" not in text


def test_every_rule_that_a_report_can_name_can_be_explained() -> None:
    named = set(re.findall(r"Rule +(\S+/\S+)", invoke("check", CLEAN, "--only", "wiring", "--skip", "wiring").stdout))
    assert named == {"engine/no-rule-run"}
    for rule in named:
        assert invoke("explain", rule).exit_code == 0


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("wiring/rnig", "wiring/ring"),
        ("settings/calender-gap", "settings/calendar-gap"),
        ("Wiring/Ring", "wiring/ring"),
    ],
)
def test_an_unknown_rule_is_answered_with_the_nearest(written: str, meant: str) -> None:
    result = invoke("explain", written)
    assert result.exit_code == 2
    assert f"'{written}'" in result.stderr
    assert f"'{meant}'" in result.stderr
    assert "ventrules rules" in result.stderr
    assert result.stdout == ""


def test_a_name_that_is_like_nothing_is_answered_with_where_to_look() -> None:
    result = invoke("explain", "zzz")
    assert result.exit_code == 2
    assert "nearest" not in result.stderr
    assert "ventrules rules" in result.stderr


@pytest.mark.parametrize("args", [[], ["check"], ["rules"], ["explain"]], ids=lambda args: "".join(args) or "top")
@pytest.mark.parametrize("option", ["--help", "-h"])
def test_help_says_how_to_use_it(args: list[str], option: str) -> None:
    result = invoke(*args, option)
    assert result.exit_code == 0
    assert result.stdout.startswith("Usage: ")
    assert result.stderr == ""


def test_help_names_every_command_and_every_exit_status() -> None:
    text = " ".join(invoke("--help").stdout.split())
    for part in ("check", "rules", "explain", "0 nothing at or above the threshold", "1 findings", "2 input or usage"):
        assert part in text


def test_check_s_help_names_every_option() -> None:
    text = invoke("check", "--help").stdout
    for option in ("--format", "--only", "--skip", "--fail-at", "--fail-unchecked", "--catalogs-outside"):
        assert option in text


def test_version_is_the_package_s() -> None:
    result = invoke("--version")
    assert result.exit_code == 0
    assert result.stdout.split() == ["ventrules", __version__]
