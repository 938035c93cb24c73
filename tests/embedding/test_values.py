"""Public values can be sent elsewhere and come back equal, and nobody can change them."""

import copy
import multiprocessing
import pickle
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from enum import Enum
from typing import Any, Final

import attrs
import pytest

import ventrules
from tests.embedding.samples import samples
from ventrules.engine import Rule

KEEPS_BOOK: Final = {"Ledger"}  # no value: it belongs to one run
GROWS: Final = {"Tally"}  # it counts, so it is made to change
CLASSES: Final = [
    name for name in ventrules.__all__ if isinstance(getattr(ventrules, name), type) and name not in KEEPS_BOOK
]
PROTOCOLS: Final = range(2, pickle.HIGHEST_PROTOCOL + 1)


@pytest.fixture(scope="module")
def values() -> dict[str, list[object]]:
    return samples()


def test_there_is_a_value_of_every_public_class(values: dict[str, list[object]]) -> None:
    assert sorted(values) == CLASSES


def said(value: object) -> object:
    """Return what a value comes to, for values that are equal to themselves alone."""
    if isinstance(value, BaseException):
        problems = value.problems if isinstance(value, ventrules.JobFileError) else ()
        return type(value), str(value), value.args, problems
    if isinstance(value, ventrules.Survey):
        return [finding for rule in ventrules.installed_rules() for finding in rule.examine(value)]
    return value


def derived(value: object) -> Iterator[tuple[str, object]]:
    """Yield what can be asked of a value, kept in it or worked out anew."""
    for name in dir(type(value)):
        if not name.startswith("_") and not callable(getattr(type(value), name)):
            yield name, getattr(value, name)


def same(value: object, copied: object) -> None:
    assert type(copied) is type(value)
    assert said(copied) == said(value)
    if not isinstance(value, (BaseException, Enum, ventrules.Survey)):
        assert dict(derived(copied)) == dict(derived(value))


def sent(protocol: int) -> Callable[[object], object]:
    def there_and_back(value: object) -> object:
        back: object = pickle.loads(pickle.dumps(value, protocol))  # noqa: S301 - what was just written
        return back

    return there_and_back


WAYS: Final[dict[str, Callable[[object], object]]] = {
    **{f"pickle {protocol}": sent(protocol) for protocol in PROTOCOLS},
    "copy": copy.copy,
    "deepcopy": copy.deepcopy,
}


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name", CLASSES)
def test_a_value_comes_back_equal(name: str, way: str, values: dict[str, list[object]]) -> None:
    for value in values[name]:
        same(value, WAYS[way](value))


def test_what_does_not_come_back_equal_would_be_seen(values: dict[str, list[object]]) -> None:
    (finding, *_others) = values["Finding"]
    assert isinstance(finding, ventrules.Finding)
    with pytest.raises(AssertionError):
        same(finding, attrs.evolve(finding, message="another"))
    (error, *_others) = values["JobFileError"]
    assert isinstance(error, ventrules.JobFileError)
    with pytest.raises(AssertionError):
        same(error, ventrules.JobFileError(error.problems[:-1]))


def test_a_survey_goes_along_with_all_that_it_has_worked_out(values: dict[str, list[object]]) -> None:
    (survey,) = values["Survey"]
    before = said(survey)  # every rule has looked at it, so it is full
    assert before
    for way in WAYS.values():
        assert said(way(survey)) == before


def test_values_come_back_from_a_process_that_shares_nothing(values: dict[str, list[object]]) -> None:
    given = [value for name in CLASSES for value in values[name]]
    with ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn")) as executor:
        with pytest.raises(ventrules.JobFileError) as caught:  # raised there, and caught here
            executor.submit(ventrules.parse_job, "ventrules: 7", name="row 7").result()
        assert [str(problem) for problem in caught.value.problems] == str(caught.value).splitlines()
        for value, back in zip(given, executor.map(copy.copy, given, chunksize=len(given)), strict=True):
            same(value, back)


# What goes along with a job and with an error


def test_a_job_keeps_the_text_it_was_read_from_so_that_findings_keep_their_lines(
    values: dict[str, list[object]],
) -> None:
    for job in values["Job"]:
        assert isinstance(job, ventrules.Job)
        back = pickle.loads(pickle.dumps(job))  # noqa: S301 - what was just written
        assert back.origin == job.origin
        assert ventrules.check(back) == ventrules.check(job)


def test_an_error_that_is_raised_anew_keeps_its_problems_and_takes_notes(values: dict[str, list[object]]) -> None:
    for error in values["JobFileError"]:
        assert isinstance(error, ventrules.JobFileError)
        back = pickle.loads(pickle.dumps(error))  # noqa: S301 - what was just written
        with pytest.raises(ventrules.JobFileError) as caught:
            _raise(back)
        caught.value.add_note("row 12 of the table of jobs")
        assert caught.value.problems == error.problems
        assert caught.value.__traceback__ is not None
        assert "row 12" in caught.exconly() or caught.value.__notes__ == ["row 12 of the table of jobs"]


def _raise(error: Exception) -> None:
    raise error


# Nobody can change them


@pytest.mark.parametrize(
    "name", [name for name in CLASSES if attrs.has(getattr(ventrules, name)) and name not in GROWS]
)
def test_no_attribute_can_be_set_or_taken_away(name: str, values: dict[str, list[object]]) -> None:
    for value in values[name]:
        fields = attrs.fields(type(value))  # type: ignore[arg-type]  # every class here is one of attrs
        assert len(fields) > 0
        before = repr(value)
        for attribute in fields:
            with pytest.raises(attrs.exceptions.FrozenInstanceError):
                setattr(value, attribute.name, None)
            with pytest.raises(attrs.exceptions.FrozenInstanceError):
                delattr(value, attribute.name)
        with pytest.raises(AttributeError):
            value.something_new = None  # type: ignore[attr-defined]  # that is the point
        assert repr(value) == before


def test_severities_are_words_that_do_not_change(values: dict[str, list[object]]) -> None:
    assert set(values["Severity"]) <= set(ventrules.Severity)
    with pytest.raises(AttributeError):
        ventrules.Severity.ERROR = "fatal"  # type: ignore[misc]  # that is the point


def containers(value: object, seen: set[int] | None = None) -> Iterator[object]:
    """Yield every list, set and bytearray that can be reached through attributes, tuples and mappings."""
    seen = set() if seen is None else seen
    if id(value) in seen or isinstance(value, (Rule, ventrules.Survey)):
        return
    seen.add(id(value))
    if isinstance(value, (list, set, bytearray)):
        yield value
    inner: list[Any] = []
    shape = type(value)
    if attrs.has(shape):
        inner = [getattr(value, attribute.name) for attribute in attrs.fields(shape)]
    elif isinstance(value, dict):
        inner = [*value, *value.values()]
    elif isinstance(value, (tuple, list, set, frozenset)):
        inner = list(value)
    for each in inner:
        yield from containers(each, seen)


def test_sequences_and_sets_are_tuples_and_frozen_sets(values: dict[str, list[object]]) -> None:
    """Only the value of an edit, a piece of a document, holds lists."""
    assert list(containers(({"a": [1]}, 2))) == [[1]]
    for name in CLASSES:
        for value in values[name]:
            lists = list(containers(value))
            edits = [e for each in _remedies(value) for e in each.edits]
            edits += getattr(value, "edits", ())
            allowed = {id(inner) for edit in edits for inner in containers(edit.value)}
            assert [each for each in lists if id(each) not in allowed] == [], name


def _remedies(value: object) -> Iterator[ventrules.Remedy]:
    if isinstance(value, ventrules.Remedy):
        yield value
    elif isinstance(value, ventrules.Finding):
        yield from () if value.remedy is None else (value.remedy,)
    elif isinstance(value, (ventrules.Report, ventrules.Plan)):
        for finding in value.findings:
            yield from _remedies(finding)
    elif isinstance(value, ventrules.Outcome):
        yield from _remedies(value.report)
    elif isinstance(value, ventrules.Repaired):
        for change in (*value.changes, *value.refused, *value.offered):
            yield change.remedy
            yield from _remedies(change.finding)
        yield from _remedies(value.report)
        yield from _remedies(value.before)


def test_an_error_outlives_the_pickling_of_clusters() -> None:
    """Dask has exceptions pickled by another library, for their tracebacks."""
    library: Any = pytest.importorskip("tblib.pickling_support")
    error = ventrules.JobFileError([ventrules.Problem("no such file", file="a.yaml")])
    make, parts, *_rest = library.pickle_exception(error)
    back = make(*parts)
    assert isinstance(back, ventrules.JobFileError)
    assert back.problems == error.problems
