"""Fault makers for the shape of buses.

Most need a serial line. Where a sound job has none, one is put beside what there is: an interface module with two
ventilators that never run.
"""

from itertools import pairwise
from typing import Final

from ventrules.engine.findings import Document
from ventrules.job import BusKind
from ventrules.survey import PortRef
from ventrules.survey.bus_shape import ShapeView
from ventrules.testing.fault import Fault, fault
from ventrules.testing.surgery import Cut, JobSurgery, NothingToPickError

_CHALK: Final = "demo-control-chalk"
_MODULE: Final = "demo-interface-line"
_UNIT: Final = "demo-erv-150-line"
_LEAST: Final = 2  # ports on a line
_SERVED: Final = 4  # ventilators, by the controller that serves most


def _line(job: JobSurgery) -> list[str]:
    """Return the ports of a serial line in their order, the module's first; lay one where there is none.

    Raises:
        NothingToPickError: The controller speaks only the older dialect.
    """
    for shape in job.survey.shapes:
        if shape.described(shape.head).profile == "serial-line-1.02":
            return [str(port) for port in shape.lines.trunk.ports]
    devices, control = job.part("devices"), _control(job)
    if devices[control] == {"model": _CHALK}:
        raise NothingToPickError
    devices[control] = {"model": "demo-control-fine"}  # serves as many ventilators as there may be
    job.add_device("line module", _MODULE)
    job.add_cable(str(job.pick(job.roomy_ports())), "line module.system")
    _set(job, "line module.ventilator", address=1, termination="150 ohm", shield_earthed=True)
    _idle(job, "attic")
    _idle(job, "annex")
    _set(job, "attic.bus", address=2)
    _set(job, "annex.bus", address=3, termination="150 ohm")
    line = ["line module.ventilator", "attic.bus", "annex.bus"]
    job.add_cable(line[0], line[1])
    job.add_cable(line[1], line[2])
    return line


def _control(job: JobSurgery) -> str:
    return next(name for name in job.survey.topology.controllers)


def _idle(job: JobSurgery, name: str) -> None:
    """Add a ventilator for a serial line that is off in every mode.

    Raises:
        NothingToPickError: The controller serves no more, or more ventilators would be too many for the code.
    """
    code = job.survey.code
    if len(job.part("settings")) == _SERVED or (code is not None and code.oversize is not None):
        raise NothingToPickError
    job.add_device(name, _UNIT)
    modes = job.part("modes")
    job.part("settings")[name] = {
        "filter_reminder": "90 days",
        "programs": {mode: {"heating": {}, "cooling": {}} for mode in modes},
    }


def _set(job: JobSurgery, end: str, **settings: Document) -> None:
    """Set a port up on site; None takes a setting away."""
    port = PortRef.of(end)
    device = job.part("devices", port.device)
    ports = device.setdefault("ports", {})
    if isinstance(ports, dict):
        found = ports.setdefault(port.port, {})
        if isinstance(found, dict):
            found.update(settings)
            for key in [key for key, value in found.items() if value is None]:
                del found[key]


def _device(end: str) -> Cut:
    return ("devices", PortRef.of(end).device)


def _cable_of(job: JobSurgery, start: str, end: str) -> int:
    return next(index for index, cable in enumerate(job.cables) if set(job.ends(cable)) == {start, end})


def _change_cable(job: JobSurgery, index: int, **values: Document) -> Cut:
    cable = job.cables[index]
    if isinstance(cable, dict):
        cable.update(values)
    return ("cables", index)


def line_run_far_too_long(job: JobSurgery) -> Cut | None:
    """Run a cable of a serial line farther than the whole line may be."""
    line = _line(job)
    number = job.pick(range(len(line) - 1))
    _change_cable(job, _cable_of(job, line[number], line[number + 1]), length="1010 m")
    return ("cables",)


def length_of_a_system_cable_left_out(job: JobSurgery) -> Cut | None:
    """Forget to measure a cable of a system bus whose length has a limit."""
    job.pick(list(_free(job)))
    ports = {str(port) for port in job.system_ports()}
    index = job.pick([number for number, cable in enumerate(job.cables) if set(job.ends(cable)) <= ports])
    cable = job.cables[index]
    if isinstance(cable, dict):
        del cable["length"]
    return ("cables", index)


def _free(job: JobSurgery) -> list[ShapeView]:
    """Return the system buses under the profile of the catalog's own."""
    return [shape for shape in job.survey.shapes if shape.segment.kind is BusKind.SYSTEM]


def thin_cable_on_the_line(job: JobSurgery) -> Cut | None:
    """Use a cable on a serial line that is thinner than its length allows."""
    line = _line(job)
    number = job.pick(range(len(line) - 1))
    return _change_cable(job, _cable_of(job, line[number], line[number + 1]), gauge="28 AWG")


def stub_run_too_long(job: JobSurgery) -> Cut | None:
    """Let a ventilator hang on a stub of a serial line that is longer than a stub may be."""
    line = _four(job)
    for start, end in pairwise(line):
        _change_cable(job, _cable_of(job, start, end), length="25 m")
    return _change_cable(job, _loft(job, line[1]), length="21 m")


def line_branched(job: JobSurgery) -> Cut | None:
    """Let a ventilator hang on a short branch of a line that is to have none, beside the profile of the units."""
    line = _four(job)
    for end in (line[0], line[-1]):
        _set(job, end, termination="120 ohm")
    job.part("devices", PortRef.of(line[0]).device)["model"] = "demo-interface-balanced"
    _change_cable(job, _loft(job, line[1]), length="5 m")
    return _device(line[1])


def _loft(job: JobSurgery, start: str) -> int:
    """Add a ventilator that is off in every mode; return its cable's index."""
    _idle(job, "loft")
    _set(job, "loft.bus", address=99)
    return job.add_cable(start, "loft.bus")


def _four(job: JobSurgery) -> list[str]:
    """Return a serial line of at least three ports, and room on its controller and module for one more."""
    line = _line(job)
    if len(line) == _LEAST:
        _idle(job, "annex")
        _set(job, "annex.bus", address=98, termination="150 ohm")
        _set(job, line[-1], termination=None)
        job.add_cable(line[-1], "annex.bus")
        line.append("annex.bus")
    job.part("devices")[_control(job)] = {"model": "demo-control-fine"}
    return line


def crowd_on_a_system_bus(job: JobSurgery) -> Cut | None:
    """Put more on a system bus than it bears, each with a supply of its own."""
    shape = job.pick(_free(job))
    bears = shape.profile.loads.devices if shape.profile.loads is not None else None
    for number in range(len(shape.ports), (bears or 0) + 1):
        name = f"unit {number}"
        job.add_device(name, "demo-air-conditioner")
        job.add_cable(_roomy(job), f"{name}.system")
    return ("cables",)


def _roomy(job: JobSurgery) -> str:
    """Return the port of the controller's bus, or of a device added to it, that has the fewest cables."""
    ends = [end for cable in job.cables for end in job.ends(cable)]
    mine = {str(port) for port in job.system_ports()} | {end for end in ends if end.startswith("unit ")}
    return min(sorted(mine), key=ends.count)


def terminator_left_out(job: JobSurgery) -> Cut | None:
    """Leave the terminator at one end of a serial line out."""
    line = _line(job)
    _set(job, job.pick([line[0], line[-1]]), termination=None)
    return ("cables",)


def terminator_in_the_middle(job: JobSurgery) -> Cut | None:
    """Fit a terminator in the middle of a serial line as well."""
    line = _four(job)
    _set(job, line[1], termination="150 ohm")
    return ("cables",)


def terminator_of_another_value(job: JobSurgery) -> Cut | None:
    """Fit a terminator of a wrong value."""
    line = _line(job)
    _set(job, job.pick([line[0], line[-1]]), termination=job.pick(["60 ohm", "1 kohm"]))
    return ("cables",)


def biased_at_both_ends(job: JobSurgery) -> Cut | None:
    """Bias a serial line at two places."""
    line = _line(job)
    _set(job, line[0], bias="510 ohm")
    _set(job, line[-1], bias="510 ohm")
    return ("cables",)


def bias_too_weak(job: JobSurgery) -> Cut | None:
    """Bias a serial line with resistors that are far too large."""
    line = _line(job)
    _set(job, line[0], bias="4.7 kohm")
    return ("cables",)


def shield_earthed_at_both_ends(job: JobSurgery) -> Cut | None:
    """Earth the shield of a serial line at both ends."""
    _set(job, _line(job)[-1], shield_earthed=True)
    return ("cables",)


def shield_not_earthed(job: JobSurgery) -> Cut | None:
    """Earth the shield of a serial line nowhere."""
    _set(job, _line(job)[0], shield_earthed=None)
    return ("cables",)


def address_used_twice(job: JobSurgery) -> Cut | None:
    """Leave a ventilator at the address of the module."""
    line = _line(job)
    end = job.pick(line[1:])
    _set(job, end, address=1)
    return _device(end)


def address_not_told(job: JobSurgery) -> Cut | None:
    """Leave out the address of a ventilator."""
    end = job.pick(_line(job)[1:])
    _set(job, end, address=None)
    return _device(end)


def address_reserved(job: JobSurgery) -> Cut | None:
    """Set a ventilator to an address that is kept for other uses."""
    end = job.pick(_line(job)[1:])
    _set(job, end, address=job.pick([0, 248, 255]))
    return _device(end)


FAULTS: Final[tuple[Fault, ...]] = (
    fault("wiring/bus-too-long", line_run_far_too_long),
    fault("wiring/cable-not-told", length_of_a_system_cable_left_out, unchecked=True),
    fault("wiring/bus-too-thin", thin_cable_on_the_line),
    fault("wiring/stub-too-long", stub_run_too_long),
    fault("wiring/bus-branches", line_branched),
    fault("wiring/too-many-on-bus", crowd_on_a_system_bus),
    fault("wiring/wrong-termination", terminator_left_out),
    fault("wiring/wrong-termination", terminator_in_the_middle),
    fault("wiring/wrong-termination", terminator_of_another_value),
    fault("wiring/wrong-bias", biased_at_both_ends),
    fault("wiring/wrong-bias", bias_too_weak),
    fault("wiring/wrong-shield-earthing", shield_earthed_at_both_ends),
    fault("wiring/wrong-shield-earthing", shield_not_earthed),
    fault("wiring/address-not-unique", address_used_twice),
    fault("wiring/address-not-unique", address_not_told, unchecked=True),
    fault("wiring/address-out-of-range", address_reserved),
)
