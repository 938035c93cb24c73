"""Remedies: each says what it does, what it takes for granted and what to look at on site."""

from collections.abc import Sequence
from pathlib import Path
from typing import Final, TypeVar

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from ventrules import Job, Remedy, check, job_from_document, read_job
from ventrules.testing import FAULTS, Fault, job_documents

T = TypeVar("T")

FAULTY: Final = sorted((Path(__file__).parents[1] / "examples" / "faulty").glob("*.*"))


def remedies(job: Job) -> list[Remedy]:
    return [finding.remedy for finding in check(job).findings if finding.remedy is not None]


def is_whole(remedy: Remedy) -> bool:
    """Say whether a remedy has all its parts: an instruction, edits, and two sentences."""
    sentences = (remedy.assumes, remedy.check_on_site)
    return (
        bool(remedy.edits)
        and remedy.title[:1].isupper()
        and not remedy.title.endswith(".")
        and all(text[:1].isupper() and text.endswith(".") and text == " ".join(text.split()) for text in sentences)
        and not any(mark in text for text in (remedy.title, *sentences) for mark in ("{", "}", "None"))
    )


@pytest.mark.parametrize("path", FAULTY, ids=lambda path: path.name)
def test_the_remedies_of_an_example_have_all_their_parts(path: Path) -> None:
    assert [remedy for remedy in remedies(read_job(path)) if not is_whole(remedy)] == []


def test_most_examples_have_a_remedy() -> None:
    assert sum(bool(remedies(read_job(path))) for path in FAULTY) * 2 > len(FAULTY)


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
@settings(max_examples=settings().max_examples // 5)
@given(data=st.data())
def test_the_remedies_of_a_generated_fault_have_all_their_parts(fault: Fault, data: st.DataObject) -> None:
    def pick(choices: Sequence[T]) -> T:
        return data.draw(st.sampled_from(choices))

    made = fault.apply(data.draw(job_documents()), pick)
    assume(made is not None)
    assert made is not None
    assert [remedy for remedy in remedies(job_from_document(made.document)) if not is_whole(remedy)] == []
