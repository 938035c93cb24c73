"""Dwellings and airflow for the tests of ventilation codes.

1 ft = 0.3048 m exactly (international yard and pound agreement, 1959), so 1 cfm = 0.3048^3 / 60 m3/s
and 1 ft2 = 0.09290304 m2.
"""

from collections.abc import Collection, Iterable

from ventrules.codes import Code, Requirement, System, requirement
from ventrules.files import load_code
from ventrules.job import Dwelling, Leakage, Room, RoomKind, Route, Target
from ventrules.units import Area, Factor, Length, Volume

EDITIONS = ("us-irc-2015", "us-irc-2018", "us-irc-2021", "us-irc-2024")
WITH_EQUATION = ("us-irc-2018", "us-irc-2021", "us-irc-2024")
WITH_CREDIT = ("us-irc-2021", "us-irc-2024")

# States that take the residential code's table over, and of those the ones that also take its 30 % credit.
STATES = ("us-fl-2023", "us-nc-2021", "us-ny-2024", "us-or-2021")
STATES_WITH_CREDIT = ("us-fl-2023", "us-ny-2024", "us-or-2021")

# ASHRAE 62.2 since the total rate, the codes that size fans by the share of infiltration, and all that credit it.
STANDARD = ("ashrae-62.2-2013", "ashrae-62.2-2016", "ashrae-62.2-2019", "ashrae-62.2-2022")
BY_RATIO = ("ashrae-62.2-2019", "ashrae-62.2-2022", "us-ca-2019", "us-ca-2022")
INFILTRATING = ("ashrae-62.2-2010", "ashrae-62.2-2013", "ashrae-62.2-2016", *BY_RATIO)

CREDIT = "balanced-ducted"
CFM_M3S = 0.028316846592 / 60.0
LS_M3S = 1e-3
M3H_M3S = 1.0 / 3600.0
FT2_M2 = 0.09290304


def house(area: str, bedrooms: int) -> Dwelling:
    """Return a dwelling of a written floor area."""
    return Dwelling(Area.parse(area), bedrooms)


def rooms(kinds: Iterable[RoomKind | tuple[RoomKind, str]]) -> dict[str, Room]:
    """Return rooms of these kinds, each with its written floor area where one is given."""
    given = [(kind, None) if isinstance(kind, RoomKind) else (kind[0], Area.parse(kind[1])) for kind in kinds]
    return {f"{kind.value} {number:02}": Room(kind, area) for number, (kind, area) in enumerate(given)}


def leak(changes: float, height: str | None = None, stories: float | None = None) -> Leakage:
    """Return a blower-door test: air changes per hour at 50 Pa, and the height or the stories."""
    return Leakage(
        air_changes_50pa=Factor(changes),
        height=None if height is None else Length.parse(height),
        stories=None if stories is None else Factor(stories),
    )


def asked(
    code: str,
    dwelling: Dwelling,
    route: Route | None = None,
    *,
    claimed: tuple[str, ...] = (),
    earned: Collection[str] = (),
    system: System | None = None,
) -> Requirement:
    """Return what a packaged code asks of a dwelling."""
    target = Target(code=code, route=route, credits=claimed)
    return requirement(load_code(code), dwelling, target, earned, system)


def sample_house(leakage: Leakage) -> Dwelling:
    """Return the sample house of the rating library's tests: one story above a conditioned basement."""
    return Dwelling(Area.parse("2700 ft2"), 3, volume=Volume.parse("21600 ft3"), leakage=leakage)


def left_for_fans(code: Code, dwelling: Dwelling, wsf: float, *, unbalanced: float = 0.0) -> Requirement:
    """Return what a code asks of a dwelling by its equation, at a place and with a part that is not balanced."""
    system = System(balanced=unbalanced == 0.0, unbalanced_part=unbalanced, wsf=wsf)
    return requirement(code, dwelling, Target(code=code.code, route=Route.EQUATION), (), system)


def table_cfm(code: str, dwelling: Dwelling) -> float:
    """Return the table's continuous rate, cfm."""
    return asked(code, dwelling, Route.TABLE).continuous_m3s / CFM_M3S


def equation_cfm(code: str, dwelling: Dwelling) -> float:
    """Return the equation's continuous rate, cfm."""
    return asked(code, dwelling, Route.EQUATION).continuous_m3s / CFM_M3S
