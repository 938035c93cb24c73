"""Keeps book over many jobs: what the baseline lets stand, and what of policy and baseline is no longer needed."""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from pathlib import Path as FilePath
from typing import Final

import attrs

from ventrules.bulk import Outcome
from ventrules.engine import Accepted, AcceptedBy, Finding, Place, Position, Report, Severity
from ventrules.policy import Policy, ProjectAcceptance, today_here
from ventrules.policy.accepting import (
    ENGINE,
    EXPIRED,
    UNUSED,
    accepted_name,
    expired,
    failed_rules,
    fits,
    is_over,
    unused,
)
from ventrules.policy.baseline import Baseline, BaselineEntry, Key
from ventrules.policy.patterns import is_plain, relative
from ventrules.sources import practice

GONE: Final = "engine/baseline-entry-gone"


class Ledger:
    """Keeps book over the outcomes of many jobs, in the order in which they come.

    What is in the baseline is let stand. When all outcomes have come, the policy's acceptances that are past their
    last day or let nothing stand are told, and so is how far the baseline can shrink. It keeps nothing of a job.

    An acceptance is called unused only when all that it covers has been looked at: its rule ran and did not fail, no
    file that it covers was unusable, and either the run was over the whole project or every file that it names, without
    `*`, `?` or `[`, was among those checked. A baseline's entry is called gone on the same terms: its file was checked,
    or is not there any more in a run over the whole project.

    `whole` says whether the run is over the whole project; it may be taken back as long as outcomes come.

    Args:
        policy: The project's policy; the jobs have been checked under it.
        baseline: What is let stand since it was there before.
        today: The day for which end dates are judged; by default the day that it is here.
        whole: Whether the run is over the whole project.
    """

    def __init__(
        self,
        policy: Policy | None = None,
        baseline: Baseline | None = None,
        *,
        today: date | None = None,
        whole: bool = False,
    ) -> None:
        self._policy = policy
        self._baseline = baseline
        self._today = today if today is not None else today_here()
        self.whole = whole
        self._acceptances = _Acceptances(policy)
        self._left = {key: entry.count for key, entry in baseline.entries.items()} if baseline is not None else {}
        self._files = frozenset(key.file for key in self._left)
        self._checked: set[str] = set()
        self._unusable: set[str] = set()
        self._failed: set[tuple[str, str]] = set()
        self._ran: frozenset[str] = frozenset()

    def follow(self, outcomes: Iterable[Outcome]) -> Iterator[Outcome]:
        """Yield each outcome as it is to be reported, and at the end those about the policy file and the baseline."""
        for outcome in outcomes:
            yield self._entered(outcome)
        yield from self._closing()

    def _entered(self, outcome: Outcome) -> Outcome:
        report = outcome.report
        if report is None:
            self._acceptances.enter_unusable(outcome.file)
            if self._baseline is not None:
                self._unusable |= {self._baseline.file(outcome.file)} & self._files
            return outcome
        self._ran = self._ran or frozenset(report.rules_run)
        self._acceptances.enter(outcome.file, report)
        if self._baseline is None:
            return outcome
        return attrs.evolve(outcome, report=self._without_known(self._baseline, outcome, report))

    def _without_known(self, baseline: Baseline, outcome: Outcome, report: Report) -> Report:
        """Return a report in which what is in the baseline is let stand."""
        file = baseline.file(outcome.file)
        if file not in self._files:
            return report
        self._checked.add(file)
        self._failed |= {(file, rule) for rule in failed_rules(report.findings)}
        counting: list[Finding] = []
        standing: list[Accepted] = []
        for finding in report.findings:
            key = _key(file, outcome, finding)
            if self._left.get(key, 0) and not finding.rule.startswith(ENGINE):
                self._left[key] -= 1
                standing.append(Accepted(finding, AcceptedBy.BASELINE, f"known already, in {baseline.name}"))
            else:
                counting.append(finding)
        for each in report.accepted:  # let stand elsewhere as well: the entry is not gone
            key = _key(file, outcome, each.finding)
            if self._left.get(key, 0):
                self._left[key] -= 1
        if not standing:
            return report
        accepted = sorted((*report.accepted, *standing), key=lambda one: one.finding.sort_key)
        return attrs.evolve(report, findings=tuple(counting), accepted=tuple(accepted))

    def _closing(self) -> Iterator[Outcome]:
        if self._policy is not None:
            said = self._acceptances.said(self._ran, self._today, whole=self.whole)
            if said:
                yield _about(self._policy.file, "the project's policy", said, (EXPIRED, UNUSED))
        if self._baseline is not None:
            gone = sum(self._is_gone(entry) for entry in self._baseline.entries.values())
            if gone:
                yield _about(self._baseline.name, "the project's baseline", (_gone(self._baseline, gone),), (GONE,))

    def _is_gone(self, entry: BaselineEntry) -> bool:
        looked_at = entry.file in self._checked or (self.whole and entry.file not in self._unusable)
        told = entry.file not in self._unusable and (entry.file, entry.rule) not in self._failed
        return bool(self._left[entry.key]) and looked_at and told and entry.rule in self._ran


class _Acceptances:
    """What is known of the acceptances of a policy so far."""

    def __init__(self, policy: Policy | None) -> None:
        self._policy = policy
        self._accepted: Sequence[ProjectAcceptance] = policy.table.accepted if policy is not None else ()
        count = len(self._accepted)
        self._used = [False] * count
        self._covers = [False] * count
        self._untold = [False] * count
        self._waited_for = [set(acceptance.files) for acceptance in self._accepted]

    def enter_unusable(self, file: str) -> None:
        """Take a file down that could not be used."""
        here = self._policy.relative(file) if self._policy is not None else None
        for number, acceptance in enumerate(self._accepted):
            self._untold[number] |= Policy.covers(acceptance, here)

    def enter(self, file: str, report: Report) -> None:
        """Take a report down."""
        if self._policy is None or not self._accepted:
            return
        failed = failed_rules(report.findings)
        here = self._policy.relative(file)
        for number, acceptance in enumerate(self._accepted):
            if not Policy.covers(acceptance, here):
                continue
            self._covers[number] = True
            self._untold[number] |= acceptance.rule in failed
            if not self._used[number]:
                self._used[number] = any(fits(acceptance, finding) for finding in _found(report))
            self._waited_for[number] -= {name for name in self._waited_for[number] if _names(name, here)}

    def said(self, ran: frozenset[str], today: date, *, whole: bool) -> tuple[Finding, ...]:
        """Return what is to be said of the acceptances themselves."""
        policy, seen, found = self._policy, Counter[str](), []
        for number, acceptance in enumerate(self._accepted):
            at = Place(("accepted", number), accepted_name(acceptance, "", seen))
            if policy is None or acceptance.rule not in ran or self._untold[number]:
                continue
            position = policy.position("accepted", number) or Position(policy.file, 1, 1)
            said = None
            if is_over(acceptance, today):
                if self._covers[number] or whole:
                    said = expired(acceptance, at, still=self._used[number])
            elif not self._used[number] and (whole or (acceptance.files and not self._waited_for[number])):
                said = unused(acceptance, at, ran)
            if said is not None:
                found.append(attrs.evolve(said, position=position))
        return tuple(sorted(found, key=lambda finding: finding.sort_key))


def _found(report: Report) -> Iterator[Finding]:
    """Yield all that was found, let stand or not."""
    yield from report.findings
    yield from (one.finding for one in report.accepted)


def _names(pattern: str, file: str | None) -> bool:
    """Say whether a pattern without anything wild is the name of a file."""
    return file is not None and is_plain(pattern) and pattern.removeprefix("./") == file


def _key(file: str, outcome: Outcome, finding: Finding) -> Key:
    job = outcome.report.job if outcome.report is not None and outcome.line is not None else ""
    return Key(file, job, finding.fingerprint)


def _about(file: str, title: str, findings: tuple[Finding, ...], looked_for: tuple[str, ...]) -> Outcome:
    return Outcome(file, Report(title, file, findings, looked_for))


def _gone(baseline: Baseline, count: int) -> Finding:
    entries = "1 entry" if count == 1 else f"{count} entries"
    return Finding(
        rule=GONE,
        title="The baseline can shrink",
        severity=Severity.ADVICE,
        place=Place(("entries",), "entries"),
        message=f"The baseline can shrink: what {entries} let stand is no longer found.",
        todo="Write the baseline again with `ventrules baseline`, so that it cannot come back unseen.",
        basis=practice("an entry that is not needed would hide the next fault of its kind"),
        evidence={"entries": count},
        position=Position(baseline.name, 1, 1),
    )


def baseline_entries(outcomes: Iterable[Outcome], folder: FilePath) -> tuple[BaselineEntry, ...]:
    """Return the entries of a baseline that lets stand all that is found in some outcomes.

    What the engine itself reports is not among them, since it cannot be let stand.

    Args:
        outcomes: What came of the jobs.
        folder: The folder of the baseline, absolute.
    """
    found: dict[Key, BaselineEntry] = {}
    for outcome in outcomes:
        if outcome.report is None:
            continue
        file = relative(outcome.file, folder)
        for finding in outcome.report.findings:
            if finding.rule.startswith(ENGINE):
                continue
            key = _key(file, outcome, finding)
            there = found.get(key)
            found[key] = (
                BaselineEntry(file, finding.fingerprint, finding.rule, finding.place.name, job=key.job)
                if there is None
                else attrs.evolve(there, count=there.count + 1)
            )
    return tuple(found.values())
