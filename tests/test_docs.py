"""The documentation: what it shows runs and gives what it shows; what is generated leaves nothing out."""

import contextlib
import io
import json
import re
import shlex
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from itertools import zip_longest
from pathlib import Path
from typing import Any, Final, NamedTuple

import attrs
import pytest
from click.testing import CliRunner

import ventrules
import ventrules.job
import ventrules.testing
from ventrules.cli import main
from ventrules.codes import Code
from ventrules.engine.findings import Document
from ventrules.files import load_code, load_text, parse_catalog
from ventrules.files.resources import code_names, packaged
from ventrules.files.shapes import structure
from ventrules.job import Catalog, Job
from ventrules.rules import PACK
from ventrules.sources import Known
from ventrules.units import KINDS

ROOT: Final = Path(__file__).parents[1]
DOCS: Final = ROOT / "docs"
README: Final = ROOT / "README.md"
ELISION: Final = "…"

sys.path.insert(0, str(DOCS))

import _generate  # noqa: E402 - it lies beside the site's settings
from _keys import anchor, key_tables  # noqa: E402

# Pages with examples, and how many blocks of each language they have at least.
EXPECTED: Final = {
    "start.md": {"console": 4},
    "job-file.md": {"console": 1},
    "json-output.md": {"console": 2},
    "library.md": {"python": 10},
}
PAGES: Final = sorted([*DOCS.glob("*.md"), *DOCS.glob("*/index.md")])
_FENCE: Final = re.compile(r"^```([^\n`]*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


class Block(NamedTuple):
    """A fenced block, and where it stands."""

    page: Path
    line: int
    language: str
    text: str
    right_after: str  # a text block that follows with nothing between: what was printed

    def __str__(self) -> str:
        return f"{self.page.relative_to(ROOT).as_posix()}:{self.line}"


def blocks(page: Path, language: str) -> list[Block]:
    text = page.read_text(encoding="utf-8")
    fences = list(_FENCE.finditer(text))
    found = []
    for fence, follower in zip_longest(fences, fences[1:]):
        joined = follower is not None and not text[fence.end() : follower.start()].strip()
        shown = follower[2] if follower is not None and joined and follower[1].strip() == "text" else ""
        line = text.count("\n", 0, fence.start()) + 1
        if fence[1].strip() == language:
            found.append(Block(page, line, language, fence[2], shown))
    return found


def commands(block: Block) -> list[tuple[str, str]]:
    """Return each command of a console block with the output that it shows."""
    _before, *pieces = re.split(r"^\$ ", block.text, flags=re.MULTILINE)
    return [(command.strip(), output) for command, _newline, output in (piece.partition("\n") for piece in pieces)]


def console_blocks(page: Path) -> list[Block]:
    """Return the console blocks of a page that run our command."""
    found = blocks(page, "console")
    return [block for block in found if any(command.startswith("ventrules ") for command, _shown in commands(block))]


def assert_shown(printed: str, shown: str, where: str) -> None:
    """Compare what was printed with what a page shows: `…` stands for any lines, or for any part of a line."""
    pattern = ""
    for line in shown.strip("\n").splitlines():
        within = ".*".join(re.escape(part) for part in line.rstrip().split(ELISION))
        pattern += r"(?:.*\n)*?" if line.strip() == ELISION else within + r"\n"
    given = "".join(f"{line.rstrip()}\n" for line in printed.strip("\n").splitlines())
    assert re.fullmatch(pattern, given), f"{where} shows\n{shown}\nand what comes is\n{given}"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A working folder with the examples in it."""
    shutil.copytree(ROOT / "examples", tmp_path / "examples")
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("COLUMNS", raising=False)
    return tmp_path


def run(command: str, folder: Path) -> tuple[int, str]:
    """Run one `ventrules …` command of a console block, with `< file` if it has one."""
    words = shlex.split(command)
    given = None
    if "<" in words:
        at = words.index("<")
        given = (folder / words[at + 1]).read_bytes()
        del words[at : at + 2]
    result = CliRunner().invoke(main, words[1:], input=given, catch_exceptions=False)
    return result.exit_code, result.output


# What the pages show


@pytest.mark.parametrize("name", EXPECTED)
def test_pages_with_examples_have_them(name: str) -> None:
    page = DOCS / name
    counts = {"console": len(console_blocks(page)), "python": len(blocks(page, "python"))}
    for language, least in EXPECTED[name].items():
        assert counts[language] >= least


def test_no_page_with_examples_is_left_out() -> None:
    having = {page.relative_to(DOCS).as_posix() for page in PAGES if console_blocks(page) or blocks(page, "python")}
    assert having == EXPECTED.keys()


CONSOLE: Final = [block for page in (*PAGES, README) for block in console_blocks(page)]


@pytest.mark.parametrize("block", CONSOLE, ids=str)
def test_a_command_gives_what_the_page_shows(block: Block, folder: Path) -> None:
    status = 0
    for command, shown in commands(block):
        if command == "echo $?":
            printed = f"{status}\n"
        else:
            assert command.startswith("ventrules "), f"{block}: only our own command is run here, not {command!r}"
            status, printed = run(command, folder)
        assert_shown(printed, shown, f"{block}: {command}")


@pytest.mark.parametrize(
    "page", [page for page in (*PAGES, README) if blocks(page, "python")], ids=lambda page: str(page.name)
)
def test_python_examples_run_in_order_and_print_what_the_page_shows(page: Path, folder: Path) -> None:
    assert (folder / "examples").is_dir()
    names: dict[str, Any] = {"__name__": "__main__"}
    for block in blocks(page, "python"):
        printed = io.StringIO()
        with contextlib.redirect_stdout(printed):
            exec(compile(block.text, str(block), "exec"), names)  # noqa: S102 - our own pages
        if block.right_after or page != README:  # a page of the site shows all that its examples print
            assert_shown(printed.getvalue(), block.right_after, str(block))


def test_the_rule_pack_of_the_page_comes_in_by_its_entry_point(tmp_path: Path) -> None:
    (module,) = (block.text for block in blocks(DOCS / "library.md", "python") if "PACK: Pack[Survey]" in block.text)
    (declared,) = (block.text for block in blocks(DOCS / "library.md", "toml") if "entry-points" in block.text)
    (tmp_path / "lane_rules.py").write_text(module, encoding="utf-8")
    info = tmp_path / "lane_rules-1.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: lane-rules\nVersion: 1\n", encoding="utf-8")
    points = declared.replace('[project.entry-points."ventrules.rules"]', "[ventrules.rules]").replace('"', "")
    (info / "entry_points.txt").write_text(points, encoding="utf-8")
    code = f"import sys; sys.path.insert(0, {str(tmp_path)!r}); from ventrules.cli import main; main()"
    listed = subprocess.run(
        [sys.executable, "-c", code, "rules", "--only", "lane"], capture_output=True, check=True, text=True
    )
    assert listed.stdout.startswith("lane/stage-not-measured  advice")


# What is generated


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


def rows(markdown: str) -> list[list[str]]:
    return [
        [cell.strip() for cell in re.split(r"(?<!\\)\|", line)[1:-1]]
        for line in markdown.splitlines()
        if line.startswith("| ") and not line.startswith("| ---")
    ]


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


def test_the_table_of_codes_has_every_code_and_each_page_every_figure(made: dict[str, str]) -> None:
    assert [row[0].split("`")[1] for row in rows(_generate.codes_table())[1:]] == list(code_names())
    for name in code_names():
        found, page = load_code(name), made[f"codes/{name}.md"]
        cells = {cell for row in rows(page) for cell in row}
        if found.rate.table is not None:
            assert cells >= {str(rate) for line in found.rate.table.rates for rate in line}
        if found.run_time is not None:
            assert cells >= {f"{factor:g}" for factor in found.run_time.factors}
        for name_of_credit, credit in found.credits.items():
            assert name_of_credit in page
            assert credit.conditions in page
        for clause in (found.counts_basis, found.judged_basis):
            assert clause.clause in page
            assert clause.note in page


def test_the_table_of_units_has_every_unit_of_every_kind() -> None:
    found = [row[1].strip("`") for row in rows(_generate.units_table())[1:]]
    assert found == [unit for kind in KINDS for unit in kind.units]


def test_the_ways_of_knowing_are_all_explained() -> None:
    assert [row[0].strip("`") for row in rows(_generate.known_table())[1:]] == [known.value for known in Known]


def without(document: Document, version_key: str) -> dict[str, Document]:
    assert isinstance(document, dict)
    return {key: value for key, value in document.items() if key != version_key}


def whole_files() -> dict[type, dict[str, Document]]:
    """Documents in which every mapping of their format stands."""
    job = (ROOT / "examples" / "sound" / "number-17.yaml").read_text(encoding="utf-8")
    catalog = packaged("catalogs", "demo.yaml").read_text(encoding="utf-8")
    code = packaged("codes", "us-irc-2021.toml").read_text(encoding="utf-8")
    return {
        Job: without(load_text(job, "job.yaml"), "ventrules"),
        Catalog: without(load_text(catalog, "catalog.yaml"), "ventrules-catalog"),
        Code: without(tomllib.loads(code), "ventrules-code"),
    }


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


def test_every_class_of_the_job_file_has_its_table() -> None:
    shown = key_tables(Job) + key_tables(Catalog)
    classes = [value for value in vars(ventrules.job).values() if isinstance(value, type) and attrs.has(value)]
    without_keys = {"Calendar", "Origin", "Program"}
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


# What is written by hand and could drift


def documented_keys(heading: str) -> set[str]:
    """Return the keys in the tables of one section of the page about JSON."""
    text = (DOCS / "json-output.md").read_text(encoding="utf-8")
    section = text.partition(f"\n## {heading}\n")[2].partition("\n## ")[0]
    return {row[0].strip("`") for row in rows(section) if row[0] != "key"}


def keys_of(data: object, path: str = "") -> Iterator[str]:
    if isinstance(data, dict):
        for key, value in data.items():
            here = f"{path}.{key}".removeprefix(".")
            yield here
            if key not in {"evidence", "value"}:
                yield from keys_of(value, here)
    elif isinstance(data, list):
        for item in data:
            yield from keys_of(item, f"{path}[]")


def test_the_json_report_has_the_keys_of_its_page_and_no_other(folder: Path) -> None:
    _status, text = run("ventrules check examples --format json", folder)
    assert set(keys_of(json.loads(text))) == documented_keys("Report")


def test_the_json_list_of_rules_has_the_keys_of_its_page_and_no_other(folder: Path) -> None:
    _status, text = run("ventrules rules --format json", folder)
    assert set(keys_of(json.loads(text))) == documented_keys("Rules")


def test_every_name_for_testing_rules_is_on_the_page() -> None:
    text = (DOCS / "library.md").read_text(encoding="utf-8")
    assert ventrules.testing.__all__
    assert [name for name in ventrules.testing.__all__ if f"`{name}`" not in text] == []


def test_the_yaml_examples_of_the_pages_can_be_read() -> None:
    found = [block for page in PAGES for block in blocks(page, "yaml")]
    assert len(found) > 5
    for block in found:
        assert isinstance(load_text(block.text, "block.yaml"), dict), str(block)


def test_the_catalog_of_the_page_is_sound() -> None:
    (text,) = (block.text for block in blocks(DOCS / "catalog.md", "yaml") if "ventrules-catalog" in block.text)
    assert parse_catalog(text, "block.yaml").models


def test_rules_that_the_pages_speak_of_exist() -> None:
    known = {rule.id for rule in PACK.rules}
    families = "|".join(sorted({rule.family for rule in PACK.rules}))
    texts = [page.read_text(encoding="utf-8") for page in (*PAGES, README)]
    named = {name for text in texts for name in re.findall(rf"`((?:{families})/[a-z0-9-]+)`", text)}
    assert len(named) > 5
    assert named <= known
