"""What a project may decide, as it is written in its policy file."""

from collections.abc import Mapping
from datetime import date
from enum import StrEnum

from attrs import Factory, frozen

from ventrules.codes.limits import Limits


class Threshold(StrEnum):
    """The least severity that makes `check` exit with 1."""

    ERROR = "error"
    WARNING = "warning"
    ADVICE = "advice"
    NEVER = "never"


class Level(StrEnum):
    """What a rule's findings are to count as; a rule that is left out is not run."""

    ERROR = "error"
    WARNING = "warning"
    ADVICE = "advice"
    LEFT_OUT = "left-out"


@frozen
class ProjectAcceptance:
    """One rule's findings that the project lets stand.

    Attributes:
        rule: The id of the rule.
        reason: Why they are let stand.
        until: The last day on which they are; None for no end.
        place: The name of the finding's place, as reports give it; by default every place.
        files: Patterns of the files that it covers, relative to the policy file; by default all.
    """

    rule: str
    reason: str
    until: date | None = None
    place: str | None = None
    files: tuple[str, ...] = ()


@frozen
class PolicyTable:
    """A policy as it is written: the whole of `.ventrules.toml`, or the table `tool.ventrules` of pyproject.toml.

    Paths and patterns start in the folder of the file. In `limits` only what differs is written: each table there has
    some of the keys of the same table in the packaged limits, and the basis of what it changes.

    Attributes:
        packs: Names of the rule packs that are run; by default every installed one.
        severity: Rule or family to what its findings count as; a rule's own line goes before that of its family.
        fail_at: The least severity that makes the exit status 1.
        fail_unchecked: Whether a check that could not be made does so, too.
        paths: Files and folders that are checked when the command names none.
        leave_out: Patterns of files in searched folders that are not checked.
        workers: Processes that check at the same time; by default as many as there are cores.
        catalogs: Name to the path of a catalog file; jobs may name it as they name a packaged catalog.
        codes: Name to the path of a code file; jobs may name it as they name a packaged code.
        catalogs_outside: Whether the catalogs and codes that jobs name by a path may lie outside their folder tree.
        limits: Limits of common practice that differ from the packaged ones.
        accepted: Findings that are let stand.
        baseline: Path of a baseline file; what stands in it is let stand.
    """

    packs: tuple[str, ...] | None = None
    severity: Mapping[str, Level] = Factory(dict)
    fail_at: Threshold = Threshold.ERROR
    fail_unchecked: bool = False
    paths: tuple[str, ...] = ()
    leave_out: tuple[str, ...] = ()
    workers: int | None = None
    catalogs: Mapping[str, str] = Factory(dict)
    codes: Mapping[str, str] = Factory(dict)
    catalogs_outside: bool = False
    limits: Limits | None = None
    accepted: tuple[ProjectAcceptance, ...] = ()
    baseline: str | None = None
