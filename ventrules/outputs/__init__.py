"""One writer per format. They decide nothing."""

from ventrules.outputs.explain import explain_text
from ventrules.outputs.json_report import json_report, json_rules
from ventrules.outputs.paper import Paper, PlainPaper, TerminalPaper
from ventrules.outputs.text import TextWriter, printable

__all__ = [
    "Paper",
    "PlainPaper",
    "TerminalPaper",
    "TextWriter",
    "explain_text",
    "json_report",
    "json_rules",
    "printable",
]
