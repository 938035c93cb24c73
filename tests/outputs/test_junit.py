"""JUnit XML: a published schema, a consumer's parser, and text that XML could not hold."""

import io
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Final

import attrs
import pytest
import xmlschema
from hypothesis import given, settings
from hypothesis import strategies as st
from junitparser import JUnitXml, TestSuite

from tests.outputs.telling import outcomes, reports, written
from ventrules import JobText, Outcome, check_many, check_one
from ventrules.outputs import Failing

ROOT: Final = Path(__file__).parents[2]
SCHEMA: Final = xmlschema.XMLSchema(str(ROOT / "tests" / "schemas" / "junit-10.xsd"))
SOUND: Final = ROOT / "examples" / "sound" / "number-02.yaml"


def suites(text: str) -> list[TestSuite]:
    return list(JUnitXml.fromstring(text.encode()))


def tree(text: str) -> ET.Element:
    return ET.parse(io.StringIO(text)).getroot()  # noqa: S314 - what our own writer made


@settings(max_examples=settings().max_examples // 6)
@given(outcomes(), st.booleans(), st.booleans())
def test_every_file_satisfies_the_schema(found: list[Outcome], interrupted: bool, unchecked: bool) -> None:
    text = written("junit", found, failing=Failing(unchecked=unchecked), interrupted=interrupted)
    SCHEMA.validate(text)
    assert text.isascii()


def test_the_schema_refuses_what_is_none() -> None:
    text = written("junit", [check_one(SOUND)])
    for old, new in (('tests="1"', 'tasks="1"'), ("<testcase", "<trial"), (' name="checked"', "")):
        assert old in text
        assert not SCHEMA.is_valid(text.replace(old, new, 1))


@settings(max_examples=settings().max_examples // 5)
@given(outcomes(), st.booleans())
def test_a_parser_counts_what_the_suites_say(found: list[Outcome], unchecked: bool) -> None:
    failing = Failing(unchecked=unchecked)
    parsed = suites(written("junit", found, failing=failing))
    said = [(suite.tests, suite.failures, suite.errors, suite.skipped) for suite in parsed]
    for suite in parsed:
        suite.update_statistics()  # type: ignore[no-untyped-call]  # the library's
    assert said == [(suite.tests, suite.failures, suite.errors, suite.skipped) for suite in parsed]
    fails = sum(failing.fails(finding) for report in reports(found) for finding in report.findings)
    assert sum(suite.failures for suite in parsed) == fails
    assert sum(suite.errors for suite in parsed) == sum(len(outcome.problems) for outcome in found)
    assert len(parsed) == len(found)


def test_a_clean_job_is_one_test_that_passed() -> None:
    (suite,) = suites(written("junit", [check_one(SOUND)]))
    (case,) = suite
    assert (case.name, case.classname, case.result) == ("checked", str(SOUND), [])
    assert 'name="job" value="Quarry Lane 2"' in written("junit", [check_one(SOUND)])


def test_below_the_threshold_a_finding_is_a_test_that_passed_and_tells_what_was_found() -> None:
    found = [check_one(ROOT / "examples" / "faulty" / "filter-reminder-too-long.yaml")]
    (case,) = (case for case in suites(written("junit", found))[0] if case.name != "checked")
    assert case.result == []
    assert "To do: " in str(case.system_out)
    strict = Failing(frozenset(finding.severity for report in reports(found) for finding in report.findings))
    (case,) = (case for case in suites(written("junit", found, failing=strict))[0] if case.name != "checked")
    assert case.result[0].type == "upkeep/filter-interval-out-of-range"


def test_names_of_test_cases_are_their_own() -> None:
    found = list(check_many(sorted((ROOT / "examples" / "faulty").glob("*.yaml"))))
    reported = [(one, one.report) for one in found if one.report is not None]
    twice = [attrs.evolve(one, report=attrs.evolve(told, findings=told.findings * 2)) for one, told in reported]
    for suite in suites(written("junit", twice)):
        names = [case.name for case in suite]
        assert len(set(names)) == len(names) > 2


@settings(max_examples=settings().max_examples // 4)
@given(st.text(min_size=1), st.text())
def test_no_text_breaks_out_of_the_xml(name: str, title: str) -> None:
    text = written("junit", [check_one(JobText(name, f"ventrules: 1\njob: {title!r}\n{name!r}: 1\n"))])
    root = tree(text)
    assert [suite.tag for suite in root] == ["testsuite"]
    assert {child.tag for child in root.iter()} <= {"testsuites", "testsuite", "testcase", "error"}
    SCHEMA.validate(text)


def test_a_run_that_was_stopped_is_an_error() -> None:
    (suite,) = suites(written("junit", [], interrupted=True))
    assert (suite.name, suite.errors) == ("ventrules", 1)


@pytest.mark.parametrize("text", ["]]>", "<!--", "&amp;", "\"'", "\x00\x0b\ufffe", "\ud800", "a\nb\tc"])
def test_hostile_text_comes_back_legible(text: str) -> None:
    root = tree(written("junit", [Outcome(f"lane {text}")]))
    name = root[0].attrib["name"]
    shown = "".join(char if char.isprintable() else f"\\u{ord(char):04x}" for char in text)
    assert name == f"lane {shown}"
