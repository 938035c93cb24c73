"""Plain words for what a requirement says: kinds, airflow that counts, times, how a figure is known."""

from collections.abc import Iterable, Mapping
from typing import Final

from ventrules.codes import Clause, CodeKind, Placing, Requirement
from ventrules.job import Counts, Occupancy
from ventrules.sources import Basis, Known
from ventrules.survey import clock
from ventrules.units import Airflow, Duration
from ventrules.words import listed

SHORT_KIND: Final[Mapping[CodeKind, str]] = {
    CodeKind.CAPACITY: "capacity",
    CodeKind.CONTINUOUS: "all the time",
    CodeKind.AVERAGE: "average",
    CodeKind.SEGMENT_FACTORS: "average, by run time",
    CodeKind.AVERAGE_WITH_FLOOR: "average and floor",
    CodeKind.LEVELS: "levels",
    CodeKind.EXPOSURE: "average or exposure",
}
KIND: Final[Mapping[CodeKind, str]] = {
    CodeKind.CAPACITY: (
        "a capacity: the ventilators at their highest stages have to reach it; when they run is left open"
    ),
    CodeKind.CONTINUOUS: "this airflow all the time; switching on and off is no way to reach it",
    CodeKind.AVERAGE: "this airflow as the average over every window",
    CodeKind.SEGMENT_FACTORS: (
        "this airflow all the time, or more for a part of the time: how much more goes by the share of run time in "
        "each segment"
    ),
    CodeKind.AVERAGE_WITH_FLOOR: "this airflow as the average over every window, and never less than a floor",
    CodeKind.LEVELS: "a level for each occupancy, at every moment; switching on and off is no way to reach it",
    CodeKind.EXPOSURE: (
        "this airflow as the average over every window; or else relative exposure that keeps its limits over the week"
    ),
}
COUNTS: Final[Mapping[Counts, str]] = {
    Counts.SUPPLY: "the outdoor air supplied, less the exhaust air that comes back with it",
    Counts.EXHAUST: "the air exhausted",
    Counts.LESSER: "the lesser of supply and exhaust",
    Counts.LARGER: "the larger of supply and exhaust",
    Counts.MEAN: "the mean of supply and exhaust",
}
KNOWN: Final[Mapping[Known, str]] = {
    Known.SEEN: "text seen",
    Known.SECOND_HAND: "second-hand",
    Known.FROM_MEMORY: "FROM MEMORY, look it up",
    Known.COMMON_PRACTICE: "common practice",
    Known.CATALOG: "catalog entry",
    Known.JOB: "the job itself",
    Known.PER_FINDING: "named where it is used",
}
_LIES: Final[Mapping[Placing, str]] = {
    Placing.SLIDING: "wherever it begins",
    Placing.FIXED: "one after the other from Monday 00:00",
}
_MINUTE_S: Final = 60.0
_UNITS_S: Final = (("days", 86400), ("h", 3600), ("min", 60))


def lasting(seconds: float) -> str:
    """Return a length of time as people say it: `3 h 20 min`; below a minute in seconds."""
    left, said = round(seconds), []
    if left < _MINUTE_S:
        return f"{left} s"
    left = round(seconds / _MINUTE_S) * 60
    for unit, length in _UNITS_S:
        number, left = divmod(left, length)
        if number:
            said.append(f"{number} {'day' if unit == 'days' and number == 1 else unit}")
    return " ".join(said)


def about(seconds: float) -> str:
    """Return a length of time as people guess it: an hour and more to five minutes."""
    return lasting(seconds if seconds < 3600.0 else round(seconds / 300.0) * 300.0)


def hours(seconds: float) -> str:
    """Return the length of a window in hours."""
    return str(Duration.shown(seconds, "h"))


def at(seconds: float) -> str:
    """Return a moment of the week, s from Monday 00:00: `Monday 06:00`."""
    return clock(seconds / _MINUTE_S)


def occupancies(found: Iterable[Occupancy]) -> str:
    """Return occupancies in their usual order, as one phrase."""
    wanted = set(found)
    return listed(occupancy.value for occupancy in Occupancy if occupancy in wanted)


def window_cell(kind: CodeKind, window_s: float) -> str:
    """Return the window of a requirement, in a cell."""
    if kind is CodeKind.CAPACITY:
        return "none"
    return hours(window_s) if window_s > 0.0 else "every moment"


def window_words(window_s: float, placing: Placing) -> str:
    """Return a window with its placing: `4 h, wherever it begins`."""
    return f"{hours(window_s)}, {_LIES[placing]}"


def clause(found: Clause | Basis, title: str = "") -> str:
    """Return the clause of a figure and how that is known; the title only where it is another than the page's."""
    other = f"{found.title}, " if found.title and found.title != title else ""
    note = f": {found.note}" if found.note else ""
    where = f"{other}{found.clause}".removesuffix(", ")
    return f"{where} ({KNOWN[found.known]}){note}".lstrip()


def run_time_words(asked: Requirement) -> str:
    """Return what run-time factors do: `50 % of the time x 2`, and so on."""
    run = asked.run_time
    if run is None:
        return ""
    return ", ".join(
        f"{share:.0%} of the time x {factor:g}" for share, factor in zip(run.shares, run.factors, strict=True)
    ).replace("%", " %")


def percent(share: float) -> str:
    """Return a share in percent, with one decimal where it has one."""
    text = f"{share * 100.0:.1f}"
    return f"{text.removesuffix('.0')} %"


def airflow(m3s: float, unit: str) -> str:
    """Return an airflow in a unit."""
    return str(Airflow.shown(m3s, unit))
