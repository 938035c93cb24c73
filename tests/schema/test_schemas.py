"""The published schemas: valid, whole, published as they are made, and true of what is read and written."""

import json
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import jsonschema_rs
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

import ventrules
from tests.cli.running import BROKEN, FAULTY, SOUND, as_json, invoke
from tests.schema.documents import IN_TOML, PROBLEMS, TEXTS, at, job_problems, valid
from tests.schema.sound import ROOT, data, demo, examples, packaged_toml
from ventrules.engine.findings import Document
from ventrules.files import ProblemKind, job_document, job_from_document, load_text, parse_job
from ventrules.files.resources import bus_profile_names, code_names
from ventrules.files.schema_bonds import BONDS
from ventrules.files.schema_words import (
    DATE,
    DAYS,
    FILE_PATTERN,
    GROUPS,
    NAME,
    PLACE,
    SAYS_SOMETHING,
    SOME_PATH,
    TIME,
    matches,
)
from ventrules.job import Occupancy, Season
from ventrules.outputs.schemas import FORMATS, schema_text
from ventrules.policy.patterns import pattern_problem
from ventrules.units import KINDS, Quantity, UnitError

PUBLISHED: Final = ROOT / "docs" / "schemas"
KINDS_OF_FILE: Final = [each.kind for each in FORMATS]
WRITTEN: Final = [each.kind for each in FORMATS if each.written_by_us]


def parts(value: Document) -> Iterator[dict[str, Document]]:
    """Yield every mapping in a document."""
    if isinstance(value, dict):
        yield value
        for inner in value.values():
            yield from parts(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from parts(inner)


# The schemas themselves


@pytest.mark.parametrize("kind", KINDS_OF_FILE)
def test_a_schema_is_one_of_2020_12_and_refers_to_nothing_outside(kind: str) -> None:
    schema = ventrules.schema(kind)
    Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema["$id"] == f"urn:ventrules:schema:{kind}:1"
    definitions = schema["$defs"]
    assert isinstance(definitions, dict)
    named = {str(part["$ref"]) for part in parts(schema) if isinstance(part.get("$ref"), str)}
    assert named == {f"#/$defs/{name}" for name in definitions}


@pytest.mark.parametrize("kind", KINDS_OF_FILE)
def test_the_published_schemas_are_those_that_are_made(kind: str) -> None:
    published = (PUBLISHED / f"{kind}.json").read_text(encoding="utf-8")
    assert published == schema_text(kind), "remake them: ventrules schema --all docs/schemas"


def test_no_other_schema_is_published() -> None:
    assert sorted(path.name for path in PUBLISHED.iterdir()) == sorted(f"{kind}.json" for kind in KINDS_OF_FILE)


# Keys whose values say all that there is to say.
SAID: Final = frozenset({*GROUPS, *DAYS, *Season, *Occupancy})


@pytest.mark.parametrize("kind", KINDS_OF_FILE)
def test_an_editor_can_show_what_each_key_means(kind: str) -> None:
    found = 0
    for part in parts(ventrules.schema(kind)):
        properties = part.get("properties")
        if part.get("type") == "object" and isinstance(properties, dict):
            for key, value in properties.items():
                assert isinstance(value, dict)
                assert value.get("description") or key in SAID, key
                found += 1
    assert found > 4


def test_expressions_keep_to_what_all_dialects_share() -> None:
    all_parts = [part for kind in KINDS_OF_FILE for part in parts(ventrules.schema(kind))]
    found = {str(part["pattern"]) for part in all_parts if "pattern" in part}
    assert len(found) > 15
    for pattern in found:
        re.compile(pattern)
        assert not re.search(r"\(\?[^:]|\\[dDwWbBAZpP]|(?<!\[)\\s(?!\\S\])", pattern), pattern


def test_a_schema_is_the_callers_own() -> None:
    ventrules.schema("job").clear()
    assert ventrules.schema("job")["title"]


# What is read


def test_what_is_sound_keeps_to_its_schema() -> None:
    assert len(examples()) > 80
    for document in examples():
        assert valid("job", document), document["job"]
    assert valid("catalog", demo())
    for name in code_names():
        assert valid("code", packaged_toml("codes", name)), name
    for name in bus_profile_names():
        assert valid("profile", packaged_toml("buses", name)), name


def test_what_is_broken_does_not() -> None:
    for name in ("misspelled.yaml", "not-a-job.json"):
        assert not valid("job", load_text((BROKEN / name).read_text(encoding="utf-8"), name)), name
    broken = tomllib.loads((BROKEN / "half-a-code.toml").read_text(encoding="utf-8"))
    assert not valid("code", broken)


def _with(path: str, value: Document) -> dict[str, Document]:
    """Return a sound job with something at a path."""
    document = json.loads(json.dumps(examples()[0]))
    *way, last = path.split("/")
    here = document
    for step in way:
        here = here.setdefault(step, {}) if isinstance(here, dict) else here[int(step)]
    here[int(last) if isinstance(here, list) else last] = value
    assert isinstance(document, dict)
    return document


BETWEEN: Final = {
    "model": ("devices/other", {"model": "no-such-model"}, ProblemKind.REFERENCE),
    "catalog": ("catalogs", ["demo", "beside.yaml"], ProblemKind.REFERENCE),
    "code": ("target", {"code": "us-no-such-code"}, ProblemKind.REFERENCE),
    "code file": ("target", {"code": "own.toml"}, ProblemKind.REFERENCE),
    "port": ("voltages", {"control.no-such-port": "24 V"}, ProblemKind.REFERENCE),
    "device": ("voltages", {"no-such-device.bus": "24 V"}, ProblemKind.REFERENCE),
    "mode": ("calendar", {"monday": {"06:00": "no-such-mode"}}, ProblemKind.REFERENCE),
    "ventilator": ("settings/no-such-ventilator", {}, ProblemKind.REFERENCE),
    "no ventilator": ("settings/control", {}, ProblemKind.REFERENCE),
    "stage": ("readings/ventilator", {"no-such": {"supply": "1 cfm", "exhaust": "1 cfm"}}, ProblemKind.REFERENCE),
    "indicator": ("indicators/ventilator", {"no-such-light": "on"}, ProblemKind.REFERENCE),
    "room": ("dwelling/rooms", {"bath": {"kind": "bathroom", "exhaust_by": "nobody"}}, ProblemKind.REFERENCE),
    "same port": ("cables/0", {"from": "control.system", "to": "control.system"}, ProblemKind.CONTRADICTION),
}


@pytest.mark.parametrize(("path", "value", "kind"), BETWEEN.values(), ids=BETWEEN.keys())
def test_what_no_schema_can_say_has_a_kind_of_its_own(path: str, value: Document, kind: ProblemKind) -> None:
    document = _with(path, value)
    assert valid("job", document)
    assert kind in {problem.kind for problem in job_problems(document)}
    assert {problem.kind for problem in job_problems(document)} <= {ProblemKind.REFERENCE, ProblemKind.CONTRADICTION}


def test_every_claim_of_a_class_stands_in_a_schema() -> None:
    schemas = [ventrules.schema(kind) for kind in ("job", "catalog", "code")]
    definitions = {name: part for each in schemas for name, part in at(each, ("$defs",)).items()}  # type: ignore[union-attr]
    definitions |= {"Code": ventrules.schema("code")}
    assert len(BONDS) > 15
    for shape, bonds in BONDS.items():
        part = definitions[shape.__name__]
        assert isinstance(part, dict)
        assert part["allOf"] == [bond.claim.schema(shape) for bond in bonds]


# Texts


@settings(max_examples=150)
@given(st.sampled_from(KINDS), st.data())
def test_the_expression_of_a_quantity_takes_what_its_reader_takes(kind: type[Quantity], data: st.DataObject) -> None:
    number = data.draw(
        st.one_of(
            st.from_regex(r"\A[-+ ]{0,2}0{0,14}[0-9]{0,5}\.?[0-9]{0,5}([eE][+-]?[0-9]{1,3})?[ \t]?\Z"),
            st.sampled_from(_EDGES),
        )
    )
    text = number + data.draw(st.sampled_from([*kind.units, "x"]))
    assert _quantity(kind).is_valid(text) == _parses(kind, text), text


_EDGES: Final = (
    "-273.15", "-273.1500000000000001", "-273.14999999999999999", "-459.67", "-459.6700000000000000001", "0", "-0",
    "40", "40.0000000000000001", "120", "120.000000000000001", "-3.4856", "-3.48561", "0.0050104", "0.00501039999",
    "999999999999", "9999999999999", "1e9", "1e10", "0.000", ".", "-", "1\u00a0", "1\u2003",
)  # fmt: skip


def _quantity(kind: type[Quantity]) -> jsonschema_rs.Draft202012Validator:
    return jsonschema_rs.Draft202012Validator({"type": "string", "pattern": kind.pattern()})


def _parses(kind: type[Quantity], text: str) -> bool:
    try:
        kind.parse(text)
    except UnitError:
        return False
    return True


@given(st.from_regex(r"\A(19|20|21)[0-9]{2}-[01][0-9]-[0-3][0-9]\Z"))
@example("2000-02-29")
@example("2100-02-29")
def test_a_date_is_a_day_of_this_century(text: str) -> None:
    document = _with("accepted", [{"rule": "upkeep/no-filter-reminder", "reason": "x", "until": text}])
    assert valid("job", document) == (not job_problems(document)) == matches(DATE, text)


@given(st.one_of(st.text(max_size=70), st.text(alphabet="a/.\\*", max_size=8)))
@example("..")
@example("a/..")
@example("...")
def test_patterns_of_files_are_those_that_the_policy_takes(text: str) -> None:
    assert matches(FILE_PATTERN, text) == (not pattern_problem(text))


@given(st.text(max_size=70))
@example("\ufeff")
@example("\x1c\x85\u3000")
def test_a_text_says_something_where_it_is_not_all_blanks(text: str) -> None:
    assert matches(SAYS_SOMETHING, text) == bool(text.strip())
    assert matches(SOME_PATH, text) == (bool(text.strip()) and "\0" not in text)


@given(st.one_of(st.text(max_size=66), st.sampled_from(TEXTS)))
def test_expressions_mean_the_same_to_another_validator(text: str) -> None:
    for expression in (NAME, TIME, PLACE, DATE, FILE_PATTERN, SAYS_SOMETHING):
        assert _validator(expression).is_valid(text) == matches(expression, text), (expression, text)


def _validator(expression: str) -> jsonschema_rs.Draft202012Validator:
    return jsonschema_rs.Draft202012Validator({"pattern": f"^(?:{expression})$"})


NAMES: Final = (
    "control", "x y", "A+b-c_1", "n" * 63, "\u00e9tage", "e\u0301tage", "\u0434\u043e\u043c", "\u5c4b",
)  # fmt: skip
NO_NAMES: Final = (
    "", " a", "a ", "a.b", "a/b", "n" * 64, "\u202ea", "a\u202eb", "a\u200fb", "a\u3000b", "a\nb", "<b>",
)  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_names_that_can_be_used(name: str) -> None:
    assert matches(NAME, name)


@pytest.mark.parametrize("name", NO_NAMES)
def test_names_that_cannot(name: str) -> None:
    assert not matches(NAME, name)


# A key for editors


def test_a_job_may_say_where_its_schema_is() -> None:
    document: dict[str, Document] = {"$schema": "schemas/job.json", **examples()[0]}
    job = job_from_document(document)
    assert job.schema == "schemas/job.json"
    assert valid("job", document)
    assert job_document(job)["$schema"] == "schemas/job.json"
    assert job_from_document(job_document(job)) == job
    assert parse_job(json.dumps(document), name="job.json") == job
    assert not valid("job", {**document, "$schema": 1})
    assert [problem.path for problem in job_problems({**document, "$schema": 1})] == [("$schema",)]


def test_a_job_with_the_key_is_repaired_in_place(tmp_path: Path) -> None:
    faulty = data((FAULTY / "filter-reminder-too-long.yaml").read_text(encoding="utf-8"), "faulty.yaml")
    file = tmp_path / "job.json"
    file.write_text(json.dumps({"$schema": "job.schema.json", **faulty}, indent=2), encoding="utf-8")
    assert invoke("repair", "--write", file).exit_code == 0
    assert json.loads(file.read_text(encoding="utf-8"))["$schema"] == "job.schema.json"


def test_whole_numbers_may_be_written_with_a_point() -> None:
    document = _with("dwelling/bedrooms", 3.0)
    assert valid("job", document)
    assert job_from_document(document).dwelling.bedrooms == 3
    assert "3.0" not in json.dumps(job_document(job_from_document(document))["dwelling"])


# What is written


def closed(value: Document) -> Document:
    """Return a schema that takes no key that it does not know."""
    if isinstance(value, list):
        return [closed(inner) for inner in value]
    if not isinstance(value, dict):
        return value
    done = {key: closed(inner) for key, inner in value.items()}
    if value.get("type") == "object" and "properties" in value:
        done.setdefault("additionalProperties", False)
    return done


def outputs(kind: str) -> Iterator[Document]:
    """Yield documents that the command writes."""
    jobs = [SOUND / "number-02.yaml", SOUND / "number-29.yaml", *sorted(FAULTY.glob("*.yaml"))[::6]]
    broken = BROKEN / "misspelled.yaml"
    if kind == "report":
        yield as_json("check", *jobs, broken)
    elif kind == "rules":
        yield as_json("rules")
    elif kind == "diagnosis":
        yield as_json("diagnose", broken)
        for seen in (("ventilator=unreachable",), ("ventilator=unpowered", "control=powered"), ()):
            words = [word for each in seen for word in ("--seen", each)]
            yield as_json("diagnose", SOUND / "number-02.yaml", *words)
    else:
        yield as_json(kind, broken)
        for job in (*jobs[:2], FAULTY / "far-more-air-than-asked.yaml", FAULTY / "interface-module-missing.yaml"):
            yield as_json(kind, job)
        if kind == "target":
            yield as_json(kind, SOUND / "number-29.yaml", "--every-code")
        if kind == "plan":
            yield as_json(kind, FAULTY / "entry-level-ventilator.yaml")


@pytest.mark.parametrize("kind", WRITTEN)
def test_what_is_written_keeps_to_its_schema_and_has_no_other_key(kind: str) -> None:
    strict = Draft202012Validator(closed(ventrules.schema(kind)))  # type: ignore[arg-type]
    found = list(outputs(kind))
    assert found
    for document in found:
        assert [f"{error.json_path}: {error.message}" for error in strict.iter_errors(document)] == []
        assert isinstance(document, dict)
        assert not strict.is_valid({**document, "zzz": 1})
        assert not strict.is_valid({key: value for key, value in document.items() if key != "version"})


# The command


def test_without_a_kind_the_command_lists_them() -> None:
    result = invoke("schema")
    assert result.exit_code == 0
    assert [line.split()[0] for line in result.stdout.splitlines()] == KINDS_OF_FILE


def test_with_a_kind_it_prints_the_schema_or_writes_it(tmp_path: Path) -> None:
    assert invoke("schema", "job").stdout == schema_text("job")
    assert invoke("schema", "job", "--out", tmp_path / "job.json").exit_code == 0
    assert (tmp_path / "job.json").read_text(encoding="utf-8") == schema_text("job")
    assert invoke("schema", "--all", tmp_path).exit_code == 0
    assert sorted(path.stem for path in tmp_path.iterdir()) == sorted(KINDS_OF_FILE)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("jbo",), "nearest is 'job'"),
        (("--out", "x.json"), "which kind?"),
        (("job", "--all", "."), "leave the kind"),
        (("job", "--out", "no-such-folder/x.json"), "cannot be written"),
    ],
)
def test_what_it_cannot_do_it_says(
    words: tuple[str, ...], said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    result = invoke("schema", *words)
    assert result.exit_code == 2
    assert said in result.stderr
    assert not any(tmp_path.iterdir())


def test_an_unknown_kind_is_a_lookup_error() -> None:
    with pytest.raises(ventrules.UnknownSchemaError, match="expected job, catalog"):
        ventrules.schema("jbo")


def test_all_kinds_that_are_read_are_under_the_law_of_agreement() -> None:
    assert {each.kind for each in FORMATS if not each.written_by_us} == PROBLEMS.keys()
    assert {each.kind for each in FORMATS if not each.nulls} == IN_TOML
