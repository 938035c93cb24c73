"""A program of someone else's is checked against the installed package, by mypy and by pyright, strictly."""

import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Final, NamedTuple

import pytest

import ventrules
from tests.embedding.fresh import EXAMPLES, ROOT
from tests.embedding.misuses import MISUSES, module

CONSUMER: Final = Path(__file__).parent / "consumer"
MODULES: Final = sorted(path.name for path in (CONSUMER / "quarry_lane_office").glob("*.py"))


class Said(NamedTuple):
    """What a checker reports of each file: line and message."""

    errors: dict[str, dict[int, str]]
    revealed: dict[str, dict[int, str]]


def _run(folder: Path, *words: str, path: str = "") -> subprocess.CompletedProcess[str]:
    """Run a checker as someone would who has the package installed: away from this tree, by this interpreter."""
    env = {**os.environ, "PYRIGHT_PYTHON_IGNORE_WARNINGS": "1", "PYTHONPATH": path}
    env.pop("MYPYPATH", None)
    return subprocess.run(
        [sys.executable, "-m", *words], capture_output=True, text=True, check=False, cwd=folder, env=env
    )


def _by_mypy(folder: Path) -> Said:
    done = _run(folder, "mypy", "--cache-dir", str(folder / "cache"), "--no-error-summary", "--show-absolute-path", ".")
    said = Said({}, {})
    assert done.stderr == ""
    for name, line, kind, message in re.findall(r"^(.+?):(\d+): (error|note): (.*)$", done.stdout, re.MULTILINE):
        if kind == "error":
            said.errors.setdefault(Path(name).name, {})[int(line)] = message
        elif message.startswith("Revealed type is "):
            said.revealed.setdefault(Path(name).name, {})[int(line)] = message.removeprefix("Revealed type is ")
    return said


def _by_pyright(folder: Path) -> Said:
    done = _run(folder, "pyright", "--pythonpath", sys.executable, "--outputjson")
    assert done.stdout.startswith("{"), done.stdout + done.stderr
    said = Said({}, {})
    for each in json.loads(done.stdout)["generalDiagnostics"]:
        line, message = each["range"]["start"]["line"] + 1, each["message"]
        kept = said.errors if each["severity"] == "error" else said.revealed
        kept.setdefault(Path(each["file"]).name, {})[line] = message
    return said


CHECKERS: Final[dict[str, Callable[[Path], Said]]] = {"mypy": _by_mypy, "pyright": _by_pyright}
REVEALED: Final = [name for name in ventrules.__all__ if name != "__version__"]
FILLED: Final = {"Registry": "[ventrules.Survey]", "Rule": "[ventrules.Survey, VentilatorView]"}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The consumer in a folder of its own, with the misuses and a look at every name beside it."""
    folder = tmp_path_factory.mktemp("consumer") / "project"
    shutil.copytree(CONSUMER, folder, ignore=shutil.ignore_patterns("__pycache__", "*_cache"))
    package = folder / "quarry_lane_office"
    (package / "misuses.py").write_text(module(wrong=True)[0], encoding="utf-8")
    (package / "uses.py").write_text(module(wrong=False)[0], encoding="utf-8")
    looks = [f"reveal_type(ventrules.{name}{FILLED.get(name, '')})" for name in REVEALED]
    head = ["import ventrules", "from ventrules.survey import VentilatorView"]
    (package / "looks.py").write_text("\n".join([*head, *looks]) + "\n", encoding="utf-8")
    return folder


@pytest.mark.parametrize("checker", CHECKERS)
def test_a_checker_reports_what_is_wrong_and_nothing_else(checker: str, folder: Path) -> None:
    """One test for each checker, so that each runs but once."""
    said = CHECKERS[checker](folder)
    assert {name: said.errors[name] for name in (*MODULES, "uses.py", "looks.py") if name in said.errors} == {}
    wrong = said.errors["misuses.py"]
    _text, at = module(wrong=True)
    assert [misuse.about for misuse in MISUSES if at[misuse.about] not in wrong] == []
    assert len(wrong) == len(MISUSES)
    assert set(said.errors) == {"misuses.py"}

    revealed = said.revealed["looks.py"]
    assert len(revealed) == len(REVEALED)
    for line, name in enumerate(REVEALED, start=3):
        assert not re.search(r"\b(Any|Unknown)\b", revealed[line]), (name, revealed[line])
        assert re.search(r"\bdef\b|->|type\[", revealed[line]), (name, revealed[line])


def test_the_consumer_does_what_it_says() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "quarry_lane_office", str(EXAMPLES)],
        capture_output=True,
        text=True,
        check=False,
        cwd=CONSUMER,
    )
    assert done.stderr == ""
    assert done.stdout.splitlines() == [
        "{'house 7': False, 'house 29': True} 1 0",
        "True []",
        "airflow/below-target ['delivered', 'equivalent', 'required', 'share', 'shortfall'] 1",
        "True",
        "True True True",
        "[('medium', 5.0), ('low', 40.0)]",
        "True 0.024305293324800005 True",
        "[]",
        "[True, True, False]",
    ]


# What the package promises about its types


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a copy of the package in it, as an installation from a wheel leaves it."""
    site = tmp_path_factory.mktemp("site")
    shutil.copytree(ROOT / "ventrules", site / "ventrules", ignore=shutil.ignore_patterns("__pycache__"))
    return site


def test_every_public_symbol_of_the_package_has_a_known_type(site: Path, tmp_path: Path) -> None:
    done = _run(
        tmp_path,
        "pyright",
        *("--pythonpath", sys.executable, "--outputjson", "--ignoreexternal", "--verifytypes", "ventrules"),
        path=str(site),
    )
    found = json.loads(done.stdout)["typeCompleteness"]
    assert found["pyTypedPath"] == str(site / "ventrules" / "py.typed")
    assert found["exportedSymbolCounts"]["withKnownType"] > 4000
    own = [each for each in found["symbols"] if each["isExported"]]
    assert [each["name"] for each in own if not each["isTypeKnown"] or each["isTypeAmbiguous"]] == []
    assert found["completenessScore"] == 1.0


def test_without_its_marker_a_type_checker_would_not_look_into_the_package(site: Path, tmp_path: Path) -> None:
    """So the checks above do rest on `py.typed`."""
    bare = tmp_path / "site"
    shutil.copytree(site / "ventrules", bare / "ventrules")
    marker = bare / "ventrules" / "py.typed"
    marker.unlink()
    words = ("pyright", "--pythonpath", sys.executable, "--outputjson", "--verifytypes", "ventrules")
    found = json.loads(_run(tmp_path, *words, path=str(bare)).stdout)
    assert "py.typed" in json.dumps(found["generalDiagnostics"])
    assert found["typeCompleteness"].get("pyTypedPath") is None
