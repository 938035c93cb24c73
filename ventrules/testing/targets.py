"""Targets for sound jobs: a code or an airflow of one's own, with a dwelling that the drawn equipment can serve.

What a code asks for comes from its evaluator. What meets it is worked out here by plain arithmetic and not by
the planner, so that the two can disagree.
"""

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Final, TypeAlias

import attrs
from attrs import frozen
from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from ventrules.codes import (
    Code,
    Requirement,
    System,
    UnknownRequirementError,
    own_requirement,
    requirement,
    room_rate,
    run_time_factor,
)
from ventrules.engine.findings import Document
from ventrules.files import load_code
from ventrules.files.resources import code_names
from ventrules.job import Counts, Dwelling, Leakage, Model, Occupancy, Room, RoomKind, Route, Stage, Target
from ventrules.units import Airflow, Area, Factor, Length

IRC: Final = ("us-irc-2015", "us-irc-2018", "us-irc-2021", "us-irc-2024")
_SHARE: Final = 0.9  # a drawn target stays a little below what the equipment can give
_ABOVE: Final = 1.0 + 1e-6  # and what meets it stays a little above it
_SHIELDING: Final = 0.5
_PEOPLE: Final = (Occupancy.OCCUPIED, Occupancy.STANDBY)

Runs: TypeAlias = Sequence[tuple[float, float]]
"""Airflow, m3/s, and time in each cycle, s, of each stage that runs."""


@frozen
class Home:
    """A dwelling in the making.

    Attributes:
        area: Floor area, whole m2 or ft2.
        bedrooms: Bedrooms.
        metric: Whether in m2.
        tall: Whether the ceiling height is told.
        occupants: People, where they are told.
        rooms: Whether the rooms are told.
        leakage: Air changes per hour at 50 Pa, where it was tested.
    """

    area: int
    bedrooms: int
    metric: bool
    tall: bool = False
    occupants: int | None = None
    rooms: bool = False
    leakage: float | None = None

    @property
    def _ceiling(self) -> str:
        return "2.4 m" if self.metric else "8 ft"

    @property
    def _floor(self) -> str:
        return f"{self.area} m2" if self.metric else f"{self.area} ft2"

    @property
    def _named(self) -> dict[str, RoomKind]:
        if not self.rooms:
            return {}
        beds = {f"bedroom {number + 1}": RoomKind.BEDROOM for number in range(self.bedrooms)}
        return {**beds, "living room": RoomKind.LIVING, "kitchen": RoomKind.KITCHEN, "bath": RoomKind.BATHROOM}

    @property
    def _room_area(self) -> str:
        return f"{self.area / (self.bedrooms + 4):.1f} {'m2' if self.metric else 'ft2'}"

    def document(self) -> dict[str, Document]:
        """Return it as a job file has it."""
        found: dict[str, Document] = {"floor_area": self._floor, "bedrooms": self.bedrooms}
        if self.tall or self.leakage is not None:
            found["ceiling_height"] = self._ceiling
        if self.occupants is not None:
            found["occupants"] = self.occupants
        if self.leakage is not None:
            found["leakage"] = {"air_changes_50pa": self.leakage, "stories": 1}
        if self.rooms:
            found["rooms"] = {name: {"kind": kind.value, "area": self._room_area} for name, kind in self._named.items()}
        return found

    def dwelling(self) -> Dwelling:
        """Return it as rules see it."""
        return Dwelling(
            Area.parse(self._floor),
            self.bedrooms,
            ceiling_height=Length.parse(self._ceiling) if self.tall or self.leakage is not None else None,
            occupants=self.occupants,
            leakage=Leakage(air_changes_50pa=Factor(self.leakage), stories=Factor(1.0))
            if self.leakage is not None
            else None,
            rooms={name: Room(kind, Area.parse(self._room_area)) for name, kind in self._named.items()},
        )

    def smaller(self) -> list["Home"]:
        """Return it, then smaller ones down to where nearly any equipment will do."""
        parts = [(1, 7), (2, 3), (4, 2), (4, 1), (8, 1), (8, 2), (8, 3), (8, 4), (8, 5)]
        floor = 40 if self.metric else 430
        return [
            attrs.evolve(
                self, area=max(self.area // part, floor), bedrooms=most if part > 4 else min(self.bedrooms, most)
            )
            for part, most in parts
        ]


@frozen
class Asked:
    """A target with its dwelling, and what programs have to reach for it.

    Attributes:
        target: The target as a job file has it.
        dwelling: The dwelling likewise.
        need: What is asked.
        flows: Stage to the airflow that counts, m3/s, of each ventilator; stages that may not be used are left out.
    """

    target: dict[str, Document]
    dwelling: dict[str, Document]
    need: Requirement
    flows: tuple[Mapping[str, float], ...]

    def off_in(self, occupancy: Occupancy) -> bool:
        """Say whether ventilation is off in an occupancy."""
        return occupancy is Occupancy.UNOCCUPIED and occupancy not in self.need.judged

    def met_by(self, occupancy: Occupancy, runs: Runs, cycle_s: float) -> bool:
        """Say whether one ventilator's program meets what is asked in an occupancy by itself."""
        need = self.need
        if occupancy not in need.judged:
            return True
        on_s = sum(time_s for _flow, time_s in runs)
        unceasing = on_s >= cycle_s
        least = min(flow for flow, _time in runs) if unceasing else 0.0
        if need.unbroken:
            return least >= need.at(occupancy) * _ABOVE
        if need.floor is not None and least < need.floor.airflow_m3s * _ABOVE:
            return False
        if need.run_time is not None and not unceasing:
            factor = run_time_factor(need.run_time, on_s / cycle_s)
            mean = sum(flow * time_s for flow, time_s in runs) / on_s
            return factor is not None and mean >= factor * need.intermittent_m3s * _ABOVE
        running = _worst_mean([(1.0, time_s) for _flow, time_s in runs], cycle_s, need.window_s)
        if need.least_run is not None and running < need.least_share * _ABOVE and not unceasing:
            return False
        return _worst_mean(runs, cycle_s, need.window_s) >= max(need.continuous_m3s, need.intermittent_m3s) * _ABOVE


def _worst_mean(runs: Runs, cycle_s: float, window_s: float) -> float:
    """Return the mean over a window that begins as the program stops and then rises from stage to stage."""
    whole, rest_s = divmod(window_s, cycle_s)
    off_s = max(cycle_s - sum(time_s for _flow, time_s in runs), 0.0)
    air = whole * sum(flow * time_s for flow, time_s in runs)
    for flow, time_s in [(0.0, off_s), *sorted(runs)]:
        taken_s = min(time_s, rest_s)
        air += flow * taken_s
        rest_s -= taken_s
    return air / window_s


def counted(model: Model, stage: str, counts: Counts) -> float:
    """Return the airflow of a stage that counts, m3/s."""
    flow = model.stages[stage]
    supply, exhaust = flow.supply.m3s * (1.0 - model.exhaust_air_transfer), flow.exhaust.m3s
    by_name = {
        Counts.SUPPLY: supply,
        Counts.EXHAUST: exhaust,
        Counts.LESSER: min(supply, exhaust),
        Counts.LARGER: max(supply, exhaust),
        Counts.MEAN: (supply + exhaust) / 2.0,
    }
    return by_name[counts]


@cache
def codes() -> tuple[str, ...]:
    """Return the names of all packaged codes."""
    return code_names()


def _efficient(code: Code, stage: Stage) -> bool:
    least = code.efficacy
    if least is None or stage.power is None:
        return True
    return stage.supply.m3s / stage.power.w > least.airflow.m3s / least.power.w * _ABOVE


def _recovers(code: Code, model: Model) -> bool:
    return all(
        model.recovery is not None and (least.at is not None or model.recovery.sensible >= least.sensible)
        for least in code.recovery
        if not least.zones
    )


def usable(code: Code, models: Sequence[Model]) -> tuple[Mapping[str, float], ...]:
    """Return the airflow that counts, m3/s, of the stages that a code lets each ventilator use."""
    return tuple(
        {
            name: counted(model, name, code.counts)
            for name in sorted(model.stages)
            if _efficient(code, model.stages[name])
        }
        for model in models
    )


def serves(code: Code, models: Sequence[Model], dwelling: Dwelling, need: Requirement) -> bool:
    """Say whether ventilators can meet what a code asks of a dwelling and of themselves."""
    flows = usable(code, models)
    most = sum(max(stages.values(), default=0.0) for stages in flows)
    asked = max([need.continuous_m3s, need.intermittent_m3s, *(need.at(occupancy) for occupancy in Occupancy)])
    if need.floor is not None:
        asked = max(asked, need.floor.airflow_m3s)
    if asked > most * _SHARE or not all(_recovers(code, model) for model in models):
        return False
    if code.total is not None and code.total.rooms is not None and room_rate(code.total.rooms, dwelling) > most:
        return False
    if code.oversize is None or most <= asked * (1.0 + code.oversize.beyond) / _ABOVE:
        return True
    near = code.oversize.within / _ABOVE
    return any(abs(flow / asked - 1.0) <= near for stages in flows for flow in stages.values())


@st.composite
def targets(draw: DrawFn, models: Sequence[Model], home: Home) -> Asked:
    """Draw a target that ventilators can meet: one's own, or under a code in a dwelling as large as can be."""
    kind = draw(st.sampled_from(["own", "irc", "any", "any"]))
    if kind != "own":
        asked = _by_code(draw, draw(st.sampled_from(IRC if kind == "irc" else codes())), models, home)
        if asked is not None:
            return asked
    return _own(draw, models, home)


def _own(draw: DrawFn, models: Sequence[Model], home: Home) -> Asked:
    counts = draw(st.sampled_from([None, *Counts]))
    flows = tuple(
        {stage: counted(model, stage, counts or Counts.SUPPLY) for stage in sorted(model.stages)} for model in models
    )
    share = draw(st.floats(0.15, _SHARE))
    unit = draw(st.sampled_from(["L/s", "m3/h"] if home.metric else ["cfm"]))
    most = sum(max(stages.values()) for stages in flows)
    airflow = Airflow.parse(f"{Airflow.shown(most * share, unit).to(unit):.1f} {unit}")
    window_h = draw(st.sampled_from([1, 2, 3, 4, 24]))
    document: dict[str, Document] = {"airflow": str(airflow), "window": f"{window_h} h"}
    if counts is not None:
        document["counts"] = counts.value
    need = own_requirement(airflow, window_h * 3600.0, _PEOPLE, counts or Counts.SUPPLY)
    return Asked(document, home.document(), need, flows)


def _by_code(draw: DrawFn, name: str, models: Sequence[Model], home: Home) -> Asked | None:
    code = load_code(name)
    route = draw(st.sampled_from([None, *sorted(code.routes, key=lambda route: route.value)]))
    claims = tuple(sorted(code.credits)) if len(code.credits) > 0 and draw(st.booleans()) else ()
    if draw(st.booleans()):
        home = attrs.evolve(home, occupants=draw(st.integers(1, 6)))
    if code.infiltration is not None and draw(st.booleans()):
        home = attrs.evolve(home, leakage=draw(st.sampled_from([1.0, 3.0, 6.0])))
    asked = under(code, models, attrs.evolve(home, rooms=needs_rooms(code)).smaller(), route, claims)
    if asked is None:
        return None
    if draw(st.booleans()):
        asked.target["counts"] = code.counts.value
    if len(code.local_exhaust) > 0 and draw(st.booleans()):
        line = draw(st.sampled_from(code.local_exhaust))
        number = draw(st.integers(0, len(models) - 1))
        if max(stage.exhaust.m3s for stage in models[number].stages.values()) >= line.demand.m3s * _ABOVE:
            asked.dwelling["rooms"] = {"served": {"kind": line.rooms[0].value, "exhaust_by": f"#{number}"}}
    return asked


def needs_rooms(code: Code) -> bool:
    """Say whether a code cannot be told what it asks without the rooms."""
    by_columns = code.rate.table is not None and code.rate.table.columns.value == "main-rooms"
    return by_columns or code.rate.rooms is not None or code.total is not None


def under(
    code: Code, models: Sequence[Model], homes: Sequence[Home], route: Route | None = None, claims: tuple[str, ...] = ()
) -> Asked | None:
    """Return a target under a code in the first of some dwellings that ventilators can serve, or None."""
    for home in homes:
        dwelling = home.dwelling()
        wsf = _SHIELDING if home.leakage is not None else None
        try:
            need = requirement(
                code, dwelling, Target(code=code.code, route=route, credits=claims), claims, System(wsf=wsf)
            )
        except UnknownRequirementError:
            continue
        if serves(code, models, dwelling, need):
            document: dict[str, Document] = {"code": code.code}
            if route is not None:
                document["route"] = route.value
            if claims:
                document["credits"] = list(claims)
            return Asked(document, home.document(), need, usable(code, models))
    return None


def site(*, metric: bool, shielding: bool, weather: bool) -> dict[str, Document]:
    """Return a site: with its weather and shielding factor, with its outdoor design temperatures, or both."""
    found: dict[str, Document] = {"weather_shielding": _SHIELDING} if shielding else {}
    if weather:
        found["winter_design"] = "-10 degC" if metric else "14 degF"
        found["summer_design"] = "35 degC" if metric else "95 degF"
    return found
