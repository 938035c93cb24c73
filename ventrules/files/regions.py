"""Regions of a text, and what of a finding stands in one.

Lines end with a line feed, with or without a carriage return before it; columns count code points.
"""

from attrs import evolve, frozen


@frozen
class Region:
    """A part of a text.

    Attributes:
        line: Its first line, from 1.
        column: The column of its first character, from 1.
        end_line: Its last line.
        end_column: The column after its last character.
    """

    line: int
    column: int
    end_line: int
    end_column: int

    def moved(self, lines: int) -> "Region":
        """Return the same region so many lines further down."""
        return evolve(self, line=self.line + lines, end_line=self.end_line + lines)


@frozen
class Replacement:
    """A region, and the text that takes its place."""

    region: Region
    text: str


@frozen
class InText:
    """What of one finding stands in the text.

    Attributes:
        region: The key, or the first word, of its place; None where nothing of it stands in the text.
        related: The same for each of its related places.
        fix: What its remedy changes, from the end of the text to its start, so that it is the same whether they are
            made one after the other or at once; empty without a remedy, or where it cannot be made in the text.
    """

    region: Region | None
    related: tuple[Region | None, ...] = ()
    fix: tuple[Replacement, ...] = ()

    def moved(self, lines: int) -> "InText":
        """Return the same so many lines further down."""
        related = tuple(region and region.moved(lines) for region in self.related)
        fix = tuple(evolve(each, region=each.region.moved(lines)) for each in self.fix)
        return InText(self.region and self.region.moved(lines), related, fix)
