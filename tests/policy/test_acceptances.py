"""What a job lets stand: exactly the findings that are meant, up to the day that is meant."""

from datetime import date, timedelta
from typing import Final

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.cli.running import FAULTY
from tests.policy.made import AT, INVERTED, NAMES, accepting, faulty, few, let_stand, said, thing_of
from ventrules import Finding, JobFileError, Severity, check, installed_rules, parse_job, plan, repair
from ventrules.engine import AcceptedBy
from ventrules.engine.findings import Document

DAY: Final = date(2026, 6, 30)
DAYS: Final = st.dates(date(2020, 1, 1), date(2040, 12, 31))
EXPIRED, UNUSED = "engine/acceptance-expired", "engine/acceptance-unused"


def for_finding(finding: Finding, *, placed: bool = True, **more: Document) -> dict[str, Document]:
    place: dict[str, Document] = {"place": finding.place.name} if placed else {}
    return {"rule": finding.rule, "reason": "looked at on site", **place, **more}


@pytest.mark.parametrize("name", NAMES)
def test_letting_one_finding_stand_takes_it_and_nothing_else_out(name: str) -> None:
    job = faulty(name)
    before = check(job)
    for finding in before.findings:
        report = check(accepting(job, [((), for_finding(finding))]))
        own = [(f.rule, f.place.name) == (finding.rule, finding.place.name) for f in before.findings]
        assert said(report.findings) == [one for one, mine in zip(said(before.findings), own, strict=True) if not mine]
        assert let_stand(report) == [one for one, mine in zip(said(before.findings), own, strict=True) if mine]
        assert report.rules_run == before.rules_run


@few
@given(st.data())
def test_any_of_several_findings_can_be_let_stand_in_any_order_beside_what_they_are_about(data: st.DataObject) -> None:
    job = faulty(data.draw(st.sampled_from(NAMES)))
    before = check(job)
    chosen = data.draw(st.lists(st.sampled_from(before.findings), unique_by=lambda f: (f.rule, f.place.name)))
    acceptances = []
    for finding in chosen:
        beside = data.draw(st.booleans())
        acceptances.append((thing_of(finding) if beside else (), for_finding(finding)))
    report = check(accepting(job, acceptances))
    meant = {(finding.rule, finding.place.name) for finding in chosen}
    assert let_stand(report) == [one for one in said(before.findings) if one in meant]
    assert said(report.findings) == [one for one in said(before.findings) if one not in meant]
    other = check(accepting(job, data.draw(st.permutations(acceptances))))
    assert (other.findings, other.accepted) == (report.findings, report.accepted)


@given(st.permutations([None, DAY, DAY + timedelta(1)]), st.permutations(["first", "second", "third"]))
def test_which_of_several_acceptances_is_told_does_not_depend_on_their_order(
    untils: list[date | None], reasons: list[str]
) -> None:
    job = faulty("limits-inverted.yaml")
    written: list[dict[str, Document]] = []
    for until, reason in zip(untils, reasons, strict=True):
        day: dict[str, Document] = {"until": until.isoformat()} if until is not None else {}
        written.append({"rule": INVERTED, "reason": reason, **day})
    reports = [check(accepting(job, [((), one) for one in order]), today=DAY) for order in (written, written[::-1])]
    assert reports[0] == reports[1]
    assert reports[0].findings == ()
    assert reports[0].accepted[0].until == DAY


def test_an_acceptance_covers_what_is_at_or_below_the_thing_that_it_is_beside() -> None:
    job = faulty("limits-inverted.yaml")
    (finding,) = check(job).findings
    acceptance = for_finding(finding, placed=False)
    things: list[list[str | int]] = [[], ["settings", "ventilator"]]
    for thing in things:
        assert let_stand(check(accepting(job, [(thing, acceptance)]))) == [(INVERTED, AT)]
    things = [["devices", "ventilator"], ["cables", 0]]
    for thing in things:
        report = check(accepting(job, [(thing, acceptance)]))
        assert report.accepted == ()
        assert {finding.rule for finding in report.findings} == {INVERTED, UNUSED}


@few
@given(DAYS, DAYS)
def test_an_acceptance_stands_through_its_last_day_and_not_a_day_longer(until: date, today: date) -> None:
    job = accepting(
        faulty("limits-inverted.yaml"),
        [((), {"rule": INVERTED, "reason": "new parts are ordered", "until": until.isoformat()})],
    )
    report = check(job, today=today)
    if today <= until:
        assert (report.findings, let_stand(report)) == ((), [(INVERTED, AT)])
        assert report.accepted[0].until == until
    else:
        assert [finding.rule for finding in report.findings] == [INVERTED, EXPIRED]
        assert report.findings[1].severity is Severity.WARNING
        assert "new parts are ordered" in report.findings[1].message


@pytest.mark.parametrize("until", [DAY, DAY - timedelta(1)])
def test_the_boundary_is_the_day_itself(until: date) -> None:
    job = accepting(
        faulty("limits-inverted.yaml"), [((), {"rule": INVERTED, "reason": "why", "until": until.isoformat()})]
    )
    assert bool(check(job, today=DAY).accepted) == (until == DAY)


def test_an_acceptance_past_its_day_of_what_is_no_longer_found_says_so() -> None:
    job = accepting(faulty("calendar-gap.yaml"), [((), {"rule": INVERTED, "reason": "why", "until": "2026-01-01"})])
    (expired,) = [finding for finding in check(job, today=DAY).findings if finding.rule == EXPIRED]
    assert "no longer found" in expired.message


def test_an_acceptance_that_lets_nothing_stand_is_a_finding_on_its_line() -> None:
    text = (FAULTY / "calendar-gap.yaml").read_text(encoding="utf-8")
    job = parse_job(f"{text}\naccepted:\n- rule: {INVERTED}\n  reason: why\n", name="lane.yaml")
    (unused,) = [finding for finding in check(job).findings if finding.rule == UNUSED]
    assert unused.severity is Severity.WARNING
    assert unused.pointer == "/accepted/0"
    assert unused.position is not None
    assert unused.position.line == text.count("\n") + 3


@pytest.mark.parametrize(
    ("written", "hint"),
    [
        ("settings/outdoor-limits-invertd", f"nearest is '{INVERTED}'"),
        ("roof/leaks", "There is no rule 'roof/leaks'"),
        ("engine/rule-failed", "cannot be let stand"),
    ],
)
def test_a_rule_that_does_not_exist_lets_nothing_stand_and_the_nearest_is_named(written: str, hint: str) -> None:
    job = accepting(faulty("limits-inverted.yaml"), [((), {"rule": written, "reason": "why"})])
    report = check(job)
    assert report.accepted == ()
    (unused,) = [finding for finding in report.findings if finding.rule == UNUSED]
    assert hint in unused.message


def test_nothing_is_said_of_an_acceptance_whose_rule_was_not_run() -> None:
    today = DAY + timedelta(1)
    job = accepting(faulty("limits-inverted.yaml"), [((), {"rule": INVERTED, "reason": "why", "until": str(DAY)})])
    wiring = installed_rules().select(only=["wiring"])
    assert check(job, registry=wiring, today=today).findings == ()
    unused = accepting(faulty("limits-inverted.yaml"), [((), {"rule": "upkeep/no-filter-reminder", "reason": "why"})])
    assert check(unused, registry=wiring).findings == ()
    assert UNUSED in {finding.rule for finding in check(unused).findings}


def test_a_check_that_could_not_be_made_can_be_let_stand() -> None:
    job = faulty("no-calendar.yaml")
    (unchecked,) = check(job).unchecked
    report = check(accepting(job, [((), for_finding(unchecked))]))
    assert report.unchecked == ()
    assert (unchecked.rule, unchecked.place.name) in let_stand(report)


def test_every_accepted_finding_says_by_whom_and_why() -> None:
    job = accepting(faulty("limits-inverted.yaml"), [((), {"rule": INVERTED, "reason": "the owner's wish"})])
    (accepted,) = check(job).accepted
    assert (accepted.by, accepted.reason, accepted.until) == (AcceptedBy.JOB, "the owner's wish", None)
    data = check(job).as_dict()["accepted"]
    assert isinstance(data, list)
    assert isinstance(data[0], dict)
    assert (data[0]["by"], data[0]["reason"], data[0]["rule"]) == ("job", "the owner's wish", INVERTED)


def test_two_acceptances_alike_have_names_of_their_own() -> None:
    needless: dict[str, Document] = {"rule": "wiring/ring", "reason": "why"}
    report = check(accepting(faulty("limits-inverted.yaml"), [((), needless), ((), needless)]))
    unused = [finding for finding in report.findings if finding.rule == UNUSED]
    assert len({finding.fingerprint for finding in unused}) == 2


@pytest.mark.parametrize("reason", ["''", "'  '"])
@pytest.mark.parametrize("at", ["", "devices.furnace", "cables.0", "settings.ventilator"])
def test_an_acceptance_needs_a_reason_in_words(reason: str, at: str) -> None:
    path: list[str | int] = [int(step) if step.isdigit() else step for step in at.split(".") if step]
    job = faulty("limits-inverted.yaml")
    with pytest.raises(JobFileError, match="says nothing; expected a reason") as caught:
        accepting(job, [(path, {"rule": INVERTED, "reason": reason.strip("'")})])
    assert [problem.path for problem in caught.value.problems] == [(*path, "accepted", 0, "reason")]
    with pytest.raises(JobFileError, match="missing"):
        accepting(job, [(path, {"rule": INVERTED})])


# What changes a job leaves alone what is let stand


REPAIRABLE: Final = [name for name in NAMES if any(f.remedy is not None for f in check(faulty(name)).findings)]


@pytest.mark.parametrize("name", REPAIRABLE[::3])
def test_a_repair_leaves_what_is_let_stand_as_it_is(name: str) -> None:
    job = faulty(name)
    mended = next(f for f in check(job).findings if f.remedy is not None)
    stands = accepting(job, [((), for_finding(mended))])
    repaired = repair(stands, purchases=True)
    assert mended.fingerprint not in {change.finding.fingerprint for change in repaired.changes}
    assert [(one.finding.rule, one.finding.message) for one in repaired.report.accepted] == [
        (one.finding.rule, one.finding.message) for one in repaired.before.accepted
    ]
    assert mended.message in {one.finding.message for one in repaired.report.accepted}


def test_what_is_let_stand_is_no_finding_of_a_plan() -> None:
    job = faulty("filter-reminder-too-long.yaml")
    (found,) = check(job).findings
    assert found.rule in {finding.rule for finding in plan(job).findings}
    stands = accepting(job, [((), for_finding(found))])
    assert plan(stands).findings == ()
