"""Code files: every packaged one is sound, and every kind of broken one is refused at its place."""

import re
from collections.abc import Iterator, Mapping
from pathlib import Path

import attrs
import pytest

from tests.codes.county import PARTS, county
from tests.codes.trees import Steps, changed, every_shape, line_of, text_of, tree_of, without, written
from ventrules.codes import Clause, Code, CodeKind, Limits
from ventrules.engine.findings import Document
from ventrules.files import CodeFileError, JobFileError, limits, load_code, parse_code
from ventrules.files.code_files import named_code
from ventrules.files.problems import DocumentError, Problem
from ventrules.files.resources import code_names
from ventrules.sources import Basis, Known

# What each publication asks, in the sense of `CodeKind`: sections as named in the files themselves.
KINDS = {
    "ashrae-62.2-2010": "average",
    "ashrae-62.2-2013": "average",
    "ashrae-62.2-2016": "exposure",
    "ashrae-62.2-2019": "exposure",
    "ashrae-62.2-2022": "exposure",
    "ca-bc-2024": "continuous",
    "ca-on-332-12": "capacity",
    "csa-f326": "capacity",
    "de-din-1946-6-2009": "levels",
    "dk-br18": "levels",
    "fi-2018": "levels",
    "fr-1982": "levels",
    "gb-eng-2021": "continuous",
    "ie-2019": "continuous",
    "nl-2012": "capacity",
    "no-tek10": "average-with-floor",
    "no-tek17": "average",
    "se-bbr": "levels",
    "us-ak-2018": "segment-factors",
    "us-ca-2019": "average",
    "us-ca-2022": "average",
    "us-fl-2023": "segment-factors",
    "us-imc-2024": "average",
    "us-irc-2015": "segment-factors",
    "us-irc-2018": "segment-factors",
    "us-irc-2021": "segment-factors",
    "us-irc-2024": "segment-factors",
    "us-mn": "average-with-floor",
    "us-nc-2021": "segment-factors",
    "us-ny-2024": "segment-factors",
    "us-or-2021": "segment-factors",
    "us-wa-2021": "segment-factors",
}

# Keys that no file may leave out, by the shape of their path; all others have a default.
REQUIRED = re.compile(
    r"""code | title | edition | jurisdiction | kind | counts | judged | rate
    | (.*/)?(counts_|judged_|mean_|peak_|chain_)?basis | .*basis/(clause|known) | must_balance/(clause|known)
    | credits/\*/(title|conditions) | .*/rates | .*/lines | .*/lines/\#/(rooms|airflow)
    | .*/least_bedrooms/count | .*/(extra_occupants|least)/airflow | window/length | least_run/(time|period)
    | run_time/(segment|shares|factors) | exposure/(mean|peak) | balanced/(test|fraction) | levels/\#/occupancy
    | infiltration/(height_exponent|exponent|reference_pressure|air_density|form)
    | infiltration/(metric_)?form/(reference_height|airflow|area)
    | quality/(balanced_distributed|balanced|distributed|neither|conditions)
    | local_exhaust/\#/(rooms|demand) | recovery/\#/sensible | oversize/(beyond|within) | efficacy/(airflow|power)
    | examples/\#/(floor_area|bedrooms|airflow|source) | examples/\#/rooms/\#/kind""",
    re.VERBOSE,
)

SHAPES = every_shape()


def refused(text: str) -> tuple[Problem, ...]:
    """Return the problems of a text that has to be refused."""
    with pytest.raises(CodeFileError) as caught:
        parse_code(text, "county.toml")
    return caught.value.problems


def problems_of(text: str) -> tuple[Problem, ...]:
    """Return the problems of a text; none when it is sound."""
    try:
        parse_code(text, "county.toml")
    except CodeFileError as error:
        return error.problems
    return ()


def _bases(value: object) -> Iterator[Clause | Basis]:
    if isinstance(value, (Clause, Basis)):
        yield value
    elif isinstance(value, Mapping):
        for inner in value.values():
            yield from _bases(inner)
    elif isinstance(value, tuple):
        for inner in value:
            yield from _bases(inner)
    else:
        for attribute in getattr(value, "__attrs_attrs__", ()):
            yield from _bases(getattr(value, attribute.name))


def test_the_packaged_codes() -> None:
    assert {name: load_code(name).kind.value for name in code_names()} == KINDS
    assert {CodeKind(kind) for kind in KINDS.values()} == set(CodeKind)


@pytest.mark.parametrize("name", KINDS)
def test_a_packaged_code_is_sound_and_says_where_each_figure_stands(name: str) -> None:
    code = load_code(name)
    assert code.code == name
    assert code.title
    assert code.edition
    assert code.jurisdiction
    # A capacity is held at no hour of its own; everything else is held in some occupancy.
    assert (code.judged == ()) is (code.kind is CodeKind.CAPACITY)
    bases = list(_bases(code))
    assert len(bases) >= 3
    for clause in bases:
        assert isinstance(clause, Clause)
        assert clause.clause.strip()
        assert clause.known in (Known.SEEN, Known.SECOND_HAND, Known.FROM_MEMORY, Known.COMMON_PRACTICE)
        assert clause.title != code.title
        assert code.basis(clause) == Basis(clause.title or code.title, clause.known, clause.clause, clause.note)


@pytest.mark.parametrize(
    ("name", "clause", "title"),
    [
        # What one publication takes from another keeps the other's name.
        ("ashrae-62.2-2010", "Eq. 4.4, 4.5a and 4.5b", "ASHRAE 62.2-2013"),
        ("ashrae-62.2-2019", "definition of a balanced system", "ANSI/RESNET/ICC 301"),
        ("us-ca-2022", "4.5", "ASHRAE 62.2-2016"),
        ("us-fl-2023", "R202, balanced ventilation system", "International Residential Code 2021"),
        ("gb-eng-2021", "6.55 d", "Approved Document L volume 1, 2021 edition"),
    ],
)
def test_a_clause_may_stand_in_another_publication(name: str, clause: str, title: str) -> None:
    code = load_code(name)
    assert title in {code.basis(b).title for b in _bases(code) if isinstance(b, Clause) and b.clause == clause}


def test_limits_of_practice_say_what_they_rest_on() -> None:
    found = limits()
    assert isinstance(found, Limits)
    fields = attrs.fields(Limits)
    assert len(fields) >= 6
    for attribute in fields:
        bases = list(_bases(getattr(found, attribute.name)))
        assert bases, attribute.name
        for basis in bases:
            # Only the definitions of balanced, which are there to be told apart, are texts that were seen.
            published = attribute.name == "balance_tests"
            assert basis.known in ({Known.SEEN} if published else {Known.COMMON_PRACTICE, Known.SECOND_HAND})
            assert basis.title or (basis.note and not published)
    assert found.filter_interval.least.s < found.filter_interval.usual.s < found.filter_interval.most.s


@pytest.mark.parametrize("name", KINDS)
def test_the_writer_of_these_tests_changes_nothing(name: str) -> None:
    assert parse_code(written(tree_of(name)), name) == load_code(name)


def test_the_shapes_of_paths_cover_all_that_codes_are_made_of() -> None:
    keys = {shape for shape in SHAPES if "/" not in shape}
    # Everything a code can have stands in some packaged file, so that the tests below reach it.
    assert keys == {attribute.name for attribute in attrs.fields(Code)}
    assert len(SHAPES) > 300


@pytest.mark.parametrize("shape", SHAPES)
def test_a_node_of_the_wrong_type_is_refused_at_its_place(shape: str) -> None:
    name, path, value = SHAPES[shape]
    wrongs: tuple[Document, ...] = ("yes" if isinstance(value, bool) else True, [[]], {"no": {"key": 1}})
    for wrong in wrongs:
        text = changed(name, path, wrong)
        said = refused(text)
        assert any(problem.path[: len(path)] == path for problem in said), said
        for problem in said:
            assert problem.position is not None
            assert (problem.file, problem.position.file) == ("county.toml", "county.toml")
            assert (problem.position.line, problem.position.column) == (line_of(text, str(path[0])), 1)


@pytest.mark.parametrize("shape", [shape for shape in SHAPES if not shape.endswith("#")])
def test_a_required_key_that_is_missing_is_named(shape: str) -> None:
    name, path, _value = SHAPES[shape]
    said = problems_of(without(name, path))
    missing = any(problem.path == path and problem.message.startswith("missing; expected ") for problem in said)
    assert missing is (REQUIRED.fullmatch(shape) is not None), said


@pytest.mark.parametrize("kind", PARTS)
def test_a_text_of_ones_own_of_each_kind_is_a_code(kind: str) -> None:
    code = parse_code(county(kind), "county.toml")
    assert code.kind.value == kind
    assert code.rate.equation is not None
    assert code.rate.equation.constant is not None
    assert code.rate.equation.constant.m3s == pytest.approx(0.020)


@pytest.mark.parametrize("name", ["us-irc-2021", "gb-eng-2021", "fr-1982", "ashrae-62.2-2019"])
def test_a_packaged_text_with_a_name_of_ones_own_is_the_same_code(name: str) -> None:
    text = text_of(name).replace(f'code = "{name}"', 'code = "county"')
    assert parse_code(text, "county.toml") == attrs.evolve(load_code(name), code="county")


@pytest.mark.parametrize("path", [("rate", "table", "rates", 2, 3), ("rate", "table", "rates", 5)])
def test_a_gap_in_the_table_is_refused(path: Steps) -> None:
    (problem,) = refused(without("us-irc-2021", path))
    assert (problem.where, problem.message) == ("rate / table / rates", "expected 6 rows of 5 rates")


@pytest.mark.parametrize(
    ("path", "value", "place", "why"),
    [
        (("rate", "table", "area_limits", 0), 1500, "rate / table / area_limits / 0", "unit"),
        (("rate", "table", "area_limits", 0), "1500 sq", "rate / table / area_limits / 0", "unknown unit"),
        (("rate", "table", "column_limits", 2), 4.5, "rate / table / column_limits / 2", "whole number"),
        (("rate", "table", "column_limits", 2), -1, "rate / table / column_limits / 2", "whole number"),
        (("rate", "table", "columns"), "rooms", "rate / table / columns", "bedrooms or main-rooms"),
        (("rate", "table", "rates", 0, 0), "30 ft2", "rate / table / rates / 0 / 0", "unknown unit"),
        (("rate", "table", "rates", 0, 0), "-30 cfm", "rate / table / rates / 0 / 0", "too low"),
        (("rate", "equation", "area"), "0 ft2", "rate / equation / area", "too low"),
        (("rate", "equation", "extra_people"), "one", "rate / equation / extra_people", "whole number"),
        (("rate", "joined"), "larges", "rate / joined", "nearest is 'largest'"),
        (("kind",), "averages", "kind", "nearest is 'average'"),
        (("counts",), "smaller", "counts", "unknown word"),
        (("judged", 0), "at home", "judged / 0", "unknown word"),
        (("counts_basis", "known"), "rumor", "counts_basis / known", "unknown word"),
        (("run_time", "segment"), "0 h", "run_time / segment", "too low"),
        (("run_time", "segment"), "4", "run_time / segment", "no unit"),
        (("run_time", "shares", 0), 25, "run_time / shares / 0", "write 0.65 for 65 %"),
        (("run_time", "factors", 0), -4.0, "run_time / factors / 0", "factor"),
        (("run_time", "factors", 0), 4000.0, "run_time / factors / 0", "factor"),
        (("run_time", "route"), "tabel", "run_time / route", "nearest is 'table'"),
        (("run_time", "placing"), "rolling", "run_time / placing", "sliding or fixed"),
        (("credits", "balanced-ducted", "factor"), 1.3, "credits / balanced-ducted / factor", "fraction"),
        (("credits", "balanced-ducted", "needs", 0), "quiet", "credits / balanced-ducted / needs / 0", "unknown word"),
        (("balanced", "fraction"), -0.1, "balanced / fraction", "fraction"),
        (("balanced", "test"), "each to mean", "balanced / test", "nearest is 'each-to-mean'"),
        (("balanced", "or_within"), "5 ft", "balanced / or_within", "unknown unit"),
        (("local_exhaust", 0, "rooms", 0), "kitchens", "local_exhaust / 0 / rooms / 0", "nearest is 'kitchen'"),
        (("recovery", 0, "at"), "-500 degF", "recovery / 0 / at", "too low"),
        (("examples", 0, "bedrooms"), -1, "examples / 0 / bedrooms", "whole number"),
    ],
)
def test_an_impossible_value_is_refused_at_its_place(path: Steps, value: Document, place: str, why: str) -> None:
    (problem,) = refused(changed("us-irc-2021", path, value))
    assert problem.where == place
    assert why in problem.message


@pytest.mark.parametrize("literal", ["nan", "inf", "-inf"])
def test_numbers_that_are_none_are_refused(literal: str) -> None:
    text = text_of("us-irc-2021")
    for sound, place in (
        ("fraction = 0.1", "balanced / fraction"),
        ("factor = 0.7", "credits / balanced-ducted / factor"),
        ("sensible = 0.65", "recovery / 0 / sensible"),
    ):
        line = text.splitlines().index(sound) + 1
        (problem,) = refused(text.replace(sound, f"{sound.split('=')[0]}= {literal}"))
        assert str(problem).startswith(f"county.toml:{line}:1: {place}: expected ")
    assert "[4.0, 3.0" in text
    (problem,) = refused(text.replace("[4.0, 3.0", f"[{literal}, 3.0"))
    assert problem.where == "run_time / factors / 0"


@pytest.mark.parametrize(
    ("old", "new", "where"),
    [
        ('title = "International', 'titel = "International', "titel: unknown key 'titel'"),
        ("[rate.table]", "[rate.tables]", "rate / tables: unknown key 'tables'"),
        ("[balanced]", "[balance]", "balance: unknown key 'balance'"),
        ("extra_people = 1", "extra_people = 1\npeople = 2", "rate / equation / people: unknown key 'people'"),
        ("sensible = 0.65", "sensible = 0.65\n  sensibel = 1", "recovery / 0 / sensibel: unknown key 'sensibel'"),
    ],
)
def test_an_unknown_key_is_refused_at_its_line_with_the_nearest_known_one(old: str, new: str, where: str) -> None:
    text = text_of("us-irc-2021")
    assert text.count(old) == 1
    bad = text.replace(old, new)
    line = bad.splitlines().index(next(row for row in bad.splitlines() if row.startswith(new.splitlines()[-1]))) + 1
    column = len(new.splitlines()[-1]) - len(new.splitlines()[-1].lstrip()) + 1
    assert any(str(problem).startswith(f"county.toml:{line}:{column}: {where}") for problem in refused(bad))


@pytest.mark.parametrize("head", ["", "ventrules-code = 2", 'ventrules-code = "1"', "ventrules-code = true"])
def test_a_file_that_is_no_code_file_of_this_version_is_refused(head: str) -> None:
    (problem,) = refused(text_of("us-irc-2021").replace("ventrules-code = 1", head))
    assert (problem.message, problem.file) == ("expected `ventrules-code = 1` at the top", "county.toml")


@pytest.mark.parametrize(
    "text",
    ["ventrules-code = ", "ventrules-code = 1\ncode = 'a'\ncode = 'b'", "\x00", "[a", f"a = {'[' * 5000}"],
    ids=["no value", "key twice", "nul", "open table", "too deep"],
)
def test_what_is_no_toml_is_refused(text: str) -> None:
    (problem,) = refused(text)
    assert problem.file == "county.toml"
    assert problem.message.startswith("not valid TOML: ")


def test_every_problem_of_a_file_is_listed() -> None:
    text = text_of("us-irc-2021")
    for old, new in (
        ('kind = "segment-factors"', 'kind = "exact"'),
        ("factor = 0.7", "factor = 7"),
        ('area = "1 ft2"', "area = 1"),
    ):
        text = text.replace(old, new)
    said = refused(text)
    assert [problem.where for problem in said] == [
        "kind",
        "rate / equation / area",
        "credits / balanced-ducted / factor",
    ]
    rows = text.splitlines()
    for problem, row in zip(said, ('kind = "exact"', "area = 1", "factor = 7"), strict=True):
        assert problem.position is not None
        assert rows[problem.position.line - 1] == row
    with pytest.raises(CodeFileError) as caught:
        parse_code(text, "county.toml")
    assert len(str(caught.value).splitlines()) == 3


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


def test_a_code_beside_the_job_is_checked_as_a_packaged_one(tmp_path: Path) -> None:
    (tmp_path / "county.toml").write_text(county("continuous"), encoding="utf-8")
    origin = named_code("county.toml", tmp_path, outside=False)
    assert parse_code(origin.text, origin.name).code == "county"
    bad = county("continuous", own='[window]\nlength = "3 h"\nbasis = { clause = "3", known = "seen" }\n')
    (tmp_path / "bad.toml").write_text(bad, encoding="utf-8")
    with pytest.raises(JobFileError) as caught:
        named_code("bad.toml", tmp_path, outside=False)
    (problem,) = caught.value.problems
    assert problem.message == "codes of kind continuous have no `window`"
    assert problem.position is not None
    assert problem.position.file == str(tmp_path / "bad.toml")
    assert bad.splitlines()[problem.position.line - 1] == "[window]"


def test_a_code_beside_the_job_has_to_reproduce_its_own_examples(tmp_path: Path) -> None:
    lines = '\n[[examples]]\nfloor_area = "100 m2"\nbedrooms = 2\nairflow = "{}"\nsource = "computed"\n'
    (tmp_path / "good.toml").write_text(county("continuous", lines.format("20 L/s")), encoding="utf-8")
    assert named_code("good.toml", tmp_path, outside=False).text
    (tmp_path / "off.toml").write_text(
        county("continuous", lines.format("20 L/s"), lines.format("21 L/s")), encoding="utf-8"
    )
    with pytest.raises(JobFileError) as caught:
        named_code("off.toml", tmp_path, outside=False)
    (problem,) = caught.value.problems
    assert problem.message.endswith("example 2 (computed): expected 21 L/s, found 20 L/s")
    assert problem.path[0] == "examples"


def test_a_code_beside_no_job_file_cannot_be_read() -> None:
    with pytest.raises(DocumentError, match="the job is no file; name a packaged code"):
        named_code("county.toml", None, outside=False)
