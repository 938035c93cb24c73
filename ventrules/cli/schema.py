"""`ventrules schema`: JSON Schemas of the files that are read and of the documents that are written."""

from pathlib import Path as FilePath

import click

from ventrules.cli.standard import UnusableError, spare_jobs
from ventrules.files import write_text
from ventrules.outputs.schemas import FORMATS, UnknownSchemaError, schema_text


@click.command("schema")
@click.argument("kind", metavar="[KIND]", required=False)
@click.option("--out", type=click.Path(path_type=FilePath), metavar="FILE", help="Write it into this file.")
@click.option(
    "--all", "folder", type=click.Path(path_type=FilePath), metavar="FOLDER", help="Write every schema as KIND.json."
)
def schema_command(kind: str | None, out: FilePath | None, folder: FilePath | None) -> None:
    """Print the JSON Schema of a kind of document, for editors and programs; without KIND, list the kinds.

    Exit status: 0, or 2 when there is no such kind or the file cannot be written.
    """
    if folder is not None:
        if kind is not None or out is not None:
            raise UnusableError("--all writes every schema; leave the kind and --out away")
        for each in FORMATS:
            _write(folder / f"{each.kind}.json", schema_text(each.kind))
    elif kind is None:
        if out is not None:
            raise UnusableError("which kind? `ventrules schema` lists them")
        width = max(len(each.kind) for each in FORMATS)
        for each in FORMATS:
            click.echo(f"{each.kind:<{width}}  {each.title}")
    else:
        _one(kind, out)


def _one(kind: str, out: FilePath | None) -> None:
    try:
        text = schema_text(kind)
    except UnknownSchemaError as error:
        raise UnusableError(str(error)) from error
    if out is None:
        click.echo(text, nl=False)
    else:
        _write(out, text)


def _write(path: FilePath, text: str) -> None:
    spare_jobs(path)
    try:
        write_text(path, text)
    except OSError as error:
        raise UnusableError(f"{path}: cannot be written: {error.strerror or error}") from error
