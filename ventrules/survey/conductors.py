"""The conductors of each cable: what each joins, and which of them join what does not belong together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from attrs import field, frozen

from ventrules.engine import Place
from ventrules.job import Carries, Conductor, ConductorRole
from ventrules.survey.topology import PortRef

if TYPE_CHECKING:
    from ventrules.survey.bus_views import CableView
    from ventrules.survey.survey import Survey

_UNKNOWN = ConductorRole(Carries.SIGNAL)


@frozen
class Joint:
    """Two terminals joined by one conductor, each with its role in the catalog."""

    start: str
    start_role: str
    end: str
    end_role: str


@frozen(eq=False, slots=False)
class ConductorView:
    """One conductor of a cable.

    Attributes:
        cable: Its cable.
        number: Its index among the cable's conductors; None where the cable is straight through.
        conductor: What it joins, as the job has it or as straight through means.
        start_role: The role of its terminal at the cable's start; None where that has no such terminal.
        end_role: Likewise at the cable's end.
    """

    cable: CableView = field(repr=False)
    number: int | None
    conductor: Conductor
    start_role: str | None
    end_role: str | None

    @property
    def place(self) -> Place:
        """Where it stands; by meaning, its cable and its two terminals."""
        above, joined = self.cable.place, self.cable.cable.conductors
        name = f"{above.name} / {self.conductor.start or 'nothing'} to {self.conductor.end or 'nothing'}"
        if joined is None or self.number is None:
            return Place(above.path, name)
        before = [conductor for conductor in joined.items[: self.number] if _same_ends(conductor, self.conductor)]
        name = f"{name} ({len(before) + 1})" if before else name
        step = self.number if joined.listed else str(self.conductor.start)
        return Place((*above.path, "conductors", step), name)

    @property
    def joint(self) -> Joint | None:
        """What it joins, where the catalog knows both terminals."""
        start, end = self.conductor.start, self.conductor.end
        if start is None or end is None or self.start_role is None or self.end_role is None:
            return None
        return Joint(start, self.start_role, end, self.end_role)

    @property
    def carries(self) -> tuple[Carries, ...]:
        """What its two terminals carry, as far as the catalog knows them."""
        roles = self.cable.survey.roles
        return tuple(roles.get(role, _UNKNOWN).carries for role in (self.start_role, self.end_role) if role is not None)

    @property
    def powers_data(self) -> bool:
        """True when it puts a supply, or mains, on a terminal that carries data or signals and may not meet it."""
        if self.fits:
            return False
        carried = set(self.carries)
        return bool(carried & {Carries.SUPPLY, Carries.MAINS}) and bool(carried & {Carries.DATA, Carries.SIGNAL})

    @property
    def fits(self) -> bool:
        """True when its two terminals may be joined; also where the catalog does not know both."""
        joint = self.joint
        return joint is None or may_meet(self.cable.survey, joint.start_role, joint.end_role)

    @property
    def role(self) -> str | None:
        """Its role, where the catalog knows a terminal that it is on; None as well where its two ends disagree."""
        if not self.fits:
            return None
        return self.start_role if self.start_role is not None else self.end_role

    @property
    def landed(self) -> bool:
        """True when it is on a terminal at either end."""
        return self.conductor.start is not None or self.conductor.end is not None

    @property
    def ends_nowhere(self) -> bool:
        """True when it is on a terminal at one end only. A screen may be: it is earthed at one place."""
        return (self.conductor.start is None) != (self.conductor.end is None) and Carries.SCREEN not in self.carries

    @property
    def unknown(self) -> tuple[tuple[PortRef, str], ...]:
        """The terminals that it is on and that their ports lack; a port without any terminals is passed over."""
        sides = zip(
            self.cable.ends,
            terminals(self.cable),
            (self.conductor.start, self.conductor.end),
            strict=True,
        )
        return tuple((port, name) for port, known, name in sides if known and name is not None and name not in known)

    @property
    def wrong(self) -> bool:
        """True when it joins what may not meet, ends nowhere, or is on a terminal that a port lacks."""
        return not self.fits or self.ends_nowhere or bool(self.unknown)


@frozen
class Missing:
    """Conductors of one role that a cable lacks.

    Attributes:
        role: The role.
        starts: The terminals of that role at the cable's start.
        ends: Likewise at its end.
        joined: How many of them are joined.
        needed: How many have to be.
    """

    role: str
    starts: tuple[str, ...]
    ends: tuple[str, ...]
    joined: int
    needed: int


@frozen
class Crowd:
    """What is on one terminal that takes fewer.

    Attributes:
        port: Its port.
        terminal: Its name.
        takes: How many conductors it takes.
        conductors: Those on it, in the job's order, without the ones that belong elsewhere.
    """

    port: PortRef
    terminal: str
    takes: int
    conductors: tuple[ConductorView, ...]


@frozen(eq=False)
class CrowdedView:
    """A conductor that is the last on one terminal or two with more conductors than they take.

    Attributes:
        conductor: The conductor.
        crowds: What is on its terminals.
    """

    conductor: ConductorView
    crowds: tuple[Crowd, ...]

    @property
    def place(self) -> Place:
        """The conductor."""
        return self.conductor.place


@frozen(eq=False)
class ColorView:
    """One color that means two things along a bus.

    Attributes:
        color: The color as it is written at the odd conductor.
        odd: The first conductor of that color whose role is not the one that most of them have.
        other: The first conductor that has that one.
    """

    color: str
    odd: ConductorView
    other: ConductorView

    @property
    def place(self) -> Place:
        """The odd conductor."""
        return self.odd.place


def _same_ends(one: Conductor, other: Conductor) -> bool:
    return (one.start, one.end) == (other.start, other.end)


def may_meet(survey: Survey, one: str, other: str) -> bool:
    """Say whether terminals of two roles may be joined."""
    roles = survey.roles
    return one == other or other in roles.get(one, _UNKNOWN).meets or one in roles.get(other, _UNKNOWN).meets


def needed(survey: Survey, role: str) -> bool:
    """Say whether a cable between two ports that both have a role has to carry it."""
    return survey.roles.get(role, _UNKNOWN).needed


def terminals(cable: CableView) -> tuple[Mapping[str, str], Mapping[str, str]]:
    """Return the terminals of a cable's two ports: name to role."""
    start, end = cable.ports
    return start.terminals, end.terminals


def conductors(cable: CableView) -> tuple[ConductorView, ...]:
    """Return the conductors of a cable, in the job's order.

    A cable without a list of them is straight through: it joins terminals of the same name.
    """
    here, there = terminals(cable)
    joined = cable.cable.conductors
    if joined is None:
        straight = sorted(name for name in here if name in there)
        return tuple(ConductorView(cable, None, Conductor(n, n), here[n], there[n]) for n in straight)
    return tuple(
        ConductorView(
            cable,
            number,
            conductor,
            here.get(conductor.start) if conductor.start is not None else None,
            there.get(conductor.end) if conductor.end is not None else None,
        )
        for number, conductor in enumerate(joined)
    )


def crossed(cable: CableView) -> tuple[ConductorView, ...]:
    """Return the conductors that join what may not meet, sorted.

    Those that put power on data are not among them: they are worse.
    """
    if cable.plain:
        return ()
    wrong = (conductor for conductor in cable.conductors if not conductor.fits and not conductor.powers_data)
    return tuple(sorted(wrong, key=lambda c: (c.conductor.start or "", c.conductor.end or "")))


def shared(cable: CableView) -> Mapping[str, int]:
    """Return the needed roles that both ports of a cable have, sorted, each with how often both have it."""
    here, there = (Counter(side.values()) for side in terminals(cable))
    return {role: min(here[role], there[role]) for role in sorted(here & there) if needed(cable.survey, role)}


def missing(cable: CableView) -> tuple[Missing, ...]:
    """Return the conductors that a cable lacks, by role, where no conductor that is wrong explains it.

    A conductor that joins what may not meet, that ends nowhere or that is on no terminal of a port, explains that the
    roles which it touches are not joined.
    """
    if cable.plain:
        return ()
    explained: set[str | None] = set()
    joined: dict[str, list[Joint]] = {}
    anywhere = 0  # conductors that are wrong, of which nothing tells where they belong
    for conductor in cable.conductors:
        if conductor.wrong:
            touched = {role for role in (conductor.start_role, conductor.end_role) if role is not None}
            explained |= touched
            anywhere += not touched
        elif (joint := conductor.joint) is not None and joint.start_role == joint.end_role:
            joined.setdefault(joint.start_role, []).append(joint)
    found = [lack for lack in _lacking(cable, joined) if lack.role not in explained]
    short = sum(lack.needed - lack.joined for lack in found)
    return tuple(found) if short > anywhere else ()


def _lacking(cable: CableView, joined: Mapping[str, list[Joint]]) -> Iterator[Missing]:
    here, there = terminals(cable)
    for role, count in shared(cable).items():
        of_role = joined.get(role, [])
        # two conductors side by side between the same two terminals join them once
        have = min(len({joint.start for joint in of_role}), len({joint.end for joint in of_role}))
        if have < count:
            starts, ends = (tuple(sorted(t for t in side if side[t] == role)) for side in (here, there))
            yield Missing(role, starts, ends, have, count)


def crowded(survey: Survey) -> tuple[CrowdedView, ...]:
    """Return the last conductor of each terminal that has more than it takes, over all cables at its port.

    Conductors and cables that belong elsewhere do not count: what joins roles that may not meet, cables between ports
    of different kinds, and at each port all cables of a ring but one.
    """
    by_last: dict[ConductorView, list[Crowd]] = {}
    for crowd in _crowds(survey):
        by_last.setdefault(crowd.conductors[-1], []).append(crowd)
    return tuple(CrowdedView(conductor, tuple(crowds)) for conductor, crowds in by_last.items())


def _crowds(survey: Survey) -> Iterator[Crowd]:
    listed = any(cable.conductors is not None for cable in survey.job.cables)
    ports = survey.topology.ports
    crowdable = [
        (port, indexes, takes)
        for port, indexes in survey.topology.cables_at.items()
        if (takes := ports[port].conductors_per_terminal) is not None
        and (listed or len(indexes) > takes)  # straight through, each cable has one conductor for a terminal
    ]
    for port, indexes, takes in sorted(crowdable):
        described = ports[port]
        cables = [survey.cables[index] for index in indexes]
        on: dict[str, list[ConductorView]] = {}
        for terminal, conductor in _landed(port, _staying(survey, cables)):
            on.setdefault(terminal, []).append(conductor)
        for terminal, there in sorted(on.items()):
            if len(there) > takes and terminal in described.terminals:
                yield Crowd(port, terminal, takes, tuple(there))


def _staying(survey: Survey, cables: Iterable[CableView]) -> Iterator[CableView]:
    """Yield the cables of a port that may stay there."""
    opened: set[int] = set()
    ring_of = {index: number for number, ring in enumerate(survey.topology.rings) for index in ring}
    for cable in cables:
        ring = ring_of.get(cable.index)
        if cable.kinds[0] is cable.kinds[1] and (ring is None or ring not in opened):
            yield cable
        if ring is not None:
            opened.add(ring)


def _landed(port: PortRef, cables: Iterable[CableView]) -> Iterator[tuple[str, ConductorView]]:
    """Yield terminal and conductor for all that is on a port and belongs there, in the job's order."""
    for cable in cables:
        for conductor in in_order(cable):
            ends = zip(cable.ends, (conductor.conductor.start, conductor.conductor.end), strict=True)
            for end, terminal in ends:
                if end == port and terminal is not None and conductor.fits:
                    yield terminal, conductor


def in_order(cable: CableView) -> tuple[ConductorView, ...]:
    """Return the conductors of a cable as listed; those of a mapping, whose order says nothing, by their terminals."""
    joined = cable.cable.conductors
    if joined is None or joined.listed:
        return cable.conductors
    return tuple(sorted(cable.conductors, key=lambda c: (c.conductor.start or "", c.conductor.end or "")))


def colors_of_two_roles(survey: Survey) -> Iterator[ColorView]:
    """Yield each color that stands for roles which may not meet along one segment; case and spaces do not count."""
    used: dict[tuple[int, str], list[tuple[str, ConductorView]]] = {}
    for cable in survey.cables:
        joined = cable.cable.conductors
        if joined is None or not joined.listed or cable.kinds[0] is not cable.kinds[1]:
            continue
        segment = survey.topology.segment_of(cable.ends[0]).number
        for conductor in cable.conductors:
            color = "".join((conductor.conductor.color or "").split()).casefold()
            if color and conductor.role is not None:
                used.setdefault((segment, color), []).append((conductor.role, conductor))
    for alike in used.values():
        usual = Counter(role for role, _conductor in alike).most_common(1)[0][0]
        odd = [conductor for role, conductor in alike if not may_meet(survey, usual, role)]
        if odd:
            other = next(conductor for role, conductor in alike if role == usual)
            yield ColorView(odd[0].conductor.color or "", odd[0], other)
