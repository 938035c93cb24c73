"""Plain words for a plan: what to key in, how programs would miss what is asked, what was spent least of."""

from collections.abc import Callable, Mapping, Sequence
from math import inf, isinf
from typing import Final, TypeAlias

from ventrules.job import Job, Program, Season
from ventrules.outputs.wording import airflow, at
from ventrules.planner.orders import Least
from ventrules.planner.planned import NextCheaper, PlannedProgram
from ventrules.planner.verdict import Failure, FailureKind
from ventrules.units import Airflow, Duration, Quantity, Share, at_least

Times: TypeAlias = Sequence[tuple[str, float]]
"""Stages with their time in a cycle, s."""

OFF: Final = "off"
SPENT: Final[Mapping[str, str]] = {
    "air": "delivered airflow",
    "energy": "fan energy",
    "changes": "stage changes",
}
_LESS: Final[Mapping[str, str]] = {
    "air": "less delivered airflow",
    "energy": "less fan energy",
    "changes": "fewer stage changes",
}
_EXPOSURES: Final = frozenset({FailureKind.MEAN_EXPOSURE, FailureKind.PEAK_EXPOSURE})
_MINUTE_S: Final = 60.0
_MOST_DECIMALS: Final = 9


def minutes(seconds: float) -> str:
    """Return a time in minutes."""
    return str(Duration.shown(seconds, "min"))


def program_words(times: Times, cycle_s: float) -> str:
    """Return a program as it is keyed in: `low 40 min + medium 5 min in each 60 min`, `low without a break`, `off`.

    Args:
        times: Its stages, with more than no time at each.
        cycle_s: The length of a cycle, s.
    """
    if not times:
        return OFF
    if len(times) == 1 and at_least(times[0][1], cycle_s):
        return f"{times[0][0]} without a break"
    return f"{' + '.join(f'{stage} {minutes(time)}' for stage, time in times)} in each {minutes(cycle_s)}"


def ordered(job: Job, ventilator: str, times: Times) -> Times:
    """Return stages in the order of their rated supply airflow, the least first; those that are not known, last."""
    device = job.devices.get(ventilator)
    model = job.catalog.models.get(device.model) if device is not None else None
    rated = {name: stage.supply.m3s for name, stage in model.stages.items()} if model is not None else {}
    return sorted(times, key=lambda each: (rated.get(each[0], inf), each[0]))


def planned_words(job: Job, program: PlannedProgram) -> str:
    """Return a planned program as it is keyed in."""
    times = [(stage.stage, stage.time_s) for stage in program.stages]
    return program_words(ordered(job, program.ventilator, times), program.cycle_s)


def cheaper_words(job: Job, program: PlannedProgram, cheaper: NextCheaper) -> str:
    """Return the program that is next cheaper than another one of the same ventilator."""
    return program_words(ordered(job, program.ventilator, cheaper.stages), program.cycle_s)


def set_now(job: Job, ventilator: str, mode: str, season: Season, cycle_s: float) -> str:
    """Return what a job sets now.

    Args:
        job: The job as it was given.
        ventilator: The ventilator.
        mode: The mode.
        season: The season.
        cycle_s: The cycle that it is planned for, s; the cycle is told where it is another one.
    """
    settings = job.settings.get(ventilator)
    program: Program | None = settings.programs.get(mode, {}).get(season) if settings is not None else None
    if settings is None or program is None:
        return "nothing"
    if program.managed:
        return "left to the controller"
    cycle = settings.cycle.s if settings.cycle is not None else cycle_s
    times = ordered(job, ventilator, [(stage, time.s) for stage, time in program.stages.items() if time.s > 0.0])
    words = program_words(times, cycle)
    same_cycle = at_least(cycle, cycle_s) and at_least(cycle_s, cycle)
    if same_cycle:
        return words.removesuffix(f" in each {minutes(cycle)}")
    return words if times and words.endswith(minutes(cycle)) else f"{words} (cycle of {minutes(cycle)})"


def kind_word(kind: FailureKind) -> str:
    """Return a kind of failure in lower case with hyphens."""
    return kind.name.lower().replace("_", "-")


def compared(failure: Failure, unit: str) -> tuple[Quantity | None, Quantity | None, str, str]:
    """Return what was found and what it is compared with, as quantities where they are any, and as texts.

    Relative exposure is a plain number; what has no end is no airflow at all.

    Args:
        failure: Where programs miss the requirement.
        unit: A unit of airflow.
    """
    if failure.kind in _EXPOSURES:
        return None, None, *_numbers(failure.value, failure.bound)
    kind, shown_in = (Share, "%") if failure.kind is FailureKind.TOO_SHORT else (Airflow, unit)
    value: Quantity = kind.shown(failure.value, shown_in)
    bound: Quantity = kind.shown(failure.bound, shown_in)
    return value, bound, str(value), str(bound)


def _numbers(value: float, bound: float) -> tuple[str, str]:
    """Return two numbers with as many decimals as it takes to tell them apart."""
    if isinf(value):
        return "beyond any number", f"{bound:g}"
    decimals = next((n for n in range(2, _MOST_DECIMALS) if round(value, n) != round(bound, n)), _MOST_DECIMALS)
    return f"{value:.{decimals}f}", f"{bound:g}"


def failure_words(failure: Failure, unit: str) -> str:
    """Return how programs would miss what is asked, as the end of a sentence that begins with what would.

    Args:
        failure: Where they miss it.
        unit: The unit of airflow to say it in.
    """
    _value, _bound, value, bound = compared(failure, unit)
    return _WORDS[failure.kind](failure, value, bound, airflow(failure.bound - failure.value, unit))


def _off(_failure: Failure, _value: str, _bound: str, _short: str) -> str:
    return "would leave the mode without any ventilation while people are there"


def _too_short(_failure: Failure, value: str, bound: str, _short: str) -> str:
    return f"would run {value} of the time, and less than {bound} is never enough"


def _stops(failure: Failure, value: str, bound: str, _short: str) -> str:
    how = f"would fall to {value} at times" if failure.value > 0.0 else "would stop in every cycle"
    return f"{how}, and {bound} is asked for at every moment"


def _below_floor(failure: Failure, value: str, bound: str, _short: str) -> str:
    how = f"would give {value} at its lowest" if failure.value > 0.0 else "would stop in every cycle"
    return f"{how}, and {bound} is the floor at every moment, whatever the average"


def _below(_failure: Failure, value: str, bound: str, short: str) -> str:
    return f"would count as {value}, {short} short of the {bound} asked for"


def _window(failure: Failure, value: str, bound: str, short: str) -> str:
    window = f"{at(failure.start_min * _MINUTE_S)} to {at(failure.end_min * _MINUTE_S)}"
    return f"would leave the window {window} worth {value}, {short} short of the {bound} asked for"


def _mean_exposure(failure: Failure, value: str, bound: str, _short: str) -> str:
    if isinf(failure.value):
        return f"would leave the week without the airflow that keeps mean relative exposure at {bound} or below"
    return f"would bring mean relative exposure to {value}, above its limit of {bound}"


def _peak_exposure(failure: Failure, value: str, bound: str, _short: str) -> str:
    when = at(failure.start_min * _MINUTE_S)
    return f"would let relative exposure rise to {value} on {when}, above its highest value of {bound}"


_WORDS: Final[Mapping[FailureKind, Callable[[Failure, str, str, str], str]]] = {
    FailureKind.OFF: _off,
    FailureKind.TOO_SHORT: _too_short,
    FailureKind.STOPS: _stops,
    FailureKind.BELOW_FLOOR: _below_floor,
    FailureKind.BELOW: _below,
    FailureKind.WINDOW: _window,
    FailureKind.MEAN_EXPOSURE: _mean_exposure,
    FailureKind.PEAK_EXPOSURE: _peak_exposure,
}


def spent_words(least: Least) -> tuple[str, ...]:
    """Return what a plan spends least of, what counts most first."""
    words = list(SPENT.values())
    return tuple(words[column] for column in least.columns)


def less_words(least: Least) -> str:
    """Return less of what counts most."""
    return _LESS[least.value]
