"""Rules about the airflow of modes and of the week."""

from ventrules.codes import CodeKind, Requirement
from ventrules.engine import CannotTell, Evidence, Rule, Severity, evidence
from ventrules.job import Occupancy
from ventrules.planner import can_be_lowered, lower_mode, raise_mode, raise_modes
from ventrules.rules import selectors
from ventrules.rules.airflow.arithmetic import TARGET, enough_capacity, flows, steps, terms
from ventrules.sources import Basis
from ventrules.survey import ModeSeasonView, Survey, WeekView, Window, clock
from ventrules.units import Duration, Share, at_least, at_most
from ventrules.words import listed


def _below_target(view: ModeSeasonView) -> Evidence | None:
    outcome, survey = view.judged, view.survey
    if outcome is None or outcome.too_short or at_least(outcome.equivalent_m3s, outcome.required_m3s):
        return None
    if is_off(view) or view.within_exposure or cycles(view):
        return None  # rules of their own speak of these
    if view.only_in_windows or not enough_capacity(view):
        return None
    return evidence(
        basis=survey.requirement.basis,
        related=tuple(program.place for program in view.programs),
        mode=view.mode.name,
        season=view.season.value,
        delivered=survey.airflow(outcome.delivered_m3s),
        equivalent=survey.airflow(outcome.equivalent_m3s),
        required=survey.airflow(outcome.required_m3s),
        shortfall=survey.airflow(outcome.required_m3s - outcome.equivalent_m3s),
        share=Share.shown(outcome.least_share, "%"),
        factor=" and ".join(f"{factor:.4g}" for factor in outcome.factors) or "none",
        flows=flows(view),
        terms=terms(view),
        steps=steps(view),
    )


def cycles(view: ModeSeasonView) -> bool:
    """Say whether a mode stops for a part of its cycle though its airflow is held at every moment."""
    outcome = view.judged
    return outcome is not None and view.survey.requirement.unbroken and not at_least(outcome.least_share, 1.0)


def is_off(view: ModeSeasonView) -> bool:
    """Say whether an occupied mode is off, which a rule of its own reports."""
    return view.mode.occupancy is Occupancy.OCCUPIED and view.running_s <= 0.0


def _window_below(view: WeekView) -> Evidence | CannotTell | None:
    survey = view.survey
    courses = view.courses
    if survey.requirement.kind is CodeKind.EXPOSURE or survey.requirement.window_s <= 0.0:
        return None
    if courses is None:
        return _unknown_windows(view)
    if view.steady or view.surely_held(courses) or not enough_capacity(view):
        return None
    # Modes that are reported by themselves are taken as put right: this rule speaks of the windows alone.
    said = {name for name, mode in view.modes().items() if _said_already(mode)}
    worst = view.worst({name: view.sufficient if name in said else course for name, course in courses.items()})
    if worst is None or at_least(worst.score, 1.0):
        return None
    required = survey.requirement.continuous_m3s
    return evidence(
        basis=survey.requirement.window_basis,
        season=view.season.value,
        start=clock(worst.start),
        end=clock(worst.end),
        length=Duration.shown((worst.end - worst.start) * Duration.of(1, "min").s, "h"),
        judged=_how_judged(view, worst),
        modes=tuple(sorted(worst.modes)),
        delivered=survey.airflow(worst.score * required),
        required=survey.airflow(required),
        share=Share.shown(worst.score, "%"),
        steps=steps(view),
    )


def _unknown_windows(view: WeekView) -> CannotTell | None:
    """Say that windows cannot be told where a mode is left to the controller; other causes are errors already."""
    left = sorted(
        name for name, mode in view.modes().items() if any(p.program and p.program.managed for p in mode.programs)
    )
    if not left:
        return None
    return CannotTell(
        f"{listed(left)} is left to the controller in the {view.season.value} season, so the windows are not known.",
        "Give every mode of the calendar a program in minutes.",
    )


def _how_judged(view: WeekView, worst: Window) -> str:
    whole_s = view.survey.requirement.window_s
    length_s = (worst.end - worst.start) * Duration.of(1, "min").s
    window = Duration.shown(whole_s, "h")
    if at_least(length_s, whole_s):
        return f"the weakest window of {window}"
    return f"a stretch shorter than the window of {window}, judged as a whole"


def _said_already(view: ModeSeasonView) -> bool:
    outcome = view.judged
    return outcome is None or is_off(view) or _too_short(view) is not None or _below_target(view) is not None


def _too_short(view: ModeSeasonView) -> Evidence | None:
    outcome, requirement = view.judged, view.survey.requirement
    if outcome is None or not outcome.too_short or view.only_in_windows or view.within_exposure:
        return None
    return evidence(
        basis=_run_basis(view.survey),
        mode=view.mode.name,
        season=view.season.value,
        share=Share.shown(outcome.least_share, "%"),
        least=Share.shown(requirement.least_share, "%"),
        segment=Duration.shown(_run_period_s(requirement), "h"),
    )


def _run_basis(survey: Survey) -> Basis:
    least = survey.requirement.least_run
    if least is not None and survey.code is not None:
        return survey.code.basis(least.basis)
    return survey.requirement.window_basis


def _run_period_s(requirement: Requirement) -> float:
    """Return the time in which the least run time has to lie, s."""
    return requirement.least_run.period.s if requirement.least_run is not None else requirement.window_s


def _above_target(view: ModeSeasonView) -> Evidence | None:
    outcome, survey = view.judged, view.survey
    surplus = survey.limits.surplus
    if outcome is None or outcome.required_m3s <= 0.0 or outcome.too_short:
        return None
    over = outcome.equivalent_m3s / outcome.required_m3s - 1.0
    if at_most(over, surplus.margin) or _makes_up_for_another(view) or _serves_rooms(view) or not can_be_lowered(view):
        return None
    return evidence(
        basis=surplus.basis,
        related=tuple(program.place for program in view.programs),
        mode=view.mode.name,
        season=view.season.value,
        delivered=survey.airflow(outcome.delivered_m3s),
        equivalent=survey.airflow(outcome.equivalent_m3s),
        required=survey.airflow(outcome.required_m3s),
        surplus=survey.airflow(outcome.equivalent_m3s - outcome.required_m3s),
        over=Share.shown(over, "%"),
        margin=Share.shown(surplus.margin, "%"),
        share=Share.shown(outcome.least_share, "%"),
        factor=" and ".join(f"{factor:.4g}" for factor in outcome.factors) or "none",
        flows=flows(view),
        terms=terms(view),
        steps=steps(view),
    )


def _serves_rooms(view: ModeSeasonView) -> bool:
    """Say whether a ventilator of the mode is the local exhaust of rooms, which may ask for more than the target."""
    served = {room.exhaust_by for room in view.survey.job.dwelling.rooms.values()}
    return any(program.ventilator.name in served for program in view.programs)


def _makes_up_for_another(view: ModeSeasonView) -> bool:
    """Say whether another mode of the same week may lean on this one's airflow in some window."""
    weeks = [week for week in view.survey.weeks if week.season is view.season and view.mode.name in week.week.modes]
    return any(mode.judged is None or not mode.judged.enough for week in weeks for mode in week.modes().values())


BELOW_TARGET = Rule(
    id="airflow/below-target",
    title="A mode delivers less than the target",
    severity=Severity.ERROR,
    each=selectors.judged_modes,
    check=_below_target,
    message=(
        "In mode {mode} in the {season} season the programs count as {equivalent} toward the target; "
        "{required} is asked for."
    ),
    working=(
        "{flows}. {terms} = {delivered} average; run time {share}, run-time factor {factor}, "
        "counts as {equivalent} continuous. "
        "Asked for: {steps}. Short by {shortfall}."
    ),
    todo="Raise the program by {shortfall}: more minutes or a higher stage.",
    basis=TARGET,
    remedy=raise_mode,
)
WINDOW_BELOW = Rule(
    id="airflow/window-below-target",
    title="The worst window of the week is below the target",
    severity=Severity.ERROR,
    each=selectors.weeks,
    check=_window_below,
    message=(
        "In the {season} season the {length} from {start} to {end} ({modes}) count as {delivered}; "
        "{required} is asked for in every window."
    ),
    working="{judged}: {share} of {required}; asked for: {steps}",
    todo="Raise the program of the weakest of {modes}, or let it come up for a shorter time.",
    basis=TARGET,
    remedy=raise_modes,
)
TOO_SHORT = Rule(
    id="airflow/run-time-too-short",
    title="A program runs for less time than intermittent operation allows",
    severity=Severity.ERROR,
    each=selectors.judged_modes,
    check=_too_short,
    message=(
        "In mode {mode} in the {season} season ventilation runs {share} of each {segment}; "
        "at least {least} is asked for."
    ),
    working="{share} < {least}; there is no factor below it, whatever the airflow",
    todo="Run at least {least} of each {segment}, at a lower stage if need be.",
    basis=TARGET,
    remedy=raise_mode,
)
ABOVE_TARGET = Rule(
    id="airflow/above-target",
    title="A mode delivers more than the target by a margin",
    severity=Severity.ADVICE,
    each=selectors.judged_modes,
    check=_above_target,
    message=(
        "In mode {mode} in the {season} season the programs count as {equivalent} toward the target; "
        "{required} is asked for. The surplus of {surplus} ({over}) is heated, cooled and paid for."
    ),
    working=(
        "{flows}. {terms} = {delivered} average; run time {share}, run-time factor {factor}, "
        "counts as {equivalent} continuous. "
        "Asked for: {steps}. Over by {over}; {margin} is let pass."
    ),
    todo="Lower the program; the least one that still meets the target is offered.",
    basis=TARGET,
    remedy=lower_mode,
)

RULES = (BELOW_TARGET, WINDOW_BELOW, TOO_SHORT, ABOVE_TARGET)
