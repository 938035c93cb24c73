"""Conductors, ports on site, readings and what a catalog says of wiring: read, placed, written back."""

from collections.abc import Callable
from typing import Final

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.files.samples import CATALOG, SOUND, mark_at
from ventrules.files import (
    JobFileError,
    Problem,
    conductor_roles,
    job_document,
    job_from_document,
    job_json,
    job_yaml,
    parse_catalog,
    parse_job,
)
from ventrules.job import Carries, Conductor, Conductors, PortSetting, Shown
from ventrules.units import Resistance, Voltage

AS_LIST: Final = """[{from: data+, to: data+, color: white}, {from: data-, to: data-}, {to: supply},
                 {from: common}, {color: brown}]"""
WHOLE: Final = (
    SOUND.replace("{data+: data+, data-: data-, supply: supply, common: common}", AS_LIST)
    .replace(
        "ventilator: {model: demo-erv-130}",
        "ventilator: {model: demo-erv-130, ports: {bus: {address: 7, termination: 0.12 kohm, shield_earthed: true}}}",
    )
    .replace(
        "notes:",
        "voltages: {ventilator.bus: 11.6 V}\nindicators: {ventilator: {state: 3}, module: {link: steady}}\n"
        "instruments: {airflow: {of_reading: 0.05, at_least: 2 L/s}, voltage: {plus: 0.2 V}}\nnotes:",
    )
)


def test_everything_is_read() -> None:
    job = parse_job(WHOLE)
    assert job.cables[2].conductors == Conductors(
        (
            Conductor("data+", "data+", "white"),
            Conductor("data-", "data-"),
            Conductor(None, "supply"),
            Conductor("common", None),
            Conductor(color="brown"),
        ),
        listed=True,
    )
    assert job.devices["ventilator"].ports == {
        "bus": PortSetting(address=7, termination=Resistance.parse("0.12 kohm"), shield_earthed=True)
    }
    assert job.devices["ventilator"].ports["bus"].termination == Resistance(120.0, "kohm", "0.12 kohm")
    assert job.voltages == {"ventilator.bus": Voltage.parse("11.6 V")}
    assert job.indicators == {"ventilator": {"state": Shown(3)}, "module": {"link": Shown("steady")}}
    assert job.instruments is not None
    assert job.instruments.airflow is not None
    assert job.instruments.airflow.of_reading == 0.05
    assert job.instruments.voltage is not None
    assert job.instruments.voltage.of_reading == 0.0


def test_everything_is_written_back() -> None:
    job = parse_job(WHOLE)
    assert job_from_document(job_document(job)) == job
    assert parse_job(job_yaml(job)) == job
    assert parse_job(job_json(job), name="job.json") == job


terminals = st.one_of(st.none(), st.sampled_from(("data+", "data-", "supply", "on", "1")))
items = st.builds(Conductor, terminals, terminals, st.one_of(st.none(), st.text(max_size=5)))


@given(st.lists(items, max_size=5))
def test_any_list_of_conductors_comes_back_as_it_was(conductors: list[Conductor]) -> None:
    document = job_document(parse_job(SOUND))
    cables = document["cables"]
    assert isinstance(cables, list)
    cable = cables[2]
    assert isinstance(cable, dict)
    cable["conductors"] = [
        {
            key: value
            for key, value in (("from", item.start), ("to", item.end), ("color", item.color))
            if value is not None
        }
        for item in conductors
    ]
    job = job_from_document(document)
    assert job.cables[2].conductors == Conductors(tuple(conductors), listed=True)
    assert job_document(job)["cables"] == cables


def only_problem(read: Callable[[], object]) -> Problem:
    with pytest.raises(JobFileError) as caught:
        read()
    (problem,) = caught.value.problems
    return problem


JOBS: Final = {
    "conductor of a number": ("{to: supply}", "{to: ▸4}", ("expected text", "number 4")),
    "conductor with a strange key": ("{to: supply}", "{to: supply, ▸colour: red}", ("unknown key", "'color'")),
    "port that the model lacks": ("ports: {bus:", "ports: {▸bsu:", ("ventilator has no port 'bsu'", "'bus'")),
    "address of text": ("address: 7", "address: ▸seven", ("expected a whole number",)),
    "terminator without unit": ("0.12 kohm", "▸120", ("needs a unit (ohm or kohm)",)),
    "no resistance": ("0.12 kohm", "▸0 ohm", ("too low",)),
    "voltage at no port": ("{ventilator.bus: 11.6 V}", "{▸ventilator: 11.6 V}", ("names no port",)),
    "voltage at a strange port": ("{ventilator.bus: 11.6 V}", "{▸ventilator.bux: 11.6 V}", ("nearest is 'bus'",)),
    "voltage at a strange device": ("{ventilator.bus: 11.6 V}", "{▸ventlator.bus: 11.6 V}", ("'ventilator'",)),
    "indicator of a strange device": ("module: {link: steady}", "▸modul: {link: steady}", ("nearest is 'module'",)),
    "indicator that the model lacks": ("{link: steady}", "{▸lnk: steady}", ("has no indicator 'lnk'", "'link'")),
    "flashes of a fraction": ("state: 3", "state: ▸2.5", ("a state in words or a number of flashes",)),
    "flashes below nothing": ("state: 3", "state: ▸-1", ("expected a whole number",)),
    "accuracy that says nothing": ("voltage: {plus: 0.2 V}", "▸voltage: {}", ("says nothing", "leave it out")),
    "accuracy above one": ("of_reading: 0.05", "of_reading: ▸5", ("expected a fraction", "0.65 for 65 %")),
}


@pytest.mark.parametrize("name", JOBS)
def test_what_is_wrong_is_said_in_its_place(name: str) -> None:
    old, new, said = JOBS[name]
    assert WHOLE.count(old) == 1
    marked = WHOLE.replace(old, new)
    at, text = mark_at(marked, marked.index("▸")), marked.replace("▸", "")
    problem = only_problem(lambda: parse_job(text, name="job.yaml"))
    assert problem.position is not None
    assert (problem.position.line, problem.position.column) == at
    for piece in said:
        assert piece in problem.message, problem.message


WIRED: Final = (
    CATALOG.replace(
        "    ports: {bus: {bus: ventilator-bus, dialects: [pebble]}}\n",
        """\
    ports:
      bus: {bus: ventilator-bus, dialects: [pebble], terminals: {one: wake, two: data-}, profile: lane}
      out: {bus: power, terminals: {hot: supply, cold: common}, supplies: 5 VA, voltage: 12 V, fed_from: bus}
    indicators: {lamp: [{shows: steady, meaning: well}, {flashes: 2, meaning: unwell, fault: true}]}
""",
    )
    + """\
roles: {wake: {carries: signal, needed: false, meets: [data+]}}
profiles:
  lane:
    title: Lane bus
    trunk: {longest: 80 m, thinnest: 22 AWG}
    termination: {least: 1, most: 2, lowest: 100 ohm, highest: 150 ohm}
    addresses: {lowest: 1, highest: 9}
    shield: {least: 0, most: 1}
"""
)


def test_a_catalog_brings_roles_and_profiles() -> None:
    catalog = parse_catalog(WIRED, "lane.yaml")
    assert catalog.roles["wake"].carries is Carries.SIGNAL
    assert catalog.profiles["lane"].trunk is not None
    assert catalog.models["box"].ports["bus"].profile == "lane"
    assert [state.state for state in catalog.models["box"].indicators["lamp"]] == ["steady", "2"]


CATALOGS: Final = {
    "misspelled role": ("two: data-", "two: ▸dta-", ("unknown conductor role 'dta-'", "nearest is 'data-'")),
    "misspelled own role": ("one: wake", "one: ▸wak", ("nearest is 'wake'",)),
    "role that meets nothing known": ("meets: [data+]", "meets: [▸dat+]", ("nearest is 'data+'",)),
    "misspelled profile": ("profile: lane", "profile: ▸lain", ("unknown bus profile 'lain'", "nearest is 'lane'")),
    "fed from itself": ("fed_from: bus", "fed_from: ▸out", ("unknown port 'out'", "bus")),
    "fed from nowhere": ("fed_from: bus", "fed_from: ▸bsu", ("nearest is 'bus'",)),
    "both shows and flashes": ("{flashes: 2, meaning", "▸{flashes: 2, shows: dim, meaning", ("either `shows`",)),
    "neither shows nor flashes": ("{flashes: 2, meaning", "▸{meaning", ("either `shows` or `flashes`",)),
    "terminators the wrong way round": ("termination: {least: 1", "▸termination: {least: 3", ("`least` at most",)),
    "values the wrong way round": ("lowest: 100 ohm", "lowest: ▸160 ohm", ("`lowest` at most `highest`",)),
    "addresses the wrong way round": ("addresses: {lowest: 1,", "▸addresses: {lowest: 11,", ("`lowest` at most",)),
    "shield the wrong way round": ("shield: {least: 0", "▸shield: {least: 2", ("`least` at most",)),
}  # fmt: skip


@pytest.mark.parametrize("name", CATALOGS)
def test_what_is_wrong_with_a_catalog_is_said(name: str) -> None:
    old, new, said = CATALOGS[name]
    assert WIRED.count(old) == 1
    marked = WIRED.replace(old, new)
    line, text = mark_at(marked, marked.index("▸")).line, marked.replace("▸", "")
    problem = only_problem(lambda: parse_catalog(text, "lane.yaml"))
    assert problem.position is not None
    assert problem.position.line == line
    for piece in said:
        assert piece in problem.message, problem.message


def test_windows_and_gauges_must_not_be_upside_down() -> None:
    text = WIRED.replace("profile: lane", "window: {lowest: 14 V, highest: 9 V}")
    assert "lowest at most highest" in only_problem(lambda: parse_catalog(text, "lane.yaml")).message
    text = WIRED.replace("profile: lane", "gauges: {thinnest: 14 AWG, thickest: 22 AWG}")
    assert "thinnest no thicker" in only_problem(lambda: parse_catalog(text, "lane.yaml")).message
    text = WIRED.replace("profile: lane", "conductors_per_terminal: 0")
    assert "at least one conductor" in only_problem(lambda: parse_catalog(text, "lane.yaml")).message


def test_the_usual_roles_are_those_of_the_trade() -> None:
    roles = conductor_roles()
    assert {name for name, role in roles.items() if role.carries is Carries.DATA} == {"data+", "data-"}
    assert roles["supply"].carries is Carries.SUPPLY
    assert roles["common"].carries is Carries.COMMON
    assert not roles["shield"].needed
    assert all(role.needed for name, role in roles.items() if name != "shield")
    assert not any(role.meets for role in roles.values())
