"""Laws about whole jobs: what holds for every sound job and every single fault in it."""

from collections.abc import Sequence
from typing import TypeVar

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from ventrules import (
    Job,
    Report,
    Severity,
    applied,
    check,
    installed_rules,
    job_document,
    job_from_document,
    parse_job,
    repair,
)
from ventrules.checking import new_errors
from ventrules.engine import Finding
from ventrules.engine.findings import Document
from ventrules.files import job_json, job_yaml, load_code
from ventrules.testing import FAULTS, Fault, Faulted, in_other_units, job_documents, jobs, renamed, reordered

T = TypeVar("T")


def said(report: Report) -> list[str]:
    """What a report says, without wording: rule and place by meaning."""
    return sorted(f"{f.rule} @ {f.place.name} {'?' if f.unchecked else ''}" for f in report.findings)


def checked(document: dict[str, Document]) -> Report:
    return check(job_from_document(document))


def faulted(data: st.DataObject, fault: Fault) -> Faulted:
    document = data.draw(job_documents())

    def pick(choices: Sequence[T]) -> T:
        return data.draw(st.sampled_from(choices))

    made = fault.apply(document, pick)
    assume(made is not None)
    assert made is not None
    return made


def elsewhere(document: dict[str, Document]) -> dict[str, Document]:
    """The job in other units; its floor area stays where that chooses between a code's two sets of figures."""
    changed, target, home = in_other_units(document), document["target"], document["dwelling"]
    other = changed["dwelling"]
    assert isinstance(target, dict)
    assert isinstance(home, dict)
    assert isinstance(other, dict)
    if "code" in target:
        code = load_code(str(target["code"]))
        if code.metric_rate is not None or (
            code.infiltration is not None and code.infiltration.metric_form is not None
        ):
            other["floor_area"] = home["floor_area"]
    return changed


@given(jobs())
def test_a_sound_job_has_no_error_and_no_warning(job: Job) -> None:
    report = check(job)
    assert report.ok
    assert not report.of(Severity.WARNING)
    assert len(report.rules_run) == len(installed_rules())


@given(job_documents(), st.data())
def test_order_of_keys_and_cables_does_not_matter(document: dict[str, Document], data: st.DataObject) -> None:
    changed = reordered(document, lambda keys: list(data.draw(st.permutations(keys))))
    cables = changed["cables"]
    assert isinstance(cables, list)
    changed["cables"] = list(data.draw(st.permutations(cables)))
    assert said(checked(changed)) == said(checked(document))


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
@settings(max_examples=settings().max_examples // 5)
@given(data=st.data())
def test_renaming_devices_only_renames_them_in_findings(fault: Fault, data: st.DataObject) -> None:
    document = faulted(data, fault).document

    def new_name(name: str) -> str:
        return f"x{name}x"

    def forms(report: Report) -> list[tuple[str, int, bool]]:
        return sorted((f.rule, len(f.place.path), f.unchecked) for f in report.findings)

    before, after = checked(document), checked(renamed(document, new_name))
    assert forms(before) == forms(after)
    devices = document["devices"]
    assert isinstance(devices, dict)

    def mapped(finding: Finding) -> tuple[str | int, ...]:
        ends = (step.partition(".") for step in map(str, finding.place.path))
        return tuple(f"{new_name(name) if name in devices else name}{dot}{port}" for name, dot, port in ends)

    expected = sorted((f.rule, mapped(f)) for f in before.findings if f.place.path[:1] != ("cables",))
    found = sorted((f.rule, tuple(map(str, f.place.path))) for f in after.findings if f.place.path[:1] != ("cables",))
    assert expected == found


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
@settings(max_examples=settings().max_examples // 5)
@given(data=st.data())
def test_the_same_job_in_other_units_gets_the_same_findings(fault: Fault, data: st.DataObject) -> None:
    document = faulted(data, fault).document
    assert said(checked(elsewhere(document))) == said(checked(document))


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
@settings(max_examples=settings().max_examples // 5)
@given(data=st.data())
def test_each_fault_is_found_by_its_rule_at_its_place_and_nothing_else(fault: Fault, data: st.DataObject) -> None:
    made = faulted(data, fault)
    report = checked(made.document)
    meant = [f for f in report.findings if f.rule == fault.rule and f.unchecked is fault.unchecked]
    assert any(f.place.path == made.path for f in meant), said(report)
    # true of many sound jobs as well
    advice = {"airflow/above-target", "airflow/exposure-above-steady", "settings/unoccupied-mode-ventilates"}
    strangers = [f for f in report.findings if not (f.unchecked or fault.expects(f.rule) or f.rule in advice)]
    assert not strangers, [(f.rule, f.place.name, f.message) for f in strangers]


def test_every_rule_has_a_fault_maker() -> None:
    assert {fault.rule for fault in FAULTS} == {rule.id for rule in installed_rules()}


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
@settings(max_examples=settings().max_examples // 5)
@given(data=st.data())
def test_an_offered_remedy_removes_its_finding_and_brings_no_new_error(fault: Fault, data: st.DataObject) -> None:
    job = job_from_document(faulted(data, fault).document)
    before = check(job)
    for finding in before.findings:
        if finding.remedy is None:
            continue
        after = check(applied(job, finding.remedy))
        assert finding.fingerprint not in {f.fingerprint for f in after.findings}, finding.remedy
        assert not new_errors(before.findings, after.findings), (finding.rule, finding.remedy, said(after))


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
@settings(max_examples=settings().max_examples // 5)
@given(data=st.data())
def test_repair_ends_and_leaves_no_automatic_remedy_undone(fault: Fault, data: st.DataObject) -> None:
    job = job_from_document(faulted(data, fault).document)
    done = repair(job)
    gone = {change.finding.fingerprint for change in done.changes}
    assert not gone & {f.fingerprint for f in done.report.findings}
    assert not new_errors(check(job).findings, done.report.findings)
    again = repair(done.job)
    assert not again.changes


@given(jobs())
def test_text_to_model_to_text_is_the_identity(job: Job) -> None:
    assert job_from_document(job_document(job)) == job
    for text, name in ((job_yaml(job), "job.yaml"), (job_json(job), "job.json")):
        again = parse_job(text, name=name)
        assert again == job
        assert (job_yaml(again) if name == "job.yaml" else job_json(again)) == text


UNDER = {
    "airflow/below-floor",
    "airflow/below-target",
    "airflow/cycling-not-allowed",
    "airflow/exposure-too-high",
    "airflow/window-below-target",
    "airflow/ventilator-too-small",
    "airflow/run-time-too-short",
    "settings/occupied-mode-off",
}


def under(document: dict[str, Document]) -> set[str]:
    return {f"{f.rule} {f.place.name}" for f in checked(document).findings if f.rule in UNDER}


@pytest.mark.parametrize("fault", [f for f in FAULTS if f.rule in UNDER], ids=lambda fault: fault.name)
@settings(max_examples=settings().max_examples // 2)
@given(data=st.data(), more=st.floats(1.0, 3.0))
def test_more_airflow_never_brings_an_under_ventilation_finding(fault: Fault, data: st.DataObject, more: float) -> None:
    document = faulted(data, fault).document
    job = job_from_document(document)
    readings: dict[str, Document] = {}
    for name in job.settings:
        stages = job.model_of(name).stages
        readings[name] = {
            stage: {
                "supply": f"{flow.supply.m3s * more:.17g} m3/s",
                "exhaust": f"{flow.exhaust.m3s * more:.17g} m3/s",
            }
            for stage, flow in stages.items()
        }
    before, after = under({**document, "readings": {}}), under({**document, "readings": readings})
    assert not after or before
    if not any(found.startswith("airflow/ventilator-too-small") for found in before):
        # A ventilator that is too small is one finding for the whole dwelling; else mode by mode.
        assert after <= before
