"""The command line: arguments, exit codes, progress."""

from ventrules.cli.main import main

__all__ = ["main"]
