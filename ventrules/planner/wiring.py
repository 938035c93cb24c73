"""Wiring remedies as edits: put a bridge in, take one out, move a cable."""

from collections.abc import Iterable, Sequence
from typing import Final

from ventrules.engine import Edit, EditKind, Remedy
from ventrules.engine.findings import Document
from ventrules.job import BusKind, Model, Role
from ventrules.planner.edits import remove
from ventrules.survey import CableView, DeviceView, HopView, PortRef, Survey, VentilatorView

_POWER_OFF: Final = "Power off before wiring; then see that the controller lists the ventilator."
_CABLE_CAN_BE_RUN: Final = "A cable can be run there, of a gauge and kind fit for the bus."
_HAS_SUPPLY: Final = (
    "The module has its supply from the system bus or the indoor unit, there is a place for it, and cables can be run "
    "to it."
)
_NOTHING_ELSE_ON_IT: Final = "Nothing else is wired to {device} than the job shows."
_TRACE: Final = "Power off and follow the cable from end to end before it is taken out."
_BUSES: Final = (BusKind.SYSTEM, BusKind.VENTILATOR)


def _cable(start: PortRef, end: PortRef) -> Edit:
    value: dict[str, Document] = {"from": str(start), "to": str(end)}
    return Edit(EditKind.ADD, ("cables", "-"), value)


def _cable_list(survey: Survey) -> tuple[Edit, ...]:
    """Return the edit that starts the list of cables, when the job has none."""
    return () if survey.job.cables else (Edit(EditKind.ADD, ("cables",), []),)


def _without(indexes: Iterable[int]) -> list[Edit]:
    """Return the edits that remove cables, last first, so that the indexes hold."""
    return [remove(("cables", index)) for index in sorted(set(indexes), reverse=True)]


def _share(survey: Survey, first: PortRef, second: PortRef) -> bool:
    ports = [survey.models[port.device].ports[port.port] for port in (first, second)]
    return bool(set(ports[0].dialects) & set(ports[1].dialects))


def _only_controller(survey: Survey) -> DeviceView | None:
    controllers = survey.of_role(Role.CONTROLLER)
    return controllers[0] if len(controllers) == 1 else None


def _anchor(survey: Survey, controller: DeviceView) -> PortRef | None:
    """Return the system port that a bridge is best wired to: the indoor unit's, else the controller's."""
    ports = survey.topology.ports_of(controller.name, BusKind.SYSTEM)
    if not ports:
        return None
    on_bus = survey.topology.segment_of(ports[0]).ports
    indoor = [port for port in on_bus if survey.models[port.device].role is Role.INDOOR_UNIT]
    return indoor[0] if indoor else ports[0]


def insert_module(ventilator: VentilatorView) -> Remedy | None:
    """Return the remedy that gives a ventilator a way to the controller.

    In this order: finish a bridge that is already on its bus, use a bridge with room for it, insert the
    smallest interface module of the catalog that speaks both dialects.
    """
    survey = ventilator.survey
    controller = _only_controller(survey)
    ports = survey.topology.ports_of(ventilator.name, BusKind.VENTILATOR)
    if controller is None or len(ports) != 1:
        return None
    anchor = _anchor(survey, controller)
    if anchor is None or not _has_room(controller):
        return None
    if survey.topology.bridges_on(survey.topology.segment_of(ports[0])):
        return _finish_bridge(ventilator, ports[0], controller, anchor)
    return _use_bridge(ventilator, ports[0], controller) or _new_module(ventilator, ports[0], controller, anchor)


def _wrong_at(survey: Survey, port: PortRef) -> list[int]:
    wrong = set(survey.topology.mismatched)
    return [index for index in survey.topology.cables_at.get(port, ()) if index in wrong]


def _bridge_ports(survey: Survey, bridge: str) -> tuple[PortRef, PortRef] | None:
    system = survey.topology.ports_of(bridge, BusKind.SYSTEM)
    toward = survey.topology.ports_of(bridge, BusKind.VENTILATOR)
    return (system[0], toward[0]) if len(system) == len(toward) == 1 else None


def _has_room(device: DeviceView) -> bool:
    """Say whether a device can serve one more ventilator."""
    return device.model.serves(len(device.served) + 1)


def _free_for(device: DeviceView, port: PortRef) -> bool:
    """Say whether a port may be wired beside those that are."""
    wired = set(device.wired_ports)
    return all(port.port not in group or not wired & set(group) - {port.port} for group in device.model.not_together)


def _finish_bridge(ventilator: VentilatorView, port: PortRef, controller: DeviceView, anchor: PortRef) -> Remedy | None:
    survey = ventilator.survey
    for bridge in survey.topology.bridges_on(survey.topology.segment_of(port)):
        pair = _bridge_ports(survey, bridge)
        if pair is None or not _free_for(survey.device(bridge), pair[0]):
            continue
        controller_port = survey.topology.ports_of(controller.name, BusKind.SYSTEM)[0]
        if _share(survey, pair[0], controller_port) and _share(survey, pair[1], port):
            edits = (*_without(_wrong_at(survey, port)), *_cable_list(survey), _cable(anchor, pair[0]))
            return Remedy(
                title=f"Run a cable from {anchor} to {pair[0]}",
                edits=tuple(edits),
                check_on_site=_POWER_OFF,
                assumes=_CABLE_CAN_BE_RUN,
            )
    return None


def _use_bridge(ventilator: VentilatorView, port: PortRef, controller: DeviceView) -> Remedy | None:
    survey = ventilator.survey
    for bridge in survey.topology.bridges:
        device, pair = survey.device(bridge), _bridge_ports(survey, bridge)
        if pair is None or not survey.topology.reaches_controller(pair[0]) or not _free_for(device, pair[1]):
            continue
        if not _has_room(device):
            continue
        controller_port = survey.topology.ports_of(controller.name, BusKind.SYSTEM)[0]
        if _share(survey, pair[1], port) and _share(survey, pair[0], controller_port):
            edits = (*_without(_wrong_at(survey, port)), *_cable_list(survey), _cable(pair[1], port))
            return Remedy(
                title=f"Run a cable from {pair[1]} to {port}",
                edits=tuple(edits),
                check_on_site=_POWER_OFF,
                assumes=_CABLE_CAN_BE_RUN,
            )
    return None


def _new_module(ventilator: VentilatorView, port: PortRef, controller: DeviceView, anchor: PortRef) -> Remedy | None:
    survey = ventilator.survey
    spoken = set(ventilator.model.ports[port.port].dialects)
    heard = {
        dialect
        for system in survey.topology.ports_of(controller.name, BusKind.SYSTEM)
        for dialect in controller.model.ports[system.port].dialects
    }
    fitting = sorted(
        (model.ventilators or 0, name, pair)
        for name, model in survey.job.catalog.models.items()
        if model.role is Role.INTERFACE_MODULE and (pair := _fits(model, heard, spoken)) is not None
    )
    if not fitting:
        return None
    _count, model_name, (system_port, ventilator_port) = fitting[0]
    name = _free_name(survey)
    edits = (
        *_without(_wrong_at(survey, port)),
        Edit(EditKind.ADD, ("devices", name), {"model": model_name}),
        *_cable_list(survey),
        _cable(anchor, PortRef(name, system_port)),
        _cable(PortRef(name, ventilator_port), port),
    )
    return Remedy(
        title=f"Fit interface module {model_name} between {anchor} and {port}",
        edits=edits,
        check_on_site=_POWER_OFF,
        changes_purchase=True,
        assumes=_HAS_SUPPLY,
    )


def _fits(model: Model, heard: set[str], spoken: set[str]) -> tuple[str, str] | None:
    system = [name for name, port in model.ports.items() if port.bus is BusKind.SYSTEM]
    toward = [name for name, port in model.ports.items() if port.bus is BusKind.VENTILATOR]
    if len(system) != 1 or len(toward) != 1:
        return None
    speaks = set(model.ports[system[0]].dialects) & heard and set(model.ports[toward[0]].dialects) & spoken
    return (system[0], toward[0]) if speaks else None


def _free_name(survey: Survey) -> str:
    number, name = 1, "module"
    while name in survey.models:
        number += 1
        name = f"module-{number}"
    return name


def _taken_out(survey: Survey, device: str) -> tuple[list[Edit], str]:
    """Return the edits that take a device out and close each bus that ran on through it, and the joins in words."""
    topology = survey.topology
    edits: list[Edit] = []
    joined: list[str] = []
    gone: set[int] = set()
    for port in topology.ports_of(device, *BusKind):
        indexes = topology.cables_at.get(port, ())
        gone.update(indexes)
        neighbors = sorted({end for index in indexes for end in topology.ends[index] if end != port})
        others = [other for other in neighbors[1:] if other.device != device]
        edits += [_cable(neighbors[0], other) for other in others]
        joined += [f", and run a cable from {neighbors[0]} to {other}" for other in others]
    return [*_without(gone), *edits, remove(("devices", device))], "".join(joined)


def drop_bridge(ventilator: VentilatorView, bridges: Sequence[str]) -> Remedy | None:
    """Return the remedy that leaves one of several bridges to a ventilator: a zone panel, where there is one."""
    survey = ventilator.survey
    modules = [name for name in bridges if survey.models[name].role is Role.INTERFACE_MODULE]
    surplus = modules if len(modules) < len(bridges) else modules[1:]
    if len(surplus) != 1 or any(_has_other_duty(survey, name) for name in surplus):
        return None
    edits, joined = _taken_out(survey, surplus[0])
    return Remedy(
        title=f"Take out {surplus[0]}, an interface module{joined}",
        edits=tuple(edits),
        check_on_site=_POWER_OFF,
        assumes=_NOTHING_ELSE_ON_IT.format(device=surplus[0]),
    )


def _has_other_duty(survey: Survey, name: str) -> bool:
    return any(port in survey.topology.cables_at for port in survey.topology.ports_of(name, BusKind.CONTACT))


def move_to_panel(module: DeviceView, panel: str) -> Remedy | None:
    """Return the remedy that moves a ventilator from an interface module to a zone panel's own port."""
    survey = module.survey
    pair, own = _bridge_ports(survey, panel), _bridge_ports(survey, module.name)
    if pair is None or own is None or pair[1] in survey.topology.cables_at:
        return None
    indexes = survey.topology.cables_at.get(own[1], ())
    neighbors = sorted({end for index in indexes for end in survey.topology.ends[index] if end != own[1]})
    if not neighbors or not all(_share(survey, pair[1], end) for end in neighbors):
        return None
    taken_out, joined = _taken_out(survey, module.name)
    edits = (*taken_out, _cable(pair[1], neighbors[0]))
    return Remedy(
        title=f"Move {neighbors[0]} to {pair[1]}, take out {module.name}{joined}",
        edits=edits,
        check_on_site=_POWER_OFF,
        assumes=f"The cable reaches {panel}, and nothing else is wired to {module.name} than the job shows.",
    )


def drop_cable(cable: CableView) -> Remedy:
    """Return the remedy that takes out one cable."""
    return drop_cables([cable])


def drop_cables(cables: Sequence[CableView]) -> Remedy:
    """Return the remedy that takes out cables between the same two ports."""
    which = "the cable" if len(cables) == 1 else f"{len(cables)} of the cables"
    return Remedy(
        title=f"Take out {which} between {cables[0].cable.start} and {cables[0].cable.end}",
        edits=tuple(_without(cable.index for cable in cables)),
        check_on_site=_TRACE,
        assumes="The cable carries nothing but this bus; no device is fed or switched through it.",
    )


def connect(device: DeviceView) -> Remedy | None:
    """Return the remedy that wires an indoor or outdoor unit to the system bus."""
    survey, controller = device.survey, _only_controller(device.survey)
    ports = survey.topology.ports_of(device.name, BusKind.SYSTEM)
    anchor = _anchor(survey, controller) if controller is not None else None
    if device.model.role not in (Role.INDOOR_UNIT, Role.OUTDOOR_UNIT) or len(ports) != 1 or anchor is None:
        return None
    heard = survey.topology.ports_of(controller.name, BusKind.SYSTEM) if controller is not None else ()
    if not any(_share(survey, ports[0], port) for port in heard):
        return None
    return Remedy(
        title=f"Run a cable from {anchor} to {ports[0]}",
        edits=(*_cable_list(survey), _cable(anchor, ports[0])),
        check_on_site="Power off before wiring; then see that the controller lists the device.",
        assumes=_CABLE_CAN_BE_RUN,
    )


def move_to_right_port(cable: CableView) -> Remedy | None:
    """Return the remedy that moves one end of a cable to the port of the right kind on the same device."""
    survey = cable.survey
    moves = []
    start, end = cable.ends
    for key, wrong, other in (("to", end, start), ("from", start, end)):
        kind = survey.topology.kind(other)
        device = survey.device(wrong.device)
        ports = survey.topology.ports_of(wrong.device, kind) if kind in _BUSES else ()
        roomy = kind is not BusKind.VENTILATOR or _has_room(device)
        if len(ports) == 1 and roomy and _free_for(device, ports[0]) and _may_join(survey, ports[0], other):
            moves.append((key, wrong, ports[0]))
    if len(moves) != 1:
        return None
    key, wrong, right = moves[0]
    return Remedy(
        title=f"Move the cable's end from {wrong} to {right}",
        edits=(Edit(EditKind.REPLACE, ("cables", cable.index, key), str(right)),),
        check_on_site=_POWER_OFF,
        assumes=f"The cable reaches {right}, and both devices still work after the wrong connection.",
    )


def _may_join(survey: Survey, port: PortRef, other: PortRef) -> bool:
    """Say whether a cable between two ports closes no ring and joins ports that understand each other."""
    apart = survey.topology.segment_of(port).number != survey.topology.segment_of(other).number
    return apart and port.device != other.device and _share(survey, port, other)


def swap_module(hop: HopView) -> Remedy | None:
    """Return the remedy that swaps the interface module of a route for one that speaks both dialects."""
    survey, route = hop.survey, hop.ventilator.route
    if route is None or len(route.hops) != 2:
        return None
    first, last = route.hops
    module = survey.device(first.end.device)
    spoken, heard = set(hop.dialects(first.start)), set(hop.dialects(last.end))
    needed = (last.start.port, first.end.port)
    fitting = sorted(
        (model.ventilators or 0, name)
        for name, model in survey.job.catalog.models.items()
        if model.role is module.model.role is Role.INTERFACE_MODULE
        and _fits(model, heard, spoken) == needed
        and set(module.wired_ports) <= set(needed)
        and model.serves(len(module.served))
    )
    if not fitting:
        return None
    return Remedy(
        title=f"Replace {module.name} with a {fitting[0][1]}, which shares a dialect with both sides",
        edits=(Edit(EditKind.REPLACE, ("devices", module.name, "model"), fitting[0][1]),),
        check_on_site=_POWER_OFF,
        changes_purchase=True,
        assumes="The new module takes the same supply as the old one and fits in its place.",
    )
