"""Rules about power: where each begins and ends, what it says, and what it leaves to others."""

from collections.abc import Sequence
from typing import Final

import attrs
import pytest
from hypothesis import given, settings

from tests.survey.power_jobs import PAIR, Drawn, cable, job, load, source, trees, volts
from tests.test_architecture import loaded_after
from ventrules import Finding, Job, applied, check, job_document, job_from_document, read_job
from ventrules.engine.findings import Document
from ventrules.files import job_yaml, limits
from ventrules.job import BusKind, Cable, Conductor, Conductors, Model, Port, Role
from ventrules.job.catalog import WireRange
from ventrules.testing import job_documents
from ventrules.units import Power, WireSize, at_least

FEW = settings(max_examples=min(settings().max_examples, 30))
WIRED: Final = ("wiring/", "power/")
ONE: Final = (cable("source.out", "load.in"),)


def found(of: Job) -> list[Finding]:
    return [f for f in check(of).findings if f.rule.partition("/")[0] in ("power", "safety")]


def only(of: Job) -> Finding:
    (finding,) = found(of)
    return finding


def pair(feeds: Model, drawn: Model, cables: Sequence[Cable] = ONE) -> Job:
    return job({"source": feeds, "load": drawn}, cables)


# Source or none


def test_a_sound_circuit_is_silent() -> None:
    assert not found(pair(source(), load(20.0)))


def test_what_draws_and_is_joined_to_no_source_is_named() -> None:
    models = {"one": load(3.0), "two": load(4.0)}
    finding = only(job(models, [cable("one.in", "two.in")]))
    assert finding.rule == "power/no-source"
    assert finding.evidence["ports"] == ("one.in", "two.in")
    assert "7 VA" in finding.message
    assert finding.place.path == ("devices",)


def test_a_power_port_that_no_cable_is_on_is_named() -> None:
    finding = only(job({"load": load(3.0)}, []))
    assert (finding.rule, finding.place.path) == ("power/no-source", ("devices", "load"))
    assert "no cable is on it" in finding.message


def test_a_device_without_any_cable_is_left_to_the_rule_about_that() -> None:
    of = job_from_document(without_cables(fed_panel()))
    rules = {f.rule for f in check(of).findings if f.place.path == ("devices", "panel")}
    assert rules == {"wiring/device-without-cable"}


def test_nothing_that_draws_needs_no_source() -> None:
    assert not found(job({"one": load(None), "two": load(None)}, [cable("one.in", "two.in")]))


def test_devices_that_feed_each_other_are_told_apart_from_those_that_nothing_is_joined_to() -> None:
    ports = {
        "in": Port(BusKind.POWER, terminals=PAIR, draw=Power.of(2.0, "VA"), voltage=volts(24.0)),
        "out": Port(BusKind.POWER, terminals=PAIR, supplies=Power.of(9.0, "VA"), voltage=volts(24.0), fed_from="in"),
    }
    model = Model(Role.ZONE_PANEL, ports=ports)
    findings = found(job({"a": model, "b": model}, [cable("a.out", "b.in"), cable("b.out", "a.in")]))
    assert {f.rule for f in findings} == {"power/no-source"}
    assert all("fed from it in turn" in f.message for f in findings)


def test_a_port_whose_only_cable_carries_no_supply_has_no_source() -> None:
    document = fed_panel()
    cables, devices = document["cables"], document["devices"]
    assert isinstance(cables, list)
    assert isinstance(devices, dict)
    # the controller hangs on the panel, whose system port has data and common only
    cables[0] = {"from": "control.system", "to": "panel.system", "gauge": "18 AWG", "length": "20 ft"}
    finding = only(job_from_document(document))
    assert (finding.rule, finding.place.path) == ("power/no-source", ("devices", "control"))


def test_what_is_passed_on_needs_a_source_though_the_port_itself_draws_nothing() -> None:
    """A panel's ventilator port is fed from its power port, of which the catalog gives no draw and no cable is on."""
    ports = {
        "in": Port(BusKind.POWER, terminals=PAIR, voltage=volts(24.0)),
        "out": Port(BusKind.POWER, terminals=PAIR, supplies=Power.of(9.0, "VA"), voltage=volts(24.0), fed_from="in"),
    }
    models = {"panel": Model(Role.ZONE_PANEL, ports=ports), "load": load(3.0), "source": source()}
    wires = [cable("panel.out", "load.in", "1 ft")]
    finding = only(job(models, wires))
    assert (finding.rule, finding.evidence["ports"]) == ("power/no-source", ("panel.in",))
    assert not found(job(models, [*wires, cable("source.out", "panel.in", "1 ft")]))


@pytest.mark.parametrize("pairs", [None, [("supply", "supply"), ("common", "common")]])
@pytest.mark.parametrize("bare", [("source",), ("load",), ("source", "load")])
def test_where_the_catalog_gives_no_terminals_nobody_knows_what_feeds_a_device(
    bare: tuple[str, ...], pairs: list[tuple[str, str]] | None
) -> None:
    def without(model: Model) -> Model:
        return attrs.evolve(model, ports={key: attrs.evolve(port, terminals={}) for key, port in model.ports.items()})

    models = {"source": source(), "load": load(20.0)}
    models |= {name: without(models[name]) for name in bare}
    listed = Conductors(tuple(Conductor(*ends) for ends in pairs), listed=True) if pairs is not None else None
    finding = only(job(models, [attrs.evolve(ONE[0], conductors=listed)]))
    assert (finding.rule, finding.unchecked, finding.place.path) == ("power/no-source", True, ("devices", "load"))
    assert all(f"{name}." in finding.message.partition("terminals of")[2] for name in bare)


def test_two_sources_are_named_with_what_they_offer() -> None:
    models = {"source": source(), "other": source(40.0), "load": load(5.0)}
    finding = only(job(models, [*ONE, cable("load.in", "other.out")]))
    assert finding.rule == "power/two-sources"
    assert finding.evidence["offers"] == ("40 VA at 24 V from other.out", "100 VA at 24 V from source.out")
    assert finding.todo.startswith("Do not power up")
    assert "parallel" in str(finding.basis)


@pytest.mark.parametrize("pairs", [[("supply", "supply")], [("supply", "common"), ("common", "supply")]])
def test_a_circuit_with_a_conductor_out_of_place_is_left_to_the_wiring_rules(pairs: list[tuple[str, str]]) -> None:
    wrong = attrs.evolve(ONE[0], conductors=Conductors(tuple(Conductor(*ends) for ends in pairs), listed=True))
    assert not found(pair(source(5.0, 48.0), load(20.0), [wrong]))


# Budget


@pytest.mark.parametrize(("drawn", "over"), [(39.0, False), (40.0, True), (41.0, True)])
def test_a_source_is_overloaded_by_draws_and_by_what_the_wires_lose(drawn: float, *, over: bool) -> None:
    findings = found(pair(source(40.0), load(drawn), [cable("source.out", "load.in", "5 ft")]))
    assert [f.rule for f in findings] == (["power/source-overloaded"] if over else [])
    for finding in findings:
        assert "lost in the wires" in finding.working
        assert finding.working.endswith("> 40 VA")


def test_what_is_passed_on_counts_for_the_source_above() -> None:
    document = fed_panel()
    devices = document["devices"]
    assert isinstance(devices, dict)
    devices["transformer"] = {"model": "demo-transformer-10"}
    finding = only(job_from_document(document))
    assert finding.rule == "power/source-overloaded"
    assert "9 VA panel.power + 2.01 VA passed on by panel" in finding.working
    assert finding.remedy is not None
    assert finding.remedy.changes_purchase
    better = applied(job_from_document(document), finding.remedy)
    assert better.devices["transformer"].model == "demo-transformer-40"
    assert not found(better)


def test_without_gauges_the_draws_alone_are_added_up() -> None:
    findings = found(pair(source(40.0), load(41.0), [Cable("source.out", "load.in")]))
    assert [(f.rule, f.unchecked) for f in findings] == [("power/source-overloaded", False)]
    assert "lost" not in findings[0].working


# Voltage


def test_the_worst_device_its_voltage_and_what_is_missing_are_named() -> None:
    models = {"source": source(), "near": load(10.0), "far": load(20.0), "also": load(20.0)}
    wires = [
        cable("source.out", "near.in", "50 ft"),
        cable("near.in", "far.in", "200 ft"),
        cable("near.in", "also.in", "190 ft"),
    ]
    finding = only(job(models, wires))
    assert finding.rule == "power/voltage-too-low"
    assert finding.evidence["worst"] == "far.in"
    assert "too little as well at also.in" in finding.message
    assert "near" not in finding.message
    assert finding.working.count(" - ") == 2
    assert "common practice" in str(finding.basis)


@pytest.mark.parametrize(("lowest", "low"), [(21.0, False), (21.1, True)])
def test_the_catalog_s_window_comes_before_the_usual_one(lowest: float, *, low: bool) -> None:
    """20 VA over 200 ft of 18 AWG at 75 degC leave 21.05 V (computed from the quadratic, R by the formula)."""
    of = pair(source(), load(20.0, window=(lowest, 30.0)), [cable("source.out", "load.in", "200 ft")])
    findings = found(of)
    assert [f.rule for f in findings] == (["power/voltage-too-low"] if low else [])
    assert all("catalog entry" in str(f.basis) for f in findings)


def test_where_no_steady_voltage_exists_it_is_said_so() -> None:
    finding = only(pair(source(), load(20.0), [cable("source.out", "load.in", "600 ft")]))
    assert finding.rule == "power/voltage-too-low"
    assert "no steady voltage exists" in finding.message
    assert "(24 V)² >= 4 x" in finding.working


def test_a_missing_gauge_is_told_at_its_cable() -> None:
    bare = attrs.evolve(ONE[0], gauge=None)
    (finding,) = (f for f in check(pair(source(), load(20.0), [bare])).findings if f.rule.startswith(WIRED))
    assert (finding.rule, finding.unchecked, finding.place.path) == ("wiring/cable-not-told", True, ("cables", 0))
    assert "the voltage at the devices" in finding.message
    assert not [f for f in check(pair(source(), load(None), [bare])).findings if f.rule.startswith(WIRED)]


def test_a_source_without_a_voltage_keeps_both_checks_of_voltage_from_being_made() -> None:
    findings = found(pair(source(volt=None), load(20.0)))
    assert {f.rule for f in findings} == {"power/voltage-too-low", "power/voltage-too-high"}
    assert all(f.unchecked for f in findings)


def test_a_nominal_voltage_of_nothing_tells_no_window() -> None:
    finding = only(pair(source(), load(20.0, volt=0.0)))
    assert finding.unchecked
    assert "load.in" in finding.message


def test_a_device_without_voltage_and_window_cannot_be_judged() -> None:
    finding = only(pair(source(), load(20.0, volt=None)))
    assert finding.unchecked
    assert "load.in" in finding.message


@pytest.mark.parametrize(("volt", "high"), [(26.4, False), (26.5, True)])
def test_a_source_above_the_window_is_found_without_any_wire(volt: float, *, high: bool) -> None:
    """110 % of 24 V are 26.4 V."""
    findings = found(pair(source(volt=volt), load(1.0)))
    assert [f.rule for f in findings] == (["power/voltage-too-high"] if high else [])
    assert all(f.place.path == ("devices", "load") for f in findings)


def test_the_device_that_bears_least_is_named_first_among_those_that_have_too_much() -> None:
    models = {"source": source(), "a": load(1.0, 18.0), "b": load(1.0, 12.0), "c": load(1.0)}
    wires = [cable("source.out", "a.in"), cable("a.in", "b.in"), cable("b.in", "c.in")]
    finding = only(job(models, wires))
    assert finding.evidence["device"] == "b.in"
    assert finding.evidence["devices"] == ("a.in", "b.in")


# Class 2


@pytest.mark.parametrize(
    ("va", "volt", "beyond"),
    [
        (100.0, 24.0, False),
        (100.1, 24.0, True),
        (100.0, 30.0, False),
        (1.0, 30.1, True),
        (100.0, 20.0, False),
        (60.0, 12.0, False),
        (60.1, 12.0, True),
    ],
)
def test_a_source_of_class_2_gives_100_va_and_5_a_up_to_30_volts(va: float, volt: float, *, beyond: bool) -> None:
    """NEC chapter 9, Table 11(A), second-hand; that up to 20 V it is 5 A times the voltage, from memory."""
    findings = found(pair(source(va, volt), load(0.5, volt)))
    assert [f.rule for f in findings] == (["power/beyond-class-2"] if beyond else [])


# Beside mains


def test_a_cable_beside_mains_is_a_caution_that_defers_to_the_local_code() -> None:
    finding = only(pair(source(), load(1.0), [attrs.evolve(ONE[0], beside_mains=True)]))
    assert (finding.rule, finding.place.path) == ("safety/beside-mains", ("cables", 0))
    assert "local electrical code" in finding.todo
    assert "2 in" in finding.message


# Remedies


def with_gauges(of: Model, thinnest: str, thickest: str) -> Model:
    port = attrs.evolve(of.ports["in"], gauges=WireRange(WireSize.parse(thinnest), WireSize.parse(thickest)))
    return attrs.evolve(of, ports={"in": port})


@FEW
@given(trees())
def test_the_cable_that_is_offered_cures_and_is_the_thinnest_of_one_that_does(tree: Drawn) -> None:
    findings = [f for f in found(tree.job) if f.rule == "power/voltage-too-low" and f.remedy is not None]
    for finding in findings:
        remedy = finding.remedy
        assert remedy is not None
        assert remedy.changes_purchase
        assert remedy.assumes
        indexes = [int(edit.path[1]) for edit in remedy.edits]
        size = WireSize.parse(str(remedy.edits[0].value))
        assert "power/voltage-too-low" not in {f.rule for f in found(regauged(tree.job, indexes, size))}
        thinner = [s for s in limits().copper.sizes if s.m2 < size.m2]
        for index in indexes if len(indexes) == 1 else []:
            own = tree.job.cables[index].gauge
            assert own is not None
            for other in (s for s in thinner if not at_least(own.m2, s.m2)):
                assert "power/voltage-too-low" in {f.rule for f in found(regauged(tree.job, [index], other))}


def regauged(of: Job, indexes: Sequence[int], size: WireSize) -> Job:
    cables = [attrs.evolve(c, gauge=size) if number in indexes else c for number, c in enumerate(of.cables)]
    return attrs.evolve(of, cables=tuple(cables))


def test_no_cable_is_offered_that_the_terminals_do_not_take() -> None:
    drawn = with_gauges(load(20.0), "24 AWG", "18 AWG")
    finding = only(pair(source(), drawn, [cable("source.out", "load.in", "280 ft")]))
    assert finding.rule == "power/voltage-too-low"
    assert finding.remedy is None


def test_the_whole_way_is_offered_where_no_single_cable_of_it_is_enough() -> None:
    models = {"source": source(), "middle": load(None), "load": load(20.0)}
    wires = [cable("source.out", "middle.in", "175 ft"), cable("middle.in", "load.in", "175 ft")]
    models = {
        name: with_gauges(model, "24 AWG", "16 AWG") if "in" in model.ports else model for name, model in models.items()
    }
    finding = only(job(models, wires))
    assert finding.remedy is not None
    assert [edit.path for edit in finding.remedy.edits] == [("cables", 0, "gauge"), ("cables", 1, "gauge")]


# The lot


def fed_panel() -> dict[str, Document]:
    """Return the sound example with a panel and its transformer."""
    return job_document(read_job("examples/sound/number-38.yaml"))


def without_cables(document: dict[str, Document]) -> dict[str, Document]:
    cables = document["cables"]
    assert isinstance(cables, list)
    kept: list[Document] = [c for c in cables if isinstance(c, dict) and "panel" not in f"{c['from']} {c['to']}"]
    return {**document, "cables": kept}


@FEW
@given(job_documents())
def test_sound_jobs_are_silent_and_leave_nothing_untold(document: dict[str, Document]) -> None:
    assert not found(job_from_document(document))


def test_a_sound_job_is_checked_without_any_heavy_library() -> None:
    text = job_yaml(read_job("examples/sound/number-38.yaml"))
    loaded = loaded_after(
        f"import ventrules\nassert ventrules.check(ventrules.parse_job({text!r}, name='job.yaml')).ok"
    )
    assert "ventrules" in loaded
    assert not loaded & {"numpy", "scipy", "networkx", "hypothesis"}
