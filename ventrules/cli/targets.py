"""`ventrules target`: what is asked of one dwelling, by its own code or by every one."""

import sys
from typing import Final

import click

from ventrules.cli.options import FORMAT, OUTSIDE
from ventrules.cli.standard import STDIN, STDIN_NAME, paper, standard_input
from ventrules.files import JobFileError, read_job
from ventrules.job import Job
from ventrules.outputs import every_text, printable, target_json, target_text, unusable_json
from ventrules.targets import Asked, every_requirement, target_sheet

_UNUSABLE: Final = 2


@click.command("target")
@click.argument("path", metavar="PATH")
@click.option("--every-code", is_flag=True, help="Show what each packaged code would ask of the dwelling.")
@FORMAT
@OUTSIDE
def target_command(path: str, form: str, *, every_code: bool, catalogs_outside: bool) -> None:
    """Show what is asked of a job's dwelling, how that comes about, and what its week comes to.

    PATH is a job's file, or - for standard input. Exit status: 0, or 2 when the file cannot be used or the job does
    not tell what its code needs.
    """
    name = STDIN_NAME if path == STDIN else path
    try:
        job = standard_input(outside=catalogs_outside) if path == STDIN else read_job(path, outside=catalogs_outside)
    except JobFileError as error:
        if form == "json":
            click.echo(unusable_json(name, error.problems), nl=False)
        for problem in error.problems:
            click.echo(f"Error: {printable(str(problem))}", err=True)
        sys.exit(_UNUSABLE)
    sys.exit(_show(name, job, form, every_requirement(job) if every_code else None))


def _show(name: str, job: Job, form: str, every: tuple[Asked, ...] | None) -> int:
    sheet = target_sheet(job)
    told = sheet.asked.requirement is not None
    if form == "json":
        click.echo(target_json(name, sheet, every), nl=False)
    elif every is not None:
        every_text(paper(), name, sheet, every)
    elif told:
        target_text(paper(), name, sheet)
    if told or every is not None:
        return 0
    title = sheet.asked.code.title if sheet.asked.code is not None else "the job's own target"
    said = f"{name}: what {title} asks of this dwelling cannot be told: {sheet.asked.missing}"
    click.echo(f"Error: {printable(said)}", err=True)
    return _UNUSABLE
