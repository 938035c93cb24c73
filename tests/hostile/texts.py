"""Text that would do harm, and what no output of each kind may hold."""

import csv
import io
import json
import re
from collections.abc import Callable, Iterator, Mapping
from typing import Final
from xml.etree import ElementTree as ET

from markdown_it import MarkdownIt

HARMFUL: Final = (
    "\x1b[31mred\x1b[0m\x07",
    "\x9b31m\x85next",
    "nul\x00 back\x08 tab\x0b feed\x0c del\x7f",
    "\u202egnp.exe\u202c",
    "\u2066left\u2069 \u061c \u200f",
    "two\u2028lines\u2029more",
    "\ufeffmark\u200b\u2060joined",
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "]]> <!-- --> <?x?> <!DOCTYPE x [<!ENTITY y 'z'>]>",
    "&lt;script&gt; &amp; &#x3c;b&#62;",
    "a | b || c\\| d",
    "`code` ``` fence",
    "::error file=x,line=1::pwned",
    "one\n::error::pwned",
    "one\r\n::stop-commands::x\r::add-mask::y",
    "%0A::error::x%0D%25",
    '=cmd|"/C calc"!A0',
    "+1+1",
    "-1+1",
    "@SUM(A1:A9)",
    "\t=1+1",
    "\r=1+1",
    "[text](javascript:alert(1))",
    "![text](https://example.invalid/x.png)",
    "[text]: https://example.invalid",
    "<https://example.invalid> https://example.invalid www.example.invalid",
    "# heading\n- list\n> quote\n---\n1. one",
    "*em* **strong** __u__ ~~s~~ #1 @someone",
    "${IFS} $(reboot) `reboot` ; reboot",
    "{ventilator} {0.__class__} {} %s %n %(x)s",
    "$x^2$ $$y$$",
    "quote ' and \" and \\",
    "x" * 4000,
)
"""Escapes, markup of every kind, commands, formulas, links, marks of direction, line breaks, endless text."""

OBEYED: Final = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff\ufff9-\ufffb\U000e0000-\U000e007f]"
)
"""What terminals and layouts act on, line feeds and tabs aside."""

_COMMAND: Final = re.compile(r"::(?:error|warning|notice) (?:[a-z]+=[^,:\r\n]*,)*[a-z]+=[^,:\r\n]*::[^\r\n]+")
_XML_CHARS: Final = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")  # XML 1.0, section 2.2
_LINK: Final = re.compile(r"(?<!\\)\[[^\]\\]*(?:\\.[^\]\\]*)*\]\(")  # an embedded link: SARIF 2.1.0, section 3.11.6
_SUITE: Final = frozenset(
    "testsuites testsuite testcase failure error skipped properties property system-out system-err".split()  # noqa: SIM905
)


def no_text_is_obeyed(text: str) -> None:
    """Nothing that a terminal would act on."""
    found = OBEYED.search(text)
    assert not found, f"would be obeyed: {text[max(found.start() - 40, 0) : found.end() + 40]!r}"
    text.encode()


def json_is_json(text: str) -> None:
    """JSON without anything that is not printed."""
    no_text_is_obeyed(text)
    json.loads(text)


def sarif_has_no_links(text: str) -> None:
    """No message of a result has a link: its brackets are escaped."""
    json_is_json(text)
    (run,) = json.loads(text)["runs"]
    said = [*_texts(run.get("results", [])), *_texts(run.get("invocations", []))]
    assert said
    for message in said:
        assert not OBEYED.search(message), ascii(message)
        assert not _LINK.search(message), message


def _texts(value: object) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            if key in ("text", "markdown") and isinstance(inner, str):
                yield inner
            elif key != "insertedContent":  # what a fix puts into the file, as it is to stand there
                yield from _texts(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _texts(inner)


def junit_is_xml(text: str) -> None:
    """Sound XML of its own elements only, without a document type, an instruction or a comment."""
    no_text_is_obeyed(text)
    assert not _XML_CHARS.search(text)
    head, _end, body = text.partition("?>")
    assert head.startswith("<?xml")
    for opening in ("<!", "<?"):
        assert opening not in body
    root = ET.fromstring(text)  # noqa: S314 - our own
    assert {element.tag for element in root.iter()} <= _SUITE


def annotations_are_commands_of_ours(text: str) -> None:
    """Each line is one command of ours, and nothing else is a command."""
    no_text_is_obeyed(text)
    for line in text.split("\n")[:-1]:
        assert _COMMAND.fullmatch(line), line
    assert text.endswith("\n") or not text


def csv_has_no_formulas(text: str) -> None:
    """No cell is a formula to a spreadsheet, and every row is as long as the first."""
    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert len({len(row) for row in rows}) == 1
    for cell in (cell for row in rows for cell in row):
        no_text_is_obeyed(cell)
        assert not cell.startswith(("=", "+", "-", "@", "\t", "\r", "\n"))


_RENDERER: Final = MarkdownIt("commonmark", {"html": True}).enable(["table", "strikethrough"])
_RENDERER.validateLink = lambda url: True  # type: ignore[method-assign]  # noqa: ARG005  # other renderers take any link
_STYLES: Final = frozenset(f"{kind}_{end}" for kind in ("em", "strong", "s") for end in ("open", "close"))
_PLAIN: Final = frozenset({"text", "text_special", "code_inline", "softbreak", "hardbreak"})
_ALIVE: Final = re.compile(r"://|\bwww\.|(?:^|\s)[@#]\w")


def page_is_text(text: str) -> None:
    """Rendered, it has no markup of HTML, no link, no picture."""
    no_text_is_obeyed(text)
    for token in _RENDERER.parse(text):
        assert token.type != "html_block", token.content
        for inner in token.children or ():
            assert inner.type in _PLAIN | _STYLES, f"{inner.type}: {inner.content}"


def markdown_is_text(text: str) -> None:
    """It is so, and what a page of a CI run could turn into a link or a mention stands in code."""
    page_is_text(text)
    for token in _RENDERER.parse(text):
        for inner in token.children or ():
            assert inner.type != "text" or not _ALIVE.search(inner.content), inner.content


JUDGES: Final[Mapping[str, Callable[[str], None]]] = {
    "text": no_text_is_obeyed,
    "json": json_is_json,
    "sarif": sarif_has_no_links,
    "junit": junit_is_xml,
    "annotations": annotations_are_commands_of_ours,
    "markdown": markdown_is_text,
    "csv": csv_has_no_formulas,
}
"""What holds of a text in each format of a check; a new format needs an entry."""
