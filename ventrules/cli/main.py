"""`ventrules`: `check`, `rules`, `explain`; each of the other commands is in a module of its own."""

import errno
import io
import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import suppress
from enum import StrEnum
from pathlib import Path as FilePath

import click

from ventrules import __version__
from ventrules.checking import Outcome, Rules, check, check_many, installed_rules, packs
from ventrules.cli.codes import codes_command
from ventrules.cli.diagnose import diagnose_command
from ventrules.cli.draw import draw_command
from ventrules.cli.options import FORMAT, ONLY, OUTSIDE, SKIP
from ventrules.cli.plan import plan_command
from ventrules.cli.repair import repair_command
from ventrules.cli.standard import (
    FINDINGS,
    STDIN,
    STDIN_NAME,
    UNUSABLE,
    UnusableError,
    paper,
    selected,
    standard_input,
)
from ventrules.cli.targets import target_command
from ventrules.engine import ENGINE_FINDINGS, RegistryError, Severity
from ventrules.engine.pages import PageError, load_page
from ventrules.files import Found, JobFileError, Problem, find_jobs
from ventrules.files.resources import packaged
from ventrules.outputs import (
    TerminalPaper,
    TextWriter,
    explain_text,
    json_report,
    json_rules,
)


class Threshold(StrEnum):
    """The least severity that makes `check` exit with 1."""

    ERROR = "error"
    WARNING = "warning"
    ADVICE = "advice"
    NEVER = "never"


class _Commands(click.Group):
    """Commands that say so when what they write has no place to go, as on a full disk."""

    def invoke(self, ctx: click.Context) -> object:
        """Run a command.

        Raises:
            UnusableError: The output cannot be written.
        """
        try:
            try:
                result: object = super().invoke(ctx)
            finally:
                sys.stdout.flush()
        except OSError as error:
            if error.filename is not None or error.errno == errno.EPIPE:  # a file; a closed pipe is no fault of ours
                raise
            with suppress(OSError, ValueError):  # what is still held back has no place to go either
                os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            raise UnusableError(f"the output cannot be written: {error.strerror or error}") from error
        return result


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, message="ventrules %(version)s")
def main() -> None:
    """Check how ventilators are wired to, and set up on, communicating home HVAC systems.

    Exit status: 0 nothing at or above the threshold, 1 findings, 2 input or usage unusable.
    """
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # what a narrow encoding lacks is escaped, never a traceback
            stream.reconfigure(errors="backslashreplace")


@main.command("check")
@click.argument("paths", nargs=-1, required=True, metavar="PATH...")
@FORMAT
@ONLY
@SKIP
@click.option(
    "--fail-at",
    type=click.Choice([threshold.value for threshold in Threshold], case_sensitive=False),
    default=Threshold.ERROR.value,
    show_default=True,
    help="Least severity that makes the exit status 1.",
)
@click.option("--fail-unchecked", is_flag=True, help="A check that could not be made makes the exit status 1, too.")
@OUTSIDE
def check_command(  # noqa: PLR0913 - click passes one argument for each option
    paths: tuple[str, ...],
    form: str,
    only: tuple[str, ...],
    skip: tuple[str, ...],
    fail_at: str,
    *,
    fail_unchecked: bool,
    catalogs_outside: bool,
) -> None:
    """Check jobs: files, folders searched below, or - for standard input."""
    registry = selected(only, skip)
    if paths.count(STDIN) > 1:
        raise UnusableError("standard input (-) can be read once only")
    found = find_jobs(FilePath(path) for path in paths if path != STDIN)
    results = _outcomes(paths, found, registry, only, skip, outside=catalogs_outside)
    left_out = [str(path) for path in found.left_out]
    outcomes = _shown(results, left_out) if form == "text" else list(results)
    if form == "json":
        click.echo(json_report(outcomes, left_out), nl=False)
    sys.exit(exit_status(outcomes, Threshold(fail_at), fail_unchecked=fail_unchecked))


def _outcomes(
    paths: Sequence[str],
    found: Found,
    registry: Rules,
    only: Sequence[str],
    skip: Sequence[str],
    *,
    outside: bool,
) -> Iterator[Outcome]:
    if STDIN in paths:
        yield _standard_input(registry, outside=outside)
    for folder in found.unlisted:
        yield Outcome(str(folder), problems=(Problem("the folder cannot be listed", file=str(folder)),))
    for folder in found.empty:
        message = "no job files in this folder; expected .yaml, .yml or .json files with the key `ventrules`"
        yield Outcome(str(folder), problems=(Problem(message, file=str(folder)),))
    yield from check_many(found.files, outside=outside, only=only, skip=skip)


def _standard_input(registry: Rules, *, outside: bool) -> Outcome:
    try:
        job = standard_input(outside=outside)
    except JobFileError as error:
        return Outcome(STDIN_NAME, problems=error.problems)
    return Outcome(STDIN_NAME, check(job, registry=registry))


def _shown(results: Iterator[Outcome], left_out: Sequence[str]) -> list[Outcome]:
    writer = TextWriter(paper())
    outcomes = []
    for outcome in results:
        writer.write(outcome)
        outcomes.append(outcome)
    writer.close(left_out)
    return outcomes


def exit_status(outcomes: Sequence[Outcome], fail_at: Threshold, *, fail_unchecked: bool) -> int:
    """Return 2 when a file could not be used, 1 when something is at or above the threshold, else 0."""
    reports = [outcome.report for outcome in outcomes if outcome.report is not None]
    if len(reports) < len(outcomes):
        return UNUSABLE
    failing = [] if fail_at is Threshold.NEVER else [s for s in Severity if s.rank <= Severity(fail_at.value).rank]
    if any(report.of(severity) for report in reports for severity in failing):
        return FINDINGS
    return FINDINGS if fail_unchecked and any(report.unchecked for report in reports) else 0


@main.command("rules")
@FORMAT
@ONLY
@SKIP
def rules_command(form: str, only: tuple[str, ...], skip: tuple[str, ...]) -> None:
    """List the rules."""
    registry = selected(only, skip)
    if form == "json":
        click.echo(json_rules(registry), nl=False)
        return
    width = max((len(rule.id) for rule in registry), default=0)
    for rule in registry:
        click.echo(f"{rule.id:<{width}}  {rule.severity.value:<7}  {rule.title}")
    count = "1 rule" if len(registry) == 1 else f"{len(registry)} rules"
    click.echo(f"{count}. `ventrules explain RULE` says more about one.")


@main.command("explain")
@click.argument("rule", metavar="RULE", required=False)
@click.option("--sound-job", is_flag=True, help="Print the sound job that the examples differ from.")
def explain_command(rule: str | None, *, sound_job: bool) -> None:
    """Explain one rule: meaning, basis, an example at fault and put right, what it does not see."""
    if sound_job:
        click.echo(packaged("rules/pages", "base.yaml").read_text(encoding="utf-8"), nl=False)
        return
    if rule is None:
        raise UnusableError("which rule? `ventrules rules` lists them")
    text = ENGINE_FINDINGS.get(rule) or _explained(rule)
    if sys.stdout.isatty():
        TerminalPaper().markdown(text)
    else:
        click.echo(text, nl=False)


def _explained(rule: str) -> str:
    registry = installed_rules()
    try:
        found = registry.rule(rule)
        pack = next(pack for pack in packs() if pack.name == registry.packs[found.id])
        return explain_text(found, load_page(pack.pages, found.id), pack.name)
    except (RegistryError, PageError) as error:
        raise UnusableError(f"{error}; `ventrules rules` lists them") from error


main.add_command(codes_command)
main.add_command(diagnose_command)
main.add_command(draw_command)
main.add_command(plan_command)
main.add_command(repair_command)
main.add_command(target_command)
