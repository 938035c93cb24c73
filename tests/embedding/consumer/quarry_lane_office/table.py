"""The table of jobs: rows in, verdicts out."""

import json
import sqlite3
from collections.abc import Iterator
from concurrent.futures import Executor
from dataclasses import dataclass
from pathlib import Path

import ventrules


@dataclass(frozen=True)
class House:
    """A row: the house's number, and its job as it was saved."""

    number: int
    job: str


class Table:
    """The jobs of all houses, and what was found about each."""

    def __init__(self) -> None:
        self.base = sqlite3.connect(":memory:")
        self.base.execute("create table houses (number integer primary key, job text not null)")
        self.base.execute("create table verdicts (number integer, fingerprint text, rule text, line integer)")

    def add(self, number: int, file: Path) -> None:
        """Put a saved job into the table."""
        self.base.execute("insert into houses values (?, ?)", (number, file.read_text(encoding="utf-8")))

    def houses(self) -> Iterator[House]:
        """Yield the rows."""
        for number, job in self.base.execute("select number, job from houses order by number"):
            yield House(int(number), str(job))

    def texts(self) -> Iterator[ventrules.JobText]:
        """Yield the jobs as texts, named for their rows."""
        return (ventrules.JobText(f"house {house.number}", house.job) for house in self.houses())

    def check(self, executor: Executor | None = None) -> dict[str, bool]:
        """Check every row; return whether each is well, and keep what was found."""
        well: dict[str, bool] = {}
        for house, outcome in zip(self.houses(), ventrules.check_many(self.texts(), executor=executor), strict=True):
            well[outcome.file] = outcome.report is not None and outcome.report.ok
            for finding in outcome.report.findings if outcome.report is not None else ():
                self.keep(house, finding)
        return well

    def keep(self, house: House, finding: ventrules.Finding) -> None:
        """Write down one finding; its fingerprint says whether it is the same tomorrow."""
        line = finding.position.line if finding.position is not None else None
        values: tuple[int, str, str, int | None] = (house.number, finding.fingerprint, finding.rule, line)
        self.base.execute("insert into verdicts values (?, ?, ?, ?)", values)

    def known(self, number: int) -> frozenset[str]:
        """Return the fingerprints that were kept for a house."""
        found = self.base.execute("select fingerprint from verdicts where number = ?", (number,))
        return frozenset(str(fingerprint) for (fingerprint,) in found)


def refusal(text: str) -> list[tuple[int | None, str]]:
    """Return why a text cannot be used as a job, with lines; nothing where it can."""
    try:
        ventrules.parse_job(text)
    except ventrules.JobFileError as error:
        return [(problem.position.line if problem.position else None, problem.message) for problem in error.problems]
    return []


def for_the_portal(job: ventrules.Job) -> str:
    """Return the report as JSON."""
    return json.dumps(ventrules.check(job).as_dict())
