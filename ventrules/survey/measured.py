"""What was measured and seen on site: each reading with what its instrument may be off by, beside what is expected."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import product
from typing import Final

import attrs
from attrs import field, frozen

from ventrules.codes import Balanced, is_balanced
from ventrules.engine import Place
from ventrules.engine.once import once
from ventrules.job import (
    AirflowAccuracy,
    Carries,
    IndicatorState,
    Port,
    Reading,
    Shown,
    VoltageAccuracy,
    VoltageWindow,
)
from ventrules.sources import Basis
from ventrules.survey.interval import Interval, Verdict
from ventrules.survey.port_facts import working_window
from ventrules.survey.power import SupplyView
from ventrules.survey.survey import Survey
from ventrules.survey.topology import PortRef
from ventrules.survey.views import DwellingView, VentilatorView
from ventrules.units import Airflow, Share, Voltage

WHOLE: Final = 1.0
"""The part of an instrument's error that is all of it."""


def _airflow_instrument(survey: Survey) -> AirflowAccuracy:
    """Return how well the airflow instrument measures: as the job tells, else as usual."""
    told, usual = survey.job.instruments, survey.limits.measuring
    if told is not None and told.airflow is not None:
        return told.airflow
    return AirflowAccuracy(usual.airflow_of_reading, usual.airflow_at_least)


def _voltmeter(survey: Survey) -> VoltageAccuracy:
    """Return how well the voltmeter measures: as the job tells, else as usual."""
    told, usual = survey.job.instruments, survey.limits.measuring
    if told is not None and told.voltage is not None:
        return told.voltage
    return VoltageAccuracy(usual.voltage_of_reading, usual.voltage_plus)


def airflow_off_m3s(survey: Survey, airflow_m3s: float) -> float:
    """Return how much an airflow that was read may be off, m3/s: the larger of the instrument's two figures."""
    own = _airflow_instrument(survey)
    return max(own.of_reading * airflow_m3s, own.at_least.m3s if own.at_least is not None else 0.0)


def voltage_off_v(survey: Survey, voltage_v: float) -> float:
    """Return how much a voltage that was read may be off, V: the sum of the instrument's two figures."""
    own = _voltmeter(survey)
    return own.of_reading * voltage_v + (own.plus.v if own.plus is not None else 0.0)


def _of_reading(part: float) -> list[str]:
    return [f"{Share.shown(part, '%')} of the reading"] if part else []


def airflow_accuracy(survey: Survey) -> str:
    """Return the accuracy of the airflow instrument in words."""
    own = _airflow_instrument(survey)
    said = _of_reading(own.of_reading)
    if own.at_least is not None:
        said.append(f"at least {own.at_least}" if said else str(own.at_least))
    return ", ".join(said) or "no error"


def voltage_accuracy(survey: Survey) -> str:
    """Return the accuracy of the voltmeter in words."""
    own = _voltmeter(survey)
    fixed = [str(own.plus)] if own.plus is not None else []
    return " plus ".join([*_of_reading(own.of_reading), *fixed]) or "no error"


def airflow_told(survey: Survey) -> bool:
    """Say whether the job tells the accuracy of the airflow instrument."""
    return survey.job.instruments is not None and survey.job.instruments.airflow is not None


def voltage_told(survey: Survey) -> bool:
    """Say whether the job tells the accuracy of the voltmeter."""
    return survey.job.instruments is not None and survey.job.instruments.voltage is not None


@frozen(eq=False, slots=False)
class ReadingView:
    """What was measured at one stage of one ventilator."""

    survey: Survey = field(repr=False)
    ventilator: VentilatorView
    stage: str
    reading: Reading

    @property
    def place(self) -> Place:
        """The reading in the job."""
        return Place.at("readings", self.ventilator.name, self.stage)

    @once
    def streams(self) -> tuple[StreamView, StreamView]:
        """Supply and exhaust."""
        rated = self.ventilator.model.stages[self.stage]
        return (
            StreamView(self, "supply", self.reading.supply, rated.supply),
            StreamView(self, "exhaust", self.reading.exhaust, rated.exhaust),
        )

    def balance(self, definition: Balanced, part: float = WHOLE) -> Verdict:
        """Return whether the two streams are balanced by a definition; the rated airflow is the design.

        Args:
            definition: The definition.
            part: Of an instrument that is off by only so much of this one's error.

        Every definition asks for less the nearer the two streams are to each other, or each to its design: the
        least and the most balanced values lie at the ends of the two intervals or where these meet.
        """
        supply, exhaust = (stream.interval(part) for stream in self.streams)
        design = (self.streams[0].rated.m3s, self.streams[1].rated.m3s)
        corners = list(product((supply.low, supply.high), (exhaust.low, exhaust.high)))
        meeting = exhaust.nearest_to(supply.nearest_to(exhaust.low))
        inside = [
            (supply.nearest_to(meeting), meeting),
            (supply.nearest_to(design[0]), exhaust.nearest_to(design[1])),
        ]
        some = any(is_balanced(definition, *flows, design) for flows in (*corners, *inside))
        every = all(is_balanced(definition, *flows, design) for flows in corners)
        return Verdict.HOLDS if every else Verdict.CANNOT_TELL if some else Verdict.FAILS


@frozen(eq=False, slots=False)
class StreamView:
    """One of the two airflows of a reading, beside what the stage is rated at."""

    at: ReadingView = field(repr=False)
    name: str
    measured: Airflow
    rated: Airflow

    @property
    def survey(self) -> Survey:
        """The survey."""
        return self.at.survey

    @property
    def place(self) -> Place:
        """The airflow in the job."""
        return Place.at("readings", self.at.ventilator.name, self.at.stage, self.name)

    @property
    def off_m3s(self) -> float:
        """How much it may be off, m3/s."""
        return airflow_off_m3s(self.survey, self.measured.m3s)

    def interval(self, part: float = WHOLE) -> Interval:
        """Return what the airflow may be, m3/s, with so much of the instrument's error."""
        return Interval.about(self.measured.m3s, self.off_m3s * part)

    @property
    def allowed(self) -> Interval:
        """What is near enough to the rating, m3/s."""
        return Interval.about(self.rated.m3s, self.rated.m3s * self.survey.limits.measuring.from_rating)


def readings(survey: Survey) -> tuple[ReadingView, ...]:
    """Return every reading of airflow, by ventilator and stage."""
    measured = survey.job.readings
    if not measured:
        return ()
    return tuple(
        ReadingView(survey, ventilator, stage, measured[ventilator.name][stage])
        for ventilator in survey.ventilators
        for stage in sorted(measured.get(ventilator.name, {}))
        if stage in ventilator.model.stages
    )


def readings_in_use(survey: Survey) -> tuple[ReadingView, ...]:
    """Return the readings at stages that some program runs."""
    return tuple(
        view for view in readings(survey) if view.ventilator.driven and view.stage in view.ventilator.stages_used
    )


def streams(survey: Survey) -> tuple[StreamView, ...]:
    """Return supply and exhaust of every reading of airflow."""
    return tuple(stream for view in readings(survey) for stream in view.streams)


def measured_dwelling(survey: Survey) -> tuple[DwellingView, ...]:
    """Return the dwelling, once, where some airflow was measured."""
    return (survey.dwelling,) if readings(survey) else ()


def with_airflow_off(survey: Survey, part: float) -> Survey:
    """Return the survey of the job if every airflow that was measured were off by a part of what it may be.

    Args:
        survey: The survey.
        part: 1.0 for every airflow as high as the instrument leaves open, -1.0 for as low.
    """

    def moved(airflow: Airflow) -> Airflow:
        off_m3s = airflow_off_m3s(survey, airflow.m3s) * part
        return Airflow.shown(max(airflow.m3s + off_m3s, 0.0), airflow.unit)

    changed: Mapping[str, Mapping[str, Reading]] = {
        name: {stage: Reading(moved(read.supply), moved(read.exhaust)) for stage, read in stages.items()}
        for name, stages in survey.job.readings.items()
    }
    return type(survey)(attrs.evolve(survey.job, readings=changed))


@frozen(eq=False, slots=False)
class VoltageView:
    """The voltage measured at one port, between its supply and common terminals."""

    survey: Survey = field(repr=False)
    port: PortRef
    measured: Voltage

    @property
    def place(self) -> Place:
        """The reading in the job."""
        return Place.at("voltages", str(self.port))

    @property
    def described(self) -> Port:
        """The port in the catalog."""
        return self.survey.models[self.port.device].ports[self.port.port]

    @property
    def has_supply(self) -> bool:
        """True when the port has supply terminals."""
        return _has_supply(self.survey, self.described)

    def interval(self, part: float = WHOLE) -> Interval:
        """Return what the voltage may be, V, with so much of the meter's error."""
        return Interval.about(self.measured.v, voltage_off_v(self.survey, self.measured.v) * part)

    @once
    def window(self) -> tuple[VoltageWindow, Basis] | None:
        """Voltages between which the device works, and where they come from, as `working_window` tells."""
        return working_window(self.survey, self.port)

    @once
    def net(self) -> SupplyView | None:
        """The supply net that the port is on."""
        return next((net for net in self.survey.supplies if self.port in net.ports), None)

    @property
    def source(self) -> PortRef | None:
        """The port that its voltage comes from, itself where it gives one; None unless there is exactly one."""
        return self.net.source if self.net is not None else None

    @property
    def source_measured(self) -> Voltage | None:
        """What was measured at its source; None where nothing was, or where it is the source itself."""
        return self.survey.job.voltages.get(str(self.source)) if self.source != self.port else None

    def predicted(self, part: float = WHOLE) -> Interval | None:
        """Return what the voltage should be, V; None where that cannot be told.

        Args:
            part: Of a meter that is off by only so much of this one's error.

        Draws in the catalog are the most that is drawn. So the lowest is what they leave if the source is at its own
        lowest, and the highest is the source at its highest with nothing drawn. A source that was measured is
        where it was read to be, by the same meter, so that both ends are as uncertain as the reading. What wires
        lose is taken as the same part of any source, which is off by far less than a meter is; screws and splices
        may lose a little too.
        """
        survey, nominal = self.survey, self.net.voltage if self.net is not None else None
        under_load_v = survey.voltage_at(self.port)
        if nominal is None or under_load_v is None:
            return None
        usual, read = survey.limits.measuring, self.source_measured
        lost_v = nominal.v * usual.at_connections if self.source != self.port else 0.0
        if read is None:
            lowest_v = under_load_v * usual.source_lowest - lost_v
            return Interval(lowest_v, nominal.v * usual.source_highest)
        lowest_v = max(read.v * under_load_v / nominal.v - lost_v, 0.0)
        low, high = (Interval.about(volts, voltage_off_v(survey, volts) * part) for volts in (lowest_v, read.v))
        return Interval(low.low, high.high)


def _has_supply(survey: Survey, port: Port) -> bool:
    roles = survey.roles
    return any(roles[role].carries is Carries.SUPPLY for role in port.terminals.values() if role in roles)


def voltages(survey: Survey) -> tuple[VoltageView, ...]:
    """Return every voltage that was measured, by port."""
    return tuple(VoltageView(survey, PortRef.of(end), read) for end, read in sorted(survey.job.voltages.items()))


@frozen(eq=False, slots=False)
class IndicatorView:
    """What one indicator of one device showed."""

    survey: Survey = field(repr=False)
    device: str
    indicator: str
    shown: Shown

    @property
    def place(self) -> Place:
        """The indicator in the job."""
        return Place.at("indicators", self.device, self.indicator)

    @property
    def words(self) -> str:
        """What it showed, in words."""
        seen = self.shown.state
        return seen if isinstance(seen, str) else f"{seen} flash{'' if seen == 1 else 'es'} in a row"

    @property
    def states(self) -> tuple[IndicatorState, ...]:
        """The states that the catalog describes."""
        return self.survey.models[self.device].indicators.get(self.indicator, ())

    @property
    def state(self) -> IndicatorState | None:
        """The state that it showed, as the catalog describes it; None where that has no such state."""
        seen = self.shown.state
        return next((s for s in self.states if seen == (s.flashes if isinstance(seen, int) else s.shows)), None)


def indicators(survey: Survey) -> tuple[IndicatorView, ...]:
    """Return every indicator that was looked at, by device and name."""
    return tuple(
        IndicatorView(survey, device, indicator, shown)
        for device, seen in sorted(survey.job.indicators.items())
        for indicator, shown in sorted(seen.items())
    )
