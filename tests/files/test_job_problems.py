"""What is wrong with a job file, one fault at a time: the place, the message, the line and the column."""

import json
import re
from typing import Final, NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.files.samples import SOUND, mark_at
from ventrules.engine import Path
from ventrules.files import JobFileError, Problem, job_from_document, parse_job
from ventrules.files.marks import Mark
from ventrules.files.yaml_text import load_yaml


class Fault(NamedTuple):
    """One change to the sound job, and the problem that must come of it.

    Attributes:
        old: What stands in the sound job, once.
        new: What stands there instead; `▸` marks where the problem is to be placed, and is not written.
        path: The place inside the document.
        said: Pieces of the message.
        company: How many problems more come of it, and rightly.
    """

    old: str
    new: str
    path: Path
    said: tuple[str, ...]
    company: int = 0


SETTINGS: Final = ("settings", "ventilator")
PROGRAMS: Final = (*SETTINGS, "programs")
LOW: Final = (*PROGRAMS, "day", "heating", "low")
READ: Final = ("readings", "ventilator", "low")
AIR: Final = ("cfm", "L/s", "m3/h", "m3/s")

FOUR: Final = "{data+: data+, data-: data-, supply: supply, common: common}"
FAULTS: Final = {
    # the head
    "version": Fault("ventrules: 1", "ventrules: ▸2", ("ventrules",), ("format version", "2", "expected 1")),
    "version as text": Fault("ventrules: 1", 'ventrules: ▸"1"', ("ventrules",), ("text '1'", "expected 1")),
    "version true": Fault("ventrules: 1", "ventrules: ▸true", ("ventrules",), ("truth value true",)),
    "version null": Fault("ventrules: 1", "ventrules:▸", ("ventrules",), ("nothing (null)",)),
    "no version": Fault("ventrules: 1\n", "▸", (), ("missing `ventrules: 1`",)),
    # keys
    "unknown key": Fault("notes:", "▸note:", ("note",), ("unknown key 'note'", "nearest is 'notes'")),
    "unknown key inside": Fault("bedrooms:", "▸bedroms:", ("dwelling", "bedroms"),
                                ("unknown key 'bedroms'", "nearest is 'bedrooms'"), company=1),
    "unknown key in a cable": Fault("from: module.ventilator\n", "from: module.ventilator\n    ▸lenght: 3 ft\n",
                                    ("cables", 2, "lenght"), ("nearest is 'length'", "from, to, gauge")),
    "unknown key far from all": Fault("notes:", "▸zzzz: 1\nnotes:", ("zzzz",),
                                      ("unknown key 'zzzz'", "expected job, dwelling, target")),
    "catalog is not for writing": Fault("notes:", "▸catalog: {}\nnotes:", ("catalog",), ("unknown key 'catalog'",)),
    "origin is not for writing": Fault("notes:", "▸origin: x\nnotes:", ("origin",), ("unknown key 'origin'",)),
    "title is written job": Fault("job: Quarry", "▸title: x\njob: Quarry", ("title",), ("unknown key 'title'",)),
    "missing job": Fault("ventrules: 1\njob: Quarry Lane 7\n", "▸ventrules: 1\n", ("job",), ("missing", "text")),
    "missing area": Fault("dwelling: {floor_area: 2150 ft2, ", "▸dwelling: {", ("dwelling", "floor_area"),
                          ("missing", "an area with its unit", "ft2 or m2")),
    "missing model": Fault("  furnace: {model: demo-furnace}", "  ▸furnace: {}", ("devices", "furnace", "model"),
                           ("missing", "text")),
    "missing end": Fault("  - {from: control.system, to: furnace.system, ", "  - ▸{from: control.system, ",
                         ("cables", 0, "to"), ("missing", "text")),
    "missing exhaust": Fault("    low: {supply: 68 cfm, exhaust: 33.5 L/s}", "    ▸low: {supply: 68 cfm}",
                             (*READ, "exhaust"), ("missing", "an airflow with its unit")),
    "missing room kind": Fault("bedrooms: 3", "bedrooms: 3, rooms: {▸bath: {area: 60 ft2}}",
                               ("dwelling", "rooms", "bath", "kind"), ("missing", "bathroom")),
    # quantities
    "bare number": Fault("2150 ft2", "▸2150", ("dwelling", "floor_area"),
                         ("the number 2150 needs a unit", "ft2 or m2")),
    "bare fraction": Fault("8.5 ft", "▸8.5", ("dwelling", "ceiling_height"),
                           ("the number 8.5 needs a unit", "ft, in, m or mm")),
    "bare text": Fault("2150 ft2", '▸"2150"', ("dwelling", "floor_area"), ("'2150' has no unit", "ft2 or m2")),
    "bare minutes": Fault("{low: 45 min}", "{low: ▸45}", LOW, ("the number 45 needs a unit", "min, h or days")),
    "unknown unit": Fault("68 cfm", "▸68 CFM", (*READ, "supply"),
                          ("unknown unit 'CFM'", *AIR, "nearest is 'cfm'")),
    "unit of another kind": Fault("68 cfm", "▸68 ft2", (*READ, "supply"), ("unknown unit 'ft2'", *AIR)),
    "negative length": Fault("30 ft", "▸-30 ft", ("cables", 0, "length"), ("'-30 ft' is too low", "more than 0 ft")),
    "zero area": Fault("2150 ft2", "▸0 ft2", ("dwelling", "floor_area"), ("'0 ft2' is too low",)),
    "too cold": Fault("5 degF", "▸-500 degF", ("site", "winter_design"), ("'-500 degF' is too low",)),
    "no period": Fault("90 days", "▸0 days", (*SETTINGS, "filter_reminder"), ("a period must be more than 0 days",)),
    "not a number": Fault("68 cfm", "▸nan cfm", (*READ, "supply"), ("'nan cfm' is not an airflow", *AIR)),
    "too large": Fault("2150 ft2", "▸1e400 ft2", ("dwelling", "floor_area"), ("too large for an area",)),
    "gauge": Fault("20 AWG", "▸20 ga", ("cables", 2, "gauge"), ("unknown unit 'ga'", "AWG or mm2")),
    "list for a quantity": Fault("2150 ft2", "▸[2150 ft2]", ("dwelling", "floor_area"),
                                 ("expected an area with its unit", "found a list")),
    "truth for a quantity": Fault("2150 ft2", "▸true", ("dwelling", "floor_area"),
                                  ("expected an area with its unit", "found the truth value true")),
    "null for a quantity": Fault("floor_area: 2150 ft2", "floor_area: ▸~", ("dwelling", "floor_area"),
                                 ("expected an area with its unit", "found nothing (null)")),
    # whole numbers
    "fraction of a bedroom": Fault("bedrooms: 3", "bedrooms: ▸2.5", ("dwelling", "bedrooms"),
                                   ("expected a whole number", "the number 2.5")),
    "bedrooms as text": Fault("bedrooms: 3", "bedrooms: ▸three", ("dwelling", "bedrooms"), ("the text 'three'",)),
    "negative bedrooms": Fault("bedrooms: 3", "bedrooms: ▸-1", ("dwelling", "bedrooms"), ("from 0 to", "-1")),
    "true bedrooms": Fault("bedrooms: 3", "bedrooms: ▸true", ("dwelling", "bedrooms"), ("the truth value true",)),
    "endless bedrooms": Fault("bedrooms: 3", f"bedrooms: ▸{'9' * 250}", ("dwelling", "bedrooms"), ("whole number",)),
    # wrong types, level by level
    "job null": Fault("job: Quarry Lane 7", "job: ▸null", ("job",), ("expected text", "nothing (null)")),
    "job number": Fault("job: Quarry Lane 7", "job: ▸7", ("job",), ("expected text", "the number 7")),
    "notes list": Fault("notes: Drawn, not yet built.", "notes: ▸[drawn]", ("notes",), ("expected text", "a list")),
    "dwelling list": Fault("dwelling: {floor_area: 2150 ft2, bedrooms: 3, ceiling_height: 8.5 ft}",
                           "dwelling: ▸[2150 ft2, 3]", ("dwelling",),
                           ("expected a mapping with the keys floor_area, bedrooms", "found a list")),
    "dwelling true": Fault("dwelling: {floor_area: 2150 ft2, bedrooms: 3, ceiling_height: 8.5 ft}",
                           "dwelling: ▸true", ("dwelling",), ("expected a mapping", "truth value true")),
    "target text": Fault("target: {code: us-irc-2021}", "target: ▸us-irc-2021", ("target",),
                         ("expected a mapping with the keys code", "found the text 'us-irc-2021'")),
    "target null": Fault("target: {code: us-irc-2021}", "target:▸", ("target",), ("found nothing (null)",)),
    "catalogs text": Fault("catalogs: [demo]", "catalogs: ▸demo", ("catalogs",),
                           ("expected a list", "the text 'demo'")),
    "catalogs of numbers": Fault("catalogs: [demo]", "catalogs: [demo, ▸2]", ("catalogs", 1), ("expected text",)),
    "device text": Fault("furnace: {model: demo-furnace}", "furnace: ▸demo-furnace", ("devices", "furnace"),
                         ("expected a mapping with the keys model", "the text 'demo-furnace'")),
    "cable text": Fault("  - {from: control.system, to: furnace.system, gauge: 18 AWG, length: 30 ft}",
                        "  - ▸control.system", ("cables", 0), ("expected a mapping with the keys from, to",)),
    "conductors text": Fault(FOUR, "▸data+",
                             ("cables", 2, "conductors"),
                             ("a mapping of terminal to terminal, or a list of conductors", "the text 'data+'")),
    "conductors of text": Fault(FOUR, "[▸data+, {}]",
                                ("cables", 2, "conductors", 0), ("a mapping with the keys from, to or color",)),
    "conductors null": Fault(FOUR, "[{}, ▸null]",
                             ("cables", 2, "conductors", 1), ("expected a mapping", "nothing (null)")),
    "conductor key": Fault(FOUR, "[{from: data+, ▸too: data+}]",
                           ("cables", 2, "conductors", 0, "too"), ("unknown key 'too'", "'to'")),
    "conductor end list": Fault(FOUR, "[{from: data+, to: ▸[data+]}]",
                                ("cables", 2, "conductors", 0, "to"), ("expected text", "a list")),
    "conductor color": Fault(FOUR, "[{from: data+, color: ▸7}]",
                             ("cables", 2, "conductors", 0, "color"), ("expected text", "number 7")),
    "conductor number": Fault("supply: supply", "supply: ▸1", ("cables", 2, "conductors", "supply"), ("number 1",)),
    "times list": Fault('{"06:00": day, "08:30": out, "17:00": day, "22:30": night}', "▸[day]",
                        ("calendar", "weekdays"), ("expected a mapping", "a list")),
    "time null": Fault('"08:30": out', '"08:30": ▸null', ("calendar", "weekdays", "08:30"), ("expected text",)),
    "limits true": Fault("{off_at_or_below: 0 degF, off_at_or_above: 100 degF}", "▸true",
                         (*SETTINGS, "outdoor_limits"), ("expected a mapping with the keys off_at_or_below",)),
    "program text": Fault("managed", "▸manged", (*PROGRAMS, "night", "heating"),
                          ("expected a mapping of stage to minutes, or 'managed'", "the text 'manged'")),
    "program null": Fault("{heating: {}, cooling: {}}", "{heating: {}, cooling: ▸null}",
                          (*PROGRAMS, "out", "cooling"), ("nothing (null)",)),
    "seasons list": Fault("{heating: {}, cooling: {}}", "▸[]", (*PROGRAMS, "out"), ("expected a mapping", "a list")),
    "reading quantity": Fault("{supply: 68 cfm, exhaust: 33.5 L/s}", "▸68 cfm", READ,
                              ("expected a mapping with the keys supply or exhaust",)),
    # words
    "occupancy": Fault("day: occupied", "day: ▸ocupied", ("modes", "day"),
                       ("unknown word 'ocupied'", "occupied, standby or unoccupied", "nearest is 'occupied'")),
    "occupancy true": Fault("day: occupied", "day: ▸true", ("modes", "day"),
                            ("expected one of the words", "truth value true")),
    "season": Fault("cooling: {low: 60 min}", "▸cooling_: {low: 60 min}", (*PROGRAMS, "day", "cooling_"),
                    ("unknown word 'cooling_'", "heating or cooling", "nearest is 'cooling'")),
    "route": Fault("code: us-irc-2021", "code: us-irc-2021, route: ▸tabel", ("target", "route"),
                   ("unknown word 'tabel'", "table, equation, people", "nearest is 'table'")),
    "truth": Fault("bedrooms: 3", "bedrooms: 3, attached: ▸no", ("dwelling", "attached"),
                   ("expected true or false", "the text 'no'")),
    "room kind": Fault("bedrooms: 3", "bedrooms: 3, rooms: {bath: {kind: ▸bathrom}}",
                       ("dwelling", "rooms", "bath", "kind"), ("unknown word 'bathrom'", "nearest is 'bathroom'")),
    "leakage told twice": Fault(
        "bedrooms: 3", "bedrooms: 3, leakage: ▸{airflow_50pa: 900 cfm, air_changes_50pa: 3}", ("dwelling", "leakage"),
        ("either `airflow_50pa` or `air_changes_50pa`",)),
    "height told twice": Fault(
        "bedrooms: 3", "bedrooms: 3, leakage: ▸{airflow_50pa: 900 cfm, height: 16 ft, stories: 2}",
        ("dwelling", "leakage"), ("either `height` or `stories`",)),
    # names of things
    "station": Fault("site: {winter_design: 5 degF, summer_design: 31 degC}",
                     'site: {weather_station: ▸"726581"}', ("site", "weather_station"),
                     ("unknown weather station '726581'", "nearest is '726580'")),
    "station and factor": Fault("site: {winter_design: 5 degF, summer_design: 31 degC}",
                                'site: ▸{weather_station: "726580", weather_shielding: 0.6}', ("site",),
                                ("either `weather_station` or `weather_shielding`",)),
    "room of a strange ventilator": Fault(
        "bedrooms: 3", "bedrooms: 3, rooms: {bath: {kind: bathroom, exhaust_by: ▸ventilador}}",
        ("dwelling", "rooms", "bath", "exhaust_by"), ("unknown ventilator 'ventilador'", "nearest is 'ventilator'")),
    "room of a furnace": Fault(
        "bedrooms: 3", "bedrooms: 3, rooms: {bath: {kind: bathroom, exhaust_by: ▸furnace}}",
        ("dwelling", "rooms", "bath", "exhaust_by"), ("'furnace' is no ventilator",)),
    "code file of a text": Fault("code: us-irc-2021", "code: ▸lane.toml", ("target", "code"),
                                 ("is a path, and the job is no file",)),
    "model": Fault("demo-furnace", "▸demo-furnase", ("devices", "furnace", "model"),
                   ("unknown model 'demo-furnase'", "nearest is 'demo-furnace'")),
    "code": Fault("us-irc-2021", "▸us-irc-2020", ("target", "code"), ("unknown code 'us-irc-2020'", "us-irc-20")),
    "device": Fault("to: furnace.system", "to: ▸furnance.system", ("cables", 0, "to"),
                    ("unknown device 'furnance'", "nearest is 'furnace'")),
    "port": Fault("to: ventilator.bus", "to: ▸ventilator.buss", ("cables", 2, "to"),
                  ("ventilator has no port 'buss'", "nearest is 'bus'")),
    "no port": Fault("from: module.ventilator", "from: ▸module", ("cables", 2, "from"),
                     ("'module' names no port", "device.port")),
    "same port": Fault("to: furnace.system", "to: ▸control.system", ("cables", 0, "to"), ("the same port",)),
    "mode in the calendar": Fault('"08:30": out', '"08:30": ▸outt', ("calendar", "weekdays", "08:30"),
                                  ("unknown mode 'outt'", "nearest is 'out'")),
    "mode in a program": Fault("      out: {heating", "      ▸outt: {heating", (*PROGRAMS, "outt"),
                               ("unknown mode 'outt'", "nearest is 'out'")),
    "stage in a program": Fault("{low: 45 min}", "{▸lwo: 45 min}", (*PROGRAMS, "day", "heating", "lwo"),
                                ("unknown stage 'lwo'", "nearest is 'low'")),
    "stage in a reading": Fault("    low: {supply", "    ▸run: {supply", ("readings", "ventilator", "run"),
                                ("ventilator has no stage 'run'", "high, low or medium")),
    "ventilator in settings": Fault("settings:\n  ventilator:", "settings:\n  ▸ventilater:", ("settings", "ventilater"),
                                    ("unknown ventilator 'ventilater'", "nearest is 'ventilator'")),
    "settings of a furnace": Fault("settings:\n  ventilator:", "settings:\n  ▸furnace:", ("settings", "furnace"),
                                   ("'furnace' is no ventilator", "indoor-unit")),
    "readings of a controller": Fault("readings:\n  ventilator:", "readings:\n  ▸control:", ("readings", "control"),
                                      ("'control' is no ventilator", "controller")),
    "day": Fault("  weekend:", "  ▸weekends:", ("calendar", "weekends"),
                 ("unknown day 'weekends'", "nearest is 'weekend'")),
    "time": Fault('"08:30": out', '▸"8:30": out', ("calendar", "weekdays", "8:30"),
                  ("'8:30' is not a time of day", "00:00 to 23:59")),
    "hour 24": Fault('"22:30": night', '▸"24:00": night', ("calendar", "weekdays", "24:00"), ("not a time of day",)),
    "minute 60": Fault("    23:00: night", "    ▸22:60: night", ("calendar", "weekend", "22:60"), ("not a time",)),
    "name with a dot": Fault("modes: {", "modes: {▸a.b: standby, ", ("modes", "a.b"), ("name 'a.b' cannot be used",)),
    "name with a blank at its end": Fault("modes: {", 'modes: {▸"a ": standby, ', ("modes", "a "),
                                          ("name 'a ' cannot be used",)),
    "device without a name": Fault("devices:\n", 'devices:\n  ▸"": {model: demo-heat-pump}\n', ("devices", ""),
                                   ("name '' cannot be used",)),
    # targets
    "no target at all": Fault("target: {code: us-irc-2021}", "target: ▸{}", ("target",), ("either `code`",)),
    "both targets": Fault("{code: us-irc-2021}", "▸{code: us-irc-2021, airflow: 75 cfm}", ("target",),
                          ("either `code`, or `airflow` with `window`",)),
    "window of a code": Fault("{code: us-irc-2021}", "{code: us-irc-2021, ▸window: 4 h}", ("target", "window"),
                              ("`window` comes from the code",)),
    "airflow alone": Fault("{code: us-irc-2021}", "▸{airflow: 75 cfm}", ("target",), ("missing `window`",)),
    "window alone": Fault("{code: us-irc-2021}", "▸{window: 4 h}", ("target",), ("either `code`",)),
    "route of one's own": Fault("{code: us-irc-2021}", "{airflow: 75 cfm, window: 4 h, ▸route: table}",
                                ("target", "route"), ("`route` belongs to a code",)),
    # catalogs
    "unknown catalog": Fault("[demo]", "[▸demmo]", ("catalogs", 0), ("unknown catalog 'demmo'", "nearest is 'demo'")),
    "unknown catalog after another": Fault("[demo]", "[demo, ▸dmo]", ("catalogs", 1), ("unknown catalog 'dmo'",)),
    "unknown catalog after a number": Fault("[demo]", "[demo, 1, ▸dmo]", ("catalogs", 2),
                                            ("unknown catalog 'dmo'",), company=1),
    "catalog without a folder": Fault("[demo]", "[demo, ▸own.yaml]", ("catalogs", 1), ("unknown catalog 'own.yaml'",)),
    "catalog twice": Fault("[demo]", "[demo, ▸demo]", ("catalogs", 1), ("repeats the models",)),
}  # fmt: skip


def broken(fault: Fault, text: str = SOUND) -> str:
    assert text.count(fault.old) == 1, f"{fault.old!r} stands {text.count(fault.old)} times"
    return text.replace(fault.old, fault.new)


def problems_of(text: str, name: str = "job.yaml") -> tuple[Problem, ...]:
    with pytest.raises(JobFileError) as caught:
        parse_job(text, name=name)
    return caught.value.problems


def test_the_sound_job_is_sound() -> None:
    assert parse_job(SOUND).title == "Quarry Lane 7"
    assert len(FAULTS) > 80


@pytest.mark.parametrize("fault", FAULTS.values(), ids=FAULTS.keys())
def test_each_fault_is_said_in_its_place(fault: Fault) -> None:
    marked = broken(fault)
    assert marked.count("▸") == 1
    text = marked.replace("▸", "")
    problems = problems_of(text)
    hits = [problem for problem in problems if problem.path == fault.path]
    assert hits, f"no problem at {fault.path}: {[str(problem) for problem in problems]}"
    problem = next((hit for hit in hits if fault.said[0] in hit.message), hits[0])
    missing = [piece for piece in fault.said if piece not in problem.message]
    assert not missing, f"{missing} not in {problem.message!r}"
    assert problem.position is not None
    assert problem.position.file == problem.file == "job.yaml"
    assert (problem.position.line, problem.position.column) == mark_at(marked, marked.index("▸"))
    assert len(problem.message) < 400
    said = [str(problem) for problem in problems]
    assert len(problems) == 1 + fault.company, said
    assert str(problem).startswith(f"job.yaml:{problem.position.line}:{problem.position.column}: ")


@pytest.mark.parametrize("fault", FAULTS.values(), ids=FAULTS.keys())
def test_plain_data_gets_the_same_problems_without_a_position(fault: Fault) -> None:
    text = broken(fault).replace("▸", "")
    document = load_yaml(text)
    assert isinstance(document, dict)
    with pytest.raises(JobFileError) as caught:
        job_from_document(document)
    by_data = {(problem.path, problem.message) for problem in caught.value.problems}
    assert by_data == {(problem.path, problem.message) for problem in problems_of(text)}
    assert all(problem.position is None for problem in caught.value.problems)


@pytest.mark.parametrize("fault", FAULTS.values(), ids=FAULTS.keys())
def test_json_gets_the_same_problems_at_its_own_lines(fault: Fault) -> None:
    text = broken(fault).replace("▸", "")
    as_json = json.dumps(load_yaml(text), indent=1)
    in_json, in_yaml = problems_of(as_json, "job.json"), problems_of(text)
    assert {(p.path, p.message) for p in in_json} == {(p.path, p.message) for p in in_yaml}
    lines = as_json.split("\n")
    for problem in in_json:
        assert problem.position is not None
        line = lines[problem.position.line - 1][problem.position.column - 1 :]
        last = problem.path[-1] if problem.path else None
        if problem.at_key and isinstance(last, str) and "missing" not in problem.message:
            assert line.startswith(json.dumps(last))


# These touch one value each and nothing that another depends on, so that any of them can stand together.
TOGETHER: Final = [
    "bare number", "fraction of a bedroom", "too cold", "negative length", "no period", "gauge", "program null",
    "unknown unit", "conductor number", "hour 24", "minute 60", "notes list", "unknown key in a cable",
    "stage in a program", "name with a dot",
]  # fmt: skip


@given(st.sets(st.sampled_from(TOGETHER), min_size=2))
def test_all_problems_are_said_at_once_in_the_order_of_the_file(chosen: set[str]) -> None:
    text = SOUND
    for name in chosen:
        text = broken(FAULTS[name], text)
    expected = []
    for match in re.finditer("▸", text):
        before = text[: match.start()].replace("▸", "")
        expected.append(mark_at(before + "x", len(before)))
    problems = problems_of(text.replace("▸", ""))
    places = [Mark(problem.position.line, problem.position.column) for problem in problems if problem.position]
    assert places == expected
    assert {problem.path for problem in problems} == {FAULTS[name].path for name in chosen}
    error = JobFileError(problems)
    assert str(error).split("\n") == [str(problem) for problem in problems]


@pytest.mark.parametrize("text", ["[]", "- a", "just text", "12", "~", "---", '"ventrules: 1"', "[{ventrules: 1}]"])
def test_what_is_no_mapping_is_refused_as_a_whole(text: str) -> None:
    (problem,) = problems_of(text)
    assert problem.path == ()
    assert "expected a mapping that starts with `ventrules: 1`" in problem.message
    assert problem.position is not None


@pytest.mark.parametrize("text", ["", "  \n", "\n\n", "# a comment\n", "\t"])
def test_an_empty_text_is_refused(text: str) -> None:
    (problem,) = problems_of(text)
    assert "the file is empty" in problem.message


def test_a_catalog_file_is_no_job() -> None:
    (problem,) = problems_of("ventrules-catalog: 1\ncatalog: x\nmodels: {}\n")
    assert "missing `ventrules: 1`" in problem.message


def test_a_job_without_catalogs_is_told_so() -> None:
    problems = problems_of(SOUND.replace("catalogs: [demo]\n", ""))
    assert any("name one under `catalogs`" in problem.message for problem in problems)
    assert not [problem for problem in problems if problem.path[0] == "cables"]


def test_syntax_problems_have_their_place() -> None:
    text = SOUND.replace("  module: {model: demo-interface}", "  module: {model: demo-interface")
    (problem,) = problems_of(text)
    assert "not valid YAML" in problem.message
    assert problem.position is not None
    assert SOUND.split("\n")[problem.position.line - 1].startswith(("  module", "  ventilator"))
