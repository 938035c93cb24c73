"""Baselines: what was found in legacy jobs on a day and is let stand, so that only what is new fails."""

import json
import os
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path as FilePath
from typing import Final, NamedTuple

from attrs import field, frozen

from ventrules.engine import Path
from ventrules.files import DocumentError, JobFileError, Problem, read_text
from ventrules.files.catalogs import placed, placed_syntax, versioned
from ventrules.files.json_text import load_json
from ventrules.files.problems import ProblemKind
from ventrules.files.shapes import structure
from ventrules.policy.accepting import ENGINE
from ventrules.policy.patterns import absolute, relative

VERSION_KEY: Final = "ventrules-baseline"
VERSION: Final = 1


class Key(NamedTuple):
    """What makes two findings the same: the file, the job's title where a file has several, and the fingerprint."""

    file: str
    job: str
    fingerprint: str


@frozen
class BaselineEntry:
    """Findings of one rule at one place that were there when the baseline was made.

    Attributes:
        file: The file, relative to the baseline's folder, with `/` between folders.
        fingerprint: The fingerprint of the findings.
        rule: The id of the rule.
        place: The name of the place.
        count: How many there are.
        job: The job's title, where the file has a job on each line.
    """

    file: str
    fingerprint: str
    rule: str
    place: str
    count: int = 1
    job: str = ""

    @property
    def key(self) -> Key:
        """What makes findings the same."""
        return Key(self.file, self.job, self.fingerprint)


@frozen
class _Written:
    entries: tuple[BaselineEntry, ...]


@frozen
class Baseline:
    """What is let stand since it was there before.

    Attributes:
        name: The file's name.
        folder: Its folder, absolute; the files of its entries are relative to it.
        entries: What stands in it.
    """

    name: str
    folder: FilePath
    entries: Mapping[Key, BaselineEntry] = field(repr=False)

    def file(self, name: str) -> str:
        """Return how entries call a file."""
        return relative(name, self.folder)


def read_baseline(path: str | FilePath) -> Baseline:
    """Return the baseline in a file.

    Args:
        path: The file.

    Raises:
        JobFileError: It cannot be read or is no baseline; every problem is listed with its place.
    """
    file, name = FilePath(path), str(path)
    if not os.path.lexists(file):
        raise JobFileError([Problem("no such baseline; `ventrules baseline` writes one", file=name)])
    text = read_text(file)
    try:
        document = load_json(text)
    except DocumentError as problem:
        raise JobFileError([placed_syntax(problem, name)]) from problem
    problems, body = versioned(document, VERSION_KEY, VERSION)
    outcome = structure(body, _Written) if body is not None else problems
    if isinstance(outcome, _Written):
        problems = list(_entry_problems(outcome.entries))
        if not problems:
            return Baseline(name, absolute(file.parent), {entry.key: entry for entry in outcome.entries})
    else:
        problems = outcome
    raise JobFileError(placed(problems, text, name))


def _entry_problems(entries: Iterable[BaselineEntry]) -> Iterator[Problem]:
    seen: set[Key] = set()
    for number, entry in enumerate(entries):
        at: Path = ("entries", number)
        if entry.count == 0:
            yield Problem("expected at least one", (*at, "count"), kind=ProblemKind.CONTRADICTION)
        if entry.rule.startswith(ENGINE):
            message = "what the engine itself reports cannot be let stand"
            yield Problem(message, (*at, "rule"), kind=ProblemKind.REFERENCE)
        if entry.key in seen:
            yield Problem("stands there twice; keep one of the two lines", at, kind=ProblemKind.CONTRADICTION)
        seen.add(entry.key)


def baseline_text(entries: Iterable[BaselineEntry]) -> str:
    """Return a baseline as text: sorted, an entry on each line, so that changes are short to read."""
    lines = [_line(entry) for entry in sorted(entries, key=_order)]
    inside = "".join(f"\n    {line}{'' if last else ','}" for line, last in _with_last(lines))
    close = "\n  ]" if lines else "]"
    return f'{{\n  "{VERSION_KEY}": {VERSION},\n  "entries": [{inside}{close}\n}}\n'


def _with_last(lines: list[str]) -> Iterator[tuple[str, bool]]:
    for number, line in enumerate(lines, start=1):
        yield line, number == len(lines)


def _line(entry: BaselineEntry) -> str:
    data: dict[str, str | int] = {"file": entry.file}
    if entry.job:
        data["job"] = entry.job
    data |= {"rule": entry.rule, "place": entry.place, "fingerprint": entry.fingerprint, "count": entry.count}
    return json.dumps(data, ensure_ascii=True)


def _order(entry: BaselineEntry) -> tuple[str, str, str, str, str]:
    return (entry.file, entry.job, entry.rule, entry.place, entry.fingerprint)
