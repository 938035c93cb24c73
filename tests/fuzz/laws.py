"""What holds of every input, whatever came of it. A law that does not hold raises AssertionError."""

import io
import json
import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Final
from zlib import crc32

from ventrules import Outcome, Problem, Report, check, diagnose, installed_rules, plan, repair
from ventrules.bulk import Tally
from ventrules.files import job_document, job_json, job_yaml, load_text, marks_of, rebuilt
from ventrules.files.round_trip import edited_text
from ventrules.job import Job
from ventrules.outputs import FORMATS, Closing, Paper, PlainPaper, report_writer
from ventrules.outputs.diagnosis_json import diagnosis_json
from ventrules.outputs.diagnosis_text import diagnosis_text
from ventrules.outputs.draw_marks import drawing
from ventrules.outputs.draw_mermaid import mermaid
from ventrules.outputs.draw_svg import svg
from ventrules.outputs.draw_table import wiring_csv, wiring_text
from ventrules.outputs.plan_json import plan_json
from ventrules.outputs.plan_text import plan_text
from ventrules.outputs.repair_json import Shown, repair_json
from ventrules.outputs.repair_text import repair_text
from ventrules.outputs.target_json import target_json
from ventrules.outputs.target_text import every_text, target_text
from ventrules.survey import Survey
from ventrules.targets import asked, every_requirement, target_sheet

OBEYED: Final = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2066-\u2069\ufeff]")
"""What a terminal or a program that lays out text would act on; line breaks are not among them."""
_BREAK: Final = re.compile("\r\n|[\n\r\x85\u2028\u2029]")  # the reader of YAML counts these: YAML 1.1, section 4.2
_LONGEST: Final = 4_000
COUNTS: Final[Counter[str]] = Counter()
"""How many inputs got how far, for who fuzzes by hand."""


def hold_problems(problems: Sequence[Problem], text: str) -> None:
    """What is wrong with a file is said, each on a line, at a place inside its text."""
    assert problems
    for problem in problems:
        said = str(problem)
        assert problem.message
        assert len(said) < _LONGEST, "an endless message"
        assert not OBEYED.search(said), f"a message would be obeyed: {said!r}"
        if problem.position is not None:
            _hold_position(problem.position.line, problem.position.column, text)
    hold_outcome(Outcome("job.yaml", problems=tuple(problems)), _some(text))


def _hold_position(line: int, column: int, text: str) -> None:
    lines = _BREAK.split(text)
    broad, narrow = lines[min(line, len(lines)) - 1], text.split("\n")[min(line, text.count("\n") + 1) - 1]
    assert 1 <= line <= len(lines), f"line {line} of {len(lines)}"
    assert 1 <= column <= max(len(broad), len(narrow)) + 1, f"column {column} of line {line}"


def hold_texts(texts: Iterable[str]) -> None:
    """No text for people holds what would be obeyed, or what cannot be encoded."""
    for text in texts:
        found = OBEYED.search(text)
        assert not found, f"would be obeyed: {text[max(found.start() - 40, 0) : found.end() + 40]!r}"
        text.encode()


def checked(job: Job, text: str) -> Report:
    """Check a job and hold its report to the laws.

    Args:
        job: The job.
        text: What it was read from.
    """
    report = check(job)
    hold_report(report, text)
    return report


def hold_report(report: Report, text: str) -> None:
    """Hold a report on a job in a text to the laws."""
    COUNTS["jobs checked"] += 1
    for finding in report.findings:
        assert not finding.rule.startswith("engine/"), finding.message
        if finding.position is not None:
            _hold_position(finding.position.line, finding.position.column, text)
    plain = report.as_dict()
    assert json.loads(json.dumps(plain, allow_nan=False)) == plain
    hold_outcome(Outcome("job.yaml", report), _some(text))


def hold_outcome(outcome: Outcome, forms: Iterable[str] = FORMATS) -> None:
    """Every format of an outcome is harmless, and JSON is JSON."""
    for form in forms:
        text = written(outcome, form)
        hold_texts([text.replace("\r\n", "\n") if form == "csv" else text])  # its line breaks: RFC 4180, section 2.1
        if form == "json":
            assert json.loads(text)["summary"]["files"] == 1


def _some(text: str) -> tuple[str, str]:
    """Return the text for people and one other format, chosen by the input, since all take long."""
    others = [form for form in FORMATS if form != "text"]
    return "text", others[crc32(text.encode("utf-8", "replace")) % len(others)]


def written(outcome: Outcome, form: str, left_out: Sequence[str] = ()) -> str:
    """Return one outcome in one format."""
    stream = io.StringIO()
    writer = report_writer(form, stream, installed_rules())
    tally = Tally()
    tally.add(outcome)
    writer.write(outcome)
    writer.close(Closing(tally, tuple(left_out)))
    return stream.getvalue()


def _on_paper(write: Callable[[Paper], None]) -> str:
    stream = io.StringIO()
    write(PlainPaper(stream, 100))
    return stream.getvalue()


# The verbs and the writers, each by itself, since some take long


def _read_back(job: Job, _report: Report) -> None:
    for text in (job_yaml(job), job_json(job)):
        document = load_text(text, "<text>")
        assert isinstance(document, dict)
        assert rebuilt(document, job) == job


def _planned(job: Job, _report: Report) -> None:
    found = plan(job)
    hold_texts(
        [
            _on_paper(lambda paper: plan_text(paper, "job.yaml", job, found)),
            plan_json("job.yaml", job, found, asked(job)),
        ]
    )


def _repaired(job: Job, _report: Report) -> None:
    found = repair(job)
    origin = job.origin
    if found.changes and origin is not None:
        edits = [edit for change in found.changes for edit in change.remedy.edits]
        try:
            new = edited_text(origin.text, origin.name, edits, job_document(found.job))
        except ValueError:
            new = origin.text  # documented: the text cannot hold the change
        marks_of(new, origin.name)
    shown = Shown("job.yaml", found, found.left, "")
    hold_texts([_on_paper(lambda paper: repair_text(paper, shown)), repair_json(shown)])


def _diagnosed(job: Job, _report: Report) -> None:
    found = diagnose(job)
    hold_texts([_on_paper(lambda paper: diagnosis_text(paper, "job.yaml", found)), diagnosis_json("job.yaml", found)])


def _drawn(job: Job, report: Report) -> None:
    found = drawing(Survey(job), report.findings)
    hold_texts([svg(found), mermaid(found), wiring_csv(found), _on_paper(lambda paper: wiring_text(paper, found))])


def _targets(job: Job, _report: Report) -> None:
    sheet, every = target_sheet(job), every_requirement(job)
    texts = [
        target_json("job.yaml", sheet, every),
        _on_paper(lambda paper: every_text(paper, "job.yaml", sheet, every)),
    ]
    if sheet.asked.requirement is not None:
        texts.append(_on_paper(lambda paper: target_text(paper, "job.yaml", sheet)))
    hold_texts(texts)


AFTERS: Final[Mapping[str, Callable[[Job, Report], None]]] = {
    "read back": _read_back,
    "plan": _planned,
    "repair": _repaired,
    "diagnose": _diagnosed,
    "draw": _drawn,
    "target": _targets,
}
"""What may follow a check, by name."""


def after(name: str, job: Job, report: Report) -> None:
    """Do what may follow a check."""
    COUNTS[name] += 1
    AFTERS[name](job, report)
