"""Rules about what is fitted and set at the ports of a bus: resistors, earthing of the shield, addresses."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from ventrules.engine import CannotTell, Evidence, Rule, Severity, evidence
from ventrules.job import Layout, Resistors
from ventrules.planner.bus import bias_once, earth_once, give_address, in_range, terminate
from ventrules.rules.cautions import WIRING
from ventrules.rules.wiring.profiles import PROFILE, basis_of
from ventrules.survey import PortRef, Survey
from ventrules.survey.bus_shape import Fitted, ShapeView, StationView
from ventrules.words import listed

_NONE_FREE: Final = "none is free: put one of the devices on another bus"


def _terminated(survey: Survey) -> Iterable[ShapeView]:
    """Buses whose profile speaks of terminating resistors."""
    return (shape for shape in survey.shapes if shape.profile.termination is not None)


def _biased(survey: Survey) -> Iterable[ShapeView]:
    """Buses whose profile speaks of bias resistors."""
    return (shape for shape in survey.shapes if shape.profile.bias is not None)


def _shielded(survey: Survey) -> Iterable[ShapeView]:
    """Buses whose profile speaks of a shield."""
    return (shape for shape in survey.shapes if shape.profile.shield is not None)


def _stations(survey: Survey) -> Iterable[StationView]:
    """Ports of buses whose profile speaks of addresses."""
    return (station for shape in survey.shapes if shape.profile.addresses is not None for station in shape.stations)


def _wrong_termination(shape: ShapeView) -> Evidence | CannotTell | None:
    asked = shape.profile.termination
    if asked is None:
        return None
    wrong = [*_too_many(asked, shape.terminations, "terminators"), *_off_values(asked, shape.terminations)]
    ends = shape.trunk_ends
    if not wrong and shape.untold:
        return _built_in_untold(shape, "termination")
    if shape.profile.layout is Layout.FREE:
        wrong += _too_few(asked, shape.terminations, "terminators")
    elif ends is not None and not shape.untold:
        wrong += [*_misplaced(shape.terminations, ends), *_missing(asked, shape.terminations, ends)]
    if not wrong:
        return None
    return evidence(
        basis=basis_of(shape, asked.basis),
        bus=str(shape.head),
        wrong="; ".join(wrong),
        profile=shape.profile.title,
        count=asked.most,
        range=_range(asked),
        way_out=_way_to_terminate(asked, ends, free=shape.profile.layout is Layout.FREE),
    )


def _way_to_terminate(asked: Resistors, ends: tuple[PortRef, PortRef] | None, *, free: bool) -> str:
    if not asked.most:
        return "Take out or switch off every terminator on it."
    if free:
        count = _counted(asked)
        return f"Have {count} of {_range(asked)} on it, anywhere."
    if ends is None:
        return "Follow the bus to its two ends; terminate those, and nothing else."
    if asked.most < len(ends):
        return f"Have one terminator of {_range(asked)} at {listed(map(str, ends), 'or')}, and none elsewhere."
    return f"Have one terminator of {_range(asked)} at {listed(map(str, ends))}, and none elsewhere."


def _counted(asked: Resistors) -> str:
    if asked.least == asked.most:
        return f"{asked.most} terminator{'s' if asked.most > 1 else ''}"
    return f"{asked.least} to {asked.most} terminators" if asked.least else f"no more than {asked.most} terminators"


def _range(asked: Resistors) -> str:
    if asked.lowest.ohm == asked.highest.ohm:
        return str(asked.lowest)
    return f"{asked.lowest} to {asked.highest}"


def _too_many(asked: Resistors, fitted: Sequence[Fitted], what: str) -> Iterator[str]:
    if len(fitted) > asked.most:
        yield f"{len(fitted)} {what} are on it, at {listed(_named(fitted))}, and {asked.most} at most may be"


def _too_few(asked: Resistors, fitted: Sequence[Fitted], what: str) -> Iterator[str]:
    if len(fitted) < asked.least:
        at = f", at {listed(_named(fitted))}" if fitted else ""
        yield f"{len(fitted) or 'no'} {what} are on it{at}, and at least {asked.least} should be"


def _named(fitted: Sequence[Fitted]) -> list[str]:
    return [f"{one.port} (built in)" if one.built_in else str(one.port) for one in fitted]


def _off_values(asked: Resistors, fitted: Sequence[Fitted]) -> Iterator[str]:
    for one in fitted:
        if not in_range(asked, one.value):
            yield f"the one at {one.port} has {one.value} and not {_range(asked)}"


def _misplaced(fitted: Sequence[Fitted], ends: tuple[PortRef, PortRef]) -> Iterator[str]:
    for one in fitted:
        if one.port not in ends:
            yield f"the one at {one.port} is at neither end of the line"
    for end in ends:
        if sum(one.port == end for one in fitted) > 1:
            yield f"{end} has one built in and another fitted"


def _missing(asked: Resistors, fitted: Sequence[Fitted], ends: tuple[PortRef, PortRef]) -> Iterator[str]:
    bare = [end for end in ends if all(one.port != end for one in fitted)]
    if len(ends) - len(bare) < asked.least:
        for end in bare:
            yield f"nothing terminates the end at {end}"


def _built_in_untold(shape: ShapeView, what: str) -> CannotTell:
    ports = listed(str(port) for port in shape.untold)
    return CannotTell(
        f"The {what} of the bus at {shape.head} cannot be judged by {shape.profile.title}: what {ports} may have "
        f"built in is not told, since the catalog names no bus profile there.",
        todo="Name the bus profile at that port in the catalog, or use equipment that is made for this bus.",
        basis=basis_of(shape, None),
    )


def _wrong_bias(shape: ShapeView) -> Evidence | CannotTell | None:
    asked = shape.profile.bias
    if asked is None:
        return None
    wrong = [
        *_too_many(asked, shape.biases, "sets of bias resistors"),
        *_off_values(asked, shape.biases),
    ]
    if not wrong and shape.untold:
        return _built_in_untold(shape, "bias")
    wrong += _too_few(asked, shape.biases, "sets of bias resistors")
    if not wrong:
        return None
    return evidence(
        basis=basis_of(shape, asked.basis),
        bus=str(shape.head),
        wrong="; ".join(wrong),
        profile=shape.profile.title,
        range=_range(asked),
        way_out=_way_to_bias(asked),
    )


def _way_to_bias(asked: Resistors) -> str:
    if not asked.most:
        return "Take out or switch off every bias resistor on the bus"
    where = "one place" if asked.most == 1 else _places(asked.least, asked.most)
    return (
        f"Bias the bus at {where}, with {_range(asked)} for each conductor of the pair, or as the unit's instructions "
        f"say"
    )


def _wrong_shield(shape: ShapeView) -> Evidence | CannotTell | None:
    asked, earthed = shape.profile.shield, shape.earthed
    if asked is None:
        return None
    if len(earthed) <= asked.most and shape.untold:
        return _built_in_untold(shape, "earthing of the shield")
    if asked.least <= len(earthed) <= asked.most:
        return None
    found = f"at {len(earthed)} places: {listed(str(port) for port in earthed)}" if earthed else "nowhere"
    return evidence(
        basis=basis_of(shape, asked.basis),
        bus=str(shape.head),
        found=found,
        count=len(earthed),
        places=_places(asked.least, asked.most),
        way_out=f"earth it at {_places(asked.least, asked.most)}, best at {shape.head}"
        if asked.most
        else "earth it nowhere",
        profile=shape.profile.title,
    )


def _places(least: int, most: int) -> str:
    count = str(least) if least == most else f"{least} to {most}"
    return f"{count} place" if most == 1 else f"{count} places"


def _address_not_unique(station: StationView) -> Evidence | CannotTell | None:
    shape, asked, address = station.shape, station.shape.profile.addresses, station.address
    if asked is None:
        return None
    if address is None:
        if not station.needs_address:
            return None
        return CannotTell(
            f"Whether the address of {station.port} is its own cannot be told: the job does not have it.",
            todo=f"Read the address off the device, and add it to the job as `address` of {station.port}.",
            basis=basis_of(shape, asked.basis),
        )
    keeper = station.keeper
    if keeper is None or not station.in_range:
        return None  # an address beyond the range has to go at any rate: a rule of its own says so
    return evidence(
        basis=basis_of(shape, asked.basis),
        port=str(station.port),
        other=str(keeper),
        address=address,
        way_out=_way_out(station),
        related=(shape.place_of(keeper),),
    )


def _way_out(station: StationView) -> str:
    free = station.free_address
    return f"set {station.port} to one that is free, such as {free}" if free is not None else _NONE_FREE


def _address_out_of_range(station: StationView) -> Evidence | None:
    shape, asked, address = station.shape, station.shape.profile.addresses, station.address
    if asked is None or address is None or station.in_range:
        return None
    return evidence(
        basis=basis_of(shape, asked.basis),
        port=str(station.port),
        address=address,
        lowest=asked.lowest,
        highest=asked.highest,
        profile=shape.profile.title,
        way_out=_way_out(station),
    )


WRONG_TERMINATION = Rule(
    id="wiring/wrong-termination",
    title="A bus is not terminated as it should be",
    severity=Severity.WARNING,
    each=_terminated,
    check=_wrong_termination,
    message="The bus at {bus} is not terminated as {profile} says: {wrong}.",
    todo="{way_out}",
    basis=PROFILE,
    cautions=(WIRING,),
    remedy=terminate,
)
WRONG_BIAS = Rule(
    id="wiring/wrong-bias",
    title="A bus is not biased as it should be",
    severity=Severity.WARNING,
    each=_biased,
    check=_wrong_bias,
    message="The bus at {bus} is not biased as {profile} says: {wrong}.",
    todo="{way_out}.",
    basis=PROFILE,
    cautions=(WIRING,),
    remedy=bias_once,
)
WRONG_SHIELD_EARTHING = Rule(
    id="wiring/wrong-shield-earthing",
    title="The shield of a bus is not earthed as it should be",
    severity=Severity.WARNING,
    each=_shielded,
    check=_wrong_shield,
    message="The shield of the bus at {bus} is earthed {found}; {profile} wants it earthed at {places}.",
    todo="Join the shield through at every device, and {way_out}.",
    basis=PROFILE,
    cautions=(WIRING,),
    remedy=earth_once,
)
ADDRESS_NOT_UNIQUE = Rule(
    id="wiring/address-not-unique",
    title="Two devices on a bus have the same address",
    severity=Severity.ERROR,
    each=_stations,
    check=_address_not_unique,
    message="{port} has address {address}, and so has {other}: both answer at once, which can upset the whole bus.",
    todo="Keep one of them at {address}; of the other addresses, {way_out}.",
    basis=PROFILE,
    remedy=give_address,
)
ADDRESS_OUT_OF_RANGE = Rule(
    id="wiring/address-out-of-range",
    title="A device has an address that its bus does not have",
    severity=Severity.ERROR,
    each=_stations,
    check=_address_out_of_range,
    message="{port} has address {address}; {profile} has addresses from {lowest} to {highest}.",
    todo="Of those addresses, {way_out}.",
    basis=PROFILE,
    remedy=give_address,
)
RULES = (WRONG_TERMINATION, WRONG_BIAS, WRONG_SHIELD_EARTHING, ADDRESS_NOT_UNIQUE, ADDRESS_OUT_OF_RANGE)
