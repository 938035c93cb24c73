"""Dwellings and airflow for the tests of ventilation codes.

1 ft = 0.3048 m exactly (international yard and pound agreement, 1959), so 1 cfm = 0.3048^3 / 60 m3/s
and 1 ft2 = 0.09290304 m2.
"""

from collections.abc import Collection

from ventrules.codes import Requirement, requirement
from ventrules.files import load_code
from ventrules.job import Dwelling, Route, Target
from ventrules.units import Area

EDITIONS = ("us-irc-2015", "us-irc-2018", "us-irc-2021", "us-irc-2024")
WITH_EQUATION = ("us-irc-2018", "us-irc-2021", "us-irc-2024")
WITH_CREDIT = ("us-irc-2021", "us-irc-2024")

CREDIT = "balanced-ducted"
CFM_M3S = 0.028316846592 / 60.0
FT2_M2 = 0.09290304


def house(area: str, bedrooms: int) -> Dwelling:
    """Return a dwelling of a written floor area."""
    return Dwelling(Area.parse(area), bedrooms)


def asked(
    code: str,
    dwelling: Dwelling,
    route: Route | None = None,
    *,
    claimed: tuple[str, ...] = (),
    earned: Collection[str] = (),
) -> Requirement:
    """Return what a packaged code asks of a dwelling."""
    return requirement(load_code(code), dwelling, Target(code=code, route=route, credits=claimed), earned)


def table_cfm(code: str, dwelling: Dwelling) -> float:
    """Return the table's continuous rate, cfm."""
    return asked(code, dwelling, Route.TABLE).continuous_m3s / CFM_M3S


def equation_cfm(code: str, dwelling: Dwelling) -> float:
    """Return the equation's continuous rate, cfm."""
    return asked(code, dwelling, Route.EQUATION).continuous_m3s / CFM_M3S
