"""`ventrules repair`: apply the remedies to a job's file, or show what they would change in it."""

import difflib
import sys
from typing import Final

import attrs
import click

from ventrules.cli.options import FORMAT, ONLY, OUTSIDE, SKIP
from ventrules.cli.policy_options import ON, day_given, project_options
from ventrules.cli.standard import UNUSABLE, complain, one_job, paper, project_policy, saved, selected
from ventrules.engine import Finding
from ventrules.files import job_document, marks_of
from ventrules.job import Job
from ventrules.outputs.repair_json import Shown, repair_json
from ventrules.outputs.repair_text import repair_text
from ventrules.repairing import Change, Repaired, repair

_LEFT: Final = 1


@click.command("repair")
@click.argument("path", metavar="PATH")
@click.option("--write", is_flag=True, help="Write the changes into the file.")
@click.option("--purchases", is_flag=True, help="Apply remedies for which something has to be bought, too.")
@FORMAT
@ONLY
@SKIP
@OUTSIDE
@ON
@project_options
def repair_command(  # noqa: PLR0913 - click passes one argument for each option
    path: str,
    form: str,
    only: tuple[str, ...],
    skip: tuple[str, ...],
    *,
    write: bool,
    purchases: bool,
    catalogs_outside: bool,
) -> None:
    """Repair a job: show what its remedies change in its file and, with --write, change it.

    PATH is a job's file, or - for standard input, which cannot be written. Comments, order and line breaks of the
    file stay as they are. Exit status, of the job with its changes, written or not: 0 no error is left, 1 errors are
    left, 2 input or usage unusable, or the file could not be changed.
    """
    policy, rules = project_policy(), selected(only, skip)
    name, job = one_job(path, "repair", form, outside=catalogs_outside, write=write)
    repaired = repair(job, registry=rules, purchases=purchases, policy=policy, today=day_given())
    sys.exit(_repaired(name, job, repaired, form, write=write))


def _repaired(name: str, job: Job, repaired: Repaired, form: str, *, write: bool) -> int:
    """Write the file where that is asked for, show the repair, and return the exit status."""
    old = job.origin.text if job.origin is not None else ""
    new, problem, written = old, "", False
    try:
        new = _edited(old, name, repaired)
    except ValueError as error:
        problem = str(error)
    if write and new != old:
        problem = saved(name, old, new)
        written = not problem
    placed, left = _placed(repaired, new if written else None, name)
    shown = Shown(name, placed, left, _diff(old, new, name), written=written, problem=problem)
    if form == "json":
        click.echo(repair_json(shown), nl=False)
    else:
        repair_text(paper(), shown)
    if problem:
        complain(problem)
        return UNUSABLE
    return 0 if repaired.report.ok else _LEFT


def _edited(text: str, name: str, repaired: Repaired) -> str:
    """Return the text with the changes made in it.

    Raises:
        ValueError: They cannot be made in it.
    """
    if not repaired.changes:
        return text
    from ventrules.files.round_trip import edited_text  # noqa: PLC0415 - ruamel.yaml is wanted only here

    edits = [edit for change in repaired.changes for edit in change.remedy.edits]
    return edited_text(text, name, edits, job_document(repaired.job))


def _diff(old: str, new: str, name: str) -> str:
    """Return a unified diff; a last line without a line break is marked as `diff` marks it."""
    path = name.replace("\\", "/").lstrip("/")
    lines = difflib.unified_diff(_lines(old), _lines(new), f"a/{path}", f"b/{path}")
    return "".join(line if line.endswith("\n") else f"{line}\n\\ No newline at end of file\n" for line in lines)


def _lines(text: str) -> list[str]:
    """Return the lines of a text as `diff` counts them, with their ends."""
    return [f"{line}\n" for line in text.split("\n")[:-1]] + ([last] if (last := text.rsplit("\n", 1)[-1]) else [])


def _placed(repaired: Repaired, written: str | None, name: str) -> tuple[Repaired, tuple[Finding, ...]]:
    """Return a repair, and the findings that are left, with their lines.

    What was changed stands where it was in the old text. What is left does so too, unless a new text was written.
    """
    if not repaired.changes:
        return repaired, repaired.left
    lines = {finding.fingerprint: finding.position for finding in repaired.before.findings}

    def then(finding: Finding) -> Finding:
        return attrs.evolve(finding, position=lines.get(finding.fingerprint))

    def now(finding: Finding) -> Finding:
        return attrs.evolve(finding, position=marks.position(name, finding.place.path)) if marks else then(finding)

    marks = marks_of(written, name) if written is not None else None
    changes = tuple(Change(then(change.finding), change.remedy) for change in repaired.changes)
    offered = tuple(Change(now(change.finding), change.remedy) for change in repaired.offered)
    return attrs.evolve(repaired, changes=changes, offered=offered), tuple(map(now, repaired.left))
