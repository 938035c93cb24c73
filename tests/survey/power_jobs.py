"""Jobs that are nothing but one source and what hangs on it."""

from collections.abc import Mapping, Sequence

import attrs
from attrs import frozen
from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from ventrules import Job, Survey
from ventrules.job import BusKind, Cable, Catalog, Device, Dwelling, Model, Port, Role, Target, VoltageWindow
from ventrules.survey import PortRef, SupplyView
from ventrules.units import Area, Length, Power, Temperature, Voltage, WireSize

PAIR = {"supply": "supply", "common": "common"}
GAUGES = ("22 AWG", "20 AWG", "18 AWG", "16 AWG", "14 AWG")


def volts(value: float) -> Voltage:
    return Voltage.of(value, "V")


def source(va: float = 100.0, volt: float | None = 24.0) -> Model:
    voltage = volts(volt) if volt is not None else None
    port = Port(BusKind.POWER, terminals=PAIR, supplies=Power.of(va, "VA"), voltage=voltage)
    return Model(Role.TRANSFORMER, ports={"out": port})


def load(va: float | None, volt: float | None = 24.0, window: tuple[float, float] | None = None) -> Model:
    """Return a device that draws; one that does not where there is no draw."""
    port = Port(
        BusKind.POWER,
        terminals=PAIR,
        draw=Power.of(va, "VA") if va is not None else None,
        voltage=volts(volt) if volt is not None else None,
        window=VoltageWindow(*map(volts, window)) if window is not None else None,
    )
    return Model(Role.ZONE_PANEL, ports={"in": port})


def cable(start: str, end: str, length: str = "100 ft", gauge: str = "18 AWG", temperature: str = "75 degC") -> Cable:
    return Cable(
        start,
        end,
        gauge=WireSize.parse(gauge),
        length=Length.parse(length),
        temperature=Temperature.parse(temperature),
    )


def job(models: Mapping[str, Model], cables: Sequence[Cable]) -> Job:
    """Return a job in which every device has a model of its own name."""
    return Job(
        title="Quarry Lane 50",
        dwelling=Dwelling(Area.of(100.0, "m2"), 2),
        target=Target(code="us-irc-2021"),
        devices={name: Device(name) for name in models},
        cables=tuple(cables),
        catalog=Catalog("own", dict(models)),
    )


def supply(of: Job) -> SupplyView:
    """Return the only supply net of a job."""
    (found,) = Survey(of).supplies
    return found


@frozen
class Drawn:
    """A tree: the cable of each device goes to the source, or to a device before it."""

    job: Job

    @property
    def voltages(self) -> dict[str, float] | None:
        """Voltage at each device, V; None where there is no steady one."""
        survey = Survey(self.job)
        found = {name: survey.voltage_at(PortRef(name, "in")) for name in self.job.devices if name != "source"}
        known = {name: value for name, value in found.items() if value is not None}
        return known if len(known) == len(found) else None

    def with_cable(self, index: int, changed: Cable) -> "Drawn":
        cables = list(self.job.cables)
        cables[index] = changed
        return Drawn(attrs.evolve(self.job, cables=tuple(cables)))

    def with_model(self, name: str, model: Model) -> "Drawn":
        models = {**self.job.catalog.models, name: model}
        return Drawn(attrs.evolve(self.job, catalog=Catalog("own", models)))


@st.composite
def trees(draw: DrawFn) -> Drawn:
    """Trees of one to six devices, most of them with a steady voltage."""
    count = draw(st.integers(1, 6))
    names = [f"d{number}" for number in range(count)]
    models = {"source": source()}
    cables = []
    for number, name in enumerate(names):
        models[name] = load(draw(st.sampled_from([None, 0.0, 1.0, 3.0, 7.5, 12.0])))
        above = draw(st.sampled_from(["source.out", *(f"{other}.in" for other in names[:number])]))
        start, end = (above, f"{name}.in") if draw(st.booleans()) else (f"{name}.in", above)
        length = f"{draw(st.integers(1, 150))} ft"
        cables.append(cable(start, end, length, draw(st.sampled_from(GAUGES)), f"{draw(st.integers(0, 75))} degC"))
    return Drawn(job(models, cables))
