"""Rules about the ways of messages: what is joined, what is not, and what should not be."""

from ventrules.engine import Evidence, Remedy, Rule, Severity, evidence
from ventrules.job import BusKind, Role
from ventrules.planner import (
    connect,
    drop_bridge,
    drop_cable,
    drop_cables,
    insert_module,
    move_to_panel,
    move_to_right_port,
)
from ventrules.rules import selectors
from ventrules.rules.cautions import WIRING
from ventrules.sources import practice
from ventrules.survey import CableView, DeviceView, PortRef, RingView, VentilatorView, cable_name
from ventrules.words import listed

_BRIDGE = practice("a ventilator on its own bus reaches the system bus through a device with a port on both")


def _no_path(ventilator: VentilatorView) -> Evidence | None:
    if not ventilator.bus_ports or ventilator.route is not None:
        return None
    ends_at, missing = _where_it_ends(ventilator)
    return evidence(
        ventilator=ventilator.name,
        controllers=tuple(c.name for c in ventilator.survey.of_role(Role.CONTROLLER)) or ("any controller",),
        ends_at=ends_at,
        missing=missing,
    )


def _where_it_ends(ventilator: VentilatorView) -> tuple[str, str]:
    topology, port = ventilator.survey.topology, ventilator.bus_ports[0]
    own = topology.kind(port) is BusKind.VENTILATOR
    bridge = "an interface module, or a zone panel with a ventilator port" if own else "the controller's system bus"
    if not ventilator.survey.of_role(Role.CONTROLLER):
        return f"the job has no controller for {port} to reach", "the controller"
    free = ventilator.survey.free_bridges
    if free and own:
        bridge = f"a cable from {topology.ports_of(free[0], BusKind.VENTILATOR)[0]} to {port}"
    if port not in topology.cables_at:
        return f"no cable is on {port}", bridge
    segment = topology.segment_of(port)
    on_bus = topology.bridges_on(segment)
    if on_bus:
        return f"the path ends at {on_bus[0]}", f"a cable from {on_bus[0]} to the controller's system bus"
    wrong = [
        end
        for index in topology.cables_at[port]
        if index in topology.mismatched
        for end in topology.ends[index]
        if end != port
    ]
    if wrong:
        return f"its cable lands on {wrong[0]}, which is a {topology.kind(wrong[0]).value} port", bridge
    others = [str(other) for other in segment.ports if other != port]
    return f"its bus goes no further than {' and '.join(others)}", bridge


def _bridges_of(ventilator: VentilatorView) -> tuple[str, ...]:
    topology = ventilator.survey.topology
    ports = topology.ports_of(ventilator.name, BusKind.VENTILATOR)
    return tuple(sorted({name for port in ports for name in topology.bridges_on(topology.segment_of(port))}))


def _speakers(ventilator: VentilatorView) -> tuple[PortRef, ...]:
    """Return the ports through which bridges and controllers speak on a ventilator's own bus."""
    topology = ventilator.survey.topology
    ports = topology.ports_of(ventilator.name, BusKind.VENTILATOR)
    return tuple(
        port for number in {topology.segment_of(p).number for p in ports} for port in topology.speakers.get(number, ())
    )


def _two_bridges(ventilator: VentilatorView) -> Evidence | None:
    speakers = _speakers(ventilator)
    if len(speakers) <= 1:
        return None
    related = tuple(ventilator.survey.device(port.device).place for port in speakers)
    return evidence(
        ventilator=ventilator.name,
        bridges=tuple(str(port) for port in sorted(speakers)),
        count=len(speakers),
        related=related,
    )


def _drop_bridge(ventilator: VentilatorView) -> Remedy | None:
    return drop_bridge(ventilator, _bridges_of(ventilator))


def _panel_with_room(module: DeviceView) -> str | None:
    """Return a zone panel on the module's own system bus that could serve its ventilators by a free port."""
    served, topology = len(module.served), module.survey.topology
    if not served:
        return None
    beside = (
        panel
        for port in topology.ports_of(module.name, BusKind.SYSTEM)
        for panel in module.survey.idle_panels.get(topology.segment_of(port).number, ())
    )
    return next((panel.name for panel in beside if panel.model.serves(served)), None)


def _redundant_module(module: DeviceView) -> Evidence | None:
    panel = _panel_with_room(module)
    if panel is None or any(module.model.ports[port].bus is BusKind.CONTACT for port in module.wired_ports):
        return None
    return evidence(
        module=module.name,
        panel=panel,
        ventilators=module.served,
        related=(module.survey.device(panel).place,),
    )


def _use_panel(module: DeviceView) -> Remedy | None:
    panel = _panel_with_room(module)
    return move_to_panel(module, panel) if panel is not None else None


def _joins_buses(cable: CableView) -> bool:
    """Say whether both ends of a mismatched cable lie on buses that have other devices."""
    topology = cable.survey.topology
    buses = {BusKind.SYSTEM, BusKind.VENTILATOR}
    return set(cable.kinds) == buses and all(len(topology.segment_of(end).ports) > 1 for end in cable.ends)


def _buses_joined(cable: CableView) -> Evidence | None:
    if not _joins_buses(cable):
        return None
    return _both_ends(cable)


def _wrong_port_kind(cable: CableView) -> Evidence | None:
    if _joins_buses(cable):
        return None
    return _both_ends(cable)


def _both_ends(cable: CableView) -> Evidence:
    (start, end), (start_kind, end_kind) = cable.ends, cable.kinds
    volts = sorted(str(voltage) for voltage in cable.voltages)
    return evidence(
        start=str(start),
        end=str(end),
        start_kind=start_kind.value,
        end_kind=end_kind.value,
        supplies=f"their supplies are {' and '.join(volts)}" if volts else "their supplies may differ",
    )


def _without_cable(device: DeviceView) -> Evidence:
    ports = tuple(
        str(PortRef(device.name, port))
        for port in sorted(device.model.ports)
        if device.model.ports[port].bus is not BusKind.CONTACT
    )
    return evidence(device=device.name, ports=ports)


def _ring(ring: RingView) -> Evidence:
    names = tuple(sorted(cable_name(cable.cable) for cable in ring.cables))
    related = tuple(cable.place for cable in ring.cables)
    doubled = len(set(names)) == 1
    joined = names[0].replace(" to ", " and ")
    what = f"each join {joined}" if doubled else f"form a ring: {listed(names)}"
    return evidence(cables=names, count=len(names), what=what, related=related)


def _open_ring(ring: RingView) -> Remedy | None:
    """A doubled cable can go without a thought; in a larger ring somebody has to choose."""
    first = ring.cables[0]
    doubled = all(set(cable.ends) == set(first.ends) for cable in ring.cables)
    return drop_cables(ring.cables[1:]) if doubled else None


NO_PATH = Rule(
    id="wiring/no-path-to-controller",
    title="A ventilator has no path to its controller",
    severity=Severity.ERROR,
    each=selectors.ventilators,
    check=_no_path,
    message="{ventilator} cannot reach {controllers}: {ends_at}. Missing: {missing}.",
    todo="Fit what is missing: {missing}.",
    basis=_BRIDGE,
    cautions=(WIRING,),
    remedy=insert_module,
)
TWO_BRIDGES = Rule(
    id="wiring/two-bridges",
    title="A ventilator's bus has more than one bridge",
    severity=Severity.ERROR,
    each=selectors.driven_ventilators,
    check=_two_bridges,
    message="{count} ports ({bridges}) serve the bus of {ventilator}; each would answer for it.",
    todo="Leave one of {bridges} on the ventilator's bus.",
    basis=practice("one bridge speaks for a ventilator on the system bus"),
    cautions=(WIRING,),
    remedy=_drop_bridge,
)
REDUNDANT_MODULE = Rule(
    id="wiring/redundant-interface-module",
    title="An interface module stands beside a zone panel that already has the port",
    severity=Severity.ADVICE,
    each=selectors.interface_modules,
    check=_redundant_module,
    message="{module} carries {ventilators}, but {panel} has a free ventilator port and could do it.",
    todo="Move the ventilator's cable to {panel} and take {module} out.",
    basis=practice("a zone panel with a ventilator port replaces the interface module"),
    cautions=(WIRING,),
    remedy=_use_panel,
)
BUSES_JOINED = Rule(
    id="wiring/buses-joined",
    title="System bus and ventilator bus are joined by a cable",
    severity=Severity.ERROR,
    each=selectors.mismatched_cables,
    check=_buses_joined,
    message="The cable between {start} ({start_kind}) and {end} ({end_kind}) joins two buses that must stay apart.",
    todo=(
        "Do not power up before this cable is out: {supplies}. Only a bridge may carry messages between the two buses."
    ),
    basis=_BRIDGE,
    cautions=(WIRING,),
    remedy=drop_cable,
)
WRONG_PORT_KIND = Rule(
    id="wiring/wrong-port-kind",
    title="A cable joins ports of different kinds",
    severity=Severity.ERROR,
    each=selectors.mismatched_cables,
    check=_wrong_port_kind,
    message="The cable joins {start} ({start_kind}) to {end} ({end_kind}).",
    todo="Do not power up before one end is on a port of the other's kind: {supplies}.",
    basis=practice("a cable joins ports of one kind"),
    cautions=(WIRING,),
    remedy=move_to_right_port,
)
WITHOUT_CABLE = Rule(
    id="wiring/device-without-cable",
    title="A device has no cable",
    severity=Severity.ERROR,
    each=selectors.isolated_devices,
    check=_without_cable,
    message="{device} has no cable: nothing is wired to {ports}.",
    todo="Wire it, or take it out of the job.",
    basis=practice("a device on no bus takes no part"),
    cautions=(WIRING,),
    remedy=connect,
)
RING = Rule(
    id="wiring/ring",
    title="Cables form a ring",
    severity=Severity.ERROR,
    each=selectors.rings,
    check=_ring,
    message="{count} cables {what}.",
    todo="Take one of them out, so that the bus has two ends.",
    basis=practice("a two-wire bus is a line with two ends; in a ring only two places can be terminated"),
    cautions=(WIRING,),
    remedy=_open_ring,
)
RULES = (
    NO_PATH,
    TWO_BRIDGES,
    REDUNDANT_MODULE,
    BUSES_JOINED,
    WRONG_PORT_KIND,
    WITHOUT_CABLE,
    RING,
)
