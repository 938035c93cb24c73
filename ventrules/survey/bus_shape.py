"""The shape of a bus: its trunk and its stubs, what is fitted at its ports, their addresses."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import TYPE_CHECKING, NamedTuple

from attrs import evolve, field, frozen

from ventrules.engine import Place
from ventrules.engine.once import once
from ventrules.job import BusKind, BusProfile, Layout, Port, PortSetting
from ventrules.survey.topology import PortRef, Segment
from ventrules.survey.ways import Tree, Way, known_m
from ventrules.units import Length, Resistance, at_most

if TYPE_CHECKING:
    from ventrules.survey.bus_views import CableView
    from ventrules.survey.survey import Survey

_ALONG = 2  # cables at a port that a line runs through
_UNSET = PortSetting()


class Fitted(NamedTuple):
    """A resistor at a port, as fitted on site or as built in."""

    port: PortRef
    value: Resistance
    built_in: bool


@frozen(eq=False, slots=False)
class ShapeView:
    """One segment under one bus profile that a port on it names. Its cables form a tree.

    Attributes:
        survey: The survey.
        segment: The segment.
        profile: The profile.
        mark: Tells it from the same segment under another profile; usually empty.
    """

    survey: Survey = field(repr=False)
    segment: Segment
    profile: BusProfile = field(repr=False)
    mark: str = ""

    @once
    def head(self) -> PortRef:
        """The port that the bus is called by: of a controller, else of a bridge, else the first."""
        return min(self.ports, key=lambda port: (port.device not in self._controllers, not self.speaks(port), port))

    @property
    def place(self) -> Place:
        """Its cables; by meaning, the port that it is called by."""
        return Place(("cables",), f"cables / bus at {self.head}{self.mark}")

    @property
    def ports(self) -> tuple[PortRef, ...]:
        """Its ports, sorted."""
        return self.segment.ports

    @once
    def cables(self) -> tuple[CableView, ...]:
        """Its cables, in the job's order."""
        return tuple(self.survey.cables[index] for index in self.segment.cables)

    @once
    def _controllers(self) -> frozenset[str]:
        return frozenset(self.survey.topology.controllers_on.get(self.segment.number, ()))

    @once
    def _speakers(self) -> frozenset[PortRef]:
        return frozenset(self.survey.topology.speakers.get(self.segment.number, ()))

    def speaks(self, port: PortRef) -> bool:
        """Say whether a port belongs to a bridge or a controller."""
        return port in self._speakers

    def described(self, port: PortRef) -> Port:
        """Return what the catalog says of a port."""
        return self.survey.models[port.device].ports[port.port]

    def setting(self, port: PortRef) -> PortSetting:
        """Return how a port is set up on site."""
        return self.survey.job.devices[port.device].ports.get(port.port, _UNSET)

    def place_of(self, port: PortRef) -> Place:
        """Return the place of one of its ports."""
        return Place(("devices", port.device), f"devices / {port.device} / {port.port}{self.mark}")

    def length(self, length_m: float) -> Length:
        """Return a length to show in the job's own units."""
        return Length.shown(length_m, "m" if self.survey.metric else "ft")

    @once
    def length_m(self) -> float:
        """All its cables together, m, as far as the job tells their length."""
        return known_m(self.cables)

    @once
    def unmeasured(self) -> tuple[CableView, ...]:
        """Cables on it whose length the job does not tell."""
        return tuple(cable for cable in self.cables if cable.cable.length is None)

    @once
    def neighbors(self) -> Mapping[PortRef, Mapping[PortRef, CableView]]:
        """For each port the ports that a cable leads to, with that cable; sorted."""
        found: dict[PortRef, dict[PortRef, CableView]] = {port: {} for port in self.ports}
        for cable in sorted(self.cables, key=lambda cable: sorted(cable.ends)):
            start, end = cable.ends
            found[start][end] = found[end][start] = cable
        return found

    @once
    def ends(self) -> tuple[PortRef, ...]:
        """Ports at which one cable ends and none goes on, sorted."""
        return tuple(port for port, near in self.neighbors.items() if len(near) == 1)

    @once
    def forks(self) -> tuple[PortRef, ...]:
        """Ports with more than two cables, sorted."""
        return tuple(port for port, near in self.neighbors.items() if len(near) > _ALONG)

    @once
    def lines(self) -> Lines:
        """Its trunk and its stubs.

        The trunk is the longest way between two ends. Where stubs are allowed and just two ends are terminated, those
        may be meant instead: they are, where all else is then a stub of allowed length, or is so in neither way.
        """
        if not self.forks:
            return Lines(self._directed(self._straight()), ())
        tree = Tree(self.neighbors, self.ends)
        longest = self._cut(tree, tree.longest())
        terminated = {fitted.port for fitted in self.terminations}
        if self.profile.layout is not Layout.STUBS or len(terminated) != _ALONG or not terminated <= set(self.ends):
            return longest
        first, last = sorted(terminated)
        built = self._cut(tree, tree.way(first, last))
        return evolve(built, meant=built.fits) if built.fits or not longest.fits else longest

    def _straight(self) -> Way:
        """Return the one way of a bus without forks."""
        here = self.ends[0]
        ports = [here]
        cables: list[CableView] = []
        while len(cables) < len(self.cables):
            onward = next(near for near in self.neighbors[here] if near not in ports[-_ALONG:])
            cables.append(self.neighbors[here][onward])
            ports.append(onward)
            here = onward
        return Way(tuple(ports), tuple(cables))

    def _directed(self, way: Way) -> Way:
        """Return a way from the end that belongs to a controller or bridge, else from the first one."""
        if min(way.start, way.end, key=lambda port: (not self.speaks(port), port)) == way.start:
            return way
        return Way(way.ports[::-1], way.cables[::-1])

    def _cut(self, tree: Tree, trunk: Way) -> Lines:
        on_trunk = set(trunk.ports)
        ways = []
        for end in self.ends:
            if end not in on_trunk:
                whole = tree.way(trunk.start, end)
                fork = max(number for number, port in enumerate(whole.ports) if port in on_trunk)
                ways.append(Way(whole.ports[fork:], whole.cables[fork:]))
        count = {way.start: sum(other.start == way.start for other in ways) for way in ways}
        return Lines(self._directed(trunk), tuple(StubView(self, way, count[way.start]) for way in ways))

    @once
    def trunk_ends(self) -> tuple[PortRef, PortRef] | None:
        """The two ends of the trunk; None where cables of unknown length leave it open which they are."""
        if self.forks and self.unmeasured and not self.lines.meant:
            return None
        return self.lines.trunk.start, self.lines.trunk.end

    @once
    def untold(self) -> tuple[PortRef, ...]:
        """Ports whose catalog entry names no bus profile, so that nobody knows what they have built in."""
        return tuple(port for port in self.ports if self.described(port).profile is None)

    @once
    def terminations(self) -> tuple[Fitted, ...]:
        """Terminating resistors at its ports, sorted by port."""
        return tuple(self._fitted(lambda what: what.termination))

    @once
    def biases(self) -> tuple[Fitted, ...]:
        """Bias resistors at its ports, sorted by port."""
        return tuple(self._fitted(lambda what: what.bias))

    def _fitted(self, of: Callable[[Port | PortSetting], Resistance | None]) -> Iterator[Fitted]:
        for port in self.ports:
            built_in, on_site = of(self.described(port)), of(self.setting(port))
            if built_in is not None:
                yield Fitted(port, built_in, built_in=True)
            if on_site is not None:
                yield Fitted(port, on_site, built_in=False)

    @once
    def earthed(self) -> tuple[PortRef, ...]:
        """Ports at which its shield is earthed, sorted."""
        return tuple(port for port in self.ports if self.setting(port).shield_earthed)

    @once
    def stations(self) -> tuple[StationView, ...]:
        """Its ports, with their addresses."""
        return tuple(StationView(self, port) for port in self.ports)

    @once
    def addressed(self) -> Mapping[int, tuple[PortRef, ...]]:
        """Each address to the ports that have it, those of controllers and bridges first."""
        found: dict[int, list[PortRef]] = {}
        for port in sorted(self.ports, key=lambda port: (not self.speaks(port), port)):
            address = self.setting(port).address
            if address is not None:
                found.setdefault(address, []).append(port)
        return {address: tuple(ports) for address, ports in found.items()}

    @once
    def misaddressed(self) -> tuple[PortRef, ...]:
        """Ports that need another address: theirs is beyond the profile's, or another port keeps it; in order."""
        found = (station for station in self.stations if not station.in_range or station.keeper is not None)
        return tuple(station.port for station in found)

    @once
    def free_addresses(self) -> Mapping[PortRef, int]:
        """To each port that needs another address one that nothing on the bus has, the lowest first, each once."""
        asked = self.profile.addresses
        if asked is None:
            return {}
        free = (number for number in range(asked.lowest, asked.highest + 1) if number not in self.addressed)
        return dict(zip(self.misaddressed, free, strict=False))


@frozen
class Lines:
    """The trunk of a bus, and the stubs that leave it.

    Attributes:
        trunk: The trunk.
        stubs: The stubs.
        meant: True when its terminated ends show that this trunk was meant, whatever lengths it has.
    """

    trunk: Way
    stubs: tuple[StubView, ...]
    meant: bool = False

    @property
    def fits(self) -> bool:
        """True when every stub is known to be no longer than it may be."""
        return all(stub.fits for stub in self.stubs)


@frozen(eq=False, slots=False)
class StubView:
    """One stub: the way from the trunk to one end beside it.

    Attributes:
        shape: Its bus.
        way: From the port on the trunk to the end.
        beside: Stubs that leave the trunk at that port, this one included.
    """

    shape: ShapeView = field(repr=False)
    way: Way
    beside: int

    @property
    def place(self) -> Place:
        """Its last cable."""
        above = self.way.cables[-1].place
        return Place(above.path, f"{above.name}{self.shape.mark}")

    @property
    def limit_m(self) -> float | None:
        """How long it may be, m; None where the profile has no limit."""
        asked = self.shape.profile.stubs
        if asked is None:
            return None
        if asked.shared is None or self.beside == 1:
            return asked.longest.m
        return min(asked.longest.m, asked.shared.m / self.beside)

    @property
    def fits(self) -> bool:
        """True when it is known to be no longer than it may be."""
        limit_m = self.limit_m
        return limit_m is None or (not self.way.unmeasured and at_most(self.way.length_m, limit_m))


@frozen(eq=False, slots=False)
class StationView:
    """One port of a bus, under the profile's rules for addresses."""

    shape: ShapeView = field(repr=False)
    port: PortRef

    @property
    def place(self) -> Place:
        """Its device; by meaning, the port."""
        return self.shape.place_of(self.port)

    @property
    def address(self) -> int | None:
        """Its address on the bus."""
        return self.shape.setting(self.port).address

    @property
    def needs_address(self) -> bool:
        """True when the profile gives every device of its kind an address."""
        asked = self.shape.profile.addresses
        return asked is not None and (asked.bridges or not self.shape.speaks(self.port))

    @property
    def keeper(self) -> PortRef | None:
        """The port that has the same address and goes before this one: a controller's or bridge's, else by name."""
        address = self.address
        first = self.shape.addressed[address][0] if address is not None else self.port
        return first if first != self.port else None

    @property
    def in_range(self) -> bool:
        """True when its address is one that the profile has; also where it has none."""
        asked, address = self.shape.profile.addresses, self.address
        return asked is None or address is None or asked.lowest <= address <= asked.highest

    @property
    def free_address(self) -> int | None:
        """An address that it can have in place of its own; None where none is left, or it may keep its own."""
        return self.shape.free_addresses.get(self.port)


@frozen(eq=False, slots=False)
class BusCableView:
    """One cable of a bus, under its profile."""

    shape: ShapeView = field(repr=False)
    cable: CableView

    @property
    def place(self) -> Place:
        """The cable."""
        return Place(self.cable.place.path, f"{self.cable.place.name}{self.shape.mark}")


def shapes(survey: Survey) -> Iterator[ShapeView]:
    """Yield each segment under each profile that a port on it names; where cables form a ring, there is no shape."""
    for segment in survey.topology.segments:
        if segment.kind is BusKind.CONTACT or len(segment.ports) == 1 or len(segment.cables) >= len(segment.ports):
            continue
        named = {survey.models[port.device].ports[port.port].profile for port in segment.ports}
        names = sorted(name for name in named if name is not None)
        for name in names:
            mark = f" / {name}" if len(names) > 1 else ""
            yield ShapeView(survey, segment, survey.profile(name), mark)
