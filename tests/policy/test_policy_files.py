"""Policy files: where they are found, what they may say, and all that can be wrong with one."""

import pickle
from pathlib import Path
from typing import Final

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.cli.running import EXAMPLES, SOUND
from tests.policy.made import INVERTED, policy_in
from ventrules import JobFileError, Problem, Survey, check, find_policy, installed_rules, read_job, read_policy
from ventrules.files import limits
from ventrules.policy import Level, Threshold
from ventrules.policy.explain import From, Setting, settings
from ventrules.policy.patterns import matches, pattern_problem

FULL: Final = f"""
ventrules-policy = 1
packs = ["ventrules"]
fail_at = "warning"
fail_unchecked = true
paths = ["lane", "extra.yaml"]
leave_out = ["lane/old/**"]
workers = 3
catalogs_outside = true
baseline = "baseline.json"

[severity]
upkeep = "advice"
"upkeep/no-filter-reminder" = "error"
"wiring/ring" = "left-out"

[catalogs]
house = "house.yaml"

[codes]
town = "town.toml"

[limits.surplus]
margin = 0.5
basis = {{ title = "the house rule", known = "common practice" }}

[[accepted]]
rule = "{INVERTED}"
reason = "new parts are ordered"
until = 2027-06-30
place = "settings / ventilator / outdoor_limits"
files = ["lane/*.yaml"]
"""


def beside(folder: Path) -> Path:
    """Put the catalog and the code of the policy above into a folder."""
    (folder / "house.yaml").write_bytes((SOUND / "lane-catalog.yaml").read_bytes())
    (folder / "town.toml").write_bytes((SOUND / "lane-code.toml").read_bytes())
    return folder


def in_pyproject(text: str) -> str:
    """Return the same policy as it stands in a pyproject.toml."""
    lines = []
    for line in text.splitlines():
        changed = line.replace("[[", "[[tool.ventrules.") if line.startswith("[[") else line
        lines.append(
            changed.replace("[", "[tool.ventrules.", 1) if changed.startswith("[") and "[[" not in line else changed
        )
    return "[project]\nname = 'lane'\n[tool.other]\nventrules = 1\n[tool.ventrules]\n" + "\n".join(lines) + "\n"


def test_everything_that_may_be_said_is_read(tmp_path: Path) -> None:
    policy = policy_in(beside(tmp_path), FULL)
    table = policy.table
    assert (table.packs, table.fail_at, table.fail_unchecked) == (("ventrules",), Threshold.WARNING, True)
    assert (table.paths, table.leave_out, table.workers) == (("lane", "extra.yaml"), ("lane/old/**",), 3)
    assert (table.catalogs_outside, table.baseline) == (True, "baseline.json")
    assert table.severity["wiring/ring"] is Level.LEFT_OUT
    assert table.limits is not None
    assert table.limits.surplus.margin == 0.5
    assert table.limits.cycle == limits().cycle
    assert table.accepted[0].files == ("lane/*.yaml",)
    assert policy.shelf.catalogs.keys() == {"house"}
    assert policy.shelf.codes.keys() == {"town"}
    assert policy.folder == tmp_path


def test_both_forms_give_the_same_policy(tmp_path: Path) -> None:
    own = policy_in(beside(tmp_path), FULL)
    other = policy_in(tmp_path, in_pyproject(FULL), "pyproject.toml")
    assert other.table == own.table
    assert other.written == own.written
    assert other.shelf.catalogs == own.shelf.catalogs
    assert other.shelf.codes == own.shelf.codes
    assert (own.shelf.limits is None, other.shelf.limits is None) == (False, False)
    offset = in_pyproject(FULL).splitlines().index("[tool.ventrules]") + 1
    for path in (("fail_at",), ("severity", "wiring/ring"), ("accepted", 0, "until"), ("limits", "surplus", "margin")):
        mine, theirs = own.position(*path), other.position(*path)
        assert mine is not None
        assert theirs is not None
        assert (theirs.line, theirs.column) == (mine.line + offset, mine.column)


def test_a_policy_can_be_pickled(tmp_path: Path) -> None:
    policy = policy_in(beside(tmp_path), FULL)
    assert pickle.loads(pickle.dumps(policy)) == policy  # noqa: S301 - our own bytes


def test_an_empty_policy_changes_nothing(tmp_path: Path) -> None:
    policy = policy_in(tmp_path, "")
    for path in sorted((EXAMPLES / "faulty").iterdir())[::9]:
        job = read_job(path, outside=True)
        assert check(job, policy=policy) == check(job)


# Where a policy is found


def test_the_nearest_policy_upward_is_found_and_none_beyond_a_repository(tmp_path: Path) -> None:
    inner = tmp_path / "repository" / "lane" / "west"
    inner.mkdir(parents=True)
    (tmp_path / ".ventrules.toml").touch()
    assert find_policy(inner) == tmp_path / ".ventrules.toml"
    (tmp_path / "repository" / ".git").mkdir()
    assert find_policy(inner) is None
    pyproject = tmp_path / "repository" / "pyproject.toml"
    pyproject.write_text("[tool.other]\n# ventrules\n", encoding="utf-8")
    assert find_policy(inner) is None
    pyproject.write_text("[tool.ventrules]\n", encoding="utf-8")
    assert find_policy(inner) == pyproject
    (tmp_path / "repository" / ".ventrules.toml").touch()
    assert find_policy(inner) == tmp_path / "repository" / ".ventrules.toml"
    (tmp_path / "repository" / "lane" / ".ventrules.toml").touch()
    assert find_policy(inner) == tmp_path / "repository" / "lane" / ".ventrules.toml"


def test_a_pyproject_that_mentions_us_and_cannot_be_read_is_not_passed_over(tmp_path: Path) -> None:
    (tmp_path / "pyproject.toml").write_text("[tool.ventrules\n", encoding="utf-8")
    with pytest.raises(JobFileError, match="not valid TOML"):
        find_policy(tmp_path)
    (tmp_path / "pyproject.toml").write_text("[tool.other\n", encoding="utf-8")
    assert find_policy(tmp_path / "nowhere" / "yet") in (None, *tmp_path.parents)


def test_a_pyproject_that_is_named_and_has_no_table_is_refused(tmp_path: Path) -> None:
    for text, said in (("", "no table"), ("[tool]\nventrules = 1\n", "expected a table")):
        with pytest.raises(JobFileError, match=said):
            policy_in(tmp_path, text, "pyproject.toml")


# What can be wrong

BASIS: Final = "basis = {title = 'x', known = 'common practice'}"
WRONG: Final = {
    "unknown key": ("fail_att = 'error'", 1, 1, "nearest is 'fail_at'"),
    "wrong type": ("\npaths = 'lane'", 2, 1, "expected a list"),
    "unknown word": ("fail_at = 'eror'", 1, 1, "nearest is 'error'"),
    "version": ("\n\nventrules-policy = 2", 3, 1, "expected 1"),
    "unknown rule": ("[severity]\n  'wiring/rnig' = 'error'", 2, 3, "nearest is 'wiring/ring'"),
    "unknown family": ("[severity]\nwirng = 'error'", 2, 1, "nearest is 'wiring'"),
    "unknown severity": ("[severity]\n'wiring/ring' = 'leftout'", 2, 1, "nearest is 'left-out'"),
    "engine severity": ("[severity]\n'engine/rule-failed' = 'advice'", 2, 1, "has a severity of its own"),
    "unknown pack": ("packs = ['ventrule']", 1, 1, "nearest is 'ventrules'"),
    "no pack": ("packs = []", 1, 1, "no rule would run"),
    "no worker": ("workers = 0", 1, 1, "at least one"),
    "unknown accepted rule": (
        "[[accepted]]\nrule = 'wiring/ring'\nreason = 'x'\n[[accepted]]\nreason = 'x'\nrule = 'wiring/rings'",
        6,
        1,
        "nearest is 'wiring/ring'",
    ),
    "engine accepted": ("[[accepted]]\nrule = 'engine/no-rule-run'\nreason = 'x'", 2, 1, "cannot be let stand"),
    "no reason": ("[[accepted]]\nrule = 'wiring/ring'", 1, 1, "missing; expected text"),
    "blank reason": ("[[accepted]]\nrule = 'wiring/ring'\nreason = ' '", 3, 1, "expected a reason"),
    "no day": (
        "[[accepted]]\nrule = 'wiring/ring'\nreason = 'x'\nuntil = 2027-06-30T10:00:00",
        4,
        1,
        "expected a date",
    ),
    "pattern": ("[[accepted]]\nrule = 'wiring/ring'\nreason = 'x'\nfiles = ['../x']", 4, 1, "without `..`"),
    "left out pattern": ("leave_out = ['/']", 1, 1, "the pattern names nothing"),
    "unknown limits": ("[limits.surpluss]\nmargin = 0.5", 1, 1, "nearest is 'surplus'"),
    "unknown limit": (f"[limits.surplus]\n{BASIS}\nmargn = 0.5", 3, 1, "nearest is 'margin'"),
    "limit without basis": ("[limits.surplus]\nmargin = 0.5", 2, 1, "expected `basis` beside it"),
    "limit with another's basis": (f"[limits.copper]\n{BASIS}\nstranding = 1.1", 3, 1, "`stranding_basis`"),
    "limit without unit": (f"[limits.cycle]\nusual = 60\n{BASIS}", 2, 1, "needs a unit"),
    "limit that is none": ("[limits]\ncycle = 60", 2, 1, "expected a mapping"),
    "limit not a number": (f"[limits.surplus]\nmargin = nan\n{BASIS}", 2, 1, "expected a fraction"),
    "packaged catalog": ("[catalogs]\ndemo = 'x.yaml'", 2, 1, "a packaged catalog has this name"),
    "packaged code": ("[codes]\nfi-2018 = 'x.toml'", 2, 1, "a packaged code has this name"),
    "catalog name": ("[catalogs]\n'a/b' = 'x.yaml'", 2, 1, "in the name of a catalog"),
    "missing catalog": ("[catalogs]\nhouse = 'nowhere.yaml'", 2, 1, "no such file"),
    "catalog outside": ("[catalogs]\nhouse = '../x.yaml'", 2, 1, "lies outside the policy's folder"),
    "code outside": ("[codes]\ntown = '../x.toml'", 2, 1, "catalogs_outside = true"),
    "no path": ("paths = ['']", 1, 1, "expected a path"),
    "no baseline": ("baseline = ''", 1, 1, "expected a path"),
    "syntax": ("fail_at = 'error'\npaths = [", 2, 10, "not valid TOML"),
    "endless number": (f"workers = {'9' * 5000}", 0, 0, "not valid TOML"),
    "endless lists": (f"paths = {'[' * 100_000}", 0, 0, "nested too deep"),
    "twice": ("fail_at = 'error'\nfail_at = 'error'", 2, 18, "not valid TOML"),
}


@pytest.mark.parametrize("what", WRONG)
def test_what_is_wrong_is_said_with_its_line_and_what_was_expected(what: str, tmp_path: Path) -> None:
    text, line, column, words = WRONG[what]
    with pytest.raises(JobFileError) as caught:
        policy_in(tmp_path, f"{text}\n" if what != "syntax" else text)
    (problem,) = caught.value.problems
    assert words in problem.message
    at = problem.position
    assert ((at.line, at.column) if at is not None else (0, 0)) == (line, column)
    assert problem.file == str(tmp_path / ".ventrules.toml")


def test_all_that_is_wrong_is_said_at_once_in_the_order_of_the_file(tmp_path: Path) -> None:
    with pytest.raises(JobFileError) as caught:
        policy_in(tmp_path, "fail_att = 'error'\nworkers = 'two'\n[severity]\n'wiring/ring' = 'eror'\n")
    assert [p.position.line for p in caught.value.problems if p.position is not None] == [1, 2, 4]
    with pytest.raises(JobFileError) as caught:
        policy_in(tmp_path, "packs = ['x']\nworkers = 0\n[severity]\nroof = 'error'\n[catalogs]\ndemo = 'x'\n")
    assert [p.position.line for p in caught.value.problems if p.position is not None] == [1, 2, 4, 6]


def test_a_catalog_and_a_code_that_are_not_sound_are_told_with_their_own_lines(tmp_path: Path) -> None:
    (tmp_path / "house.yaml").write_text("ventrules-catalog: 1\ncatalog: house\nmodles: {}\n", encoding="utf-8")
    (tmp_path / "town.toml").write_bytes((EXAMPLES / "broken" / "half-a-code.toml").read_bytes())
    with pytest.raises(JobFileError) as caught:
        policy_in(tmp_path, "[catalogs]\nhouse = 'house.yaml'\n[codes]\ntown = 'town.toml'\n")
    named = {Path(problem.file).name for problem in caught.value.problems}
    assert named == {"house.yaml", "town.toml"}
    assert all(problem.position is not None for problem in caught.value.problems if "town" in problem.file)


def test_a_file_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(JobFileError, match="no such file"):
        read_policy(tmp_path / "nowhere.toml")


@given(st.data())
def test_a_policy_with_any_piece_changed_is_read_or_refused_with_places(folder: Path, data: st.DataObject) -> None:
    start = data.draw(st.integers(0, len(FULL)))
    end = data.draw(st.integers(start, min(start + 30, len(FULL))))
    piece = data.draw(
        st.text(max_size=6) | st.sampled_from(["[", "]]", "=", '"', "\n", "1979-05-27", "nan", "{}", "[[]]"])
    )
    try:
        text = f"{FULL[:start]}{piece}{FULL[end:]}"
        text.encode()
    except UnicodeEncodeError:
        return
    problems: tuple[Problem, ...] = ()
    told: list[Setting] = []
    try:
        told = [row for row in settings(policy_in(folder, text), {}) if row.source is From.POLICY]
    except JobFileError as error:
        problems = error.problems
    assert bool(told) is not bool(problems)
    assert all(problem.position is not None or problem.file for problem in problems)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return beside(tmp_path_factory.mktemp("lane"))


# What jobs may name


def test_jobs_name_the_catalogs_and_codes_of_the_policy(tmp_path: Path) -> None:
    policy = policy_in(beside(tmp_path), FULL)
    text = (SOUND / "number-23.yaml").read_text(encoding="utf-8")
    own = text.replace("lane-catalog.yaml", "house").replace("lane-code.toml", "town")
    assert own.count("house") + own.count("town") >= 2
    (tmp_path / "job.yaml").write_text(own, encoding="utf-8")
    job = read_job(tmp_path / "job.yaml", shelf=policy.shelf)
    theirs = read_job(SOUND / "number-23.yaml")
    assert Survey(job).requirement == Survey(theirs).requirement
    assert Survey(job).models == Survey(theirs).models
    with pytest.raises(JobFileError) as caught:
        read_job(tmp_path / "job.yaml")
    assert "unknown c" in str(caught.value)


def test_a_name_that_nobody_gave_is_answered_with_those_of_the_policy(tmp_path: Path) -> None:
    policy = policy_in(beside(tmp_path), FULL)
    text = (SOUND / "number-23.yaml").read_text(encoding="utf-8")
    (tmp_path / "job.yaml").write_text(text.replace("lane-code.toml", "twon"), encoding="utf-8")
    (tmp_path / "lane-catalog.yaml").write_bytes((SOUND / "lane-catalog.yaml").read_bytes())
    with pytest.raises(JobFileError, match="nearest is 'town'"):
        read_job(tmp_path / "job.yaml", shelf=policy.shelf)


def test_the_limits_of_the_policy_are_those_that_a_survey_uses(tmp_path: Path) -> None:
    policy = policy_in(beside(tmp_path), FULL)
    job = read_job(SOUND / "number-02.yaml", shelf=policy.shelf)
    assert Survey(job).limits == policy.table.limits
    assert Survey(read_job(SOUND / "number-02.yaml")).limits == limits()
    plain = read_job(SOUND / "number-02.yaml")
    assert check(plain, policy=policy).findings == check(plain).findings == ()
    strict = policy_in(tmp_path, FULL.replace("margin = 0.5", "margin = 0.0"))
    assert {finding.rule for finding in check(plain, policy=strict).findings} == {"airflow/above-target"}


def test_every_rule_that_a_policy_may_name_is_known() -> None:
    assert {rule.id for rule in installed_rules()} >= {INVERTED, "wiring/ring", "upkeep/no-filter-reminder"}


# Patterns


@pytest.mark.parametrize(
    ("pattern", "yes", "no"),
    [
        ("lane/*.yaml", ["lane/a.yaml", "lane/.yaml"], ["lane/a/b.yaml", "a.yaml", "lane/a.yamlx", "xlane/a.yaml"]),
        ("lane", ["lane", "lane/a.yaml", "lane/b/c.json"], ["lanes", "lanes/a.yaml", "west/lane"]),
        ("lane/", ["lane/a.yaml"], ["lanes"]),
        ("**/old/**", ["old/a", "lane/old/a", "a/b/old/c/d"], ["older/a", "lane/old"]),
        ("**/a?.json", ["a1.json", "x/y/ab.json"], ["a.json", "x/a/.json"]),
        ("job-[a-c].yaml", ["job-b.yaml"], ["job-d.yaml", "job-.yaml"]),
        ("job-[!a-c].yaml", ["job-d.yaml"], ["job-b.yaml", "job-/.yaml"]),
        ("a[.yaml", ["a[.yaml"], ["a.yaml"]),
        ("a+(b).yaml", ["a+(b).yaml"], ["aab.yaml"]),
    ],
)
def test_a_pattern_names_what_it_means(pattern: str, yes: list[str], no: list[str]) -> None:
    assert pattern_problem(pattern) == ""
    assert [name for name in yes if not matches(pattern, name)] == []
    assert [name for name in no if matches(pattern, name)] == []


@given(st.lists(st.text(st.characters(exclude_characters="/*?[\\\0\n."), min_size=1), min_size=1, max_size=4))
def test_a_plain_name_means_itself_and_what_is_below(parts: list[str]) -> None:
    name = "/".join(parts)
    assert matches(name, name)
    assert matches(name, f"{name}/x")
    assert not matches(name, f"{name}x")
    assert matches("**", name)


@given(st.text(max_size=30))
def test_any_text_is_a_pattern_or_refused(pattern: str) -> None:
    if not pattern_problem(pattern):
        assert matches(pattern, "lane/number-1.yaml") in (True, False)


# What is said of it


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            "[[accepted]]\nrule = 'upkeep'\nreason = 'x'\n",
            "'upkeep' is a family; expected one rule of it, such as 'upkeep/",
        ),
        ("[severity]\nengine = 'advice'\n", "unknown rule or family 'engine'; `ventrules rules` lists them"),
        ("[severity]\nupkep = 'advice'\n", "unknown rule or family 'upkep'; nearest is 'upkeep'"),
        (
            "accepted = [{rule = 'wiring/ring', reason = 'x', until = 2027-02-20T10:00:00}]\n",
            "the text '2027-02-20T10:00:00'",
        ),
        ("fail_at = 10:00:00\n", "unknown word '10:00:00'"),
    ],
    ids=["a family is accepted", "far from every rule", "near to one", "a date with a time", "a time"],
)
def test_what_is_wrong_is_said_in_few_words(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(JobFileError) as refused:
        policy_in(tmp_path, text)
    (problem,) = refused.value.problems
    assert said in problem.message
    assert len(problem.message) < 120


@pytest.mark.parametrize(("table", "name"), [("catalogs", "none.yaml"), ("codes", "none.toml")])
def test_a_file_that_is_not_there_is_told_where_it_is_named(tmp_path: Path, table: str, name: str) -> None:
    with pytest.raises(JobFileError) as refused:
        policy_in(tmp_path, f"fail_at = 'error'\n[{table}]\nhouse = '{name}'\n")
    (problem,) = refused.value.problems
    assert problem.path == (table, "house")
    assert problem.position is not None
    assert problem.position.line == 3
    assert f"{name}: no such file" in problem.message


def test_a_policy_that_is_no_file_is_not_passed_over(tmp_path: Path) -> None:
    (tmp_path / "lane").mkdir()
    own = tmp_path / "lane" / ".ventrules.toml"
    (tmp_path / ".ventrules.toml").write_text("", encoding="utf-8")
    own.mkdir()
    assert find_policy(own.parent) == own
    own.rmdir()
    own.symlink_to(own.name)  # a loop
    assert find_policy(own.parent) == own
    with pytest.raises(JobFileError):
        read_policy(own)
