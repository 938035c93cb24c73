"""Rules about conductors: what each joins, and what is on the terminals."""

from typing import Final

from ventrules.engine import AnyRule, Evidence, Remedy, Rule, Severity, evidence
from ventrules.job import Carries
from ventrules.planner import straighten
from ventrules.rules import selectors
from ventrules.rules.cautions import WIRING
from ventrules.sources import Basis, Known, practice
from ventrules.survey import CableView, PortRef, Survey
from ventrules.survey.conductors import (
    ColorView,
    ConductorView,
    CrowdedView,
    Missing,
    crossed,
    missing,
    shared,
    terminals,
)
from ventrules.survey.copper import takes
from ventrules.words import listed, nearest, shown

_POWERED: Final = frozenset({Carries.SUPPLY, Carries.MAINS})
_ONE_ROLE: Final = practice(
    "each conductor of a bus joins terminals of one role; the data pair has a polarity, and crossed it inverts "
    "every bit"
)
_CATALOG: Final = Basis("catalog entry of the model", Known.CATALOG)


def _straighten(conductor: ConductorView) -> Remedy | None:
    return straighten(conductor.cable)


def _at(port: PortRef, name: str | None, role: str | None = None) -> str:
    if name is None:
        return f"nothing at {port}"
    said = shown(name) if role in (name, None) else f"{shown(name)} ({role})"
    return f"{said} of {port}"


def _pair(conductor: ConductorView) -> str:
    (start, end), joined = conductor.cable.ends, conductor.conductor
    return f"{_at(start, joined.start, conductor.start_role)} on {_at(end, joined.end, conductor.end_role)}"


def _crossed(cable: CableView) -> Evidence | None:
    wrong = crossed(cable)
    if not wrong:
        return None
    way_out = "Join each conductor to the terminal of the same role at both ends"
    powered = tuple(_pair(conductor) for conductor in wrong if _POWERED & set(conductor.carries))
    if powered:
        puts = "put" if powered[1:] else "puts"
        way_out = f"Do not power up: {listed(powered)} {puts} a supply where it does not belong. {way_out}"
    return evidence(
        at=wrong[0].place,
        related=tuple(conductor.place for conductor in wrong[1:]),
        start=cable.cable.start,
        end=cable.cable.end,
        pairs=tuple(_pair(conductor) for conductor in wrong),
        count=len(wrong),
        way_out=way_out,
    )


def _supply_on_data(conductor: ConductorView) -> Evidence | None:
    if not conductor.powers_data:
        return None
    return evidence(
        start=conductor.cable.cable.start,
        end=conductor.cable.cable.end,
        pair=_pair(conductor),
        carries=tuple(carried.value for carried in conductor.carries),
    )


def _too_few_cores(cable: CableView) -> Evidence | None:
    cores, wanted = cable.cable.cores, shared(cable)
    count = sum(wanted.values())
    if cores is None or cores >= count:
        return None
    return evidence(
        start=cable.cable.start,
        end=cable.cable.end,
        cores=cores,
        count=count,
        roles=tuple(role for role, times in wanted.items() for _time in range(times)),
    )


def _missing(cable: CableView) -> Evidence | None:
    """A cable of too few conductors has to be another one; what its conductors lack is the same fault."""
    lacking = missing(cable)
    if not lacking or _too_few_cores(cable) is not None:
        return None
    return evidence(
        start=cable.cable.start,
        end=cable.cable.end,
        roles=tuple(lack.role for lack in lacking),
        terminals=tuple(_lacks(cable, lack) for lack in lacking),
        count=sum(lack.needed - lack.joined for lack in lacking),
    )


def _lacks(cable: CableView, lack: Missing) -> str:
    start, end = cable.ends
    said = f"{_at(start, listed(lack.starts))} to {_at(end, listed(lack.ends))}"
    return f"{said} ({lack.joined} of {lack.needed} joined)" if lack.joined else said


def _overfull(last: CrowdedView) -> Evidence:
    related = dict.fromkeys(conductor.place for crowd in last.crowds for conductor in crowd.conductors[:-1])
    return evidence(
        terminals=tuple(_at(crowd.port, crowd.terminal) for crowd in last.crowds),
        crowds=tuple(
            f"{_at(crowd.port, crowd.terminal)} ({len(crowd.conductors)} where {crowd.takes} may be)"
            for crowd in last.crowds
        ),
        related=tuple(related),
    )


def _ends_nowhere(conductor: ConductorView) -> Evidence | None:
    if not conductor.ends_nowhere:
        return None
    (start, end), joined = conductor.cable.ends, conductor.conductor
    landed, bare = (start, end) if joined.start is not None else (end, start)
    on = joined.start if joined.start is not None else joined.end
    role = conductor.start_role if joined.start is not None else conductor.end_role
    _here, there = terminals(conductor.cable) if landed is start else reversed(terminals(conductor.cable))
    fitting = sorted(name for name, other in there.items() if other == role)
    where = _at(bare, listed(fitting, "or")) if fitting else f"a terminal of {bare}"
    return evidence(landed=_at(landed, on, role), bare=str(bare), where=where)


def _unknown(conductor: ConductorView) -> Evidence | None:
    if not conductor.unknown:
        return None
    return evidence(
        terminals=tuple(_at(port, name) for port, name in conductor.unknown),
        instead=tuple(_instead(conductor.cable, port, name) for port, name in conductor.unknown),
    )


def _instead(cable: CableView, port: PortRef, name: str) -> str:
    known = cable.survey.models[port.device].ports[port.port].terminals
    like = nearest(name, known)
    return _at(port, like) if like is not None else f"{listed(sorted(known), 'or')} of {port}"


def _gauge(cable: CableView) -> Evidence | None:
    models, size = cable.survey.models, cable.cable.gauge
    ranges = [(end, models[end.device].ports[end.port].gauges) for end in dict.fromkeys(cable.ends)]
    judged = [(end, gauges) for end, gauges in ranges if gauges is not None]
    if not judged or size is None:
        return None
    wrong = [(end, gauges) for end, gauges in judged if not takes(gauges, size)]
    if not wrong:
        return None
    return evidence(
        start=cable.cable.start,
        end=cable.cable.end,
        gauge=size,
        ports=tuple(f"{end} takes {gauges.thinnest} to {gauges.thickest}" for end, gauges in wrong),
        names=tuple(str(end) for end, _gauges in wrong),
        basis=_CATALOG,
    )


def _two_things(color: ColorView) -> Evidence:
    return evidence(
        color=shown(color.color),
        role=color.odd.role or "",
        pair=_ends(color.odd),
        other_role=color.other.role or "",
        other_pair="in the same cable" if color.other.cable is color.odd.cable else _ends(color.other),
        related=(color.other.place,),
    )


def _ends(conductor: ConductorView) -> str:
    return f"in the cable between {conductor.cable.cable.start} and {conductor.cable.cable.end}"


CROSSED = Rule(
    id="wiring/conductors-crossed",
    title="A cable's conductors are crossed",
    severity=Severity.ERROR,
    each=selectors.odd_cables,
    check=_crossed,
    message="The cable between {start} and {end} joins {pairs}.",
    todo="{way_out}.",
    basis=_ONE_ROLE,
    cautions=(WIRING,),
    remedy=straighten,
)
SUPPLY_ON_DATA = Rule(
    id="wiring/supply-on-data",
    title="A conductor puts power on a data terminal",
    severity=Severity.ERROR,
    each=selectors.conductors,
    check=_supply_on_data,
    message="The cable between {start} and {end} joins {pair}: one carries {carries}.",
    todo=(
        "Do not power up: {pair} puts power where messages belong. Join each conductor to the terminal of the same "
        "role at both ends; if power was on, test both devices."
    ),
    basis=practice("a data terminal is made for signals of a few volts; the supply on it can destroy both devices"),
    cautions=(WIRING,),
    remedy=_straighten,
)
MISSING = Rule(
    id="wiring/conductor-missing",
    title="A conductor is missing",
    severity=Severity.ERROR,
    each=selectors.odd_cables,
    check=_missing,
    message="No conductor of the cable between {start} and {end} joins {terminals}.",
    todo="Join {terminals} with a free conductor of the cable; where it has none, run another cable.",
    basis=practice("a cable of a bus carries every role that both its ports need"),
    cautions=(WIRING,),
    remedy=straighten,
)
OVERFULL = Rule(
    id="wiring/terminal-overfull",
    title="A terminal has more conductors than it takes",
    severity=Severity.ERROR,
    each=selectors.crowding_conductors,
    check=_overfull,
    message="Too many conductors are in {crowds}.",
    todo="At {terminals}, join conductors in a connector beside the port, and lead one of them into the terminal.",
    basis=_CATALOG,
    cautions=(WIRING,),
)
ENDS_NOWHERE = Rule(
    id="wiring/conductor-ends-nowhere",
    title="A conductor ends nowhere",
    severity=Severity.ERROR,
    each=selectors.conductors,
    check=_ends_nowhere,
    message="A conductor is on {landed} and on nothing at {bare}.",
    todo="Land it on {where} as well, or take it off {landed} and insulate both its ends.",
    basis=practice(
        "a conductor is landed at both ends or, as a spare, at neither: a bare end can touch what is beside it"
    ),
    cautions=(WIRING,),
    remedy=_straighten,
)
UNKNOWN = Rule(
    id="wiring/unknown-terminal",
    title="A conductor is on a terminal that the port lacks",
    severity=Severity.ERROR,
    each=selectors.conductors,
    check=_unknown,
    message="A conductor is on {terminals}: there is no such terminal.",
    todo="See which terminal is meant, and write it in the job: {instead}.",
    basis=_CATALOG,
    cautions=(WIRING,),
    remedy=_straighten,
)
TOO_FEW_CORES = Rule(
    id="wiring/too-few-cores",
    title="A cable has too few conductors",
    severity=Severity.ERROR,
    each=selectors.counted_cables,
    check=_too_few_cores,
    message="The cable between {start} and {end} has {cores} conductors, and its ports share {count} roles: {roles}.",
    todo="Run a cable of at least {count} conductors from {start} to {end}.",
    basis=practice("a cable of a bus carries every role that both its ports need"),
    working="{cores} < {count}",
    cautions=(WIRING,),
)
GAUGE = Rule(
    id="wiring/gauge-does-not-fit",
    title="A cable's gauge does not fit the terminals",
    severity=Severity.ERROR,
    each=selectors.joined_cables,
    check=_gauge,
    message="The cable between {start} and {end} has conductors of {gauge}; {ports}.",
    todo="Lead conductors of a size that fits to the terminals of {names}: another cable, or short ends joined to it.",
    basis=_CATALOG,
    cautions=(WIRING,),
)
TWO_THINGS = Rule(
    id="wiring/color-means-two-things",
    title="One color stands for two things along a bus",
    severity=Severity.ADVICE,
    each=selectors.ambiguous_colors,
    check=_two_things,
    message="{color} is {role} {pair} and {other_role} {other_pair}.",
    todo="Choose one color for each role along the bus, or mark the ends of the conductor that is {role} {pair}.",
    basis=practice("one color, one role along a bus: whoever opens a box next goes by the color"),
)

RULES: tuple[AnyRule[Survey], ...] = (
    CROSSED,
    SUPPLY_ON_DATA,
    MISSING,
    OVERFULL,
    ENDS_NOWHERE,
    UNKNOWN,
    TOO_FEW_CORES,
    GAUGE,
    TWO_THINGS,
)
