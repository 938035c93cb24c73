"""Rules about airflow: what is delivered against what is asked for."""

from ventrules.codes import imbalance
from ventrules.engine import CannotTell, Evidence, Place, Remedy, Rule, Severity, evidence
from ventrules.job import Occupancy
from ventrules.plan import lower_mode, program_remedy, raise_modes, remove
from ventrules.rules import selectors
from ventrules.rules.cautions import COMBUSTION
from ventrules.sources import practice
from ventrules.survey import DwellingView, ModeSeasonView, Survey, VentilatorView, WeekView, Window, clock
from ventrules.units import Duration, at_least

_TARGET = practice("the clause of the target's code, named in each finding")
_CREDITS = Place.at("target", "credits")
_ROUTE = Place.at("target", "route")
_TAKE_OUT = "Take the credit out of the target."


def _enough_capacity(view: DwellingView | ModeSeasonView | WeekView) -> bool:
    survey = view.survey
    return at_least(survey.capacity_m3s, survey.requirement.continuous_m3s)


def _terms(view: ModeSeasonView) -> str:
    """Return the arithmetic of the delivered average: every stage's airflow times its share of the cycle."""
    survey = view.survey
    terms = [
        f"{run.stage} {survey.airflow(run.airflow_m3s)} {_part_of_cycle(survey, run.time_s, delivery.cycle_s)}"
        for delivery in view.deliveries or ()
        for run in delivery.runs
    ]
    return " + ".join(terms) or "off"


def _part_of_cycle(survey: Survey, time_s: float, cycle_s: float) -> str:
    if at_least(time_s, cycle_s):
        return "all of the time"
    return f"x {survey.minutes(time_s)} / {survey.minutes(cycle_s)}"


def _flows(view: ModeSeasonView) -> str:
    """Return how the airflow of each stage in use comes about."""
    survey = view.survey
    counts = survey.requirement.counts.value
    said = []
    for program in view.programs:
        unit = program.ventilator
        for run in program.delivery.runs if program.delivery is not None else ():
            flow = unit.stages[run.stage]
            transfer = (
                f" less {unit.model.exhaust_air_transfer:.0%} transfer" if unit.model.exhaust_air_transfer else ""
            )
            how = "measured" if flow.measured else "rated"
            said.append(
                f"{unit.name} {run.stage}: supply {survey.airflow(flow.supply_m3s)}{transfer}, exhaust "
                f"{survey.airflow(flow.exhaust_m3s)} ({how}), {counts} {survey.airflow(run.airflow_m3s)}"
            )
    return "; ".join(said)


def _steps(view: DwellingView | ModeSeasonView | WeekView) -> str:
    survey = view.survey
    return "; ".join(
        f"{step.name} {survey.airflow(step.airflow_m3s)}" + (f" ({step.basis.clause})" if step.basis.clause else "")
        for step in survey.requirement.steps
    )


def _below_target(view: ModeSeasonView) -> Evidence | None:
    outcome, survey = view.judged, view.survey
    if outcome is None or outcome.too_short or _is_off(view) or not _enough_capacity(view):
        return None
    if at_least(outcome.equivalent_m3s, outcome.required_m3s) or _window_decides(view):
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
        share=f"{outcome.least_share:.0%}",
        flows=_flows(view),
        terms=_terms(view),
        steps=_steps(view),
    )


def _is_off(view: ModeSeasonView) -> bool:
    """Say whether an occupied mode is off, which a rule of its own reports."""
    return view.mode.occupancy is Occupancy.OCCUPIED and view.running_s <= 0.0


def _window_decides(view: ModeSeasonView) -> bool:
    """Say whether the mode never lasts a whole window, so that only windows over several modes count."""
    week = view.survey.week
    if week is None or view.mode.name not in week.modes:
        return False
    window_min = view.survey.requirement.window_s / Duration.of(1, "min").s
    return not any(span.mode == view.mode.name and span.length >= window_min for span in week.spans)


def _replan_one(view: ModeSeasonView) -> Remedy | None:
    """Plan the first ventilator anew that can make up the shortfall."""
    return next((r for program in view.programs if (r := program_remedy(program)) is not None), None)


def _window_below(view: WeekView) -> Evidence | CannotTell | None:
    survey = view.survey
    if view.shares is None or all(at_least(share, 1.0) for share in view.shares.values()):
        return None  # a mean of values that all suffice suffices
    # Modes that are reported by themselves are taken as put right: this rule speaks of the windows alone.
    said = {name for name, mode in view.modes().items() if _said_already(mode)}
    worst = view.worst({name: 1.0 if name in said else share for name, share in view.shares.items()})
    if worst is None or at_least(worst.mean, 1.0) or not _enough_capacity(view):
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
        delivered=survey.airflow(worst.mean * required),
        required=survey.airflow(required),
        share=f"{worst.mean:.1%}",
        steps=_steps(view),
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
    return outcome is None or outcome.too_short or _is_off(view) or _below_target(view) is not None


def _too_short(view: ModeSeasonView) -> Evidence | None:
    outcome, requirement = view.judged, view.survey.requirement
    if outcome is None or not outcome.too_short or requirement.run_time is None:
        return None
    return evidence(
        basis=requirement.window_basis,
        mode=view.mode.name,
        season=view.season.value,
        share=f"{outcome.least_share:.1%}",
        least=f"{requirement.run_time.shares[0]:.0%}",
        segment=requirement.run_time.segment,
    )


def _too_small(dwelling: DwellingView) -> Evidence | None:
    survey = dwelling.survey
    if not survey.driven or _enough_capacity(dwelling):
        return None
    required = survey.requirement.continuous_m3s
    return evidence(
        basis=survey.requirement.basis,
        related=tuple(ventilator.place for ventilator in survey.driven),
        ventilators=tuple(v.name for v in survey.driven),
        capacity=survey.airflow(survey.capacity_m3s),
        required=survey.airflow(required),
        shortfall=survey.airflow(required - survey.capacity_m3s),
        terms=" + ".join(f"{v.name} {survey.airflow(v.most_m3s)}" for v in survey.driven),
        steps=_steps(dwelling),
    )


def _above_target(view: ModeSeasonView) -> Evidence | None:
    outcome, survey = view.judged, view.survey
    surplus = survey.limits.surplus
    if outcome is None or outcome.required_m3s <= 0.0 or outcome.too_short:
        return None
    over = outcome.equivalent_m3s / outcome.required_m3s - 1.0
    if over <= surplus.margin or _makes_up_for_another(view) or lower_mode(view) is None:
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
        over=f"{over:.0%}",
        margin=f"{surplus.margin:.0%}",
        share=f"{outcome.least_share:.0%}",
        flows=_flows(view),
        terms=_terms(view),
        steps=_steps(view),
    )


def _makes_up_for_another(view: ModeSeasonView) -> bool:
    """Say whether another mode of the same week may lean on this one's airflow in some window."""
    weeks = [week for week in view.survey.weeks if week.season is view.season and view.mode.name in week.week.modes]
    return any(week.shares is None or not all(at_least(share, 1.0) for share in week.shares.values()) for week in weeks)


def _unbalanced(ventilator: VentilatorView) -> Evidence | None:
    survey = ventilator.survey
    stages = tuple(stage for unit, stage in survey.unbalanced_stages if unit is ventilator)
    if not stages:
        return None
    definition, basis = survey.balance
    flow = ventilator.stages[stages[0]]
    return evidence(
        basis=basis,
        ventilator=ventilator.name,
        stages=stages,
        supply=survey.airflow(flow.supply_m3s),
        exhaust=survey.airflow(flow.exhaust_m3s),
        source="measured" if flow.measured else "rated",
        apart=f"{imbalance(definition, flow.supply_m3s, flow.exhaust_m3s):.1%}",
        limit=f"{definition.fraction:.0%}",
        test=definition.test.value,
    )


def _route_not_offered(dwelling: DwellingView) -> Evidence | None:
    code, route = dwelling.survey.code, dwelling.survey.job.target.route
    if code is None or route is None or route in code.routes:
        return None
    return evidence(
        at=_ROUTE,
        basis=dwelling.survey.requirement.basis,
        title=code.title,
        route=route.value,
        offered=tuple(offered.value for offered in code.routes),
    )


def _drop_route(_dwelling: DwellingView) -> Remedy:
    return Remedy(title="Leave the route out, so that the code's own is used", edits=(remove(_ROUTE.path),))


def _credit_not_earned(dwelling: DwellingView) -> Evidence | None:
    survey = dwelling.survey
    code = survey.code
    lost = tuple(sorted(set(survey.job.target.credits) - survey.credits_earned))
    if code is None or not lost:
        return None
    known = [code.credits[name] for name in lost if name in code.credits]
    why = f"its conditions are: {known[0].conditions}" if known else f"{code.title} has no such credit"
    offered = tuple(sorted(code.credits)) or ("none",)
    return evidence(
        at=_CREDITS,
        basis=code.basis(known[0].basis) if known else survey.requirement.basis,
        code=code.code,
        credits=lost,
        why=why,
        offered=offered,
        way_out="Meet the conditions, or take the credit out of the target." if known else _TAKE_OUT,
        stages=tuple(f"{unit.name} {stage}" for unit, stage in survey.unbalanced_stages) or ("none",),
    )


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
        "{flows}. {terms} = {delivered} average; run time {share}, counts as {equivalent} continuous. "
        "Asked for: {steps}. Short by {shortfall}."
    ),
    todo="Raise the program by {shortfall}: more minutes or a higher stage.",
    basis=_TARGET,
    remedy=_replan_one,
)
WINDOW_BELOW = Rule(
    id="airflow/window-below-target",
    title="The worst window of the week is below the target",
    severity=Severity.ERROR,
    each=selectors.weeks,
    check=_window_below,
    message=(
        "In the {season} season the {length} from {start} to {end} ({modes}) average {delivered}; "
        "{required} is asked for in every window."
    ),
    working="{judged}: {share} of {required}; asked for: {steps}",
    todo="Raise the program of the weakest of {modes}, or let it come up for a shorter time.",
    basis=_TARGET,
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
    basis=_TARGET,
    remedy=_replan_one,
)
TOO_SMALL = Rule(
    id="airflow/ventilator-too-small",
    title="The ventilators are too small even at their highest stage",
    severity=Severity.ERROR,
    each=selectors.dwelling,
    check=_too_small,
    message="All of the time at the highest stage gives {capacity}; {required} is asked for.",
    working="highest stages: {terms}; asked for: {steps}; short by {shortfall}",
    todo="Choose a larger ventilator or add one that gives {shortfall} more.",
    basis=_TARGET,
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
        "{flows}. {terms} = {delivered} average; run time {share}, counts as {equivalent} continuous. "
        "Asked for: {steps}. Over by {over}; {margin} is let pass."
    ),
    todo="Lower the program; the least one that still meets the target is offered.",
    basis=_TARGET,
    remedy=lower_mode,
)
UNBALANCED = Rule(
    id="airflow/unbalanced",
    title="Supply and exhaust are out of balance",
    severity=Severity.WARNING,
    each=selectors.driven_ventilators,
    check=_unbalanced,
    message="{ventilator} at {stages}: supply {supply}, exhaust {exhaust} ({source}).",
    working="apart by {apart} ({test}); {limit} is allowed",
    todo="Balance the two streams at the dampers or in the unit, then measure again.",
    basis=_TARGET,
    cautions=(COMBUSTION,),
)
ROUTE_NOT_OFFERED = Rule(
    id="airflow/route-not-offered",
    title="The target takes a route that its code does not offer",
    severity=Severity.ERROR,
    each=selectors.dwelling,
    check=_route_not_offered,
    message="The target asks for the {route}; {title} offers the {offered} only, and that was used.",
    todo="Leave the route out, or name a code that offers it.",
    basis=_TARGET,
    remedy=_drop_route,
)
CREDIT_NOT_EARNED = Rule(
    id="airflow/credit-not-earned",
    title="A credit is claimed without its conditions",
    severity=Severity.ERROR,
    each=selectors.dwelling,
    check=_credit_not_earned,
    message="The credit {credits} cannot be claimed under {code}: {why}. It was left out of the arithmetic.",
    working="out of balance: {stages}; credits of this code: {offered}",
    todo="{way_out}",
    basis=_TARGET,
)

RULES = (
    BELOW_TARGET,
    WINDOW_BELOW,
    TOO_SHORT,
    TOO_SMALL,
    ABOVE_TARGET,
    UNBALANCED,
    ROUTE_NOT_OFFERED,
    CREDIT_NOT_EARNED,
)
