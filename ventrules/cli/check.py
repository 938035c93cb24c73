"""`ventrules check`: judge jobs, tell what was found in as many formats as wanted, and say it by the exit status."""

import sys
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, closing
from functools import partial
from typing import Final

import click

from ventrules.bulk import Outcome, Tally, check_many
from ventrules.checking import Rules
from ventrules.cli.inputs import Inputs
from ventrules.cli.options import ONLY, OUTSIDE, SKIP
from ventrules.cli.outputs_opened import opened
from ventrules.cli.policy import in_force
from ventrules.cli.policy_options import FAIL_AT, FAIL_UNCHECKED, WORKERS, policy_options
from ventrules.cli.progress import Meter, metered
from ventrules.cli.standard import FINDINGS, STDIN, UNUSABLE, UnusableError, complain, paper
from ventrules.cli.stopping import Stop, Stopped
from ventrules.cli.workers import outcomes, usable_cores
from ventrules.engine import Severity
from ventrules.outputs import FORMATS, IN_TEXT, Closing, Failing, ReportWriter, TextWriter, report_writer
from ventrules.policy import Threshold

_FORMATS: Final = "; ".join(f"{name}: {says}" for name, says in FORMATS.items())
_FORMAT: Final = click.option(
    "--format",
    "form",
    type=click.Choice(list(FORMATS)),
    default="text",
    show_default=True,
    help=f"What to write on standard output. {_FORMATS}.",
)
_OUTPUT: Final = click.option(
    "--output",
    "outputs",
    multiple=True,
    metavar="FORMAT=FILE",
    help="Write a format to a file as well, which takes its name when all is checked; repeatable.",
)


@click.command("check")
@click.argument("paths", nargs=-1, metavar="[PATH...]")
@_FORMAT
@_OUTPUT
@ONLY
@SKIP
@FAIL_AT
@FAIL_UNCHECKED
@OUTSIDE
@policy_options
@click.option("--lines", is_flag=True, help="Standard input and files named have a job a line, as .jsonl files have.")
@WORKERS
@click.option(
    "--progress/--no-progress",
    default=True,
    help="Show how far a long run is, where standard error is a terminal and standard output is none.",
)
def check_command(
    form: str,
    outputs: tuple[str, ...],
    only: tuple[str, ...],
    skip: tuple[str, ...],
    *,
    lines: bool,
    progress: bool,
    **_read_by_in_force: object,
) -> None:
    """Check jobs: files, folders searched below, patterns such as 'jobs/**/*.yaml', or - for standard input.

    Without PATH, what the project's policy names is checked.

    Files named .jsonl or .ndjson have a job a line. A run that is interrupted ends with what it has found so far; its
    exit status is then 130, or 143 when another process ended it.
    """
    run = in_force()
    rules, paths = run.rules, run.paths
    if paths.count(STDIN) > 1:
        raise UnusableError("standard input (-) can be read once only")
    inputs = Inputs(paths, lines=lines, sieve=run.sieve)
    failing = what_fails(run.fail_at, unchecked=run.fail_unchecked)
    in_text = any(name.partition("=")[0] in IN_TEXT for name in (form, *outputs))
    judge = partial(
        check_many, outside=run.outside, only=only, skip=skip, policy=run.policy, today=run.today, in_text=in_text
    )
    with Stop() as stop:
        with ExitStack() as stack:
            files = opened(stack, outputs, paths, lambda form, to: report_writer(form, to, rules, failing))
            writers = [*files, _standard_output(form, rules, failing)]
            meter = stack.enter_context(metered(paths, lines=lines, wanted=progress))
            results = stack.enter_context(closing(outcomes(inputs, run.workers or usable_cores(), judge)))
            tally = _written(run.follow(results), writers, inputs, meter, stop, failing)
        if stop.status is not None:
            total = inputs.told if inputs.ended else meter.total
            complain(f"stopped after {tally.files} {'jobs' if total is None else f'of {total} jobs'}")
            sys.exit(stop.status)
    sys.exit(exit_status(tally, failing))


def _standard_output(form: str, rules: Rules, failing: Failing) -> ReportWriter:
    return TextWriter(paper()) if form == "text" else report_writer(form, sys.stdout, rules, failing)


def _written(
    results: Iterator[Outcome],
    writers: Sequence[ReportWriter],
    inputs: Inputs,
    meter: Meter,
    stop: Stop,
    failing: Failing,
) -> Tally:
    """Write the outcomes, as many as there are until the run is asked to end."""
    tally = Tally()
    try:
        for outcome in results:
            with stop.held():
                tally.add(outcome)
                for writer in writers:
                    writer.write(outcome)
            meter.tell(tally.files + inputs.count_left_out)
            if stop.signal is not None:
                break
        stop.hold()
    except Stopped:
        pass
    interrupted = stop.signal is not None
    status = exit_status(tally, failing) if stop.status is None else stop.status
    closed = Closing(tally, tuple(inputs.left_out), interrupted, status, inputs.more_left_out)
    for writer in writers:
        writer.close(closed)
    return tally


def what_fails(fail_at: Threshold, *, unchecked: bool) -> Failing:
    """Return what makes the exit status 1.

    Args:
        fail_at: The least severity that does.
        unchecked: Whether a check that could not be made does.
    """
    if fail_at is Threshold.NEVER:
        return Failing(frozenset(), unchecked)
    least = Severity(fail_at.value).rank
    return Failing(frozenset(severity for severity in Severity if severity.rank <= least), unchecked)


def exit_status(tally: Tally, failing: Failing) -> int:
    """Return 2 when a file could not be used, 1 when something was found that fails, else 0."""
    if tally.unusable:
        return UNUSABLE
    if any(tally.counts[severity] for severity in failing.severities):
        return FINDINGS
    return FINDINGS if failing.unchecked and tally.unchecked else 0
