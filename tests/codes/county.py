"""Texts of codes of one's own, as a user would write them: one of each kind, and parts to put in."""

SEEN = '{ clause = "3", known = "seen" }'

EQUATION = f"""
[rate.equation]
constant = "20 L/s"
basis = {SEEN}
"""

TABLE = f"""
[rate.table]
area_limits = ["100 m2", "200 m2"]
column_limits = [1, 3]
rates = [
  ["10 L/s", "15 L/s", "20 L/s"],
  ["15 L/s", "20 L/s", "25 L/s"],
  ["20 L/s", "25 L/s", "30 L/s"],
]
basis = {SEEN}
"""

WINDOW = f"""
[window]
length = "3 h"
basis = {SEEN}
"""

FLOOR = f"""
[floor]
share = 0.5
basis = {SEEN}
"""

LEVELS = f"""
[[levels]]
occupancy = "unoccupied"
share = 0.4
basis = {SEEN}
"""

RUN_TIME = f"""
[run_time]
segment = "4 h"
shares = [0.25, 0.5, 1.0]
factors = [4.0, 2.0, 1.0]
basis = {SEEN}
"""

EXPOSURE = f"""
[exposure]
mean = 1.0
peak = 5.0
mean_basis = {SEEN}
peak_basis = {SEEN}
"""

# What each kind of code has beside its rate.
PARTS = {
    "capacity": "",
    "continuous": "",
    "average": WINDOW,
    "segment-factors": RUN_TIME,
    "average-with-floor": WINDOW + FLOOR,
    "levels": LEVELS,
    "exposure": WINDOW + EXPOSURE,
}


def county(kind: str, *parts: str, rate: str = EQUATION, judged: str | None = None, own: str | None = None) -> str:
    """Return the text of a code of one kind.

    Args:
        kind: The kind.
        parts: Text that follows.
        rate: Its rate.
        judged: The line of occupancies; by default the one that goes with the kind.
        own: What it has beside its rate; by default what goes with the kind.
    """
    held = "judged = []" if kind == "capacity" else 'judged = ["occupied", "unoccupied"]'
    head = f"""\
ventrules-code = 1
code = "county"
title = "Ordinance of an invented county"
edition = "2020"
jurisdiction = "an invented county"
kind = "{kind}"
counts = "supply"
counts_basis = {SEEN}
{held if judged is None else judged}
judged_basis = {SEEN}
"""
    return "".join((head, rate, PARTS[kind] if own is None else own, *parts))
