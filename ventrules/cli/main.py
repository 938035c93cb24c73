"""`ventrules`: the commands by name. Each is in a module of its own, which is imported when the command is wanted."""

import errno
import gc
import io
import os
import signal
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from importlib import import_module
from typing import Final

import click

from ventrules import __version__

# To add a command NAME: its function `NAME_command` in `ventrules/cli/MODULE.py`, and its line here with the first
# sentence of its help, which a test compares. Nothing else is imported here: whatever is slows every start.
COMMANDS: Final[Mapping[str, tuple[str, str]]] = {
    "baseline": (
        "baseline",
        "Write a baseline: what is found in jobs today, so that `ventrules check` fails for what is new only.",
    ),
    "check": (
        "check",
        "Check jobs: files, folders searched below, patterns such as 'jobs/**/*.yaml', or - for standard input.",
    ),
    "codes": (
        "codes",
        "List the ventilation codes, or print some whole: packaged ones by name, your own by the path of a .toml file.",
    ),
    "diagnose": (
        "diagnose",
        "Find the fewest faults that explain what works and what does not, and what to measure next.",
    ),
    "draw": (
        "draw",
        "Draw a job: its devices, cables and buses, or a table of its conductors, with its findings marked.",
    ),
    "explain": ("rules", "Explain one rule: meaning, basis, an example at fault and put right, what it does not see."),
    "plan": (
        "plan",
        "Plan the programs that meet a job's target and cost least, for every ventilator, mode and season.",
    ),
    "repair": ("repair", "Repair a job: show what its remedies change in its file and, with --write, change it."),
    "rules": ("rules", "List the rules."),
    "schema": (
        "schema",
        "Print the JSON Schema of a kind of document, for editors and programs; without KIND, list the kinds.",
    ),
    "target": (
        "targets",
        "Show what is asked of a job's dwelling, how that comes about, and what its week comes to.",
    ),
}
"""Module of each command, and what the command does."""
OF_SIGNAL: Final = 128
"""Exit status of a process that a signal ended, less the number of the signal: the shells' convention."""
CLOSED_PIPE: Final = OF_SIGNAL + 13
"""Exit status when the reader of standard output closed it: as if SIGPIPE, 13, had ended the process."""


class _Commands(click.Group):
    """Commands imported when wanted, that say so when what they write has no place to go, as on a full disk."""

    def __call__(self, *args: object, **kwargs: object) -> object:
        """Run as a process of its own: what is loaded stays until the end, so looking for garbage in it is idle."""
        gc.disable()
        _open_streams()
        try:
            return super().__call__(*args, **kwargs)
        finally:
            gc.freeze()

    def list_commands(self, _ctx: click.Context) -> list[str]:
        """Return the names of all commands."""
        return list(COMMANDS)

    def get_command(self, _ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return a command, or None when there is none of that name."""
        if cmd_name not in COMMANDS:
            return None
        command: object = getattr(import_module(f"ventrules.cli.{COMMANDS[cmd_name][0]}"), f"{cmd_name}_command")
        if not gc.isenabled():
            gc.freeze()
            gc.enable()
        return command if isinstance(command, click.Command) else None

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Return the command that the first argument names.

        Raises:
            UsageError: There is none of that name.
        """
        name = args[0]
        if name not in COMMANDS and not name.startswith("-") and not ctx.resilient_parsing:
            from ventrules.words import clipped, nearest  # noqa: PLC0415

            close = nearest(name, COMMANDS)
            ctx.fail(f"No such command {clipped(name)!r}." + (f" Nearest is {close!r}." if close else ""))
        return super().resolve_command(ctx, args)

    def format_commands(self, _ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write what each command does, without importing any."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, says) for name, (_module, says) in COMMANDS.items()])

    def invoke(self, ctx: click.Context) -> object:
        """Run a command.

        Raises:
            UnusableError: The output cannot be written.
        """
        with _ending_well():
            try:
                result: object = super().invoke(ctx)
            finally:
                sys.stdout.flush()
        return result

    def make_context(
        self, info_name: str | None, args: list[str], parent: click.Context | None = None, **extra: object
    ) -> click.Context:
        """Read the arguments, which writes the help and the version.

        Raises:
            UnusableError: The output cannot be written.
        """
        with _ending_well():
            return super().make_context(info_name, args, parent, **extra)


@contextmanager
def _ending_well() -> Iterator[None]:
    """End in words, with a status that says why, when a key stops the process or what it writes has no place to go.

    Raises:
        UnusableError: The output cannot be written, or there is no working folder any more.
    """
    try:
        yield
    except KeyboardInterrupt:  # `check` sees to it itself, and tells what it has found so far
        from ventrules.cli.standard import complain  # noqa: PLC0415

        complain("stopped before the end")
        sys.exit(OF_SIGNAL + signal.SIGINT)
    except OSError as error:
        if error.filename is not None:
            raise
        from ventrules.cli.standard import UnusableError  # noqa: PLC0415

        if isinstance(error, FileNotFoundError):
            raise UnusableError("the working folder is not there any more") from error
        with suppress(OSError, ValueError):  # what is still held back has no place to go either
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        if error.errno == errno.EPIPE:  # whoever reads has read enough; 1 would be taken for findings
            sys.exit(CLOSED_PIPE)
        raise UnusableError(f"the output cannot be written: {error.strerror or error}") from error


def _open_streams() -> None:
    """Give a process that was started without standard streams some that hold and take nothing."""
    if sys.stdin is None:
        sys.stdin = open(os.devnull, encoding="utf-8")  # noqa: PTH123, SIM115 - open until the end
    if sys.stdout is None:
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: PTH123, SIM115
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: PTH123, SIM115


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, message="ventrules %(version)s")
def main() -> None:
    """Check how ventilators are wired to, and set up on, communicating home HVAC systems.

    Exit status: 0 nothing at or above the threshold, 1 findings, 2 input or usage unusable.
    """
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # what a narrow encoding lacks is escaped, never a traceback
            stream.reconfigure(errors="backslashreplace")
