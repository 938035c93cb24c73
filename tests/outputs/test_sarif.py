"""SARIF: the OASIS schema, what the standard asks besides, and remedies that others can apply.

Sections are those of SARIF 2.1.0, OASIS Standard.
"""

import json
import re
from pathlib import Path
from typing import Any, Final
from urllib.parse import unquote, urlsplit

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.outputs.telling import documents, let_stand, outcomes, written
from ventrules import JobText, Outcome, check_many, check_one, installed_rules
from ventrules.engine import ENGINE_FINDINGS
from ventrules.files import to_yaml
from ventrules.outputs.sarif_places import artifact, message_text

ROOT: Final = Path(__file__).parents[2]
SCHEMA: Final = json.loads((ROOT / "tests" / "schemas" / "sarif-schema-2.1.0.json").read_bytes())
VALIDATOR: Final = jsonschema.Draft7Validator(SCHEMA, format_checker=jsonschema.Draft7Validator.FORMAT_CHECKER)
FAULTY: Final = sorted((ROOT / "examples" / "faulty").glob("*.*"))
BROKEN: Final = sorted((ROOT / "examples" / "broken").glob("*.*"))


def log(found: list[Outcome], *, interrupted: bool = False) -> Any:
    return json.loads(written("sarif", found, interrupted=interrupted))


def by_file(found: list[Outcome]) -> list[tuple[str, Any]]:
    """Return each result with the text of its file, files that could not be used left out."""
    pairs = []
    texts = {artifact(one.file)["uri"]: Path(one.file).read_text(encoding="utf-8-sig") for one in found if one.report}
    for result in log(found)["runs"][0]["results"]:
        uri = result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"]
        if uri in texts:
            pairs.append((texts[uri], result))
    return pairs


@pytest.fixture(scope="module")
def examples() -> list[Outcome]:
    return list(check_many([*FAULTY, *BROKEN], in_text=True))


def assert_valid(data: Any) -> None:
    VALIDATOR.validate(data)
    (run,) = data["runs"]
    rules = run["tool"]["driver"]["rules"]
    assert len({rule["id"] for rule in rules}) == len(rules)
    for result in run["results"]:
        assert result["kind"] in ("fail", "open")
        assert (result["level"] == "none") is (result["kind"] != "fail")  # 3.27.10
        if "ruleIndex" in result:
            assert rules[result["ruleIndex"]]["id"] == result["ruleId"]  # 3.27.6
        locations = [*result["locations"], *result.get("relatedLocations", [])]
        for location in locations:
            address = location["physicalLocation"]["artifactLocation"]
            parts = urlsplit(address["uri"])
            assert (parts.scheme == "") is (address.get("uriBaseId") in run["originalUriBaseIds"])  # 3.4.4
            assert re.fullmatch(r"(?:[A-Za-z0-9._~/:!$&'()*+,;=@-]|%[0-9A-F]{2})+", address["uri"])  # RFC 3986
        ids = [location["id"] for location in result.get("relatedLocations", [])]
        assert ids == list(range(1, len(ids) + 1))  # 3.28.2: unique within the result
    assert run["columnKind"] == "unicodeCodePoints"


# What holds for every log


def test_the_schema_refuses_what_is_no_log(examples: list[Outcome]) -> None:
    data = log(examples[:1])
    changes: list[dict[str, Any]] = [{"version": "2.0.0"}, {"runs": [{"results": []}]}, {"surplus": 1}]
    for change in changes:
        assert not VALIDATOR.is_valid(data | change)


def test_the_log_of_all_examples_is_valid(examples: list[Outcome]) -> None:
    data = log(examples)
    assert_valid(data)
    (run,) = data["runs"]
    assert len(run["results"]) > len(FAULTY)
    assert {result["level"] for result in run["results"]} == {"error", "warning", "note", "none"}


@settings(max_examples=settings().max_examples // 5)
@given(outcomes(), st.booleans())
def test_every_log_is_valid(found: list[Outcome], interrupted: bool) -> None:
    assert_valid(log(found, interrupted=interrupted))


def test_a_result_stands_on_a_line_of_its_own(examples: list[Outcome]) -> None:
    text = written("sarif", examples)
    lines = [line for line in text.split("\n") if line.startswith('{"ruleId"')]
    assert len(lines) == len(log(examples)["runs"][0]["results"])
    assert text.isascii()


def test_without_findings_there_is_an_empty_list_and_not_nothing() -> None:
    """Section 3.14.23: results that are absent mean that no check was made."""
    (run,) = log([])["runs"]
    assert run["results"] == []
    assert run["invocations"] == [{"executionSuccessful": True, "exitCode": 1}]


def test_a_run_that_was_not_whole_says_so(examples: list[Outcome]) -> None:
    broken = [outcome for outcome in examples if outcome.report is None]
    (interrupted,) = log([], interrupted=True)["runs"][0]["invocations"]
    (unusable,) = log(broken)["runs"][0]["invocations"]
    assert not interrupted["executionSuccessful"]
    assert interrupted["toolExecutionNotifications"][0]["level"] == "error"
    assert not unusable["executionSuccessful"]


# Rules


def test_every_rule_is_described_whether_it_found_anything_or_not() -> None:
    rules = {rule["id"]: rule for rule in log([])["runs"][0]["tool"]["driver"]["rules"]}
    assert rules.keys() == {rule.id for rule in installed_rules()} | ENGINE_FINDINGS.keys()
    levels = {"error": "error", "warning": "warning", "advice": "note"}
    for rule in installed_rules():
        described = rules[rule.id]
        assert described["defaultConfiguration"]["level"] == levels[rule.severity.value]
        assert described["shortDescription"]["text"] == f"{rule.title}."
        assert described["help"]["markdown"].startswith(f"# {rule.id}\n")
        assert str(rule.basis) in described["help"]["text"]
        assert described["properties"]["tags"] == [rule.family]
    assert len({rule["name"] for rule in rules.values()}) == len(rules)


# Places


def test_regions_begin_and_end_where_their_words_do(examples: list[Outcome]) -> None:
    """They are cut out of the file by line and column, in code points; a place is a key, an item or what is above."""
    words, items = 0, 0
    for text, result in by_file(examples):
        for location in [*result["locations"], *result.get("relatedLocations", [])]:
            region = location["physicalLocation"]["region"]
            steps = location.get("logicalLocations", [{}])[0].get("fullyQualifiedName", "").split("/")
            said = cut(text, region).strip("\"'")
            assert said
            if said == steps[-1].replace("~1", "/").replace("~0", "~"):
                words += 1
            elif steps[-1].isdigit():
                assert said.startswith(("{", "from"))
                items += 1
    assert words > 60
    assert items > 10


def cut(text: str, region: dict[str, int]) -> str:
    """Return the text of a region, by section 3.30: columns from 1, the end after the last character."""
    lines = re.split(r"(?<=\n)", text)
    first, last = region["startLine"], region.get("endLine", region["startLine"])
    assert 1 <= first <= last <= len(lines)
    end_column = region.get("endColumn", len(lines[last - 1].rstrip("\r\n")) + 1)
    assert 1 <= region["startColumn"] <= len(lines[first - 1]) + 1
    assert 1 <= end_column <= len(lines[last - 1]) + 1
    whole = "".join(lines[first - 1 : last])
    return whole[region["startColumn"] - 1 : len(whole) - len(lines[last - 1]) + end_column - 1]


def test_columns_count_code_points() -> None:
    text = "ventrules: 1\njob: {\U0001f3e0: 1, modes: 2}\n"
    (outcome,) = [check_one(JobText("x.yaml", text), in_text=True)]
    assert outcome.report is None
    document = json.loads((ROOT / "examples" / "faulty" / "worst-window-too-low.json").read_bytes())
    line = json.dumps({"notes": "\U0001f3e0" * 9} | document, ensure_ascii=False)
    found = check_one(JobText("x", line, line=7), in_text=True)
    (result,) = log([found])["runs"][0]["results"]
    region = result["locations"][0]["physicalLocation"]["region"]
    assert region["startLine"] == region["endLine"] == 7
    assert line[region["startColumn"] - 1 : region["endColumn"] - 1] == '"calendar"'


@pytest.mark.parametrize(
    ("name", "uri"),
    [
        ("jobs/number 2.yaml", "jobs/number%202.yaml"),
        ("./jobs//x.yaml", "jobs/x.yaml"),
        ("a:b.yaml", "a%3Ab.yaml"),
        ("Käsmu/家.yaml", "K%C3%A4smu/%E5%AE%B6.yaml"),
        ("50%#1?.yaml", "50%25%231%3F.yaml"),
        ("odd\udcff.yaml", "odd%FF.yaml"),
        ("<standard input>", "%3Cstandard%20input%3E"),
        ("", "%3Ctext%3E"),
    ],
)
def test_a_relative_path_becomes_a_uri_from_where_the_command_runs(name: str, uri: str) -> None:
    assert artifact(name) == {"uri": uri, "uriBaseId": "%SRCROOT%"}


def test_a_path_that_leads_out_of_the_folder_is_absolute(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "in").mkdir()
    monkeypatch.chdir(tmp_path / "in")
    assert artifact(str(tmp_path / "x y.yaml")) == {"uri": f"{tmp_path.as_uri()}/x%20y.yaml"}
    assert artifact("../x.yaml") == {"uri": f"{tmp_path.resolve().as_uri()}/x.yaml"}
    assert artifact("../in/x.yaml") == {"uri": "x.yaml", "uriBaseId": "%SRCROOT%"}


def test_text_that_looks_like_a_link_is_none() -> None:
    """Section 3.11.6: `[words](address)` in a message is a link; brackets with a backslash before them are text."""
    assert message_text("see [here](http://192.0.2.1)") == r"see \[here\](http://192.0.2.1)"
    assert message_text("sizes [1, 2] and (3)") == "sizes [1, 2] and (3)"


# Fingerprints


@settings(max_examples=settings().max_examples // 5)
@given(documents(), st.sampled_from(["# a comment\n\n", "\n\n\n", "---\n"]), st.text("abc ", max_size=9))
def test_fingerprints_survive_edits_elsewhere(document: dict[str, Any], before: str, notes: str) -> None:
    def prints(text: str) -> list[tuple[str, str]]:
        results = log([check_one(JobText("job.yaml", text))])["runs"][0]["results"]
        return sorted((result["ruleId"], json.dumps(result["partialFingerprints"])) for result in results)

    other = dict(reversed(document.items())) | {"notes": notes, "job": f"another {notes}"}
    assert prints(before + to_yaml(other)) == prints(to_yaml(document))


def test_jobs_in_one_file_have_fingerprints_of_their_own() -> None:
    document = json.loads((ROOT / "examples" / "faulty" / "worst-window-too-low.json").read_bytes())
    found = [
        check_one(JobText("jobs.jsonl", json.dumps(document | {"job": f"Quarry Lane {number}"}), line=line))
        for number, line in ((1, 1), (2, 2), (2, 9))
    ]
    one, other, moved = (result["partialFingerprints"] for result in log(found)["runs"][0]["results"])
    assert one != other == moved


# What is let stand


def test_what_is_let_stand_is_suppressed_with_its_reason(examples: list[Outcome]) -> None:
    """Section 3.35: in the job it is in source, in policy and baseline external."""
    drawn = iter([0.9, 0.9, 0.1, 0.9, 0.9] * 900)
    stands = [let_stand(outcome, lambda: next(drawn)) for outcome in examples]
    results = log(stands)["runs"][0]["results"]
    suppressed = [one for result in results for one in result.get("suppressions", [])]
    assert len(suppressed) > 5
    for one in suppressed:
        assert one["kind"] == ("inSource" if one["properties"]["by"] == "job" else "external")
        assert one["justification"]


# Fixes


def applied(text: str, fix: dict[str, Any], *, at_once: bool) -> str:
    """Apply a fix as a reader of the standard would: replacements one after the other, or all at once."""
    (change,) = fix["artifactChanges"]
    lines = [0, *(match.end() for match in re.finditer("\n", text))]

    def offset(line: int, column: int) -> int:
        return lines[line - 1] + column - 1

    pieces = []
    for each in change["replacements"]:
        region = each["deletedRegion"]
        start = offset(region["startLine"], region["startColumn"])
        end = offset(region["endLine"], region["endColumn"])
        assert 0 <= start <= end <= len(text)
        new = each.get("insertedContent", {}).get("text", "")
        pieces.append((start, end, new))
        if not at_once:
            text = text[:start] + new + text[end:]
            lines = [0, *(match.end() for match in re.finditer("\n", text))]
    for start, end, new in sorted(pieces, reverse=True) if at_once else []:
        text = text[:start] + new + text[end:]
    return text


def test_a_fix_that_another_program_applies_takes_its_finding_away(examples: list[Outcome]) -> None:
    fixed = 0
    for text, result in by_file(examples):
        for fix in result.get("fixes", []):
            assert fix["description"]["text"]
            mended = applied(text, fix, at_once=False)
            assert mended == applied(text, fix, at_once=True)
            after = check_one(JobText("mended", mended, folder=FAULTY[0].parent), only=(result["ruleId"],))
            assert after.report is not None
            left = {finding.fingerprint for finding in after.report.findings}
            assert result["partialFingerprints"]["ventrules/finding/v1"] not in left
            fixed += 1
    offered = [finding for outcome in examples if outcome.report for finding in outcome.report.findings]
    assert fixed == sum(finding.remedy is not None for finding in offered) > 40


@settings(max_examples=settings().max_examples // 10)
@given(documents(), st.sampled_from(["yaml", "json", "lines"]))
def test_fixes_of_any_job_take_their_findings_away(document: dict[str, Any], form: str) -> None:
    text = to_yaml(document) if form == "yaml" else json.dumps(document, indent=None if form == "lines" else 2)
    outcome = check_one(JobText(f"job.{form}", text, line=1 if form == "lines" else None), in_text=True)
    for result in log([outcome])["runs"][0]["results"]:
        for fix in result.get("fixes", []):
            after = check_one(JobText(outcome.file, applied(text, fix, at_once=False)))
            assert after.report is not None
            left = {finding.fingerprint for finding in after.report.findings}
            assert result["partialFingerprints"]["ventrules/finding/v1"] not in left


def test_without_the_text_there_are_places_and_no_fixes(examples: list[Outcome]) -> None:
    file = examples[0].file
    lean = log([check_one(file)])["runs"][0]["results"]
    full = log([check_one(file, in_text=True)])["runs"][0]["results"]
    assert "fixes" in full[0]
    assert "fixes" not in lean[0]
    where = [results[0]["locations"][0]["physicalLocation"]["region"] for results in (lean, full)]
    assert where[0].items() <= where[1].items()


def test_the_name_of_a_file_comes_back_from_its_uri() -> None:
    for name in ("a b/ü:%.yaml", "[x](y).json"):
        assert unquote(str(artifact(name)["uri"])) == name
