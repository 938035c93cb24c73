"""Rules about equipment: what can talk to what, and what it can do."""

from ventrules.engine import Evidence, Remedy, Rule, Severity, evidence
from ventrules.job import Role
from ventrules.planner import program_remedy, swap_module, swap_ventilator
from ventrules.rules import selectors
from ventrules.rules.cautions import WIRING
from ventrules.sources import Basis, Known, practice
from ventrules.survey import DeviceView, DwellingView, HopView, ProgramView, SegmentView, VentilatorView

_CATALOG = Basis("catalog entry of the model", Known.CATALOG)


def _no_ventilator(dwelling: DwellingView) -> Evidence | None:
    if dwelling.survey.ventilators:
        return None
    return evidence(devices=tuple(sorted(dwelling.survey.models)))


def _no_bus_port(ventilator: VentilatorView) -> Evidence | None:
    if not ventilator.driven or ventilator.bus_ports:
        return None
    return evidence(
        ventilator=ventilator.name,
        model=ventilator.survey.job.devices[ventilator.name].model,
        ports=tuple(f"{name} ({port.bus.value})" for name, port in sorted(ventilator.model.ports.items())),
    )


def _dialect_mismatch(hop: HopView) -> Evidence | None:
    if hop.shared:
        return None
    start, end = hop.hop.start, hop.hop.end
    return evidence(
        ventilators=tuple(ventilator.name for ventilator in hop.ventilators),
        start=str(start),
        end=str(end),
        start_dialects=hop.dialects(start) or ("no dialect",),
        end_dialects=hop.dialects(end) or ("no dialect",),
        route=str(hop.ventilator.route),
    )


def _one_on_a_bus(ventilator: VentilatorView) -> Remedy | None:
    return swap_ventilator(ventilator, lambda other: _no_bus_port(other) is None and other.route is not None)


def _one_that_is_understood(hop: HopView) -> Remedy | None:
    """Replace the module between the two; where none speaks both dialects, the ventilator at the end."""
    remedy, survey, name = swap_module(hop), hop.survey, hop.hop.start.device
    if remedy is not None or survey.models[name].role is not Role.VENTILATOR:
        return remedy
    return swap_ventilator(survey.ventilator(name), _understood)


def _understood(ventilator: VentilatorView) -> bool:
    hops = [hop for hop in ventilator.survey.hops if hop.hop.start.device == ventilator.name]
    return bool(hops) and all(hop.shared for hop in hops)


def _too_many_ventilators(device: DeviceView) -> Evidence | None:
    most, served = device.model.ventilators, device.served
    if most is None or device.model.serves(len(served)):
        return None
    return evidence(device=device.name, served=served, count=len(served), most=most)


def _conflicting_duties(device: DeviceView) -> Evidence | None:
    wired = set(device.wired_ports)
    for group in device.model.not_together:
        if len(both := tuple(port for port in group if port in wired)) > 1:
            return evidence(device=device.name, ports=both)
    return None


def _stage_not_offered(program: ProgramView) -> Evidence | None:
    if not program.unknown_stages:
        return None
    return evidence(
        at=program.ventilator.at("programs", program.mode.name, program.season.value, program.unknown_stages[0]),
        ventilator=program.ventilator.name,
        stages=program.unknown_stages,
        offered=tuple(sorted(program.ventilator.stages)),
    )


def _several_controllers(segment: SegmentView) -> Evidence | None:
    if len(segment.controllers) <= 1:
        return None
    related = tuple(segment.survey.device(name).place for name in segment.controllers)
    return evidence(controllers=segment.controllers, count=len(segment.controllers), related=related)


def _no_controller(segment: SegmentView) -> Evidence | None:
    if segment.controllers:
        return None
    related = tuple(segment.survey.device(name).place for name in segment.segment.devices)
    return evidence(devices=segment.segment.devices, related=related)


NO_VENTILATOR = Rule(
    id="equipment/no-ventilator",
    title="The job has no ventilator",
    severity=Severity.ERROR,
    each=selectors.dwelling,
    check=_no_ventilator,
    message="None of the devices ({devices}) is a ventilator, so nothing can meet the target.",
    todo="Add the ventilator with its model, its cable and its settings.",
    basis=practice("a ventilation job has a ventilator"),
)
NO_BUS_PORT = Rule(
    id="equipment/no-bus-port",
    title="A ventilator that the controller is to run has no bus port",
    severity=Severity.ERROR,
    each=selectors.ventilators,
    check=_no_bus_port,
    message="{ventilator} has programs on the controller, but its model {model} has no bus port, only {ports}.",
    todo="Choose a ventilator with a bus port, or run this one by its own contact and take its programs out.",
    basis=_CATALOG,
    cautions=(WIRING,),
    remedy=_one_on_a_bus,
)
DIALECT_MISMATCH = Rule(
    id="equipment/dialect-mismatch",
    title="Two devices on a ventilator's route share no dialect",
    severity=Severity.ERROR,
    each=selectors.hops,
    check=_dialect_mismatch,
    message=(
        "On the route of {ventilators} ({route}), {start} speaks {start_dialects} but {end} speaks {end_dialects}: "
        "they cannot understand each other."
    ),
    todo="Replace one of the two with a model that speaks a dialect of the other.",
    basis=_CATALOG,
    cautions=(WIRING,),
    remedy=_one_that_is_understood,
)
TOO_MANY_VENTILATORS = Rule(
    id="equipment/too-many-ventilators",
    title="A controller or bridge serves more ventilators than it can",
    severity=Severity.ERROR,
    each=selectors.serving_devices,
    check=_too_many_ventilators,
    message="{device} serves {count} ventilators ({served}); it can serve {most}.",
    working="{count} > {most}",
    todo="Give each further ventilator a bridge of its own, or choose a model that serves {count}.",
    basis=_CATALOG,
    cautions=(WIRING,),
)
CONFLICTING_DUTIES = Rule(
    id="equipment/conflicting-duties",
    title="A device is asked to do two jobs that it cannot do at once",
    severity=Severity.ERROR,
    each=selectors.exclusive_devices,
    check=_conflicting_duties,
    message="{device} is wired at {ports}; only one of them can be used at a time.",
    todo="Keep one duty on {device} and give the other to a device of its own.",
    basis=_CATALOG,
    cautions=(WIRING,),
)
STAGE_NOT_OFFERED = Rule(
    id="equipment/stage-not-offered",
    title="A program uses a stage that the ventilator does not have",
    severity=Severity.ERROR,
    each=selectors.written_programs,
    check=_stage_not_offered,
    message="The program uses stage {stages}; {ventilator} offers {offered}.",
    todo="Set the program with the stages that the ventilator offers.",
    basis=_CATALOG,
    remedy=program_remedy,
)
SEVERAL_CONTROLLERS = Rule(
    id="equipment/several-controllers",
    title="More than one controller on a system bus",
    severity=Severity.ERROR,
    each=selectors.system_segments,
    check=_several_controllers,
    message="{count} controllers share one system bus: {controllers}. Only one can own the settings.",
    todo="Take all but one controller off the bus.",
    basis=practice("one controller owns the settings of a communicating system"),
    cautions=(WIRING,),
)
NO_CONTROLLER = Rule(
    id="equipment/no-controller",
    title="A system bus has no controller",
    severity=Severity.ERROR,
    each=selectors.system_segments,
    check=_no_controller,
    message="No controller is on the system bus that joins {devices}.",
    todo="Wire the controller to this bus.",
    basis=practice("one controller owns the settings of a communicating system"),
    cautions=(WIRING,),
)

RULES = (
    NO_VENTILATOR,
    NO_BUS_PORT,
    DIALECT_MISMATCH,
    TOO_MANY_VENTILATORS,
    CONFLICTING_DUTIES,
    STAGE_NOT_OFFERED,
    SEVERAL_CONTROLLERS,
    NO_CONTROLLER,
)
