"""Laws of repair: it ends, each change makes things better, and what was not wrong stays as it was."""

import json
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path as FilePath
from typing import Final, TypeVar

from attrs import frozen
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from ventrules import Job, JobFileError, applied, check, job_document, job_from_document, parse_job, read_job, repair
from ventrules.checking import Rules, new_errors
from ventrules.engine import Edit, EditKind, Evidence, Path, Place, Registry, Remedy, Rule, Severity, evidence
from ventrules.engine.findings import Document
from ventrules.files import to_yaml
from ventrules.repairing import ORDER, Change, Repaired, measure
from ventrules.sources import practice
from ventrules.survey import Survey
from ventrules.testing import FAULTS, job_documents, reordered

T = TypeVar("T")
EXAMPLES: Final = FilePath(__file__).parents[1] / "examples"
BASE: Final = read_job(EXAMPLES / "sound" / "number-17.yaml")


@st.composite
def faulty_documents(draw: st.DrawFn) -> dict[str, Document]:
    """Jobs with one to three faults in them."""

    def pick(choices: Sequence[T]) -> T:
        return draw(st.sampled_from(choices))

    document = draw(job_documents())
    count = 0
    for fault in draw(st.lists(st.sampled_from(FAULTS), min_size=1, max_size=3)):
        try:
            made = fault.apply(document, pick)
            if made is None:
                continue
            job_from_document(made.document)
        except (JobFileError, LookupError):  # a maker wants a sound job, and the faults before may stand in its way
            continue
        document, count = made.document, count + 1
    assume(count > 0)
    return document


def outcome(done: Repaired) -> tuple[dict[str, Document], list[tuple[str, str, str]]]:
    """What a repair comes to: the job, and what was changed in which order."""
    changes = [(change.finding.rule, change.finding.place.name, change.remedy.title) for change in done.changes]
    return job_document(done.job), changes


def leaves(value: Document, path: Path = ()) -> Iterable[tuple[Path, Document]]:
    """Every scalar and every empty collection of a document, cables left out, with its path."""
    if isinstance(value, dict) and value:
        for key, inner in value.items():
            if (*path, key) != ("cables",):
                yield from leaves(inner, (*path, key))
    else:
        yield path, json.dumps(value, sort_keys=True)


def accounted(path: Path, change: Change) -> bool:
    """Say whether a change may have changed what stands at a path."""
    finding, edited = change.finding, [edit.path for edit in change.remedy.edits]
    if any(path[: len(place.path)] == place.path for place in (finding.place, *finding.related)):
        return True
    devices = {edit[1] for edit in edited if edit[0] == "devices"}  # added, taken out, or swapped with its settings
    if path[0] in ("devices", "settings", "readings") and path[1] in devices:
        return True
    about = {place.path[1] for place in (finding.place, *finding.related) if place.path[:1] == ("devices",)}
    return path[0] == "settings" and (
        path[1] in about or (path[2:3] == ("programs",) and path[:5] in [e[:5] for e in edited])
    )


@settings(max_examples=settings().max_examples // 2)
@given(faulty_documents(), st.booleans())
def test_repair_ends_better_and_changes_only_what_was_wrong(document: dict[str, Document], purchases: bool) -> None:
    job = job_from_document(document)
    done = repair(job, purchases=purchases)
    left = {finding.fingerprint for finding in done.report.findings}
    assert [change.finding for change in done.changes if change.finding.fingerprint in left] == []
    assert new_errors(done.before.findings, done.report.findings) == ()
    assert all(purchases or not change.remedy.changes_purchase for change in done.changes)
    assert all(change.remedy.changes_purchase for change in done.offered)
    before, after = dict(leaves(job_document(job))), dict(leaves(job_document(done.job)))
    differing = [path for path in before.keys() | after.keys() if before.get(path) != after.get(path)]
    emptied = {path for path in differing if before.get(path, after.get(path)) in ("{}", "[]")}
    loose = [p for p in differing if p not in emptied and not any(accounted(p, change) for change in done.changes)]
    assert loose == [], outcome(done)[1]
    if job.cables != done.job.cables:
        assert any(edit.path[0] == "cables" for change in done.changes for edit in change.remedy.edits)


@settings(max_examples=settings().max_examples // 2)
@given(faulty_documents(), st.booleans())
def test_the_measure_falls_with_each_change_and_nothing_is_left_to_do(
    document: dict[str, Document], purchases: bool
) -> None:
    job = job_from_document(document)
    done = repair(job, purchases=purchases)
    here, last = job, measure(check(job))
    assert last == measure(done.before)
    for change in done.changes:
        here = applied(here, change.remedy)
        now = measure(check(here))
        assert now < last, change
        last = now
    assert here == done.job
    assert last == measure(done.report)
    again = repair(done.job, purchases=purchases)
    assert again.changes == ()
    assert again.job == done.job
    for change in done.refused:
        assert change.finding.fingerprint in {finding.fingerprint for finding in done.report.findings}


@settings(max_examples=settings().max_examples // 3)
@given(faulty_documents(), st.data())
def test_the_order_of_keys_does_not_matter(document: dict[str, Document], data: st.DataObject) -> None:
    changed = reordered(document, lambda keys: list(data.draw(st.permutations(keys))))
    assert outcome(repair(job_from_document(changed))) == outcome(repair(job_from_document(document)))


# By example


def with_cables(name: str, more: Sequence[dict[str, Document]]) -> Job:
    """An example with cables added to it."""
    document = job_document(read_job(EXAMPLES / name))
    cables = document["cables"]
    assert isinstance(cables, list)
    return job_from_document({**document, "cables": [*cables, *more]})


def test_two_doubled_cables_are_put_right_in_one_run() -> None:
    more: list[dict[str, Document]] = [
        {"from": "ventilator.bus", "to": "module.ventilator"},
        {"from": "furnace.system", "to": "module.system"},
    ]
    done = repair(with_cables("sound/number-17.yaml", more))
    assert [change.finding.rule for change in done.changes] == ["wiring/ring"] * 2
    assert done.report.findings == ()
    assert done.job.cables == BASE.cables


def test_the_same_wrong_cable_twice_is_put_right_in_one_run() -> None:
    wrong: dict[str, Document] = {"from": "furnace.system", "to": "ventilator.bus"}
    done = repair(with_cables("faulty/buses-joined.yaml", [wrong]))
    assert len(done.changes) > 1
    assert done.report.ok
    assert all(
        "ventilator.bus" not in (str(c.start), str(c.end)) or "module" in f"{c.start}{c.end}" for c in done.job.cables
    )


def test_what_has_to_be_bought_is_offered_only() -> None:
    job = read_job(EXAMPLES / "faulty" / "interface-module-missing.yaml")
    done = repair(job)
    assert done.changes == ()
    assert done.job is job
    assert [change.finding.rule for change in done.offered] == ["wiring/no-path-to-controller"]
    assert done.left == ()  # the ventilator without a cable gets one with the module
    assert {f.fingerprint for f in done.report.findings} == done.answered
    bought = repair(job, purchases=True)
    assert bought.offered == ()
    assert bought.report.ok


# By rules that are made up: a repair ends whatever the rules are


@frozen
class Whole:
    """A job as the one subject of a rule."""

    title: str
    notes: str

    @property
    def place(self) -> Place:
        """The whole of it."""
        return Place.at("job")


def made_up(rule: str, severity: Severity, wrong: Callable[[Whole], bool], *edits: Edit) -> Rule[Survey, Whole]:
    """A rule that finds a job wrong or not, with a remedy."""
    return made_up_by(rule, severity, wrong, lambda _whole: edits)


def made_up_by(
    rule: str, severity: Severity, wrong: Callable[[Whole], bool], edits: Callable[[Whole], tuple[Edit, ...]]
) -> Rule[Survey, Whole]:
    def judge(whole: Whole) -> Evidence | None:
        return evidence(found=whole.title) if wrong(whole) else None

    return Rule(
        id=rule,
        title=rule,
        severity=severity,
        each=lambda survey: [Whole(survey.job.title, survey.job.notes)],
        check=judge,
        message="{found}",
        todo="Change it.",
        basis=practice("made up"),
        remedy=lambda whole: Remedy(f"for {rule}", edits(whole)),
    )


def rules(*made: Rule[Survey, Whole]) -> Rules:
    return Registry.build([("lane", made)], {rule.family for rule in made})


def titled(title: str) -> Edit:
    return Edit(EditKind.REPLACE, ("job",), title)


def test_two_remedies_that_undo_each_other_end_at_once() -> None:
    one = made_up("lane/is-even", Severity.WARNING, lambda whole: whole.title == "even", titled("odd"))
    other = made_up("lane/is-odd", Severity.WARNING, lambda whole: whole.title != "even", titled("even"))
    done = repair(BASE, registry=rules(one, other))
    assert done.changes == ()
    assert done.job is BASE


def test_a_remedy_may_bring_lesser_findings_and_never_as_bad_ones() -> None:
    error = made_up("lane/error", Severity.ERROR, lambda whole: whole.title == BASE.title, titled("mended"))
    advice = [made_up(f"lane/advice-{n}", Severity.ADVICE, lambda w: w.title == "mended", titled("x")) for n in "abc"]
    back = made_up("lane/late", Severity.WARNING, lambda whole: whole.title == "x", titled(BASE.title))
    done = repair(BASE, registry=rules(error, *advice, back))
    assert [change.finding.rule for change in done.changes] == ["lane/error"]
    assert [change.finding.rule for change in done.refused] == ["lane/advice-a", "lane/advice-b", "lane/advice-c"]
    assert done.job.title == "mended"


def test_the_worst_goes_first_and_what_is_physical_before_what_is_set() -> None:
    families = [*ORDER, "lane", "zone"]

    def noted(rule: str) -> Callable[[Whole], bool]:
        return lambda whole: f" {rule} " not in f" {whole.notes} "

    def note(rule: str) -> Callable[[Whole], tuple[Edit, ...]]:
        return lambda whole: (Edit(EditKind.ADD, ("notes",), f"{whole.notes} {rule}".strip()),)

    names = [(f"{family}/{severity.value}", severity) for family in families for severity in Severity]
    made = [made_up_by(rule, severity, noted(rule), note(rule)) for rule, severity in names]
    done = repair(BASE, registry=rules(*reversed(made)))
    expected = [f"{family}/{severity.value}" for severity in Severity for family in families]
    assert [change.finding.rule for change in done.changes] == expected
    assert done.job.notes.split()[-len(expected) :] == expected


def test_an_edit_that_does_not_fit_is_refused_and_the_rest_is_done() -> None:
    astray = made_up(
        "lane/astray", Severity.ERROR, lambda whole: whole.title == BASE.title, Edit(EditKind.REMOVE, ("cables", 99))
    )
    sound = made_up(
        "lane/fits", Severity.WARNING, lambda whole: whole.notes != "seen", Edit(EditKind.ADD, ("notes",), "seen")
    )
    done = repair(BASE, registry=rules(astray, sound))
    assert [change.finding.rule for change in done.changes] == ["lane/fits"]
    assert [finding.rule for finding in done.left] == ["lane/astray"]


def test_a_repaired_job_can_be_written_and_read() -> None:
    done = repair(read_job(EXAMPLES / "faulty" / "two-bridges.yaml"))
    assert done.changes
    assert parse_job(to_yaml(job_document(done.job)), name="job.yaml") == done.job
