"""Ways to use the library wrongly that a type checker has to report, each beside the right one."""

from typing import Final, NamedTuple


class Misuse(NamedTuple):
    """One line that is wrong, the same line put right, and what it is about.

    Both may use `job`, `report`, `finding`, `outcome`, `error`, `path` and `rules`.
    """

    about: str
    wrong: str
    right: str


HEAD: Final = """\
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import ventrules
"""
GIVEN: Final = (
    "job: ventrules.Job, report: ventrules.Report, finding: ventrules.Finding, outcome: ventrules.Outcome, "
    "error: ventrules.JobFileError, path: Path, rules: ventrules.Registry[ventrules.Survey]"
)

MISUSES: Final = (
    Misuse("a name that is none", "ventrules.chekc(job)", "ventrules.check(job)"),
    Misuse("a path where a job goes", "ventrules.check(path)", "ventrules.check(ventrules.read_job(path))"),
    Misuse("bytes where a text goes", 'ventrules.parse_job(b"{}")', 'ventrules.parse_job("{}")'),
    Misuse("a text where a document goes", 'ventrules.job_from_document("{}")', "ventrules.job_from_document({})"),
    Misuse("a set in a document", "ventrules.job_from_document({'a': {1}})", "ventrules.job_from_document({'a': [1]})"),
    Misuse("a keyword by its place", "ventrules.read_job(path, True)", "ventrules.read_job(path, outside=True)"),
    Misuse("a keyword that is none", "ventrules.check(job, rules=rules)", "ventrules.check(job, registry=rules)"),
    Misuse("an argument left out", "ventrules.applied(job)", "ventrules.repair(job)"),
    Misuse(
        "a remedy that may be missing",
        "ventrules.applied(job, finding.remedy)",
        "ventrules.applied(job, finding.remedy) if finding.remedy else job",
    ),
    Misuse(
        "a report that may be missing",
        "print(outcome.report.ok)",
        "print(outcome.report is not None and outcome.report.ok)",
    ),
    Misuse(
        "a position that may be missing",
        "print(finding.position.line)",
        "print(finding.position and finding.position.line)",
    ),
    Misuse("an attribute that is set", "report.file = 'x'", "print(report.file)"),
    Misuse("an attribute of an error that is set", "error.problems = ()", "print(error.problems)"),
    Misuse("evidence that is changed", "finding.evidence['a'] = 1", "print(finding.evidence['a'])"),
    Misuse("findings that grow", "report.findings.append(finding)", "print((*report.findings, finding))"),
    Misuse("a device that is put in", "job.devices['x'] = job.devices['y']", "print(job.devices['x'])"),
    Misuse("an attribute that is none", "print(report.errors)", "print(report.findings)"),
    Misuse("a severity as a text", "report.of('error')", "report.of(ventrules.Severity.ERROR)"),
    Misuse("a severity that is none", "print(ventrules.Severity.FATAL)", "print(ventrules.Severity.ERROR)"),
    Misuse(
        "a method that is not called",
        "ventrules.check(job, registry=rules.select)",
        "ventrules.check(job, registry=rules.select())",
    ),
    Misuse(
        "quantities as plain numbers", "print(finding.evidence['a'] + 1.0)", "print(str(finding.evidence['a']) + '1.0')"
    ),
    Misuse(
        "symptoms in words of one's own",
        "ventrules.Symptoms(powered={'fan': 'dark'})",
        "ventrules.Symptoms(powered={'fan': False})",
    ),
    Misuse("one mode where modes go", "ventrules.plan(job, hold=1)", "ventrules.plan(job, hold=['day'])"),
    Misuse(
        "an outcome that is indexed",
        "print(ventrules.check_many([path])[0])",
        "print(next(ventrules.check_many([path])))",
    ),
    Misuse(
        "workers that were not made",
        "ventrules.check_many([path], executor=ThreadPoolExecutor)",
        "ventrules.check_many([path], executor=ThreadPoolExecutor(2))",
    ),
    Misuse("a job made of nothing", "ventrules.Job(title='x')", "ventrules.read_job('x')"),
    Misuse("a number of texts", "ventrules.JobText('row 7', 7)", "ventrules.JobText('row 7', '7')"),
)


def module(*, wrong: bool) -> tuple[str, dict[str, int]]:
    """Return a module with each use in a function of its own, and the line on which each stands."""
    lines = HEAD.splitlines()
    at: dict[str, int] = {}
    for number, misuse in enumerate(MISUSES):
        lines += ["", "", f"def use_{number}({GIVEN}) -> None:", f"    {misuse.wrong if wrong else misuse.right}"]
        at[misuse.about] = len(lines)
    return "\n".join(lines) + "\n", at
