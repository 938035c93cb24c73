"""The targets of the fuzzer: each takes the bytes of one input and holds what comes of it to the laws.

Only documented exceptions are caught, and only where they are documented; any other is a fault of the package.
"""

import atexit
import io
import json
import tempfile
from collections.abc import Callable, Mapping
from datetime import date
from functools import cache
from pathlib import Path
from typing import Final
from zlib import crc32

import attrs

from tests.fuzz.bases import CODES, JOBS, POLICY, catalog_text, code_text, document, job_text
from tests.fuzz.edits import edited, edited_lines
from tests.fuzz.feed import Feed
from tests.fuzz.laws import AFTERS, checked, hold_problems, hold_report, hold_texts, written
from tests.fuzz.laws import after as then
from ventrules import Outcome, check_many, read_policy
from ventrules import check as judged
from ventrules.bulk import JobText
from ventrules.codes import failed_examples
from ventrules.engine import RegistryError
from ventrules.engine.findings import Document
from ventrules.files import (
    CodeFileError,
    DataFileError,
    JobFileError,
    decode,
    job_document,
    parse_bus_profile,
    parse_catalog,
    parse_code,
    parse_job,
    rebuilt,
    records_in,
    to_yaml,
)
from ventrules.job import Catalog, Job, Origin
from ventrules.outputs import printable
from ventrules.outputs.code_page import code_page

_NAMES: Final = ("job.yaml", "job.json", "<text>")
_QUICK: Final = ("read back", "draw", "target")
_OWN_CODE: Final = "own.toml"


def _read(text: str, name: str) -> Job | None:
    """Return the job of a text, or None when it is refused as it should be."""
    try:
        return parse_job(text, name=name)
    except JobFileError as error:
        hold_problems(error.problems, text)
        return None


def _text(data: bytes, name: str) -> str | None:
    try:
        return decode(data, name)
    except JobFileError as error:
        hold_problems(error.problems, "")
        return None


def reader(data: bytes) -> None:
    """Bytes as a job's file: as YAML, as JSON and by what they look like."""
    for name in _NAMES:
        text = _text(data, name)
        if text is not None:
            _read(text, name)


def check(data: bytes) -> None:
    """Bytes as a job's file, checked when it is one, and one verb or writer after it."""
    text = _text(data, "<text>")
    job = _read(text, "<text>") if text is not None else None
    if job is not None:
        report = checked(job, text or "")
        then(sorted(AFTERS)[crc32(data) % len(AFTERS)], job, report)


def edit(data: bytes) -> None:
    """An example with some parts changed, so that most inputs pass the parser and many the reader."""
    feed = Feed(data)
    after = feed.below(256)
    start = document(job_text(feed.below(len(JOBS))))
    changed = edited(start, feed)
    if after & 1:
        text, name = json.dumps(changed, indent=1), "job.json"
    else:
        text, name = to_yaml(_encodable(changed)), "job.yaml"
    job = _read(text, name)
    if job is None:
        return
    report = checked(job, text)
    # Plans, repairs and diagnoses take long: one input in eight gets one.
    names = [name for name in AFTERS if name not in _QUICK] if (after >> 1) % 8 == 0 else _QUICK
    then(names[(after >> 4) % len(names)], job, report)


def _encodable(value: Document) -> Document:
    """Return a document without halves of surrogate pairs, which YAML text cannot hold."""
    if isinstance(value, dict):
        return {str(_encodable(key)): _encodable(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_encodable(inner) for inner in value]
    return value.encode("utf-8", "replace").decode() if isinstance(value, str) else value


def catalog(data: bytes) -> None:
    """A catalog with some parts changed, or the bytes themselves; then a job that uses it."""
    feed = Feed(data)
    how = feed.below(4)
    jobs = feed.below(len(JOBS))
    if how == 3:
        text = _text(feed.rest(), "catalog.yaml")
    else:
        which = int(how != 2)
        text = json.dumps(edited(document(catalog_text(which)), feed))
    if text is None:
        return
    try:
        found = parse_catalog.__wrapped__(text, "catalog.yaml")
    except JobFileError as error:
        hold_problems(error.problems, text)
        return
    if how != 3:
        _used(found, job_text(jobs))


def _used(found: Catalog, text: str) -> None:
    """Check a job with the models of another catalog."""
    job = parse_job(text)
    try:
        job = rebuilt(job_document(job), attrs.evolve(job, catalog=found))
    except JobFileError as error:
        hold_texts([str(error)])
        return
    checked(job, text)


def code(data: bytes) -> None:
    """A code file with some lines changed; then a job whose own code it is."""
    feed = Feed(data)
    jobs = feed.below(len(JOBS))
    which = feed.below(len(CODES) + 1)
    text = edited_lines(code_text(which), feed) if which < len(CODES) else _text(feed.rest(), _OWN_CODE)
    if text is None:
        return
    try:
        found = parse_code.__wrapped__(text, _OWN_CODE)
    except CodeFileError as error:
        hold_problems(error.problems, text)
        return
    failed = failed_examples(found)
    hold_texts(printable(line) for line in code_page(found).splitlines())
    if not failed:
        _judged(text, jobs)


@cache
def _with_own_code(number: int) -> Job:
    job = parse_job(job_text(number))
    return attrs.evolve(job, target=attrs.evolve(job.target, airflow=None, window=None, code=_OWN_CODE))


def _judged(text: str, number: int) -> None:
    job = attrs.evolve(_with_own_code(number), code_file=Origin(_OWN_CODE, text))
    report = checked(job, job_text(number))
    then("target", job, report)


def bus(data: bytes) -> None:
    """Bytes as the profile of a bus."""
    text = _text(data, "bus.toml")
    if text is None:
        return
    try:
        parse_bus_profile(text, "bus.toml")
    except DataFileError as error:
        hold_texts([str(error)])


@cache
def _folder() -> Path:
    """Return a folder of this process's own, which is taken away with it."""
    held = tempfile.TemporaryDirectory(prefix="fuzz-")
    atexit.register(held.cleanup)
    return Path(held.name)


def policy(data: bytes) -> None:
    """A policy file with some lines changed, or the bytes themselves; then a job judged by it."""
    feed = Feed(data)
    jobs, how = feed.below(len(JOBS)), feed.below(4)
    path = _folder() / ".ventrules.toml"
    path.write_bytes(feed.rest() if how == 3 else edited_lines(POLICY, feed).encode("utf-8", "replace"))
    try:
        found = read_policy(path)
    except JobFileError as error:
        hold_problems(error.problems, path.read_bytes().decode("utf-8", "replace"))
        return
    try:
        report = judged(parse_job(job_text(jobs), name="jobs/job.yaml"), policy=found, today=date(2026, 7, 1))
    except RegistryError as error:
        hold_texts([str(error)])
        return
    hold_texts([written(Outcome("jobs/job.yaml", report), "text")])


def lines(data: bytes) -> None:
    """Bytes as a file with a job a line; or lines made of an example with some parts changed."""
    feed = Feed(data)
    if feed.below(2):
        text = feed.rest()
    else:
        start = document(job_text(feed.below(len(JOBS))))
        text = b"\n".join(json.dumps(edited(start, feed)).encode() for _line in range(1 + feed.below(3)))
    whole = text.decode("utf-8", "replace")
    records = list(records_in(io.BytesIO(text), "jobs.jsonl"))
    for each in records:
        if each.problem is not None:
            hold_problems((each.problem,), whole)
    sources = [JobText("jobs.jsonl", each.text, line=each.line) for each in records if each.problem is None]
    for outcome in check_many(sources):
        if outcome.report is None:
            hold_problems(outcome.problems, whole)
        else:
            hold_report(outcome.report, whole)


TARGETS: Final[Mapping[str, Callable[[bytes], None]]] = {
    "reader": reader,
    "check": check,
    "edit": edit,
    "catalog": catalog,
    "code": code,
    "bus": bus,
    "policy": policy,
    "lines": lines,
}
"""Every target by name."""
