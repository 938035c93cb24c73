"""What of a finding stands in the job's text: its region, those of related places, and its remedy as replacements.

For outputs that show or change text. Lines end with a line feed, with or without a carriage return before it; columns
count code points, as editors and SARIF do.
"""

import re
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from difflib import SequenceMatcher
from itertools import accumulate, takewhile
from typing import Final

from ventrules.engine import Finding, Place, Position, Remedy
from ventrules.files.marks import Marks
from ventrules.files.problems import DocumentError, JobFileError
from ventrules.files.reader import rebuilt
from ventrules.files.regions import InText, Region, Replacement
from ventrules.files.texts import marks_of
from ventrules.files.writer import apply_edits, job_document
from ventrules.job import Job, Origin

_WORD: Final = re.compile(
    r"""
    "(?:[^"\\\r\n]|\\.)*"?
    | '(?:[^'\r\n]|'')*'?
    | (?:[^\s:,#{}\[\]] | :(?=[^\s]) | [ \t]+(?=[^\s:,#{}\[\]]))+
    """,
    re.VERBOSE,
)
_LINE: Final = re.compile(r"[^\r\n]*")
_ODD_BREAK: Final = re.compile("\r(?!\n)|[\x85\u2028\u2029]")
_YAML_BREAK: Final = re.compile("\r\n|[\r\n\x85\u2028\u2029]")
_MOST_EDITED: Final = 2_000_000  # characters of a text times remedies in it, for which replacements are worked out
_MOST_LINES: Final = 2_000  # lines that differ; beyond that they are replaced as one block


def in_text(job: Job, findings: Sequence[Finding]) -> tuple[InText, ...]:
    """Return what stands of each finding in the text of its job; nothing for a job that has no text.

    Args:
        job: The job.
        findings: Findings on it, with their positions.
    """
    origin = job.origin
    if origin is None or not findings:
        return ()
    layout = _Layout(origin)
    remedies = sum(finding.remedy is not None for finding in findings)
    edited = remedies * len(origin.text) <= _MOST_EDITED
    return tuple(
        InText(
            layout.region(finding.position),
            tuple(layout.region_of(place) for place in finding.related),
            _fix(job, origin, finding.remedy) if finding.remedy is not None and edited else (),
        )
        for finding in findings
    )


class _Layout:
    """Where the lines of a text begin, and what stands in it."""

    def __init__(self, origin: Origin) -> None:
        self._name, self._text = origin.name, origin.text
        self._breaks = _breaks(self._text)
        # The parser of YAML takes some characters for line breaks that no editor does.
        odd = _ODD_BREAK.search(self._text) is not None and not self._text.lstrip().startswith(("{", "["))
        self._starts = [0, *(match.end() for match in _YAML_BREAK.finditer(self._text))] if odd else self._breaks
        self._marks: Marks | None = None

    def region(self, position: Position | None) -> Region | None:
        """Return the region of the word at a position in this text."""
        if position is None or position.file != self._name or position.line > len(self._starts):
            return None
        start = min(self._starts[position.line - 1] + position.column - 1, len(self._text))
        word = _WORD.match(self._text, start) or _LINE.match(self._text, start)
        return _region(self._breaks, start, max(start, word.end() if word else start))

    def region_of(self, place: Place) -> Region | None:
        """Return the region of a place, or of what is nearest above it."""
        if self._marks is None:
            self._marks = marks_of(self._text, self._name)
        return self.region(self._marks.position(self._name, place.path))


def _breaks(text: str) -> list[int]:
    """Return the offset at which each line begins."""
    return [0, *accumulate(len(line) + 1 for line in text.split("\n")[:-1])]


def _region(starts: Sequence[int], start: int, end: int) -> Region:
    first, last = bisect_right(starts, start), bisect_right(starts, end)
    return Region(first, start - starts[first - 1] + 1, last, end - starts[last - 1] + 1)


def _fix(job: Job, origin: Origin, remedy: Remedy) -> tuple[Replacement, ...]:
    """Return what a remedy changes in the text; nothing where it cannot be made in it."""
    from ventrules.files.round_trip import edited_text  # noqa: PLC0415 - ruamel.yaml is slow to import

    try:
        expected = job_document(rebuilt(apply_edits(job_document(job), remedy.edits), job))
        new = edited_text(origin.text, origin.name, remedy.edits, expected)
    except (DocumentError, JobFileError, ValueError):
        return ()
    return replacements(origin.text, new)


def replacements(old: str, new: str) -> tuple[Replacement, ...]:
    """Return how to get from one text to another: the parts that differ, from the end of the text to its start."""
    starts = _breaks(old)
    return tuple(
        Replacement(_region(starts, start, end), text) for start, end, text in sorted(_spans(old, new), reverse=True)
    )


def _spans(old: str, new: str) -> Iterator[tuple[int, int, str]]:
    """Yield the parts of a text that change, as offsets, with what takes their place."""
    before, after = old.splitlines(keepends=True), new.splitlines(keepends=True)
    head = _alike(before, after)
    tail = _alike(before[head:][::-1], after[head:][::-1])
    before, after = before[head : len(before) - tail], after[head : len(after) - tail]
    offset = sum(map(len, old.splitlines(keepends=True)[:head]))
    if max(len(before), len(after)) > _MOST_LINES:
        yield _trimmed(old, offset, "".join(before), "".join(after))
        return
    lines = list(accumulate(map(len, before), initial=offset))
    for kind, first, last, other, end in SequenceMatcher(None, before, after, autojunk=False).get_opcodes():
        if kind != "equal":
            yield _trimmed(old, lines[first], "".join(before[first:last]), "".join(after[other:end]))


def _trimmed(text: str, start: int, old: str, new: str) -> tuple[int, int, str]:
    """Return a changed part without what its ends have in common with what takes its place."""
    head = _alike(old, new)
    tail = _alike(old[head:][::-1], new[head:][::-1])
    start, end, inserted = start + head, start + len(old) - tail, new[head : len(new) - tail]
    if text[start - 1 : start + 1] == "\r\n":  # no region begins or ends within a line's end
        start, inserted = start - 1, f"\r{inserted}"
    if text[end - 1 : end + 1] == "\r\n":
        end, inserted = end + 1, f"{inserted}\n"
    newline = "\r\n" if text.endswith("\r\n") else "\n"
    if start == len(text) and text.endswith(newline) and inserted.endswith(newline):
        # Past the last line there is no place that all readers of regions know; before its end there is.
        start = end = start - len(newline)
        inserted = newline + inserted.removesuffix(newline)
    return start, end, inserted


def _alike(one: Sequence[str], other: Sequence[str]) -> int:
    """Return how many items two sequences have in common from their start."""
    pairs: Iterable[tuple[str, str]] = zip(one, other, strict=False)
    return sum(1 for _pair in takewhile(lambda pair: pair[0] == pair[1], pairs))
