"""The rate of a code for a dwelling, by each of its ways."""

from bisect import bisect_left
from collections.abc import Sequence

from attrs import frozen

from ventrules.codes.rates import Columns, Equation, Joined, Rate, RateTable, RoomLine, RoomSum, Way
from ventrules.job import Dwelling, Room, Route
from ventrules.sources import Basis
from ventrules.units import at_most


class UnknownRequirementError(ValueError):
    """What a code asks cannot be told; the message says what is missing."""


@frozen
class Step:
    """One step from the code's text to the required airflow.

    Attributes:
        name: What was worked out.
        airflow_m3s: The outcome, m3/s; None where it is no airflow.
        basis: The clause it rests on.
        number: The outcome where it is no airflow, in `unit`.
        unit: The unit of `number`; empty for a plain number.
    """

    name: str
    airflow_m3s: float | None
    basis: Basis
    number: float | None = None
    unit: str = ""


def table_rate(table: RateTable, dwelling: Dwelling) -> float | None:
    """Return a table's rate for a dwelling, m3/s, or None where the table ends before it.

    Raises:
        UnknownRequirementError: The table counts main rooms, and the job does not tell them.
    """
    count = dwelling.bedrooms
    if table.columns is Columns.MAIN_ROOMS:
        count = told_main_rooms(dwelling)
    if table.one_main_room is not None and dwelling.count_main_rooms == 1:
        return table.one_main_room.m3s
    area, row = dwelling.floor_area.m2, 0
    for limit, exclusive in table.row_limits:
        if area < limit if exclusive else at_most(area, limit):
            break
        row += 1
    column = bisect_left(table.column_limits, count)
    if row >= len(table.rates):
        return None
    if column < len(table.rates[row]):
        return table.rates[row][column].m3s
    if table.further is None:
        return None
    return table.rates[row][-1].m3s + table.further.m3s * (count - table.column_limits[-1])


def told_main_rooms(dwelling: Dwelling) -> int:
    """Return the number of main rooms.

    Raises:
        UnknownRequirementError: The job does not tell it.
    """
    count = dwelling.count_main_rooms
    if not count:
        raise UnknownRequirementError(
            "the number of main rooms is missing; give `dwelling.main_rooms` or `dwelling.rooms`"
        )
    return count


def equation_rate(equation: Equation, dwelling: Dwelling) -> float:
    """Return an equation's rate for a dwelling, m3/s."""
    total = equation.constant.m3s if equation.constant is not None else 0.0
    if equation.area is not None:
        areas = counted_area(equation, dwelling) / equation.area.m2
        if equation.airflow_per_area is not None:
            total += equation.airflow_per_area.m3s * areas
        if equation.less_per_area_squared is not None:
            total -= equation.less_per_area_squared.m3s * areas**2
    if equation.airflow_per_person is not None:
        total += equation.airflow_per_person.m3s * (dwelling.bedrooms + equation.extra_people)
    if equation.airflow_per_occupant is not None:
        total += equation.airflow_per_occupant.m3s * occupants(dwelling)
    return max(total, 0.0)


def counted_area(equation: Equation, dwelling: Dwelling) -> float:
    """Return the floor area that an equation goes by, m2: the dwelling's, within the equation's range."""
    area_m2 = dwelling.floor_area.m2
    if equation.least_area is not None:
        area_m2 = max(area_m2, equation.least_area.m2)
    return min(area_m2, equation.most_area.m2) if equation.most_area is not None else area_m2


def occupants(dwelling: Dwelling) -> int:
    """Return the people to reckon with: those of the job, else one more than bedrooms."""
    return dwelling.occupants if dwelling.occupants is not None else dwelling.bedrooms + 1


def room_rate(rooms: RoomSum, dwelling: Dwelling) -> float:
    """Return a sum over rooms, m3/s.

    Raises:
        UnknownRequirementError: The job does not tell its rooms, or the floor area of one that needs it.
    """
    if not dwelling.rooms:
        raise UnknownRequirementError("the rooms are missing; give `dwelling.rooms`")
    named = sorted(dwelling.rooms.items())
    each = [
        airflow for line in rooms.lines for airflow in _line(line, [(n, r) for n, r in named if r.kind in line.rooms])
    ]
    largest = max(each, default=0.0) if rooms.largest_room else 0.0
    return max(rooms.share * sum(each), largest)


def _line(line: RoomLine, named: Sequence[tuple[str, Room]]) -> list[float]:
    found = []
    for number, (name, room) in enumerate(named):
        airflow = line.first if line.first is not None and number == 0 else line.airflow
        by_area = 0.0
        if line.airflow_per_area is not None and line.area is not None:
            if room.area is None:
                raise UnknownRequirementError(f"the floor area of room {name!r} is missing")
            by_area = line.airflow_per_area.m3s * room.area.m2 / line.area.m2
        found.append(max(airflow.m3s, by_area))
    return found


def way_rate(way: Way, dwelling: Dwelling) -> float | None:
    """Return the rate of one way, m3/s, or None where a table ends before the dwelling.

    Raises:
        UnknownRequirementError: The job does not tell what the way needs.
    """
    if isinstance(way, RateTable):
        return table_rate(way, dwelling)
    return equation_rate(way, dwelling) if isinstance(way, Equation) else room_rate(way, dwelling)


def rates_by_route(rate: Rate, dwelling: Dwelling) -> dict[Route, float]:
    """Return the rate by each route that answers for a dwelling, m3/s.

    Raises:
        UnknownRequirementError: None answers, or the largest of several is asked for and one does not.
    """
    found, reasons = {}, []
    for route, way in rate.ways.items():
        try:
            value = way_rate(way, dwelling)
        except UnknownRequirementError as unknown:
            reasons.append(str(unknown))
            continue
        if value is None:
            reasons.append(f"the {route.value} ends before {described(dwelling)}")
        else:
            found[route] = value
    if not found or (reasons and rate.joined is Joined.LARGEST):
        raise UnknownRequirementError("; ".join(dict.fromkeys(reasons)))
    return found


def described(dwelling: Dwelling) -> str:
    """Return a dwelling in words: `2150 ft2 and 3 bedrooms`."""
    bedrooms = "1 bedroom" if dwelling.bedrooms == 1 else f"{dwelling.bedrooms} bedrooms"
    return f"{dwelling.floor_area} and {bedrooms}"
