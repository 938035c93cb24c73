"""Outcomes by as many processes as are asked for; they are started only when there is enough to do."""

import os
import time
from collections.abc import Generator, Iterable, Iterator
from concurrent.futures import Executor
from itertools import chain
from typing import Final, Protocol

from ventrules.bulk import Outcome, Source
from ventrules.cli.standard import UnusableError

ALONE_S: Final = 1.0
"""How long this process judges alone: starting two workers costs about that much."""
BATCHES_EACH: Final = 4
"""How many batches are ahead for each worker; while one job takes long, the others get so far."""


class Judge(Protocol):
    """Judges sources in order: `check_many`, with what else it is to know."""

    def __call__(
        self, sources: Iterable[Source], *, executor: Executor | None = None, ahead: int = BATCHES_EACH
    ) -> Iterator[Outcome]:
        """Yield the outcome of each source."""


def usable_cores() -> int:
    """Return how many processors this process may use."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # not on every system
        return os.cpu_count() or 1


def outcomes(sources: Iterable[Source], workers: int, judge: Judge) -> Generator[Outcome, None, None]:
    """Yield the outcome of each source, in order.

    This process judges the first of them itself, so that a short run starts no other; when there is more, workers take
    it over, and this process reads what is given and writes what was found.

    Args:
        sources: What to judge.
        workers: How many processes; with 1 this one does it all.
        judge: What judges them.

    Raises:
        UnusableError: Workers cannot be started; raised while iterating.
    """
    left = iter(sources)
    if workers == 1:
        yield from judge(left)
        return
    yield from judge(_for_a_while(left))
    for source in left:
        from ventrules.cli.crew import Crew, NoWorkersError  # noqa: PLC0415 - a short run has no use for it

        crew = Crew(workers)
        try:
            yield from judge(chain((source,), left), executor=crew, ahead=workers * BATCHES_EACH)
        except NoWorkersError as error:
            raise UnusableError(f"{error}; --workers 1 needs none") from error
        finally:
            crew.shutdown(wait=False, cancel_futures=True)


def _for_a_while(sources: Iterator[Source]) -> Iterator[Source]:
    end = time.monotonic() + ALONE_S
    for source in sources:
        yield source
        if time.monotonic() >= end:
            return
