"""Rules about what is asked of the dwelling: whether it is known, and by which airflow, balance and capacity."""

from ventrules.codes import UnknownRequirementError, is_balanced, room_rate
from ventrules.engine import CannotTell, Evidence, Place, Remedy, Rule, Severity, evidence
from ventrules.job import Counts, Room
from ventrules.planner import remove, swap_one_of
from ventrules.planner.shortfalls import turned_down
from ventrules.rules import selectors
from ventrules.rules.airflow.arithmetic import TARGET, enough_capacity, steps
from ventrules.rules.cautions import COMBUSTION
from ventrules.sources import Basis, Known
from ventrules.survey import DwellingView, VentilatorView
from ventrules.units import Share, at_least

_COUNTS = Place.at("target", "counts")
_ONE_OR_MEAN = {
    Counts.SUPPLY: "the supply airflow",
    Counts.EXHAUST: "the exhaust airflow",
    Counts.LESSER: "the lesser of supply and exhaust",
    Counts.LARGER: "the larger of supply and exhaust",
    Counts.MEAN: "the mean of supply and exhaust",
}
_ROOMS = Place.at("dwelling", "rooms")


def _unknown(dwelling: DwellingView) -> CannotTell | None:
    survey = dwelling.survey
    if survey.unknown is None:
        return None
    title = survey.code.title if survey.code is not None else "the target"
    return CannotTell(
        f"What {title} asks of this dwelling cannot be told: {survey.unknown}.",
        f"Mend that ({survey.unknown}), or name another code.",
        basis=Basis(title, Known.JOB) if survey.code is not None else None,
    )


def _wrong_airflow(dwelling: DwellingView) -> Evidence | None:
    survey = dwelling.survey
    code, counted = survey.code, survey.job.target.counts
    if code is None or counted is None or counted is code.counts:
        return None
    return evidence(
        at=_COUNTS,
        basis=code.basis(code.counts_basis),
        title=code.title,
        counted=_ONE_OR_MEAN[counted],
        counts=_ONE_OR_MEAN[code.counts],
    )


def _drop_counts(_dwelling: DwellingView) -> Remedy:
    return Remedy(
        title="Leave the airflow to the code",
        edits=(remove(_COUNTS.path),),
        check_on_site="Measure supply and exhaust both, so that the airflow that counts can be shown.",
        assumes="Nobody who approves the job asked for the other airflow to be counted.",
    )


def _balance_required(dwelling: DwellingView) -> Evidence | None:
    survey = dwelling.survey
    code = survey.code
    if code is None or code.must_balance is None or not survey.unbalanced_stages:
        return None
    definition, by = survey.balance
    return evidence(
        basis=code.basis(code.must_balance),
        related=tuple(unit.place for unit, _stage in survey.unbalanced_stages),
        title=code.title,
        stages=tuple(f"{unit.name} at {both_flows(unit, stage)}" for unit, stage in survey.unbalanced_stages),
        apart=tuple(str(Share.shown(u.imbalance_at(stage, definition), "%")) for u, stage in survey.unbalanced_stages),
        limit=Share.shown(definition.fraction, "%"),
        test=definition.test.value,
        by=str(by),
        definitions=tuple(by_definition(unit, stage) for unit, stage in survey.unbalanced_stages),
    )


def both_flows(ventilator: VentilatorView, stage: str) -> str:
    """Return supply and exhaust of a stage in words."""
    flow, survey = ventilator.stages[stage], ventilator.survey
    how = "measured" if flow.measured else "rated"
    return f"{stage}: supply {survey.airflow(flow.supply_m3s)}, exhaust {survey.airflow(flow.exhaust_m3s)} ({how})"


def by_definition(ventilator: VentilatorView, stage: str) -> str:
    """Return by which of the published definitions a stage is balanced and by which it is not."""
    flow, rated = ventilator.stages[stage], ventilator.model.stages[stage]
    design = (rated.supply.m3s, rated.exhaust.m3s)
    verdicts = {
        definition.test.value: is_balanced(definition, flow.supply_m3s, flow.exhaust_m3s, design)
        for definition in ventilator.survey.limits.balance_tests
    }
    yes = ", ".join(name for name, balanced in verdicts.items() if balanced) or "none"
    no = ", ".join(name for name, balanced in verdicts.items() if not balanced) or "none"
    return f"{stage}: balanced by {yes}; not by {no}"


def _cannot_be_turned_down(dwelling: DwellingView) -> Evidence | None:
    survey = dwelling.survey
    code, required = survey.code, survey.requirement.continuous_m3s
    limit = code.oversize if code is not None else None
    if code is None or limit is None or turned_down(survey, limit):
        return None
    reached = {(unit.name, stage): unit.counted(stage) for unit in survey.driven for stage in unit.stages}
    return evidence(
        basis=code.basis(limit.basis),
        related=tuple(unit.place for unit in survey.driven),
        capacity=survey.airflow(survey.capacity_m3s),
        required=survey.airflow(required),
        over=Share.shown(survey.capacity_m3s / required - 1.0, "%"),
        beyond=Share.shown(limit.beyond, "%"),
        low=survey.airflow(required * (1.0 - limit.within)),
        high=survey.airflow(required * (1.0 + limit.within)),
        stages=tuple(f"{name} {stage} {survey.airflow(airflow)}" for (name, stage), airflow in reached.items()),
        steps=steps(dwelling),
    )


def _smaller_one(dwelling: DwellingView) -> Remedy | None:
    """Replace the largest ventilator, or the next one where the catalogs have none for it."""
    largest_first = sorted(dwelling.survey.driven, key=lambda unit: (-unit.most_m3s, unit.name))
    return swap_one_of(largest_first, lambda other: _cannot_be_turned_down(other.survey.dwelling) is None)


def _total_too_small(dwelling: DwellingView) -> Evidence | CannotTell | None:
    survey, home = dwelling.survey, dwelling.survey.job.dwelling
    code = survey.code
    if code is None or code.total is None or code.total.rooms is None or not enough_capacity(dwelling):
        return None
    try:
        total = room_rate(code.total.rooms, home)
    except UnknownRequirementError as unknown:
        return CannotTell(
            f"The capacity of all fans together cannot be told: {unknown}.",
            "Give the rooms.",
            basis=code.basis(code.total.rooms.basis),
        )
    own = {name: room for name, room in sorted(home.rooms.items()) if room.exhaust is not None and not room.exhaust_by}
    fans = sum(_airflow(room) for room in own.values())
    if at_least(survey.capacity_m3s + fans, total):
        return None
    return evidence(
        at=_ROOMS,
        basis=code.basis(code.total.rooms.basis),
        total=survey.airflow(total),
        ventilators=survey.airflow(survey.capacity_m3s),
        fans=survey.airflow(fans),
        together=survey.airflow(survey.capacity_m3s + fans),
        named=tuple(f"{name} {room.exhaust}" for name, room in own.items()) or ("none",),
        shortfall=survey.airflow(total - survey.capacity_m3s - fans),
    )


def _airflow(room: Room) -> float:
    return room.exhaust.m3s if room.exhaust is not None else 0.0


UNKNOWN = Rule(
    id="airflow/target-unknown",
    title="What the code asks of this dwelling cannot be told",
    severity=Severity.ERROR,
    each=selectors.dwelling,
    check=_unknown,
    message="What is asked cannot be told.",
    todo="Give the dwelling what is missing, or name another code.",
    basis=TARGET,
)
WRONG_AIRFLOW = Rule(
    id="airflow/wrong-airflow-counted",
    title="The target counts another airflow than its code",
    severity=Severity.ERROR,
    each=selectors.dwelling,
    check=_wrong_airflow,
    message="The target counts {counted}; {title} counts {counts}, and that was used.",
    todo="Leave `counts` out of the target, and look again at programs that were set by the other airflow.",
    basis=TARGET,
    remedy=_drop_counts,
)
BALANCE_REQUIRED = Rule(
    id="airflow/balance-required",
    title="The code asks for a balanced system, and this one is not",
    severity=Severity.ERROR,
    each=selectors.dwelling,
    check=_balance_required,
    message="{title} asks for a balanced system; out of balance is {stages}.",
    working=("apart by {apart} ({test}); {limit} is allowed by {by}. By the published definitions: {definitions}"),
    todo="Balance supply and exhaust at the dampers or in the unit, then measure again.",
    basis=TARGET,
    cautions=(COMBUSTION,),
)
CANNOT_BE_TURNED_DOWN = Rule(
    id="airflow/cannot-be-turned-down",
    title="The ventilator is far larger than the rate and has no stage near it",
    severity=Severity.ERROR,
    each=selectors.asked_dwelling,
    check=_cannot_be_turned_down,
    message=(
        "The capacity of {capacity} is {over} above {required}; a unit more than {beyond} above it needs a stage "
        "between {low} and {high}."
    ),
    working="stages: {stages}. Asked for: {steps}",
    todo="Adjust a stage to between {low} and {high} and measure it, or choose a smaller ventilator.",
    basis=TARGET,
    remedy=_smaller_one,
)
TOTAL_TOO_SMALL = Rule(
    id="airflow/total-capacity-too-small",
    title="All fans together are too small",
    severity=Severity.ERROR,
    each=selectors.asked_dwelling,
    check=_total_too_small,
    message="All fans together give {together}; the rooms ask for {total}.",
    working="ventilators {ventilators}, fans of the rooms' own {fans} ({named}); short by {shortfall}",
    todo="Add exhaust fans in kitchens, bathrooms and toilets that give {shortfall} more.",
    basis=TARGET,
)

RULES = (UNKNOWN, WRONG_AIRFLOW, BALANCE_REQUIRED, CANNOT_BE_TURNED_DOWN, TOTAL_TOO_SMALL)
