"""Rules about what has to flow at every moment, and about relative exposure over the week."""

from ventrules.codes import CodeKind
from ventrules.engine import CannotTell, Evidence, Rule, Severity, evidence
from ventrules.job import Season
from ventrules.planner import raise_mode, raise_modes
from ventrules.rules import selectors
from ventrules.rules.airflow.arithmetic import TARGET, enough_capacity, flows, steps, terms
from ventrules.rules.airflow.delivered import cycles, is_off
from ventrules.sources import practice
from ventrules.survey import Airing, ModeSeasonView, Survey, WeekView, Window, clock
from ventrules.units import Duration, Share, at_least, at_most

_MINUTE = Duration.of(1, "min").s
_EXPOSURE = practice(
    "relative exposure compares with a steady airflow at the required rate",
    "form as in ANSI/ASHRAE 62.2-2016, Normative Appendix C, which was not seen",
)


def _cycling(view: ModeSeasonView) -> Evidence | None:
    outcome, survey = view.judged, view.survey
    if outcome is None or outcome.enough or not cycles(view) or is_off(view) or not enough_capacity(view):
        return None
    requirement = survey.requirement
    level = requirement.levels.get(view.mode.occupancy)
    return evidence(
        basis=level.basis if level is not None else requirement.unbroken_basis,
        related=tuple(program.place for program in view.programs),
        mode=view.mode.name,
        season=view.season.value,
        runs=_runs(outcome.least_share),
        delivered=survey.airflow(outcome.delivered_m3s),
        required=survey.airflow(outcome.required_m3s),
        terms=terms(view),
        steps=steps(view),
    )


def _runs(share: float) -> str:
    return f"runs {Share.shown(share, '%')} of the time" if share > 0.0 else "is off"


def _below_floor(view: ModeSeasonView) -> Evidence | None:
    outcome, survey = view.judged, view.survey
    floor = survey.requirement.floor
    if outcome is None or floor is None or outcome.above_floor or is_off(view) or not enough_capacity(view):
        return None
    return evidence(
        basis=floor.basis,
        related=tuple(program.place for program in view.programs),
        mode=view.mode.name,
        occupancy=view.mode.occupancy.value,
        season=view.season.value,
        least=survey.airflow(outcome.least_m3s),
        floor=survey.airflow(outcome.floor_m3s),
        shortfall=survey.airflow(outcome.floor_m3s - outcome.least_m3s),
        flows=flows(view),
        terms=terms(view),
        steps=steps(view),
    )


def _exposure_missed(view: WeekView) -> Evidence | CannotTell | None:
    survey, limits = view.survey, view.survey.requirement.exposure
    if limits is None or survey.code is None or not enough_capacity(view):
        return None
    courses = view.courses
    worst = view.worst(courses) if courses is not None else None
    if worst is not None and at_least(worst.score, 1.0):
        return None
    airing = view.airing
    if airing is None:
        return CannotTell(
            f"the averages over {_window(survey)} are not met in the {view.season.value} season, and relative "
            f"exposure is not known: {_unknown(view)}.",
            "Give the dwelling its ceiling height or its volume, and every mode of the week its programs.",
            basis=survey.code.basis(limits.mean_basis),
        )
    exposure = airing.exposure
    asked, mean = survey.requirement, None
    if exposure is not None:
        mean = asked.counted_exposure(exposure.mean, exposure.mean_present)
        if asked.allows_exposure(exposure.mean, exposure.mean_present, exposure.peak):
            return None
    over_mean = mean is None or not at_most(mean, limits.mean)
    return evidence(
        basis=survey.code.basis(limits.mean_basis if over_mean else limits.peak_basis),
        season=view.season.value,
        mean="without limit" if mean is None else f"{mean:.4g}",
        most_mean=f"{limits.mean:g}",
        peak="without limit" if exposure is None else f"{exposure.peak:.2f}",
        peak_at="never reached" if exposure is None else clock(exposure.peak_s / _MINUTE),
        most_peak=f"{limits.peak:g}",
        hours=tuple(occupancy.value for occupancy in limits.hours),
        window=_window(survey),
        weakest=_weakest(survey, worst),
        required=survey.airflow(survey.requirement.continuous_m3s),
        total=survey.airflow(survey.requirement.total_m3s),
        infiltration=survey.airflow(survey.requirement.infiltration_m3s),
        week=_in_words(airing),
        steps=steps(view),
    )


def _weakest(survey: Survey, worst: Window | None) -> str:
    if worst is None:
        return "unknown"
    required = survey.airflow(survey.requirement.continuous_m3s)
    return f"{Share.shown(worst.score, '%')} of {required} from {clock(worst.start)}"


def _window(survey: Survey) -> str:
    return str(Duration.shown(survey.requirement.window_s, "h"))


def _unknown(view: WeekView) -> str:
    return "the dwelling's volume is missing" if view.blocks is not None else "a program or a part of the week is"


def _in_words(airing: Airing) -> str:
    """Return what the week's airflow comes to: time without it, and what people come home to."""
    said = []
    still = airing.unventilated
    for people, share, longest in (
        ("with people", still.share_present, still.longest_present_s),
        ("without people", still.share_absent, still.longest_absent_s),
    ):
        if share:
            how = "all of the time" if at_least(share, 1.0) else f"{Share.shown(share, '%')} of the time"
            said.append(f"no airflow {how} {people}, at most {_lasting(longest or 0.0)} at a stretch")
    worst = airing.worst_homecoming
    if worst is not None:
        after = "not recovered within a week"
        if worst.recovery_s is not None:
            after = f"recovered after {_lasting(worst.recovery_s)}"
        said.append(f"{worst.exposure:.2f} when people come on {clock(worst.at_s / _MINUTE)}, {after}")
    return "; ".join(said) or "airflow all the time"


def _lasting(seconds: float) -> Duration:
    hours = Duration.shown(seconds, "h")
    return hours if at_least(seconds, Duration.of(1, "h").s) else Duration.shown(seconds, "min")


def _exposure_above_steady(view: WeekView) -> Evidence | None:
    survey = view.survey
    practice = survey.limits.exposure
    if survey.requirement.kind in (CodeKind.EXPOSURE, CodeKind.CAPACITY) or not view.met:
        return None
    exposure, mean = view.exposure, _while_present(view)
    if exposure is None or mean is None or at_most(mean, practice.most):
        return None
    if any(other.season is not view.season and _worse(other, mean) for other in survey.weeks):
        return None  # said once, of the season that is worse
    airing = view.airing
    if airing is None:
        return None
    return evidence(
        season=view.season.value,
        mean=f"{mean:.2f}",
        whole=f"{exposure.mean:.2f}",
        peak=f"{exposure.peak:.2f}",
        peak_at=clock(exposure.peak_s / _MINUTE),
        most=f"{practice.most:g}",
        because=_in_words(airing),
        required=survey.airflow(survey.requirement.total_m3s),
        title=survey.code.title if survey.code is not None else "the job's own target",
    )


def _while_present(view: WeekView) -> float | None:
    return view.exposure.mean_present if view.exposure is not None else None


def _worse(other: WeekView, mean: float) -> bool:
    """Say whether the other season is the one to speak of: it is worse, or equal and the first."""
    theirs = _while_present(other) if other.met else None
    if theirs is None:
        return False
    equal = at_least(theirs, mean) and at_most(theirs, mean)
    return other.season is Season.HEATING if equal else theirs > mean


CYCLING = Rule(
    id="airflow/cycling-not-allowed",
    title="A mode stops ventilation for a time, and the code asks for it without a break",
    severity=Severity.ERROR,
    each=selectors.judged_modes,
    check=_cycling,
    message=(
        "In mode {mode} in the {season} season ventilation {runs}; {required} is asked for at every moment, so that "
        "an average of {delivered} does not help."
    ),
    working="{terms} = {delivered} average. Asked for: {steps}",
    todo="Run a stage of at least {required} without a break.",
    basis=TARGET,
    remedy=raise_mode,
)
BELOW_FLOOR = Rule(
    id="airflow/below-floor",
    title="A mode lets the airflow fall below what has to flow at every moment",
    severity=Severity.ERROR,
    each=selectors.judged_modes,
    check=_below_floor,
    message=(
        "In mode {mode} ({occupancy}) in the {season} season the airflow falls to {least}; {floor} has to flow at "
        "every moment, whatever the average."
    ),
    working="{flows}. {terms}. Short by {shortfall}. Asked for: {steps}",
    todo="Run a stage of at least {floor} without a break.",
    basis=TARGET,
    remedy=raise_mode,
)
EXPOSURE_MISSED = Rule(
    id="airflow/exposure-too-high",
    title="Neither the short averages nor the relative exposure meet the code",
    severity=Severity.ERROR,
    each=selectors.weeks,
    check=_exposure_missed,
    message=(
        "In the {season} season relative exposure is {mean} on average and {peak} at its peak ({peak_at}); at most "
        "{most_mean} and {most_peak} are allowed, since not every {window} has an average of {required}."
    ),
    working=(
        "hours that count: {hours}; total rate {total}, infiltration {infiltration}; weakest {window}: {weakest}; "
        "{week}. Asked for: {steps}"
    ),
    todo="Shorten the time without airflow, or raise the airflow of the weakest modes.",
    basis=TARGET,
    remedy=raise_modes,
)
EXPOSURE_ABOVE_STEADY = Rule(
    id="airflow/exposure-above-steady",
    title="The code is met, and the air is less fresh than under a steady airflow",
    severity=Severity.ADVICE,
    each=selectors.weeks,
    check=_exposure_above_steady,
    message=(
        "{title} is met; in the {season} season relative exposure is {mean} while people are there, where a steady "
        "{required} would give 1."
    ),
    working="because: {because}. Mean over the whole week {whole}, peak {peak} on {peak_at}; let pass: {most}",
    todo="Spread the airflow more evenly, or air the dwelling before people come.",
    basis=_EXPOSURE,
)

RULES = (CYCLING, BELOW_FLOOR, EXPOSURE_MISSED, EXPOSURE_ABOVE_STEADY)
