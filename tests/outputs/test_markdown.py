"""The Markdown summary, by a renderer that is not ours: names stay text, and the size stays bounded."""

import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Final

import attrs
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from tests.outputs.telling import written
from ventrules import Outcome, check_one
from ventrules.outputs.markdown_summary import MOST_DETAILED, MOST_FILES, code, words

EXAMPLES: Final = Path(__file__).parents[2] / "examples"
RENDERER: Final = MarkdownIt("commonmark", {"html": True, "linkify": False}).enable(["table", "strikethrough"])


class Page(HTMLParser):
    """The elements of a page, its text, and the text that is not set as code."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[str] = []
        self.text = ""
        self.alive = ""
        self._code = 0
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert attrs == []
        self.tags.append(tag)
        self._code += tag == "code"

    def handle_endtag(self, tag: str) -> None:
        self._code -= tag == "code"

    def handle_data(self, data: str) -> None:
        self.text += data
        self.alive += "\0" if self._code else data


ONE_LINE: Final = st.text(st.characters(categories=["L", "N", "P", "S", "Zs"]), max_size=30)
HOSTILE: Final = (
    "[x](javascript:1) ![y](http://192.0.2.1/z.png)",
    "<script>alert(1)</script> <b> &lt; &amp;",
    "@somebody and org/repo#12 and #34 GH-5 https://example.org www.example.org :smile: $x$",
    "| a | b | `c` ``d`` \\| \\` \\\\",
    "*a* **b** _c_ __d__ ~~e~~ ==f== ^g^",
    "` `` ``` a` `b",
)


@given(ONE_LINE)
@example(HOSTILE[0])
@example(HOSTILE[1])
@example(HOSTILE[2])
@example(HOSTILE[3])
@example(HOSTILE[4])
@example(HOSTILE[5])
def test_text_is_shown_as_it_is(text: str) -> None:
    text = re.sub(r"\s+", " ", text).strip()
    plain = Page(RENDERER.render(f"x {words(text)} y"))
    assert set(plain.tags) <= {"p", "code"}
    assert plain.text.strip() == f"x {text} y".strip()
    assert not re.search(r"[@#$]|://|www\.", plain.alive)
    table = Page(RENDERER.render(f"| a | b |\n| --- | --- |\n| {words(text, in_table=True)} | end |\n"))
    assert table.tags.count("td") == 2
    assert [part for part in table.text.split("\n") if part.strip()] == ["a", "b", *([text] if text else []), "end"]


def test_what_a_message_quotes_from_a_file_is_set_as_code_as_a_whole() -> None:
    text = "starts with `ventrules: 1`; found `a` (or `b|c`)"
    page = Page(RENDERER.render(words(text)))
    assert page.text.strip() == text
    assert page.alive.replace("\0", "*").strip() == "starts with *; found * (or *)"


@given(ONE_LINE)
@example("`")
@example("``a`")
@example("a|b\\|c")
def test_code_is_shown_as_it_is(text: str) -> None:
    text = re.sub(r"\s+", " ", text).strip()
    page = Page(RENDERER.render(f"x {code(text)} y"))
    assert page.tags == ["p", "code"]
    assert page.text.strip() == f"x {text or ' '} y"
    table = Page(RENDERER.render(f"| a | b |\n| --- | --- |\n| {code(text, in_table=True)} | end |\n"))
    assert table.tags.count("td") == 2
    assert table.tags.count("code") == 1


@pytest.mark.parametrize("hostile", HOSTILE)
def test_a_summary_of_hostile_names_holds_no_link_and_no_picture(hostile: str) -> None:
    outcome = check_one(EXAMPLES / "faulty" / "too-little-air-in-winter.yaml")
    assert outcome.report is not None
    (finding,) = outcome.report.findings
    finding = attrs.evolve(finding, message=hostile, title=hostile, todo=hostile, working=hostile, position=None)
    outcome = attrs.evolve(outcome, file=hostile, report=attrs.evolve(outcome.report, findings=(finding,)))
    page = Page(RENDERER.render(written("markdown", [outcome])))
    known = {"h2", "h3", "p", "table", "thead", "tbody", "tr", "th", "td", "code", "ul", "li", "strong", "em", "br"}
    assert set(page.tags) <= known
    assert page.tags.count("li") == 1
    assert page.tags.count("td") == 7
    assert hostile in page.text


def test_what_is_beyond_the_first_findings_is_counted() -> None:
    one = check_one(EXAMPLES / "faulty" / "two-bridges.yaml")
    assert one.report is not None
    few = written("markdown", [one] * 3)
    many = written("markdown", [one] * 400)
    more = written("markdown", [one] * 4000)
    assert "not shown" not in few
    each = len(one.report.findings)
    assert f"{400 * each - MOST_DETAILED} more not shown: the first {MOST_DETAILED} findings are." in many
    assert f"{400 - MOST_FILES} more not shown: the first {MOST_FILES} files are." in many
    assert len(more) - len(many) < 20
    assert len(more) < 400_000


@pytest.mark.parametrize(("form", "file"), [("sound", "number-02.yaml")])
def test_a_clean_run_is_a_heading_and_a_line(form: str, file: str) -> None:
    text = written("markdown", [check_one(EXAMPLES / form / file)])
    assert text.splitlines()[2:] == ["1 file checked: 0 errors, 0 warnings and 0 pieces of advice."]


def test_a_run_that_was_stopped_says_so() -> None:
    assert "Stopped before the end." in written("markdown", [Outcome("x")], interrupted=True)
