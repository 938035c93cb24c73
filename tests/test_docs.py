"""The documentation: what it shows runs and gives what it shows; what is written by hand does not drift."""

import contextlib
import io
import json
import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import pytest
from attrs import evolve
from click.testing import CliRunner

import ventrules
import ventrules.testing
from tests.pages import DOCS, PAGES, README, ROOT, Fence, blocks, rows
from ventrules.bulk import Tally, check_many
from ventrules.cli import main
from ventrules.codes import System, failed_examples, requirement
from ventrules.engine import Accepted, AcceptedBy
from ventrules.files import job_from_document, limits, load_code, load_text, parse_catalog, parse_code
from ventrules.job import Dwelling, Leakage, Target
from ventrules.outputs import Closing, JsonWriter
from ventrules.rules import PACK
from ventrules.survey.exposure import Block, Flow, homecomings, relative_exposure
from ventrules.units import Airflow, Area, Factor, Length, Volume

ELISION: Final = "…"

# Pages with examples, and how many blocks of each language they have at least.
EXPECTED: Final = {
    "bulk.md": {"console": 1, "python": 1},
    "codes.md": {"console": 1},
    "diagnose.md": {"console": 4, "python": 1},
    "draw.md": {"console": 3},
    "embedding.md": {"python": 15},
    "start.md": {"console": 6},
    "job-file.md": {"console": 1},
    "json-output.md": {"console": 3},
    "library.md": {"python": 12},
    "outputs.md": {"console": 6, "python": 1},
    "plan.md": {"console": 4},
    "policy.md": {"console": 4, "python": 2},
    "repair.md": {"console": 3, "python": 1},
    "schema.md": {"console": 1, "python": 1},
}


def commands(block: Fence) -> list[tuple[str, str]]:
    """Return each command of a console block with the output that it shows."""
    _before, *pieces = re.split(r"^\$ ", block.text, flags=re.MULTILINE)
    return [(command.strip(), output) for command, _newline, output in (piece.partition("\n") for piece in pieces)]


def console_blocks(page: Path) -> list[Fence]:
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
    for page in PAGES:  # a block within a list would not be found, and so not be run
        assert not re.search(r"^ +```(console|python)", page.read_text(encoding="utf-8"), re.MULTILINE), page


CONSOLE: Final = [block for page in (*PAGES, README) for block in console_blocks(page)]


@pytest.mark.parametrize("block", CONSOLE, ids=str)
def test_a_command_gives_what_the_page_shows(block: Fence, folder: Path) -> None:
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


# What is written by hand and could drift


def documented_keys(heading: str) -> set[str]:
    """Return the keys in the tables of one section of the page about JSON."""
    text = (DOCS / "json-output.md").read_text(encoding="utf-8")
    section = text.partition(f"\n## {heading}\n")[2].partition("\n## ")[0]
    return {row[0].strip("`") for row in rows(section) if row[0] != "key"}


def keys_of(data: object, path: str = "", whole: frozenset[frozenset[str]] = frozenset()) -> Iterator[str]:
    """Yield the paths of the keys in a document.

    Args:
        data: The document.
        path: Where it stands.
        whole: Keys of objects that are not looked into.
    """
    if isinstance(data, dict):
        for key, value in data.items() if frozenset(data) not in whole else ():
            here = f"{path}.{key}".removeprefix(".")
            yield here
            if key not in {"evidence", "value"} and here != "codes[].file":
                yield from keys_of(value, here, whole)
    elif isinstance(data, list):
        for item in data:
            yield from keys_of(item, f"{path}[]", whole)


def test_the_json_report_has_the_keys_of_its_page_and_no_other(folder: Path) -> None:
    _status, text = run("ventrules check examples --format json", folder)
    keys = set(keys_of(json.loads(text))) | set(keys_of(let_stand(folder / "examples" / "faulty")))
    documented = documented_keys("Report")
    beside = {key.replace("files[].findings[]", "files[].accepted[]", 1) for key in documented}
    assert keys == documented | beside


def let_stand(jobs: Path) -> object:
    """Return the report on the jobs of a folder, every finding in them let stand."""
    written = io.StringIO()
    writer, tally = JsonWriter(written), Tally()
    for outcome in check_many(sorted(jobs.glob("*.yaml"))):
        assert outcome.report is not None
        accepted = tuple(Accepted(finding, AcceptedBy.POLICY, "looked at") for finding in outcome.report.findings)
        stands = evolve(outcome, report=evolve(outcome.report, findings=(), accepted=accepted))
        tally.add(stands)
        writer.write(stands)
    writer.close(Closing(tally))
    data: object = json.loads(written.getvalue())
    return data


def test_the_json_list_of_rules_has_the_keys_of_its_page_and_no_other(folder: Path) -> None:
    _status, text = run("ventrules rules --format json", folder)
    assert set(keys_of(json.loads(text))) == documented_keys("Rules")


SAID_ONCE: Final = frozenset({frozenset({"value", "unit", "text"}), frozenset({"title", "clause", "known", "note"})})
OWN_TARGET_ALONE: Final = re.compile(r"asked\.(recovered|unknown|seasons\[\]\.(still|homecomings|unknown))")


def test_the_json_target_has_the_keys_of_its_page_and_no_other(folder: Path) -> None:
    given = [[str(path)] for path in sorted(folder.glob("examples/sound/number-*"))]
    given += [["examples/sound/number-29.yaml", "--every-code"], ["examples/broken/misspelled.yaml"]]
    keys = set()
    for words in given:
        data = json.loads(CliRunner().invoke(main, ["target", *words, "--format", "json"]).stdout)
        keys |= {re.sub(r"(\.levels)\.\w+", r"\1.NAME", key) for key in keys_of(data, "", SAID_ONCE)}
    documented = documented_keys("Target")
    under = {key for key in documented if key.startswith("asked.") and not OWN_TARGET_ALONE.match(key)}
    assert keys == documented | {key.replace("asked", "every_code[]", 1) for key in under}


def test_the_json_list_of_codes_has_the_keys_of_its_page_and_no_other(folder: Path) -> None:
    _status, text = run("ventrules codes --format json", folder)
    assert set(keys_of(json.loads(text))) == documented_keys("Codes")


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


def test_the_worked_figures_of_the_page_on_computations_come_out() -> None:
    text = " ".join((DOCS / "computations.md").read_text(encoding="utf-8").split())
    code = load_code("ashrae-62.2-2019")
    leakage = Leakage(air_changes_50pa=Factor(3.0), height=Length.parse("9.75 ft"))
    home = Dwelling(Area.parse("2700 ft2"), 3, ceiling_height=Length.parse("8 ft"), leakage=leakage)
    asked = [
        requirement(code, home, Target(code=code.code), (), System(balanced=balanced, wsf=0.59))
        for balanced in (True, False)
    ]
    infiltration = Airflow.shown(asked[0].infiltration_m3s, "cfm")
    balanced, others = (Airflow.shown(found.continuous_m3s, "cfm") for found in asked)
    assert f"Qinf = {infiltration}. Left for balanced fans: {balanced}; for others {others}." in text
    (area,) = (step.number for step in asked[0].steps if step.unit == "m2")
    assert f"Q50 = 1080 cfm; ELA = {area:.4g} m2;" in text
    reference, volume = Airflow.parse("90 cfm").m3s, Volume.parse("16000 ft3").m3
    hour = 3600.0
    day = [
        Block(0.0, 16 * hour, (Flow(reference, hour),), present=True),
        Block(16 * hour, 8 * hour, (Flow(0.0, hour),), present=False),
    ]
    exposure = relative_exposure(day, reference, volume)
    assert exposure is not None
    assert exposure.mean_present is not None
    recovered = limits().exposure.recovered
    (coming,) = homecomings(day, exposure, reference, volume, recovered)
    assert coming.recovery_s is not None
    assert (
        f"R is {coming.exposure:.2f} when people come, {exposure.mean_present:.2f} on average while they are there and "
        f"{exposure.mean:.2f} over the week; it takes {coming.recovery_s / hour:.2f} h to fall to {recovered:g}."
    ) in text


def test_the_code_file_of_the_page_is_sound_and_reproduces_its_examples() -> None:
    text = (DOCS / "codes.md").read_text(encoding="utf-8")
    (included,) = re.findall(r"^```\{literalinclude\} (.+\.toml)$", text, re.MULTILINE)
    found = parse_code((DOCS / included).read_text(encoding="utf-8"), included)
    assert len(found.examples) > 1
    assert failed_examples(found) == ()


def test_the_parts_of_a_job_on_its_page_are_sound(folder: Path) -> None:
    found = [load_text(block.text, "block.yaml") for block in blocks(DOCS / "job-file.md", "yaml")]
    parts = [part for part in found if isinstance(part, dict) and part.keys() <= {"dwelling", "target", "site"}]
    assert len(parts) > 5
    base = load_text((folder / "examples" / "sound" / "number-02.yaml").read_text(encoding="utf-8"), "job.yaml")
    assert isinstance(base, dict)
    for part in parts:
        assert job_from_document({**base, **part}, folder=folder / "examples" / "sound").title == base["job"], part


def test_rules_that_the_pages_speak_of_exist() -> None:
    known = {rule.id for rule in PACK.rules}
    families = "|".join(sorted({rule.family for rule in PACK.rules}))
    texts = [page.read_text(encoding="utf-8") for page in (*PAGES, README)]
    named = {name for text in texts for name in re.findall(rf"`((?:{families})/[a-z0-9-]+)`", text)}
    assert len(named) > 5
    assert named <= known
