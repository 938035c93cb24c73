"""What a job accepts: a finding that someone has looked at and lets stand, with the reason."""

from datetime import date

from attrs import frozen


@frozen
class Acceptance:
    """One rule's finding that is let stand, written beside the thing that it is about.

    Attributes:
        rule: The id of the rule.
        reason: Why it is let stand.
        until: The last day on which it is; None for no end.
        place: The name of the finding's place, as reports give it; by default every place at or below the thing.
    """

    rule: str
    reason: str
    until: date | None = None
    place: str | None = None
