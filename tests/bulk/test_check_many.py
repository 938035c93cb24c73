"""Many jobs by any executor: the same outcomes in the same order as one after the other, here."""

import io
import json
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from typing import Final

import attrs
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.bulk.street import as_files, as_lines, texts
from ventrules import Acceptance, JobText, Outcome, Position, check_many, check_one, parse_job
from ventrules.bulk import Source, job_lines
from ventrules.cli.crew import Crew
from ventrules.engine.findings import Document

JOBS: Final = texts(60)
assert any(outcome.report is None for outcome in check_many(JobText(f"{n}.json", t) for n, t in enumerate(JOBS)))


def named(jobs: Iterable[str]) -> list[Source]:
    return [JobText(f"{number}.json", text) for number, text in enumerate(jobs)]


EXPECTED: Final = list(check_many(named(JOBS)))


def test_the_street_has_jobs_of_every_kind() -> None:
    assert {outcome.report is None for outcome in EXPECTED} == {True, False}
    assert {bool(outcome.report.findings) for outcome in EXPECTED if outcome.report is not None} == {True, False}


@given(st.integers(1, 70), st.integers(1, 70), st.integers(1, 3))
@settings(max_examples=6)
def test_threads_give_what_is_given_here(batch: int, ahead: int, workers: int) -> None:
    with ThreadPoolExecutor(workers) as executor:
        assert list(check_many(named(JOBS), executor=executor, batch=batch, ahead=ahead)) == EXPECTED


@pytest.mark.parametrize("workers", [1, 2])
def test_processes_give_what_is_given_here(workers: int) -> None:
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as executor:
        assert list(check_many(named(JOBS), executor=executor, batch=7)) == EXPECTED


def test_a_crew_gives_what_is_given_here() -> None:
    with Crew(2) as executor:
        assert list(check_many(named(JOBS), executor=executor, batch=7)) == EXPECTED


def test_what_is_known_already_is_passed_on_in_its_place(tmp_path: Path) -> None:
    known = Outcome("known.json")
    sources: list[Source] = [*named(JOBS[:3]), known, *named(JOBS[3:5]), tmp_path / "none.yaml"]
    with ThreadPoolExecutor(2) as executor:
        for told in (list(check_many(sources)), list(check_many(sources, executor=executor, batch=2))):
            assert told[3] == known
            assert [outcome.file for outcome in told[:3]] == ["0.json", "1.json", "2.json"]
            assert told[-1].report is None
    assert check_one(known) is known


@pytest.mark.parametrize("sizes", [{"batch": 0}, {"ahead": 0}])
def test_sizes_that_make_no_sense_are_refused_at_once(sizes: dict[str, int]) -> None:
    with ThreadPoolExecutor(1) as executor, pytest.raises(ValueError, match="at least one"):
        check_many([], executor=executor, **sizes)  # type: ignore[arg-type]


# JSON Lines


def said(outcome: Outcome) -> object:
    """What is said of a job, without names and places in files."""
    if outcome.report is None:
        return [(problem.message, problem.where, problem.kind) for problem in outcome.problems]
    return attrs.evolve(
        outcome.report,
        file="",
        findings=tuple(attrs.evolve(finding, position=None) for finding in outcome.report.findings),
        accepted=tuple(
            attrs.evolve(each, finding=attrs.evolve(each.finding, position=None)) for each in outcome.report.accepted
        ),
    )


def columns(outcome: Outcome) -> list[int | None]:
    at = [found.position for found in (outcome.report.findings if outcome.report is not None else outcome.problems)]
    return [position.column if position is not None else None for position in at]


def test_files_and_lines_of_the_same_jobs_get_the_same_findings(tmp_path: Path) -> None:
    files = as_files(tmp_path / "lane", JOBS)
    lines = as_lines(tmp_path / "lane.jsonl", JOBS)
    by_file, by_line = list(check_many(files)), list(check_many(job_lines(lines)))
    assert [said(outcome) for outcome in by_line] == [said(outcome) for outcome in by_file]
    assert [columns(outcome) for outcome in by_line] == [columns(outcome) for outcome in by_file]
    assert [(outcome.file, outcome.line) for outcome in by_line] == [
        (str(lines), number) for number in range(1, len(JOBS) + 1)
    ]
    assert {outcome.line for outcome in by_file} == {None}
    assert {outcome.report.file for outcome in by_line if outcome.report is not None} == {str(lines)}
    for outcome in by_line:
        for found in outcome.report.findings if outcome.report is not None else outcome.problems:
            assert found.position is not None
            assert (found.position.file, found.position.line) == (str(lines), outcome.line)
        assert {problem.file for problem in outcome.problems} <= {str(lines)}


def test_a_stream_is_read_as_a_file_is(tmp_path: Path) -> None:
    data = as_lines(tmp_path / "lane.jsonl", JOBS[:12]).read_bytes()
    from_stream = list(check_many(job_lines(io.BytesIO(data), name="rows")))
    assert [said(outcome) for outcome in from_stream] == [said(outcome) for outcome in EXPECTED[:12]]
    assert {outcome.file for outcome in from_stream} == {"rows"}


def test_lines_that_cannot_be_used_do_not_hide_the_others(tmp_path: Path) -> None:
    broken = [b"{", b"[1]", b"ventrules: 1", b"{ventrules: 1}", b"\xff", b'{"ventrules": 1}', b'{"a": 1, "a": 2}']
    rows = [JOBS[0].encode(), *broken, b"", JOBS[1].encode()]
    path = tmp_path / "lane.jsonl"
    path.write_bytes(b"\n".join(rows))
    first, *unusable, last = check_many(job_lines(path))
    assert [said(first), said(last)] == [said(outcome) for outcome in EXPECTED[:2]]
    assert (first.line, last.line) == (1, len(rows))
    assert [outcome.line for outcome in unusable] == list(range(2, 2 + len(broken)))
    for outcome in unusable:
        assert outcome.report is None
        assert outcome.problems
        for problem in outcome.problems:
            assert problem.file == str(path)
            assert problem.position is not None
            assert (problem.position.file, problem.position.line) == (str(path), outcome.line)


def test_a_record_is_json_and_nothing_else() -> None:
    flow = "{ventrules: 1, job: x}"
    (as_text, as_record) = (check_one(JobText("lane", flow, line=line)) for line in (None, 1))
    assert "not valid JSON" in as_record.problems[0].message
    assert "not valid JSON" not in as_text.problems[0].message


def test_catalogs_of_records_lie_beside_their_file(tmp_path: Path) -> None:
    document: dict[str, Document] = {**json.loads(JOBS[0]), "catalogs": ["demo", "own.yaml"]}
    path = as_lines(tmp_path / "lane.jsonl", ["", "", json.dumps(document)])
    (missing,) = check_many(job_lines(path))
    assert missing.report is None
    catalog = "ventrules-catalog: 1\nname: own\nmodels: {}\n"
    (tmp_path / "own.yaml").write_text(catalog + "nonsense: 1\n", encoding="utf-8")
    (faulty,) = check_many(job_lines(path))
    assert Position(str(tmp_path / "own.yaml"), 4, 1) in [problem.position for problem in faulty.problems]
    assert {problem.file for problem in faulty.problems} == {str(tmp_path / "own.yaml")}
    assert faulty.line == 3


def test_accepted_findings_of_a_record_have_its_line() -> None:
    reports = [(number, outcome.report) for number, outcome in enumerate(EXPECTED) if outcome.report is not None]
    number, rule = next((number, report.findings[0].rule) for number, report in reports if report.findings)
    document = {**json.loads(JOBS[number]), "accepted": [{"rule": rule, "reason": "known to the owner"}]}
    text = json.dumps(document)
    assert parse_job(text).accepted == (Acceptance(rule, "known to the owner"),)
    (outcome,) = check_many([JobText("lane.jsonl", text, line=7)])
    assert outcome.report is not None
    assert outcome.report.accepted
    assert {each.finding.position.line for each in outcome.report.accepted if each.finding.position} == {7}


@pytest.mark.parametrize("wrong", [{"batch": 0}, {"ahead": 0}])
def test_batches_of_nothing_are_refused_without_an_executor_too(wrong: dict[str, int]) -> None:
    with pytest.raises(ValueError, match="at least one"):
        check_many([], batch=wrong.get("batch", 1), ahead=wrong.get("ahead", 1))


def test_one_text_is_not_taken_for_a_list_of_its_letters() -> None:
    with pytest.raises(ValueError, match="put it into a list"):
        check_many("lane.jsonl")
    (alone,) = check_many(named(JOBS[:1]), only="airflow", skip="airflow/above-target")
    (listed,) = check_many(named(JOBS[:1]), only=["airflow"], skip=["airflow/above-target"])
    assert alone == listed
    assert alone.report is None or alone.report.rules_run
