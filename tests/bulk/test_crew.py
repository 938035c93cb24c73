"""Worker processes: what they are called for comes back, they are replaced when they die, and stop when told to."""

import signal
from collections.abc import Iterable, Iterator
from concurrent.futures import BrokenExecutor, CancelledError, Executor
from multiprocessing import active_children
from time import sleep

import pytest

from tests.bulk.working import DEADLY, deadly, doubled, ending, lost, raising, unsendable, weightless
from ventrules import Outcome
from ventrules.bulk import Source
from ventrules.cli.crew import Crew, NoWorkersError, WorkerDiedError
from ventrules.cli.standard import UnusableError
from ventrules.cli.workers import outcomes
from ventrules.streaming import Way, streamed


def test_what_a_worker_returns_and_raises_comes_back_and_workers_are_replaced() -> None:
    with Crew(1) as crew:
        assert crew.submit(doubled, (1, 2)).result() == [2, 4]
        (first,) = active_children()
        assert isinstance(crew.submit(raising, (3,)).exception(), ArithmeticError)
        unsent = crew.submit(unsendable, (3,)).exception()
        assert isinstance(unsent, RuntimeError)
        assert "cannot be sent back" in str(unsent)
        assert crew.submit(lambda: 1).exception() is not None  # it cannot be sent there
        assert active_children() == [first]
        died = crew.submit(deadly, (DEADLY,)).exception()
        assert isinstance(died, WorkerDiedError)
        assert isinstance(died, BrokenExecutor)
        assert crew.submit(deadly, (1,)).result() == [2]
        assert first not in active_children()
    assert active_children() == []


def test_a_stream_goes_on_without_the_worker_that_died_and_says_what_it_died_of() -> None:
    numbers = range(30)
    with Crew(2) as crew:
        way = Way(deadly, lost, weightless, 4, 6)
        assert list(streamed(numbers, way, crew)) == [-n if n == DEADLY else 2 * n for n in numbers]


def test_stopping_ends_workers_at_once_whatever_they_are_at() -> None:
    crew = Crew(1)
    assert crew.submit(doubled, (1,)).result() == [2]
    busy = crew.submit(sleep, 3600)
    while not busy.running():
        sleep(0.001)
    waiting = crew.submit(doubled, (1,))
    crew.shutdown(wait=False, cancel_futures=True)
    assert active_children() == []
    assert isinstance(busy.exception(), WorkerDiedError)
    with pytest.raises(CancelledError):
        waiting.result()
    with pytest.raises(RuntimeError):
        crew.submit(doubled, (1,))


def test_a_crew_that_was_never_needed_starts_nothing() -> None:
    with Crew(3):
        assert active_children() == []


@pytest.mark.skipif(not hasattr(signal, "pthread_sigmask"), reason="signals cannot be held back here")
def test_a_worker_does_not_listen_to_the_key_that_interrupts() -> None:
    with Crew(1) as crew:
        assert crew.submit(signal.getsignal, signal.SIGINT).result() is signal.SIG_IGN
        assert signal.SIGINT not in crew.submit(signal.pthread_sigmask, signal.SIG_BLOCK, ()).result()
        crew.submit(signal.raise_signal, signal.SIGINT).result()
        assert crew.submit(doubled, (2,)).result() == [4]
    assert signal.SIGINT not in signal.pthread_sigmask(signal.SIG_BLOCK, ())


def test_a_worker_that_cannot_start_is_no_fault_of_what_it_was_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ventrules.cli.crew._serve", ending)
    with Crew(1) as crew, pytest.raises(NoWorkersError):
        list(streamed(range(30), Way(doubled, lost, weightless, 4, 6), crew))

    def judge(sources: Iterable[Source], *, executor: Executor | None = None, ahead: int = 1) -> Iterator[Outcome]:
        if executor is not None:
            executor.submit(doubled, (ahead,)).result()
        return (Outcome(str(source)) for source in sources)

    monkeypatch.setattr("ventrules.cli.workers.ALONE_S", 0.0)
    told = outcomes(["a", "b"], 2, judge)
    assert next(told) == Outcome("a")
    with pytest.raises(UnusableError, match="--workers 1"):
        next(told)
