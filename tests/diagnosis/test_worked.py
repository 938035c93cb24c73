"""Diagnoses worked out by hand: rings, records, odd catalogs, and what cannot be said."""

from collections.abc import Mapping
from typing import Final

import attrs
import pytest

from tests.diagnosis.homes import home
from ventrules import Diagnosis, Symptoms, diagnose
from ventrules.diagnosis import (
    Continuity,
    FaultKind,
    Method,
    SingleFault,
    SymptomError,
    faults_of,
    symptoms_of,
)
from ventrules.engine.findings import Document
from ventrules.job import Cable, Conductor, Conductors, IndicatorState, Job, Port, Shown
from ventrules.units import Voltage

PLAIN: Final = {"control": "demo-control", "furnace": "demo-furnace", "module": "demo-interface", "unit": "demo-erv-70"}
SYSTEM: Final = ("control.system to furnace.system", "furnace.system to module.system")
LAST: Final = "module.ventilator to unit.bus"


def plain(*cables: Document, **more: Document) -> Job:
    return home(PLAIN, *SYSTEM, *(cables or (LAST,)), **more)


def sets(found: Diagnosis) -> set[frozenset[str]]:
    return {
        frozenset(f"{f.kind} {f.where} {' '.join(f.conductors)}".strip() for f in c.faults) for c in found.candidates
    }


def singles(found: Diagnosis) -> set[tuple[FaultKind, str]]:
    return {(fault.kind, fault.where) for candidate in found.candidates for fault in candidate.faults}


def with_ports(job: Job, change: Mapping[str, Port]) -> Job:
    """The job with other ports, by `model.port`, in its catalog."""
    models = {
        name: attrs.evolve(
            model, ports={port: change.get(f"{name}.{port}", found) for port, found in model.ports.items()}
        )
        for name, model in job.catalog.models.items()
    }
    return attrs.evolve(job, catalog=attrs.evolve(job.catalog, models=models))


# What each fault shows


@pytest.mark.parametrize(
    ("fault", "unpowered", "unreachable"),
    [
        (SingleFault(FaultKind.OPEN, LAST, ("data-",)), set(), {"unit"}),
        (SingleFault(FaultKind.OPEN, LAST, ("common",)), {"unit"}, {"unit"}),
        (SingleFault(FaultKind.PAIR_SHORTED, SYSTEM[1], ("data+", "data-")), set(), {"furnace", "module", "unit"}),
        (
            SingleFault(FaultKind.SUPPLY_SHORTED, SYSTEM[1], ("supply", "common")),
            {"control", "module", "unit"},
            {"control", "furnace", "module", "unit"},
        ),
        (
            SingleFault(FaultKind.SOURCE, "furnace.system"),
            {"control", "module", "unit"},
            {"control", "furnace", "module", "unit"},
        ),
        (SingleFault(FaultKind.SOURCE, "module.ventilator"), {"unit"}, {"unit"}),
        (SingleFault(FaultKind.TRANSCEIVER, "module.ventilator"), set(), {"unit"}),
        (SingleFault(FaultKind.DEVICE, "module"), {"module", "unit"}, {"module", "unit"}),
        (SingleFault(FaultKind.DEVICE, "furnace"), {"furnace"}, {"furnace"}),
    ],
    ids=lambda value: "+".join(sorted(value)) or "nothing" if isinstance(value, set) else str(value),
)
def test_what_one_fault_takes_away(fault: SingleFault, unpowered: set[str], unreachable: set[str]) -> None:
    shown = symptoms_of(plain(), (fault,))
    assert {name for name, works in shown.powered.items() if not works} == unpowered
    assert {name for name, works in shown.reachable.items() if not works} == unreachable


def test_a_fault_of_another_job_is_refused() -> None:
    with pytest.raises(ValueError, match="cannot have this fault: attic: dead of itself"):
        symptoms_of(plain(), (SingleFault(FaultKind.DEVICE, "attic"),))


# Rings


def test_in_a_cable_run_twice_one_open_conductor_shows_nothing_and_two_may() -> None:
    job = plain(LAST, LAST)
    second = f"{LAST} (2)"
    open_ones = [SingleFault(FaultKind.OPEN, where, ("data+",)) for where in (LAST, second)]
    assert all(symptoms_of(job, (fault,)).reachable["unit"] for fault in open_ones)
    assert not symptoms_of(job, open_ones).reachable["unit"]
    measured = {LAST: {"data+": "open", "data-": "through"}}
    found = diagnose(
        job, Symptoms(powered={"unit": True}, reachable={"unit": False, "module": True}, conductors=measured)
    )
    ends = {
        "conductor-open module.ventilator to unit.bus (2) data+",
        "transceiver-dead module.ventilator",
        "transceiver-dead unit.bus",
        "pair-crossed module.ventilator to unit.bus (2) data+ data-",
        "pair-shorted module.ventilator to unit.bus (2) data+ data-",
    }
    assert sets(found) == {frozenset({f"conductor-open {LAST} data+", end}) for end in ends}


def test_a_crossed_pair_in_a_ring_stops_the_segment() -> None:
    job = home(
        {"control": "demo-control", "furnace": "demo-furnace", "pump": "demo-heat-pump"},
        "control.system to furnace.system",
        "furnace.system to pump.system",
        "control.system to pump.system",
    )
    crossed = SingleFault(FaultKind.CROSSED, "furnace.system to pump.system", ("data+", "data-"))
    shown = symptoms_of(job, (crossed,))
    assert not shown.reachable["furnace"]
    assert not shown.reachable["pump"]
    in_line = symptoms_of(attrs.evolve(job, cables=job.cables[:2]), (crossed,))
    assert in_line.reachable["furnace"]
    assert not in_line.reachable["pump"]


# What the job records


def test_recorded_indicators_and_voltages_are_symptoms() -> None:
    job = attrs.evolve(
        plain(),
        indicators={"module": {"link": Shown("steady")}, "unit": {"state": Shown("dark")}},
        voltages={"unit.bus": Voltage.parse("12 V")},
    )
    found = diagnose(job)
    assert singles(found) == {(FaultKind.DEVICE, "unit")}
    assert [each.source for each in found.seen if each.where == "unit.bus"] == ["recorded in the job: 12 V"]


def test_what_is_seen_now_comes_before_what_is_recorded() -> None:
    job = attrs.evolve(
        plain(), indicators={"unit": {"state": Shown("steady")}}, voltages={"unit.bus": Voltage.parse("12 V")}
    )
    now = Symptoms(powered={"unit": False}, voltages={"unit.bus": False})
    found = diagnose(job, now)
    assert not found.clash
    assert {str(each) for each in found.seen} == {"unit has no power", "there is no voltage at unit.bus"}
    assert (FaultKind.DEVICE, "unit") not in singles(found)
    assert diagnose(job).nothing_to_explain


def test_records_give_way_where_it_cannot_be_told_what_excludes_them() -> None:
    # in a ring sets of faults are left to try beyond those that are tried
    job = attrs.evolve(
        home(
            {**PLAIN, "second": "demo-interface"},
            *SYSTEM,
            LAST,
            "furnace.system to second.system",
            "module.system to second.system",
        ),
        indicators={"unit": {"state": Shown("steady")}},
        voltages={"module.system": Voltage.parse("24 V")},
    )
    found = diagnose(job, Symptoms(powered={"module": False}))
    assert {str(each).partition(" (")[0] for each in found.outdated} == {"unit has power", "unit is reachable"}
    assert singles(found) == {(FaultKind.DEVICE, "module")}
    assert not found.clash


@pytest.mark.parametrize(
    ("volts", "present"), [(12.0, True), (9.0, True), (8.9, None), (4.5, None), (4.4, False), (0.0, False)]
)
def test_a_recorded_voltage_counts_by_the_window_of_its_port(volts: float, present: bool | None) -> None:
    job = attrs.evolve(plain(), voltages={"unit.bus": Voltage(volts, "V")})
    assert [each.works for each in diagnose(job).seen] == ([] if present is None else [present])


@pytest.mark.parametrize(("volts", "present"), [(10.2, True), (10.1, None), (5.2, None), (5.0, False)])
def test_without_a_window_it_counts_by_common_practice(volts: float, present: bool | None) -> None:
    # 85 % of 12 V; common practice
    job = attrs.evolve(plain(), voltages={"module.ventilator": Voltage(volts, "V")})
    assert [each.works for each in diagnose(job).seen] == ([] if present is None else [present])


def test_wiring_recorded_as_crossed_explains_itself() -> None:
    crossed: Document = {
        "from": "module.ventilator",
        "to": "unit.bus",
        "conductors": {"data+": "data-", "data-": "data+", "supply": "supply", "common": "common"},
    }
    job = plain(crossed)
    found = diagnose(job, Symptoms(reachable={"unit": False}))
    assert not found.candidates
    assert [str(each) for each in found.recorded] == ["unit is unreachable"]
    beside = diagnose(job, Symptoms(reachable={"unit": False}, powered={"unit": False, "module": True}))
    assert (FaultKind.SOURCE, "module.ventilator") in singles(beside)
    assert [str(each) for each in beside.recorded] == ["unit is unreachable"]
    assert [str(each) for each in diagnose(job, Symptoms(reachable={"unit": True})).misrecorded] == [
        "unit is reachable"
    ]


@pytest.mark.parametrize(
    "conductors",
    [
        [
            {"start": "data+", "end": "data+"},
            {"start": "supply", "end": "supply"},
            {"start": "common", "end": "common"},
        ],
        [
            *({"start": name, "end": name} for name in ("data+", "data-", "supply", "common")),
            {"start": "data+", "end": "data-"},
        ],
        [
            *({"start": name, "end": name} for name in ("data+", "data-", "supply", "common")),
            {"start": "supply", "end": "data-"},
        ],
    ],
    ids=["a conductor left out", "the pair joined", "supply on the pair"],
)
def test_a_pair_that_is_not_sound_on_record_carries_nothing(conductors: list[Document]) -> None:
    listed: list[Document] = [{"from": c["start"], "to": c["end"]} for c in conductors if isinstance(c, dict)]
    job = plain({"from": "module.ventilator", "to": "unit.bus", "conductors": listed})
    shown = symptoms_of(job)
    assert shown.powered["unit"]
    assert shown.reachable["module"]
    assert not shown.reachable["unit"]


def test_ports_without_a_dialect_in_common_or_of_other_kinds_do_not_talk() -> None:
    foreign = home({**PLAIN, "unit": "demo-erv-driftwood"}, *SYSTEM, LAST)
    assert symptoms_of(foreign).powered["unit"]
    assert not symptoms_of(foreign).reachable["unit"]
    joined = home(PLAIN, *SYSTEM, "furnace.system to unit.bus")
    assert not symptoms_of(joined).reachable["unit"]
    forgotten = home(PLAIN, *SYSTEM)
    assert not symptoms_of(forgotten).powered["unit"]


# Other catalogs


def test_terminals_under_other_names_are_led_by_their_roles() -> None:
    named = {"A": "data+", "B": "data-", "R": "supply", "C": "common"}
    job = plain()
    changed = attrs.evolve(job.catalog.models["demo-erv-70"].ports["bus"], terminals=named)
    cable = Cable(
        "unit.bus", "module.ventilator", conductors=Conductors(tuple(Conductor(*pair) for pair in named.items()))
    )
    job = attrs.evolve(with_ports(job, {"demo-erv-70.bus": changed}), cables=(*job.cables[:2], cable))
    assert all(symptoms_of(job).reachable.values())
    found = diagnose(job, Symptoms(reachable={"unit": False}, powered={"unit": True}, conductors={LAST: {"A": "open"}}))
    assert sets(found) == {frozenset({f"conductor-open {LAST} data+ to A"})}
    volts = diagnose(job, Symptoms(powered={"unit": False, "module": True}, voltages={"module.ventilator": True}))
    assert volts.step is not None
    assert (volts.step.measurement.method, volts.step.measurement.meter) == (Method.VOLTAGE, ("R", "C"))


def test_ports_without_terminals_carry_everything() -> None:
    job = plain()
    ports = {name: model.ports for name, model in job.catalog.models.items()}
    bare = {
        f"{model}.{port}": attrs.evolve(ports[model][port], terminals={})
        for model, port in (("demo-furnace", "system"), ("demo-erv-70", "bus"))
    }
    changed = with_ports(job, bare)
    assert symptoms_of(changed) == symptoms_of(job)
    assert faults_of(changed) == faults_of(job)
    seen = Symptoms(reachable={"unit": False}, powered={"unit": True})
    assert diagnose(changed, seen).candidates == diagnose(job, seen).candidates


def test_what_is_run_by_contacts_shows_nothing() -> None:
    job = home({**PLAIN, "unit": "demo-hrv-contact"}, *SYSTEM)
    assert "unit" not in symptoms_of(job).powered
    with pytest.raises(SymptomError, match="unit has no bus"):
        diagnose(job, Symptoms(reachable={"unit": False}))


def test_a_transformer_is_measured_at_its_terminals() -> None:
    devices = {**PLAIN, "module": "demo-zone-panel-fed", "feed": "demo-transformer-40"}
    job = home(devices, *SYSTEM, LAST, "feed.secondary to module.power")
    with pytest.raises(SymptomError, match=r"feed has no bus.*; its voltage can be measured at feed\.secondary"):
        diagnose(job, Symptoms(powered={"feed": True}))
    found = diagnose(job, Symptoms(powered={"module": False, "control": True}, voltages={"feed.secondary": False}))
    assert singles(found) == {
        (FaultKind.SOURCE, "feed.secondary"),
        (FaultKind.SUPPLY_SHORTED, "feed.secondary to module.power"),
    }


def test_a_unit_with_a_supply_of_its_own_is_dead_of_itself() -> None:
    job = home({**PLAIN, "module": "demo-interface-line", "unit": "demo-erv-150-line"}, *SYSTEM, LAST)
    assert singles(diagnose(job, Symptoms(powered={"unit": False}))) == {(FaultKind.DEVICE, "unit")}
    assert {lead for found in symptoms_of(job).conductors.values() for lead in found} == {
        "data+",
        "data-",
        "supply",
        "common",
    }
    assert set(symptoms_of(job).conductors[LAST]) == {"data+", "data-", "common"}


def test_an_indicator_that_may_show_the_same_for_every_candidate_is_no_help() -> None:
    vague = (IndicatorState("lives", shows="lit"), IndicatorState("no supply", shows="dark", powered=False))
    job = plain()
    models = dict(job.catalog.models)
    models["demo-erv-70"] = attrs.evolve(models["demo-erv-70"], indicators={"lamp": vague})
    job = attrs.evolve(job, catalog=attrs.evolve(job.catalog, models=models))
    seen = Symptoms(reachable={"unit": False, "module": True}, indicators={"module": {"link": Shown(4)}})
    step = diagnose(job, seen).step
    assert step is not None
    assert (step.measurement.method, step.measurement.where) == (Method.POWERED, "unit")
    assert {each.where for each in diagnose(job, Symptoms(indicators={"unit": {"lamp": Shown("lit")}})).seen} == set()


# What cannot be said


@pytest.mark.parametrize(
    ("symptoms", "message"),
    [
        (Symptoms(powered={"furnice": True}), "no device 'furnice'; nearest is 'furnace'"),
        (Symptoms(reachable={"xyz": True}), "no device 'xyz'; expected control, furnace, module or unit"),
        (Symptoms(indicators={"unit": {"stat": Shown("dark")}}), "unit has no indicator 'stat'; nearest is 'state'"),
        (Symptoms(indicators={"unit": {"state": Shown("drk")}}), "has no state 'drk'; nearest is 'dark'"),
        (Symptoms(voltages={"unit": True}), "no supply can be measured at 'unit'; nearest is 'unit.bus'"),
        (Symptoms(conductors={"unit.bus to nowhere": {"data+": "open"}}), "no cable 'unit.bus to nowhere'"),
        (Symptoms(conductors={LAST: {"shield": "open"}}), "no conductor 'shield'; expected common, data"),
        (Symptoms(conductors={LAST: {"data+": "opened"}}), "cannot be 'opened'; nearest is 'open'"),
    ],
)
def test_words_that_are_not_known(symptoms: Symptoms, message: str) -> None:
    with pytest.raises(SymptomError, match=message.replace("+", r"\+")):
        diagnose(plain(), symptoms)


def test_no_faults_at_all_are_no_diagnosis() -> None:
    with pytest.raises(ValueError, match="one or more"):
        diagnose(plain(), most_faults=0)


def test_two_results_for_one_conductor_exclude_each_other() -> None:
    found = diagnose(
        plain(), Symptoms(conductors={LAST: {"data+": "open"}, "unit.bus to module.ventilator": {"data+": "through"}})
    )
    assert not found.candidates
    assert {each.found for each in found.clash} == {Continuity.OPEN, Continuity.THROUGH}
