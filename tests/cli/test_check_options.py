"""Options of `ventrules check`: which rules run, and what the exit status says."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from tests.cli.running import A_WARNING, AN_ADVICE, AN_ERROR, BROKEN, CLEAN, FAULTY, UNCHECKED, as_json, invoke, said
from ventrules.checking import installed_rules

MIXED = FAULTY / "credit-not-earned.yaml"
FAMILIES = sorted({rule.family for rule in installed_rules()})


def findings(*args: str | Path) -> list[Any]:
    return [finding for file in as_json("check", *args)["files"] for finding in file["findings"]]


@pytest.mark.parametrize(
    ("path", "statuses"),
    [
        (CLEAN, {"error": 0, "warning": 0, "advice": 0, "never": 0}),
        (AN_ERROR, {"error": 1, "warning": 1, "advice": 1, "never": 0}),
        (A_WARNING, {"error": 0, "warning": 1, "advice": 1, "never": 0}),
        (AN_ADVICE, {"error": 0, "warning": 0, "advice": 1, "never": 0}),
        (UNCHECKED, {"error": 0, "warning": 0, "advice": 0, "never": 0}),
        (BROKEN / "half-written.yaml", {"error": 2, "warning": 2, "advice": 2, "never": 2}),
    ],
    ids=["clean", "error", "warning", "advice", "unchecked", "broken"],
)
@pytest.mark.parametrize("form", ["text", "json"])
def test_the_exit_status_follows_the_threshold_in_every_format(path: Path, statuses: dict[str, int], form: str) -> None:
    found = {at: invoke("check", path, "--fail-at", at, "--format", form).exit_code for at in statuses}
    assert found == statuses
    assert invoke("check", path, "--format", form).exit_code == statuses["error"]


@pytest.mark.parametrize(
    ("paths", "status"),
    [([UNCHECKED], 1), ([CLEAN], 0), ([CLEAN, UNCHECKED], 1), ([A_WARNING], 0), ([BROKEN / "half-written.yaml"], 2)],
    ids=["unchecked", "clean", "both", "warning", "broken"],
)
@pytest.mark.parametrize("threshold", ["error", "never"])
def test_a_check_that_could_not_be_made_can_be_made_to_fail(paths: list[Path], status: int, threshold: str) -> None:
    assert invoke("check", *paths, "--fail-unchecked", "--fail-at", threshold).exit_code == status


@pytest.mark.parametrize("order", [[AN_ERROR, BROKEN / "half-written.yaml"], [BROKEN / "half-written.yaml", AN_ERROR]])
def test_unusable_input_outweighs_findings(order: Sequence[Path]) -> None:
    assert invoke("check", *order).exit_code == 2


@pytest.mark.parametrize("family", FAMILIES)
def test_running_a_family_alone_and_leaving_it_out_share_the_findings_between_them(family: str) -> None:
    every, alone, others = findings(MIXED), findings(MIXED, "--only", family), findings(MIXED, "--skip", family)
    assert {finding["rule"].partition("/")[0] for finding in alone} <= {family}
    assert [finding for finding in every if finding["rule"].startswith(f"{family}/")] == alone
    assert [finding for finding in every if not finding["rule"].startswith(f"{family}/")] == others


def test_only_and_skip_repeat_and_skip_wins() -> None:
    kept = findings(MIXED, "--only", "airflow/unbalanced", "--only", "airflow/credit-not-earned")
    assert {finding["rule"] for finding in kept} == {"airflow/unbalanced", "airflow/credit-not-earned"}
    fewer = findings(MIXED, "--only", "airflow", "--skip", "airflow/below-target", "--skip", "airflow/unbalanced")
    assert {finding["rule"] for finding in fewer} == {"airflow/credit-not-earned"}


def test_the_report_counts_the_rules_that_ran() -> None:
    (every,) = as_json("check", CLEAN)["files"]
    (one,) = as_json("check", CLEAN, "--only", "wiring/ring")["files"]
    (rest,) = as_json("check", CLEAN, "--skip", "wiring/ring")["files"]
    assert (every["rules_run"], one["rules_run"], rest["rules_run"]) == (
        len(installed_rules()),
        1,
        len(installed_rules()) - 1,
    )


def test_one_rule_is_not_said_in_the_plural() -> None:
    for result in (invoke("check", CLEAN, "--only", "wiring/ring"), invoke("rules", "--only", "wiring/ring")):
        assert result.exit_code == 0
        assert "1 rules" not in said(result)


@pytest.mark.parametrize("option", ["--only", "--skip"])
@pytest.mark.parametrize(
    ("written", "meant"),
    [("wiring/rnig", "wiring/ring"), ("airflow/below-traget", "airflow/below-target"), ("wirring", "wiring")],
)
def test_an_unknown_rule_is_refused_with_the_nearest_name(option: str, written: str, meant: str) -> None:
    result = invoke("check", CLEAN, option, written)
    assert result.exit_code == 2
    assert written in result.stderr
    assert meant in result.stderr
    assert "ventrules rules" in result.stderr
    assert result.stdout == ""


def test_an_unknown_family_is_answered_with_a_family() -> None:
    result = invoke("check", CLEAN, "--only", "setings")
    assert result.exit_code == 2
    assert "'settings'" in result.stderr


def test_no_rule_at_all_is_a_finding_and_not_a_pass() -> None:
    result = invoke("check", CLEAN, "--only", "wiring", "--skip", "wiring")
    assert result.exit_code == 1
    assert "engine/no-rule-run" in result.stdout
    (file,) = as_json("check", CLEAN, "--only", "wiring", "--skip", "wiring")["files"]
    assert not file["ok"]


@pytest.mark.parametrize(
    "args",
    [
        ["check"],
        ["check", "--fail-at", "sometimes", str(CLEAN)],
        ["check", "--format", "xml", str(CLEAN)],
        ["check", "--no-such-option", str(CLEAN)],
        ["check", "--only"],
        ["rules", "extra"],
        ["rules", "--format", "yaml"],
        ["explain"],
        ["explain", "wiring/ring", "wiring/ring"],
        ["chek", str(CLEAN)],
        ["--no-such-option"],
    ],
    ids=" ".join,
)
def test_wrong_usage_is_refused_on_standard_error_without_a_traceback(args: list[str]) -> None:
    result = invoke(*args)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert "Error: " in result.stderr
    assert "Traceback" not in result.stderr


def test_a_threshold_is_read_in_any_case_and_its_default_is_one_that_can_be_given() -> None:
    assert invoke("check", A_WARNING, "--fail-at", "Warning").exit_code == 1
    help_text = " ".join(invoke("check", "--help").stdout.split())
    assert "[default: error]" in help_text
