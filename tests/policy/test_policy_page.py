"""The page about policy, and the example of one: what is written by hand does not drift from what is read."""

import re
import tomllib
from datetime import date
from typing import Final

import attrs
import pytest

from tests.cli.running import EXAMPLES, as_json
from tests.pages import DOCS, blocks, rows
from ventrules import Ledger, check_many, read_baseline, read_policy
from ventrules.files import load_text
from ventrules.job import Acceptance
from ventrules.ledger import baseline_entries
from ventrules.policy import Level, PolicyTable, ProjectAcceptance, Threshold
from ventrules.policy.baseline import baseline_text
from ventrules.policy.explain import settings

PAGE: Final = DOCS / "policy.md"
LANE: Final = EXAMPLES / "policy"
TEXT: Final = PAGE.read_text(encoding="utf-8")


def table(heading: str) -> dict[str, list[str]]:
    section = TEXT.partition(f"\n## {heading}\n")[2].partition("\n## ")[0]
    return {row[0].strip("`"): row for row in rows(section) if row[0] != "key"}


def test_the_table_of_keys_has_all_of_them_in_order() -> None:
    assert list(table("Keys")) == [field.name for field in attrs.fields(PolicyTable)]


def test_what_holds_by_default_is_as_the_table_says() -> None:
    said = {key: row[3].strip("`") for key, row in table("Keys").items()}
    for row in settings(None, {}):
        if isinstance(row.value, bool):
            assert said[row.key] == str(row.value).lower()
        elif row.value is not None:
            assert said[row.key] == row.value
        else:
            assert said[row.key]


def test_words_are_all_in_the_table() -> None:
    for key, words in (("severity", Level), ("fail_at", Threshold)):
        assert set(re.findall(r"`([\w-]+)`", table("Keys")[key][1])) == {word.value for word in words}


def test_the_table_of_acceptances_has_the_keys_of_both() -> None:
    keys = [field.name for field in attrs.fields(ProjectAcceptance)]
    assert list(table("Let a finding stand")) == keys
    assert [field.name for field in attrs.fields(Acceptance)] == keys[:-1]


def test_the_page_shows_the_policy_of_the_example() -> None:
    (shown,) = blocks(PAGE, "toml")
    assert tomllib.loads(shown.text) == tomllib.loads((LANE / ".ventrules.toml").read_text(encoding="utf-8"))


def test_the_page_shows_the_acceptance_of_the_example() -> None:
    shown = load_text(blocks(PAGE, "yaml")[0].text, "shown.yaml")
    job = load_text((LANE / "number-17.yaml").read_text(encoding="utf-8"), "number-17.yaml")
    assert isinstance(shown, dict)
    assert isinstance(job, dict)
    assert shown["settings"]["ventilator"]["accepted"] == job["settings"]["ventilator"]["accepted"]  # type: ignore[index, call-overload]


def test_the_json_settings_have_the_keys_of_their_page_and_no_other() -> None:
    section = (
        (DOCS / "json-output.md").read_text(encoding="utf-8").partition("\n## Settings\n")[2].partition("\n## ")[0]
    )
    documented = {row[0].strip("`") for row in rows(section) if row[0] != "key"}
    data = as_json("check", "--explain-policy", "--policy", LANE / ".ventrules.toml")
    found = set(data) | {f"settings[].{key}" for row in data["settings"] for key in row}
    found |= {f"settings[].position.{key}" for row in data["settings"] for key in row["position"] or ()}
    assert found == documented


@pytest.mark.parametrize(("day", "rules"), [(date(2026, 9, 30), []), (date(2026, 10, 1), ["airflow/above-target"])])
def test_the_example_has_nothing_that_counts_until_its_acceptance_is_past(day: date, rules: list[str]) -> None:
    policy = read_policy(LANE / ".ventrules.toml")
    paths = sorted(LANE.glob("number-*.yaml"))
    ledger = Ledger(policy, read_baseline(LANE / "baseline.json"), today=day, whole=True)
    found = [
        finding.rule
        for outcome in ledger.follow(check_many(paths, policy=policy, today=day))
        for finding in (outcome.report.findings if outcome.report is not None else ())
    ]
    assert found == [*rules, *(["engine/acceptance-expired"] if rules else [])]


def test_the_baseline_of_the_example_is_as_it_would_be_written() -> None:
    policy = read_policy(LANE / ".ventrules.toml")
    outcomes = check_many([LANE / "number-08.yaml"], policy=policy)
    text = baseline_text(baseline_entries(outcomes, LANE))
    assert (LANE / "baseline.json").read_text(encoding="utf-8") == text
