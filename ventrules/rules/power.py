"""Rules about power: what feeds what, how much is drawn, and the voltage that is left at each device."""

from collections.abc import Iterator

from ventrules.engine import CannotTell, Evidence, Place, Remedy, Rule, Severity, evidence
from ventrules.job import BusKind, VoltageWindow
from ventrules.planner import swap_transformer, thicker_cable
from ventrules.rules import selectors
from ventrules.rules.cautions import WIRING
from ventrules.sources import Basis, Known, practice
from ventrules.survey import PortRef, SupplyView
from ventrules.survey.circuit import Collapse, Solution
from ventrules.survey.feeding import loop_of
from ventrules.survey.power import Step
from ventrules.units import Current, Power, Resistance, Share, Voltage, at_least, at_most
from ventrules.words import listed, some_of

_CATALOG = Basis("catalog entry of the source", Known.CATALOG)
_WINDOW = Basis("the device's catalog entry, else common practice", Known.PER_FINDING)
_CLASS_2 = Basis("the electrical code's rules for class 2 circuits", Known.PER_FINDING)
_NO_VOLTAGE = "The catalog gives no nominal voltage of {source}, so what reaches the devices on it cannot be told."
_TO_CATALOG = "Look it up on the nameplate and add it to the catalog."


def _volts(value_v: float) -> Voltage:
    return Voltage.shown(value_v, "V")


def _va(value_va: float) -> Power:
    return Power.shown(value_va, "VA")


def _no_source(supply: SupplyView) -> Evidence | CannotTell | None:
    if (supply.sources and not supply.circular) or not supply.draws:
        return None
    if supply.circular:
        why = f"{listed(map(str, supply.sources))} would feed it, and is fed from it in turn"
    elif supply.untold:
        drawing = listed(str(draw.port) for draw in supply.draws)
        return CannotTell(
            f"What feeds {drawing} cannot be told, and what is drawn there counts for no source: the catalog does not "
            f"give the terminals of {some_of([str(ref) for ref in supply.untold])}.",
            "Look the terminals up in the unit's instructions, and add each with its role to the catalog.",
        )
    elif supply.wired:
        why = "no port that its cables join to it supplies power"
    elif _left_bare(supply):
        why = "no cable is on it"
    else:
        return None
    return evidence(
        ports=tuple(str(draw.port) for draw in supply.draws),
        draw=_va(supply.drawn_va),
        why=why,
        related=tuple(cable.place for cable in supply.cables),
    )


def _left_bare(supply: SupplyView) -> bool:
    """Say whether a power port without a cable is on a device that is wired otherwise; others speak of the rest."""
    topology = supply.survey.topology
    return all(topology.kind(ref) is BusKind.POWER and ref.device not in topology.isolated for ref in supply.ports)


def _two_sources(supply: SupplyView) -> Evidence | None:
    sources = supply.sources
    if len(sources) <= 1:
        return None
    return evidence(
        basis=supply.survey.limits.power_limited.parallel_basis,
        sources=tuple(map(str, sources)),
        count=len(sources),
        offers=tuple(_offer(supply, ref) for ref in sources),
        related=tuple(supply.survey.device(ref.device).place for ref in sources),
    )


def _offer(supply: SupplyView, ref: PortRef) -> str:
    port = supply.port(ref)
    volts = f" at {port.voltage}" if port.voltage is not None else ""
    return f"{port.supplies}{volts} from {ref}"


def _overloaded(supply: SupplyView) -> Evidence | None:
    source = supply.source
    most = supply.port(source).supplies if source is not None else None
    if source is None or most is None or supply.most_va <= most.w or at_most(supply.taken_va, most.w):
        return None
    taken = _va(supply.taken_va)
    return evidence(source=str(source), supplies=most, taken=taken, sum=" + ".join(_parts(supply)))


def _parts(supply: SupplyView) -> Iterator[str]:
    for draw in supply.draws:
        if draw.own_va > 0.0:
            yield f"{_va(draw.own_va)} {draw.port}"
        if draw.passed_va > 0.0:
            yield f"{_va(draw.passed_va)} passed on by {draw.port.device}"
    lost_va = supply.taken_va - supply.drawn_va
    if isinstance(supply.outcome, Solution) and supply.carrying:
        yield f"{_va(max(lost_va, 0.0))} lost in the wires"


def _cannot_tell(supply: SupplyView) -> CannotTell | None:
    """Say what is missing to tell the voltages at the devices on a net."""
    if supply.voltage is None:
        return CannotTell(_NO_VOLTAGE.format(source=supply.source), _TO_CATALOG, basis=_CATALOG)
    unrated = [str(draw.port) for draw in supply.draws if supply.window(draw.port) is None]
    if unrated:
        return CannotTell(
            f"The catalog gives neither a nominal voltage nor the voltages at which it works of {some_of(unrated)}.",
            _TO_CATALOG,
            basis=_CATALOG,
        )
    too_cold = [cable for cable in supply.unknown if None not in (cable.cable.gauge, cable.cable.length)]
    if too_cold:
        cable = too_cold[0]
        return CannotTell(
            f"The cable between {cable.cable.start} and {cable.cable.end} is given {cable.cable.temperature}; copper "
            f"wire is not reckoned with there, so the voltage at the devices that {supply.source} feeds is not known.",
            "Correct the temperature of the cable.",
            at=cable.place,
        )
    return None  # what else is not told, `wiring/cable-not-told` says


def _too_low(supply: SupplyView) -> Evidence | CannotTell | None:
    if supply.surely_fed or not supply.draws or supply.source is None:
        return None
    untold = _cannot_tell(supply)
    if untold is not None:
        return untold
    if isinstance(supply.outcome, Collapse):
        return _collapsed(supply, supply.source, supply.outcome)
    worst = supply.worst
    known = supply.window(worst) if worst is not None else None
    if worst is None or known is None:
        return None
    window, basis = known
    found_v, low = supply.voltages_v[worst], [ref for ref in supply.margins_v if not _enough(supply, ref)]
    if not low:
        return None
    also = f", and too little as well at {some_of([str(ref) for ref in low if ref != worst])}" if low[1:] else ""
    steps = supply.way_to(worst)
    return evidence(
        basis=basis,
        source=str(supply.source),
        worst=str(worst),
        voltage=_volts(found_v),
        lowest=window.lowest,
        missing=_volts(window.lowest.v - found_v),
        loop=Resistance.shown(sum(step.ohm for step in steps), "ohm"),
        found=(
            f"{_volts(found_v)} of the {supply.voltage} of {supply.source} are left at {worst}, which works "
            f"{_between(window)}: {_volts(window.lowest.v - found_v)} are missing{also}"
        ),
        arithmetic=f"{supply.voltage} - {_lost(steps)} = {_volts(found_v)} < {window.lowest}",
        related=(supply.survey.device(worst.device).place, *(step.cable.place for step in steps)),
    )


def _enough(supply: SupplyView, ref: PortRef) -> bool:
    known = supply.window(ref)
    return known is None or at_least(supply.voltages_v[ref], known[0].lowest.v)


def _between(window: VoltageWindow) -> str:
    return f"from {window.lowest} to {window.highest}"


def _lost(steps: tuple[Step, ...]) -> str:
    """Return what is lost on a way, cable by cable: what flows, through what loop."""
    lost = [
        f"{_volts(step.volt)} ({Current.shown(step.ampere, 'A')} x {Resistance.shown(step.ohm, 'ohm')}, "
        f"{step.cable.cable.length} of {step.cable.cable.gauge})"
        for step in steps
    ]
    return " - ".join(lost) or "nothing"


def _collapsed(supply: SupplyView, source: PortRef, outcome: Collapse[PortRef]) -> Evidence:
    way = supply.path_to(outcome.node)
    carried, drawn = Share.shown(outcome.share, "%"), _va(supply.drawn_va)
    loop = Resistance.shown(sum(loop_of(cable) or 0.0 for cable in way), "ohm")
    drawing = [draw.port for draw in supply.draws if draw.va > 0.0]
    arithmetic = f"loop to {outcome.node}: {loop}; {carried} of {drawn} is the most that arrives"
    if drawing == [outcome.node] and len(way) == len(supply.carrying):
        arithmetic = f"V = {supply.voltage} - {loop} x {drawn} / V needs ({supply.voltage})² >= 4 x {loop} x {drawn}"
    return evidence(
        basis=practice("an electronic load takes more current as its voltage falls, until the wires carry no more"),
        source=str(source),
        worst=str(outcome.node),
        share=carried,
        loop=loop,
        found=(
            f"no steady voltage exists on what {source} feeds: the wires carry {carried} of the {drawn} that are drawn "
            f"and no more, and {outcome.node} gives way first"
        ),
        arithmetic=arithmetic,
        related=(supply.survey.device(outcome.node.device).place, *(cable.place for cable in way)),
    )


def _too_high(supply: SupplyView) -> Evidence | CannotTell | None:
    drawing = supply.drawing
    if not drawing or supply.source is None:
        return None
    if supply.voltage is None:
        return CannotTell(_NO_VOLTAGE.format(source=supply.source), _TO_CATALOG, basis=_CATALOG)
    over = [
        (known[0].highest.v, ref, known)
        for ref in drawing
        if (known := supply.window(ref)) is not None and not at_most(supply.voltage.v, known[0].highest.v)
    ]
    if not over:
        return None
    _highest, worst, (window, basis) = min(over, key=lambda entry: entry[:2])
    return evidence(
        at=_device_place(supply, worst),
        basis=basis,
        source=str(supply.source),
        voltage=supply.voltage,
        device=str(worst),
        window=_between(window),
        highest=window.highest,
        devices=tuple(str(ref) for _high, ref, _known in sorted(over, key=lambda entry: entry[1])),
        related=(supply.survey.device(supply.source.device).place,),
    )


def _device_place(supply: SupplyView, ref: PortRef) -> Place:
    return Place(supply.survey.device(ref.device).place.path, f"devices / {ref}")


def _beyond_class_2(supply: SupplyView) -> Evidence | None:
    source, most = supply.source, supply.survey.limits.power_limited
    port = supply.port(source) if source is not None else None
    if port is None or port.supplies is None or port.voltage is None or supply.voltage is None:
        return None
    at_current_w = most.current.a * supply.voltage.v
    if not at_most(port.voltage.v, most.voltage.v):
        bound = f"above {most.voltage}, a class 2 source gives next to nothing"
    elif not at_most(port.supplies.w, most.power.w):
        bound = f"up to {most.voltage}, a class 2 source gives {most.power} at most"
    elif not at_most(port.supplies.w, at_current_w):
        bound = f"a class 2 source gives {most.current} at most, which is {_va(at_current_w)} there"
    else:
        return None
    return evidence(basis=most.basis, source=str(source), supplies=port.supplies, voltage=port.voltage, bound=bound)


def _sound(supply: SupplyView) -> bool:
    """Say whether nothing is at fault with a source and the voltages that it holds."""
    return all(judge(supply) is None for judge in (_overloaded, _too_low, _too_high, _beyond_class_2))


def _other_transformer(supply: SupplyView) -> Remedy | None:
    return swap_transformer(supply, _sound)


def _more_voltage(supply: SupplyView) -> Remedy | None:
    return thicker_cable(supply, lambda other: _too_low(other) is None) or swap_transformer(supply, _sound)


NO_SOURCE = Rule(
    id="power/no-source",
    title="Nothing feeds a device",
    severity=Severity.ERROR,
    each=selectors.supplies,
    check=_no_source,
    message="{ports} would draw {draw}, and nothing feeds it: {why}.",
    todo="Wire it to the source that is meant for it, or add that source to the job.",
    basis=practice("what draws power is fed by one source"),
    cautions=(WIRING,),
)
TWO_SOURCES = Rule(
    id="power/two-sources",
    title="Two sources feed the same conductors",
    severity=Severity.ERROR,
    each=selectors.supplies,
    check=_two_sources,
    message="{count} sources are joined: {offers}.",
    todo=(
        "Do not power up. Leave one of {sources} on these conductors, and take the supply conductor of each other off "
        "and insulate it. Class 2 outputs are joined only where they are listed for that."
    ),
    basis=_CLASS_2,
    cautions=(WIRING,),
)
SOURCE_OVERLOADED = Rule(
    id="power/source-overloaded",
    title="More is drawn from a source than it supplies",
    severity=Severity.ERROR,
    each=selectors.supplies,
    check=_overloaded,
    message="{source} supplies {supplies}, and {taken} are drawn from it.",
    working="{sum} = {taken} > {supplies}",
    todo="Move part of the load to another source, or choose a source that supplies {taken} or more.",
    basis=_CATALOG,
    cautions=(WIRING,),
    remedy=_other_transformer,
)
VOLTAGE_TOO_LOW = Rule(
    id="power/voltage-too-low",
    title="Too little voltage is left at a device",
    severity=Severity.ERROR,
    each=selectors.supplies,
    check=_too_low,
    message="Of what the source holds, too little arrives: {found}.",
    working="{arithmetic}",
    todo="Run a shorter or thicker cable on the way from {source} to {worst}, or feed it from a source nearby.",
    basis=_WINDOW,
    cautions=(WIRING,),
    remedy=_more_voltage,
)
VOLTAGE_TOO_HIGH = Rule(
    id="power/voltage-too-high",
    title="A source's voltage is too high for a device",
    severity=Severity.ERROR,
    each=selectors.supplies,
    check=_too_high,
    message="{source} holds {voltage}, and {device} works {window}; too much for {devices}.",
    working="{voltage} > {highest}",
    todo="Do not power up. Feed {devices} from a source of its own voltage.",
    basis=_WINDOW,
    cautions=(WIRING,),
    remedy=_other_transformer,
)
BEYOND_CLASS_2 = Rule(
    id="power/beyond-class-2",
    title="A source gives more than a class 2 source may",
    severity=Severity.WARNING,
    each=selectors.fed_supplies,
    check=_beyond_class_2,
    message="{source} supplies {supplies} at {voltage}; {bound}.",
    todo=(
        "The easier wiring methods of power-limited circuits do not hold for its cables: choose a source listed as "
        "class 2, or have the circuit run as the local electrical code asks for one that is not."
    ),
    basis=_CLASS_2,
    cautions=(WIRING,),
    remedy=_other_transformer,
)
RULES = (NO_SOURCE, TWO_SOURCES, SOURCE_OVERLOADED, VOLTAGE_TOO_LOW, VOLTAGE_TOO_HIGH, BEYOND_CLASS_2)
