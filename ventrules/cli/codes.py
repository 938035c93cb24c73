"""`ventrules codes`: the packaged ventilation codes, and code files of one's own."""

import json
import sys
from pathlib import Path as FilePath

import click

from ventrules.cli.options import FORMAT
from ventrules.cli.standard import FINDINGS, UNUSABLE, complain
from ventrules.codes import Code, failed_examples
from ventrules.files import CodeFileError, JobFileError, load_code, parse_code, read_text
from ventrules.files.code_files import CODE_SUFFIX
from ventrules.files.resources import code_names
from ventrules.outputs import TerminalPaper, printable
from ventrules.outputs.code_page import code_page
from ventrules.outputs.codes_list import codes_json, codes_table


@click.command("codes")
@click.argument("names", nargs=-1, metavar="[CODE...]")
@FORMAT
def codes_command(names: tuple[str, ...], form: str) -> None:
    """List the ventilation codes, or print some whole: packaged ones by name, your own by the path of a .toml file.

    A file of your own is checked: exit status 2 when it cannot be used, 1 when it does not reproduce its own
    examples.
    """
    found, refused = _gathered(names or code_names())
    for line in refused:
        complain(line)
    failed = {code.code: failed_examples(code) for code in found} if names else {}
    if form == "json":
        click.echo(json.dumps(codes_json(found, failed), indent=2) + "\n", nl=False)
    elif names:
        _show("\n".join(code_page(code) for code in found))
    else:
        click.echo(codes_table(found), nl=False)
    for name, lines in failed.items():
        for line in lines:
            complain(f"{name} does not reproduce its own {line}")
    if refused:
        sys.exit(UNUSABLE)
    sys.exit(FINDINGS if any(failed.values()) else 0)


def _show(page: str) -> None:
    """Write pages: laid out on a terminal, as Markdown elsewhere; a file may hold what a terminal would obey."""
    harmless = "".join(f"{printable(line)}\n" for line in page.splitlines())
    if sys.stdout.isatty():
        TerminalPaper().markdown(harmless)
    else:
        click.echo(harmless, nl=False)


def _gathered(names: tuple[str, ...]) -> tuple[list[Code], list[str]]:
    """Return the codes that could be read, and what is wrong with the others."""
    found: list[Code] = []
    refused: list[str] = []
    for name in names:
        try:
            found.append(_one(name))
        except (CodeFileError, JobFileError) as error:
            refused += str(error).splitlines()
    return found, refused


def _one(name: str) -> Code:
    if not name.endswith(CODE_SUFFIX):
        return load_code(name)
    return parse_code(read_text(FilePath(name)), name)
