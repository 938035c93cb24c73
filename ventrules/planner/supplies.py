"""Remedies for supply circuits as edits: a thicker conductor, another transformer."""

from collections.abc import Callable, Iterator, Mapping
from typing import Final

import attrs

from ventrules.engine import Edit, EditKind, Remedy
from ventrules.job import Model, Role
from ventrules.survey import CableView, PortRef, SupplyView, Survey
from ventrules.survey.circuit import Collapse
from ventrules.survey.copper import takes
from ventrules.survey.feeding import loop_of
from ventrules.units import WireSize, at_least
from ventrules.words import listed

_MOST_TRIED: Final = 3  # cables on the way that are worked through one by one, those that lose most first
_MEASURE: Final = "Power off before wiring; then measure the voltage at the devices, with the load on."


def thicker_cable(supply: SupplyView, cured: Callable[[SupplyView], bool]) -> Remedy | None:
    """Return the remedy that runs the way to the worst device in a thicker size: one cable of it, else all of it.

    Args:
        supply: A net whose voltages are too low.
        cured: Says of the net with other conductors whether the fault is gone.
    """
    outcome = supply.outcome
    worst = outcome.node if isinstance(outcome, Collapse) else supply.worst
    if worst is None:
        return None
    way = sorted(supply.path_to(worst), key=lambda cable: (-(loop_of(cable) or 0.0), cable.index))
    sizes = sorted(supply.survey.limits.copper.sizes, key=lambda size: size.m2)
    tries = [{cable.index: size} for size in sizes for cable in way[:_MOST_TRIED] if _takes(cable, size)]
    tries += [gauges for size in sizes if len(gauges := {c.index: size for c in way if _takes(c, size)}) > 1]
    for gauges in tries:
        if cured(supply.with_gauges(gauges)):
            return _rerun(supply.survey, gauges)
    return None


def _takes(cable: CableView, size: WireSize) -> bool:
    """Say whether a size is thicker than a cable's own, and the terminals at both ends take it."""
    own, survey = cable.cable.gauge, cable.survey
    if own is None or at_least(own.m2, size.m2):
        return False
    ranges = (survey.models[end.device].ports[end.port].gauges for end in cable.ends)
    return all(gauges is None or takes(gauges, size) for gauges in ranges)


def _rerun(survey: Survey, gauges: Mapping[int, WireSize]) -> Remedy:
    size = str(next(iter(gauges.values())))
    names = (f"from {survey.job.cables[index].start} to {survey.job.cables[index].end}" for index in sorted(gauges))
    return Remedy(
        title=f"Run the {'cables' if len(gauges) > 1 else 'cable'} {listed(names)} in {size}",
        edits=tuple(Edit(EditKind.REPLACE, ("cables", index, "gauge"), size) for index in sorted(gauges)),
        check_on_site=_MEASURE,
        changes_purchase=True,
        assumes="The terminals take that size, and the new cable is as long and as warm as the old one.",
    )


def swap_transformer(supply: SupplyView, cured: Callable[[SupplyView], bool]) -> Remedy | None:
    """Return the remedy that replaces a net's transformer by the smallest model of the catalogs that cures it.

    Args:
        supply: A net that a transformer feeds by itself.
        cured: Says of the net with another transformer whether the fault is gone.
    """
    survey, source = supply.survey, supply.source
    if source is None or survey.models[source.device].role is not Role.TRANSFORMER:
        return None
    job, old = survey.job, survey.job.devices[source.device]
    for name in _transformers(survey, source):
        devices = {**job.devices, source.device: attrs.evolve(old, model=name)}
        after = Survey(attrs.evolve(job, devices=devices))
        if all(cured(other) for other in after.supplies if source in other.ports):
            return Remedy(
                title=f"Choose {name} for {source.device} in place of {old.model}",
                edits=(Edit(EditKind.REPLACE, ("devices", source.device, "model"), name),),
                check_on_site=_MEASURE,
                changes_purchase=True,
                assumes="The new transformer takes the mains and the place of the old one; a licensed person fits it.",
            )
    return None


def _transformers(survey: Survey, source: PortRef) -> Iterator[str]:
    """Yield the models of the other transformers that can be wired as one is, the smallest first."""
    device, found = survey.device(source.device), []
    for name, model in survey.job.catalog.models.items():
        port = model.ports.get(source.port)
        if model.role is not Role.TRANSFORMER or port is None or port.supplies is None or model is device.model:
            continue
        if all(_alike(device.model, model, wired) for wired in device.wired_ports):
            found.append((port.supplies.w, name))
    for _power, name in sorted(found):
        yield name


def _alike(old: Model, new: Model, port: str) -> bool:
    there = new.ports.get(port)
    return there is not None and (there.bus, there.terminals) == (old.ports[port].bus, old.ports[port].terminals)
