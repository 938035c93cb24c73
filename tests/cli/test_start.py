"""What a start of the command loads: of the package and of what it depends on, only what the run at hand needs."""

from pathlib import Path
from typing import Any, Final

import click
import pytest

from tests.cli.running import AN_ERROR, CLEAN, CLEAN_JSON, invoke, said
from tests.embedding.fresh import answer, run
from ventrules.cli import main
from ventrules.cli.main import COMMANDS

# By the run: what is wanted for a fault, for several files, for a terminal, for other commands.
NEVER: Final = frozenset(
    {
        "asyncio",
        "cattrs",
        "concurrent.futures.process",
        "difflib",
        "email",
        "hashlib",
        "importlib.metadata",
        "importlib.resources",
        "jsonpatch",
        "multiprocessing",
        "networkx",
        "numpy",
        "rich",
        "ruamel",
        "scipy",
        "socket",
        "xml",
        "zipfile",
        "ventrules.diagnosis",
        "ventrules.engine.pages",
        "ventrules.files.rendering",
        "ventrules.files.round_trip",
        "ventrules.files.schema",
        "ventrules.files.splicing",
        "ventrules.files.thorough",
        "ventrules.outputs.code_page",
        "ventrules.outputs.json_parts",
        "ventrules.outputs.json_report",
        "ventrules.outputs.target_text",
        "ventrules.planner.search",
        "ventrules.planning",
        "ventrules.repairing",
    }
)


def after(*words: str | Path) -> dict[str, Any]:
    """Return what a run of the command wrote, its exit status, and the modules that it left loaded."""
    code = (
        "import contextlib, io, json, sys\n"
        f"sys.argv = ['ventrules', *{[str(word) for word in words]!r}]\n"
        "from ventrules.cli import main\n"
        "written = io.StringIO()\n"
        "try:\n"
        "    with contextlib.redirect_stdout(written): main()\n"
        "except SystemExit as left: status = left.code\n"
        "print(json.dumps({'text': written.getvalue(), 'status': status, 'loaded': sorted(sys.modules)}))"
    )
    found = answer(code)
    assert isinstance(found, dict)
    return found


def within(loaded: list[str], wanted: frozenset[str]) -> set[str]:
    """Return which of some modules, or modules within them, are loaded."""
    return {name for name in loaded if any(name == one or name.startswith(f"{one}.") for one in wanted)}


@pytest.mark.parametrize("path", [CLEAN, CLEAN_JSON], ids=["yaml", "json"])
def test_checking_one_clean_file_loads_only_what_it_needs(path: Path) -> None:
    found = after("check", path)
    assert found["status"] == 0
    assert "nothing to say" in found["text"]
    assert {"ventrules.cli.check", "ventrules.rules", "ventrules.outputs.text"} <= set(found["loaded"])
    assert within(found["loaded"], NEVER) == set()


def test_the_look_at_what_is_loaded_sees_what_a_fault_brings_along() -> None:
    found = after("check", AN_ERROR, "--format", "json")
    assert found["status"] == 1
    brought = within(found["loaded"], NEVER)
    assert {"cattrs", "hashlib", "jsonpatch", "ventrules.outputs.json_report"} <= brought


@pytest.mark.parametrize("words", [["--help"], ["-h"], ["--version"]], ids=" ".join)
def test_help_and_version_load_no_command(words: list[str]) -> None:
    loaded = after(*words)["loaded"]
    assert {name for name in loaded if name.startswith("ventrules")} == {
        "ventrules",
        "ventrules.cli",
        "ventrules.cli.main",
    }


def test_help_of_one_command_loads_no_other() -> None:
    loaded = set(after("codes", "--help")["loaded"])
    modules = {f"ventrules.cli.{module}" for module, _says in COMMANDS.values()}
    assert modules & loaded == {"ventrules.cli.codes"}


# The table of commands


@pytest.mark.parametrize("name", COMMANDS)
def test_what_the_table_says_of_a_command_is_the_first_sentence_of_its_help(name: str) -> None:
    command = main.get_command(click.Context(main), name)
    assert command is not None
    assert command.name == name
    assert COMMANDS[name][1] == command.get_short_help_str(limit=1_000)


def test_help_lists_every_command_with_what_it_does() -> None:
    text = said(invoke("--help"))
    assert sorted(COMMANDS) == list(COMMANDS)
    for name, (_module, says) in COMMANDS.items():
        assert f"{name} {says}" in text


@pytest.mark.parametrize(
    ("wrong", "right"), [("chekc", "check"), ("rule", "rules"), ("Diagnose", "diagnose"), ("target-", "target")]
)
def test_an_unknown_command_is_named_with_the_nearest_one(wrong: str, right: str) -> None:
    done = invoke(wrong, CLEAN)
    assert done.exit_code == 2
    assert f"No such command {wrong!r}. Nearest is {right!r}." in done.stderr


def test_an_unknown_command_that_is_like_none_is_named_alone() -> None:
    done = invoke("x" * 500)
    assert done.exit_code == 2
    assert "No such command" in done.stderr
    assert "Nearest" not in done.stderr
    assert len(done.stderr) < 400


@pytest.mark.parametrize("option", ["--nothing", "-x"])
def test_an_unknown_option_is_no_command(option: str) -> None:
    done = invoke(option)
    assert done.exit_code == 2
    assert f"No such option {option!r}" in done.stderr.replace(":", "") or f"No such option: {option}" in done.stderr


# A process of its own looks for garbage less; whoever calls the commands in theirs keeps their own ways


def test_a_program_that_calls_a_command_finds_its_garbage_collection_unchanged() -> None:
    code = (
        "import gc, json\n"
        "from click.testing import CliRunner\n"
        "from ventrules.cli import main\n"
        "def state(): return [gc.isenabled(), *gc.get_threshold(), gc.get_freeze_count()]\n"
        "before = state()\n"
        f"status = CliRunner().invoke(main, ['check', {str(CLEAN)!r}]).exit_code\n"
        "print(json.dumps([status, before, state()]))"
    )
    status, before, now = answer(code)
    assert status == 0
    assert now == before


def test_a_run_of_its_own_has_garbage_collection_while_it_works() -> None:
    code = (
        "import gc, sys\n"
        "import ventrules.cli.check as module\n"
        "was, sys.argv = module.exit_status, ['ventrules', 'check', " + repr(str(CLEAN)) + "]\n"
        "def told(*given, **named):\n"
        "    sys.stderr.flush(); print('enabled', gc.isenabled()); return was(*given, **named)\n"
        "module.exit_status = told\n"
        "from ventrules.cli import main\n"
        "main()"
    )
    assert run(code).splitlines()[-1] == "enabled True"
