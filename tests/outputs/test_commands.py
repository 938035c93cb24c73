"""What CI runners obey in the output of a step: none of it comes from a job, in any format."""

import attrs
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.outputs.telling import outcomes, written
from ventrules import Outcome
from ventrules.files import Problem
from ventrules.outputs import FORMATS

COMMANDS = ("::error::x", " ::add-mask::y", "##[error]x", "##vso[task.complete]x", "a ##[group]b", "x\n::warning::y")


@pytest.mark.parametrize("form", sorted(set(FORMATS) - {"annotations"}))
@settings(max_examples=max(1, settings().max_examples // 20))
@given(found=outcomes(), text=st.sampled_from(COMMANDS))
def test_no_line_is_a_command(form: str, found: list[Outcome], text: str) -> None:
    hostile = [Outcome(text, problems=(Problem(text, (text,)),))]
    for outcome in found:
        report = outcome.report
        if report is None:
            continue
        findings = tuple(
            attrs.evolve(finding, message=text, title=text, todo=f"{'word ' * 18}{text}", working=text)
            for finding in report.findings
        )
        hostile.append(attrs.evolve(outcome, file=text, report=attrs.evolve(report, job=text, findings=findings)))
    out = written(form, hostile)
    assert not any(line.lstrip().startswith("::") for line in out.split("\n"))
    assert "##[" not in out
    assert "##vso[" not in out


def test_the_lines_of_workflow_commands_are_ours_alone() -> None:
    for text in COMMANDS:
        out = written("annotations", [Outcome(text, problems=(Problem(text, (text,)),))])
        assert out.count("\n") == 1
        assert out.startswith("::error file=")
        assert "##[" not in out
        assert "##vso[" not in out
