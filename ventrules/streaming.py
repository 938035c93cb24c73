"""Work on many things, in order, by any executor: batches ahead of what is waited for, and never many."""

from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import BrokenExecutor, Executor, Future
from typing import Final, Generic, TypeVar

from attrs import frozen

S = TypeVar("S")
R = TypeVar("R")

_BATCH_WEIGHT: Final = 1024 * 1024  # a batch of heavy things is handed over before it is full
_AHEAD_WEIGHT: Final = 64 * 1024 * 1024  # and so much is ahead at most


@frozen
class Way(Generic[S, R]):
    """How a stream is worked on.

    Attributes:
        work: What turns a batch into its results; it travels to the workers.
        died: What to say of the one thing that a worker died of.
        weight: How much memory a thing takes, in characters.
        batch: Most things in one batch.
        ahead: Most batches that are handed over before the first of them is waited for.
    """

    work: Callable[[tuple[S, ...]], list[R]]
    died: Callable[[S], R]
    weight: Callable[[S], int]
    batch: int
    ahead: int

    def __attrs_post_init__(self) -> None:
        if self.batch < 1 or self.ahead < 1:
            raise ValueError("a batch has at least one source, and at least one batch is ahead")


@frozen
class _Sent(Generic[S, R]):
    batch: tuple[S, ...]
    weight: int
    future: Future[list[R]]


def streamed(things: Iterable[S], way: Way[S, R], executor: Executor) -> Generator[R, None, None]:
    """Yield the result of each thing, in order, as soon as it and those before it are known.

    What `things` raises is raised after the results of what came before it. When the iterator is closed, batches that
    have not begun are canceled. A batch whose worker died is tried again, a thing at a time, where the executor goes on
    without that worker.

    Raises:
        BrokenExecutor: A worker died, and the executor takes no more.
    """
    waiting: deque[_Sent[S, R]] = deque()
    fault: Exception | None = None
    batches = _batches(things, way)
    try:
        while True:
            try:
                batch = next(batches, None)
            except Exception as error:  # it is raised below, after what came before it
                fault = error
                break
            if batch is None:
                break
            weight = sum(map(way.weight, batch))
            waiting.append(_Sent(batch, weight, executor.submit(way.work, batch)))
            while waiting and (waiting[0].future.done() or _enough(waiting, way.ahead)):
                yield from _received(waiting.popleft(), way, executor)
        while waiting:
            yield from _received(waiting.popleft(), way, executor)
        if fault is not None:
            raise fault
    finally:
        for sent in waiting:
            sent.future.cancel()


def _enough(waiting: deque[_Sent[S, R]], ahead: int) -> bool:
    return len(waiting) >= ahead or sum(sent.weight for sent in waiting) >= _AHEAD_WEIGHT


def _batches(things: Iterable[S], way: Way[S, R]) -> Iterator[tuple[S, ...]]:
    batch: list[S] = []
    weight = 0
    try:
        for thing in things:
            batch.append(thing)
            weight += way.weight(thing)
            if len(batch) >= way.batch or weight >= _BATCH_WEIGHT:
                yield tuple(batch)
                batch, weight = [], 0
    except Exception:
        if batch:
            yield tuple(batch)
        raise
    if batch:
        yield tuple(batch)


def _received(sent: _Sent[S, R], way: Way[S, R], executor: Executor) -> Iterator[R]:
    try:
        results = sent.future.result()
    except BrokenExecutor:
        for thing in sent.batch:
            yield from _alone(thing, executor.submit(way.work, (thing,)), way)
    else:
        yield from results


def _alone(thing: S, future: Future[list[R]], way: Way[S, R]) -> Iterator[R]:
    try:
        results = future.result()
    except BrokenExecutor:
        yield way.died(thing)
    else:
        yield from results
