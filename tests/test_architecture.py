"""The house keeps its rules: imports go down, rules hold no numbers, modules and functions stay small."""

import ast
import inspect
import json
import re
import subprocess
import sys
import tomllib
from collections.abc import Callable, Iterator
from importlib import import_module
from pathlib import Path
from pkgutil import walk_packages
from types import ModuleType, SimpleNamespace
from typing import Any, ForwardRef, get_args, get_type_hints

import click
import pytest

import ventrules
import ventrules.survey
from ventrules.engine.findings import Document
from ventrules.planner.seasons import SeasonPlanner

PACKAGE = Path(ventrules.__file__).parent
ROOT = PACKAGE.parent
SOURCES = sorted(PACKAGE.rglob("*.py"))
RULE_SOURCES = sorted((PACKAGE / "rules").rglob("*.py"))

LONGEST_MODULE = 400
LONGEST_FUNCTION = 60
PLAIN_NUMBERS = frozenset({0, 1})  # equal to 0.0 and 1.0: nothing, one thing, the whole


def _name(source: Path) -> str:
    return source.relative_to(ROOT).as_posix()


def _tree(source: Path) -> ast.Module:
    return ast.parse(source.read_text(encoding="utf-8"))


def test_there_is_something_to_look_at() -> None:
    assert len(SOURCES) > 50
    assert len(RULE_SOURCES) > 5


# What a rule module may hold


def bare_numbers(tree: ast.AST) -> Iterator[int]:
    """Yield the line of each number but 0 and 1 that is no index."""
    indexes = {inner for node in ast.walk(tree) if isinstance(node, ast.Subscript) for inner in ast.walk(node.slice)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and node not in indexes:
            value = node.value
            if isinstance(value, (int, float, complex)) and not isinstance(value, bool) and value not in PLAIN_NUMBERS:
                yield node.lineno


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ("a[0]\nb[-3:5]\nc = 0 + 1 * 1.0 - 0.0\nd = -1\ne = True", []),
        ("limit = 0.25\nif flow > 90 or share < 1e-3: pass", [1, 2, 2]),
        ("f'{share:.2%} of {60}'", [1]),
    ],
)
def test_the_search_for_numbers_finds_them(text: str, lines: list[int]) -> None:
    assert sorted(bare_numbers(ast.parse(text))) == lines


@pytest.mark.parametrize("source", RULE_SOURCES, ids=_name)
def test_no_rule_module_holds_a_bare_number(source: Path) -> None:
    assert list(bare_numbers(_tree(source))) == []


FORBIDDEN_IN_RULES = frozenset(
    {"networkx", "yaml", "json", "tomllib", "click", "rich", "pathlib", "os", "io", "shutil", "tempfile", "subprocess"}
)
OPENERS = frozenset({"open", "read_text", "read_bytes", "write_text", "write_bytes", "print", "eval", "exec"})


def imported(tree: ast.AST) -> Iterator[str]:
    """Yield the full name of every module that is imported."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0
            yield node.module or ""


def called(tree: ast.AST) -> Iterator[str]:
    """Yield the last name of everything that is called."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            target = node.func
            yield (
                target.attr if isinstance(target, ast.Attribute) else target.id if isinstance(target, ast.Name) else ""
            )


@pytest.mark.parametrize("source", RULE_SOURCES, ids=_name)
def test_a_rule_module_knows_no_graph_no_format_and_no_file(source: Path) -> None:
    tree = _tree(source)
    assert not {name.partition(".")[0] for name in imported(tree)} & FORBIDDEN_IN_RULES
    assert not set(called(tree)) & OPENERS
    assert not {name for name in imported(tree) if name.startswith(("ventrules.files", "ventrules.outputs"))}


def test_the_search_for_openers_finds_them() -> None:
    tree = ast.parse("from pathlib import Path\nimport yaml.nodes\nPath('x').read_text()\nopen('y')")
    assert set(imported(tree)) == {"pathlib", "yaml.nodes"}
    assert set(called(tree)) == {"Path", "read_text", "open"}


# Size


def lines_of(node: ast.AST) -> int:
    """Return how many lines a definition takes, decorators and docstring included."""
    assert isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef))
    first = min((decorator.lineno for decorator in node.decorator_list), default=node.lineno)
    return (node.end_lineno or node.lineno) - first + 1


@pytest.mark.parametrize("source", SOURCES, ids=_name)
def test_modules_and_functions_stay_small(source: Path) -> None:
    assert len(source.read_text(encoding="utf-8").splitlines()) <= LONGEST_MODULE
    functions = [node for node in ast.walk(_tree(source)) if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef))]
    assert {node.name: lines_of(node) for node in functions if lines_of(node) > LONGEST_FUNCTION} == {}


# The public face


def _modules() -> Iterator[ModuleType]:
    yield ventrules
    for info in walk_packages(ventrules.__path__, "ventrules."):
        if not info.name.rpartition(".")[2].startswith("_"):
            yield import_module(info.name)


def _own(module: ModuleType) -> Iterator[tuple[str, object]]:
    """Yield what a module itself defines under public names."""
    for name, value in vars(module).items():
        if not name.startswith("_") and getattr(value, "__module__", None) == module.__name__:
            yield f"{module.__name__}.{name}", value


def _functions(name: str, value: object) -> Iterator[tuple[str, Callable[..., object]]]:
    """Yield a public function, or the public methods and properties of a class."""
    if isinstance(value, click.Command) and value.callback is not None:
        yield name, value.callback
    elif inspect.isfunction(value):
        yield name, value
    elif inspect.isclass(value):
        for attribute, member in vars(value).items():
            plain = getattr(member, "__func__", getattr(member, "fget", getattr(member, "func", member)))
            if not attribute.startswith("_") and inspect.isfunction(plain):
                yield f"{name}.{attribute}", plain


def public_functions() -> dict[str, Callable[..., object]]:
    """Return every public function and method of the package by its name."""
    return {
        name: function
        for module in _modules()
        for own, value in _own(module)
        for name, function in _functions(own, value)
    }


# What type checkers know and a running module does not: an import that would close a circle or bring arrays along,
# an alias that names itself, and graphs that take no parameters at run time.
FOR_TYPE_CHECKERS = {
    "SeasonPlanner": SeasonPlanner,
    "CableView": ventrules.survey.CableView,
    "Survey": ventrules.survey.Survey,
    "Document": Document,
    "Baseline": ventrules.Baseline,
    "Ledger": ventrules.Ledger,
    "nx": SimpleNamespace(Graph=set, MultiGraph=set),
}


def has_any(hint: object) -> bool:
    """Say whether `Any` stands anywhere in a type."""
    if isinstance(hint, (str, ForwardRef)):  # what a recursive alias leaves behind
        return re.search(r"\bAny\b", str(hint)) is not None
    parts = hint if isinstance(hint, list) else get_args(hint)
    return hint is Any or any(has_any(part) for part in parts)


@pytest.mark.parametrize("hint", [Any, list[Any], Callable[[Any], int], Callable[..., Any], dict[str, int | list[Any]]])
def test_the_search_for_any_finds_it(hint: object) -> None:
    assert has_any(hint)


@pytest.mark.parametrize("hint", [int, Callable[[int], str], Callable[..., object], dict[str, int | None], None])
def test_the_search_for_any_finds_nothing_else(hint: object) -> None:
    assert not has_any(hint)


def test_no_public_signature_says_any() -> None:
    functions = public_functions()
    assert len(functions) > 200
    assert "ventrules.codes.evaluate.requirement" in functions
    assert "ventrules.survey.week.Week.stretches" in functions
    assert "ventrules.engine.report.Report.ok" in functions
    assert "ventrules.survey.topology.Topology.segments" in functions  # worked out once, kept
    hints = {name: get_type_hints(function, localns=FOR_TYPE_CHECKERS) for name, function in functions.items()}
    assert [name for name, found in hints.items() if any(map(has_any, found.values()))] == []


def test_no_public_attribute_says_any() -> None:
    hints = {
        f"{name}.{attribute}": hint
        for module in _modules()
        for name, value in _own(module)
        if inspect.isclass(value)
        for attribute, hint in get_type_hints(value, localns=FOR_TYPE_CHECKERS).items()
        if not attribute.startswith("_")
    }
    assert len(hints) > 200
    assert "ventrules.job.model.Job.cables" in hints
    assert [name for name, hint in hints.items() if has_any(hint)] == []


def test_every_public_signature_is_typed_throughout() -> None:
    for name, function in public_functions().items():
        signature = inspect.signature(function)
        untyped = [
            parameter.name
            for parameter in signature.parameters.values()
            if parameter.annotation is parameter.empty and parameter.name not in ("self", "cls")
        ]
        assert untyped == [], name
        assert signature.return_annotation is not signature.empty, name


def test_every_public_name_is_there_and_described() -> None:
    assert len(list(_modules())) > 50  # a module of the same name must not stand in the way once it is imported
    names = [name for name in ventrules.__all__ if name != "__version__"]
    assert len(names) > 15
    assert sorted(ventrules.__all__) == list(ventrules.__all__)
    for name in names:
        value = getattr(ventrules, name)
        assert callable(value), name
        assert value.__doc__, name
        assert len(value.__doc__.strip()) > 10, name
        for member, function in _functions(name, value):
            assert function.__doc__, member


def test_an_unknown_public_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'chekc'"):
        getattr(ventrules, "chekc")  # noqa: B009 - a type checker knows that there is none


# Imports


def loaded_after(code: str) -> set[str]:
    """Return the top-level modules that a fresh interpreter has loaded after some code."""
    script = f"import json, sys\n{code}\nprint(json.dumps(sorted(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True, cwd=ROOT)
    return {name.partition(".")[0] for name in json.loads(done.stdout.splitlines()[-1])}


def test_importing_the_package_alone_loads_nothing_heavy() -> None:
    loaded = loaded_after("import ventrules")
    assert "ventrules" in loaded
    assert not loaded & {"networkx", "rich", "click", "yaml", "numpy", "cattrs", "jsonpatch", "hypothesis"}


def test_the_library_does_not_load_the_command_line() -> None:
    loaded = loaded_after("import ventrules\nfor name in ventrules.__all__: getattr(ventrules, name)")
    assert "attrs" in loaded
    assert not loaded & {"rich", "click", "cattrs", "numpy", "networkx", "hypothesis", "pytest"}


def test_the_import_contracts_hold() -> None:
    code = "from importlinter.cli import lint_imports; raise SystemExit(lint_imports(no_cache=True, no_logo=True))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, cwd=ROOT)
    assert done.returncode == 0, done.stdout + done.stderr
    assert " 0 broken." in done.stdout


def test_every_room_is_under_contract() -> None:
    """A room that no layer names could import anything."""
    with (ROOT / "pyproject.toml").open("rb") as file:
        contracts = tomllib.load(file)["tool"]["importlinter"]["contracts"]
    (layers,) = [contract["layers"] for contract in contracts if contract["type"] == "layers"]
    named = {name.strip() for layer in layers for name in layer.split("|")}
    rooms = {
        f"ventrules.{entry.stem}"
        for entry in PACKAGE.iterdir()
        if (entry.suffix == ".py" and not entry.stem.startswith("__")) or (entry / "__init__.py").exists()
    }
    assert named == rooms - {"ventrules.testing"}
    # what is offered to rule authors stands beside the house, under a contract of its own
    (beside,) = [c for c in contracts if "ventrules.testing" in c.get("forbidden_modules", ())]
    assert named - {"ventrules.units", "ventrules.sources", "ventrules.words"} <= set(beside["source_modules"])
    for room in rooms - named - {"ventrules.testing"}:
        below = imported(_tree(PACKAGE / f"{room.partition('.')[2]}.py"))
        assert not [name for name in below if name.startswith("ventrules")], room
