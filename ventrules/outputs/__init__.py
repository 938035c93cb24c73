"""One writer per format. They decide nothing. Those of a plan and of a drawing are imported where they are wanted."""

from ventrules.outputs.code_page import code_page
from ventrules.outputs.codes_list import codes_json, codes_table
from ventrules.outputs.explain import explain_text
from ventrules.outputs.json_report import json_report, json_rules
from ventrules.outputs.paper import Paper, PlainPaper, TerminalPaper
from ventrules.outputs.repair_json import Shown, repair_json
from ventrules.outputs.repair_text import repair_text
from ventrules.outputs.target_json import target_json
from ventrules.outputs.target_text import every_text, target_text
from ventrules.outputs.text import TextWriter, printable

__all__ = [
    "Paper",
    "PlainPaper",
    "Shown",
    "TerminalPaper",
    "TextWriter",
    "code_page",
    "codes_json",
    "codes_table",
    "every_text",
    "explain_text",
    "json_report",
    "json_rules",
    "printable",
    "repair_json",
    "repair_text",
    "target_json",
    "target_text",
]
