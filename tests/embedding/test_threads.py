"""Any number of threads may use the library at once, on the same values too."""

import threading
import traceback
from concurrent.futures import ThreadPoolExecutor
from typing import Final

import pytest

import ventrules
from tests.embedding.fresh import EXAMPLES, ROOT, run
from ventrules.engine.once import once

ROUNDS: Final = range(4)


@pytest.mark.parametrize("turn", ROUNDS)
def test_threads_of_a_fresh_process_say_what_one_alone_says(turn: int) -> None:
    """Nothing is imported or cached yet when they all begin, and they give way to each other all the time."""
    code = f"import sys; sys.argv[1:] = ['{turn * 3}']; from tests.embedding.contention import main; main()"
    assert run(code, folder=ROOT).strip() == "all said the same"


def test_names_first_used_by_different_threads_at_once_are_all_there() -> None:
    code = (
        "import sys, threading; sys.setswitchinterval(1e-6); import ventrules\n"
        "from concurrent.futures import ThreadPoolExecutor\n"
        "names = ventrules.__all__; barrier = threading.Barrier(len(names))\n"
        "def first(name): barrier.wait(); return getattr(ventrules, name)\n"
        "found = list(ThreadPoolExecutor(len(names)).map(first, names))\n"
        "print(all(getattr(ventrules, name) is value for name, value in zip(names, found)))\n"
    )
    assert run(code).strip() == "True"


class Slow:
    """Something whose fact is worked out by two threads at once."""

    def __init__(self) -> None:
        self.barrier = threading.Barrier(2)

    @once
    def fact(self) -> object:
        """Something that is equal to itself alone."""
        self.barrier.wait()
        return object()


def test_threads_that_work_out_a_fact_at_once_get_the_same_object() -> None:
    """Views are equal to themselves alone, so two of one device would not be found in each other's tables."""
    slow = Slow()
    with ThreadPoolExecutor(2) as executor:
        one, other = executor.map(lambda _: slow.fact, range(2))
    assert one is other is slow.fact


def test_what_is_raised_again_and_again_does_not_grow() -> None:
    """Tracebacks hold what was called, so an exception that is kept would keep ever more of it."""
    document = ventrules.job_document(ventrules.read_job(EXAMPLES / "sound" / "number-02.yaml"))
    survey = ventrules.Survey(ventrules.job_from_document({**document, "target": {"code": "csa-f326"}}))
    depths = []
    for _ in range(3):
        with pytest.raises(ventrules.UnknownRequirementError) as caught:
            _ = survey.requirement
        depths.append(len(traceback.extract_tb(caught.value.__traceback__)))
    assert len(set(depths)) == 1
