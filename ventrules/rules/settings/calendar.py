"""Rules about modes and the calendar."""

from ventrules.engine import CannotTell, Evidence, Place, Rule, Severity, evidence
from ventrules.rules import selectors
from ventrules.sources import practice
from ventrules.survey import DwellingView, ModeView, clock

_CALENDAR = Place.at("calendar")


def _never_used(mode: ModeView) -> Evidence | None:
    week = mode.survey.week
    if week is None or mode.name in week.modes:
        return None
    return evidence(mode=mode.name, used=tuple(sorted(week.modes)) or ("none",))


def _calendar_gap(dwelling: DwellingView) -> Evidence | CannotTell | None:
    week = dwelling.survey.week
    if week is None:
        return CannotTell(
            "the job has no calendar, so nothing says which mode is on when.",
            "Add `calendar` with the times at which the modes change.",
            _CALENDAR,
        )
    if not week.gaps:
        return None
    spans = tuple(f"{clock(gap.start)} to {clock(gap.end)}" for gap in week.gaps)
    return evidence(at=_CALENDAR, gaps=spans, count=len(spans))


NEVER_USED = Rule(
    id="settings/mode-never-used",
    title="A mode never comes up in the calendar",
    severity=Severity.WARNING,
    each=selectors.modes,
    check=_never_used,
    message="Mode {mode} never comes up in the calendar, which uses {used}.",
    todo="Put it into the calendar, or take it out of the job.",
    basis=practice("a mode that nobody calls up is a slip of the pen or a forgotten line in the calendar"),
)
CALENDAR_GAP = Rule(
    id="settings/calendar-gap",
    title="The calendar leaves part of the week without a mode",
    severity=Severity.ERROR,
    each=selectors.dwelling,
    check=_calendar_gap,
    message="No mode is on from {gaps}.",
    todo="Add the missing days to the calendar.",
    basis=practice("a controller without a mode does what it did last"),
)

RULES = (
    NEVER_USED,
    CALENDAR_GAP,
)
