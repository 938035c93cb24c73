"""What a rule says: places, evidence, remedies and findings."""

from collections.abc import Mapping
from enum import StrEnum
from functools import cached_property
from typing import TypeAlias

from attrs import Factory, frozen

from ventrules.sources import Basis
from ventrules.units import Quantity

Path: TypeAlias = tuple[str | int, ...]
Value: TypeAlias = str | int | float | Quantity | tuple[str, ...]
Document: TypeAlias = "str | int | float | bool | list[Document] | dict[str, Document] | None"


class Severity(StrEnum):
    """How bad a finding is: will not work or misses the code; probably wrong; could be better."""

    ERROR = "error"
    WARNING = "warning"
    ADVICE = "advice"

    @property
    def rank(self) -> int:
        """0 for the worst."""
        return _RANKS[self]


_RANKS = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.ADVICE: 2}


def pointer(path: Path) -> str:
    """Return a path as a JSON Pointer (RFC 6901)."""
    return "".join("/" + str(step).replace("~", "~0").replace("/", "~1") for step in path)


@frozen
class Place:
    """A place in the document.

    Attributes:
        path: Keys and list indexes from the top.
        name: The same place by meaning: list items by what they are, never by their index.
    """

    path: Path
    name: str

    @classmethod
    def at(cls, *path: str | int) -> "Place":
        """Return the place of a path that holds no list index."""
        return cls(path, " / ".join(str(step) for step in path))


@frozen
class Position:
    """A position in a text file; line and column count from 1."""

    file: str
    line: int
    column: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


@frozen
class Evidence:
    """The named quantities that a finding rests on.

    Attributes:
        values: Name to value; the message, the working and every output are made from them.
        at: Where it is, when not at the subject's own place.
        related: Other places that take part.
        basis: What the verdict rests on, when it depends on the subject (a code's own clause).
    """

    values: Mapping[str, Value]
    at: Place | None = None
    related: tuple[Place, ...] = ()
    basis: Basis | None = None


def evidence(
    at: Place | None = None,
    related: tuple[Place, ...] = (),
    basis: Basis | None = None,
    **values: Value,
) -> Evidence:
    """Return evidence from named values."""
    return Evidence(values, at, related, basis)


@frozen
class CannotTell:
    """A check that cannot be made.

    Attributes:
        missing: What is missing to make it.
        todo: What to do about it.
        at: Where, when not at the subject's own place.
        basis: What the check would rest on, when that is known only here.
    """

    missing: str
    todo: str = "Add what is missing to the job and check again."
    at: Place | None = None
    basis: Basis | None = None


@frozen
class RuleFault:
    """A rule that raised on one subject: what it raised, and while doing what."""

    error: Exception
    doing: str


class EditKind(StrEnum):
    """The three JSON Patch operations that remedies use (RFC 6902)."""

    ADD = "add"
    REMOVE = "remove"
    REPLACE = "replace"


@frozen
class Edit:
    """One change to the job document (a JSON Patch operation, RFC 6902)."""

    op: EditKind
    path: Path
    value: Document = None

    def as_patch(self) -> dict[str, Document]:
        """Return the RFC 6902 object."""
        patch: dict[str, Document] = {"op": self.op.value, "path": pointer(self.path)}
        if self.op is not EditKind.REMOVE:
            patch["value"] = self.value
        return patch


@frozen
class Remedy:
    """A change that makes a finding go away.

    Attributes:
        title: What it does, as an instruction.
        edits: The change to the document, in order.
        check_on_site: What must be looked at before or after.
        changes_purchase: True when something has to be bought for it; then it is offered only.
        assumes: What it takes for granted, that the job does not say.
    """

    title: str
    edits: tuple[Edit, ...]
    check_on_site: str = ""
    changes_purchase: bool = False
    assumes: str = ""


@frozen(slots=True)
class Finding:
    """One thing a rule has to say about one place.

    Attributes:
        rule: The rule's id.
        title: The rule's title.
        severity: How bad it is.
        place: Where, in the document.
        message: What is wrong, with what was found.
        working: The arithmetic, or an empty string.
        todo: What to do next.
        basis: What it rests on.
        evidence: The named quantities.
        related: Other places that take part.
        cautions: Safety cautions for whoever acts on it.
        remedy: The edit that removes it, where a safe one exists.
        unchecked: True when the check could not be made; `message` says what is missing.
        position: Line and column, when the text is at hand.
    """

    rule: str
    title: str
    severity: Severity
    place: Place
    message: str
    todo: str
    basis: Basis
    working: str = ""
    evidence: Mapping[str, Value] = Factory(dict)
    related: tuple[Place, ...] = ()
    cautions: tuple[str, ...] = ()
    remedy: Remedy | None = None
    unchecked: bool = False
    position: Position | None = None

    @property
    def pointer(self) -> str:
        """The place as a JSON Pointer."""
        return pointer(self.place.path)

    @cached_property
    def fingerprint(self) -> str:
        """A name made from the rule and the place's meaning; the same after unrelated edits."""
        from hashlib import sha256  # noqa: PLC0415 - loads a cryptography library, and a clean job has no finding

        text = f"{self.rule}\n{self.place.name}\n{'unchecked' if self.unchecked else ''}"
        return sha256(text.encode()).hexdigest()[:16]

    @property
    def sort_key(self) -> tuple[int, int, str, str]:
        """Order of findings: checks made first, worst first, then by place and rule."""
        return (int(self.unchecked), self.severity.rank, self.place.name, self.rule)
