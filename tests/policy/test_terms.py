"""What a policy does to the rules: packs, severities, and what is left out."""

import pickle
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path
from typing import Final

import pytest
from attrs import evolve, frozen
from hypothesis import given
from hypothesis import strategies as st

from tests.cli.running import FAULTY
from tests.policy.made import INVERTED, NAMES, faulty, few, policy_in, said
from ventrules import Finding, Policy, Registry, Severity, Survey, check, check_many, installed_rules, read_policy
from ventrules.engine import Place, RuleFault
from ventrules.engine.packs import PackFailure
from ventrules.policy import rules_under
from ventrules.sources import Basis, practice

IDS: Final = [rule.id for rule in installed_rules()]
FAMILIES: Final = sorted({rule.family for rule in installed_rules()})
TOLD: Final = practice("told")
LEVELS: Final = ("error", "warning", "advice", "left-out")


def written(severity: dict[str, str]) -> str:
    return "[severity]\n" + "".join(f'"{name}" = "{level}"\n' for name, level in severity.items())


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("policy")


@given(st.dictionaries(st.sampled_from([*IDS, *FAMILIES]), st.sampled_from(LEVELS), max_size=8))
def test_each_rule_has_its_own_line_or_that_of_its_family_or_its_own_severity(
    shared: Path, severity: dict[str, str]
) -> None:
    rules = installed_rules()
    under = {rule.id: rule.severity.value for rule in rules_under(policy_in(shared, written(severity)), rules)}
    expected = {rule.id: severity.get(rule.id, severity.get(rule.family, rule.severity.value)) for rule in rules}
    assert under == {name: level for name, level in expected.items() if level != "left-out"}


@few
@given(st.data())
def test_severities_change_how_bad_findings_are_and_nothing_else(shared: Path, data: st.DataObject) -> None:
    job = faulty(data.draw(st.sampled_from(NAMES)))
    before = check(job)
    named = st.sampled_from(sorted({finding.rule for finding in before.findings}))
    severity = data.draw(st.dictionaries(named, st.sampled_from(LEVELS)))
    after = check(job, policy=policy_in(shared, written(severity)))
    expected = [
        evolve(finding, severity=Severity(level))
        for finding in before.findings
        if (level := severity.get(finding.rule, finding.severity.value)) != "left-out"
    ]

    def told(findings: Iterable[Finding]) -> list[Finding]:
        # whether a remedy is offered goes by the errors that it would bring
        return sorted((evolve(f, remedy=None) for f in findings), key=lambda finding: finding.sort_key)

    assert told(after.findings) == told(expected)
    assert list(after.findings) == sorted(after.findings, key=lambda finding: finding.sort_key)
    assert set(before.rules_run) - set(after.rules_run) == {n for n, level in severity.items() if level == "left-out"}


def test_what_is_asked_for_by_name_runs_though_the_policy_leaves_just_that_out(tmp_path: Path) -> None:
    policy = policy_in(tmp_path, written({"upkeep": "left-out", "wiring/ring": "left-out", "wiring": "advice"}))
    rules = installed_rules()

    def under(*only: str) -> set[str]:
        return {rule.id for rule in rules_under(policy, rules.select(only), only)}

    upkeep = {rule.id for rule in rules if rule.family == "upkeep"}
    assert under("upkeep") == upkeep
    assert under(*sorted(upkeep)[:1]) == set(sorted(upkeep)[:1])
    assert under("wiring/ring") == {"wiring/ring"}
    assert "wiring/ring" not in under("wiring")
    assert under() == set(IDS) - upkeep - {"wiring/ring"}


def test_only_the_packs_named_run_and_only_their_failures_are_told(tmp_path: Path) -> None:
    failures = (PackFailure("lane", "ImportError").as_finding(), PackFailure("ventrules", "ImportError").as_finding())
    rules = installed_rules()
    lane = Told()
    both: Registry[Survey] = Registry((*rules.rules, lane), {**rules.packs, lane.id: "lane"}, failures)
    under = rules_under(policy_in(tmp_path, "packs = ['ventrules']"), both)
    assert [rule.id for rule in under] == IDS
    assert [finding.evidence["pack"] for finding in under.failures] == ["ventrules"]
    assert rules_under(policy_in(tmp_path, ""), both) is both
    assert rules_under(None, both) is both


@frozen
class Told:
    """A rule of another make than ours."""

    id: str = "wiring/of-another-make"
    family: str = "wiring"
    title: str = "Told"
    severity: Severity = Severity.ERROR
    basis: Basis = TOLD
    cautions: tuple[str, ...] = ("Mind it.",)
    since: str = "0.1"

    def examine(self, _view: Survey, *, remedies: bool = True) -> Iterator[Finding | RuleFault]:
        yield Finding(self.id, self.title, self.severity, Place.at("job"), f"{remedies}", "", self.basis)
        raise RuntimeError("and then it failed")


def test_a_rule_of_another_make_takes_the_severity_of_the_policy(tmp_path: Path) -> None:
    registry: Registry[Survey] = Registry((Told(),), {Told().id: "lane"})
    policy = policy_in(tmp_path, written({"wiring": "advice"}))
    (rule,) = rules_under(policy, registry)
    own = Told()
    assert (rule.id, rule.family, rule.title, rule.severity) == (own.id, own.family, own.title, Severity.ADVICE)
    assert (rule.basis, rule.cautions, rule.since) == (own.basis, own.cautions, own.since)
    report = check(faulty("limits-inverted.yaml"), registry=registry, policy=policy)
    assert [(f.rule, f.severity) for f in report.findings] == [
        ("engine/rule-failed", Severity.ERROR),
        (own.id, Severity.ADVICE),
    ]


def test_many_jobs_are_checked_under_a_policy_by_any_executor(tmp_path: Path) -> None:
    policy = policy_in(
        tmp_path, f"[severity]\nupkeep = 'left-out'\n[[accepted]]\nrule = '{INVERTED}'\nreason = 'why'\n"
    )
    paths = [FAULTY / name for name in NAMES[::8]] + [FAULTY / "limits-inverted.yaml"]
    here = list(check_many(paths, policy=policy, outside=True))
    assert [one.report for one in here] == [
        check(faulty(Path(path).name), policy=policy) if outcome.report is not None else None
        for path, outcome in zip(paths, here, strict=True)
    ]
    assert here[-1].report is not None
    assert [one.reason for one in here[-1].report.accepted] == ["why"]
    with ThreadPoolExecutor(2) as threads:
        assert list(check_many(paths, policy=policy, outside=True, executor=threads)) == here
    with ProcessPoolExecutor(1) as processes:
        assert list(check_many(paths, policy=policy, outside=True, executor=processes)) == here


def test_a_policy_read_again_is_the_same(tmp_path: Path) -> None:
    policy: Policy = policy_in(tmp_path, written({"upkeep": "advice"}))
    assert read_policy(policy.file) == policy == pickle.loads(pickle.dumps(policy))  # noqa: S301 - our own bytes
    assert said(check(faulty("filter-reminder-forgotten.yaml"), policy=policy).findings)
