"""Small pieces of Markdown."""

from collections.abc import Iterable, Sequence


def cell(text: str) -> str:
    """Return text that can stand in a table's cell."""
    return " ".join(text.split()).replace("|", "\\|")


def code(text: object) -> str:
    """Return text set as code."""
    return f"`{text}`"


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table.

    Args:
        head: The headings of its columns.
        rows: Its rows, each with one cell for each column.
    """
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join(f"| {' | '.join(cell(text) for text in line)} |" for line in lines) + "\n"


def block(language: str, text: str) -> str:
    """Return a fenced block."""
    return f"```{language}\n{text.rstrip()}\n```\n"
