"""The rate of a code: by table, by equation, by people, by rooms, or the largest of several."""

from collections.abc import Mapping
from enum import StrEnum
from functools import cached_property
from typing import TypeAlias

from attrs import frozen

from ventrules.job import RoomKind, Route
from ventrules.sources import Known
from ventrules.units import Airflow, Area


@frozen
class Clause:
    """Where a figure of a code file stands, and how it is known.

    Attributes:
        clause: Section, table or equation.
        known: How it is known.
        note: The reading chosen, or what has to be minded.
        title: The publication, where it is not the code's own.
    """

    clause: str
    known: Known
    note: str = ""
    title: str = ""


@frozen
class Equation:
    """A sum of the terms given.

    Attributes:
        basis: Its clause.
        constant: A fixed airflow.
        airflow_per_area: Airflow for each `area` of floor.
        area: The floor area that the terms by area are for.
        less_per_area_squared: Airflow taken off for the square of floor area / `area`.
        airflow_per_person: Airflow for each of bedrooms + `extra_people`.
        extra_people: People beyond one in each bedroom.
        airflow_per_occupant: Airflow for each occupant: those of the job, else one more than bedrooms.
        least_area: A smaller floor area counts as this one.
        most_area: A larger floor area counts as this one.
        range_basis: Clause of those two.
    """

    basis: Clause
    constant: Airflow | None = None
    airflow_per_area: Airflow | None = None
    area: Area | None = None
    less_per_area_squared: Airflow | None = None
    airflow_per_person: Airflow | None = None
    extra_people: int = 0
    airflow_per_occupant: Airflow | None = None
    least_area: Area | None = None
    most_area: Area | None = None
    range_basis: Clause | None = None


class Columns(StrEnum):
    """What the columns of a table count."""

    BEDROOMS = "bedrooms"
    MAIN_ROOMS = "main-rooms"


@frozen
class RateTable:
    """Rates by floor area and by bedrooms or main rooms.

    Attributes:
        rates: Rows of airflows, one per column.
        basis: The table.
        area_limits: Upper floor area of each row, inclusive.
        area_below: Those of them that are exclusive.
        open_rows: True when one more row follows the last limit.
        columns: What the columns count.
        column_limits: Most of it in each column, inclusive.
        open_columns: True when one more column follows the last limit.
        further: Airflow for each one beyond the last column of a table that is not open.
        one_main_room: Airflow of a dwelling with a single main room.
    """

    rates: tuple[tuple[Airflow, ...], ...]
    basis: Clause
    area_limits: tuple[Area, ...] = ()
    area_below: tuple[Area, ...] = ()
    open_rows: bool = True
    columns: Columns = Columns.BEDROOMS
    column_limits: tuple[int, ...] = ()
    open_columns: bool = True
    further: Airflow | None = None
    one_main_room: Airflow | None = None

    @cached_property
    def row_limits(self) -> tuple[tuple[float, bool], ...]:
        """The upper floor area of each row, m2, and whether it is exclusive."""
        below = {limit.m2 for limit in self.area_below}
        return tuple((limit.m2, limit.m2 in below) for limit in self.area_limits)


@frozen
class RoomLine:
    """What rooms of some kinds ask for, each: `airflow`, or an airflow by area; the largest of those given.

    Attributes:
        rooms: The kinds of room.
        airflow: For each room.
        first: For the first room of these kinds, where it differs.
        airflow_per_area: Airflow for each `area` of the room's floor.
        area: The floor area that it is for.
    """

    rooms: tuple[RoomKind, ...]
    airflow: Airflow
    first: Airflow | None = None
    airflow_per_area: Airflow | None = None
    area: Area | None = None


@frozen
class RoomSum:
    """A sum over rooms.

    Attributes:
        lines: What each kind asks for; kinds in no line ask for nothing.
        basis: The table.
        share: Share of the sum that has to be met.
        largest_room: True when the largest single room has to be met, too.
    """

    lines: tuple[RoomLine, ...]
    basis: Clause
    share: float = 1.0
    largest_room: bool = False


@frozen
class Least:
    """A rate that is not gone below.

    Attributes:
        airflow: The least rate.
        basis: Its clause.
    """

    airflow: Airflow
    basis: Clause


@frozen
class LeastBedrooms:
    """A number of bedrooms that is not gone below.

    Attributes:
        count: Fewer bedrooms count as so many.
        basis: Its clause.
    """

    count: int
    basis: Clause


@frozen
class ExtraOccupants:
    """Airflow for each known occupant beyond bedrooms + one.

    Attributes:
        airflow: Airflow for each of them.
        basis: Its clause.
    """

    airflow: Airflow
    basis: Clause


class Joined(StrEnum):
    """How several ways to the rate go together: the job chooses one, or the largest holds."""

    CHOICE = "choice"
    LARGEST = "largest"


Way: TypeAlias = RateTable | Equation | RoomSum


@frozen
class Rate:
    """The rate by one or more ways.

    Attributes:
        joined: How several ways go together.
        table: By table.
        equation: By equation.
        people: By a second equation, of people.
        rooms: By a sum over rooms.
        wet_rooms: By a second sum over rooms.
        least: A rate that is not gone below.
        least_bedrooms: A number of bedrooms that is not gone below.
        extra_occupants: Airflow for known occupants beyond the design number.
    """

    joined: Joined = Joined.CHOICE
    table: RateTable | None = None
    equation: Equation | None = None
    people: Equation | None = None
    rooms: RoomSum | None = None
    wet_rooms: RoomSum | None = None
    least: Least | None = None
    least_bedrooms: LeastBedrooms | None = None
    extra_occupants: ExtraOccupants | None = None

    @cached_property
    def ways(self) -> Mapping[Route, Way]:
        """The ways that are given, by route."""
        given: dict[Route, Way | None] = {
            Route.TABLE: self.table,
            Route.EQUATION: self.equation,
            Route.PEOPLE: self.people,
            Route.ROOMS: self.rooms,
            Route.WET_ROOMS: self.wet_rooms,
        }
        return {route: way for route, way in given.items() if way is not None}
