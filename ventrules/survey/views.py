"""What rules judge: typed views of one thing each, that know their place and their survey."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Final, NamedTuple

from attrs import field, frozen

from ventrules.codes import Balanced, CodeKind, LocalExhaust, imbalance, is_balanced
from ventrules.engine import Place
from ventrules.engine.once import once
from ventrules.job import (
    BusKind,
    Model,
    Occupancy,
    Program,
    ProgramGrid,
    Season,
    VentilatorSettings,
)
from ventrules.survey.airflow import Delivery, Judged, Run, StageFlow
from ventrules.survey.topology import PortRef, Route
from ventrules.units import at_least, at_most

if TYPE_CHECKING:
    from ventrules.survey.survey import Survey

_MINUTE_S: Final = 60.0


@frozen(eq=False, slots=False)
class DeviceView:
    """One device."""

    survey: Survey = field(repr=False)
    name: str
    model: Model = field(repr=False)

    @property
    def place(self) -> Place:
        """The device in the job."""
        return Place.at("devices", self.name)

    @once
    def wired_ports(self) -> tuple[str, ...]:
        """Names of its ports that have a cable."""
        at = self.survey.topology.cables_at
        return tuple(port for port in sorted(self.model.ports) if PortRef(self.name, port) in at)

    @property
    def served(self) -> tuple[str, ...]:
        """Ventilators whose route passes through it or ends at it."""
        return self.survey.served.get(self.name, ())


class _Minutes(NamedTuple):
    """What the minutes of a program come to at one ventilator; the attributes are those of `ProgramView`."""

    run_s: float = 0.0
    unknown_stages: tuple[str, ...] = ()
    overfull: bool = False
    delivery: Delivery | None = None


_NO_MINUTES: Final = _Minutes()


@frozen(eq=False, slots=False)
class VentilatorView:
    """One ventilator, with what it is set to."""

    survey: Survey = field(repr=False)
    name: str
    model: Model = field(repr=False)
    settings: VentilatorSettings | None = field(repr=False)

    @property
    def place(self) -> Place:
        """The device in the job."""
        return Place.at("devices", self.name)

    def at(self, *path: str) -> Place:
        """Return a place within its settings."""
        return Place.at("settings", self.name, *path)

    @once
    def bus_ports(self) -> tuple[PortRef, ...]:
        """Its ports that carry messages."""
        return self.survey.topology.ports_of(self.name, BusKind.SYSTEM, BusKind.VENTILATOR)

    @property
    def driven(self) -> bool:
        """True when the controller is to run it: it has a bus port, or it has programs."""
        return bool(self.bus_ports) or bool(self.settings and self.settings.programs)

    @once
    def route(self) -> Route | None:
        """The way of its messages to a controller."""
        return self.survey.topology.route(self.name)

    @once
    def grid(self) -> ProgramGrid | None:
        """What its controller can be set to; the only one's when there is no route, None when several share its bus."""
        grids = self._grids
        return grids[0] if len(grids) == 1 else None

    @once
    def _grids(self) -> list[ProgramGrid]:
        """The grids of the controllers on the bus that its route ends on, or of all when there is no route."""
        survey, names = self.survey, self.survey.topology.controllers
        if self.route is not None:
            names = survey.topology.controllers_on[self.route.hops[-1].segment]
        return [grid for name in names if (grid := survey.models[name].programs) is not None]

    @property
    def on_grid_cycle(self) -> bool:
        """True when its programs are written for the controller's own cycle, or for the only one known."""
        grid = self.grid
        return grid is None or (at_least(self.cycle_s, grid.cycle.s) and at_most(self.cycle_s, grid.cycle.s))

    @once
    def cycle_s(self) -> float:
        """Length of its programs' cycle, s: as set, else the controller's, else the usual one."""
        if self.settings is not None and self.settings.cycle is not None:
            return self.settings.cycle.s
        cycles = {grid.cycle.s for grid in self._grids}
        return cycles.pop() if len(cycles) == 1 else self.survey.limits.cycle.usual.s

    @once
    def stages(self) -> Mapping[str, StageFlow]:
        """Airflow of each stage: measured where the job has readings, else the catalog's."""
        readings = self.survey.job.readings.get(self.name, {})
        flows = {}
        for name, stage in self.model.stages.items():
            reading = readings.get(name)
            supply = (reading or stage).supply.m3s
            exhaust = (reading or stage).exhaust.m3s
            net = supply * (1.0 - self.model.exhaust_air_transfer)
            flows[name] = StageFlow(name, supply, exhaust, net, reading is not None)
        return flows

    @once
    def _minutes_of(self) -> dict[tuple[tuple[str, float], ...], _Minutes]:
        return {}

    def minutes(self, program: Program | None) -> _Minutes:
        """Return what the minutes of a program come to, once for equal ones: most modes and seasons share a few."""
        if program is None or program.managed:
            return _NO_MINUTES
        times_s = tuple([(stage, time.s) for stage, time in sorted(program.stages.items())])
        found = self._minutes_of.get(times_s)
        if found is None:
            found = self._minutes_of[times_s] = self._worked_out(times_s)
        return found

    def _worked_out(self, times_s: tuple[tuple[str, float], ...]) -> _Minutes:
        run_s = sum([time_s for _stage, time_s in times_s])
        unknown = tuple([stage for stage, _time_s in times_s if stage not in self.stages])
        overfull = not at_most(run_s, self.cycle_s)
        if unknown or overfull:
            return _Minutes(run_s, unknown, overfull)
        counted = [Run(stage, self.counted(stage), time_s) for stage, time_s in times_s if time_s > 0.0]
        runs = tuple([run for run in counted if run.airflow_m3s > 0.0])  # a stage that moves no air is no run time
        return _Minutes(run_s, unknown, overfull, Delivery(runs, self.cycle_s))

    def balanced_at(self, stage: str, definition: Balanced) -> bool:
        """Say whether supply and exhaust of a stage are balanced by a definition; the rated airflow is the design."""
        flow, rated = self.stages[stage], self.model.stages[stage]
        return is_balanced(definition, flow.supply_m3s, flow.exhaust_m3s, (rated.supply.m3s, rated.exhaust.m3s))

    def imbalance_at(self, stage: str, definition: Balanced) -> float:
        """Return how far supply and exhaust of a stage are apart by a definition's own measure."""
        flow, rated = self.stages[stage], self.model.stages[stage]
        return imbalance(definition, flow.supply_m3s, flow.exhaust_m3s, (rated.supply.m3s, rated.exhaust.m3s))

    def counted(self, stage: str) -> float:
        """Return the airflow of a stage that counts toward the target, m3/s."""
        return self.stages[stage].counted(self.survey.counts)

    @once
    def most_m3s(self) -> float:
        """The most airflow that it can give, m3/s, of what counts."""
        return max((self.counted(stage) for stage in self.stages), default=0.0)

    @once
    def most_exhaust_m3s(self) -> float:
        """The most exhaust airflow that it can give, m3/s."""
        return max((flow.exhaust_m3s for flow in self.stages.values()), default=0.0)

    @once
    def exhaust_to_hold_m3s(self) -> float:
        """The exhaust airflow that its programs have to hold at every moment for the rooms that it serves, m3/s.

        Nothing where it is no local exhaust, or where it reaches their figures on demand.
        """
        code = self.survey.code
        lines = self.rooms_served if code is not None else {}
        steady = [line.continuous for line in lines.values() if line.continuous is not None]
        if len(steady) < len(lines) or at_least(self.most_exhaust_m3s, sum(x.demand.m3s for x in lines.values())):
            return 0.0
        return sum(airflow.m3s for airflow in steady)

    @once
    def rooms_served(self) -> Mapping[str, LocalExhaust]:
        """The rooms that it is the local exhaust of, by name, with what the code asks for each, where it does."""
        rooms, code = self.survey.job.dwelling.rooms, self.survey.code
        lines = code.local_exhaust if code is not None else ()
        return {
            name: line
            for name, room in sorted(rooms.items())
            if room.exhaust_by == self.name
            for line in [next((line for line in lines if room.kind in line.rooms), None)]
            if line is not None
        }

    @once
    def steady_exhaust_m3s(self) -> float:
        """The exhaust airflow that never stops in any of its programs, m3/s."""
        least = []
        for program in self.survey.programs:
            if program.ventilator is self:
                stages = [s for s, time in program.program.stages.items() if time.s > 0.0] if program.program else []
                unbroken = program.delivery is not None and at_least(program.run_s, self.cycle_s)
                least.append(min(self.stages[stage].exhaust_m3s for stage in stages) if unbroken and stages else 0.0)
        return min(least, default=0.0)

    @once
    def stages_used(self) -> tuple[str, ...]:
        """Stages that some program of it runs, sorted."""
        programs = self.settings.programs.values() if self.settings is not None else ()
        used = {
            stage
            for by_season in programs
            for program in by_season.values()
            for stage, time in program.stages.items()
            if time.s > 0.0 and stage in self.stages
        }
        return tuple(sorted(used))


@frozen(eq=False, slots=False)
class ModeView:
    """One mode."""

    survey: Survey = field(repr=False)
    name: str
    occupancy: Occupancy

    @property
    def place(self) -> Place:
        """The mode in the job."""
        return Place.at("modes", self.name)


@frozen(eq=False, slots=False)
class ProgramView:
    """The program of one ventilator in one mode and season; None when the job has none."""

    survey: Survey = field(repr=False)
    ventilator: VentilatorView
    mode: ModeView
    season: Season
    program: Program | None

    @property
    def place(self) -> Place:
        """The program in the job."""
        return self.ventilator.at("programs", self.mode.name, self.season.value)

    @once
    def _minutes(self) -> _Minutes:
        return self.ventilator.minutes(self.program)

    @property
    def run_s(self) -> float:
        """Time that its stages take together, s."""
        return self._minutes.run_s

    @property
    def unknown_stages(self) -> tuple[str, ...]:
        """Stages that the ventilator does not have, sorted."""
        return self._minutes.unknown_stages

    @property
    def overfull(self) -> bool:
        """True when its minutes do not fit into the cycle."""
        return self._minutes.overfull

    @property
    def delivery(self) -> Delivery | None:
        """What it delivers, or None when that cannot be told."""
        return self._minutes.delivery


@frozen(eq=False, slots=False)
class ModeSeasonView:
    """All programs of one mode and season together: what the dwelling gets."""

    survey: Survey = field(repr=False)
    mode: ModeView
    season: Season
    programs: tuple[ProgramView, ...] = field(repr=False)

    @property
    def place(self) -> Place:
        """The program itself when there is one, else the mode."""
        if len(self.programs) == 1:
            return self.programs[0].place
        return Place(("modes", self.mode.name), f"modes / {self.mode.name} / {self.season.value}")

    @property
    def running_s(self) -> float:
        """Time that all its programs run together, s per cycle."""
        return sum(program.run_s for program in self.programs)

    @once
    def deliveries(self) -> tuple[Delivery, ...] | None:
        """What each ventilator delivers, or None when one cannot be told; equal ones are the same object."""
        found = tuple([program.delivery for program in self.programs])
        known = tuple([delivery for delivery in found if delivery is not None])
        return self.survey.amounts.same(known) if len(known) == len(found) and found else None

    @once
    def judged(self) -> Judged | None:
        """What it amounts to under the requirement, or None when that cannot be told."""
        deliveries = self.deliveries
        if deliveries is None or self.survey.unknown is not None:
            return None
        return self.survey.amounts.judged(deliveries, self.survey.requirement, self.mode.occupancy)

    @once
    def only_in_windows(self) -> bool:
        """True when it comes up in the week and never lasts a whole window: only windows over several modes count."""
        week = self.survey.week
        if week is None or self.mode.name not in week.modes:
            return False
        window_min = self.survey.requirement.window_s / _MINUTE_S
        return not any(span.mode == self.mode.name and span.length >= window_min for span in week.spans)

    @once
    def within_exposure(self) -> bool:
        """True when it comes up in a week that is judged as a whole, by its relative exposure."""
        week = self.survey.week
        return self.survey.requirement.kind is CodeKind.EXPOSURE and week is not None and self.mode.name in week.modes


@frozen(eq=False, slots=False)
class DwellingView:
    """The dwelling as a whole."""

    survey: Survey = field(repr=False)

    @property
    def place(self) -> Place:
        """The target in the job."""
        return Place.at("target")
