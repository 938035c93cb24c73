"""Which terminals the conductors of a cable join, and which of them carry different things."""

from collections.abc import Mapping
from typing import Final

from attrs import frozen

from ventrules.survey.bus_views import CableView

_DATA: Final = "data"
_POWER: Final = frozenset({"supply", "mains", "line", "neutral"})


@frozen
class Joint:
    """Two terminals joined by one conductor, each with its role in the catalog."""

    start: str
    start_role: str
    end: str
    end_role: str

    @property
    def powers_data(self) -> bool:
        """True when it puts a supply, or what may be mains, on a data terminal."""
        roles = (self.start_role, self.end_role)
        return any(role in _POWER for role in roles) and any(role.startswith(_DATA) for role in roles)


def terminals(cable: CableView) -> tuple[Mapping[str, str], Mapping[str, str]]:
    """Return the terminals of a cable's two ports: name to role."""
    models = cable.survey.models
    start, end = (models[port.device].ports[port.port].terminals for port in cable.ends)
    return start, end


def joints(cable: CableView) -> tuple[Joint, ...]:
    """Return what a cable joins, as far as the catalog knows the terminals, sorted.

    A cable without a map is straight through: it joins terminals of the same name.
    """
    here, there = terminals(cable)
    joined = cable.cable.conductors
    pairs = joined.items() if joined is not None else ((name, name) for name in here)
    known = sorted((a, b) for a, b in pairs if a in here and b in there)
    return tuple(Joint(a, here[a], b, there[b]) for a, b in known)


def crossed(cable: CableView) -> tuple[Joint, ...]:
    """Return the joints of terminals that carry different things, where both ports have the ones that match.

    Power on a data terminal is always among them.
    """
    here, there = terminals(cable)
    if cable.cable.conductors is None and here == there:
        return ()
    given, taken = set(here.values()), set(there.values())
    return tuple(
        joint
        for joint in joints(cable)
        if joint.start_role != joint.end_role
        and (joint.powers_data or (joint.start_role in taken and joint.end_role in given))
    )
