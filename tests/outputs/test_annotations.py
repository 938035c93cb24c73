"""Workflow commands: one line for each finding, and nothing that a name could add."""

from pathlib import Path
from typing import Final

import attrs
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.outputs.telling import COMMAND, in_annotations, outcomes, reports, written
from ventrules import JobText, Outcome, Position, check_one

EXAMPLES: Final = Path(__file__).parents[2] / "examples"


def test_one_finding_is_one_command_with_file_line_column_and_title() -> None:
    found = [check_one(EXAMPLES / "faulty" / "too-little-air-in-winter.yaml")]
    text = written("annotations", found)
    file = str(EXAMPLES / "faulty" / "too-little-air-in-winter.yaml")
    assert text.startswith(f"::error file={file},line=32,col=13,title=airflow/below-target::A mode delivers less ")
    assert "%0ATo do: Raise the program by 7.84 cfm" in text
    assert text.count("\n") == 1


def test_severities_have_commands_of_their_own() -> None:
    for name, command in (
        ("limits-inverted.yaml", "error"),
        ("filter-reminder-too-long.yaml", "warning"),
        ("far-more-air-than-asked.yaml", "notice"),
        ("no-calendar.yaml", "notice"),
    ):
        (line,) = written("annotations", [check_one(EXAMPLES / "faulty" / name)]).splitlines()
        assert line.startswith(f"::{command} ")


def test_where_there_is_nothing_to_say_nothing_is_written() -> None:
    assert written("annotations", [check_one(EXAMPLES / "sound" / "number-02.yaml")]) == ""


@settings(max_examples=settings().max_examples // 10)
@given(outcomes(), st.text(min_size=1), st.text())
def test_no_name_ends_a_command_or_begins_another(found: list[Outcome], file: str, message: str) -> None:
    """Whatever a file is called and a finding says, there is a line for each, and it holds one command."""
    hostile = []
    for outcome in found:
        report = outcome.report
        if report is None:
            continue
        findings = tuple(
            attrs.evolve(finding, message=message, title=message, position=Position(file, 1, 1))
            for finding in report.findings
        )
        hostile.append(attrs.evolve(outcome, report=attrs.evolve(report, findings=findings)))
    text = written("annotations", hostile)
    lines = text.split("\n")[:-1]
    assert len(lines) == sum(len(report.findings) for report in reports(hostile))
    assert all(COMMAND.fullmatch(line) for line in lines)
    assert all(said.line == "1" for said in in_annotations(text))


def test_a_comma_and_a_colon_in_a_name_stay_in_the_name() -> None:
    found = check_one(JobText("a,line=9:b%2C.yaml", "job: ["))
    (said,) = in_annotations(written("annotations", [found]))
    assert said.file == "a,line=9:b%2C.yaml"


def test_a_run_that_was_stopped_is_an_error() -> None:
    assert written("annotations", [], interrupted=True).startswith("::error title=ventrules::Stopped ")
