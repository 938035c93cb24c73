"""A rule's page: what it means, a bad and a good example, what it does not see. Kept as text beside the rules."""

import re
from importlib.resources import files
from typing import Final

from attrs import frozen

_HEADING: Final = re.compile(r"^## (.+?)\s*$", re.MULTILINE)
_BLOCK: Final = re.compile(r"^```yaml\n(.*?)^```\s*$", re.MULTILINE | re.DOTALL)


class PageError(ValueError):
    """A rule has no page, or one without its parts."""


@frozen
class Page:
    """The page of one rule.

    Attributes:
        meaning: What it means and why it matters.
        bad: A fragment of a job at fault.
        good: The same put right.
        unseen: What the rule does not see.
    """

    meaning: str
    bad: str
    good: str
    unseen: str


def load_page(package: str, rule: str) -> Page:
    """Return the page of a rule.

    Args:
        package: The package that holds `<family>/<rule>.md`.
        rule: The rule's id.

    Raises:
        PageError: No such page, or one without its parts.
    """
    family, _slash, name = rule.partition("/")
    try:
        text = files(package).joinpath(family).joinpath(f"{name}.md").read_text(encoding="utf-8")
    except (OSError, ModuleNotFoundError, TypeError, ValueError) as error:
        raise PageError(f"rule {rule} has no page") from error
    return parse_page(text, rule)


def parse_page(text: str, rule: str) -> Page:
    """Return the page in a text.

    Raises:
        PageError: A part is missing.
    """
    pieces = _HEADING.split(text)
    sections = dict(zip(pieces[1::2], (piece.strip() for piece in pieces[2::2]), strict=True))
    examples = {name: _BLOCK.search(sections.get(name, "")) for name in ("At fault", "Put right")}
    bad, good = examples["At fault"], examples["Put right"]
    meaning, unseen = pieces[0].strip(), sections.get("Not seen", "")
    if bad is None or good is None or not meaning or not unseen:
        raise PageError(f"page of rule {rule}: expected a meaning, and sections At fault, Put right and Not seen")
    return Page(meaning, bad.group(1), good.group(1), unseen)
