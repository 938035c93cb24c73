"""The rules about conductors one by one, and that the names of terminals mean nothing."""

from collections.abc import Callable, Sequence
from typing import Final, TypeVar

import attrs
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.test_conductors import (
    CROSSED,
    FOUR,
    HANGING,
    LAST,
    MISSING,
    POWERED,
    UNKNOWN,
    found,
    joined,
    rules,
    straight,
)
from tests.test_swaps import base
from ventrules import Finding, Job, applied, check, job_document, job_from_document, parse_job
from ventrules.engine.findings import Document
from ventrules.files import job_json, job_yaml
from ventrules.job import Cable, Carries, Conductor, ConductorRole, Conductors, Port, WireRange
from ventrules.survey import PortRef
from ventrules.testing import Fault, job_documents
from ventrules.testing.conductor_faults import FAULTS
from ventrules.units import WireSize

T = TypeVar("T")
OVERFULL: Final = "wiring/terminal-overfull"
GAUGE: Final = "wiring/gauge-does-not-fit"
CORES: Final = "wiring/too-few-cores"
COLOR: Final = "wiring/color-means-two-things"
WHOLE: Final = tuple(Conductor(name, name) for name in FOUR)


def with_port(job: Job, model: str, port: str, changed: Callable[[Port], Port]) -> Job:
    """The job with some of a port's catalog entry changed."""
    models = dict(job.catalog.models)
    own = models[model]
    models[model] = attrs.evolve(own, ports={**own.ports, port: changed(own.ports[port])})
    return attrs.evolve(job, catalog=attrs.evolve(job.catalog, models=models))


def taking(job: Job, model: str, port: str, count: int) -> Job:
    return with_port(job, model, port, lambda own: attrs.evolve(own, conductors_per_terminal=count))


def gauged(job: Job, model: str, port: str, gauges: WireRange | None) -> Job:
    return with_port(job, model, port, lambda own: attrs.evolve(own, gauges=gauges))


def laid(job: Job, index: int, conductors: Conductors | None) -> Job:
    cables: list[Cable] = list(job.cables)
    cables[index] = attrs.evolve(cables[index], conductors=conductors)
    return attrs.evolve(job, cables=tuple(cables))


def sized(job: Job, gauge: WireSize | None) -> Job:
    cables: list[Cable] = list(job.cables)
    cables[LAST] = attrs.evolve(cables[LAST], gauge=gauge)
    return attrs.evolve(job, cables=tuple(cables))


@pytest.mark.parametrize("meets", [("sense",), ()])
@pytest.mark.parametrize("says", ["start", "end"])
def test_roles_of_a_catalog_meet_what_it_says(meets: tuple[str, ...], says: str) -> None:
    """An added role may meet another one whichever of the two says so, power on a signal as well."""
    for other, carries, rule in (("data+", Carries.DATA, CROSSED), ("supply", Carries.SIGNAL, POWERED)):
        own = tuple(other if name == "sense" else name for name in meets)
        roles = {"sense": ConductorRole(carries, meets=own)}
        names = {**{name: name for name in FOUR if name != other}, "s": "sense"}
        conductors = {name: name for name in FOUR if name != other}
        job = (
            joined({**conductors, "s": other}, at_start=names, roles=roles)
            if says == "start"
            else joined({**conductors, other: "s"}, at_end=names, roles=roles)
        )
        assert [r for r in rules(job) if r in {CROSSED, POWERED}] == ([] if meets else [rule])


def test_a_role_that_need_not_be_carried_is_not_missed_and_one_that_must_be_is() -> None:
    for need in (True, False):
        roles = {"spy": ConductorRole(Carries.SIGNAL, needed=need)}
        names = {**{name: name for name in FOUR}, "s": "spy"}
        job = joined(WHOLE, at_start=names, at_end=names, roles=roles)
        assert rules(job) == ([MISSING] if need else [])
        assert rules(joined(None, at_start=names, at_end=names, roles=roles)) == []


def test_a_role_that_both_ports_have_twice_is_wanted_twice() -> None:
    names = {**{name: name for name in FOUR}, "ground": "common"}
    for conductors, lacking in (
        (WHOLE, True),
        ((*WHOLE, Conductor("common", "ground")), True),  # side by side at one end
        ((*WHOLE, Conductor("ground", "common")), True),
        ((*WHOLE, Conductor("ground", "ground")), False),
        ((*WHOLE[:-1], Conductor("common", "ground"), Conductor("ground", "common")), False),
    ):
        findings = found(joined(conductors, at_start=names, at_end=names))
        assert [finding.rule for finding in findings] == ([MISSING] if lacking else [])
        assert all("(1 of 2 joined)" in finding.message and finding.remedy is None for finding in findings)
    assert rules(joined(WHOLE, at_end=names)) == []


def test_a_screen_may_end_bare_and_a_spare_at_both_ends() -> None:
    names = {**{name: name for name in FOUR}, "shield": "shield"}
    loose = [Conductor("shield"), Conductor(None, "shield"), Conductor(), Conductor(color="brown")]
    assert rules(joined([*WHOLE, *loose], at_start=names, at_end=names)) == []


@pytest.mark.parametrize("hanging", [Conductor("common"), Conductor(None, "common")])
def test_what_hangs_explains_that_its_role_is_not_joined(hanging: Conductor) -> None:
    (finding,) = found(joined([*WHOLE[:-1], hanging]))
    assert (finding.rule, finding.place.path) == (HANGING, ("cables", LAST, "conductors", 3))
    landed, bare = ("module.ventilator", "ventilator.bus")
    if hanging.start is None:
        landed, bare = bare, landed
    assert finding.message == f"A conductor is on common of {landed} and on nothing at {bare}."
    assert f"common of {bare}" in finding.todo


def test_two_that_hang_alike_are_two_findings() -> None:
    findings = found(joined([*WHOLE[:-1], Conductor("common"), Conductor("common")]))
    assert [finding.rule for finding in findings] == [HANGING] * 2
    assert len({finding.fingerprint for finding in findings}) == 2


@given(st.integers(1, 4), st.integers(1, 4), st.integers(0, 4), st.integers(0, 4))
@settings(max_examples=25)
def test_a_terminal_takes_what_its_port_says(here: int, there: int, more: int, hanging: int) -> None:
    conductors = [*WHOLE, *[Conductor("common", "common")] * more, *[Conductor("common")] * hanging]
    job = joined(conductors)
    job = taking(job, "demo-interface", "ventilator", here)
    job = taking(job, "demo-erv-130", "bus", there)
    last = {
        port: number
        for port, number, count, takes in (
            ("module.ventilator", 3 + more + hanging, 1 + more + hanging, here),
            ("ventilator.bus", 3 + more, 1 + more, there),
        )
        if count > takes
    }
    findings = [finding for finding in found(job) if finding.rule == OVERFULL]
    assert sorted((f.place.path[-1], f.evidence["terminals"]) for f in findings) == sorted(
        (number, tuple(f"common of {port}" for port in sorted(last) if last[port] == number))
        for number in set(last.values())
    )


def test_a_terminal_of_two_cables_has_the_conductors_of_both_and_those_on_the_wrong_one_do_not_count() -> None:
    job = taking(base("demo-erv-130", "50 cfm"), "demo-furnace", "system", 1)
    findings = found(job)
    assert [finding.rule for finding in findings] == [OVERFULL] * len(FOUR)
    assert {finding.place.path for finding in findings} == {("cables", 1)}
    moved = laid(job, 1, straight({name: name for name in FOUR if name != "common"}))
    assert sorted(rules(moved)) == [MISSING, *[OVERFULL] * 3]
    crossed = laid(job, 1, straight(dict(zip(FOUR, ("data-", "data+", *FOUR[2:]), strict=True))))
    assert sorted(rules(crossed)) == [CROSSED, OVERFULL, OVERFULL]
    doubled = attrs.evolve(base("demo-erv-130", "50 cfm"), cables=(*job.cables, job.cables[LAST], job.cables[LAST]))
    assert rules(doubled) == ["wiring/ring"]


@given(st.integers(0, 6), st.sets(st.sampled_from(FOUR), min_size=1))
@settings(max_examples=25)
def test_a_cable_needs_as_many_conductors_as_its_ports_share_roles(cores: int, names: set[str]) -> None:
    """And says so once: what its conductors lack is the same fault."""
    at_end = {name: name for name in [*sorted(names), "shield"]}
    at_start = {**{name: name for name in FOUR}, "shield": "shield"}
    job = joined([], at_start=at_start, at_end=at_end, cores=cores)
    expected = CORES if cores < len(names) else MISSING
    findings = [finding for finding in found(job) if finding.rule in {CORES, MISSING}]
    assert [(f.rule, f.place.path, f.evidence["count"]) for f in findings] == [(expected, ("cables", LAST), len(names))]


@pytest.mark.parametrize(
    ("gauge", "fits"),
    [
        *((size, True) for size in ("22 AWG", "0.32 mm2", "18 AWG", "16 AWG", "1.31 mm2")),
        *((size, False) for size in ("26 AWG", "24 AWG", "1.5 mm2", "14 AWG", "2.5 mm2")),
    ],
)
def test_sizes_fit_as_the_nearest_whole_gauge(gauge: str, fits: bool) -> None:
    job = sized(base("demo-erv-130", "50 cfm"), WireSize.parse(gauge))
    said = [finding for finding in found(job) if finding.rule == GAUGE]
    assert [finding.place.path for finding in said] == ([] if fits else [("cables", LAST)])
    for finding in said:
        assert f"{gauge}; module.ventilator takes 22 AWG to 16 AWG and ventilator.bus takes" in finding.message
    only = gauged(job, "demo-interface", "ventilator", None)
    assert [f.evidence["names"] for f in found(only) if f.rule == GAUGE] == [] if fits else [("ventilator.bus",)]


def test_a_gauge_that_is_not_known_is_said_where_a_terminal_has_one_to_ask_for() -> None:
    job = sized(base("demo-erv-130", "50 cfm"), None)
    assert GAUGE not in rules(job)
    (finding,) = (f for f in check(job).findings if f.rule == "wiring/cable-not-told")
    assert finding.unchecked
    assert "whether it fits the terminals" in finding.message
    for model, port in (("demo-interface", "ventilator"), ("demo-erv-130", "bus")):
        job = gauged(job, model, port, None)
    (finding,) = (f for f in check(job).findings if f.rule == "wiring/cable-not-told")
    assert "whether it fits the terminals" not in finding.message


@given(st.sampled_from(["16 AWG", "18 AWG", "1 mm2"]), st.sampled_from(["22 AWG", "24 AWG", "0.25 mm2"]), st.data())
@settings(max_examples=25)
def test_a_wider_range_of_sizes_never_brings_a_finding(thick: str, thin: str, data: st.DataObject) -> None:
    gauge = WireSize.parse(data.draw(st.sampled_from(["26 AWG", "22 AWG", "20 AWG", "0.5 mm2", "17 AWG", "14 AWG"])))
    narrow = WireRange(WireSize.parse("20 AWG"), WireSize.parse("19 AWG"))
    wide = WireRange(WireSize.parse(thin), WireSize.parse(thick))
    job = sized(base("demo-erv-130", "50 cfm"), gauge)
    at_wide, at_narrow = (
        {GAUGE} & set(rules(gauged(gauged(job, "demo-erv-130", "bus", of), *MODULE, of))) for of in (wide, narrow)
    )
    assert at_wide <= at_narrow


MODULE: Final = ("demo-interface", "ventilator")


@pytest.mark.parametrize(
    ("colors", "at"),
    [
        (("white", "green", "red", "black"), None),
        (("white", "green", "red", "White"), 3),
        (("white/blue", " White / Blue", "red", None), 1),
        ((None, "", " ", None), None),
        (("red", "blue", "red", "red"), 2),
    ],
)
def test_one_color_for_two_roles_is_advice_at_the_odd_conductor(colors: Sequence[str | None], at: int | None) -> None:
    job = joined([Conductor(name, name, color) for name, color in zip(FOUR, colors, strict=True)])
    findings = found(job)
    assert [(f.rule, f.severity.value, f.place.path[-1]) for f in findings] == (
        [] if at is None else [(COLOR, "advice", at)]
    )


def test_a_color_goes_on_along_the_bus_and_no_further() -> None:
    def dyed(names: Sequence[str]) -> Conductors:
        colors = dict(zip(names, ("white", "green", "red", "black"), strict=True))
        return Conductors(tuple(Conductor(name, name, colors[name]) for name in FOUR), listed=True)

    job = laid(base("demo-erv-130", "50 cfm"), 0, dyed(FOUR))
    turned = dyed(("data-", "data+", "supply", "common"))
    assert rules(laid(job, LAST, turned)) == []
    findings = found(laid(job, 1, turned))
    assert [(f.rule, f.place.path[:2]) for f in findings] == [(COLOR, ("cables", 1))] * 2
    assert all(f.related[0].path[:2] == ("cables", 0) for f in findings)


def test_a_color_at_a_crossed_conductor_is_no_second_finding() -> None:
    swapped = [Conductor("data+", "data-", "white"), Conductor("data-", "data+", "white"), *WHOLE[2:]]
    assert rules(joined(swapped)) == [CROSSED]


@pytest.mark.parametrize(("model", "ends"), [("demo-hrv-contact", "outdoor"), ("demo-transformer-40", "power")])
def test_contacts_and_supplies_are_looked_at_as_well(model: str, ends: str) -> None:
    document = job_document(base("demo-erv-130", "50 cfm"))
    devices, cables = document["devices"], document["cables"]
    assert isinstance(devices, dict)
    assert isinstance(cables, list)
    if ends == "outdoor":
        devices |= {"fan": {"model": model}, "unit": {"model": "demo-furnace-contact"}}
        run, names = ("unit.calls", "fan.switch"), ("call", "return")
    else:
        devices |= {"fan": {"model": model}, "unit": {"model": "demo-zone-panel-fed"}}
        run, names = ("fan.secondary", "unit.power"), ("supply", "common")
    wrong = dict(zip(names, reversed(names), strict=True))
    for conductors, expected in (({**wrong}, {CROSSED}), ({names[0]: names[0]}, {MISSING}), (None, set[str]())):
        cable: dict[str, Document] = {"from": run[0], "to": run[1], "gauge": "18 AWG", "length": "9 ft"}
        if conductors is not None:
            cable["conductors"] = {**conductors}
        job = job_from_document({**document, "cables": [*cables, cable]})
        ours = {fault.rule for fault in FAULTS}
        assert {f.rule for f in check(job).findings if f.rule in ours} == expected


@settings(max_examples=40)
@given(
    st.lists(st.builds(Conductor, *[st.one_of(st.none(), st.sampled_from(FOUR))] * 2, st.sampled_from([None, "red"])))
)
def test_a_list_of_conductors_comes_back_from_every_text(conductors: list[Conductor]) -> None:
    job = laid(base("demo-erv-130", "50 cfm"), LAST, Conductors(tuple(conductors), listed=True))
    assert job_from_document(job_document(job)) == job
    assert parse_job(job_yaml(job)) == job
    assert parse_job(job_json(job), name="job.json") == job


def written_out(job: Job) -> Job:
    """The job with the conductors of straight cables written down."""
    done = job
    for index, cable in enumerate(job.cables):
        here, there = (
            job.model_of(ref.device).ports[ref.port].terminals for ref in map(PortRef.of, (cable.start, cable.end))
        )
        if cable.conductors is None:
            done = laid(done, index, straight({name: name for name in here if name in there}))
    return done


def relabeled(job: Job, new_name: dict[tuple[str, str, str], str]) -> Job:
    """The job with other terminal names, in the catalog and in the cables; unknown ones stay as they are."""
    models = {
        name: attrs.evolve(
            model,
            ports={
                port: attrs.evolve(own, terminals={new_name[name, port, t]: role for t, role in own.terminals.items()})
                for port, own in model.ports.items()
            },
        )
        for name, model in job.catalog.models.items()
    }

    def at(end: str, terminal: str | None) -> str | None:
        ref = PortRef.of(end)
        return new_name.get((job.devices[ref.device].model, ref.port, terminal or ""), terminal)

    def turned(cable: Cable) -> Cable:
        assert cable.conductors is not None
        items = tuple(Conductor(at(cable.start, c.start), at(cable.end, c.end), c.color) for c in cable.conductors)
        return attrs.evolve(cable, conductors=Conductors(items, listed=cable.conductors.listed))

    catalog = attrs.evolve(job.catalog, models=models)
    return attrs.evolve(job, catalog=catalog, cables=tuple(turned(cable) for cable in job.cables))


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
@settings(max_examples=15)
@given(data=st.data())
def test_relabeling_terminals_at_both_ends_changes_nothing(fault: Fault, data: st.DataObject) -> None:
    document = data.draw(job_documents())

    def pick(choices: Sequence[T]) -> T:
        return data.draw(st.sampled_from(choices))

    made = fault.apply(document, pick)
    assume(made is not None)
    assert made is not None
    job = written_out(job_from_document(made.document))
    letters = data.draw(st.permutations("JKLMNPQR"))
    new_name = {
        (name, port, terminal): letter
        for name, model in job.catalog.models.items()
        for port, own in model.ports.items()
        for terminal, letter in zip(own.terminals, letters, strict=False)
    }

    def said(
        judged: Job, names: dict[tuple[str, str, str], str]
    ) -> list[tuple[str, bool, bool, list[tuple[str, ...]]]]:
        def path(step: tuple[str | int, ...]) -> tuple[str, ...]:
            if step[:1] == ("cables",) and len(step) > 3 and isinstance(step[1], int):
                ref = PortRef.of(judged.cables[step[1]].start)
                step = (*step[:3], names.get((judged.devices[ref.device].model, ref.port, str(step[3])), step[3]))
            return tuple(map(str, step))

        return sorted(
            (f.rule, f.unchecked, f.remedy is None, sorted(path(p.path) for p in (f.place, *f.related)))
            for f in check(judged).findings
        )

    assert said(relabeled(job, new_name), {}) == said(job, new_name)


@pytest.mark.parametrize("fault", [f for f in FAULTS if not f.unchecked], ids=lambda fault: fault.name)
@settings(max_examples=8)
@given(data=st.data())
def test_what_a_remedy_straightens_is_as_sound_as_it_was(fault: Fault, data: st.DataObject) -> None:
    document = data.draw(job_documents())
    made = fault.apply(document, lambda choices: data.draw(st.sampled_from(choices)))
    assume(made is not None)
    assert made is not None
    job = job_from_document(made.document)

    def left(judged: Job) -> list[Finding]:
        return [f for f in check(judged).findings if f.rule.partition("/")[0] in {"wiring", "power"}]

    offered = [finding.remedy for finding in left(job) if finding.remedy is not None]
    assert bool(offered) == (fault.rule in {CROSSED, POWERED, MISSING, HANGING, "wiring/unknown-terminal"})
    for remedy in offered:
        assert left(applied(job, remedy)) == []


def test_what_a_remedy_offers_does_not_depend_on_the_order_of_a_mapping() -> None:
    """Two conductors are on one terminal and neither says more: the order of keys must not decide which one moves."""
    pairs = {"aux": "data-", "zz": "data-", "data+": "data+", "supply": "supply", "common": "common"}
    start = {**{name: name for name in FOUR if name != "data-"}, "neg": "data-", "aux": "contact"}
    offers = [
        [(f.rule, f.place.name, f.remedy) for f in found(joined(order, at_start=start))]
        for order in (pairs, dict(reversed(pairs.items())))
    ]
    assert offers[0] == offers[1]
    assert {rule for rule, _place, _remedy in offers[0]} == {CROSSED, UNKNOWN}
