"""What a project lets stand over many jobs: its policy's acceptances and its baseline, and what of them is needless."""

import json
import re
import shutil
from collections.abc import Iterable, Sequence
from datetime import date
from pathlib import Path
from typing import Final

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.cli.running import BROKEN, FAULTY
from tests.policy.made import AT, INVERTED, NAMES, few, policy_in
from ventrules import (
    Baseline,
    Finding,
    JobFileError,
    Ledger,
    Outcome,
    Policy,
    Problem,
    check_many,
    job_document,
    read_baseline,
    read_job,
)
from ventrules.bulk import JobText
from ventrules.engine import AcceptedBy
from ventrules.files import to_yaml
from ventrules.ledger import baseline_entries
from ventrules.policy.baseline import baseline_text

EXPIRED, UNUSED, GONE = "engine/acceptance-expired", "engine/acceptance-unused", "engine/baseline-entry-gone"
TODAY: Final = date(2026, 7, 1)
ACCEPTED: Final = f"[[accepted]]\nrule = '{INVERTED}'\nreason = 'why'\n"


@pytest.fixture
def lane(tmp_path: Path) -> Path:
    """A folder with a few faulty jobs."""
    for name in ("limits-inverted.yaml", "filter-reminder-too-long.yaml", "no-calendar.yaml"):
        shutil.copy(FAULTY / name, tmp_path / name)
    return tmp_path


def followed(
    paths: Iterable[Path],
    policy: Policy | None = None,
    baseline: Baseline | None = None,
    *,
    whole: bool = False,
    only: Sequence[str] = (),
) -> list[Outcome]:
    ledger = Ledger(policy, baseline, today=TODAY, whole=whole)
    return list(ledger.follow(check_many(paths, policy=policy, today=TODAY, only=only, outside=True)))


def counting(outcomes: Iterable[Outcome]) -> list[tuple[str, str]]:
    """Return the file and the rule of what counts."""
    return [
        (Path(outcome.file).name, finding.rule)
        for outcome in outcomes
        for finding in (outcome.report.findings if outcome.report is not None else ())
    ]


def needless(outcomes: Iterable[Outcome]) -> list[str]:
    return [rule for _file, rule in counting(outcomes) if rule.startswith("engine/")]


def taken_down(paths: Iterable[Path], folder: Path, policy: Policy | None = None) -> Baseline:
    entries = baseline_entries(check_many(paths, policy=policy, outside=True), folder)
    (folder / "baseline.json").write_text(baseline_text(entries), encoding="utf-8")
    return read_baseline(folder / "baseline.json")


# Acceptances of the policy


def test_the_policy_lets_stand_what_it_names_and_nothing_else(lane: Path) -> None:
    paths = sorted(lane.glob("*.yaml"))
    before, outcomes = counting(followed(paths)), followed(paths, policy_in(lane, ACCEPTED), whole=True)
    assert (INVERTED in dict(before).values(), len(before)) == (True, 3)
    assert counting(outcomes) == [one for one in before if one[1] != INVERTED]
    stands = [one for outcome in outcomes if outcome.report is not None for one in outcome.report.accepted]
    assert [(one.finding.rule, one.by, one.reason) for one in stands] == [(INVERTED, AcceptedBy.POLICY, "why")]


@pytest.mark.parametrize(
    ("more", "stands"),
    [
        ("files = ['limits-*.yaml']", True),
        ("files = ['other.yaml', 'limits-inverted.yaml']", True),
        ("files = ['other/**']", False),
        (f"place = '{AT}'", True),
        ("place = 'settings / attic / outdoor_limits'", False),
        ("until = 2026-07-01", True),
        ("until = 2026-06-30", False),
    ],
)
def test_files_place_and_last_day_narrow_an_acceptance(more: str, stands: bool, lane: Path) -> None:
    policy = policy_in(lane, f"{ACCEPTED}{more}\n")
    outcomes = followed([lane / "limits-inverted.yaml"], policy)
    assert (("limits-inverted.yaml", INVERTED) not in counting(outcomes)) is stands


def test_a_job_a_line_is_covered_by_the_name_of_its_file(lane: Path) -> None:
    text = json.dumps(job_document(read_job(lane / "limits-inverted.yaml")))
    source = JobText(str(lane / "jobs.jsonl"), text, line=1)
    for files, stands in (("jobs.jsonl", True), ("jobs.jsonl.json", False), ("*.yaml", False)):
        (outcome,) = check_many([source], policy=policy_in(lane, f"{ACCEPTED}files = ['{files}']\n"))
        assert outcome.report is not None
        assert bool(outcome.report.accepted) is stands


def test_an_acceptance_past_its_day_is_a_finding_on_its_line_of_the_policy(lane: Path) -> None:
    policy = policy_in(lane, f"# the lane\n{ACCEPTED}until = 2026-06-30\n")
    *_jobs, last = followed(sorted(lane.glob("*.yaml")), policy)
    assert last.file == policy.file
    assert last.report is not None
    (expired,) = last.report.findings
    assert (expired.rule, expired.pointer) == (EXPIRED, "/accepted/0")
    assert expired.position is not None
    assert (expired.position.file, expired.position.line) == (policy.file, 2)
    assert "counts again" in expired.message


@pytest.mark.parametrize(
    ("files", "checked", "whole", "told"),
    [
        ("", ["no-calendar.yaml"], False, False),  # the others were not looked at
        ("", ["no-calendar.yaml"], True, True),
        ("files = ['no-calendar.yaml']", ["no-calendar.yaml"], False, True),  # named, and looked at
        ("files = ['no-calendar.yaml', 'other.yaml']", ["no-calendar.yaml"], False, False),
        ("files = ['no-*.yaml']", ["no-calendar.yaml"], False, False),  # there may be more such files
        ("files = ['no-*.yaml']", ["no-calendar.yaml"], True, True),
        ("files = ['other.yaml']", ["no-calendar.yaml"], False, False),
        ("files = ['other.yaml']", ["no-calendar.yaml"], True, True),  # there is no such file any more
        ("files = ['limits-*.yaml']", ["limits-inverted.yaml"], True, False),  # it is needed
    ],
)
def test_an_acceptance_is_unused_only_when_all_that_it_covers_was_checked(
    files: str,
    checked: list[str],
    whole: bool,
    told: bool,
    lane: Path,
) -> None:
    policy = policy_in(lane, f"{ACCEPTED}{files}\n")
    outcomes = followed([lane / name for name in checked], policy, whole=whole)
    assert needless(outcomes) == ([UNUSED] if told else [])


def test_an_acceptance_is_not_unused_when_its_rule_did_not_run_or_a_file_could_not_be_used(lane: Path) -> None:
    policy = policy_in(lane, ACCEPTED)
    paths = [lane / "no-calendar.yaml"]
    assert needless(followed(paths, policy, whole=True)) == [UNUSED]
    assert needless(followed(paths, policy, whole=True, only=["wiring"])) == []
    assert needless(followed([*paths, BROKEN / "not-a-job.json"], policy, whole=True)) == []
    narrow = policy_in(lane, f"{ACCEPTED}files = ['*.yaml']\n")
    assert needless(followed([*paths, BROKEN / "not-a-job.json"], narrow, whole=True)) == [UNUSED]


def test_what_the_job_lets_stand_as_well_makes_no_acceptance_of_the_policy_unused(lane: Path) -> None:
    path = lane / "limits-inverted.yaml"
    with path.open("a", encoding="utf-8") as stream:
        stream.write(f"\naccepted: [{{rule: {INVERTED}, reason: beside the thing}}]\n")
    outcomes = followed([path], policy_in(lane, ACCEPTED), whole=True)
    assert needless(outcomes) == []
    assert outcomes[0].report is not None
    assert [one.by for one in outcomes[0].report.accepted] == [AcceptedBy.JOB]


# The baseline


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("baseline")


@few
@given(st.lists(st.sampled_from(NAMES), min_size=1, max_size=4, unique=True))
def test_a_baseline_lets_stand_all_that_was_found_and_no_more(folder: Path, names: list[str]) -> None:
    paths = [FAULTY / name for name in names]
    before = list(check_many(paths, outside=True))
    baseline = taken_down(paths, folder)
    after = followed(paths, baseline=baseline, whole=True)
    assert counting(after) == []
    for one, other in zip(before, after, strict=True):
        assert one.report is not None
        assert other.report is not None
        assert [stands.finding for stands in other.report.accepted] == list(one.report.findings)
        assert {stands.by for stands in other.report.accepted} <= {AcceptedBy.BASELINE}
    # one file more: just its findings count
    new = next(name for name in NAMES if name not in names)
    more = followed([*paths, FAULTY / new], baseline=baseline, whole=True)
    assert more[-1].report is not None
    assert {file for file, _rule in counting(more)} == {new}


def test_a_new_fault_in_a_legacy_job_is_all_that_counts(lane: Path) -> None:
    paths = sorted(lane.glob("*.yaml"))
    baseline = taken_down(paths, lane)
    path = lane / "filter-reminder-too-long.yaml"
    text = path.read_text(encoding="utf-8")
    low = re.search(r"off_at_or_below: ([^,]+), off_at_or_above: ([^}]+)}", text)
    assert low is not None
    swapped = f"off_at_or_below: {low[2]}, off_at_or_above: {low[1]}}}"
    path.write_text(text.replace(low[0], swapped), encoding="utf-8")
    assert counting(followed(paths, baseline=baseline, whole=True)) == [(path.name, INVERTED)]


def test_unrelated_edits_keep_the_baseline(lane: Path) -> None:
    paths = sorted(lane.glob("*.yaml"))
    baseline = taken_down(paths, lane)
    for path in paths:
        document = job_document(read_job(path))
        shuffled = dict(sorted(document.items(), reverse=True))
        path.write_text(f"# comments\n\n{to_yaml(shuffled)}\nnotes: touched\n", encoding="utf-8")
    assert counting(followed(paths, baseline=baseline, whole=True)) == []
    renamed = paths[0].rename(lane / "renamed.yaml")
    assert {file for file, _rule in counting(followed([renamed], baseline=baseline))} == {"renamed.yaml"}


def test_a_baseline_is_the_same_from_any_folder(lane: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    absolute = taken_down(sorted(lane.glob("*.yaml")), lane)
    monkeypatch.chdir(lane)
    assert taken_down(sorted(Path().glob("*.yaml")), lane).entries == absolute.entries
    inner = lane / "inner"
    inner.mkdir()
    monkeypatch.chdir(inner)
    paths = [Path("..", name.name) for name in sorted(lane.glob("*.yaml"))]
    assert taken_down(paths, lane).entries == absolute.entries
    assert {key.file for key in absolute.entries} == {path.name for path in lane.glob("*.yaml")}
    assert counting(followed(paths, baseline=absolute)) == []


def test_a_job_a_line_is_known_by_its_title(lane: Path) -> None:
    document = job_document(read_job(lane / "limits-inverted.yaml"))
    texts = [json.dumps({**document, "job": title}) for title in ("A", "B", "B")]
    sources = [JobText(str(lane / "jobs.jsonl"), text, line=number) for number, text in enumerate(texts, start=1)]
    entries = baseline_entries(check_many(sources), lane)
    assert sorted((entry.job, entry.count) for entry in entries) == [("A", 1), ("B", 2)]
    (lane / "b.json").write_text(baseline_text(entries), encoding="utf-8")
    baseline = read_baseline(lane / "b.json")
    moved = [JobText(str(lane / "jobs.jsonl"), text, line=n) for n, text in enumerate([*texts[::-1], texts[1]], 1)]
    outcomes = list(Ledger(baseline=baseline).follow(check_many(moved)))
    here = [(o.report.job, len(o.report.findings)) for o in outcomes if o.report is not None]
    assert here == [("B", 0), ("B", 0), ("A", 0), ("B", 1)]


@pytest.mark.parametrize(
    ("whole", "removed", "told"), [(False, False, 1), (True, False, 1), (True, True, 1), (False, True, 0)]
)
def test_entries_of_what_is_no_longer_found_are_one_piece_of_advice(
    whole: bool,
    removed: bool,
    told: int,
    lane: Path,
) -> None:
    paths = sorted(lane.glob("*.yaml"))
    baseline = taken_down(paths, lane)
    if removed:
        paths.remove(lane / "limits-inverted.yaml")
    else:
        shutil.copy(FAULTY.parent / "sound" / "number-02.yaml", lane / "limits-inverted.yaml")
    outcomes = followed(paths, baseline=baseline, whole=whole)
    gone = [f for outcome in outcomes if outcome.report is not None for f in outcome.report.findings if f.rule == GONE]
    assert len(gone) == told
    for finding in gone:
        assert "1 entry" in finding.message
        assert outcomes[-1].file == baseline.name
    assert needless(followed(paths, baseline=baseline, whole=whole, only=["wiring"])) == []


def test_neither_baseline_nor_acceptance_excuses_a_file_that_cannot_be_used(lane: Path) -> None:
    broken = BROKEN / "half-written.yaml"
    baseline = taken_down([broken], lane)
    assert baseline.entries == {}
    (outcome,) = followed([broken], policy_in(lane, ACCEPTED), baseline)
    assert outcome.report is None


def test_what_the_engine_itself_reports_is_in_no_baseline(lane: Path) -> None:
    path = lane / "limits-inverted.yaml"
    with path.open("a", encoding="utf-8") as stream:
        stream.write("\naccepted: [{rule: wiring/ring, reason: nobody knows}]\n")
    baseline = taken_down([path], lane)
    assert [entry.rule for entry in baseline.entries.values()] == [INVERTED]
    assert counting(followed([path], baseline=baseline)) == [(path.name, UNUSED)]


# The file of a baseline


def test_a_baseline_is_sorted_with_an_entry_on_each_line(lane: Path) -> None:
    paths = sorted(lane.glob("*.yaml"))
    one, other = taken_down(paths, lane), taken_down(paths[::-1], lane)
    assert one == other
    lines = (lane / "baseline.json").read_text(encoding="utf-8").splitlines()
    inside = [line for line in lines if '"fingerprint"' in line]
    assert len(inside) == len(one.entries)
    assert [line for line in lines if line not in inside] == [
        "{",
        '  "ventrules-baseline": 1,',
        '  "entries": [',
        "  ]",
        "}",
    ]
    assert baseline_text([]) == '{\n  "ventrules-baseline": 1,\n  "entries": []\n}\n'


ENTRY: Final = '{"file": "a.yaml", "rule": "wiring/ring", "place": "cables", "fingerprint": "ab", "count": 1}'


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("", 1, "not valid JSON"),
        ("{", 1, "not valid JSON"),
        ("[]", 1, "ventrules-baseline"),
        ('{"entries": []}', 1, "missing `ventrules-baseline: 1`"),
        ('{"ventrules-baseline": 2,\n "entries": []}', 1, "not supported"),
        ('{"ventrules-baseline": 1}', 1, "missing"),
        ('{"ventrules-baseline": 1,\n "entires": [],\n "entries": []}', 2, "nearest is 'entries'"),
        (f'{{"ventrules-baseline": 1, "entries": [\n{ENTRY},\n{ENTRY}\n]}}', 3, "stands there twice"),
        (f'{{"ventrules-baseline": 1, "entries": [\n{ENTRY.replace("1}", "0}")}]}}', 2, "at least one"),
        (f'{{"ventrules-baseline": 1, "entries": [\n{ENTRY.replace("count", "cuont")}]}}', 2, "nearest is 'count'"),
        (f'{{"ventrules-baseline": 1, "entries": [\n{ENTRY.replace("wiring/ring", "engine/x")}]}}', 2, "cannot be let"),
    ],
)
def test_what_is_wrong_with_a_baseline_is_said_with_its_line(text: str, line: int, words: str, tmp_path: Path) -> None:
    (tmp_path / "b.json").write_text(text, encoding="utf-8")
    with pytest.raises(JobFileError) as caught:
        read_baseline(tmp_path / "b.json")
    problem = caught.value.problems[0]
    assert words in str(problem.message)
    assert problem.position is not None
    assert problem.position.line == line


@given(st.data())
def test_a_baseline_with_any_piece_changed_is_read_or_refused(folder: Path, data: st.DataObject) -> None:
    whole = f'{{"ventrules-baseline": 1,\n "entries": [\n{ENTRY},\n{ENTRY.replace("ab", "cd")}\n]}}'
    start = data.draw(st.integers(0, len(whole)))
    end = data.draw(st.integers(start, min(start + 20, len(whole))))
    piece = data.draw(
        st.text(st.characters(codec="utf-8", exclude_characters="eE"), max_size=5)
        | st.sampled_from(["null", "-1", "0.5", "[]", "}"])
    )
    (folder / "changed.json").write_text(f"{whole[:start]}{piece}{whole[end:]}", encoding="utf-8")
    problems: tuple[Problem, ...] = ()
    entries = None
    try:
        entries = read_baseline(folder / "changed.json").entries
    except JobFileError as error:
        problems = error.problems
    assert (entries is None) is bool(problems)
    assert all(problem.position is not None for problem in problems)


def test_a_baseline_that_is_not_there_says_how_to_write_one(tmp_path: Path) -> None:
    with pytest.raises(JobFileError, match="ventrules baseline"):
        read_baseline(tmp_path / "b.json")


def finding_count(outcomes: Iterable[Outcome]) -> int:
    return sum(len(outcome.report.findings) for outcome in outcomes if outcome.report is not None)


def test_a_baseline_made_under_a_policy_holds_what_counts_under_it(lane: Path) -> None:
    policy = policy_in(lane, ACCEPTED)
    paths = sorted(lane.glob("*.yaml"))
    baseline = taken_down(paths, lane, policy)
    assert INVERTED not in {entry.rule for entry in baseline.entries.values()}
    assert finding_count(followed(paths, policy, baseline, whole=True)) == 0


def test_a_finding_s_fingerprint_is_what_a_baseline_goes_by(lane: Path) -> None:
    (outcome,) = check_many([lane / "limits-inverted.yaml"])
    assert outcome.report is not None
    findings: tuple[Finding, ...] = outcome.report.findings
    assert [entry.fingerprint for entry in baseline_entries([outcome], lane)] == [f.fingerprint for f in findings]
