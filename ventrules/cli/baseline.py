"""`ventrules baseline`: write down what is found in legacy jobs, so that only what is new fails from then on."""

import sys
from collections.abc import Iterable, Iterator
from contextlib import closing
from functools import partial
from pathlib import Path as FilePath

import click

from ventrules.bulk import Outcome, check_many
from ventrules.cli.inputs import Inputs
from ventrules.cli.options import OUTSIDE
from ventrules.cli.policy import in_force
from ventrules.cli.policy_options import ON, WORKERS, project_options
from ventrules.cli.standard import UNUSABLE, UnusableError, complain, spare_jobs
from ventrules.cli.workers import outcomes, usable_cores
from ventrules.files import write_text
from ventrules.ledger import baseline_entries
from ventrules.outputs import printable
from ventrules.policy.baseline import baseline_text
from ventrules.policy.patterns import absolute


@click.command("baseline")
@click.argument("paths", nargs=-1, metavar="[PATH...]")
@click.option(
    "--out",
    metavar="FILE",
    help="Write it into this file, which is replaced.  [default: the baseline that the policy names]",
)
@OUTSIDE
@click.option("--lines", is_flag=True, help="Standard input and files named have a job a line, as .jsonl files have.")
@WORKERS
@ON
@project_options
def baseline_command(out: str | None, *, lines: bool, **_read_by_in_force: object) -> None:
    """Write a baseline: what is found in jobs today, so that `ventrules check` fails for what is new only.

    What the engine itself reports is not in it, and neither is what jobs and policy let stand. Exit status: 0, or 2
    when a job or the file cannot be used; nothing is written then.
    """
    run = in_force(with_baseline=False)
    target = out if out is not None else run.own_baseline
    if not target:
        raise UnusableError("write it where? Give --out FILE, or `baseline` in the policy")
    spare_jobs(FilePath(target))
    folder = absolute(target).parent
    judge = partial(check_many, outside=run.outside, policy=run.policy, today=run.today)
    inputs = Inputs(run.paths, lines=lines, sieve=run.sieve)
    unusable: list[Outcome] = []
    with closing(outcomes(inputs, run.workers or usable_cores(), judge)) as results:
        entries = baseline_entries(_usable(results, unusable), folder)
    for outcome in unusable:
        for problem in outcome.problems:
            complain(str(problem))
    if unusable:
        sys.exit(UNUSABLE)
    try:
        write_text(FilePath(target), baseline_text(entries))
    except OSError as error:
        raise UnusableError(f"{target}: cannot be written: {error.strerror or error}") from error
    count = sum(entry.count for entry in entries)
    click.echo(f"{printable(target)}: {count} {'finding' if count == 1 else 'findings'} from now on let stand.")


def _usable(results: Iterable[Outcome], unusable: list[Outcome]) -> Iterator[Outcome]:
    for outcome in results:
        if outcome.report is None:
            unusable.append(outcome)
        else:
            yield outcome
