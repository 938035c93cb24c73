"""The survey of one job: each fact worked out once, when first asked for."""

from __future__ import annotations

from collections.abc import Mapping

from attrs import field, frozen

from ventrules.codes import (
    Balanced,
    Code,
    CreditNeed,
    Requirement,
    System,
    UnknownRequirementError,
    own_requirement,
    requirement,
)
from ventrules.codes.limits import Limits
from ventrules.engine.once import once
from ventrules.files import conductor_roles, limits, load_bus_profile, load_code, parse_code, stations
from ventrules.files.code_files import parse_limits
from ventrules.job import BusKind, BusProfile, ConductorRole, Counts, Job, Model, Role, Season
from ventrules.sources import Basis, Known
from ventrules.survey.airflow import Amounts
from ventrules.survey.bus_shape import ShapeView, shapes
from ventrules.survey.bus_views import CableView, HopView, RingView, SegmentView
from ventrules.survey.dilution import Dilution
from ventrules.survey.drawn import Drawn
from ventrules.survey.port_facts import PortFacts
from ventrules.survey.power import SupplyView, supplies
from ventrules.survey.topology import Hop, PortRef, Topology
from ventrules.survey.views import DeviceView, DwellingView, ModeSeasonView, ModeView, ProgramView, VentilatorView
from ventrules.survey.week import Week, week_of
from ventrules.survey.week_view import WeekView
from ventrules.units import Airflow, Duration


@frozen(eq=False, slots=False)
class Survey:
    """What follows from a job.

    Attributes:
        job: The job.
    """

    job: Job = field(repr=False)

    @once
    def models(self) -> Mapping[str, Model]:
        """The catalog model of each device."""
        models = self.job.catalog.models
        return {name: models[device.model] for name, device in self.job.devices.items()}

    @once
    def topology(self) -> Topology:
        """The bus graph."""
        return Topology.of(self.job, self.models)

    @once
    def devices(self) -> tuple[DeviceView, ...]:
        """Every device, by name."""
        return tuple(DeviceView(self, name, self.models[name]) for name in sorted(self.models))

    @once
    def _by_name(self) -> Mapping[str, DeviceView]:
        return {device.name: device for device in self.devices}

    def device(self, name: str) -> DeviceView:
        """Return a device by its name.

        Raises:
            KeyError: No such device.
        """
        return self._by_name[name]

    def ventilator(self, name: str) -> VentilatorView:
        """Return a ventilator by its name.

        Raises:
            KeyError: No such ventilator.
        """
        return {ventilator.name: ventilator for ventilator in self.ventilators}[name]

    def of_role(self, *roles: Role) -> tuple[DeviceView, ...]:
        """Return the devices of some roles, by role and then by name."""
        return tuple(device for role in roles for device in self._by_role.get(role, ()))

    @once
    def _by_role(self) -> Mapping[Role, tuple[DeviceView, ...]]:
        found: dict[Role, list[DeviceView]] = {}
        for device in self.devices:
            found.setdefault(device.model.role, []).append(device)
        return {role: tuple(devices) for role, devices in found.items()}

    @once
    def idle_panels(self) -> Mapping[int, tuple[DeviceView, ...]]:
        """Number of a system segment to the zone panels on it whose ventilator port has no cable."""
        topology = self.topology
        found: dict[int, list[DeviceView]] = {}
        for panel in self.of_role(Role.ZONE_PANEL):
            ports = topology.ports_of(panel.name, BusKind.VENTILATOR)
            if ports and not set(ports) & topology.cables_at.keys():
                for port in topology.ports_of(panel.name, BusKind.SYSTEM):
                    found.setdefault(topology.segment_of(port).number, []).append(panel)
        return {number: tuple(panels) for number, panels in found.items()}

    @once
    def free_bridges(self) -> tuple[str, ...]:
        """Bridges that reach a controller and whose ventilator port has no cable, by name."""
        topology = self.topology
        return tuple(
            name
            for name in topology.bridges
            if not set(topology.ports_of(name, BusKind.VENTILATOR)) & topology.cables_at.keys()
            and any(topology.reaches_controller(port) for port in topology.ports_of(name, BusKind.SYSTEM))
        )

    @once
    def ventilators(self) -> tuple[VentilatorView, ...]:
        """Every ventilator, by name."""
        devices, settings = self.of_role(Role.VENTILATOR), self.job.settings
        return tuple([VentilatorView(self, each.name, each.model, settings.get(each.name)) for each in devices])

    @once
    def driven(self) -> tuple[VentilatorView, ...]:
        """The ventilators that the controller is to run."""
        return tuple(ventilator for ventilator in self.ventilators if ventilator.driven)

    @once
    def served(self) -> Mapping[str, tuple[str, ...]]:
        """Device name to the ventilators whose route passes through it or ends at it."""
        found: dict[str, list[str]] = {}
        for ventilator in self.driven:
            route = ventilator.route
            if route is not None:
                for device in dict.fromkeys((*route.bridges, route.controller)):
                    found.setdefault(device, []).append(ventilator.name)
        return {device: tuple(names) for device, names in found.items()}

    @once
    def hops(self) -> tuple[HopView, ...]:
        """Every hop of the driven ventilators' routes, each once."""
        found: dict[Hop, list[VentilatorView]] = {}
        for ventilator in self.driven:
            for hop in ventilator.route.hops if ventilator.route is not None else ():
                found.setdefault(hop, []).append(ventilator)
        return tuple(HopView(self, tuple(ventilators), hop) for hop, ventilators in found.items())

    @once
    def cables(self) -> tuple[CableView, ...]:
        """Every cable, in the job's order."""
        return tuple([CableView(self, index, cable) for index, cable in enumerate(self.job.cables)])

    @once
    def joined_cables(self) -> tuple[CableView, ...]:
        """Cables between two ports of the same kind: buses, supplies and contacts."""
        return tuple([cable for cable in self.cables if cable.ports[0].bus is cable.ports[1].bus])

    @once
    def odd_cables(self) -> tuple[CableView, ...]:
        """Those of them that are not plain, so that their conductors may be wrong."""
        return tuple([cable for cable in self.joined_cables if not cable.plain])

    @once
    def port_facts(self) -> PortFacts:
        """What follows from the catalog for each port."""
        return PortFacts(self)

    @once
    def roles(self) -> Mapping[str, ConductorRole]:
        """Conductor roles: the usual ones and those that the catalogs add."""
        own = self.job.catalog.roles
        return {**conductor_roles(), **own} if own else conductor_roles()

    def profile(self, name: str) -> BusProfile:
        """Return a bus profile by its name: the catalogs' own, else a packaged one.

        Raises:
            ValueError: No such profile.
        """
        own = self.job.catalog.profiles.get(name)
        return own if own is not None else load_bus_profile(name)

    @once
    def system_segments(self) -> tuple[SegmentView, ...]:
        """Segments of the system bus that join at least two ports."""
        buses = [each for each in self.topology.segments if each.kind is BusKind.SYSTEM and len(each.ports) > 1]
        return tuple([SegmentView(self, segment) for segment in buses])

    @once
    def rings(self) -> tuple[RingView, ...]:
        """Rings of cables, at most one for each segment."""
        return tuple(RingView(self, tuple(self.cables[index] for index in ring)) for ring in self.topology.rings)

    @once
    def shapes(self) -> tuple[ShapeView, ...]:
        """Segments without a ring, each under every bus profile that a port on it names."""
        return tuple(shapes(self))

    @once
    def supplies(self) -> tuple[SupplyView, ...]:
        """Every supply net."""
        return supplies(self)

    @once
    def drawn(self) -> Drawn:
        """What is drawn from each net."""
        return Drawn(self.supplies)

    @once
    def _voltages_v(self) -> Mapping[PortRef, float]:
        return {ref: volts for supply in self.supplies if supply.powered for ref, volts in supply.voltages_v.items()}

    def voltage_at(self, port: PortRef) -> float | None:
        """Return the voltage that a port should have, V, or None where it cannot be told."""
        return self._voltages_v.get(port)

    @once
    def modes(self) -> tuple[ModeView, ...]:
        """Every mode, by name."""
        return tuple(ModeView(self, name, self.job.modes[name]) for name in sorted(self.job.modes))

    @once
    def programs(self) -> tuple[ProgramView, ...]:
        """The program of every driven ventilator in every mode and season."""
        views = []
        for ventilator in self.driven:
            written = ventilator.settings.programs if ventilator.settings else {}
            for mode in self.modes:
                by_season = written.get(mode.name, {})
                views += [ProgramView(self, ventilator, mode, season, by_season.get(season)) for season in Season]
        return tuple(views)

    @once
    def written_programs(self) -> tuple[ProgramView, ...]:
        """Those of them that the job has, with minutes."""
        return tuple([p for p in self.programs if p.program is not None and not p.program.managed])

    @once
    def _programs_together(self) -> Mapping[tuple[str, Season], tuple[ProgramView, ...]]:
        together: dict[tuple[str, Season], list[ProgramView]] = {}
        for program in self.programs:
            together.setdefault((program.mode.name, program.season), []).append(program)
        return {key: tuple(programs) for key, programs in together.items()}

    def programs_in(self, mode: str, season: Season) -> tuple[ProgramView, ...]:
        """Return the programs of all driven ventilators in one mode and season."""
        return self._programs_together.get((mode, season), ())

    @once
    def mode_seasons(self) -> tuple[ModeSeasonView, ...]:
        """Every mode and season, with the programs of all driven ventilators."""
        return tuple(
            ModeSeasonView(self, programs[0].mode, season, programs)
            for (_mode, season), programs in self._programs_together.items()
        )

    @once
    def amounts(self) -> Amounts:
        """What deliveries amount to, each worked out once."""
        return Amounts()

    @once
    def week(self) -> Week | None:
        """The calendar's week, or None when the job has no calendar."""
        return week_of(self.job.calendar) if self.job.calendar is not None else None

    @once
    def weeks(self) -> tuple[WeekView, ...]:
        """The calendar's week in each season."""
        return tuple(WeekView(self, season, self.week) for season in Season) if self.week is not None else ()

    @once
    def dwelling(self) -> DwellingView:
        """The dwelling as a whole."""
        return DwellingView(self)

    @once
    def limits(self) -> Limits:
        """Limits of common practice: the project's own, else the packaged ones."""
        own = self.job.limits_file
        return limits() if own is None else parse_limits(own.text, own.name)

    @once
    def code(self) -> Code | None:
        """The code that the job names or brings, or None for a target of its own."""
        if self.job.code_file is not None:
            return parse_code(self.job.code_file.text, self.job.code_file.name)
        return load_code(self.job.target.code) if self.job.target.code is not None else None

    @once
    def counts(self) -> Counts:
        """Which airflow counts: the code's own, else the one that the job's own target chose, else practice."""
        if self.code is not None:
            return self.code.counts
        return self.job.target.counts or self.limits.own_target.counts

    @once
    def balance(self) -> tuple[Balanced, Basis]:
        """The definition of balanced in force, and what it rests on: the code's own, else practice."""
        if self.code is not None and self.code.balanced is not None:
            return self.code.balanced, self.code.basis(self.code.balanced.basis)
        practice = self.limits.balance
        return practice, Basis("balance of supply and exhaust", Known.COMMON_PRACTICE, note=practice.basis.note)

    @once
    def unbalanced_stages(self) -> tuple[tuple[VentilatorView, str], ...]:
        """Stages in use whose supply and exhaust are not balanced by the definition in force."""
        definition, _basis = self.balance
        return tuple(
            (ventilator, stage)
            for ventilator in self.driven
            for stage in ventilator.stages_used
            if not ventilator.balanced_at(stage, definition)
        )

    @once
    def wsf(self) -> float | None:
        """The weather and shielding factor of the site, given or by its station; None when it is not known."""
        site = self.job.site
        if site is None or site.weather_shielding is not None:
            return site.weather_shielding if site is not None else None
        found = stations().stations.get(site.weather_station or "")
        return found.wsf if found is not None else None

    @once
    def system(self) -> System:
        """What the requirement has to know of the system and the site."""
        flows = [ventilator.stages[stage] for ventilator, stage in self.unbalanced_stages]
        parts = [
            abs(flow.supply_m3s - flow.exhaust_m3s) / greater
            for flow in flows
            if (greater := max(flow.supply_m3s, flow.exhaust_m3s)) > 0.0
        ]
        return System(balanced=not flows, unbalanced_part=max(parts, default=0.0), wsf=self.wsf)

    @once
    def credits_earned(self) -> frozenset[str]:
        """The claimed credits that the code knows and whose testable conditions hold."""
        if self.code is None:
            return frozenset()
        known = {name: self.code.credits[name] for name in self.job.target.credits if name in self.code.credits}
        return frozenset(
            name
            for name, credit in known.items()
            if CreditNeed.BALANCED not in credit.needs or not self.unbalanced_stages
        )

    @once
    def _asked(self) -> Requirement | UnknownRequirementError:
        target = self.job.target
        if self.code is not None:
            try:
                return requirement(self.code, self.job.dwelling, target, self.credits_earned, self.system)
            except UnknownRequirementError as unknown:
                return unknown
        if target.airflow is None or target.window is None:
            return UnknownRequirementError("the target has neither a code nor an airflow with its window")
        return own_requirement(target.airflow, target.window.s, self.limits.own_target.judged, self.counts)

    @once
    def unknown(self) -> str | None:
        """What keeps the requirement from being told, or None when it is known."""
        return str(self._asked) if isinstance(self._asked, UnknownRequirementError) else None

    @once
    def requirement(self) -> Requirement:
        """What is asked of the dwelling; where `unknown` says that it cannot be told, UnknownRequirementError."""
        if isinstance(self._asked, UnknownRequirementError):
            raise UnknownRequirementError(str(self._asked))  # anew: one that is kept would gather tracebacks
        return self._asked

    @once
    def dilution(self) -> Dilution | None:
        """What airflow does to relative exposure in the dwelling; None without a volume, or where nothing is asked."""
        volume_m3, reference_m3s = self.job.dwelling.volume_m3, self.requirement.total_m3s
        return Dilution(reference_m3s, volume_m3) if volume_m3 is not None and reference_m3s > 0.0 else None

    @once
    def capacity_m3s(self) -> float:
        """The most airflow of all driven ventilators together, m3/s, of what counts."""
        return sum(ventilator.most_m3s for ventilator in self.driven)

    @property
    def metric(self) -> bool:
        """True when the job is written in metric units."""
        return self.job.dwelling.metric

    def airflow(self, m3s: float) -> Airflow:
        """Return an airflow to show in the job's own units."""
        own = self.job.target.airflow
        unit = own.unit if own is not None else ("L/s" if self.metric else "cfm")
        return Airflow.shown(m3s, unit)

    def minutes(self, seconds: float) -> Duration:
        """Return a time to show in minutes."""
        return Duration.shown(seconds, "min")
