"""Rules about the airflow of the dwelling as a whole and of each ventilator."""

from ventrules.codes import CodeKind
from ventrules.engine import Edit, Evidence, Place, Remedy, Rule, Severity, evidence
from ventrules.engine.findings import Document
from ventrules.planner import put, remove, swap_one_of
from ventrules.rules import selectors
from ventrules.rules.airflow.arithmetic import TARGET, enough_capacity, steps
from ventrules.rules.airflow.asked import both_flows, by_definition
from ventrules.rules.cautions import COMBUSTION
from ventrules.survey import DwellingView, VentilatorView
from ventrules.units import Share
from ventrules.words import listed

_CREDITS = Place.at("target", "credits")
_MODES = Place.at("modes")
_ROUTE = Place.at("target", "route")
_TAKE_OUT = "Take the credit out of the target."


def _held_nowhere(dwelling: DwellingView) -> Evidence | None:
    survey = dwelling.survey
    if survey.requirement.kind is CodeKind.CAPACITY:
        return None
    if not survey.ventilators or any(mode.occupancy in survey.requirement.judged for mode in survey.modes):
        return None
    return evidence(
        at=_MODES,
        modes=tuple(f"{mode.name} ({mode.occupancy.value})" for mode in survey.modes) or ("none",),
        judged=tuple(sorted(occupancy.value for occupancy in survey.requirement.judged)),
        required=survey.airflow(survey.requirement.continuous_m3s),
        steps=steps(dwelling),
    )


def _too_small(dwelling: DwellingView) -> Evidence | None:
    survey = dwelling.survey
    if not survey.driven or enough_capacity(dwelling):
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
        steps=steps(dwelling),
    )


def _larger_one(dwelling: DwellingView) -> Remedy | None:
    """Replace the smallest ventilator, or the next one where the catalogs have none for it."""
    smallest_first = sorted(dwelling.survey.driven, key=lambda unit: (unit.most_m3s, unit.name))
    return swap_one_of(smallest_first, lambda other: _too_small(other.survey.dwelling) is None)


def _unbalanced(ventilator: VentilatorView) -> Evidence | None:
    survey = ventilator.survey
    stages = tuple(stage for unit, stage in survey.unbalanced_stages if unit is ventilator)
    if not stages or (survey.code is not None and survey.code.must_balance is not None):
        return None  # where the code asks for balance, a rule of its own says so
    definition, basis = survey.balance
    return evidence(
        basis=basis,
        ventilator=ventilator.name,
        stages=stages,
        flows=tuple(both_flows(ventilator, stage) for stage in stages),
        apart=tuple(str(Share.shown(ventilator.imbalance_at(stage, definition), "%")) for stage in stages),
        limit=Share.shown(definition.fraction, "%"),
        test=definition.test.value,
        definitions=tuple(by_definition(ventilator, stage) for stage in stages),
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
    return Remedy(
        title="Leave the route out, so that the code's own is used",
        edits=(remove(_ROUTE.path),),
        check_on_site="Ask which edition of the code is in force there.",
        assumes="The code is the right one, and its route was a slip.",
    )


def _credit_not_earned(dwelling: DwellingView) -> Evidence | None:
    survey = dwelling.survey
    code = survey.code
    lost = tuple(sorted(set(survey.job.target.credits) - survey.credits_earned))
    if code is None or not lost:
        return None
    known = [code.credits[name] for name in lost if name in code.credits and set(lost) <= code.credits.keys()]
    strange = tuple(name for name in lost if name not in code.credits)
    why = f"its conditions are: {known[0].conditions}" if known else f"{code.title} has no credit {listed(strange)}"
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


def _drop_credits(dwelling: DwellingView) -> Remedy | None:
    """Take out credits that the code does not have; one whose conditions are missed may be worth meeting them."""
    survey = dwelling.survey
    code, kept = survey.code, [name for name in survey.job.target.credits if name in survey.credits_earned]
    if code is None or any(name in code.credits for name in set(survey.job.target.credits) - set(kept)):
        return None
    value: list[Document] = [*kept]
    edits: tuple[Edit, ...] = put(survey.job, _CREDITS.path, value) if kept else (remove(_CREDITS.path),)
    return Remedy(
        title=_TAKE_OUT.rstrip("."),
        edits=edits,
        assumes="The code is the right one, and the credit was a slip.",
        check_on_site="Ask which edition of the code is in force there, and whether it was amended.",
    )


HELD_NOWHERE = Rule(
    id="airflow/target-held-nowhere",
    title="The target is held in no mode",
    severity=Severity.ERROR,
    each=selectors.asked_dwelling,
    check=_held_nowhere,
    message="No mode has people at home: {modes}. The target of {required} is held while {judged}, so it is never met.",
    working="asked for: {steps}",
    todo="Give the modes in which people live there the occupancy that they have.",
    basis=TARGET,
)
TOO_SMALL = Rule(
    id="airflow/ventilator-too-small",
    title="The ventilators are too small even at their highest stage",
    severity=Severity.ERROR,
    each=selectors.asked_dwelling,
    check=_too_small,
    message="All of the time at the highest stage gives {capacity}; {required} is asked for.",
    working="highest stages: {terms}; asked for: {steps}; short by {shortfall}",
    todo="Choose a larger ventilator or add one that gives {shortfall} more.",
    basis=TARGET,
    remedy=_larger_one,
)
UNBALANCED = Rule(
    id="airflow/unbalanced",
    title="Supply and exhaust are out of balance",
    severity=Severity.WARNING,
    each=selectors.driven_ventilators,
    check=_unbalanced,
    message="{ventilator} is out of balance at {flows}.",
    working="apart by {apart} ({test}); {limit} is allowed. By the published definitions: {definitions}",
    todo="Balance the two streams at the dampers or in the unit, then measure again.",
    basis=TARGET,
    cautions=(COMBUSTION,),
)
ROUTE_NOT_OFFERED = Rule(
    id="airflow/route-not-offered",
    title="The target takes a route that its code does not offer",
    severity=Severity.ERROR,
    each=selectors.asked_dwelling,
    check=_route_not_offered,
    message="The target asks for the {route}; {title} offers the {offered} only, and that was used.",
    todo="Leave the route out, or name a code that offers it.",
    basis=TARGET,
    remedy=_drop_route,
)
CREDIT_NOT_EARNED = Rule(
    id="airflow/credit-not-earned",
    title="A credit is claimed without its conditions",
    severity=Severity.ERROR,
    each=selectors.asked_dwelling,
    check=_credit_not_earned,
    message="The credit {credits} cannot be claimed under {code}: {why}. It was left out of the arithmetic.",
    working="out of balance: {stages}; credits of this code: {offered}",
    todo="{way_out}",
    basis=TARGET,
    remedy=_drop_credits,
)

RULES = (HELD_NOWHERE, TOO_SMALL, UNBALANCED, ROUTE_NOT_OFFERED, CREDIT_NOT_EARNED)
