"""Fault makers for equipment and wiring."""

from ventrules.job import BusKind, Role
from ventrules.survey import PortRef
from ventrules.testing.surgery import Cut, JobSurgery

_ALONE = 2  # ports of a bus that joins one device to one other


def ventilators_left_out(job: JobSurgery) -> Cut | None:
    """Take every ventilator out."""
    for name in job.ventilators:
        job.drop_device(name)
    return ("target",)


def contact_ventilator_chosen(job: JobSurgery) -> Cut | None:
    """Choose an entry-level ventilator without a bus port, and keep its programs."""
    name = job.pick(job.ventilators)
    if len(job.survey.topology.segment_of(PortRef(name, "bus")).ports) > _ALONE:
        return None
    job.drop_cables(name)
    job.part("devices")[name] = {"model": "demo-hrv-contact"}
    for mode in job.programs(name):
        seasons = job.part("settings", name, "programs", mode)
        for season, program in seasons.items():
            if isinstance(program, dict) and program:
                seasons[season] = {"high": next(iter(program.values()))}
    return ("devices", name)


def module_of_another_dialect_chosen(job: JobSurgery) -> Cut | None:
    """Choose an interface module whose system dialect the controller does not speak."""
    modules = [
        name
        for name in job.of_role(Role.INTERFACE_MODULE)
        if len(job.survey.device(name).served) == 1 and "outdoor" not in job.survey.device(name).wired_ports
    ]
    controller = job.model(job.of_role(Role.CONTROLLER)[0]).ports["system"].dialects
    if not modules or len(controller) > 1:
        return None
    name = job.pick(modules)
    other = "demo-interface" if controller == ("chalk",) else "demo-interface-chalk"
    job.part("devices")[name] = {"model": other}
    return ("devices", name)


def one_more_ventilator_on_the_bus(job: JobSurgery) -> Cut | None:
    """Put one more ventilator on a bus whose bridge serves as many as it can."""
    full = [
        name
        for name in job.survey.topology.bridges
        if len(job.survey.device(name).served) == job.model(name).ventilators
    ]
    if not full:
        return None
    bridge = job.pick(full)
    twin = job.survey.device(bridge).served[0]
    job.add_device("spare", job.job.devices[twin].model)
    job.add_cable(f"{twin}.bus", "spare.bus")
    job.part("settings")["spare"] = {**job.part("settings", twin)}
    return ("devices", bridge)


def module_given_a_second_duty(job: JobSurgery) -> Cut | None:
    """Let a module switch a contact-controlled outdoor unit beside its ventilator."""
    modules = [
        name
        for name in job.of_role(Role.INTERFACE_MODULE)
        if len(job.survey.device(name).served) == 1 and "pebble" in job.model(name).ports["ventilator"].dialects
    ]
    controller = job.model(job.of_role(Role.CONTROLLER)[0]).ports["system"].dialects
    if not modules or "slate" not in controller:
        return None
    name = job.pick(modules)
    job.part("devices")[name] = {"model": "demo-interface-dual"}
    job.add_device("condenser", "demo-condenser-contact")
    job.add_cable(f"{name}.outdoor", "condenser.call")
    return ("devices", name)


def second_controller_added(job: JobSurgery) -> Cut | None:
    """Put a second controller on the system bus."""
    control = job.of_role(Role.CONTROLLER)[0]
    job.add_device("second control", job.job.devices[control].model)
    job.add_cable(str(job.pick(job.roomy_ports())), "second control.system")
    return ("devices",)


def controller_taken_off_the_bus(job: JobSurgery) -> Cut | None:
    """Take the controller's only cable out, where a bus remains without it."""
    control = PortRef(job.of_role(Role.CONTROLLER)[0], "system")
    cables = job.survey.topology.cables_at.get(control, ())
    if len(cables) != 1 or len(job.system_ports()) <= _ALONE:
        return None
    del job.cables[cables[0]]
    return ("devices",)


def bridge_cable_left_out(job: JobSurgery) -> Cut | None:
    """Leave out the cable between a bridge and the bus of its ventilator."""
    name = job.pick(job.ventilators)
    port = PortRef(name, "bus")
    if len(job.survey.topology.segment_of(port).ports) > _ALONE:
        return None
    del job.cables[job.survey.topology.cables_at[port][0]]
    return ("devices", name)


def bridge_left_out(job: JobSurgery) -> Cut | None:
    """Leave a bridge out, where nothing else hangs on it."""
    leaves = {port.device for port in job.leaves(BusKind.SYSTEM)}
    bridges = [
        name
        for name in job.survey.topology.bridges
        if name in leaves and len(job.survey.device(name).served) == 1 and len(job.survey.device(name).wired_ports) > 1
    ]
    if not bridges:
        return None
    bridge = job.pick(bridges)
    ventilator = job.survey.device(bridge).served[0]
    if len(job.system_ports()) == _ALONE:
        return None
    job.drop_device(bridge)
    return ("devices", ventilator)


def ventilator_wired_to_the_system_bus(job: JobSurgery) -> Cut | None:
    """Wire a ventilator straight to the system bus, past its bridge."""
    name = job.pick(job.ventilators)
    port = PortRef(name, "bus")
    if len(job.survey.topology.segment_of(port).ports) > _ALONE:
        return None
    index = job.survey.topology.cables_at[port][0]
    job.cables[index] = {"from": str(job.pick(job.system_ports())), "to": str(port)}
    return ("devices", name)


def second_bridge_added(job: JobSurgery) -> Cut | None:
    """Put a second interface module beside the bridge of a ventilator."""
    name = job.pick(job.ventilators)
    chalk = "slate" not in job.model(job.of_role(Role.CONTROLLER)[0]).ports["system"].dialects
    job.add_device("second module", "demo-interface-chalk" if chalk else "demo-interface-pair")
    job.add_cable(str(job.pick(job.roomy_ports())), "second module.system")
    job.add_cable("second module.ventilator", f"{name}.bus")
    if len(job.survey.topology.segment_of(PortRef(name, "bus")).ports) > _ALONE:
        return None
    if chalk and len(job.ventilators) > 1:
        return None
    return ("devices", name)


def zone_panel_put_beside_the_module(job: JobSurgery) -> Cut | None:
    """Put a zone panel with a free ventilator port on the system bus of an interface module."""
    modules = [
        name
        for name in job.of_role(Role.INTERFACE_MODULE)
        if len(job.survey.device(name).served) == 1
        and all(job.model(name).ports[port].bus is not BusKind.CONTACT for port in job.survey.device(name).wired_ports)
    ]
    slate = "slate" in job.model(job.of_role(Role.CONTROLLER)[0]).ports["system"].dialects
    if len(modules) != 1 or not slate:
        return None
    job.add_device("zones", "demo-zone-panel")
    job.add_cable(str(job.pick(job.roomy_ports())), "zones.system")
    return ("devices", modules[0])


def buses_joined_by_a_cable(job: JobSurgery) -> Cut | None:
    """Run a cable from the system bus to a ventilator's bus."""
    name = job.pick(job.ventilators)
    return ("cables", job.add_cable(str(job.pick(job.system_ports())), f"{name}.bus"))


def cable_on_the_wrong_port(job: JobSurgery) -> Cut | None:
    """Land a ventilator's cable on the system port of its bridge."""
    name = job.pick(job.ventilators)
    port = PortRef(name, "bus")
    route = job.survey.ventilator(name).route
    if route is None or len(job.survey.topology.segment_of(port).ports) > _ALONE:
        return None
    index = job.survey.topology.cables_at[port][0]
    job.cables[index] = {"from": f"{route.bridges[0]}.system", "to": str(port)}
    return ("cables", index)


def device_added_without_a_cable(job: JobSurgery) -> Cut | None:
    """Add a device and forget its cable."""
    name, model = job.pick(
        [(role, model) for role, model in (("extra unit", "demo-heat-pump"), ("extra panel", "demo-zone-panel-plain"))]
    )
    job.add_device(name, model)
    return ("devices", name)


def cable_doubled(job: JobSurgery) -> Cut | None:
    """Run a second cable between the same two ports."""
    start, end = job.ends(job.pick(list(job.cables)))
    job.add_cable(end, start)
    return ("cables",)


def line_closed_to_a_ring(job: JobSurgery) -> Cut | None:
    """Run a cable between two ends of the system bus that no cable joins yet."""
    ports = sorted(job.system_ports())
    joined = {frozenset(job.ends(cable)) for cable in job.cables}
    pairs = [
        (str(a), str(b))
        for index, a in enumerate(ports)
        for b in ports[index + 1 :]
        if frozenset((str(a), str(b))) not in joined
    ]
    if not pairs:
        return None
    job.add_cable(*job.pick(pairs))
    return ("cables",)


def ventilator_added_on_its_own(job: JobSurgery) -> Cut | None:
    """Add an entry-level ventilator that some switch of its own runs."""
    job.add_device("cellar", "demo-hrv-contact")
    return ("devices", "cellar")
