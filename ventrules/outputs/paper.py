"""What text is written on: a stream without any styling, or a terminal with it.

rich is slow to import and is only wanted where a person looks at a terminal; both papers get lines that are
wrapped already, so that they say the same.
"""

from collections.abc import Sequence
from typing import Protocol, TextIO, TypeAlias

from attrs import frozen

Styled: TypeAlias = tuple[str, str]


class Paper(Protocol):
    """Takes lines of styled pieces."""

    @property
    def width(self) -> int:
        """Columns that a line may have."""

    def line(self, pieces: Sequence[Styled]) -> None:
        """Write one line of pieces, each a text and the name of its style."""


@frozen
class PlainPaper:
    """A stream that gets text and nothing else."""

    stream: TextIO
    width: int

    def line(self, pieces: Sequence[Styled]) -> None:
        """Write one line, without styles."""
        line = "".join(text for text, _style in pieces)
        if line.lstrip().startswith("::"):  # CI runners obey a line that begins so
            line = line.replace("::", "\\u003a:", 1)
        self.stream.write(f"{line}\n")


class TerminalPaper:
    """A terminal; colors are left out where NO_COLOR or the terminal's kind ask for it."""

    def __init__(self) -> None:
        from rich.console import Console  # noqa: PLC0415 - slow to import, and needed on a terminal only

        self._console = Console(highlight=False, markup=False, emoji=False)

    @property
    def width(self) -> int:
        """Columns of the terminal."""
        return self._console.width

    def line(self, pieces: Sequence[Styled]) -> None:
        """Write one line in its styles."""
        from rich.text import Text  # noqa: PLC0415

        self._console.print(Text.assemble(*pieces), soft_wrap=True)

    def markdown(self, text: str) -> None:
        """Write Markdown, laid out."""
        from rich.markdown import Markdown  # noqa: PLC0415

        self._console.print(Markdown(text))
