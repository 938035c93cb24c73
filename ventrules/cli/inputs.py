"""What `check` is given: files, folders, patterns, JSON Lines and standard input, as sources one at a time."""

import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path as FilePath
from typing import Final

from attrs import Factory, define

from ventrules.bulk import JobText, Outcome, Source, job_lines
from ventrules.cli.standard import STDIN, STDIN_NAME
from ventrules.files import Found, JobFileError, Problem, ProblemKind, What, decode, find_jobs

_MOST_LISTED: Final = 1000  # names of files left out that are kept; the others are counted

_UNUSABLE: Final[Mapping[What, str]] = {
    What.UNLISTED: "the folder cannot be listed",
    What.EMPTY: (
        "no job files in this folder; expected .yaml, .yml or .json files with the key `ventrules`, "
        "or .jsonl or .ndjson files with a job a line"
    ),
    What.LED_OUT: "a link that leads out of the searched folder is not followed; name it by itself to have it checked",
    What.UNMATCHED: "no such file, and nothing matches it as a pattern",
    What.ARCHIVE: "archives are not opened; unpack it and check what was in it",
}


@define
class Inputs:
    """The sources that paths come to: standard input first, then each path in its turn.

    Attributes:
        paths: What was given on the command line.
        lines: Whether standard input and files named have a job a line.
        sieve: What takes out of a search what is not to be checked.
        left_out: The first of the files in folders that are no jobs.
        more_left_out: How many more of these there are.
        told: How many sources have been taken.
        ended: Whether there are no more.
    """

    paths: Sequence[str]
    lines: bool = False
    sieve: Callable[[Iterable[Found]], Iterable[Found]] = iter
    left_out: list[str] = Factory(list)
    more_left_out: int = 0
    told: int = 0
    ended: bool = False

    @property
    def count_left_out(self) -> int:
        """How many files in folders are no jobs."""
        return len(self.left_out) + self.more_left_out

    def __iter__(self) -> Iterator[Source]:
        if STDIN in self.paths:
            for source in _standard_input(lines=self.lines):
                self.told += 1
                yield source
        search = find_jobs((path for path in self.paths if path != STDIN), lines=self.lines)
        for found in self.sieve(search):
            for source in self._sources(found):
                self.told += 1
                yield source
        self.ended = True

    def _sources(self, found: Found) -> Iterator[Source]:
        match found.what:
            case What.JOB:
                yield found.path
            case What.LINES:
                yield from job_lines(found.path)
            case What.LEFT_OUT if len(self.left_out) < _MOST_LISTED:
                self.left_out.append(str(found.path))
            case What.LEFT_OUT:
                self.more_left_out += 1
            case what:
                yield _unusable(str(found.path), _UNUSABLE[what])


def _unusable(name: str, message: str) -> Outcome:
    return Outcome(name, problems=(Problem(message, file=name, kind=ProblemKind.FILE),))


def _standard_input(*, lines: bool) -> Iterator[Source]:
    here = FilePath.cwd()
    if lines:
        yield from job_lines(sys.stdin.buffer, name=STDIN_NAME, folder=here)
        return
    try:
        yield JobText(STDIN_NAME, decode(sys.stdin.buffer.read(), STDIN_NAME), folder=here)
    except JobFileError as error:
        yield Outcome(STDIN_NAME, problems=error.problems)
