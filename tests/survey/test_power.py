"""Supply nets of whole jobs: voltages against published examples, laws, and what feeds what."""

import math
from collections.abc import Mapping

import attrs
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.survey.power_jobs import GAUGES, PAIR, Drawn, cable, job, load, source, supply, trees, volts
from ventrules import Survey, job_from_document
from ventrules.engine.findings import Document
from ventrules.job import BusKind, Cable, Conductor, Conductors, Model, Port, Role
from ventrules.survey import PortRef, SupplyView
from ventrules.survey.circuit import Collapse
from ventrules.testing import in_other_units, job_documents
from ventrules.units import Length, Power, Temperature, WireSize

FEW = settings(max_examples=min(settings().max_examples, 50))
DUST = 1e-9


def at(found: Survey, end: str) -> float:
    value = found.voltage_at(PortRef.of(end))
    assert value is not None
    return value


# Published and worked examples


def test_the_published_voltage_drop_of_a_control_circuit() -> None:
    """24 V, 100 ft of two 16 AWG conductors, 4 A: 3.99 V or 16.7 % (a trade page, with 4.99 ohm/1000 ft: NEC, chapter
    9, Table 8, 16 AWG of seven strands at 75 degC). The load is the one that takes 4 A at what is left."""
    wire = attrs.evolve(cable("source.out", "load.in", "100 ft", "16 AWG"), stranded=True)
    view = supply(job({"source": source(), "load": load(4.0 * (24.0 - 3.99))}, [wire]))
    (step,) = view.way_to(PortRef("load", "in"))
    assert step.ampere == pytest.approx(4.0, abs=0.005)
    assert step.volt == pytest.approx(3.99, abs=0.01)
    assert step.volt / 24.0 == pytest.approx(0.167, abs=0.001)


@pytest.mark.parametrize(("feet", "left"), [(50, 23.33), (100, 22.63), (150, 21.87), (200, 21.05)])
def test_a_load_of_constant_power_at_the_end_of_a_cable(feet: int, left: float) -> None:
    """20 VA at 24 V, 18 AWG at 75 degC: computed from V = (Vs + sqrt(Vs^2 - 4 S R)) / 2, with R of NEC Table 8."""
    found = Survey(job({"source": source(), "load": load(20.0)}, [cable("source.out", "load.in", f"{feet} ft")]))
    assert at(found, "load.in") == pytest.approx(left, abs=0.01)


def test_twice_the_resistance_of_the_limit_has_no_steady_voltage() -> None:
    """Vs^2 < 4 S R has no solution: 24 V and 20 VA bear 7.2 ohm, about 463 ft of 18 AWG at 75 degC."""
    models = {"source": source(), "load": load(20.0)}
    assert supply(job(models, [cable("source.out", "load.in", "460 ft")])).voltages_v
    view = supply(job(models, [cable("source.out", "load.in", "467 ft")]))
    assert isinstance(view.outcome, Collapse)
    assert view.outcome.node == PortRef("load", "in")
    assert not view.voltages_v
    assert view.taken_va == 20.0


# Laws


def nowhere_higher(after: Mapping[str, float] | None, before: Mapping[str, float] | None) -> bool:
    if after is None or before is None:
        return after is None
    return all(value <= before[name] + DUST for name, value in after.items() if name in before)


@FEW
@given(trees(), st.data())
def test_longer_thinner_or_hotter_never_raises_a_voltage(tree: Drawn, data: st.DataObject) -> None:
    index = data.draw(st.integers(0, len(tree.job.cables) - 1))
    own = tree.job.cables[index]
    assert own.length is not None
    assert own.gauge is not None
    changed = data.draw(
        st.sampled_from(
            [
                attrs.evolve(own, length=Length.of(own.length.to("ft") * 1.5, "ft")),
                attrs.evolve(own, gauge=WireSize.of(own.gauge.to("AWG") + 2.0, "AWG")),
                attrs.evolve(own, temperature=Temperature.of(90.0, "degC")),
                attrs.evolve(own, stranded=True),
            ]
        )
    )
    assert nowhere_higher(tree.with_cable(index, changed).voltages, tree.voltages)


@FEW
@given(trees(), st.data(), st.sampled_from([0.0, 2.0, 20.0]))
def test_more_drawn_never_raises_a_voltage(tree: Drawn, data: st.DataObject, more_va: float) -> None:
    name = data.draw(st.sampled_from(sorted(set(tree.job.devices) - {"source"})))
    own = tree.job.catalog.models[name].ports["in"].draw
    assert nowhere_higher(tree.with_model(name, load((own.w if own else 0.0) + more_va)).voltages, tree.voltages)


@FEW
@given(trees(), st.data(), st.floats(0.1, 0.9))
def test_a_device_that_draws_nothing_in_the_middle_of_a_cable_changes_nothing(
    tree: Drawn, data: st.DataObject, part: float
) -> None:
    index = data.draw(st.integers(0, len(tree.job.cables) - 1))
    own = tree.job.cables[index]
    assert own.length is not None
    pieces = (
        attrs.evolve(own, end="middle.in", length=Length.of(own.length.m * part, "m")),
        attrs.evolve(own, start="middle.in", length=Length.of(own.length.m * (1.0 - part), "m")),
    )
    rest = [other for number, other in enumerate(tree.job.cables) if number != index]
    split = Drawn(job({**tree.job.catalog.models, "middle": load(None)}, [*rest, *pieces])).voltages
    if tree.voltages is None or split is None:
        assert tree.voltages is split
        return
    assert {n: v for n, v in split.items() if n != "middle"} == pytest.approx(tree.voltages, rel=DUST)


@FEW
@given(trees(), st.data())
def test_names_and_the_order_of_cables_do_not_matter(tree: Drawn, data: st.DataObject) -> None:
    names = sorted(tree.job.devices)
    new = dict(zip(names, data.draw(st.permutations([f"x{number}" for number in range(len(names))])), strict=True))
    models = {new[name]: model for name, model in tree.job.catalog.models.items()}
    turned = [
        attrs.evolve(
            wire,
            start=f"{new[PortRef.of(wire.end).device]}.{PortRef.of(wire.end).port}",
            end=f"{new[PortRef.of(wire.start).device]}.{PortRef.of(wire.start).port}",
        )
        for wire in data.draw(st.permutations(tree.job.cables))
    ]
    before, after = supply(tree.job).voltages_v, supply(job(models, turned)).voltages_v
    assert after == pytest.approx(
        {PortRef(new[ref.device], ref.port): value for ref, value in before.items()}, rel=DUST
    )


@FEW
@given(trees(), st.data())
def test_a_second_cable_beside_the_first_never_lowers_a_voltage(tree: Drawn, data: st.DataObject) -> None:
    own = data.draw(st.sampled_from(tree.job.cables))
    doubled = Drawn(attrs.evolve(tree.job, cables=(*tree.job.cables, own)))
    assert nowhere_higher(tree.voltages, doubled.voltages)


@FEW
@given(trees())
def test_the_source_gives_what_is_drawn_and_what_the_wires_lose(tree: Drawn) -> None:
    view = supply(tree.job)
    assume(view.voltages_v)
    lost = {step.cable.index: step.volt * step.ampere for draw in view.draws for step in view.way_to(draw.port)}
    assert view.taken_va == pytest.approx(view.drawn_va + math.fsum(lost.values()), rel=1e-6, abs=1e-9)


@FEW
@given(job_documents())
def test_the_same_job_in_other_units_has_the_same_voltages(document: dict[str, Document]) -> None:
    one, other = (Survey(job_from_document(found)) for found in (document, in_other_units(document)))
    ports = [ref for view in one.supplies for ref in view.ports]
    assert ports == [ref for view in other.supplies for ref in view.ports]
    for ref in ports:
        assert one.voltage_at(ref) == pytest.approx(other.voltage_at(ref), rel=1e-9)


@FEW
@given(job_documents())
def test_a_sound_job_has_a_voltage_at_every_port_that_draws(document: dict[str, Document]) -> None:
    for view in Survey(job_from_document(document)).supplies:
        assert view.powered
        assert not view.circular
        assert all(view.voltages_v[draw.port] > 0.0 for draw in view.draws)
        assert view.taken_va >= view.drawn_va


# What feeds what


def relay(passes_va: float = 10.0, own_va: float | None = 3.0) -> Model:
    """A device that feeds its port `out` at 12 V from its port `in`."""
    ports = {
        "in": attrs.evolve(load(own_va).ports["in"]),
        "out": Port(
            BusKind.VENTILATOR,
            terminals=PAIR,
            supplies=Power.of(passes_va, "VA"),
            voltage=volts(12.0),
            fed_from="in",
        ),
    }
    return Model(Role.INTERFACE_MODULE, ports=ports)


def fan(va: float) -> Model:
    port = Port(BusKind.VENTILATOR, terminals=PAIR, draw=Power.of(va, "VA"), voltage=volts(12.0))
    return Model(Role.VENTILATOR, ports={"bus": port})


def nets(models: Mapping[str, Model], *cables: Cable) -> dict[PortRef, SupplyView]:
    return {ref: view for view in Survey(job(models, cables)).supplies for ref in view.ports}


def test_what_is_fed_through_a_device_is_drawn_above_it_with_its_losses() -> None:
    models = {"source": source(), "relay": relay(), "fan": fan(4.0)}
    found = nets(models, cable("source.out", "relay.in"), cable("relay.out", "fan.bus"))
    below, above = found[PortRef("fan", "bus")], found[PortRef("relay", "in")]
    assert below.taken_va > 4.0
    (draw,) = above.draws
    assert (draw.own_va, draw.passed_va) == (3.0, below.taken_va)
    assert above.powered
    assert below.powered


def test_a_port_without_a_draw_of_its_own_passes_on_what_it_feeds() -> None:
    models = {"source": source(), "relay": relay(own_va=None), "fan": fan(4.0)}
    found = nets(models, cable("source.out", "relay.in"), cable("relay.out", "fan.bus"))
    assert [draw.port for draw in found[PortRef("relay", "in")].draws] == [PortRef("relay", "in")]


def test_a_long_chain_of_devices_that_feed_each_other_is_followed_to_its_end() -> None:
    count = 1500
    ports = {
        "in": Port(BusKind.POWER, terminals=PAIR, draw=Power.of(0.001, "VA"), voltage=volts(24.0)),
        "out": Port(BusKind.POWER, terminals=PAIR, supplies=Power.of(9.0, "VA"), voltage=volts(24.0), fed_from="in"),
    }
    models = {"source": source(), **{f"r{n}": Model(Role.ZONE_PANEL, ports=ports) for n in range(count)}}
    ends = ["source.out", *(f"r{n}.out" for n in range(count))]
    found = nets(models, *(cable(end, f"r{n}.in", "1 ft") for n, end in zip(range(count), ends, strict=False)))
    assert 0.001 * count < found[PortRef("source", "out")].taken_va < 0.0011 * count


@pytest.mark.parametrize("names", [("a", "b"), ("b", "a")])
def test_devices_that_feed_each_other_in_a_circle_have_no_source(names: tuple[str, str]) -> None:
    one, two = names
    ports = {
        "in": Port(BusKind.POWER, terminals=PAIR, draw=Power.of(2.0, "VA"), voltage=volts(24.0)),
        "out": Port(BusKind.POWER, terminals=PAIR, supplies=Power.of(9.0, "VA"), voltage=volts(24.0), fed_from="in"),
    }
    model = Model(Role.ZONE_PANEL, ports=ports)
    found = nets({one: model, two: model}, cable(f"{one}.out", f"{two}.in"), cable(f"{two}.out", f"{one}.in"))
    assert all(view.circular and not view.powered for view in found.values())
    assert all(view.draws[0].va == 4.0 for view in found.values())


def test_a_device_that_feeds_the_net_that_it_draws_from_has_no_source() -> None:
    ports = {
        "in": Port(BusKind.POWER, terminals=PAIR, draw=Power.of(2.0, "VA")),
        "out": Port(BusKind.POWER, terminals=PAIR, supplies=Power.of(9.0, "VA"), fed_from="in"),
    }
    found = nets({"a": Model(Role.ZONE_PANEL, ports=ports)}, cable("a.out", "a.in"))
    assert found[PortRef("a", "in")].circular


def test_two_sources_on_one_net_are_both_found_and_no_voltage_is_told() -> None:
    models = {"source": source(), "other": source(), "load": load(5.0)}
    view = supply(job(models, [cable("source.out", "load.in"), cable("load.in", "other.out")]))
    assert view.sources == (PortRef("other", "out"), PortRef("source", "out"))
    assert view.source is None
    assert not view.voltages_v


def test_a_port_alone_with_its_source_has_the_voltage_of_the_source() -> None:
    found = Survey(job({"source": source()}, []))
    assert at(found, "source.out") == 24.0


def test_what_hangs_on_nothing_has_no_voltage() -> None:
    models = {"source": source(), "relay": relay(), "fan": fan(4.0)}
    found = Survey(job(models, [cable("relay.out", "fan.bus")]))
    assert found.voltage_at(PortRef("fan", "bus")) is None
    assert found.voltage_at(PortRef("relay", "in")) is None


# Conductors


def joined(*pairs: tuple[str | None, str | None]) -> SupplyView:
    wire = attrs.evolve(
        cable("source.out", "load.in"), conductors=Conductors(tuple(Conductor(*pair) for pair in pairs), listed=True)
    )
    found = Survey(job({"source": source(), "load": load(20.0)}, [wire]))
    return next(view for view in found.supplies if PortRef("load", "in") in view.ports)


STRAIGHT = (("supply", "supply"), ("common", "common"))


def test_two_conductors_in_parallel_halve_their_part_of_the_loop() -> None:
    loops = [
        joined(*pairs).way_to(PortRef("load", "in"))[0].ohm
        for pairs in (STRAIGHT, (STRAIGHT[0], *STRAIGHT), (*STRAIGHT, *STRAIGHT))
    ]
    assert loops[1] == pytest.approx(0.75 * loops[0])
    assert loops[2] == pytest.approx(0.5 * loops[0])


@pytest.mark.parametrize(
    "pairs",
    [
        (STRAIGHT[0],),
        (("supply", "common"), ("common", "supply")),
        (*STRAIGHT, ("supply", None)),
        (*STRAIGHT, ("supply", "fuse")),
        (*STRAIGHT, ("supply", "common")),
    ],
)
def test_a_cable_whose_supply_is_not_as_it_should_be_leaves_the_voltages_untold(
    pairs: tuple[tuple[str | None, str | None], ...],
) -> None:
    view = joined(*pairs)
    assert view.doubtful
    assert not view.voltages_v


def test_a_spare_conductor_on_no_terminal_changes_nothing() -> None:
    assert not joined(*STRAIGHT, (None, None)).doubtful
    assert joined(*STRAIGHT, (None, None)).voltages_v == joined(*STRAIGHT).voltages_v


# What the job does not tell


def test_a_cable_without_a_gauge_matters_only_where_a_current_flows() -> None:
    bare = Cable("source.out", "load.in", length=Length.parse("10 ft"))
    assert supply(job({"source": source(), "load": load(5.0)}, [bare])).unknown
    idle = supply(job({"source": source(), "load": load(None)}, [bare]))
    assert not idle.unknown
    assert idle.voltages_v == {PortRef("source", "out"): 24.0, PortRef("load", "in"): 24.0}


def test_a_branch_that_draws_nothing_has_the_voltage_that_it_hangs_on() -> None:
    models = {"source": source(), "load": load(20.0), "idle": load(None), "last": load(None)}
    wires = [cable("source.out", "load.in"), Cable("load.in", "idle.in"), Cable("last.in", "idle.in")]
    found = Survey(job(models, wires))
    assert at(found, "idle.in") == at(found, "last.in") == at(found, "load.in") < 24.0


@pytest.mark.parametrize("volt", [None, 0.0])
def test_a_source_without_a_voltage_leaves_it_untold(volt: float | None) -> None:
    view = supply(job({"source": source(volt=volt), "load": load(5.0)}, [cable("source.out", "load.in")]))
    assert view.voltage is None
    assert not view.voltages_v


def test_copper_colder_than_its_coefficient_is_good_for_leaves_it_untold() -> None:
    wire = cable("source.out", "load.in", temperature="-250 degC")
    assert supply(job({"source": source(), "load": load(5.0)}, [wire])).unknown


def test_the_sizes_that_can_be_bought_are_in_order() -> None:
    sizes = [size.m2 for size in Survey(job({"source": source()}, [])).limits.copper.sizes]
    assert sizes == sorted(sizes)
    assert {WireSize.parse(gauge).m2 for gauge in GAUGES} <= set(sizes)
