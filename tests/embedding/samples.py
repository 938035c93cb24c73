"""Values of every public class, as a program gets them."""

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final, TypeAlias

import ventrules
from tests.embedding.fresh import EXAMPLES
from ventrules.engine import AcceptedBy
from ventrules.policy.baseline import BaselineEntry

FAULTY: Final = EXAMPLES / "faulty"
SOUND: Final = EXAMPLES / "sound"

Samples: TypeAlias = dict[str, list[object]]


def samples() -> Samples:
    """Return values by the name of their public class; at least one of each."""
    found: Samples = {}
    for value in _values():
        name = type(value).__name__
        assert getattr(ventrules, name) is type(value)
        found.setdefault(name, []).append(value)
    return found


def _values() -> Iterator[object]:
    airless = ventrules.read_job(FAULTY / "too-little-air-in-winter.yaml")
    yield airless
    yield ventrules.parse_job((SOUND / "number-02.yaml").read_text(encoding="utf-8"))
    yield ventrules.read_job(SOUND / "number-35.yaml")
    report = ventrules.check(airless)
    (finding,) = report.findings
    stands = ventrules.Acceptance(finding.rule, "a booster fan follows", date(2027, 3, 31))
    yield from (stands, ventrules.Accepted(finding, AcceptedBy.JOB, stands.reason, stands.until))
    tally = ventrules.Tally()
    tally.add(ventrules.Outcome("row 12", report))
    yield tally
    yield from (report, finding, finding.place, finding.position, finding.remedy, finding.severity)
    cabled = ventrules.read_job(FAULTY / "interface-module-missing.yaml")
    yield from (ventrules.check(cabled), ventrules.repair(cabled), ventrules.repair(cabled, purchases=True))
    yield from (ventrules.plan(airless), ventrules.plan(airless, hold=["day"]))
    dark = ventrules.Symptoms(powered={"ventilator": False}, indicators={})
    yield from (dark, ventrules.diagnose(airless, dark), ventrules.diagnose(airless))
    rooms = ventrules.read_job(SOUND / "number-29.yaml")
    yield from (ventrules.requirement(rooms), ventrules.asked(rooms), *ventrules.every_requirement(rooms))
    yield ventrules.JobText("row 12", (SOUND / "number-02.yaml").read_text(encoding="utf-8"), FAULTY, 12)
    yield from ventrules.check_many([FAULTY / "buses-joined.yaml", EXAMPLES / "broken" / "no-such-file.yaml"])
    registry = ventrules.installed_rules()
    yield from (registry, registry.select(only=["wiring"]), registry.rule("airflow/below-target"))
    survey = ventrules.Survey(airless)
    yield survey
    with TemporaryDirectory() as folder:
        written = Path(folder, ".ventrules.toml")
        written.write_text('ventrules-policy = 1\n[severity]\nairflow = "warning"\n', encoding="utf-8")
        yield ventrules.read_policy(written)
    entry = BaselineEntry("row-12.yaml", finding.fingerprint, finding.rule, finding.place.name)
    yield ventrules.Baseline("known.json", FAULTY, {entry.key: entry})
    yield from _errors()


def _errors() -> Iterator[object]:
    for path in sorted((EXAMPLES / "broken").glob("*.yaml")):
        try:
            ventrules.read_job(path)
        except ventrules.JobFileError as error:
            yield error
            yield from error.problems
    document = ventrules.job_document(ventrules.read_job(SOUND / "number-02.yaml"))
    document["target"] = {"code": "csa-f326"}
    try:
        ventrules.requirement(ventrules.job_from_document(document))
    except ventrules.UnknownRequirementError as error:
        yield error
    try:
        ventrules.schema("jobs")
    except ventrules.UnknownSchemaError as error:
        yield error
    try:
        ventrules.installed_rules().select(["wirin"])
    except ventrules.RegistryError as error:
        yield error
    try:
        ventrules.diagnose(ventrules.read_job(SOUND / "number-02.yaml"), ventrules.Symptoms(powered={"nothing": True}))
    except ventrules.SymptomError as error:
        yield error
