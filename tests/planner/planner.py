"""The planner's parts that these tests look into: the one place that names where they live."""

from ventrules.planner import search as searching
from ventrules.planner.kits import Kit
from ventrules.planner.options import (
    Combined,
    Counts,
    Floats,
    Gives,
    Options,
    Truths,
    as_set,
    in_time,
    options,
)
from ventrules.planner.orders import Least
from ventrules.planner.planned import Plan, PlannedSeason, Shortage
from ventrules.planner.search import Found, Row, Side, search
from ventrules.planning import plan

__all__ = [
    "Combined",
    "Counts",
    "Floats",
    "Found",
    "Gives",
    "Kit",
    "Least",
    "Options",
    "Plan",
    "PlannedSeason",
    "Row",
    "Shortage",
    "Side",
    "Truths",
    "as_set",
    "in_time",
    "options",
    "plan",
    "search",
    "searching",
]
