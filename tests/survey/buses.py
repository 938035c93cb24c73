"""Buses built for tests: ports joined by cables of given lengths, under a bus profile."""

from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

import attrs
from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from ventrules import Job, Survey
from ventrules.job import (
    BusKind,
    BusProfile,
    Cable,
    Catalog,
    Device,
    Dwelling,
    Layout,
    Model,
    Port,
    PortSetting,
    Role,
    Target,
)
from ventrules.survey.bus_shape import ShapeView
from ventrules.units import Area, Length, WireSize

GUIDE: Final = "serial-line-1.02"
STANDARD: Final = "tia-485-a"
PLAIN: Final = Port(BusKind.VENTILATOR, profile=GUIDE)
BARE: Final[Mapping[str, PortSetting]] = {}
AS_USUAL: Final[Mapping[str, Port]] = {}


class Wire(NamedTuple):
    """A cable between two devices; its length as written, or None where nobody measured it."""

    start: str
    end: str
    length: str | None
    gauge: str | None = "22 AWG"


def bus_survey(
    wires: Sequence[Wire],
    *,
    profile: str | BusProfile = GUIDE,
    settings: Mapping[str, PortSetting] = BARE,
    ports: Mapping[str, Port] = AS_USUAL,
    bridge: str | None = None,
) -> Survey:
    """Return the survey of a job with one bus and nothing else.

    Args:
        wires: Its cables; each device has one port.
        profile: The bus profile of every port, by name or as a catalog brings it.
        settings: Device to how its port is set up on site.
        ports: Device to its port in the catalog, where that is not the plain one.
        bridge: The device that is an interface module.
    """
    name = profile if isinstance(profile, str) else "own"
    names = sorted({end for wire in wires for end in (wire.start, wire.end)})
    models = {
        device: Model(
            Role.INTERFACE_MODULE if device == bridge else Role.VENTILATOR,
            ports={
                "bus": ports.get(device, attrs.evolve(PLAIN, profile=name)),
                **({"system": Port(BusKind.SYSTEM)} if device == bridge else {}),
            },
        )
        for device in names
    }
    return Survey(
        Job(
            "Quarry Lane 1",
            Dwelling(Area.of(200, "m2"), 3),
            Target(code="us-irc-2021"),
            {device: Device(device, {"bus": settings[device]} if device in settings else {}) for device in names},
            cables=tuple(
                Cable(
                    f"{wire.start}.bus",
                    f"{wire.end}.bus",
                    WireSize.parse(wire.gauge) if wire.gauge else None,
                    Length.parse(wire.length) if wire.length else None,
                )
                for wire in wires
            ),
            catalog=Catalog("test", models, profiles={} if isinstance(profile, str) else {"own": profile}),
        )
    )


def shape_of(survey: Survey) -> ShapeView:
    """Return the shape of the only bus that has one."""
    (shape,) = survey.shapes
    return shape


def line(*lengths: str | None) -> list[Wire]:
    """Return a line of devices `d0`, `d1`, … with cables of these lengths."""
    return [Wire(f"d{number}", f"d{number + 1}", length) for number, length in enumerate(lengths)]


@st.composite
def trees(draw: DrawFn, most: int = 9) -> list[Wire]:
    """Strategy for trees of cables, their lengths in whole millimeters."""
    count = draw(st.integers(2, most))
    lengths = draw(st.lists(st.integers(1, 60_000), min_size=count - 1, max_size=count - 1))
    return [
        Wire(f"d{draw(st.integers(0, number - 1))}", f"d{number}", f"{lengths[number - 1]} mm")
        for number in range(1, count)
    ]


FREE: Final = BusProfile("any tree", layout=Layout.FREE)
