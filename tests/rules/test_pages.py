"""The rules' pages: each example at fault raises its own rule and no other, each one put right is clean."""

import re
from collections.abc import Mapping
from importlib.resources import files
from types import MappingProxyType
from typing import Final

import pytest

from ventrules import Report, check, installed_rules, job_from_document
from ventrules.engine.findings import Document
from ventrules.engine.pages import Page, load_page
from ventrules.files import load_text
from ventrules.rules import PACK
from ventrules.testing import merged

PAGES = files(PACK.pages)
IDS = sorted(rule.id for rule in installed_rules() if installed_rules().packs[rule.id] == PACK.name)
SECTIONS = ["At fault", "Put right", "Not seen"]

# Rules that speak up beside the page's own, since the same fault is theirs as well.
COMPANY: Final[Mapping[str, frozenset[str]]] = MappingProxyType(
    {
        # What is left to the controller keeps the windows from being judged.
        "settings/managed-program": frozenset({"airflow/window-below-target"}),
        # A stage that is rated in balance and is not, or was set too high, is away from its rating.
        "airflow/balance-required": frozenset({"readings/airflow-not-as-rated"}),
        "airflow/cannot-be-turned-down": frozenset({"readings/airflow-not-as-rated"}),
        "airflow/unbalanced": frozenset({"readings/airflow-not-as-rated"}),
        # Each of the two bridges feeds the ventilator's bus.
        "wiring/two-bridges": frozenset({"power/two-sources"}),
    }
)
# Rules that say that a check cannot be made, in the example at fault of a page.
UNCHECKED: Final[Mapping[str, frozenset[str]]] = MappingProxyType(
    {
        "airflow/target-unknown": frozenset({"airflow/target-unknown"}),
        "readings/airflow-short-of-plan": frozenset({"readings/airflow-short-of-plan"}),
        "readings/balance-uncertain": frozenset({"readings/balance-uncertain"}),
        "wiring/cable-not-told": frozenset({"wiring/cable-not-told"}),
        "settings/managed-program": frozenset({"airflow/window-below-target"}),
    }
)
# Rules that are put right by what the house has or the job tells of it: more facts, none of the others changed.
MORE_FACTS: Final = frozenset({"airflow/target-unknown", "airflow/total-capacity-too-small"})
# What a wrong target claims or chooses; taking it out is putting it right.
CLAIMS: Final[Document] = {"credits": None, "route": None, "counts": None}


def base() -> Document:
    return load_text(PAGES.joinpath("base.yaml").read_text(encoding="utf-8"), "base.yaml")


def report_on(fragment: str) -> Report:
    document = merged(base(), load_text(fragment, "fragment.yaml"))
    assert isinstance(document, dict)
    return check(job_from_document(document))


def written_pages() -> list[str]:
    return sorted(
        f"{family.name}/{page.name.removesuffix('.md')}"
        for family in PAGES.iterdir()
        if family.is_dir()
        for page in family.iterdir()
        if page.name.endswith(".md")
    )


def source(rule: str) -> str:
    return PAGES.joinpath(*f"{rule}.md".split("/")).read_text(encoding="utf-8")


@pytest.fixture(params=IDS)
def rule(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def page(rule: str) -> Page:
    return load_page(PACK.pages, rule)


def test_every_rule_of_the_pack_is_looked_at() -> None:
    assert len(IDS) == len(PACK.rules) > 0


def test_every_rule_has_a_page_and_every_page_a_rule() -> None:
    assert written_pages() == IDS


def test_the_base_job_is_silent() -> None:
    report = report_on("{}")
    assert set(report.rules_run) >= set(IDS)
    assert report.findings == ()


def test_the_fault_raises_its_rule_and_no_other(rule: str, page: Page) -> None:
    findings = report_on(page.bad).findings
    assert {finding.rule for finding in findings} == {rule} | COMPANY.get(rule, frozenset())
    assert {finding.rule for finding in findings if finding.unchecked} == UNCHECKED.get(rule, frozenset())


def test_the_fault_put_right_leaves_nothing_to_say(page: Page) -> None:
    assert report_on(page.good).findings == ()


def kept(before: Document, after: Document) -> bool:
    """Say whether everything in a document stands in another, whatever else that has."""
    if isinstance(before, dict) and isinstance(after, dict):
        return all(key in after and kept(value, after[key]) for key, value in before.items())
    return before == after


def test_the_correction_keeps_to_the_setting_of_the_fault(rule: str, page: Page) -> None:
    """House, site and what the code asks stay: a fault is put right in the installation or in its settings.

    Only where the house itself lacks something, or the job leaves it untold, may facts be added.
    """
    bad, good = (merged(base(), load_text(fragment, "fragment.yaml")) for fragment in (page.bad, page.good))
    assert isinstance(bad, dict)
    assert isinstance(good, dict)
    assert bad != good
    for key in ("dwelling", "site"):
        if rule in MORE_FACTS:
            assert kept(bad.get(key), good.get(key))
        else:
            assert bad.get(key) == good.get(key)
    targets = [merged(document["target"], CLAIMS) for document in (bad, good)]
    assert targets[0] == targets[1]


def test_a_page_has_its_sections_in_order_and_one_example_in_each(rule: str) -> None:
    meaning, *pieces = re.split(r"^##+ (.+)$", source(rule), flags=re.MULTILINE)
    assert pieces[::2] == SECTIONS
    assert [piece.count("```yaml\n") for piece in (meaning, *pieces[1::2])] == [0, 1, 1, 0]
    assert [piece.count("```") for piece in (meaning, *pieces[1::2])] == [0, 2, 2, 0]
    for example in (pieces[1], pieces[3]):
        assert example.strip().startswith("```yaml\n")  # prose beside an example is never shown
        assert example.strip().endswith("\n```")


def test_a_page_says_something_of_its_own(rule: str, page: Page) -> None:
    described = installed_rules().rule(rule)
    assert described.title not in page.meaning
    assert str(described.basis) not in page.meaning


def test_rules_that_a_page_speaks_of_exist(rule: str) -> None:
    named = re.findall(r"`([a-z]+(?:-[a-z]+)*/[a-z-]+)`", source(rule))
    assert set(named) <= set(IDS) - {rule}
