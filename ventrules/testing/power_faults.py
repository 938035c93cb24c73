"""Fault makers for power, and for cables beside mains."""

from collections.abc import Sequence
from typing import Final

from ventrules.engine.findings import Document
from ventrules.job import BusKind, Role
from ventrules.survey import CableView
from ventrules.testing.fault import Fault, fault
from ventrules.testing.surgery import Cut, JobSurgery

_THIN: Final[dict[str, Document]] = {"gauge": "22 AWG", "length": "140 m"}
_TWO: Final = 2


def _document(job: JobSurgery, cables: Sequence[CableView]) -> tuple[dict[str, Document], int]:
    """Pick a cable; return it in the document, and its index."""
    index = job.pick(cables).index
    found = job.cables[index]
    if not isinstance(found, dict):
        raise TypeError("a cable is a mapping")
    return found, index


def _carrying(job: JobSurgery, kind: BusKind | None = None) -> list[CableView]:
    """Return the cables that carry a supply, of one kind of bus or all."""
    supplies = job.survey.supplies
    return [cable for supply in supplies for cable in supply.cables if kind is None or cable.kinds[0] is kind]


def _fed_panel(job: JobSurgery, transformer: str) -> int:
    """Add a zone panel with a transformer of its own; return the index of the cable between the two."""
    job.add_device("attic panel", "demo-zone-panel-attic")
    job.add_cable(str(job.pick(job.roomy_ports())), "attic panel.system")
    job.add_device("attic transformer", transformer)
    return job.add_cable("attic transformer.secondary", "attic panel.power")


def indoor_unit_left_out(job: JobSurgery) -> Cut | None:
    """Leave out the indoor unit that feeds the system bus, where the bus holds together without it."""
    units = set(job.of_role(Role.INDOOR_UNIT))
    fed = [
        (port.device, len(supply.draws))
        for supply in job.survey.supplies
        for port in supply.sources
        if port in job.leaves(BusKind.SYSTEM) and port.device in units
    ]
    name, draws = job.pick([(name, draws) for name, draws in fed if draws >= _TWO])
    job.drop_device(name)
    return ("devices",) if draws >= _TWO else None


def transformer_left_out(job: JobSurgery) -> Cut | None:
    """Add a zone panel with a supply port, and forget its transformer."""
    index = _fed_panel(job, "demo-transformer-40")
    del job.cables[index]
    del job.part("devices")["attic transformer"]
    return ("devices", "attic panel")


def second_indoor_unit_added(job: JobSurgery) -> Cut | None:
    """Join a second indoor unit, with a supply of its own, to the system bus."""
    job.add_device("second furnace", "demo-air-handler")
    job.add_cable(str(job.pick(job.roomy_ports())), "second furnace.system")
    return ("devices",)


def transformer_too_small(job: JobSurgery) -> Cut | None:
    """Choose a transformer that supplies less than its panel draws."""
    _fed_panel(job, "demo-transformer-10")
    return ("devices", "attic transformer")


def cable_of_a_ventilator_far_too_long(job: JobSurgery) -> Cut | None:
    """Run the cable to a ventilator thin and long."""
    document, index = _document(job, _carrying(job, BusKind.VENTILATOR))
    document.update(_THIN)
    start = job.survey.cables[index].ends[0]
    source = next(supply.source for supply in job.survey.supplies if start in supply.ports)
    return ("devices", source.device) if source is not None else None


def circuit_without_a_steady_voltage(job: JobSurgery) -> Cut | None:
    """Run the cable of a transformer so thin and long that no voltage carries the load."""
    index = _fed_panel(job, "demo-transformer-40")
    document = job.cables[index]
    if not isinstance(document, dict):
        return None
    document.update(_THIN)
    return ("devices", "attic transformer")


def transformer_of_too_much_voltage(job: JobSurgery) -> Cut | None:
    """Choose a transformer whose voltage is too high for its panel."""
    _fed_panel(job, "demo-transformer-28v")
    return ("devices", "attic panel")


def transformer_beyond_class_2(job: JobSurgery) -> Cut | None:
    """Choose a transformer that gives more than one of class 2 may."""
    _fed_panel(job, "demo-transformer-150")
    return ("devices", "attic transformer")


def cable_run_beside_mains(job: JobSurgery) -> Cut | None:
    """Let a cable share its path with mains."""
    document, index = _document(job, job.survey.cables)
    document["beside_mains"] = True
    return ("cables", index)


FAULTS: Final[tuple[Fault, ...]] = (
    fault("power/no-source", indoor_unit_left_out),
    fault("power/no-source", transformer_left_out),
    fault("power/two-sources", second_indoor_unit_added),
    fault("power/source-overloaded", transformer_too_small),
    fault("power/voltage-too-low", cable_of_a_ventilator_far_too_long),
    fault("power/voltage-too-low", circuit_without_a_steady_voltage),
    fault("power/voltage-too-high", transformer_of_too_much_voltage),
    fault("power/beyond-class-2", transformer_beyond_class_2),
    fault("safety/beside-mains", cable_run_beside_mains),
)
