"""Fault makers for readings: what was measured or seen on site says something else than it should."""

from collections.abc import Callable, Iterator
from typing import Final

from ventrules.checking import found_in, installed_rules
from ventrules.engine import Severity
from ventrules.engine.findings import Document
from ventrules.survey import PortRef, VentilatorView
from ventrules.survey.interval import Verdict
from ventrules.survey.measured import ReadingView, VoltageView, with_airflow_off
from ventrules.testing.fault import Fault, fault
from ventrules.testing.surgery import Cut, JobSurgery
from ventrules.units import Voltage

_EXACT: Final[dict[str, Document]] = {
    "airflow": {"of_reading": 0.002, "at_least": "0.1 L/s"},
    "voltage": {"of_reading": 0.002, "plus": "0.01 V"},
}
_ROUGH: Final = 0.09


def _supplied(job: JobSurgery, at: Callable[[VoltageView, float], float | None]) -> Iterator[tuple[PortRef, float]]:
    """Yield each port whose voltage is predicted, with the voltage that a function makes of view and prediction."""
    for device in job.survey.devices:
        for name in sorted(device.model.ports):
            ref = PortRef(device.name, name)
            volts = job.survey.voltage_at(ref)
            view = VoltageView(job.survey, ref, Voltage.of(volts or 0.0, "V"))
            if volts is None or not view.has_supply or view.predicted() is None:
                continue
            made = at(view, volts)
            if made is not None:
                yield ref, made


def _note(job: JobSurgery, ref: PortRef, volts: float) -> Cut:
    job.document["voltages"] = {str(ref): f"{volts:.6f} V"}
    job.document["instruments"] = {**_EXACT}
    return ("voltages", str(ref))


def voltage_too_low_for_the_device(job: JobSurgery) -> Cut | None:
    """Measure a voltage at which a device does not work."""

    def low(view: VoltageView, _volts: float) -> float | None:
        return view.window[0].lowest.v * 0.9 if view.window is not None else None

    return _note(job, *job.pick(list(_supplied(job, low))))


def voltage_lost_on_the_way(job: JobSurgery) -> Cut | None:
    """Measure less than can arrive by the cables and draws, and enough for the device to work."""

    def lost(view: VoltageView, _volts: float) -> float | None:
        expected = view.predicted()
        if expected is None or view.window is None:
            return None
        between = (view.window[0].lowest.v + expected.low) / 2.0
        return between if expected.low > 1.04 * view.window[0].lowest.v else None

    return _note(job, *job.pick(list(_supplied(job, lost))))


def voltage_noted_where_there_is_no_supply(job: JobSurgery) -> Cut | None:
    """Note a voltage at a port that has no supply terminals."""
    refs = [
        ref
        for device in job.survey.devices
        for name in sorted(device.model.ports)
        for ref in [PortRef(device.name, name)]
        if not VoltageView(job.survey, ref, Voltage.of(24, "V")).has_supply
    ]
    if not refs:
        job.add_device("condenser", "demo-condenser-contact")
        refs = [PortRef("condenser", "call")]
    return _note(job, job.pick(refs), 24.0)


def _measure(job: JobSurgery, unit: VentilatorView, stage: str, *parts: float) -> None:
    """Note supply and exhaust of a stage as parts of what it is rated at."""
    rated = unit.model.stages[stage]
    flows = zip(("supply", "exhaust"), (rated.supply, rated.exhaust), parts, strict=True)
    read: dict[str, Document] = {name: f"{flow.m3s * part * 1000.0:.12f} L/s" for name, flow, part in flows}
    of_unit = job.document.setdefault("readings", {})
    stages = of_unit.setdefault(unit.name, {}) if isinstance(of_unit, dict) else None
    if isinstance(stages, dict):
        stages[stage] = read


def airflow_far_from_its_rating(job: JobSurgery) -> Cut | None:
    """Measure far more exhaust than rated at a stage that no program uses."""
    code = job.survey.code
    if code is not None and (code.oversize or code.quality):
        return None  # what the unit can give at its most changes what is asked of it
    unused = [(unit, s) for unit in job.survey.ventilators for s in unit.stages if s not in unit.stages_used]
    unit, stage = job.pick(unused)
    _measure(job, unit, stage, 1.0, 1.3)
    job.document["instruments"] = {**_EXACT}
    return ("readings", unit.name, stage, "exhaust")


def airflow_on_the_edge_of_enough(job: JobSurgery) -> Cut | None:
    """Measure as rated, with an instrument too rough to tell whether the weakest mode gives what is asked."""
    job.document["target"] = {"airflow": "1 L/s", "window": "4 h"}
    survey = JobSurgery(job.document, job.pick).survey
    held = [view.judged for view in survey.mode_seasons if view.mode.occupancy in survey.requirement.judged]
    least = min(judged.equivalent_m3s if judged is not None else 0.0 for judged in held)
    if least <= 0.0:
        return None
    job.document["target"] = {"airflow": f"{least * (1.0 - _ROUGH / 2.0) * 1000.0:.9f} L/s", "window": "4 h"}
    for unit in job.survey.driven:
        for stage in unit.stages_used:
            _measure(job, unit, stage, 1.0, 1.0)
    job.document["instruments"] = {"airflow": {"of_reading": _ROUGH}}
    lower = with_airflow_off(JobSurgery(job.document, job.pick).survey, -1.0)
    # the weakest mode may be too short to pull its window down
    missed = found_in(lower.job, installed_rules().select(["airflow"]))
    return ("readings",) if any(finding.severity is Severity.ERROR for finding in missed) else None


def balance_on_the_edge(job: JobSurgery) -> Cut | None:
    """Measure with an instrument too rough to tell whether a stage is balanced."""
    definition, _by = job.survey.balance
    unit = job.pick([unit for unit in job.survey.driven if unit.stages_used])
    stage = job.pick(unit.stages_used)
    _measure(job, unit, stage, 1.0, 1.0)
    job.document["instruments"] = {"airflow": {"of_reading": 0.14}}
    again = JobSurgery(job.document, job.pick)
    view = ReadingView(again.survey, again.survey.ventilator(unit.name), stage, again.job.readings[unit.name][stage])
    return ("readings", unit.name, stage) if view.balance(definition) is Verdict.CANNOT_TELL else None


def _seen(job: JobSurgery, device: str, indicator: str, state: Document) -> Cut:
    job.document["indicators"] = {device: {indicator: state}}
    return ("indicators", device, indicator)


def indicator_shows_a_fault(job: JobSurgery) -> Cut | None:
    """See a state that tells of a fault."""
    states = [
        (device.name, indicator, state.flashes if state.flashes is not None else state.shows)
        for device in job.survey.devices
        for indicator, described in sorted(device.model.indicators.items())
        for state in described
        if state.fault
    ]
    return _seen(job, *job.pick(states))


def indicator_state_made_up(job: JobSurgery) -> Cut | None:
    """See a state that the catalog does not describe."""
    lights = [(device.name, light) for device in job.survey.devices for light in sorted(device.model.indicators)]
    return _seen(job, *job.pick(lights), job.pick((9, "flickering", "2")))


FAULTS: Final[tuple[Fault, ...]] = (
    fault("readings/voltage-outside-window", voltage_too_low_for_the_device),
    fault("readings/voltage-not-as-predicted", voltage_lost_on_the_way),
    fault("readings/voltage-without-supply", voltage_noted_where_there_is_no_supply),
    fault("readings/airflow-not-as-rated", airflow_far_from_its_rating),
    fault("readings/airflow-short-of-plan", airflow_on_the_edge_of_enough, unchecked=True),
    fault("readings/balance-uncertain", balance_on_the_edge, unchecked=True),
    fault("readings/indicator-fault", indicator_shows_a_fault),
    fault("readings/indicator-unknown-state", indicator_state_made_up),
)
