"""The saved inputs, run through their targets without a fuzzer: whatever once led somewhere is gone through again."""

from pathlib import Path

import pytest

from tests.fuzz.__main__ import CORPUS
from tests.fuzz.edits import edited
from tests.fuzz.feed import Feed
from tests.fuzz.laws import AFTERS, COUNTS
from tests.fuzz.targets import TARGETS
from ventrules.engine.findings import Document

_TOGETHER = 20
_INPUTS = {name: sorted((CORPUS / name).iterdir()) for name in TARGETS if (CORPUS / name).is_dir()}
_BATCHES = [
    pytest.param(name, paths[start : start + _TOGETHER], id=f"{name}-{start}")
    for name, paths in _INPUTS.items()
    if name != "edit"  # see below
    for start in range(0, len(paths), _TOGETHER)
]


def run(name: str, paths: list[Path]) -> None:
    for path in paths:
        try:
            TARGETS[name](path.read_bytes())
        except BaseException as error:
            error.add_note(f"input {path.relative_to(CORPUS)}")
            raise


@pytest.mark.parametrize(("name", "paths"), _BATCHES)
def test_saved_inputs_hold_the_laws(name: str, paths: list[Path]) -> None:
    run(name, paths)


def test_every_target_has_saved_inputs_and_they_are_small() -> None:
    assert _INPUTS.keys() == TARGETS.keys()
    sizes = [path.stat().st_size for paths in _INPUTS.values() for path in paths]
    assert len(sizes) <= 300
    assert sum(sizes) <= 500_000
    assert {folder.name for folder in CORPUS.iterdir()} == TARGETS.keys()


def test_saved_inputs_reach_the_check_and_everything_after_it() -> None:
    before = COUNTS.copy()
    run("edit", _INPUTS["edit"])
    reached = {name for name in (*AFTERS, "jobs checked") if COUNTS[name] > before[name]}
    assert reached == {*AFTERS, "jobs checked"}


def test_a_feed_gives_every_byte_once_and_ends_in_zeros() -> None:
    feed = Feed(b"\x01\x02\x03\x00\x05abcde")
    assert [feed.below(256), feed.below(2), feed.below(1000), feed.text()] == [1, 0, 768, "abcde"]
    assert not feed
    assert [feed.below(7), feed.text(), feed.rest(), feed.one_of("xy")] == [0, "", b"", "x"]


def test_an_edit_leaves_the_document_as_it_is() -> None:
    document: Document = {"a": [1, {"b": "70 cfm"}], "c": "06:00"}
    for number in range(256):
        edited(document, Feed(bytes([number, 3 * number % 256, 7, number, 0, 9, number])))
    assert document == {"a": [1, {"b": "70 cfm"}], "c": "06:00"}
