"""The documentation: what is generated leaves nothing out."""

import json
import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import attrs
import pytest

import ventrules
import ventrules.codes.code
import ventrules.codes.rates
import ventrules.job
from tests.pages import DOCS, PAGES, ROOT, rows
from ventrules.codes import BalanceTest, Code, CodeKind, Joined, Placing, Superposition
from ventrules.engine.findings import Document
from ventrules.files import load_code, load_text, stations
from ventrules.files.resources import code_names, packaged
from ventrules.files.shapes import structure
from ventrules.job import Catalog, Counts, Job, Route
from ventrules.outputs.markdown import cell
from ventrules.rules import PACK
from ventrules.sources import Known
from ventrules.units import KINDS

sys.path.insert(0, str(DOCS))

import _generate
from _keys import anchor, key_tables

# Words of the file for which a page has sentences of its own.
UNSHOWN: Final = {"superposition", "columns", "joined", "placing"}


def test_every_generated_block_is_known_and_every_known_block_is_used() -> None:
    named = [name for page in PAGES for name in _generate.blocks_named(page.read_text(encoding="utf-8"))]
    assert sorted(named) == sorted(_generate.BLOCKS)
    for page in PAGES:
        assert "{generated}" not in _generate.filled(page.read_text(encoding="utf-8"))


def test_an_unknown_generated_block_is_refused() -> None:
    with pytest.raises(KeyError):
        _generate.filled("```{generated} no-such-table\n```")


@pytest.fixture(scope="module")
def made() -> dict[str, str]:
    """The generated pages."""
    return _generate.pages()


def test_every_table_has_as_many_cells_in_each_row(made: dict[str, str]) -> None:
    texts = [make() for make in _generate.BLOCKS.values()] + list(made.values())
    for text in texts:
        for table in re.findall(r"(?:^\|.*\n)+", text, re.MULTILINE):
            assert len({len(row) for row in rows(table)}) == 1
            assert len(rows(table)) > 1


def test_the_table_of_rules_has_every_rule_with_its_page(made: dict[str, str]) -> None:
    found = rows(_generate.rules_table())[1:]
    assert sorted(row[0].split("`")[1] for row in found) == sorted(rule.id for rule in PACK.rules)
    for row in found:
        target = re.search(r"\((.+)\)", row[0])
        assert target is not None
        assert f"rules/{target[1]}" in made


def test_the_page_of_a_rule_shows_its_finding_and_its_parts(made: dict[str, str]) -> None:
    assert len(PACK.rules) > 0
    for rule in PACK.rules:
        page = made[f"rules/{_generate.page_name(rule.id)}.md"]
        assert re.findall(r"^## (.+)$", page, re.MULTILINE)[:4] == ["Meaning", "At fault", "Put right", "Not seen"]
        at_fault, put_right = page.split("## Put right")
        assert f"Rule     {rule.id}\n" in at_fault
        assert "nothing to say" not in at_fault
        assert f"nothing to say, {len(PACK.rules)} rules ran" in put_right
        for text in (rule.title, rule.severity.value, rule.since, *rule.cautions):
            assert text in page


def test_the_table_of_codes_has_every_code_and_each_has_its_page(made: dict[str, str]) -> None:
    table = rows(_generate.codes_table())[1:]
    assert [row[0].split("`")[1] for row in table] == list(code_names())
    assert {f"codes/{name}.md" for name in code_names()} == {page for page in made if page.startswith("codes/")}
    for name, row in zip(code_names(), table, strict=True):
        found = load_code(name)
        assert row[1:5] == [found.title, found.edition, found.jurisdiction, f"`{found.kind.value}`"]
        assert sum(int(number) for number in re.findall(r"\d+", row[6])) == str(code_document(name)).count("'known'")


def code_document(name: str) -> dict[str, Document]:
    return without(tomllib.loads(packaged("codes", f"{name}.toml").read_text(encoding="utf-8")), "ventrules-code")


def leaves(document: Document, place: str = "") -> Iterator[tuple[str, str | int | float]]:
    """Yield what stands in a document, with the keys that lead there."""
    if isinstance(document, dict):
        for key, value in document.items():
            yield from leaves(value, f"{place} / {key}")
    elif isinstance(document, list):
        for item in document:
            yield from leaves(item, place)
    elif isinstance(document, (str, int, float)) and not isinstance(document, bool):
        yield place, document


@pytest.mark.parametrize("name", code_names())
def test_the_page_of_a_code_shows_all_that_its_file_holds(name: str, made: dict[str, str]) -> None:
    page = made[f"codes/{name}.md"]
    found = list(leaves(code_document(name)))
    assert len(found) > 10
    for place, value in found:
        if place.rsplit(" / ", 1)[-1] in UNSHOWN:
            continue
        texts = [value] if isinstance(value, str) else [f"{value:g}", f"{value:.0%}", f"{value:.1%}"]
        assert any(cell(text) in page for text in texts), (place, value)


def test_the_page_of_a_code_says_what_no_figure_shows(made: dict[str, str]) -> None:
    for name in code_names():
        found, page = load_code(name), made[f"codes/{name}.md"]
        ways = len(found.rate.ways)
        assert ("The largest of these holds." in page) == (ways > 1 and found.rate.joined is Joined.LARGEST)
        assert ("Any of these may be used." in page) == (ways > 1 and found.rate.joined is Joined.CHOICE)
        timed = found.run_time or found.window
        fixed = timed is not None and timed.placing is Placing.FIXED
        assert ("one after the other from Monday 00:00" in page) == fixed
        credit = found.infiltration
        by_share = credit is not None and credit.superposition is Superposition.RATE_RATIO
        assert ("times its share of the total rate" in page) == by_share
        lines = [row[1:] for row in rows(page)]
        for table in (found.rate.table, found.run_time.table if found.run_time is not None else None):
            assert table is None or all([str(rate) for rate in line] in lines for line in table.rates)
        if found.run_time is not None:
            assert [f"{factor:g}" for factor in found.run_time.factors] in lines
        assert [[str(e.airflow), e.source] for e in found.examples] == [
            [row[1], row[4]] for row in rows(page.partition("\n## Examples\n")[2])[1:]
        ]


def test_each_kind_of_code_is_explained() -> None:
    text = (DOCS / "codes.md").read_text(encoding="utf-8")
    section = text.partition("\n## How a code is judged\n")[2].partition("\n## ")[0]
    assert [row[0].strip("`") for row in rows(section)[1:]] == [kind.value for kind in CodeKind]


def test_each_way_form_and_test_is_explained() -> None:
    text = (DOCS / "computations.md").read_text(encoding="utf-8")
    for words in (Route, Counts, Superposition, BalanceTest):
        for word in words:
            assert re.search(rf"^\|[^|]*`{word.value}`", text, re.MULTILINE), word


def test_the_table_of_stations_has_every_station() -> None:
    found = stations()
    shown = {row[0].strip("`"): (row[1], float(row[2])) for row in rows(_generate.stations_table())[1:]}
    assert shown == {number: (station.name, station.wsf) for number, station in found.stations.items()}
    assert found.basis.note in _generate.stations_table()


def test_the_table_of_units_has_every_unit_of_every_kind() -> None:
    found = [row[1].strip("`") for row in rows(_generate.units_table())[1:]]
    assert found == [unit for kind in KINDS for unit in kind.units]


def test_the_ways_of_knowing_are_all_explained() -> None:
    assert [row[0].strip("`") for row in rows(_generate.known_table())[1:]] == [known.value for known in Known]


def without(document: Document, version_key: str) -> dict[str, Document]:
    assert isinstance(document, dict)
    return {key: value for key, value in document.items() if key != version_key}


def together(first: Document, second: Document) -> Document:
    """Return two documents as one: mappings are joined, lists follow one another, and of two values the first stays."""
    if isinstance(first, dict) and isinstance(second, dict):
        both = {key: together(first[key], second[key]) for key in first.keys() & second.keys()}
        return {**second, **first, **both}
    return [*first, *second] if isinstance(first, list) and isinstance(second, list) else first


def whole_files() -> dict[type, dict[str, Document]]:
    """Documents in which every mapping of their format stands; of codes, all of them in one."""
    catalog = packaged("catalogs", "demo.yaml").read_text(encoding="utf-8")
    code: Document = {}
    for name in code_names():
        code = together(code, code_document(name))
    assert isinstance(code, dict)
    return {
        Job: whole_job(),
        Catalog: whole_catalog(without(load_text(catalog, "catalog.yaml"), "ventrules-catalog")),
        Code: code,
    }


def whole_catalog(catalog: dict[str, Document]) -> dict[str, Document]:
    profile = tomllib.loads(packaged("buses", "serial-line-1.02.toml").read_text(encoding="utf-8"))
    own: Document = {"profiles": {"lane": without(profile, "ventrules-bus")}, "roles": {"wake": {"carries": "signal"}}}
    joined = together(catalog, own)
    assert isinstance(joined, dict)
    return joined


def whole_job() -> dict[str, Document]:
    job = without(
        load_text((ROOT / "examples" / "sound" / "number-17.yaml").read_text(encoding="utf-8"), "j"), "ventrules"
    )
    stands: list[Document] = [{"rule": "wiring/ring", "reason": "looked at"}]
    more: Document = {
        "accepted": stands,
        "dwelling": {"rooms": {"bath": {"kind": "bathroom"}}, "leakage": {"air_changes_50pa": 3}},
        "devices": {"ventilator": {"ports": {"bus": {"address": 1}}, "accepted": stands}},
        "cables": [{"conductors": [{"color": "white"}], "accepted": stands}],
        "settings": {"ventilator": {"accepted": stands}},
        "instruments": {"airflow": {"of_reading": 0.1}, "voltage": {"of_reading": 0.1}},
    }
    joined = together(job, more)
    assert isinstance(joined, dict)
    return joined


def mapping_at(document: Document, place: list[str]) -> dict[str, Document] | None:
    """Return the mapping at a place of the tables, where NAME and NUMBER stand for any name and any number."""
    if not place:
        return document if isinstance(document, dict) else None
    inner: list[Document] = []
    if isinstance(document, dict):
        inner = list(document.values()) if place[0] == "NAME" else [document.get(place[0])]
    elif isinstance(document, list) and place[0] == "NUMBER":
        inner = document
    return next((found for item in inner if (found := mapping_at(item, place[1:])) is not None), None)


@pytest.mark.parametrize(("root", "whole"), whole_files().items(), ids=["job", "catalog", "code"])
def test_the_tables_of_keys_agree_with_what_the_reader_expects(root: type, whole: Document) -> None:
    """At each place of the tables, an unknown key is answered with the keys that are known there."""
    sections = re.split(r"^### ", key_tables(root), flags=re.MULTILINE)[1:]
    assert len(sections) > 5
    for section in sections:
        head = section.partition("\n")[0]
        document = json.loads(json.dumps(whole))  # a copy in which nothing is shared
        place = [] if head == "At the top" else head.strip("`").split(" / ")
        mapping = mapping_at(document, place)
        assert mapping is not None, head
        mapping["zzz"] = 1
        problems = structure(document, root)
        assert isinstance(problems, list)
        (message,) = (problem.message for problem in problems if problem.path[-1] == "zzz")
        expected = re.split(r", | or ", message.partition("; expected ")[2].partition(";")[0])
        table = rows(section)[1:]
        assert [row[0].strip("`") for row in table] == expected
        for key, what, default, meaning in table:
            assert all((key, what, default, meaning)), head


def test_every_class_of_the_code_file_has_its_table() -> None:
    shown = key_tables(Code)
    modules = (ventrules.codes.code, ventrules.codes.rates)
    classes = [
        value
        for module in modules
        for value in vars(module).values()
        if isinstance(value, type) and attrs.has(value) and value.__module__ == module.__name__
    ]
    assert len(classes) > 20
    for shape in classes:
        assert f"({anchor(shape)})=\n" in shown, shape


def test_every_class_of_the_job_file_has_its_table() -> None:
    shown = key_tables(Job) + key_tables(Catalog)
    classes = [value for value in vars(ventrules.job).values() if isinstance(value, type) and attrs.has(value)]
    without_keys = {"Calendar", "Conductors", "Origin", "Program", "Shown"}
    assert len(classes) > len(without_keys)
    for shape in classes:
        assert (f"({anchor(shape)})=\n" in shown) == (shape.__name__ not in without_keys)


def test_pages_are_written_once_and_stale_ones_go(tmp_path: Path, made: dict[str, str]) -> None:
    for name in ("rules/index.md", "rules/wiring-gone.md", "codes/us-irc-1900.md"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text("by hand", encoding="utf-8")
    _generate.write_pages(tmp_path)
    assert {path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*.md")} == {"rules/index.md", *made}
    assert (tmp_path / "rules" / "index.md").read_text(encoding="utf-8") == "by hand"
    before = {path: path.stat().st_mtime_ns for path in tmp_path.rglob("*.md")}
    _generate.write_pages(tmp_path)
    assert {path: path.stat().st_mtime_ns for path in tmp_path.rglob("*.md")} == before
