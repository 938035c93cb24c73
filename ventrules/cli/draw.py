"""`ventrules draw`: the bus graph as a picture, or the wiring as a table, with findings at their place."""

import io
import os
from collections.abc import Mapping
from pathlib import Path as FilePath
from typing import Final

import click

from ventrules.checking import check
from ventrules.cli.options import OUTSIDE
from ventrules.cli.policy_options import project_options
from ventrules.cli.standard import STDIN, UnusableError, one_job, paper, project_policy, spare_jobs
from ventrules.files import write_text
from ventrules.job import Job
from ventrules.outputs import Paper, PlainPaper, printable
from ventrules.survey import Survey
from ventrules.words import listed

_TABLE: Final = "table"
_OF_ENDING: Final[Mapping[str, str]] = {".svg": "svg", ".mmd": "mermaid", ".txt": _TABLE, ".csv": "csv"}
_FILE_WIDTH: Final = 100


@click.command("draw")
@click.argument("path", metavar="PATH")
@click.option(
    "--format",
    "form",
    type=click.Choice(["svg", "mermaid", _TABLE, "csv"]),
    help="Picture as SVG or Mermaid text, wiring table as text or CSV. By default the one that --out ends in "
    "(.svg, .mmd, .txt, .csv), else the table.",
)
@click.option("--out", metavar="FILE", help="Write into this file instead of to standard output.")
@OUTSIDE
@project_options
def draw_command(path: str, form: str | None, out: str | None, *, catalogs_outside: bool) -> None:
    """Draw a job: its devices, cables and buses, or a table of its conductors, with its findings marked.

    PATH is a job's file, or - for standard input. Exit status: 0, whatever the findings are, or 2 when the file
    cannot be used or the result cannot be written.
    """
    chosen = form or _form_of(out)
    _name, job = one_job(path, "draw", chosen, outside=catalogs_outside)
    if out is not None:
        _refuse_to_lose(path, FilePath(out), out)
    if out is None and chosen == _TABLE:
        _table(job, paper())
    elif out is None:
        click.echo(_drawn(job, chosen), nl=False)
    else:
        _write(FilePath(out), out, _drawn(job, chosen))
        click.echo(f"{printable(out)}: written.")


def _drawn(job: Job, form: str) -> str:
    """Return a picture or a table as text."""
    from ventrules.outputs.draw_marks import drawing  # noqa: PLC0415 - wanted only here, as are the others
    from ventrules.outputs.draw_mermaid import mermaid  # noqa: PLC0415
    from ventrules.outputs.draw_svg import svg  # noqa: PLC0415
    from ventrules.outputs.draw_table import wiring_csv  # noqa: PLC0415

    if form == _TABLE:
        stream = io.StringIO()
        _table(job, PlainPaper(stream, _FILE_WIDTH))
        return stream.getvalue()
    writer = {"svg": svg, "mermaid": mermaid, "csv": wiring_csv}[form]
    return writer(drawing(Survey(job), check(job, policy=project_policy()).findings))


def _table(job: Job, on: Paper) -> None:
    from ventrules.outputs.draw_marks import drawing  # noqa: PLC0415
    from ventrules.outputs.draw_table import wiring_text  # noqa: PLC0415

    wiring_text(on, drawing(Survey(job), check(job, policy=project_policy()).findings))


def _form_of(out: str | None) -> str:
    """Return the format that a file name asks for.

    Raises:
        UnusableError: It asks for none.
    """
    if out is None:
        return _TABLE
    ending = FilePath(out).suffix.lower()
    if ending not in _OF_ENDING:
        raise UnusableError(f"--out {out}: which format? End the name in {listed(_OF_ENDING, 'or')}, or say --format")
    return _OF_ENDING[ending]


def _refuse_to_lose(path: str, file: FilePath, out: str) -> None:
    """Refuse to write over what is no old picture or table.

    Raises:
        UnusableError: A folder, a device, the job itself, or a write-protected file stands there.
    """
    try:
        if file.is_dir():
            raise UnusableError(f"--out {out}: is a folder; expected a file")
        if not file.exists():
            return
        if not file.is_file():
            raise UnusableError(f"--out {out}: is no regular file; nothing was written")
        if path != STDIN and file.samefile(path):
            raise UnusableError(f"--out {out}: is the job itself; nothing was written")
        spare_jobs(file)
        if not os.access(file, os.W_OK):  # renaming asks the folder only
            raise UnusableError(f"--out {out}: is write-protected; nothing was written")
    except (OSError, ValueError) as error:
        raise _unwritable(out, error) from error


def _write(file: FilePath, out: str, text: str) -> None:
    """Write a file, beside the old one first.

    Raises:
        UnusableError: That is not possible; the old file is as it was.
    """
    try:
        write_text(file, text)
    except (OSError, RuntimeError) as error:  # links that lead in a circle are the latter
        raise _unwritable(out, error) from error


def _unwritable(out: str, error: Exception) -> UnusableError:
    reason = (error.strerror if isinstance(error, OSError) else None) or str(error)
    return UnusableError(f"--out {out}: cannot be written: {reason}")
