"""Code files: every packaged one is sound, and every kind of broken one is refused at its place."""

import json
import tomllib
from collections.abc import Iterable, Iterator
from importlib.resources import files
from typing import TypeAlias

import attrs
import jsonpatch
import pytest

from tests.codes.houses import EDITIONS
from ventrules.codes import Code
from ventrules.codes.code import Clause
from ventrules.codes.limits import Limits
from ventrules.engine import pointer
from ventrules.engine.findings import Document
from ventrules.files import CodeFileError, limits, load_code, parse_code
from ventrules.files.resources import code_names
from ventrules.sources import Basis, Known

Steps: TypeAlias = tuple[str | int, ...]


def _text(code: str) -> str:
    return files("ventrules").joinpath("codes", f"{code}.toml").read_text(encoding="utf-8")


def _tree(code: str) -> dict[str, Document]:
    return tomllib.loads(_text(code))


def _inline(value: Document) -> str:
    """Return a value as TOML: inline tables, lists, basic strings."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{json.dumps(key)} = {_inline(inner)}" for key, inner in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_inline(inner) for inner in value) + "]"
    return json.dumps(value)


def _written(tree: dict[str, Document]) -> str:
    return "\n".join(f"{json.dumps(key)} = {_inline(value)}" for key, value in tree.items())


def _places(value: Document, path: Steps = ()) -> Iterator[Steps]:
    """Yield the path of every node below the top."""
    inner: Iterable[tuple[str | int, Document]] = ()
    if isinstance(value, dict):
        inner = value.items()
    elif isinstance(value, list):
        inner = enumerate(value)
    for step, below in inner:
        yield (*path, step)
        yield from _places(below, (*path, step))


def _with(code: str, path: Steps, value: Document) -> str:
    """Return a packaged code's text with one node added or put in place of another."""
    op = "replace" if path in set(_places(_tree(code))) else "add"
    changed: dict[str, Document] = jsonpatch.apply_patch(
        _tree(code), [{"op": op, "path": pointer(path), "value": value}]
    )
    return _written(changed)


def _without(code: str, path: Steps) -> str:
    """Return a packaged code's text with one node left out."""
    changed: dict[str, Document] = jsonpatch.apply_patch(_tree(code), [{"op": "remove", "path": pointer(path)}])
    return _written(changed)


def _phrase(path: Steps) -> str:
    return " / ".join(str(step) for step in path)


def _said(text: str) -> str:
    with pytest.raises(CodeFileError) as caught:
        parse_code(text, "county.toml")
    return str(caught.value)


def _bases(value: object) -> Iterator[Clause | Basis]:
    if isinstance(value, (Clause, Basis)):
        yield value
    elif isinstance(value, dict):
        for inner in value.values():
            yield from _bases(inner)
    else:
        for attribute in getattr(value, "__attrs_attrs__", ()):
            yield from _bases(getattr(value, attribute.name))


def test_the_packaged_codes() -> None:
    assert set(EDITIONS) <= set(code_names())


@pytest.mark.parametrize("name", code_names())
def test_a_packaged_code_is_sound_and_says_where_each_figure_stands(name: str) -> None:
    code = load_code(name)
    assert code.code == name
    assert code.title
    assert code.edition
    assert code.jurisdiction
    assert code.judged
    bases = list(_bases(code))
    assert len(bases) >= 3
    for basis in bases:
        assert basis.clause.strip()
        assert isinstance(basis.known, Known)
        full = code.basis(basis) if isinstance(basis, Clause) else basis
        assert (full.title, full.clause, full.known) == (code.title, basis.clause, basis.known)


def test_limits_of_practice_say_what_they_rest_on() -> None:
    found = limits()
    assert isinstance(found, Limits)
    parts = [getattr(found, attribute.name) for attribute in attrs.fields(Limits)]
    assert parts
    for part in parts:
        (basis,) = _bases(part)
        assert basis.known is Known.COMMON_PRACTICE
        assert basis.note or (isinstance(basis, Basis) and basis.title)
    assert found.filter_interval.least.s < found.filter_interval.usual.s < found.filter_interval.most.s


@pytest.mark.parametrize("name", code_names())
def test_the_writer_of_these_tests_changes_nothing(name: str) -> None:
    assert parse_code(_written(_tree(name)), name) == load_code(name)


@pytest.mark.parametrize("name", code_names())
def test_a_node_of_the_wrong_type_is_refused_at_its_place(name: str) -> None:
    # No node of a code file is a truth value or a list of truth values.
    places = [path for path in _places(_tree(name)) if path != ("ventrules-code",)]
    assert len(places) > 50
    for path in places:
        wrongs: tuple[Document, ...] = (True, [True])
        for wrong in wrongs:
            said = _said(_with(name, path, wrong))
            assert f"county.toml: {_phrase(path)}" in said, (path, said)


def _refusal(text: str) -> str:
    """Return why a text is refused, or nothing when it is not."""
    try:
        parse_code(text, "county.toml")
    except CodeFileError as error:
        return str(error)
    return ""


def test_a_missing_key_is_refused_at_its_place() -> None:
    name = "us-irc-2021"
    spared = set()
    for path in _places(_tree(name)):
        if isinstance(path[-1], int) or path in (("ventrules-code",), ("run_time",)):
            continue
        said = _refusal(_without(name, path))
        assert not said or f"county.toml: {_phrase(path)}: missing" in said, (path, said)
        if not said:
            spared.add(_phrase(path))
    assert {path for path in spared if not path.endswith(" / note")} == {
        "rate / table",
        "rate / equation",
        "credits",
        "credits / balanced-ducted",
        "credits / balanced-ducted / needs",
        "balanced",
    }
    assert "county.toml: kind: " in _refusal(_without(name, ("run_time",)))
    assert "county.toml: expected `ventrules-code = 1`" in _refusal(_without(name, ("ventrules-code",)))


@pytest.mark.parametrize("path", [("rate", "table", "rates", 2, 3), ("rate", "table", "rates", 5)])
def test_a_gap_in_the_table_is_refused(path: Steps) -> None:
    assert "county.toml: rate / table / rates: expected 6 rows of 5 rates" in _said(_without("us-irc-2021", path))


@pytest.mark.parametrize(
    ("path", "value", "place", "why"),
    [
        (("rate", "table", "area_limits", 1), "1400 ft2", "rate / table / area_limits", "rising"),
        (("rate", "table", "area_limits", 1), "1500 ft2", "rate / table / area_limits", "rising"),
        (("rate", "table", "area_limits", 0), 1500, "rate / table / area_limits / 0", "unit"),
        (("rate", "table", "area_limits", 0), "1500 sq", "rate / table / area_limits / 0", "unknown unit"),
        (("rate", "table", "bedroom_limits", 2), 3, "rate / table / bedroom_limits", "rising"),
        (("rate", "table", "bedroom_limits", 2), 4.5, "rate / table / bedroom_limits / 2", "whole number"),
        (("rate", "table", "bedroom_limits", 2), -1, "rate / table / bedroom_limits / 2", "whole number"),
        (("rate", "table", "rates", 0, 0), "30 ft2", "rate / table / rates / 0 / 0", "unknown unit"),
        (("rate", "table", "rates", 0, 0), "-30 cfm", "rate / table / rates / 0 / 0", "too low"),
        (("rate", "equation", "area"), "0 ft2", "rate / equation / area", "too low"),
        (("rate", "equation", "extra_people"), "one", "rate / equation / extra_people", "whole number"),
        (("rate",), {}, "rate", "a table, an equation or both"),
        (("kind",), "averages", "kind", "nearest is 'average'"),
        (("kind",), "average", "kind", "run_time"),
        (("window",), "4 h", "kind", "window"),
        (("counts",), "smaller", "counts", "unknown word"),
        (("judged", 0), "at home", "judged / 0", "unknown word"),
        (("counts_basis", "known"), "rumor", "counts_basis / known", "unknown word"),
        (("run_time", "segment"), "0 h", "run_time / segment", "too low"),
        (("run_time", "segment"), "4", "run_time / segment", "no unit"),
        (("run_time", "shares"), [], "run_time", "one factor for each"),
        (("run_time", "shares", 0), 0.4, "run_time", "rising shares"),
        (("run_time", "shares", 0), 25, "run_time / shares / 0", "fraction"),
        (("run_time", "factors"), [4.0, 3.0], "run_time", "one factor for each"),
        (("run_time", "factors", 0), -4.0, "run_time / factors / 0", "factor"),
        (("run_time", "factors", 0), 4000.0, "run_time / factors / 0", "factor"),
        (("run_time", "route"), "tabel", "run_time / route", "nearest is 'table'"),
        (("credits", "balanced-ducted", "factor"), 1.3, "credits / balanced-ducted / factor", "fraction"),
        (("credits", "balanced-ducted", "needs", 0), "quiet", "credits / balanced-ducted / needs / 0", "unknown word"),
        (("balanced", "fraction"), -0.1, "balanced / fraction", "fraction"),
        (("balanced", "test"), "each to mean", "balanced / test", "nearest is 'each-to-mean'"),
    ],
)
def test_an_impossible_value_is_refused_at_its_place(path: Steps, value: Document, place: str, why: str) -> None:
    said = _said(_with("us-irc-2021", path, value))
    assert f"county.toml: {place}: " in said
    assert why in said


@pytest.mark.parametrize("literal", ["nan", "inf", "-inf"])
def test_numbers_that_are_none_are_refused(literal: str) -> None:
    text = _text("us-irc-2021")
    for sound, place in (
        ("fraction = 0.1", "balanced / fraction"),
        ("factor = 0.7", "credits / balanced-ducted / factor"),
    ):
        assert sound in text
        assert f"county.toml: {place}: " in _said(text.replace(sound, f"{sound.split('=')[0]}= {literal}"))
    assert "[4.0, 3.0" in text
    assert "county.toml: run_time / factors / 0: " in _said(text.replace("[4.0, 3.0", f"[{literal}, 3.0"))


@pytest.mark.parametrize(
    ("old", "new", "where"),
    [
        ('title = "International', 'titel = "International', "titel: unknown key 'titel'"),
        ("[rate.table]", "[rate.tables]", "rate / tables: unknown key 'tables'"),
        ("[balanced]", "[balance]", "balance: unknown key 'balance'"),
        ("extra_people = 1", "extra_people = 1\npeople = 2", "rate / equation / people: unknown key 'people'"),
    ],
)
def test_an_unknown_key_is_refused_with_the_nearest_known_one(old: str, new: str, where: str) -> None:
    text = _text("us-irc-2021")
    assert text.count(old) == 1
    assert f"county.toml: {where}" in _said(text.replace(old, new))


@pytest.mark.parametrize("head", ["", "ventrules-code = 2", 'ventrules-code = "1"', "ventrules-code = true"])
def test_a_file_that_is_no_code_file_of_this_version_is_refused(head: str) -> None:
    said = _said(_text("us-irc-2021").replace("ventrules-code = 1", head))
    assert "county.toml: expected `ventrules-code = 1`" in said


@pytest.mark.parametrize("text", ["ventrules-code = ", "ventrules-code = 1\ncode = 'a'\ncode = 'b'", "\x00", "[a"])
def test_what_is_no_toml_is_refused(text: str) -> None:
    assert "county.toml: not valid TOML: " in _said(text)


def test_every_problem_of_a_file_is_listed() -> None:
    text = (
        _text("us-irc-2021").replace('kind = "segment-factors"', 'kind = "exact"').replace("factor = 0.7", "factor = 7")
    )
    said = _said(text.replace('area = "1 ft2"', "area = 1"))
    lines = said.splitlines()
    assert len(lines) == 3
    for place in ("kind", "credits / balanced-ducted / factor", "rate / equation / area"):
        assert any(line.startswith(f"county.toml: {place}: ") for line in lines)


def test_a_factor_for_a_route_that_the_code_lacks_is_refused() -> None:
    text = _with("us-irc-2015", ("run_time", "route"), "equation")
    assert "county.toml: run_time / route: " in _said(text)


def test_a_code_that_is_held_in_no_occupancy_is_refused() -> None:
    # It would ask for nothing, and so let every job pass in silence.
    assert "county.toml: judged: " in _said(_with("us-irc-2021", ("judged",), []))


@pytest.mark.parametrize(("name", "nearest"), [("us-irc-02021", "us-irc-2021"), ("us-icr-2024", "us-irc-2024")])
def test_an_unknown_code_is_refused_with_the_nearest_known_one(name: str, nearest: str) -> None:
    with pytest.raises(CodeFileError, match=f"unknown code '{name}'; nearest is '{nearest}'"):
        load_code(name)


@pytest.mark.parametrize("name", ["", "zzz", "../limits", "us-irc-2021.toml/../us-irc-2021"])
def test_a_code_is_a_name_and_no_path(name: str) -> None:
    with pytest.raises(CodeFileError, match="unknown code"):
        load_code(name)


def test_codes_are_values() -> None:
    code: Code = load_code("us-irc-2021")
    assert load_code("us-irc-2021") is code
    with pytest.raises(attrs.exceptions.FrozenInstanceError):
        code.edition = "2099"  # type: ignore[misc]
