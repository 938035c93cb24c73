"""All formats tell the same: the same findings, in the same order, as they stand in the outcomes."""

import re
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.outputs.telling import (
    Said,
    in_annotations,
    in_csv,
    in_json,
    in_junit,
    in_sarif,
    outcomes,
    written,
)
from ventrules import Outcome
from ventrules.outputs import FORMATS, Failing
from ventrules.outputs.told import told


def said_by(found: list[Outcome]) -> list[Said]:
    """What the outcomes hold, by themselves."""
    every = []
    for outcome in found:
        for problem in outcome.problems:
            line = str(problem.position.line) if problem.position else ""
            every.append(Said(outcome.file, "engine/unusable-file", "unusable", line))
        if outcome.report is None:
            continue
        findings = [(finding, "unchecked" if finding.unchecked else "found") for finding in outcome.report.findings]
        findings += [(accepted.finding, "accepted") for accepted in outcome.report.accepted]
        for finding, standing in findings:
            line = str(finding.position.line) if finding.position else ""
            every.append(Said(outcome.file, finding.rule, standing, line))
    return every


@settings(max_examples=settings().max_examples // 3)
@given(outcomes())
def test_every_format_tells_the_same_findings_in_the_same_order(found: list[Outcome]) -> None:
    expected = said_by(found)
    assert in_json(written("json", found)) == expected
    assert in_csv(written("csv", found)) == expected
    assert in_junit(written("junit", found)) == expected
    in_log = in_sarif(written("sarif", found))
    assert [one._replace(line="") for one in in_log] == [one._replace(line="") for one in expected]
    lines = [outcome.line for outcome in found for _one in told(outcome)]
    for one, other, record in zip(in_log, expected, lines, strict=True):  # a record has its line where nothing else has
        assert one.line == (other.line or str(record or ""))
    noted = in_annotations(written("annotations", found))
    asking = [(one, record) for one, record in zip(expected, lines, strict=True) if one.standing != "accepted"]
    assert noted == [one._replace(line=one.line or str(record or "")) for one, record in asking]


@settings(max_examples=settings().max_examples // 5)
@given(outcomes())
def test_markdown_and_text_count_what_the_others_tell(found: list[Outcome]) -> None:
    counts = Counter(one.standing for one in said_by(found))
    markdown, text = written("markdown", found), written("text", found)
    assert markdown.count("\n- **not checked** ") == counts["unchecked"]
    assert markdown.count("\n- **cannot be used** ") == counts["unusable"]
    assert len(re.findall(r"\n- \*\*(?:error|warning|advice)\*\* ", markdown)) == counts["found"]
    stand = markdown.partition("### Let stand")[2]
    assert len(re.findall(r"^\| `", stand, re.MULTILINE)) == counts["accepted"]
    assert text.count("\n    Rule     ") == counts["found"] + counts["unchecked"]
    let_stand = sum(int(number) for number in re.findall(r", (\d+) findings? let stand$", text, re.MULTILINE))
    assert let_stand == counts["accepted"]


@settings(max_examples=settings().max_examples // 5)
@given(outcomes(), st.sampled_from(sorted(FORMATS)))
def test_what_is_written_of_a_job_does_not_depend_on_the_jobs_around_it(found: list[Outcome], form: str) -> None:
    """Streaming: a prefix of the outcomes gives a prefix of the text, up to what stands at the end."""
    if form == "markdown":  # it holds what it writes until the end, since counts come first
        return
    whole = written(form, found)
    for number in range(len(found)):
        part = written(form, found[:number])
        kept = next((at for at, (one, other) in enumerate(zip(part, whole, strict=False)) if one != other), len(part))
        assert len(part) - kept < 800  # the end: what all outcomes come to


@pytest.mark.parametrize("form", sorted(FORMATS))
@settings(max_examples=max(1, settings().max_examples // 20))
@given(found=outcomes())
def test_only_junit_asks_what_makes_a_check_fail(form: str, found: list[Outcome]) -> None:
    lenient = written(form, found, failing=Failing(frozenset(), unchecked=False))
    strict = written(form, found, failing=Failing(unchecked=True))
    if form != "junit":
        assert lenient == strict
    else:
        assert 'failure type="' not in lenient
