"""What the page on stability promises holds: nothing public is gone or changed, unless it is renewed on purpose."""

import ast
import hashlib
from collections.abc import Callable, Iterator
from typing import Final

import attrs
import pytest

import ventrules
from tests.embedding.fresh import EXAMPLES, ROOT
from tests.embedding.public_api import API, RULES, broken, describe, differences, public_api, read, rule_ids
from tests.pages import DOCS, rows

RENEW: Final = "\nTo write down what was added: python -m tests.embedding.public_api"


def test_nothing_public_is_gone_and_signatures_only_grew() -> None:
    """What fails here breaks programs in use: it needs a deprecation first, or a new major version."""
    assert broken(read(API), public_api()) == []


def test_what_was_added_is_written_down() -> None:
    """Or it could go again unnoticed."""
    added = differences(read(API), public_api())
    assert not added, added + RENEW


def test_no_rule_id_is_gone() -> None:
    assert set(read(RULES)) - set(rule_ids()) == set()


def test_each_rule_id_is_written_down() -> None:
    added = differences(read(RULES), rule_ids())
    assert not added, added + RENEW


def test_what_is_written_down_says_something_of_every_public_name() -> None:
    lines = read(API)
    for name in ventrules.__all__:
        value = getattr(ventrules, name)
        start = f"class {name}(" if isinstance(value, type) else f"def {name}(" if callable(value) else f"{name}: "
        assert [line for line in lines if line.startswith(start)], name
        members = [line for line in lines if line.startswith(f"  {name}.")]
        assert bool(members) == (isinstance(value, type) and not issubclass(value, (ValueError, LookupError))), name
    assert len(lines) > 250


# What the comparison sees


def before(job: str, *, outside: bool = False) -> list[str]:
    return [job, str(outside)]


def renamed(task: str, *, outside: bool = False) -> list[str]:
    return [task, str(outside)]


def needed(job: str, *, outside: bool) -> list[str]:
    return [job, str(outside)]


def narrowed(job: str, *, outside: bool = False) -> list[str] | None:
    return [job, str(outside)]


def otherwise(job: str, *, outside: bool = True) -> list[str]:
    return [job, str(outside)]


def asking_more(job: str, *, day: int, outside: bool = False) -> list[str]:
    return [job, str(outside), str(day)]


def in_front(day: int, job: str, *, outside: bool = False) -> list[str]:
    return [job, str(outside), str(day)]


def grown(job: str, day: int = 0, *, outside: bool = False, name: str = "") -> list[str]:
    return [job, str(outside), str(day), name]


@attrs.frozen
class Kept:
    """A class before a change."""

    name: str
    many: tuple[str, ...] = ()

    @property
    def first(self) -> str:
        """The first."""
        return self.many[0]

    def at(self, index: int) -> str:
        """One of them."""
        return self.many[index]


@attrs.frozen
class Cut:
    """The same class without its property, and with another type."""

    name: str
    many: list[str] = attrs.Factory(list)

    def at(self, index: int) -> str:
        """One of them."""
        return self.many[index]


@pytest.mark.parametrize("changed", [renamed, needed, narrowed, otherwise, asking_more, in_front])
def test_a_changed_signature_is_seen(changed: Callable[..., object]) -> None:
    old, new = list(describe("work", before)), list(describe("work", changed))
    assert old == ["def work(job: str, *, outside: bool = False) -> list[str]"]
    assert broken(old, new) == old
    assert differences(old, new) == f"- {old[0]}\n+ {new[0]}"


def test_a_signature_that_only_grew_breaks_nothing_and_is_seen() -> None:
    old, new = list(describe("work", before)), list(describe("work", grown))
    assert broken(old, new) == []
    assert differences(old, new)
    assert broken(new, old) == new
    assert differences(old, old) == ""


def test_a_changed_class_is_seen() -> None:
    old, new = list(describe("Kept", Kept)), list(describe("Kept", Cut))
    lines = [
        "  Kept.__init__(name: str, many: tuple[str, ...] = ()) -> None",
        "  Kept.first: str",
        "  Kept.many: tuple[str, ...]",
    ]
    assert broken(old, new) == lines
    assert differences(old, new).splitlines()[:3] == [f"- {line}" for line in lines]


@attrs.frozen
class Widened:
    """The same class with an attribute more, in the middle."""

    name: str
    about: str = ""
    many: tuple[str, ...] = ()
    first: str = ""

    def at(self, index: int) -> str:
        """One of them."""
        return self.many[index]


def test_a_class_that_only_grew_breaks_nothing() -> None:
    old, new = list(describe("Kept", Kept)), list(describe("Kept", Widened))
    assert broken(old, new) == []
    assert broken(new, old) == ["  Kept.__init__" + new[1].partition("__init__")[2], "  Kept.about: str"]


# Fingerprints


def test_a_fingerprint_is_made_of_the_rule_and_the_place_in_a_way_that_stays() -> None:
    """Baselines hold them, and a hash of another text would make everything in them new."""
    path = EXAMPLES / "faulty" / "too-little-air-in-winter.yaml"
    (finding,) = ventrules.check(ventrules.read_job(path)).findings
    text = "airflow/below-target\nsettings / ventilator / programs / day / heating\n"
    assert finding.fingerprint == hashlib.sha256(text.encode()).hexdigest()[:16] == "f191923510cf4f01"
    told = attrs.evolve(finding, unchecked=True)
    assert told.fingerprint == hashlib.sha256(f"{text}unchecked".encode()).hexdigest()[:16]


def test_a_fingerprint_does_not_follow_words_severity_or_lines() -> None:
    path = EXAMPLES / "faulty" / "too-little-air-in-winter.yaml"
    (finding,) = ventrules.check(ventrules.read_job(path)).findings
    other = attrs.evolve(
        finding, title="Said anew", message="In other words.", severity=ventrules.Severity.ADVICE, position=None
    )
    assert other.fingerprint == finding.fingerprint


# The page itself


def test_the_page_names_what_this_version_says_of_itself() -> None:
    text = (DOCS / "stability.md").read_text(encoding="utf-8")
    assert f"`ventrules.__version__` is `{ventrules.__version__}`" in text
    assert f"interface {read(API)[-1].rpartition(' ')[2]}" in text
    statuses = {row[0]: row[1] for row in rows(text) if row[0] in {"`0`", "`1`", "`2`"}}
    assert len(statuses) == 3


# Warnings


def warned(tree: ast.AST) -> Iterator[str]:
    """Yield the category of each warning that code gives, or an empty string where it names none."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "warn":
            named = [*node.args[1:2], *(word.value for word in node.keywords if word.arg == "category")]
            yield named[0].id if named and isinstance(named[0], ast.Name) else ""


def test_the_search_for_warnings_finds_them() -> None:
    code = "warnings.warn('a')\nwarnings.warn('b', DeprecationWarning)\nw.warn('c', category=UserWarning, stacklevel=2)"
    assert list(warned(ast.parse(code))) == ["", "DeprecationWarning", "UserWarning"]


def test_the_package_warns_of_nothing_but_what_is_to_go() -> None:
    sources = sorted((ROOT / "ventrules").rglob("*.py"))
    assert len(sources) > 100
    given = [each for source in sources for each in warned(ast.parse(source.read_text(encoding="utf-8")))]
    assert set(given) <= {"DeprecationWarning"}
