"""What is asked of a dwelling and what its week comes to, for people."""

from collections.abc import Iterator, Sequence
from typing import Final

from ventrules.codes import CodeKind, Requirement, Step
from ventrules.files.schema_words import DAYS
from ventrules.job import Occupancy
from ventrules.outputs.paper import Paper
from ventrules.outputs.sheet import Sheet
from ventrules.outputs.wording import (
    COUNTS,
    KIND,
    KNOWN,
    SHORT_KIND,
    about,
    airflow,
    at,
    clause,
    hours,
    lasting,
    occupancies,
    percent,
    run_time_words,
    window_cell,
    window_words,
)
from ventrules.survey import Homecoming, Unventilated, Window
from ventrules.survey.under import AskedWeek
from ventrules.targets import Asked, SeasonSheet, TargetSheet
from ventrules.units import Share, at_least
from ventrules.words import listed

_MINUTE_S: Final = 60.0
_DAYS: Final = [day.capitalize() for day in DAYS]
_WHAT_EXPOSURE_IS: Final = (
    "Relative exposure says how stale the air is: 1 is what this airflow gives when it never stops, 2 is twice as "
    "stale. It is worked out for the settled week, with infiltration where the code counts it."
)


def target_text(paper: Paper, file: str, sheet: TargetSheet) -> None:
    """Write what a job's own target asks, and what its week comes to.

    Args:
        paper: What it is written on.
        file: The job's file.
        sheet: What is asked; it must be known.

    Raises:
        ValueError: It is not known what is asked.
    """
    asked = sheet.asked.requirement
    if asked is None:
        raise ValueError(f"it is not known what is asked: {sheet.asked.missing}")
    page = Sheet(paper)
    page.head(f"{file}: {sheet.job}")
    page.section("What is asked")
    for label, text in _about(sheet.asked, asked, sheet.unit):
        page.labeled(label, text)
    page.section("How it comes about")
    for step in asked.steps:
        page.labeled(_value(step, sheet.unit), f"{step.name.rstrip(' :')}. {_source(sheet.asked, step)}".rstrip())
    for remark in asked.remarks:
        page.labeled("Remark", f"{remark}.")
    _write_known(page, sheet.asked)
    _write_week(page, sheet, asked)


def _source(found: Asked, step: Step) -> str:
    return clause(step.basis, found.code.title) if found.code is not None else ""


def _about(found: Asked, asked: Requirement, unit: str) -> Iterator[tuple[str, str]]:
    """Yield what is asked, as labels and texts."""
    code = found.code
    if code is None:
        yield "Target", "the job's own"
    else:
        yield "Code", f"{code.title} ({code.code})"
        yield "Edition", code.edition
        yield "Where", code.jurisdiction
    yield "Required", airflow(asked.continuous_m3s, unit)
    yield "Asks for", f"{KIND[asked.kind]}"
    yield from _timing(found, asked, unit)
    counts = clause(code.basis(code.counts_basis), code.title) if code is not None else ""
    yield "Counts", f"{COUNTS[asked.counts]}. {counts}".rstrip()
    if asked.judged:
        held = clause(code.basis(code.judged_basis), code.title) if code is not None else ""
        yield "Held while", f"{occupancies(asked.judged)}. {held}".rstrip()
    if asked.infiltration_m3s > 0.0:
        counted = airflow(asked.infiltration_m3s, unit)
        yield "In all", f"{airflow(asked.total_m3s, unit)}; infiltration counts with {counted}, the fans give the rest"
    if code is not None and code.note:
        yield "Note", code.note


def _timing(found: Asked, asked: Requirement, unit: str) -> Iterator[tuple[str, str]]:
    """Yield when it has to flow: windows, factors, levels, the floor, limits of exposure."""
    title = found.code.title if found.code is not None else ""
    if asked.window_s > 0.0:
        label = "Segment" if asked.run_time is not None else "Window"
        basis = f" {clause(asked.window_basis, title)}" if found.code is not None else ""
        yield label, f"{window_words(asked.window_s, asked.placing)}.{basis}"
    if asked.run_time is not None:
        whole = airflow(asked.intermittent_m3s, unit)
        least = f"less than {percent(asked.least_share)} of the time is never enough"
        yield "Part time", f"{whole} times a factor: {run_time_words(asked)}; interpolated in between; {least}"
    if asked.least_run is not None:
        run = asked.least_run
        yield "Runs", f"at least {lasting(run.time.s)} in each {lasting(run.period.s)}. {clause(run.basis, title)}"
    if asked.kind is CodeKind.LEVELS:
        for occupancy in (one for one in Occupancy if one in asked.judged):
            level = asked.levels.get(occupancy)
            why = clause(level.basis, title) if level is not None else "No level of its own: the rate itself."
            yield occupancy.value.capitalize(), f"{airflow(asked.at(occupancy), unit)} at every moment. {why}"
    if asked.floor is not None:
        floor = airflow(asked.floor.airflow_m3s, unit)
        yield "Floor", f"{floor} at every moment, whatever the average. {clause(asked.floor.basis, title)}"
    if asked.exposure is not None:
        limits = asked.exposure
        mean = f"mean at most {limits.mean:g}, {clause(limits.mean_basis, title)}"
        yield "Or else", f"relative exposure: {mean}; peak at most {limits.peak:g}, {clause(limits.peak_basis, title)}"


def _value(step: Step, unit: str) -> str:
    if step.airflow_m3s is not None:
        return airflow(step.airflow_m3s, unit)
    return f"{step.number:.4g} {step.unit}".rstrip()


def _write_known(page: Sheet, found: Asked) -> None:
    remembered = found.requirement.from_memory if found.requirement is not None else ()
    if found.known is not None and found.code is not None:
        page.labeled("Known", f"at its weakest: {KNOWN[found.known]}")
    if remembered:
        page.labeled("Look up", f"these are from memory, nobody had the text at hand: {'; '.join(remembered)}")


def _write_week(page: Sheet, sheet: TargetSheet, asked: Requirement) -> None:
    if not sheet.seasons:
        page.section("The week")
        for missing in sheet.missing:
            page.labeled("Missing", f"{missing}.")
        return
    for season in sheet.seasons[:1] if sheet.alike else sheet.seasons:
        when = "the same in both seasons" if sheet.alike else f"{season.week.season.value} season"
        page.section(f"The week, {when}")
        for label, text in _season(season, asked, sheet):
            page.labeled(label, text)
    if any(season.week.exposure is not None for season in sheet.seasons):
        page.blank()
        page.lines(_WHAT_EXPOSURE_IS)


def _season(season: SeasonSheet, asked: Requirement, sheet: TargetSheet) -> Iterator[tuple[str, str]]:
    """Yield what a season's week comes to, as labels and texts."""
    week = season.week
    yield "Verdict", _verdict(week, asked)
    if week.window is not None:
        yield "Weakest", _weakest(week.window, asked, sheet.unit)
    if season.still is not None:
        yield "Still", _still(season.still)
    if week.exposure is not None:
        found = week.exposure
        people = f"{found.mean_present:.2f} while people are there, " if found.mean_present is not None else ""
        peak = f"{found.peak:.2f} at its highest, on {at(found.peak_s)}"
        yield "Exposure", f"{found.mean:.2f} on average over the week, {people}{peak}"
    for number, text in enumerate(_homecomings(season.homecomings, sheet.recovered)):
        yield "Coming home" if number == 0 else "", text
    for number, missing in enumerate(season.missing):
        yield "Missing" if number == 0 else "", f"{missing}."


def _verdict(week: AskedWeek, asked: Requirement) -> str:
    if week.met is None:
        return "cannot be told"
    if not week.met:
        return "not met"
    short = asked.exposure is not None and week.window is not None and not at_least(week.window.score, 1.0)
    by = " by relative exposure, though not by every window" if short else ""
    return f"met{by}, as far as this tells; `ventrules check` looks at the rest"


def _weakest(window: Window, asked: Requirement, unit: str) -> str:
    length_s = (window.end - window.start) * _MINUTE_S
    short = "" if length_s >= asked.window_s else f", a stretch shorter than {hours(asked.window_s)}"
    worth = airflow(window.score * asked.continuous_m3s, unit)
    return (
        f"{at(window.start * _MINUTE_S)} to {at(window.end * _MINUTE_S)} ({listed(sorted(window.modes))}{short}): "
        f"worth {worth} of {airflow(asked.continuous_m3s, unit)}, {Share.shown(window.score, '%')}"
    )


def _still(still: Unventilated) -> str:
    """Return the time without ventilation, with people there and without, apart."""
    if not still.share_present and not still.share_absent:
        return "ventilation never stops"
    said = []
    for who, share, longest in (
        ("with people there", still.share_present, still.longest_present_s),
        ("with nobody there", still.share_absent, still.longest_absent_s),
    ):
        if share is None:
            continue
        often = f"no ventilation {percent(share)} of the time, {lasting(longest or 0.0)} at a stretch at most"
        said.append(f"{who} {often if share > 0.0 else 'ventilation never stops'}")
    return "; ".join(said)


def _homecomings(comings: Sequence[Homecoming], recovered: float) -> Iterator[str]:
    """Yield what people come home to; days on which it is the same are said together."""
    together: dict[tuple[str, str, str], list[str]] = {}
    for coming in comings:
        day, time = at(coming.at_s).split()
        after = (
            "already fresh"
            if coming.recovery_s == 0.0
            else "not fresh again within a week"
            if coming.recovery_s is None
            else f"fresh again ({recovered:g} or less) after {about(coming.recovery_s)}"
        )
        together.setdefault((time, f"{coming.exposure:.1f}", after), []).append(day)
    for (time, exposure, after), days in together.items():
        yield f"{_days(days)} at {time}: {exposure}, {after}"


def _days(days: Sequence[str]) -> str:
    """Return days of the week as one phrase, those in a row as a span."""
    first, last = (_DAYS.index(day) for day in (days[0], days[-1]))
    in_a_row = len(days) > 2 and list(days) == _DAYS[first : last + 1]
    return f"{days[0]} to {days[-1]}" if in_a_row else listed(days)


def every_text(paper: Paper, file: str, sheet: TargetSheet, every: Sequence[Asked]) -> None:
    """Write what every code asks of one dwelling, as one table.

    Args:
        paper: What it is written on.
        file: The job's file.
        sheet: What the job's own target asks.
        every: What each code asks.
    """
    page = Sheet(paper)
    page.head(f"{file}: {sheet.job}")
    own = sheet.asked
    name = own.name or "the job's own target"
    if own.requirement is None:
        page.lines(f"The job goes by {name}; what it asks cannot be told: {own.missing}.")
    else:
        asked = own.requirement
        window = window_cell(asked.kind, asked.window_s)
        over = f" over {window}" if asked.window_s > 0.0 else ""
        page.lines(f"The job goes by {name}: {airflow(asked.continuous_m3s, sheet.unit)}{over}.")
    page.blank()
    heads = ("code", "edition", "kind", "required", "window", "exposure", "known")
    page.table(heads, [_row(one, sheet.unit) for one in every])
    page.blank()
    told = sum(one.requirement is not None for one in every)
    closing = f"{len(every)} codes: {told} can be told, {len(every) - told} cannot."
    page.lines(f"{closing} Exposure: mean of the settled week, heating/cooling where they differ; known: the weakest.")


def _row(found: Asked, unit: str) -> tuple[str, ...]:
    code, asked = found.code, found.requirement
    name = (found.name, code.edition, SHORT_KIND[code.kind]) if code is not None else ("", "", "")
    if asked is None or found.known is None:
        return (*name, f"cannot be told: {found.missing}")
    return (
        *name,
        airflow(asked.continuous_m3s, unit),
        window_cell(asked.kind, asked.window_s),
        _exposures(found.weeks),
        KNOWN[found.known].split(",")[0],
    )


def _exposures(weeks: Sequence[AskedWeek]) -> str:
    """Return the mean relative exposure of each season, once where they agree."""
    said = ["-" if week.exposure is None else f"{week.exposure.mean:.2f}" for week in weeks]
    return "/".join(dict.fromkeys(said)) if any(week.exposure for week in weeks) else "not known"
