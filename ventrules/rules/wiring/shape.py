"""Rules about the shape of a bus: its length, its stubs and branches, how thin it is, how much is on it."""

from collections.abc import Iterable
from math import fsum

from ventrules.engine import Evidence, Rule, Severity, evidence
from ventrules.job import Layout
from ventrules.rules.cautions import WIRING
from ventrules.rules.wiring import fittings
from ventrules.rules.wiring.profiles import PROFILE, basis_of
from ventrules.survey import CableView, Survey
from ventrules.survey.bus_shape import BusCableView, ShapeView, StationView, StubView
from ventrules.survey.copper import whole_gauge
from ventrules.units import Length, at_most


def _with_trunk(survey: Survey) -> Iterable[ShapeView]:
    """Buses whose length has a limit."""
    return (shape for shape in survey.shapes if shape.profile.trunk is not None)


def _gauged(survey: Survey) -> Iterable[BusCableView]:
    """Cables of buses whose gauge has a limit."""
    for shape in _with_trunk(survey):
        if shape.profile.trunk is not None and shape.profile.trunk.thinnest is not None:
            yield from (BusCableView(shape, cable) for cable in shape.cables)


def _stubs(survey: Survey) -> Iterable[StubView]:
    """Stubs of buses on which their length has a limit."""
    return (stub for shape in survey.shapes if shape.profile.stubs is not None for stub in shape.lines.stubs)


def _forks(survey: Survey) -> Iterable[StationView]:
    """Ports at which more than two cables of a bus meet that is to be one line."""
    of_lines = (shape for shape in survey.shapes if shape.profile.layout is Layout.LINE)
    return (StationView(shape, port) for shape in of_lines for port in shape.forks)


def _loaded(survey: Survey) -> Iterable[ShapeView]:
    """Buses that bear so many devices."""
    return (shape for shape in survey.shapes if shape.profile.loads is not None)


def _too_long(shape: ShapeView) -> Evidence | None:
    asked = shape.profile.trunk
    if asked is None:
        return None
    basis = basis_of(shape, asked.basis)
    # All cables together are never shorter than the longest way: most buses need no more than that.
    if not at_most(shape.length_m, asked.longest.m):
        trunk = shape.lines.trunk
        if not at_most(trunk.length_m, asked.longest.m):
            return evidence(
                basis=basis,
                what=f"From {trunk.start} to {trunk.end} the bus is",
                profile=shape.profile.title,
                limit=asked.longest,
                shown=_converted(shape, asked.longest),
                length=shape.length(trunk.length_m),
                terms=_terms(trunk.cables),
            )
    if asked.together is not None and not at_most(shape.length_m, asked.together.m):
        return evidence(
            basis=basis,
            what=f"All cables of the bus at {shape.head} together are",
            profile=shape.profile.title,
            limit=asked.together,
            shown=_converted(shape, asked.together),
            length=shape.length(shape.length_m),
            terms=_terms(shape.cables),
        )
    return None  # what is not told, `wiring/cable-not-told` says


def _converted(shape: ShapeView, limit: Length) -> str:
    """Return a limit as its source writes it, and in the job's own units where those are others."""
    own = shape.length(limit.m)
    return str(limit) if own.unit == limit.unit else f"{limit} = {own}"


def _terms(cables: Iterable[CableView]) -> str:
    """Return the lengths that are added up, as far as there are several."""
    lengths = [cable.cable.length for cable in cables]
    unknown = ["what is not told"] if None in lengths else []
    terms = [*(str(length) for length in lengths if length is not None), *unknown]
    return f"{' + '.join(terms)} = " if len(terms) > 1 else ""


def _too_thin(subject: BusCableView) -> Evidence | None:
    shape, asked = subject.shape, subject.shape.profile.trunk
    if asked is None or asked.thinnest is None:
        return None
    gauge = subject.cable.cable.gauge
    if gauge is None or whole_gauge(gauge) <= whole_gauge(asked.thinnest):
        return None
    return evidence(
        basis=basis_of(shape, asked.basis),
        start=subject.cable.cable.start,
        end=subject.cable.cable.end,
        gauge=gauge,
        thinnest=asked.thinnest,
        profile=shape.profile.title,
    )


def _stub_too_long(stub: StubView) -> Evidence | None:
    shape, asked, limit_m = stub.shape, stub.shape.profile.stubs, stub.limit_m
    if asked is None or limit_m is None or at_most(stub.way.length_m, limit_m):
        return None
    shared = asked.shared is not None and limit_m < asked.longest.m
    limit = shape.length(limit_m) if shared else asked.longest
    return evidence(
        basis=basis_of(shape, asked.basis),
        start=str(stub.way.start),
        end=str(stub.way.end),
        profile=shape.profile.title,
        limit=limit,
        why=f", since {stub.beside} stubs leave the line there" if shared else "",
        shown=f"{asked.shared} / {stub.beside} = {limit}" if shared else _converted(shape, asked.longest),
        length=shape.length(stub.way.length_m),
        terms=_terms(stub.way.cables),
    )


def _branches(station: StationView) -> Evidence:
    shape = station.shape
    near = shape.neighbors[station.port]
    return evidence(
        basis=basis_of(shape, shape.profile.layout_basis),
        port=str(station.port),
        count=len(near),
        others=tuple(str(port) for port in near),
        profile=shape.profile.title,
        related=tuple(cable.place for cable in near.values()),
    )


def _too_many(shape: ShapeView) -> Evidence | None:
    asked = shape.profile.loads
    if asked is None:
        return None
    fewer = shape.profile.bias.takes_devices if shape.profile.bias is not None and shape.biases else 0
    if asked.devices is not None and len(shape.ports) > asked.devices - fewer:
        why = f", {fewer} fewer than without bias resistors" if fewer else ""
        taken = f"{asked.devices} - {fewer} = " if fewer else ""
        return _load(shape, f"{len(shape.ports)} devices", f"{asked.devices - fewer}", why, taken)
    loads = [shape.described(port).unit_loads for port in shape.ports]
    total = fsum(1.0 if load is None else load for load in loads)
    if asked.unit_loads is None or at_most(total, asked.unit_loads):
        return None
    untold = loads.count(None)
    why = f"; {untold} of the devices, whose load the catalog does not tell, are counted as 1 each" if untold else ""
    return _load(shape, f"{total:g} unit loads", f"{asked.unit_loads:g}", why, "")


def _load(shape: ShapeView, load: str, limit: str, why: str, taken: str) -> Evidence:
    asked = shape.profile.loads
    return evidence(
        basis=basis_of(shape, asked.basis if asked is not None else None),
        bus=str(shape.head),
        load=load,
        limit=limit,
        why=why,
        taken=taken,
        profile=shape.profile.title,
    )


BUS_TOO_LONG = Rule(
    id="wiring/bus-too-long",
    title="A bus is too long",
    severity=Severity.ERROR,
    each=_with_trunk,
    check=_too_long,
    message="{what} {length} long; {profile} allows {limit}.",
    working="{terms}{length} > {shown}",
    todo="Run the cables a shorter way, or move the devices at its ends nearer to each other.",
    basis=PROFILE,
    cautions=(WIRING,),
)
BUS_TOO_THIN = Rule(
    id="wiring/bus-too-thin",
    title="A cable of a bus is too thin",
    severity=Severity.WARNING,
    each=_gauged,
    check=_too_thin,
    message="The cable between {start} and {end} is {gauge}; {profile} takes nothing thinner than {thinnest}.",
    todo="Replace the cable between {start} and {end} with one of {thinnest} or thicker.",
    basis=PROFILE,
    cautions=(WIRING,),
)
STUB_TOO_LONG = Rule(
    id="wiring/stub-too-long",
    title="A stub of a bus is too long",
    severity=Severity.WARNING,
    each=_stubs,
    check=_stub_too_long,
    message="The stub from {start} on the line to {end} is {length} long; {profile} allows {limit}{why}.",
    working="{terms}{length} > {shown}",
    todo="Run the line itself to {end} and on from there, or shorten the stub to {limit}.",
    basis=PROFILE,
    cautions=(WIRING,),
)
BUS_BRANCHES = Rule(
    id="wiring/bus-branches",
    title="A bus that is to be one line has branches",
    severity=Severity.WARNING,
    each=_forks,
    check=_branches,
    message="{count} cables meet at {port}, from {others}; under {profile} it is one line, with two at most.",
    todo="Leave two of the cables on {port}, and run the others on from an end of the line.",
    basis=PROFILE,
    cautions=(WIRING,),
)
TOO_MANY_ON_BUS = Rule(
    id="wiring/too-many-on-bus",
    title="More is on a bus than it bears",
    severity=Severity.ERROR,
    each=_loaded,
    check=_too_many,
    message="{load} are on the bus at {bus}; {profile} allows {limit}{why}.",
    working="{load} > {taken}{limit}",
    todo="Put some of the devices on a bus of their own, behind another bridge.",
    basis=PROFILE,
    cautions=(WIRING,),
)
RULES = (BUS_TOO_LONG, BUS_TOO_THIN, STUB_TOO_LONG, BUS_BRANCHES, TOO_MANY_ON_BUS, *fittings.RULES)
