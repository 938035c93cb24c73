"""The claims that each class of a file makes, with what to say where one does not hold."""

from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any, Final, NamedTuple, get_args, get_origin, get_type_hints

import attrs

from ventrules.codes import (
    Code,
    CodeKind,
    Equation,
    Floor,
    LeakageForm,
    Level,
    Rate,
    RateTable,
    RoomLine,
    RoomSum,
    RunTime,
)
from ventrules.engine import Path
from ventrules.files.problems import Problem
from ventrules.files.schema_claims import (
    AboveZero,
    All,
    Claim,
    Has,
    If,
    Is,
    Least,
    Not,
    One,
    Part,
    Same,
    Some,
    Within,
    value_of,
)
from ventrules.job import (
    BusProfile,
    IndicatorState,
    Layout,
    Leakage,
    Loads,
    Model,
    Port,
    ProgramGrid,
    Role,
    Site,
    Target,
)

LINE_ENDS: Final = 2
"""Ends of a line; and the devices of the smallest bus."""

WINDOWED: Final = (CodeKind.AVERAGE, CodeKind.AVERAGE_WITH_FLOOR, CodeKind.EXPOSURE)


class Bond(NamedTuple):
    """A claim on a mapping, and what to say where it does not hold.

    Attributes:
        claim: The claim.
        message: What to say; `{kind}` and the like stand for what the mapping has there.
        at: The key that the problem is placed at; empty for the mapping.
        at_key: True when it is the key that is at fault.
        first: True when what comes after says nothing where this one is broken.
    """

    claim: Claim
    message: str
    at: tuple[str, ...] = ()
    at_key: bool = False
    first: bool = False


def _of_kind(key: str, *kinds: CodeKind) -> tuple[Bond, Bond]:
    """Return what ties a key of a code to kinds: it is there for these and for no others."""
    given, fits = Has(key), Is("kind", *kinds)
    return (
        Bond(If(fits, given), f"codes of kind {{kind}} need `{key}`", (key,), at_key=True),
        Bond(If(given, fits), f"codes of kind {{kind}} have no `{key}`", (key,), at_key=True),
    )


def _by_area(*by_area: str, area: str = "area") -> Bond:
    airflows = [Has(key) for key in by_area]
    one = airflows[0] if len(airflows) == 1 else Some(*airflows)
    return Bond(Same(one, Has(area)), "an airflow by area and `area` go together")


_OWN: Final = "`{}` belongs to a code, not to a target of one's own"

BONDS: Final[Mapping[type, tuple[Bond, ...]]] = {
    Target: (
        Bond(One(Has("code"), Has("airflow")), "expected either `code`, or `airflow` with `window`", first=True),
        Bond(
            If(Has("code"), Not(Has("window"))),
            "`window` comes from the code; leave it out",
            ("window",),
            at_key=True,
        ),
        Bond(If(Has("airflow"), Has("window")), "missing `window`: the time over which the airflow is averaged"),
        *(
            Bond(If(Has("airflow"), Not(Has(key))), _OWN.format(key), (key,), at_key=True)
            for key in ("credits", "route")
        ),
    ),
    Leakage: (
        Bond(
            Not(All(Has("airflow_50pa"), Has("air_changes_50pa"))),
            "expected either `airflow_50pa` or `air_changes_50pa`",
        ),
        Bond(Not(All(Has("height"), Has("stories"))), "expected either `height` or `stories`"),
    ),
    Site: (
        Bond(
            Not(All(Has("weather_station"), Has("weather_shielding"))),
            "expected either `weather_station` or `weather_shielding`",
        ),
    ),
    Model: (
        Bond(If(Is("role", Role.VENTILATOR), Has("stages")), "a ventilator needs at least one stage with its airflow"),
        Bond(
            If(Is("role", Role.CONTROLLER), Has("programs")),
            "a controller needs `programs`: cycle, step and stages_per_cycle",
        ),
    ),
    ProgramGrid: (Bond(Least("stages_per_cycle", 1), "expected at least one stage per cycle"),),
    Port: (Bond(Least("conductors_per_terminal", 1), "expected at least one conductor", ("conductors_per_terminal",)),),
    IndicatorState: (Bond(One(Has("shows"), Has("flashes")), "expected either `shows` or `flashes`"),),
    BusProfile: (
        Bond(
            If(Not(Is("layout", Layout.FREE)), Within("termination", "most", LINE_ENDS)),
            f"a line has two ends; expected at most {LINE_ENDS} terminations",
            ("termination", "most"),
        ),
        Bond(
            If(Has("stubs"), Is("layout", Layout.STUBS)),
            f"stubs are for the layout {Layout.STUBS.value!r}; this one is '{{layout}}'",
            ("stubs",),
        ),
    ),
    Loads: (
        Bond(Some(Has("unit_loads"), Has("devices")), "expected `unit_loads`, `devices` or both"),
        Bond(Least("devices", LINE_ENDS), f"a bus joins {LINE_ENDS} devices at least", ("devices",)),
    ),
    Rate: (
        Bond(
            Some(*(Has(way) for way in ("table", "equation", "people", "rooms", "wet_rooms"))),
            "expected a table, an equation, people, rooms or wet_rooms",
        ),
    ),
    RoomSum: (Bond(Has("lines"), "expected at least one line", ("lines",)),),
    RoomLine: (_by_area("airflow_per_area"),),
    Equation: (
        _by_area("airflow_per_area", "less_per_area_squared"),
        Bond(
            Some(
                Has("constant"),
                Has("airflow_per_area"),
                Has("less_per_area_squared"),
                Has("airflow_per_person"),
                Has("airflow_per_occupant"),
            ),
            "expected at least one term",
        ),
    ),
    RateTable: (
        Bond(
            If(Has("further"), All(Is("open_columns", False), Has("column_limits"))),
            "goes with a table whose last column has a limit",
            ("further",),
        ),
    ),
    RunTime: (
        Bond(Has("shares"), "expected rising shares and one factor for each", first=True),
        Bond(AboveZero("shares"), "expected shares above 0 that end with 1", ("shares",)),
        Bond(AboveZero("factors"), "expected factors above 0 that do not rise with the share", ("factors",)),
    ),
    Floor: (_by_area("airflow_per_area"),),
    Level: (
        _by_area("airflow_per_area"),
        Bond(
            One(Has("share"), Has("airflow_per_area"), Has("by_main_rooms")),
            "expected one of share, airflow_per_area and by_main_rooms",
        ),
    ),
    LeakageForm: (_by_area("assumed", area="assumed_area"),),
    Code: (
        *_of_kind("run_time", CodeKind.SEGMENT_FACTORS),
        *_of_kind("window", *WINDOWED),
        *_of_kind("floor", CodeKind.AVERAGE_WITH_FLOOR),
        *_of_kind("levels", CodeKind.LEVELS),
        *_of_kind("exposure", CodeKind.EXPOSURE),
        *_of_kind("judged", *(kind for kind in CodeKind if kind is not CodeKind.CAPACITY)),
        Bond(If(Has("least_run"), Has("window")), "goes with an average", ("least_run",), at_key=True),
    ),
}


def broken_bonds(shape: type, part: Part, at: Path) -> Iterator[Problem]:
    """Yield what is broken of the claims of one class.

    Args:
        shape: The class.
        part: A mapping of a document, or a value of the class.
        at: Where it stands.
    """
    for bond in BONDS.get(shape, ()):
        if not bond.claim.holds(part):
            said = bond.message
            for key in ("kind", "layout"):
                if f"{{{key}}}" in said:
                    said = said.replace(f"{{{key}}}", str(value_of(part, key)))
            yield Problem(said, (*at, *bond.at), at_key=bond.at_key)
            if bond.first:
                return


def all_broken_bonds(model: object, at: Path = ()) -> Iterator[Problem]:
    """Yield what is broken of the claims of a value and of all that it holds.

    Args:
        model: A value of the model.
        at: Where it stands; its attributes are written by their own names.
    """
    shape: type = type(model)
    for name in _ways_in(shape):
        yield from _within(getattr(model, name), (*at, name))
    yield from broken_bonds(shape, model, at)


def _within(value: object, at: Path) -> Iterator[Problem]:
    if isinstance(value, Mapping):
        for key, inner in value.items():
            yield from _within(inner, (*at, key))
    elif isinstance(value, tuple):
        for number, inner in enumerate(value):
            yield from _within(inner, (*at, number))
    elif value is not None:
        yield from all_broken_bonds(value, at)


@cache
def _ways_in(shape: type) -> tuple[str, ...]:
    """Return the attributes of a class that lead to classes that make claims."""
    if not attrs.has(shape):
        return ()
    hints = get_type_hints(shape)
    return tuple(field.name for field in attrs.fields(shape) if _leads(hints[field.name]))


def _leads(hint: Any) -> bool:
    if get_origin(hint) is not None:
        return any(_leads(inner) for inner in get_args(hint))
    return isinstance(hint, type) and attrs.has(hint) and (hint in BONDS or bool(_ways_in(hint)))
