"""What a fault maker is: a name, the rule that has to find the fault, and the maker itself."""

from collections.abc import Callable
from copy import deepcopy

from attrs import frozen

from ventrules.codes import UnknownRequirementError
from ventrules.engine import Path
from ventrules.engine.findings import Document
from ventrules.testing.surgery import Cut, JobSurgery, NothingToPickError, Pick


@frozen
class Faulted:
    """A job with one fault in it.

    Attributes:
        document: The changed document.
        path: Where the finding has to be.
    """

    document: dict[str, Document]
    path: Path


@frozen
class Fault:
    """One maker.

    Attributes:
        name: What it does, in words.
        rule: The id of the rule that has to find it.
        company: Rules or families that may speak up as well, since the fault is theirs too.
        make: The maker itself.
        unchecked: True when the finding is that something cannot be told.
    """

    name: str
    rule: str
    make: Callable[[JobSurgery], Cut | None]
    company: frozenset[str] = frozenset()
    unchecked: bool = False

    def apply(self, document: dict[str, Document], pick: Pick) -> Faulted | None:
        """Return the job with the fault, or None where it does not apply; the given one is not changed."""
        surgery = JobSurgery(deepcopy(document), pick)
        try:
            path = self.make(surgery)
        except (NothingToPickError, UnknownRequirementError):  # most faults need to know what is asked
            return None
        return None if path is None else Faulted(surgery.document, path)

    def expects(self, rule: str) -> bool:
        """Say whether a finding of this rule is the expected one or allowed company."""
        return rule == self.rule or rule in self.company or rule.partition("/")[0] in self.company


def fault(rule: str, make: Callable[[JobSurgery], Cut | None], *company: str, unchecked: bool = False) -> Fault:
    """Return a maker of a fault, named after the function that makes it.

    Args:
        rule: The id of the rule that has to find it.
        make: The function.
        company: Rules or families that may speak up as well.
        unchecked: True when the finding is that something cannot be told.
    """
    return Fault(make.__name__.replace("_", " "), rule, make, frozenset(company), unchecked)
