"""The pages of the documentation, for the tests that read them."""

import re
from itertools import zip_longest
from pathlib import Path
from typing import Final, NamedTuple

ROOT: Final = Path(__file__).parents[1]
DOCS: Final = ROOT / "docs"
README: Final = ROOT / "README.md"
PAGES: Final = sorted([*DOCS.glob("*.md"), *DOCS.glob("*/index.md")])
_FENCE: Final = re.compile(r"^```([^\n`]*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


class Fence(NamedTuple):
    """A fenced block, and where it stands."""

    page: Path
    line: int
    language: str
    text: str
    right_after: str  # a text block that follows with nothing between: what was printed

    def __str__(self) -> str:
        return f"{self.page.relative_to(ROOT).as_posix()}:{self.line}"


def blocks(page: Path, language: str) -> list[Fence]:
    text = page.read_text(encoding="utf-8")
    fences = list(_FENCE.finditer(text))
    found = []
    for fence, follower in zip_longest(fences, fences[1:]):
        joined = follower is not None and not text[fence.end() : follower.start()].strip()
        shown = follower[2] if follower is not None and joined and follower[1].strip() == "text" else ""
        line = text.count("\n", 0, fence.start()) + 1
        if fence[1].strip() == language:
            found.append(Fence(page, line, language, fence[2], shown))
    return found


def rows(markdown: str) -> list[list[str]]:
    return [
        [cell.strip() for cell in re.split(r"(?<!\\)\|", line)[1:-1]]
        for line in markdown.splitlines()
        if line.startswith("| ") and not line.startswith("| ---")
    ]
