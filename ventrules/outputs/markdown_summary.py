"""A Markdown summary for the page of a CI run; documented in docs/outputs.md.

It stays of bounded size however many jobs there are: what is beyond the first findings is counted. Names and messages
are text to whatever renders it: no markup, no links, no mention of anybody, no reference to a number.
"""

import re
from collections import Counter
from collections.abc import Sequence
from typing import Final, TextIO

from ventrules.bulk import Outcome
from ventrules.outputs.formats import Closing
from ventrules.outputs.text import closing_line, printable
from ventrules.outputs.told import Standing, Told, told
from ventrules.words import clipped

MOST_DETAILED: Final = 200
MOST_FILES: Final = 200
MOST_LET_STAND: Final = 50
_LONGEST: Final = 1000
_VERDICTS: Final = {0: "passed", 1: "failed", 2: "not everything could be used"}
_COLUMNS: Final = ("error", "warning", "advice", "not checked", "let stand", "cannot be used")
_LET_STAND: Final = ("place", "rule", "written", "reason")
# What a renderer may turn into a link, a mention, a picture or a formula, even where it is escaped.
_ALIVE: Final = re.compile(r"[@#$`]|://|(?i:www\.)|(?i:gh-\d)|:[\w+-]+:|\b[0-9a-f]{7,40}\b")
_MARKUP: Final = re.compile(r"[\\*_\[\]<>&~|^=!]")
_TICKS: Final = re.compile(r"`+")
_SET_AS_CODE: Final = re.compile(r"(?<![^ ])(`[^`]+`)(?=[ .,;:)]|\Z)")  # as messages quote what is written in files


class MarkdownWriter:
    """Holds the first findings, and writes all when the last outcome has been told."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self._files: list[str] = []
        self._more_files = 0
        self._details: list[str] = []
        self._more = 0
        self._stand: list[str] = []
        self._more_stand = 0

    def write(self, outcome: Outcome) -> None:
        """Take what came of one job."""
        counts: Counter[str] = Counter()
        for one in told(outcome):
            counts[one.label] += 1
            if one.standing is Standing.ACCEPTED:
                self._let_stand(one)
            else:
                self._detail(one)
        if not counts:
            return
        if len(self._files) == MOST_FILES:
            self._more_files += 1
            return
        line = f":{outcome.line}" if outcome.line is not None else ""
        numbers = [str(counts[name] or "") for name in _COLUMNS]
        self._files.append(_row([code(_clipped(f"{printable(outcome.file)}{line}"), in_table=True), *numbers]))

    def close(self, closing: Closing) -> None:
        """Write the summary."""
        verdict = f": {_VERDICTS[closing.status]}" if closing.status in _VERDICTS else ""
        parts = [f"## ventrules{verdict}\n", f"{words(closing_line(closing))}\n"]
        if self._files:
            parts.append("### Files\n\n" + "".join([_head(("file", *_COLUMNS)), *self._files]))
        if self._more_files:
            parts.append(f"{self._more_files} more not shown: the first {MOST_FILES} files are.\n")
        if self._details:
            parts.append("### Findings\n\n" + "".join(self._details))
        if self._more:
            parts.append(f"{self._more} more not shown: the first {MOST_DETAILED} findings are.\n")
        if self._stand:
            parts.append(
                "### Let stand\n\n" + "".join([_head(["place", "rule", "where it is written", "reason"]), *self._stand])
            )
        if self._more_stand:
            parts.append(f"{self._more_stand} more not shown: the first {MOST_LET_STAND} let stand are.\n")
        self._stream.write("\n".join(parts))

    def _detail(self, one: Told) -> None:
        if len(self._details) == MOST_DETAILED:
            self._more += 1
            return
        head = f"- **{one.label}** {code(one.rule)} at {code(_at(one))}: {words(_clipped(one.title))}."
        lines = [head, f"*Found:* {words(_clipped(one.message))}"]
        lines += [f"*{label}:* {words(_clipped(text))}" for label, text in one.detail]
        self._details.append("\\\n  ".join(lines) + "\n")

    def _let_stand(self, one: Told) -> None:
        if len(self._stand) == MOST_LET_STAND:
            self._more_stand += 1
            return
        cells = [code(_at(one), in_table=True), code(one.rule, in_table=True), one.by_whom]
        self._stand.append(_row([*cells, words(_clipped(one.reason), in_table=True)]))


def _at(one: Told) -> str:
    if one.position is not None:
        return _clipped(f"{printable(one.file)}:{one.position.line}")
    return _clipped(printable(one.file) + (f":{one.record}" if one.record is not None else ""))


def _clipped(text: str) -> str:
    return clipped(text, _LONGEST)


def _head(names: Sequence[str]) -> str:
    return _row(names) + _row(["---"] * len(names))


def _row(cells: Sequence[str]) -> str:
    return f"| {' | '.join(cells)} |\n"


def words(text: str, *, in_table: bool = False) -> str:
    """Return text that a renderer of Markdown shows as it is; words that could come alive are set as code.

    Args:
        text: The text, in one line.
        in_table: Whether it stands in a table.
    """
    return "".join(
        code(part, in_table=in_table) if number % 2 else _words(part, in_table=in_table)
        for number, part in enumerate(_SET_AS_CODE.split(text))
    )


def _words(text: str, *, in_table: bool) -> str:
    return " ".join(
        code(word, in_table=in_table) if _ALIVE.search(word) else _MARKUP.sub(r"\\\g<0>", word)
        for word in text.split(" ")
    )


def code(text: str, *, in_table: bool = False) -> str:
    """Return text set as code, whatever it holds.

    Args:
        text: The text, in one line.
        in_table: Whether it stands in a table.
    """
    shown = (text.replace("|", "\\|") if in_table else text) or " "
    fence = "`" * (max((len(run) for run in _TICKS.findall(shown)), default=0) + 1)
    # A space at both ends is taken away again, unless there is nothing but spaces.
    pad = " " if "`" in (shown[0], shown[-1]) or (shown[0] == shown[-1] == " " and shown.strip()) else ""
    return f"{fence}{pad}{shown}{pad}{fence}"
