"""Texts that would take all time and memory: small ones here, whole ones with `python -m tests.hostile`."""

import pytest

from tests.hostile.__main__ import came_of
from tests.hostile.bombs import ALL
from ventrules import JobFileError, check, job_from_document, parse_job
from ventrules.engine.findings import Document
from ventrules.files import CodeFileError, DocumentError, load_text, parse_catalog, parse_code
from ventrules.files.bounds import LONGEST_TEXT, MOST_IN_JOB, MOST_MODES, MOST_PROBLEMS, MOST_VALUES
from ventrules.files.toml_text import DEEPEST, LARGEST_CHARACTERS, load_toml

_SIZE = 3_000
_BASE: dict[str, Document] = {
    "ventrules": 1,
    "job": "Quarry Lane 7",
    "dwelling": {"floor_area": "200 m2", "bedrooms": 3},
    "target": {"code": "us-irc-2021"},
    "devices": {},
}


@pytest.mark.parametrize("name", ALL)
def test_a_bomb_is_checked_or_refused_by_the_documented_errors(name: str) -> None:
    assert came_of(name, ALL[name](_SIZE))


# The bounds, each at its edge


def said(text: str) -> str:
    with pytest.raises(JobFileError) as caught:
        parse_job(text, name="job.json")
    return str(caught.value)


def test_a_file_may_hold_so_many_values_and_no_more() -> None:
    for text, name in (("[" + "0," * (MOST_VALUES - 2) + "0]", "x.json"), ("- 0\n" * (MOST_VALUES - 1), "x.yaml")):
        assert len(load_text(text, name)) == MOST_VALUES - 1  # type: ignore[arg-type]
    for text, name in (("[" + "0," * MOST_VALUES + "0]", "x.json"), ("- 0\n" * MOST_VALUES, "x.yaml")):
        with pytest.raises(DocumentError, match="more than 200,000 values"):
            load_text(text, name)
    quoted = '["' + ",[{" * MOST_VALUES + '"]'  # what stands within quotes is no value
    assert load_text(quoted, "x.json") == [",[{" * MOST_VALUES]


def test_a_job_may_hold_so_many_values_and_no_more() -> None:
    most: list[Document] = [None] * (MOST_IN_JOB - 9)  # the values above, and this one
    with pytest.raises(JobFileError) as caught:
        job_from_document({**_BASE, "catalogs": most})
    assert "more than" not in str(caught.value)
    with pytest.raises(JobFileError, match="more than 20,000 values in one job"):
        job_from_document({**_BASE, "catalogs": [*most, None]})


def test_a_job_may_have_so_many_modes_and_no_more() -> None:
    modes: dict[str, Document] = {f"mode {number}": "occupied" for number in range(MOST_MODES)}
    assert len(job_from_document({**_BASE, "modes": modes}).modes) == MOST_MODES
    with pytest.raises(JobFileError, match="more than 1,000 modes in one job"):
        job_from_document({**_BASE, "modes": {**modes, "one more": "standby"}})


def test_no_more_problems_are_told_than_anybody_reads() -> None:
    with pytest.raises(JobFileError) as caught:
        job_from_document({**_BASE, **{f"key {number}": 1 for number in range(MOST_PROBLEMS + 5)}})
    assert len(caught.value.problems) == MOST_PROBLEMS + 1
    assert "1,000 problems or more; not all of them are told" in str(caught.value)


def test_data_that_holds_itself_is_refused() -> None:
    mapping: dict[str, Document] = {}
    mapping["a"] = mapping
    several: list[Document] = []
    several.append(several)
    for value in (mapping, several):
        with pytest.raises(JobFileError, match="more than 20,000 values in one job"):
            job_from_document({**_BASE, "notes": value})


def test_a_text_may_be_so_long_and_no_longer() -> None:
    assert job_from_document({**_BASE, "notes": "x" * LONGEST_TEXT}).notes
    for more in ({"notes": "x" * (LONGEST_TEXT + 1)}, {"x" * (LONGEST_TEXT + 1): 1}):
        with pytest.raises(JobFileError, match="a text of more than 20,000 characters in one job"):
            job_from_document({**_BASE, **more})
    with pytest.raises(JobFileError, match="a text of more than 20,000 characters in one catalog"):
        parse_catalog(f"ventrules-catalog: 1\ncatalog: {'x' * (LONGEST_TEXT + 1)}", "own.yaml")


def test_nesting_too_deep_is_refused_at_its_place() -> None:
    assert said('{\n"a": ' + "[" * 100_000) == "job.json:2:69: nested too deeply"


def test_limits_of_toml() -> None:
    assert load_toml("a." * (DEEPEST - 1) + "a = 1")
    for text in ("a." * DEEPEST + "a = 1", "[" + '"a" . ' * DEEPEST + "a]", "x = {" + "'a'.b." * DEEPEST + "c = 1}"):
        with pytest.raises(DocumentError, match="nested too deep"):
            load_toml(text)
    assert load_toml(f"a = '{'x' * (LARGEST_CHARACTERS - 6)}'")
    with pytest.raises(CodeFileError, match="longer than 256 KiB"):
        parse_code("#" * (LARGEST_CHARACTERS + 1), "own.toml")
    with pytest.raises(CodeFileError, match="not valid TOML: Exceeds the limit"):
        parse_code(f"a = {'1' * 5000}", "own.toml")
    with pytest.raises(DocumentError) as caught:
        load_toml("a = 1\nb = [\n")
    assert (caught.value.line, caught.value.column) == (3, 1)


@pytest.mark.parametrize(("ventilators", "modes", "offered"), [(20, 9, True), (20, 10, False), (101, 1, False)])
def test_a_job_of_very_many_parts_gets_findings_without_remedies(ventilators: int, modes: int, offered: bool) -> None:
    inverted: Document = {"off_at_or_below": "90 degF", "off_at_or_above": "10 degF"}
    document: dict[str, Document] = {
        **_BASE,
        "catalogs": ["demo"],
        "target": {"airflow": "50 cfm", "window": "4 h"},
        "devices": {f"unit {number}": {"model": "demo-erv-130"} for number in range(ventilators)},
        "modes": {f"mode {number}": "occupied" for number in range(modes)},
        "settings": {f"unit {number}": {"outdoor_limits": inverted} for number in range(ventilators)},
    }
    report = check(job_from_document(document))
    assert len(report.findings) > ventilators
    assert any(finding.remedy is not None for finding in report.findings) is offered
