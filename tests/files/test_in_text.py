"""What of a finding stands in the text: regions of words, and the difference of two texts as replacements."""

import json
import re
from itertools import pairwise
from pathlib import Path
from typing import Final

import attrs
import pytest
import yaml
from hypothesis import example, given
from hypothesis import strategies as st

from ventrules import JobText, check_one, parse_job
from ventrules.engine import Position
from ventrules.files.in_text import in_text, replacements
from ventrules.files.regions import Region, Replacement

LINES: Final = st.lists(
    st.sampled_from(["a\n", "b\n", "a b\r\n", "\n", "é\U0001f3e0\n", "c\u2028d\n", "a\r"]), max_size=8
)
TEXTS: Final = st.builds(lambda lines, end: "".join(lines) + end, LINES, st.sampled_from(["", "a", "b", "\r\n"]))


def starts(text: str) -> list[int]:
    return [0, *(match.end() for match in re.finditer("\n", text))]


def offsets(text: str, region: Region) -> tuple[int, int]:
    """Return where a region begins and ends; it has to lie in its lines."""
    lines = starts(text)
    ends = [*(at - 1 for at in lines[1:]), len(text)]
    for line, column in ((region.line, region.column), (region.end_line, region.end_column)):
        assert lines[line - 1] + column - 1 <= ends[line - 1]
    start, end = (
        lines[line - 1] + column - 1
        for line, column in ((region.line, region.column), (region.end_line, region.end_column))
    )
    assert start <= end
    return start, end


def made(text: str, found: tuple[Replacement, ...]) -> str:
    """Return a text with replacements made one after the other, each by lines and columns as they then are."""
    for each in found:
        start, end = offsets(text, each.region)
        text = text[:start] + each.text + text[end:]
    return text


@given(TEXTS, TEXTS)
@example("a\n", "a\nb\n")
@example("a\r\n", "a\r\nb\r\n")
@example("a\r\nb\r\n", "a\nb\n")
@example("", "a\n")
@example("a", "")
def test_replacements_lead_from_one_text_to_the_other(old: str, new: str) -> None:
    found = replacements(old, new)
    assert made(old, found) == new
    assert (found == ()) is (old == new)
    places = [offsets(old, each.region) for each in found]
    assert all(later[0] >= earlier[1] for later, earlier in pairwise(places))  # from the end, none over another
    at_once = old
    for (start, end), each in zip(places, found, strict=True):
        at_once = at_once[:start] + each.text + at_once[end:]
        inside = "\r\n" in (old[start - 1 : start + 1] if start else "", old[end - 1 : end + 1] if end else "")
        assert not inside  # no end of a line is torn
    assert at_once == new


def test_what_does_not_change_is_not_replaced() -> None:
    old = "".join(f"line {number}\n" for number in range(50))
    new = old.replace("line 7\n", "line seven\n").replace("line 30\n", "").replace("line 41\n", "line 41\nmore\n")
    found = replacements(old, new)
    assert [each.text for each in found] == ["more\n", "", "seven"]
    assert sum(end - start for start, end in (offsets(old, each.region) for each in found)) == len("line 30\n7")


def test_a_very_large_difference_is_one_replacement() -> None:
    old = "head\n" + "".join(f"a{number}\n" for number in range(2_500)) + "tail\n"
    new = "head\n" + "".join(f"b{number}\n" for number in range(2_500)) + "tail\n"
    found = replacements(old, new)
    assert len(found) == 1
    assert made(old, found) == new


JOB: Final = """ventrules: 1
job: Quarry Lane 2
dwelling: {floor_area: 2150 ft2, bedrooms: 3}
target: {code: us-irc-2021}
devices:
  "control":    {model: demo-control}
catalogs: [demo]
modes: {day: occupied}
"""


@pytest.mark.parametrize("odd", ["", "\u2028", "\x85", "\u2029"])
def test_lines_are_those_of_editors_whatever_the_parser_takes_for_one(odd: str) -> None:
    text = JOB.replace("Quarry Lane 2", f'"Quarry {odd} Lane 2"')
    outcome = check_one(JobText("job.yaml", text), in_text=True)
    assert outcome.report is not None
    words = set()
    for finding in outcome.report.findings:
        (stands, *_others) = outcome.in_text[finding.fingerprint]
        assert stands.region is not None
        start, end = offsets(text, stands.region)
        words.add(text[start:end])
        assert "\n" not in text[start:end]
    assert words <= {"ventrules", "target", "devices", '"control"', "modes", "day", "catalogs", "dwelling"}
    assert "devices" in words or "target" in words


def test_a_position_in_another_file_has_no_region() -> None:
    job = parse_job(JOB, name="job.yaml")
    outcome = check_one(JobText("job.yaml", JOB))
    assert outcome.report is not None
    finding = outcome.report.findings[0]
    elsewhere = attrs.evolve(finding, position=Position("other.toml", 1, 1))
    beyond = attrs.evolve(finding, position=Position("job.yaml", 99, 1))
    assert [stands.region for stands in in_text(job, [elsewhere, beyond])] == [None, None]


def test_a_job_on_a_line_of_its_own_has_its_regions_there() -> None:
    path = Path(__file__).parents[2] / "examples" / "faulty" / "filter-reminder-forgotten.yaml"
    text = json.dumps(yaml.safe_load(path.read_text(encoding="utf-8")))
    first, eighth = (check_one(JobText("jobs.jsonl", text, line=line), in_text=True).in_text for line in (1, 8))
    assert first
    for fingerprint, (stands,) in first.items():
        assert stands.fix
        assert eighth[fingerprint] == (stands.moved(7),)
        assert stands.region is not None
        assert stands.region.moved(7) == attrs.evolve(stands.region, line=8, end_line=8)
