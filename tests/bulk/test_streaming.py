"""A stream of work, whatever it is: order, bounds, faults, whatever the executor is."""

import gc
import weakref
from collections.abc import Callable, Iterator
from concurrent.futures import BrokenExecutor, Executor, Future, ThreadPoolExecutor
from itertools import count
from typing import ParamSpec, TypeVar

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.bulk.working import doubled, doubling, lost, raising, slowly_doubled, weightless
from ventrules.streaming import Way, streamed

P = ParamSpec("P")
T = TypeVar("T")


class Lazy(Executor):
    """Runs nothing until it is told to, so that a test decides what is done when."""

    def __init__(self) -> None:
        self.waiting: list[tuple[Future[object], Callable[[], object]]] = []
        self.submitted = 0

    def submit(self, fn: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        future: Future[T] = Future()
        self.submitted += 1
        self.waiting.append((future, lambda: fn(*args, **kwargs)))  # type: ignore[arg-type]
        return future

    def run(self, number: int) -> None:
        future, work = self.waiting.pop(number)
        if future.set_running_or_notify_cancel():
            future.set_result(work())


class AtOnce(Executor):
    """Runs everything at once; a worker may die of some things, and more may be asked of it or not."""

    def __init__(self, deadly: frozenset[int] = frozenset(), *, lasting: bool = True) -> None:
        self.deadly = deadly
        self.lasting = lasting
        self.broken = False
        self.calls = 0

    def submit(self, fn: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        if self.broken and not self.lasting:
            raise BrokenExecutor("no more")
        self.calls += 1
        future: Future[T] = Future()
        (numbers,) = args
        assert isinstance(numbers, tuple)
        if self.deadly.isdisjoint(numbers):
            try:
                future.set_result(fn(*args, **kwargs))
            except ArithmeticError as error:
                future.set_exception(error)
        else:
            self.broken = True
            future.set_exception(BrokenExecutor("a worker died"))
        return future


SIZES = st.integers(1, 9)


@given(st.lists(st.integers()), SIZES, SIZES)
def test_results_come_in_order_whatever_the_batches_are(numbers: list[int], batch: int, ahead: int) -> None:
    executor = AtOnce()
    assert list(streamed(numbers, doubling(batch, ahead), executor)) == doubled(tuple(numbers))
    assert executor.calls == -(-len(numbers) // batch)


@pytest.mark.parametrize("workers", [1, 4])
def test_results_come_in_order_whichever_is_ready_first(workers: int) -> None:
    with ThreadPoolExecutor(workers) as executor:
        way = Way(slowly_doubled, lost, weightless, 2, 8)
        assert list(streamed(range(101), way, executor)) == doubled(tuple(range(101)))


@given(st.data(), SIZES, SIZES)
def test_things_are_taken_only_as_they_are_needed(data: st.DataObject, batch: int, ahead: int) -> None:
    taken = 0

    def endless() -> Iterator[int]:
        nonlocal taken
        for number in count():
            taken += 1
            yield number

    executor = AtOnce()
    results = streamed(endless(), doubling(batch, ahead), executor)
    for told in range(data.draw(st.integers(0, 40))):
        assert next(results) == 2 * told
        assert taken <= told + 1 + batch * ahead
    results.close()


class WouldWaitError(Exception):
    """A result was asked for that is not there yet."""


def would_wait(*_args: object) -> None:
    raise WouldWaitError


def test_no_more_are_ahead_than_allowed_while_the_first_is_not_done() -> None:
    executor = Lazy()
    results = streamed(range(100), doubling(5, 3), executor)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Future, "result", would_wait)
        with pytest.raises(WouldWaitError):
            next(results)
    assert executor.submitted == 3


def test_heavy_things_are_handed_over_in_smaller_batches_and_fewer_are_ahead() -> None:
    executor = AtOnce()
    way = Way(doubled, lost, lambda _number: 1024 * 1024, 16, 1000)
    assert list(streamed(range(20), way, executor)) == doubled(tuple(range(20)))
    assert executor.calls == 20
    lazy = Lazy()
    results = streamed(range(1000), way, lazy)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Future, "result", would_wait)
        with pytest.raises(WouldWaitError):
            next(results)
    assert lazy.submitted == 64


class Thing:
    """Something of which it can be told whether it is still held."""


def things_back(things: tuple[Thing, ...]) -> list[int]:
    return [1] * len(things)


def test_what_has_been_told_is_not_held() -> None:
    held: weakref.WeakSet[Thing] = weakref.WeakSet()

    def made() -> Iterator[Thing]:
        for _number in range(500):
            thing = Thing()
            held.add(thing)
            yield thing

    way: Way[Thing, int] = Way(things_back, lambda _thing: 0, lambda _thing: 0, 4, 3)
    most = 0
    for _result in streamed(made(), way, AtOnce()):
        gc.collect(0)
        most = max(most, len(held))
    assert 0 < most <= 4 * (3 + 2)


@given(st.integers(0, 30), SIZES, SIZES)
def test_a_fault_of_the_source_comes_after_the_results_of_what_came_before(many: int, batch: int, ahead: int) -> None:
    def faulty() -> Iterator[int]:
        yield from range(many)
        raise LookupError("no more rows")

    told: list[int] = []
    with pytest.raises(LookupError, match="no more rows"):
        told.extend(streamed(faulty(), doubling(batch, ahead), AtOnce()))
    assert told == doubled(tuple(range(many)))


def test_a_fault_of_the_work_is_raised_in_its_place() -> None:
    results = streamed(range(9), Way(raising, lost, weightless, 3, 2), AtOnce())
    with pytest.raises(ArithmeticError, match="not 0"):
        next(results)


def test_closing_cancels_what_has_not_begun() -> None:
    executor = Lazy()

    def numbers() -> Iterator[int]:
        for number in range(40):
            if executor.submitted == 4 and executor.waiting and not executor.waiting[0][0].done():
                executor.run(0)
            yield number

    results = streamed(numbers(), doubling(2, 10), executor)
    assert next(results) == 0
    futures = [future for future, _work in executor.waiting]
    assert len(futures) > 2
    results.close()
    assert all(future.cancelled() for future in futures)


@given(st.lists(st.integers(1, 30)), st.frozensets(st.integers(1, 30)), SIZES, SIZES)
def test_what_a_worker_died_of_is_told_and_the_others_go_on(
    numbers: list[int], deadly: frozenset[int], batch: int, ahead: int
) -> None:
    results = list(streamed(numbers, doubling(batch, ahead), AtOnce(deadly)))
    assert results == [-number if number in deadly else 2 * number for number in numbers]


def test_an_executor_that_takes_no_more_is_said_so() -> None:
    told: list[int] = []
    with pytest.raises(BrokenExecutor):
        told.extend(streamed(range(20), doubling(2, 1), AtOnce(frozenset({11}), lasting=False)))
    assert told == doubled(tuple(range(10)))


@pytest.mark.parametrize(("batch", "ahead"), [(0, 1), (1, 0), (-1, 3)])
def test_sizes_that_make_no_sense_are_refused(batch: int, ahead: int) -> None:
    with pytest.raises(ValueError, match="at least one"):
        doubling(batch, ahead)
