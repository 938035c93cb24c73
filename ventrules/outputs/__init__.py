"""One writer per format. They decide nothing.

A run uses one or two of them and has to start fast, so each is imported when it is wanted. The names here are those
that several commands share; what serves one command is imported from its own module.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ventrules.outputs.explain import explain_text
    from ventrules.outputs.formats import FORMATS, IN_TEXT, Closing, Failing, ReportWriter, report_writer
    from ventrules.outputs.json_report import JsonWriter, json_rules
    from ventrules.outputs.paper import Paper, PlainPaper, TerminalPaper
    from ventrules.outputs.text import TextWriter, printable

_HOMES = {
    "explain": ("explain_text",),
    "formats": ("FORMATS", "IN_TEXT", "Closing", "Failing", "ReportWriter", "report_writer"),
    "json_report": ("JsonWriter", "json_rules"),
    "paper": ("Paper", "PlainPaper", "TerminalPaper"),
    "text": ("TextWriter", "printable"),
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}

__all__ = [
    "FORMATS",
    "IN_TEXT",
    "Closing",
    "Failing",
    "JsonWriter",
    "Paper",
    "PlainPaper",
    "ReportWriter",
    "TerminalPaper",
    "TextWriter",
    "explain_text",
    "json_rules",
    "printable",
    "report_writer",
]


if not TYPE_CHECKING:  # a type checker sees the names above, and no others

    def __getattr__(name: str) -> object:
        """Import a name when it is first used."""
        home = _HOME_OF.get(name)
        if home is None:
            raise AttributeError(f"module 'ventrules.outputs' has no attribute {name!r}")
        value: object = getattr(import_module(f"ventrules.outputs.{home}"), name)
        globals()[name] = value
        return value
