"""Every public name has an example that runs, and says what it takes, gives and raises."""

import ast
import inspect
import re
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final, NamedTuple

import pytest

import ventrules
from tests.embedding.fresh import EXAMPLES
from tests.pages import DOCS, blocks, rows
from ventrules.diagnosis import SymptomError
from ventrules.engine import Edit, EditKind, RegistryError
from ventrules.sources import practice

SHOWN_ON: Final = ("embedding.md", "library.md")  # whose examples are run by the tests of the documentation
CALLABLES: Final = [name for name in ventrules.__all__ if callable(getattr(ventrules, name))]


# Examples


def used(source: str) -> set[str]:
    """Return the public names that an example takes from the package."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "ventrules":
            found.add(node.attr)
        elif isinstance(node, ast.ImportFrom) and node.module == "ventrules":
            found |= {alias.name for alias in node.names}
    return found


def test_the_search_for_names_finds_them() -> None:
    code = "import ventrules\nventrules.check(x)\nfrom ventrules import Job, plan\nfrom ventrules.job import Site"
    assert used(code) == {"check", "Job", "plan"}


def test_every_public_name_is_in_an_example_that_runs() -> None:
    shown = set[str]().union(*(used(block.text) for page in SHOWN_ON for block in blocks(DOCS / page, "python")))
    assert [name for name in ventrules.__all__ if name not in shown] == []


def test_the_pages_show_no_name_that_is_none() -> None:
    for page in DOCS.glob("*.md"):
        for block in blocks(page, "python"):
            assert [name for name in used(block.text) if not hasattr(ventrules, name)] == [], str(block)


# Docstrings


def functions(name: str) -> Iterator[tuple[str, Callable[..., object], str]]:
    """Yield a public function, or the public functions of a class, with its docstring."""
    value = getattr(ventrules, name)
    if not isinstance(value, type):
        yield name, value, inspect.getdoc(value) or ""
        return
    for member, held in vars(value).items():
        plain = getattr(held, "__func__", getattr(held, "fget", getattr(held, "func", held)))
        if not member.startswith("_") and inspect.isfunction(plain):
            yield f"{name}.{member}", plain, inspect.getdoc(plain) or ""


ALL: Final = {full: (function, doc) for name in CALLABLES for full, function, doc in functions(name)}


def section(doc: str, title: str) -> dict[str, str]:
    """Return the entries of one section of a docstring."""
    body = re.search(rf"^{title}:\n((?:    .*\n?|\n)+)", doc, re.MULTILINE)
    entries = re.findall(r"^    (\w+): ((?:.*)(?:\n {8}.*)*)", body[1], re.MULTILINE) if body else []
    return dict(entries)


def test_there_are_functions_to_look_at() -> None:
    assert len(ALL) > 60
    assert {"check", "Registry.select", "Survey.requirement", "Report.as_dict"} <= ALL.keys()


@pytest.mark.parametrize("name", [name for name in CALLABLES if not isinstance(getattr(ventrules, name), type)])
def test_a_public_function_describes_each_argument_and_no_other(name: str) -> None:
    function, doc = ALL[name]
    arguments = list(inspect.signature(function).parameters)
    described = section(doc, "Args")
    if len(arguments) > 1:
        assert list(described) == arguments
    else:
        assert set(described) <= set(arguments)


@pytest.mark.parametrize("name", [name for name in CALLABLES if isinstance(getattr(ventrules, name), type)])
def test_a_public_class_describes_each_attribute_and_no_other(name: str) -> None:
    kind = getattr(ventrules, name)
    fields = [each.name for each in getattr(kind, "__attrs_attrs__", ())]
    doc = inspect.getdoc(kind) or ""
    assert len(doc) > 10
    if "Attributes:" in doc:
        assert list(section(doc, "Attributes")) == sorted(fields, key=list(section(doc, "Attributes")).index)
    else:  # what is plain by its names
        assert len(fields) <= 3


def raised_here(function: Callable[..., object]) -> set[str]:
    """Return the names of the exceptions that the body of a function raises itself."""
    tree = ast.parse(inspect.cleandoc("\n" + inspect.getsource(inspect.unwrap(function))))
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Raise) and node.exc is not None:
            called = node.exc.func if isinstance(node.exc, ast.Call) else node.exc
            if isinstance(called, ast.Name):
                found.add(called.id)
    return found


def named(name: str, doc: str) -> set[str]:
    """Return the exceptions that a docstring names: under Raises, or a fact of a class in its one sentence."""
    kind, _dot, member = name.rpartition(".")
    fact = bool(kind) and not inspect.isfunction(inspect.getattr_static(getattr(ventrules, kind), member))
    return set(section(doc, "Raises")) or set(re.findall(r"\w+Error", doc if fact else ""))


@pytest.mark.parametrize("name", ALL)
def test_what_a_function_raises_itself_is_described(name: str) -> None:
    function, doc = ALL[name]
    assert raised_here(function) <= named(name, doc)


def test_the_search_for_raising_finds_it() -> None:
    assert raised_here(ventrules.Registry.select) == {"RegistryError"}
    assert section(inspect.getdoc(ventrules.applied) or "", "Raises").keys() == {"JobFileError", "ValueError"}


# What it raises indeed


class Refused(NamedTuple):
    """A call that has to raise."""

    name: str
    error: type[Exception]
    call: Callable[[], object]


def _job(name: str = "sound/number-02.yaml") -> ventrules.Job:
    return ventrules.read_job(EXAMPLES / name)


def _remedy(edit: Edit) -> ventrules.Remedy:
    return ventrules.Remedy("Change it", (edit,))


def _unreadable() -> object:
    with TemporaryDirectory() as folder:
        Path(folder, "pyproject.toml").write_text("[tool.ventrules", encoding="utf-8")
        return ventrules.find_policy(folder)


def _without_need() -> ventrules.Job:
    document = ventrules.job_document(_job())
    return ventrules.job_from_document({**document, "target": {"code": "csa-f326"}})


def _rule(name: str = "lane/odd", message: str = "{a}") -> ventrules.Rule[ventrules.Survey, ventrules.Finding]:
    return ventrules.Rule(
        id=name,
        title="Odd",
        severity=ventrules.Severity.ADVICE,
        each=lambda _survey: (),
        check=lambda _subject: None,
        message=message,
        todo="Look.",
        basis=practice("it is looked at"),
    )


AREA_GONE: Final = Edit(EditKind.REMOVE, ("dwelling", "floor_area"))
NOTHING_GONE: Final = Edit(EditKind.REMOVE, ("dwelling", "attic"))
REFUSED: Final = (
    Refused("read_job", ventrules.JobFileError, lambda: ventrules.read_job(Path("nowhere.yaml"))),
    Refused("read_job", ventrules.JobFileError, lambda: ventrules.read_job(EXAMPLES)),
    Refused("parse_job", ventrules.JobFileError, lambda: ventrules.parse_job("job: [")),
    Refused("job_from_document", ventrules.JobFileError, lambda: ventrules.job_from_document({"ventrules": 7})),
    Refused("find_policy", ventrules.JobFileError, _unreadable),
    Refused("read_policy", ventrules.JobFileError, lambda: ventrules.read_policy("nowhere.toml")),
    Refused("read_baseline", ventrules.JobFileError, lambda: ventrules.read_baseline("nowhere.json")),
    Refused("applied", ventrules.JobFileError, lambda: ventrules.applied(_job(), _remedy(AREA_GONE))),
    Refused("applied", ValueError, lambda: ventrules.applied(_job(), _remedy(NOTHING_GONE))),
    Refused("check_one", RegistryError, lambda: ventrules.check_one("x", only=["airflaw"])),
    Refused("check_many", RegistryError, lambda: ventrules.check_many([], skip=["airflaw"])),
    Refused("check_many", ValueError, lambda: ventrules.check_many([], executor=ThreadPoolExecutor(1), batch=0)),
    Refused("schema", ventrules.UnknownSchemaError, lambda: ventrules.schema("jobb")),
    Refused("plan", ValueError, lambda: ventrules.plan(_job(), least="money")),
    Refused("plan", ValueError, lambda: ventrules.plan(_job(), hold=["evening"])),
    Refused("requirement", ventrules.UnknownRequirementError, lambda: ventrules.requirement(_without_need())),
    Refused("diagnose", SymptomError, lambda: ventrules.diagnose(_job(), ventrules.Symptoms(powered={"x": False}))),
    Refused("diagnose", ValueError, lambda: ventrules.diagnose(_job(), most_faults=0)),
    Refused("Registry.select", RegistryError, lambda: ventrules.installed_rules().select(only=["no/such-rule"])),
    Refused("Registry.rule", RegistryError, lambda: ventrules.installed_rules().rule("no/such-rule")),
    Refused("Registry.build", RegistryError, lambda: ventrules.Registry.build([("lane", [_rule()])], ["other"])),
    Refused("Rule", ValueError, lambda: _rule("Lane")),
    Refused("Rule", ValueError, lambda: _rule(message="{0}")),
    Refused("Job.model_of", KeyError, lambda: _job().model_of("attic fan")),
    Refused("Survey.device", KeyError, lambda: ventrules.Survey(_job()).device("attic fan")),
    Refused("Survey.ventilator", KeyError, lambda: ventrules.Survey(_job()).ventilator("furnace")),
    Refused("Survey.profile", ValueError, lambda: ventrules.Survey(_job()).profile("no-such-bus")),
    Refused(
        "Survey.requirement", ventrules.UnknownRequirementError, lambda: ventrules.Survey(_without_need()).requirement
    ),
)


@pytest.mark.parametrize("case", REFUSED, ids=lambda case: f"{case.name} {case.error.__name__}")
def test_what_is_raised_is_what_is_described(case: Refused) -> None:
    with pytest.raises(case.error) as caught:
        case.call()
    kind = getattr(ventrules, case.name, None)
    doc = ALL[case.name][1] if case.name in ALL else inspect.getdoc(kind) or ""
    assert {each.__name__ for each in type(caught.value).__mro__[:2]} & named(case.name, doc), case.name


def test_every_exception_that_is_described_is_raised_by_one_of_these() -> None:
    tried = {(case.name, case.error.__name__) for case in REFUSED}
    described = {(name, error) for name, (_function, doc) in ALL.items() for error in section(doc, "Raises")}
    assert described - tried == {("check_many", "BrokenExecutor")}  # tested where executors are


def test_the_page_lists_what_is_raised_and_by_what() -> None:
    text = (DOCS / "embedding.md").read_text(encoding="utf-8")
    table = rows(text.partition("\n## What is raised\n")[2].partition("\n## ")[0])
    listed = {
        (by.removeprefix("ventrules."), error.split("`")[1].rpartition(".")[2])
        for error, given, _when in table
        for by in re.findall(r"`([\w.]+)`", given)
    }
    raised = {(case.name, case.error.__name__) for case in REFUSED} | {("check_many", "BrokenExecutor")}
    by_class = {(name.partition(".")[0], error) for name, error in raised if name.startswith("Registry.")}
    assert listed == {each for each in raised if not each[0].startswith("Registry.")} | by_class
