"""`ventrules plan`: the programs that meet a job's target with the least airflow, as a sheet to key in."""

import json
import sys
from typing import TYPE_CHECKING, Final

import click

from ventrules.cli.options import OUTSIDE
from ventrules.cli.policy_options import project_options
from ventrules.cli.standard import UNUSABLE, complain, one_job, paper, project_policy, refuse, saved
from ventrules.codes import CodeKind
from ventrules.files import Problem, job_document
from ventrules.job import Job
from ventrules.survey import Survey
from ventrules.targets import Asked

if TYPE_CHECKING:
    from ventrules.planner.planned import Plan

_NO_PLAN: Final = 1


@click.command("plan")
@click.argument("path", metavar="PATH")
@click.option(
    "--least",
    type=click.Choice(["air", "energy", "changes"]),
    default="air",
    show_default=True,
    help="What is spent least of first: delivered airflow, fan energy or stage changes.",
)
@click.option("--hold", multiple=True, metavar="MODE", help="Leave this mode's programs as they are; repeatable.")
@click.option("--write", is_flag=True, help="Write the programs into the file.")
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json", "edits"]),
    default="text",
    show_default=True,
    help="Text for people, JSON for programs, or the edits alone as a JSON Patch (RFC 6902).",
)
@OUTSIDE
@project_options
def plan_command(
    path: str, least: str, hold: tuple[str, ...], form: str, *, write: bool, catalogs_outside: bool
) -> None:
    """Plan the programs that meet a job's target and cost least, for every ventilator, mode and season.

    PATH is a job's file, or - for standard input, which cannot be written. Comments, order and line breaks of the
    file stay as they are. Exit status: 0 there is a plan, or its code leaves nothing to plan; 1 no programs will do;
    2 input or usage unusable, or the file could not be changed.
    """
    name, job = one_job(path, "plan", form, outside=catalogs_outside, write=write)
    from ventrules.planning import plan  # noqa: PLC0415 - its arrays are slow to import

    try:
        found = plan(job, least=least, hold=hold, policy=project_policy())
    except ValueError as error:
        if set(hold) <= job.modes.keys():
            raise
        refuse("plan", form, name, [Problem(f"--hold: {error}", file=name)])
    sys.exit(_planned(name, job, found, form, write=write))


def _planned(name: str, job: Job, plan: "Plan", form: str, *, write: bool) -> int:
    """Write the file where that is asked for, show the plan, and return the exit status."""
    from ventrules.outputs.plan_json import plan_json  # noqa: PLC0415 - as slow to import as the planner
    from ventrules.outputs.plan_text import plan_text  # noqa: PLC0415

    asked = _asked(job, plan)
    problem = ""
    if write and plan.edits:
        problem = _write(name, job, plan)
    status, said = _status(plan, asked)
    if form == "json":
        click.echo(plan_json(name, job, plan, asked, written=bool(write and plan.edits and not problem)), nl=False)
    elif form == "edits" and status == 0:
        click.echo(json.dumps([edit.as_patch() for edit in plan.edits], indent=2))
    elif form == "text" and status != UNUSABLE:
        plan_text(paper(), name, job, plan, _closing(plan, asked, write=write, problem=problem))
    if status != 0 and not (form == "text" and status == _NO_PLAN):
        complain(f"{name}: {said}")
    if problem:
        complain(problem)
    return UNUSABLE if problem else status


def _asked(job: Job, plan: "Plan") -> Asked:
    """Return what is asked for: of the plan, since balance counts, else of the job as it is."""
    if plan.requirement is not None:
        return Asked(plan.code, plan.requirement)
    survey = Survey(job)
    return Asked(survey.code, None, survey.unknown) if survey.unknown else Asked(survey.code, survey.requirement)


def _status(plan: "Plan", asked: Asked) -> tuple[int, str]:
    """Return the exit status, and what is wrong where it is not 0."""
    if plan.found or _left_open(asked):
        return 0, ""
    if plan.shortage is not None:
        return _NO_PLAN, "no programs meet the target"
    said = plan.missing or "what would be asked for with the stages that can be used cannot be told"
    # with a requirement, programs were found, and the rules have something against them
    return (_NO_PLAN if plan.missing and plan.requirement is not None else UNUSABLE), said


def _left_open(asked: Asked) -> bool:
    return asked.requirement is not None and asked.requirement.kind is CodeKind.CAPACITY


def _write(name: str, job: Job, plan: "Plan") -> str:
    """Write the programs into the file; return why that was not possible, or nothing."""
    from ventrules.files.round_trip import edited_text  # noqa: PLC0415 - ruamel.yaml is wanted only here

    old = job.origin.text if job.origin is not None else ""
    try:
        new = edited_text(old, name, plan.edits, job_document(plan.job))
    except ValueError as error:
        return str(error)
    return saved(name, old, new)


def _closing(plan: "Plan", asked: Asked, *, write: bool, problem: str) -> str:
    """Return what came of the file, as a sentence."""
    if _left_open(asked) and not plan.found:
        return "`ventrules check` says whether the capacity is reached."
    if not plan.found or problem:
        return "Nothing was written." if write else ""
    if not plan.edits:
        return "There is nothing to write: the file says all of it already."
    return "Written into the file." if write else "Nothing was written; --write puts these programs into the file."
