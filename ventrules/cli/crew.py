"""Worker processes for a long run: an executor that outlives a worker, and stops at once when it is told to.

Each worker is a fresh interpreter, never a copy of this one: threads of this process or of a library it has loaded
would not survive in a copy. A thread here hands a batch to its worker and waits for what comes back, so that it is
known which batch a worker died of, and the other workers go on.
"""

import signal
import sys
from collections.abc import Callable
from concurrent.futures import BrokenExecutor, Executor, Future, ThreadPoolExecutor
from contextlib import suppress
from functools import partial
from multiprocessing import get_context
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from threading import Lock, local
from typing import Final, ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")

_PATIENCE_S: Final = 1.0  # how long a worker that was told to end is waited for before it is killed


class WorkerDiedError(BrokenExecutor):
    """A worker ended before it had done its work: it was killed, or there was not enough memory."""


class NoWorkersError(RuntimeError):
    """A worker ended while it started, so that no job is to blame."""


class Crew(Executor):
    """Worker processes, each started when there is work for it and replaced when it dies."""

    def __init__(self, workers: int) -> None:
        """Prepare so many workers; none is started yet."""
        self._threads = ThreadPoolExecutor(workers, "crew")
        self._own = local()
        self._lock = Lock()
        self._processes: list[SpawnProcess] = []
        self._stopped = False

    def submit(self, fn: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        """Have a worker call a function; all of it has to be picklable.

        The future raises `WorkerDiedError` when the worker dies of it, and `NoWorkersError` when none can be started.

        Raises:
            RuntimeError: The crew has been stopped.
        """
        return self._threads.submit(self._called, partial(fn, *args, **kwargs))

    def _called(self, call: Callable[[], T]) -> T:
        connection: Connection | None = getattr(self._own, "connection", None)
        if connection is None:
            connection = self._own.connection = self._started()
        try:
            connection.send(call)
            result, error = connection.recv()
        except (EOFError, OSError) as broken:
            connection.close()
            self._own.connection = None
            raise WorkerDiedError("a worker died") from broken
        if error is not None:
            raise error
        answer: T = result
        return answer

    def _started(self) -> Connection:
        context = get_context("spawn")
        ours, theirs = context.Pipe()
        process = context.Process(target=_serve, args=(theirs,), daemon=True)
        if sys.platform != "win32":  # a key that interrupts this process must not end a worker while it starts
            signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
        with self._lock:
            if self._stopped:
                raise WorkerDiedError("the workers have been stopped")
            self._processes = [each for each in self._processes if each.is_alive()]
            process.start()
            self._processes.append(process)
        theirs.close()  # or the end of the worker would not be noticed
        try:
            ours.recv()
        except (EOFError, OSError) as ended:
            if self._stopped:
                raise WorkerDiedError("the workers have been stopped") from ended
            raise NoWorkersError("worker processes cannot be started here") from ended
        return ours

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Stop the workers; what they are at is lost unless it is waited for."""
        if wait:
            self._threads.shutdown(cancel_futures=cancel_futures)
        with self._lock:
            self._stopped = True
        for process in self._processes:
            process.terminate()
        self._threads.shutdown(wait=False, cancel_futures=True)
        for process in self._processes:
            process.join(_PATIENCE_S)
            if process.is_alive():
                process.kill()
                process.join()


def _serve(connection: Connection) -> None:
    """Call what comes, and send back what it returns or raises, until the other side is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the process that started this one ends it
    if sys.platform != "win32":
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})
    with suppress(OSError):
        connection.send(None)
    while True:
        try:
            call: Callable[[], object] = connection.recv()
        except (EOFError, OSError):
            return
        answer: tuple[object, BaseException | None]
        try:
            answer = call(), None
        except Exception as error:  # it is raised where the result is waited for
            answer = None, error
        try:
            _answered(connection, answer)
        except OSError:
            return


def _answered(connection: Connection, answer: tuple[object, BaseException | None]) -> None:
    try:
        connection.send(answer)
    except OSError:
        raise
    except Exception as error:  # what cannot travel is said in words
        connection.send((None, RuntimeError(f"{answer[0] or answer[1]!r} cannot be sent back: {error}")))
