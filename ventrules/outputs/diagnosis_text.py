"""A diagnosis as the text that people read: what explains what was seen, and where to look or measure next."""

import shlex
from collections.abc import Iterable, Sequence
from typing import Final

from ventrules.diagnosis import (
    ORDER_BASIS,
    Candidate,
    Diagnosis,
    FaultKind,
    Measurement,
    Method,
    Observation,
    Shows,
    SingleFault,
    Step,
)
from ventrules.outputs.diagnosis_json import seen_as
from ventrules.outputs.paper import Paper
from ventrules.outputs.sheet import Sheet
from ventrules.rules.cautions import WIRING
from ventrules.words import listed, some_of

_OBEYED: Final = frozenset('"$`\\!')
_TUG: Final = (
    "A conductor is most often open at a terminal: with the power locked out, tug at it before you take it off."
)
_LABEL_WIDTH: Final = 5
_MOST_ROWS: Final = 24
_MOST_PLACES: Final = 3


def diagnosis_text(paper: Paper, file: str, diagnosis: Diagnosis) -> None:
    """Write a diagnosis.

    Args:
        paper: What it is written on.
        file: The job's file.
        diagnosis: The diagnosis.
    """
    page = Sheet(paper, _LABEL_WIDTH)
    page.head(f"{file}: {diagnosis.job.title}")
    _list(page, "Seen", diagnosis.seen)
    if any(each.recorded for each in diagnosis.seen) and not diagnosis.nothing_to_explain:
        page.blank()
        page.lines("What is recorded may be of an earlier day: look again, or leave it aside with --seen-only.", 2)
    _list(page, "Recorded in the job, but left out: it does not go with what was seen", diagnosis.outdated)
    _list(page, "The wiring as it is recorded shows this without any fault", diagnosis.recorded)
    _list(page, "By the wiring as it is recorded, this could not be", diagnosis.misrecorded)
    clash = "this; look at it" if len(diagnosis.clash) == 1 else "these together; look at them"
    _list(page, f"No faults that are known here explain {clash} again", diagnosis.clash)
    if diagnosis.candidates:
        page.section("What explains it, what to suspect first at the top")
        _candidates(page, diagnosis.candidates)
        if any(fault.kind is FaultKind.OPEN for each in diagnosis.candidates for fault in each.faults):
            page.blank()
            page.lines(_TUG, 2)
        if diagnosis.step is not None:
            _step(page, diagnosis, diagnosis.step)
        _inseparable(page, diagnosis)
        page.section("Caution")
        page.lines(WIRING, 2)
    page.blank()
    for line in _closing(diagnosis):
        page.lines(line, style="bold")


def _list(page: Sheet, title: str, found: Sequence[Observation]) -> None:
    if found:
        page.section(title)
    for each in found:
        text = str(each)
        named = each.shows in {Shows.POWERED, Shows.REACHABLE}  # begins with a device's name, which stays as it is
        page.lines(f"{text}." if named else f"{text[:1].upper()}{text[1:]}.", 2)


def _candidates(page: Sheet, candidates: Sequence[Candidate]) -> None:
    if len(candidates[0].faults) > 1:
        for candidate in candidates[:_MOST_ROWS]:
            page.labeled("-", "; and ".join(map(str, candidate.faults)))
        _more(page, len(candidates) - _MOST_ROWS)
        return
    rows = _rows(candidate.faults[0] for candidate in candidates)
    page.table(("where", "what may be wrong"), rows[:_MOST_ROWS], 2)
    _more(page, len(rows) - _MOST_ROWS)


def _more(page: Sheet, number: int) -> None:
    if number > 0:
        page.lines(f"{number} more; --format json has them all.", 2)


def _rows(faults: Iterable[SingleFault]) -> list[tuple[str, str]]:
    """Return a row for each place and kind; open conductors of one cable share theirs."""
    found: dict[tuple[FaultKind, str], list[str]] = {}
    for fault in faults:
        found.setdefault((fault.kind, fault.place), []).append(" and ".join(fault.conductors))
    return [(place, kind.said.format(conductors=listed(each, "or"))) for (kind, place), each in found.items()]


def _step(page: Sheet, diagnosis: Diagnosis, step: Step) -> None:
    page.section("What to look at next" if step.measurement.method.effort == 0 else "What to measure next")
    for label, text in _how(step.measurement):
        page.labeled(label, text)
    page.blank()
    rows = []
    for outcome in step.outcomes:
        places = dict.fromkeys(f.place for n in outcome.leaves for f in diagnosis.candidates[n].faults)
        left = f"{len(outcome.leaves)} of {len(diagnosis.candidates)}: {some_of(list(places), _MOST_PLACES)}"
        rows.append((_found(step, outcome.words), left, f"--seen {_argument(seen_as(step, outcome))}"))
    head = {Method.INDICATOR: "if it shows", Method.VOLTAGE: "if there is"}.get(step.measurement.method, "if it is")
    page.table((head, "that leaves", "to go on, add"), rows, 2)


def _argument(text: str) -> str:
    """Return an argument for a shell; names in a catalog of somebody else must not run there."""
    return shlex.quote(text) if _OBEYED & set(text) else f'"{text}"'


def _found(step: Step, words: Sequence[str]) -> str:
    if step.measurement.method is Method.INDICATOR:
        name = f"{step.measurement.detail}:"
        return listed((_state(word.removeprefix(name)) for word in words), "or")
    return listed(words, "or").replace("-", " ")


def _state(state: str) -> str:
    return f"{state} {'flash' if state == '1' else 'flashes'}" if state.isdecimal() else state


def _how(measured: Measurement) -> list[tuple[str, str]]:
    """Return how something is looked at or measured, as labeled lines."""
    where = measured.where
    if measured.method is Method.INDICATOR:
        return [("Look", f"at the indicator {measured.detail} of {where}")]
    if measured.method is Method.POWERED:
        return [("Look", f"whether {where} shows any life")]
    if measured.method is Method.REACHABLE:
        return [("Look", f"whether the controller finds {where}")]
    first, second = measured.meter
    if measured.method is Method.VOLTAGE:
        return [
            ("Meter", f"volts, with the power on, between {first} and {second} at {where}"),
            ("Mind", "these low-voltage terminals only, with insulated probes; keep away from mains"),
        ]
    return [
        ("First", f"lock out the power, and take conductor {measured.detail} off at both ends of the cable {where}"),
        (
            "Meter",
            f"ohms, with a long test lead, from the conductor on {first} to the one on {second}; then to the others",
        ),
    ]


def _inseparable(page: Sheet, diagnosis: Diagnosis) -> None:
    groups = [group for group in diagnosis.groups if len(group) > 1]
    if not groups:
        return
    page.section("What no look and no meter tells apart; change one of them for a sound one")
    for group in groups[:_MOST_ROWS]:
        alike = [diagnosis.candidates[number].faults for number in group[:_MOST_ROWS]]
        page.labeled("-", "; or ".join(" with ".join(map(_short, faults)) for faults in alike))
    _more(page, len(groups) - _MOST_ROWS)


def _short(fault: SingleFault) -> str:
    return " ".join((fault.place, fault.kind.value.replace("-", " "), *fault.conductors))


def _closing(diagnosis: Diagnosis) -> list[str]:
    if diagnosis.nothing_to_explain:
        return ["Nothing to explain: all that was seen is as it should be."]
    if diagnosis.misrecorded:
        return ["The job is not recorded as it is installed: put the record right first."]
    cut = ["The search ended before everything was tried: there may be more."] if diagnosis.cut_off else []
    if diagnosis.candidates:
        number, size = len(diagnosis.candidates), len(diagnosis.candidates[0].faults)
        faults = "one fault" if size == 1 else f"{size} faults together"
        head = f"{number} {'candidate' if number == 1 else 'candidates'} of {faults}."
        return [f"{head} The order is that of {ORDER_BASIS.known.value}: connections, cables, devices.", *cut]
    if diagnosis.cut_off:
        return [f"No explanation was found with up to {diagnosis.most_faults} faults; there may be one with more."]
    if diagnosis.clash:
        return ["No faults that are known here explain all of it."]
    return ["The recorded wiring itself explains it; `ventrules check` says what is wrong with that."]
