"""`ventrules target`: what is asked of one dwelling, by its own code or by every one."""

import sys

import click

from ventrules.cli.options import FORMAT, OUTSIDE
from ventrules.cli.policy_options import project_options
from ventrules.cli.standard import UNUSABLE, complain, one_job, paper
from ventrules.job import Job
from ventrules.outputs.target_json import target_json
from ventrules.outputs.target_text import every_text, target_text
from ventrules.targets import Asked, every_requirement, target_sheet


@click.command("target")
@click.argument("path", metavar="PATH")
@click.option("--every-code", is_flag=True, help="Show what each packaged code would ask of the dwelling.")
@FORMAT
@OUTSIDE
@project_options
def target_command(path: str, form: str, *, every_code: bool, catalogs_outside: bool) -> None:
    """Show what is asked of a job's dwelling, how that comes about, and what its week comes to.

    PATH is a job's file, or - for standard input. Exit status: 0, or 2 when the file cannot be used or the job does
    not tell what its code needs.
    """
    name, job = one_job(path, "target", form, outside=catalogs_outside)
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
    complain(said)
    return UNUSABLE
