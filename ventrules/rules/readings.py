"""Rules about what was measured and seen on site, against what the catalog and the survey predict."""

from typing import Final

from ventrules.engine import CannotTell, Evidence, Finding, Place, Rule, Severity, evidence
from ventrules.engine.once import forget
from ventrules.rules.airflow import asked, delivered, dwelling, moments, unit
from ventrules.rules.cautions import COMBUSTION, WIRING
from ventrules.sources import Basis, Known, practice
from ventrules.survey import DwellingView, Survey, measured
from ventrules.survey.interval import LEAST_PART, Interval, Verdict, enough_to_tell, largest_part, verdict
from ventrules.survey.measured import IndicatorView, ReadingView, StreamView, VoltageView
from ventrules.units import Airflow, Share, Voltage
from ventrules.words import listed, nearest, some_of

_CATALOG: Final = Basis("catalog entry of the model", Known.CATALOG)
_READINGS: Final = Place.at("readings")
_MEASURING: Final = practice("what is measured is known as well as its instrument measures")
_TOO_MUCH: Final = f"{Share.shown(LEAST_PART, '%')} of that error is still too much"
# What a voltage may come from, at a device and at the source itself.
_TOO_LOW: Final = (
    "a poor splice or loose screw, a cable longer or thinner than noted, or a load that the job does not have",
    "low mains, a tap for another mains voltage, or an overload",
)
_TOO_HIGH: Final = (
    "a source that gives too much, or another one that feeds the same conductors",
    "high mains, a tap for another mains voltage, or another source on the same conductors",
)
# Too little air, by whatever is asked: more of it never brings one of these.
_SHORT: Final = (
    delivered.BELOW_TARGET,
    delivered.WINDOW_BELOW,
    delivered.TOO_SHORT,
    dwelling.TOO_SMALL,
    moments.BELOW_FLOOR,
    moments.EXPOSURE_MISSED,
    unit.LOCAL_EXHAUST,
    asked.TOTAL_TOO_SMALL,
)


def _airflow_known(survey: Survey) -> str:
    told = "" if measured.airflow_told(survey) else " (taken as usual, since the job does not tell it)"
    return f"{measured.airflow_accuracy(survey)}{told}"


def _voltage_known(survey: Survey) -> str:
    told = "" if measured.voltage_told(survey) else " (taken as usual, since the job does not tell it)"
    return f"{measured.voltage_accuracy(survey)}{told}"


def _of_airflow(interval: Interval, like: Airflow) -> str:
    return f"{Airflow.shown(interval.low, like.unit)} to {Airflow.shown(interval.high, like.unit)}"


def _of_voltage(interval: Interval, like: Voltage) -> str:
    return f"{Voltage.shown(interval.low, like.unit)} to {Voltage.shown(interval.high, like.unit)}"


def _measure_again(instrument: str, off: Airflow | Voltage, off_si: float) -> str:
    if off_si <= 0.0:
        return f"Measure once more: as it was read, it is on the very limit, where no {instrument} can tell."
    return f"Measure again with a better {instrument}; one that is off by less than {off} there is good enough."


def _rated(stream: StreamView) -> Evidence | CannotTell | None:
    survey, allowed, found = stream.survey, stream.allowed, stream.interval()
    said = verdict(found, allowed)
    if said is Verdict.HOLDS:
        return None
    name, stage, read = stream.at.ventilator.name, stream.at.stage, stream.measured
    basis = survey.limits.measuring.basis
    if said is Verdict.CANNOT_TELL:
        off_m3s = enough_to_tell(read.m3s, allowed)
        return CannotTell(
            f"Whether {name} gives its rated {stream.name} airflow at {stage} cannot be told: {read} was measured to "
            f"within {_airflow_known(survey)}, so it is {_of_airflow(found, read)}; near enough to the rated "
            f"{stream.rated} is {_of_airflow(allowed, read)}.",
            _measure_again("instrument", Airflow.shown(off_m3s, read.unit), off_m3s),
            basis=basis,
        )
    return evidence(
        basis=basis,
        related=(stream.at.ventilator.place,),
        ventilator=name,
        stage=stage,
        stream=stream.name,
        measured=read,
        rated=stream.rated,
        side="less" if read.m3s < stream.rated.m3s else "more",
        found=_of_airflow(found, read),
        accuracy=_airflow_known(survey),
        within=Share.shown(survey.limits.measuring.from_rating, "%"),
        allowed=_of_airflow(allowed, read),
    )


def _missed(survey: Survey, part: float) -> frozenset[tuple[str, str]]:
    """Return what the job falls short of if every measured airflow were off by a part of what it may be."""
    moved = measured.with_airflow_off(survey, part)
    said = [finding for rule in _SHORT for finding in rule.examine(moved, remedies=False)]
    forget(moved)
    return frozenset((f.rule, f.place.name) for f in said if isinstance(f, Finding) and not f.unchecked)


def _short_of_plan(view: DwellingView) -> CannotTell | None:
    survey = view.survey
    low = _missed(survey, -measured.WHOLE)
    undecided = low - _missed(survey, measured.WHOLE) if low else low
    if not undecided:
        return None  # enough even then; or too little in any case, which the rules of airflow say

    def tells(part: float) -> bool:
        missed = _missed(survey, -part)
        return not undecided & missed or undecided & missed <= _missed(survey, part)

    part = largest_part(tells)
    rules, places = (sorted({*column}) for column in zip(*undecided, strict=True))
    better = (
        f"{Share.shown(part, '%')} of that error is good enough"
        if part
        else f"{_TOO_MUCH}, or raise the programs a little"
    )
    return CannotTell(
        f"Whether the measured airflow is enough cannot be told: it was measured to within {_airflow_known(survey)}; "
        f"if it is lower by that, {listed(rules)} would speak up at {some_of(places)}.",
        f"Measure again with a better instrument; {better}.",
        at=_READINGS,
        basis=survey.limits.measuring.basis,
    )


def _balance(view: ReadingView) -> CannotTell | None:
    survey = view.survey
    definition, by = survey.balance
    if view.balance(definition) is not Verdict.CANNOT_TELL:
        return None
    supply, exhaust = view.streams
    part = largest_part(lambda part: view.balance(definition, part) is not Verdict.CANNOT_TELL)
    better = (
        f"{Share.shown(part, '%')} of that error is good enough"
        if part
        else f"{_TOO_MUCH}, or bring the two streams closer together"
    )
    others = "; ".join(
        f"{other.basis.title} ({other.test.value}): {view.balance(other).value}"
        for other in survey.limits.balance_tests
    )
    return CannotTell(
        f"Whether {view.ventilator.name} is balanced at {view.stage} cannot be told: supply {supply.measured} and "
        f"exhaust {exhaust.measured} were measured to within {_airflow_known(survey)}, so they are "
        f"{_of_airflow(supply.interval(), supply.measured)} and {_of_airflow(exhaust.interval(), exhaust.measured)}; "
        f"{definition.test.value} may be at most {Share.shown(definition.fraction, '%')}. "
        f"By the published definitions: {others}.",
        f"Measure again with a better instrument; {better}.",
        basis=by,
    )


def _outside_window(view: VoltageView) -> Evidence | CannotTell | None:
    if not view.has_supply:
        return None  # a rule of its own speaks of it
    survey, read = view.survey, view.measured
    if view.window is None:
        return CannotTell(
            f"Whether {read} suits {view.port} cannot be told: the catalog gives neither its voltages nor its nominal.",
            "Look the voltage up in the unit's instructions and add it to the catalog.",
            basis=survey.limits.voltage_window.basis,
        )
    window, basis = view.window
    allowed = Interval(window.lowest.v, window.highest.v)
    said = verdict(view.interval(), allowed)
    if said is Verdict.HOLDS:
        return None
    if said is Verdict.CANNOT_TELL:
        off_v = enough_to_tell(read.v, allowed)
        return CannotTell(
            f"Whether {read} suits {view.port} cannot be told: it was measured to within {_voltage_known(survey)}, so "
            f"it is {_of_voltage(view.interval(), read)}; the device works from {window.lowest} to {window.highest}.",
            _measure_again("meter", Voltage.shown(off_v, read.unit), off_v),
            basis=basis,
        )
    return evidence(
        basis=basis,
        port=str(view.port),
        measured=read,
        side="low" if read.v < window.lowest.v else "high",
        lowest=window.lowest,
        highest=window.highest,
        found=_of_voltage(view.interval(), read),
        accuracy=_voltage_known(survey),
    )


def _as_predicted(view: VoltageView, part: float = measured.WHOLE) -> Verdict | None:
    allowed = view.predicted(part)
    return verdict(view.interval(part), allowed) if allowed is not None else None


def _not_predicted(view: VoltageView) -> Evidence | CannotTell | None:
    survey, read, said, allowed = view.survey, view.measured, _as_predicted(view), view.predicted()
    if not view.has_supply or allowed is None or said is Verdict.HOLDS or isinstance(_outside_window(view), Evidence):
        return None
    source, limits = str(view.source), survey.limits
    basis = limits.measuring.basis if view.source_measured is not None else limits.measuring.source_basis
    if said is Verdict.CANNOT_TELL:
        part = largest_part(lambda part: _as_predicted(view, part) is not Verdict.CANNOT_TELL)
        better = (
            f"with a better meter; {Share.shown(part, '%')} of that error is good enough"
            if part
            else f"with a better meter; {_TOO_MUCH}"
        )
        return CannotTell(
            f"Whether {read} at {view.port} is as it should be cannot be told: it was measured to within "
            f"{_voltage_known(survey)}, so it is {_of_voltage(view.interval(), read)}; with {source} as the source, "
            f"{_of_voltage(allowed, read)} is expected.",
            f"Measure at {source} and at {view.port} {better}.",
            basis=basis,
        )
    low, own = read.v < allowed.low, view.source == view.port
    return evidence(
        basis=basis,
        port=str(view.port),
        measured=read,
        source=source,
        allowed=_of_voltage(allowed, read),
        found=_of_voltage(view.interval(), read),
        accuracy=_voltage_known(survey),
        how="as measured" if view.source_measured else "at its nominal voltage, give or take what its mains may be off",
        lost=Share.shown(limits.measuring.at_connections, "%"),
        likely=(_TOO_LOW if low else _TOO_HIGH)[own],
    )


def _no_supply(view: VoltageView) -> Evidence | None:
    if view.has_supply:
        return None
    terminals = tuple(sorted(view.described.terminals)) or ("none",)
    return evidence(port=str(view.port), measured=view.measured, terminals=terminals)


def _tells(powered: bool | None, reachable: bool | None) -> str:
    """Return what a state tells of supply and messages, in words."""
    supply = {True: "it has its supply", False: "it has no supply"}
    messages = {True: "it hears the controller", False: "it does not hear the controller"}
    said = [supply[powered]] if powered is not None else []
    said += [messages[reachable]] if reachable is not None else []
    return listed(said) or "nothing of its supply or its messages"


def _fault_shown(view: IndicatorView) -> Evidence | None:
    state = view.state
    if state is None or not state.fault:
        return None
    return evidence(
        device=view.device,
        indicator=view.indicator,
        state=view.words,
        meaning=state.meaning,
        tells=_tells(state.powered, state.reachable),
    )


def _unknown_state(view: IndicatorView) -> Evidence | None:
    if view.state is not None:
        return None
    close = nearest(str(view.shown), (state.state for state in view.states))
    return evidence(
        device=view.device,
        indicator=view.indicator,
        state=view.words,
        described=tuple(f"{state.state} ({state.meaning})" for state in view.states) or ("none",),
        hint=f"; nearest is {close}" if close is not None else "",
    )


OUTSIDE_WINDOW = Rule(
    id="readings/voltage-outside-window",
    title="A measured voltage is outside what the device works at",
    severity=Severity.ERROR,
    each=measured.voltages,
    check=_outside_window,
    message="{measured} was measured at {port}, which is too {side}: the device works from {lowest} to {highest}.",
    working="measured to within {accuracy}: {found}",
    todo=(
        "Measure between supply and common at each screw from the source to {port}, with everything running: where the "
        "voltage changes is the fault."
    ),
    basis=_MEASURING,
    cautions=(WIRING,),
)
NOT_PREDICTED = Rule(
    id="readings/voltage-not-as-predicted",
    title="A measured voltage is not what source, cables and draws explain",
    severity=Severity.WARNING,
    each=measured.voltages,
    check=_not_predicted,
    message="{measured} was measured at {port}; {allowed} is expected there, with {source} as the source.",
    working=(
        "{source} {how}, with all draws at their most down to none, and up to {lost} lost at screws and splices. "
        "Measured to within {accuracy}: {found}"
    ),
    todo="Look for {likely}: measure at the screws of {source} first, then at each one on the way to {port}.",
    basis=_MEASURING,
    cautions=(WIRING,),
)
NO_SUPPLY = Rule(
    id="readings/voltage-without-supply",
    title="A voltage was measured where there is no supply",
    severity=Severity.WARNING,
    each=measured.voltages,
    check=_no_supply,
    message="{measured} is noted at {port}, which has no supply terminals ({terminals}); it cannot be judged.",
    todo="Note it at the port where it was measured, between its supply and common screws.",
    basis=_CATALOG,
)
NOT_RATED = Rule(
    id="readings/airflow-not-as-rated",
    title="A measured airflow is far from its rating",
    severity=Severity.WARNING,
    each=measured.streams,
    check=_rated,
    message="{ventilator} gives {side} {stream} airflow at {stage} than rated: {measured} measured, {rated} rated.",
    working="measured to within {accuracy}: {found}; within {within} of the rating is {allowed}",
    todo="Look at filters, outdoor hoods, dampers and ducts, set {stage} again, and measure again.",
    basis=_MEASURING,
)
SHORT_OF_PLAN = Rule(
    id="readings/airflow-short-of-plan",
    title="Whether the measured airflow is enough depends on the instrument",
    severity=Severity.WARNING,
    each=measured.measured_dwelling,
    check=_short_of_plan,
    message="Whether the measured airflow is enough cannot be told.",
    todo="Measure again with a better instrument.",
    basis=_MEASURING,
)
BALANCE_UNCERTAIN = Rule(
    id="readings/balance-uncertain",
    title="Whether supply and exhaust are balanced depends on the instrument",
    severity=Severity.WARNING,
    each=measured.readings_in_use,
    check=_balance,
    message="Whether the two streams are balanced cannot be told.",
    todo="Measure again with a better instrument.",
    basis=_MEASURING,
    cautions=(COMBUSTION,),
)
FAULT_SHOWN = Rule(
    id="readings/indicator-fault",
    title="An indicator shows a fault",
    severity=Severity.ERROR,
    each=measured.indicators,
    check=_fault_shown,
    message="{indicator} of {device} showed {state}: {meaning}.",
    working="by its catalog entry: {tells}",
    todo="Go to {device} and put right what it tells of ({meaning}), then look at {indicator} again.",
    basis=_CATALOG,
    cautions=(WIRING,),
)
UNKNOWN_STATE = Rule(
    id="readings/indicator-unknown-state",
    title="An indicator shows what its catalog entry does not describe",
    severity=Severity.WARNING,
    each=measured.indicators,
    check=_unknown_state,
    message="{indicator} of {device} showed {state}; described are {described}{hint}.",
    todo="Look at {indicator} again and count the flashes, or look the state up in the unit's instructions.",
    basis=_CATALOG,
)

RULES = (
    OUTSIDE_WINDOW,
    NOT_PREDICTED,
    NO_SUPPLY,
    NOT_RATED,
    SHORT_OF_PLAN,
    BALANCE_UNCERTAIN,
    FAULT_SHOWN,
    UNKNOWN_STATE,
)
