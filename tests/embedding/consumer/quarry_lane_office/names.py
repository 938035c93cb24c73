"""What the names are to a type checker: nothing here is left open."""

from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path
from typing import assert_type

import ventrules
from ventrules.engine import AcceptedBy, Edit
from ventrules.job import Cable, Device, Occupancy
from ventrules.sources import Basis


def jobs(path: Path, document: dict[str, object]) -> None:
    job = ventrules.read_job(path)
    assert_type(job, ventrules.Job)
    assert_type(ventrules.parse_job("", name="row", folder=path, outside=True), ventrules.Job)
    assert_type(job.title, str)
    assert_type(job.cables, tuple[Cable, ...])
    assert_type(job.devices, Mapping[str, Device])
    assert_type(job.modes, Mapping[str, Occupancy])
    assert_type(ventrules.job_from_document(ventrules.job_document(job)), ventrules.Job)
    assert document


def reports(job: ventrules.Job) -> None:
    report = ventrules.check(job, registry=ventrules.installed_rules())
    assert_type(report, ventrules.Report)
    assert_type(report.ok, bool)
    assert_type(report.of(ventrules.Severity.ERROR), tuple[ventrules.Finding, ...])
    for finding in report.findings:
        assert_type(finding.rule, str)
        assert_type(finding.severity, ventrules.Severity)
        assert_type(finding.place, ventrules.Place)
        assert_type(finding.place.path, tuple[str | int, ...])
        assert_type(finding.position, ventrules.Position | None)
        assert_type(finding.remedy, ventrules.Remedy | None)
        assert_type(finding.basis, Basis)
        assert_type(finding.fingerprint, str)
        if finding.remedy is not None:
            assert_type(finding.remedy.edits, tuple[Edit, ...])
            assert_type(ventrules.applied(job, finding.remedy), ventrules.Job)
    for accepted in report.accepted:
        assert_type(accepted, ventrules.Accepted)
        assert_type(accepted.by, AcceptedBy)
        assert_type(accepted.until, date | None)
    assert_type(job.accepted, tuple[ventrules.Acceptance, ...])


def many(paths: list[Path]) -> None:
    outcomes = ventrules.check_many(paths)
    assert_type(outcomes, Iterator[ventrules.Outcome])
    tally = ventrules.Tally()
    for outcome in outcomes:
        assert_type(outcome.report, ventrules.Report | None)
        assert_type(outcome.problems, tuple[ventrules.Problem, ...])
        tally.add(outcome)
    assert_type(tally.counts, dict[ventrules.Severity, int])
    assert_type(ventrules.check_one(ventrules.JobText("row 7", "")), ventrules.Outcome)


def verbs(job: ventrules.Job) -> None:
    assert_type(ventrules.repair(job), ventrules.Repaired)
    assert_type(ventrules.repair(job).left, tuple[ventrules.Finding, ...])
    assert_type(ventrules.plan(job), ventrules.Plan)
    assert_type(ventrules.plan(job).edits, tuple[Edit, ...])
    assert_type(ventrules.diagnose(job), ventrules.Diagnosis)
    assert_type(ventrules.asked(job), ventrules.Asked)
    assert_type(ventrules.requirement(job), ventrules.Requirement)
    assert_type(ventrules.requirement(job).continuous_m3s, float)
    assert_type(ventrules.installed_rules(), ventrules.Registry[ventrules.Survey])
    assert_type(ventrules.__version__, str)


def errors(error: ventrules.JobFileError) -> None:
    assert_type(error.problems, tuple[ventrules.Problem, ...])
    assert_type(error.problems[0].position, ventrules.Position | None)
    assert_type(error.problems[0].where, str)


def decided(path: Path, job: ventrules.Job) -> None:
    found = ventrules.find_policy(path)
    assert_type(found, Path | None)
    policy = ventrules.read_policy(path)
    assert_type(policy, ventrules.Policy)
    assert_type(policy.folder, Path)
    assert_type(ventrules.read_baseline(path), ventrules.Baseline)
    ledger = ventrules.Ledger(policy, ventrules.read_baseline(path), today=date(2026, 5, 1), whole=True)
    assert_type(ledger.follow(ventrules.check_many([path], policy=policy)), Iterator[ventrules.Outcome])
    assert_type(ventrules.check(job, policy=policy, today=date(2026, 5, 1)), ventrules.Report)
