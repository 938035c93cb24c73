"""The project's policy on the command line: which one, what is said instead, and what then is in force."""

import os
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from functools import cached_property
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, NoReturn

import click
from attrs import define, frozen
from click.core import ParameterSource

from ventrules.bulk import Outcome
from ventrules.checking import Rules
from ventrules.cli.policy_options import kept
from ventrules.cli.standard import UNUSABLE, UnusableError, complain, from_here, note, project_policy, selected
from ventrules.engine.findings import Document
from ventrules.files import Found, JobFileError, Problem, What
from ventrules.files.finding import says_job
from ventrules.files.problems import ProblemKind
from ventrules.policy import Policy, Threshold, today_here
from ventrules.policy.patterns import absolute, any_match, below, is_plain

if TYPE_CHECKING:  # most runs have neither
    from ventrules.ledger import Ledger
    from ventrules.policy import Baseline


@define
class Sieve:
    """Takes out of what a search finds what the policy leaves out and, where only jobs are wanted, what is no job.

    Attributes:
        policy: The policy.
        given: The paths on the command line; a file that is named there is checked although the policy leaves it out.
        only_jobs: Whether files that are named are passed over if they are no jobs or are left out.
        baseline: The file of the baseline, or None.
        left_out: How many files the policy has left out so far.
    """

    policy: Policy | None
    given: frozenset[str]
    only_jobs: bool
    baseline: str | None = None
    left_out: int = 0

    def __call__(self, found: Iterable[Found]) -> Iterator[Found]:
        """Yield what is left."""
        for one in found:
            if one.what is What.LEFT_OUT and self._known(one.path):
                continue
            if one.what not in (What.JOB, What.LINES):
                yield one
                continue
            named = str(one.path) in self.given
            if self.policy is not None and (self.only_jobs or not named) and self._leaves_out(self.policy, one.path):
                self.left_out += 1
            elif self.only_jobs and named and not says_job(one.path):
                yield Found(one.path, What.LEFT_OUT)
            else:
                yield one

    def _known(self, path: FilePath) -> bool:
        """Say whether of a file that is no job nothing needs to be said."""
        if self.baseline is not None and absolute(path) == absolute(self.baseline):
            return True
        return self.policy is not None and self._leaves_out(self.policy, path)

    def _leaves_out(self, policy: Policy, path: FilePath) -> bool:
        patterns = policy.table.leave_out
        return bool(patterns) and any_match(patterns, below(policy.folder, path))


@frozen(slots=False)
class InForce:
    """What is in force for one run: the command line, else the policy, else what holds by default.

    Attributes:
        policy: The project's policy, or None.
        baseline: What is let stand since it was there before, or None.
        rules: The rules that run, in their severities.
        paths: What is checked.
        fail_at: The least severity that fails.
        fail_unchecked: Whether a check that could not be made fails.
        outside: Whether catalogs and codes may lie outside the folder tree of a job.
        workers: How many processes; None for as many as there are cores.
        today: The day for which end dates are judged.
        sieve: What takes out of a search what is not to be checked.
        whole: Whether the run is over the whole project.
        own_baseline: The file of the baseline, read or not, or None.
    """

    policy: Policy | None
    baseline: "Baseline | None"
    rules: Rules
    paths: tuple[str, ...]
    fail_at: Threshold
    fail_unchecked: bool
    outside: bool
    workers: int | None
    today: date
    sieve: Sieve
    whole: bool
    own_baseline: str | None

    @cached_property
    def ledger(self) -> "Ledger":
        """What lets the baseline stand, and tells of acceptances that are no longer needed."""
        from ventrules.ledger import Ledger  # noqa: PLC0415 - most runs have no need of one

        return Ledger(self.policy, self.baseline, today=self.today, whole=self.whole)

    def follow(self, outcomes: Iterable[Outcome]) -> Iterator[Outcome]:
        """Yield outcomes as they are to be reported, and at the end what is to be said of policy and baseline."""
        if self.policy is None and self.baseline is None:
            yield from outcomes
            return
        count = 0
        for outcome in self.ledger.follow(self._watched(outcomes)):
            count += 1
            yield outcome
        left_out = self.sieve.left_out
        if left_out and not count and not self.sieve.only_jobs and self.policy is not None:
            message = "leaves out every job file that was found, so that nothing was checked"
            at = self.policy.position("leave_out")
            problem = Problem(message, ("leave_out",), position=at, file=self.policy.file, kind=ProblemKind.FILE)
            yield Outcome(self.policy.file, problems=(problem,))
        elif left_out and self.policy is not None:
            files = "1 file is" if left_out == 1 else f"{left_out} files are"
            note(f"{files} left out by {self.policy.file}")

    def _watched(self, outcomes: Iterable[Outcome]) -> Iterator[Outcome]:
        """Yield outcomes; of a folder that cannot be searched it is not known what is in it."""
        for outcome in outcomes:
            if outcome.report is None and os.path.isdir(outcome.file):  # noqa: PTH112 - false for any name
                self.ledger.whole = False
            yield outcome


def in_force(*, with_baseline: bool = True) -> InForce:
    """Return what is in force for the command that runs, or show it and leave where that is asked for.

    Args:
        with_baseline: Whether a baseline that is named is read and applied.

    Raises:
        UnusableError: A rule or family does not exist.
        UsageError: Nothing says what to check.
    """
    policy = project_policy()
    said = _Said(policy)
    if kept("explain_policy"):
        _explain(policy, said)
    if not all(said.words("paths")):
        raise UnusableError("a path is empty; expected a file, a folder or a pattern (the working folder is `.`)")
    paths = said.paths
    if not paths:
        raise click.UsageError("nothing to check: name files or folders, or give the policy `paths`")
    baseline = _baseline(said) if with_baseline else None
    named = frozenset(str(FilePath(path)) for path in said.words("paths"))
    return InForce(
        policy=policy,
        baseline=baseline,
        rules=selected(said.words("only"), said.words("skip"), policy),
        paths=paths,
        fail_at=said.fail_at,
        fail_unchecked=said.flag("fail_unchecked"),
        outside=said.flag("catalogs_outside"),
        workers=said.workers,
        today=said.today,
        sieve=Sieve(policy, named, bool(kept("only_jobs")), said.baseline),
        whole=_is_whole(paths, policy, baseline, from_policy=not said.words("paths")),
        own_baseline=said.baseline,
    )


class _Said:
    """What the command line says, and what the policy says where it does not."""

    def __init__(self, policy: Policy | None) -> None:
        self._context = click.get_current_context()
        self._policy = policy
        self.params: Mapping[str, str] = self._context.params

    def given(self, name: str) -> bool:
        """Say whether an option or argument is on the command line."""
        source = self._context.get_parameter_source(name)
        return source in (ParameterSource.COMMANDLINE, ParameterSource.ENVIRONMENT)

    def words(self, name: str) -> tuple[str, ...]:
        return tuple(self._context.params.get(name) or ())

    def flag(self, name: str) -> bool:
        if self.given(name) or self._policy is None:
            return bool(self._context.params.get(name))
        return bool(getattr(self._policy.table, name))

    @property
    def fail_at(self) -> Threshold:
        if self._policy is not None and not self.given("fail_at"):
            return self._policy.table.fail_at
        return Threshold(self.params.get("fail_at", Threshold.ERROR.value))

    @property
    def workers(self) -> int | None:
        given: object = self._context.params.get("workers")
        if isinstance(given, int):
            return given
        return self._policy.table.workers if self._policy is not None else None

    @property
    def paths(self) -> tuple[str, ...]:
        """What is checked, as seen from the working folder."""
        if self._policy is None or self.words("paths"):
            return self.words("paths")
        return tuple(from_here(self._policy.folder / path) for path in self._policy.table.paths)

    @property
    def baseline(self) -> str | None:
        given = kept("baseline")
        if isinstance(given, str):
            return given
        own = self._policy.table.baseline if self._policy is not None else None
        return from_here(self._policy.folder / own) if self._policy is not None and own is not None else None

    @property
    def today(self) -> date:
        day = kept("on")
        return day if isinstance(day, date) else today_here()

    def instead(self) -> dict[str, Document]:
        """Return what the command line says instead of the policy, by key."""
        found: dict[str, Document] = {}
        for key in ("fail_at", "fail_unchecked", "catalogs_outside", "workers", "paths"):
            if self.given(key) and self._context.params.get(key):
                value = self._context.params[key]
                found[key] = list(value) if isinstance(value, tuple) else value
            elif self.given(key) and key == "fail_unchecked":
                found[key] = False
        given = kept("baseline")
        if isinstance(given, str):
            found["baseline"] = given
        return found


def _baseline(said: _Said) -> "Baseline | None":
    if said.baseline is None:
        return None
    from ventrules.policy import read_baseline  # noqa: PLC0415 - most runs have none

    try:
        return read_baseline(said.baseline)
    except JobFileError as error:
        give_up(error)


def give_up(error: JobFileError) -> NoReturn:
    """Tell all that is wrong with a file, and leave."""
    for problem in error.problems:
        complain(str(problem))
    sys.exit(UNUSABLE)


def _is_whole(paths: Sequence[str], policy: Policy | None, baseline: "Baseline | None", *, from_policy: bool) -> bool:
    """Say whether paths cover the whole project: what the policy names, else all below the policy or the baseline."""
    if policy is not None and policy.table.paths:
        if from_policy:
            return True
        roots = [policy.folder / path for path in policy.table.paths]
    elif policy is not None:
        roots = [policy.folder]
    else:
        roots = [baseline.folder] if baseline is not None else []
    tops = [absolute(path) for path in paths if is_plain(path)]
    return bool(roots) and all(any(below(top, root) is not None for top in tops) for root in roots)


def _explain(policy: Policy | None, said: _Said) -> NoReturn:
    from ventrules.outputs.settings import settings_json, settings_text  # noqa: PLC0415 - wanted only here
    from ventrules.policy.explain import From, Setting, settings  # noqa: PLC0415

    def own(key: str, value: Document, *, given: bool, otherwise: str) -> Setting:
        source = From.COMMAND_LINE if given else From.DEFAULT
        return Setting(key, value, source, note="" if given or value is not None else otherwise)

    if said.words("outputs") or said.params.get("form") not in ("text", "json"):
        raise UnusableError("--explain-policy checks nothing; expected --format text or json, and no --output")
    selected(said.words("only"), said.words("skip"), policy)
    none, named, day = bool(kept("no_policy")), kept("policy_file"), kept("on")
    file: Document = policy.file if policy is not None else None
    rows = [own("policy", file, given=none or named is not None, otherwise="none found")]
    if none:
        rows = [Setting("policy", None, From.COMMAND_LINE, note="none")]
    for key in ("only", "skip"):
        words: Document = list(said.words(key)) or None
        rows.append(own(key, words, given=words is not None, otherwise="every rule" if key == "only" else "none"))
    rows.append(own("on", said.today.isoformat(), given=day is not None, otherwise=""))
    every = (*rows, *settings(policy, said.instead()))
    if said.params.get("form") == "json":
        click.echo(settings_json(policy.file if policy is not None else "", every), nl=False)
    else:
        click.echo(settings_text(every), nl=False)
    sys.exit(0)
