"""`ventrules diagnose`: words of what was seen, the advice, exit status, JSON."""

from pathlib import Path
from typing import Final

import pytest

from tests.cli.running import BROKEN, CLEAN, FAULTY, SOUND, as_json, invoke, run, said
from tests.pages import DOCS, rows
from tests.test_docs import keys_of
from ventrules import read_job
from ventrules.diagnosis import Continuity
from ventrules.files.resources import packaged

CROSSED: Final = FAULTY / "conductors-crossed.yaml"
CABLE: Final = "module.ventilator to ventilator.bus"


def words(*seen: str) -> list[str]:
    return [part for each in seen for part in ("--seen", each)]


# What is found


def test_a_dark_ventilator_behind_a_module_that_talks() -> None:
    done = invoke("diagnose", CLEAN, *words("ventilator=unpowered", "module=link:4"))
    assert done.exit_code == 1
    text = said(done)
    assert "Seen module has power (link shows 4). ventilator has no power. module is reachable (link shows 4)." in text
    assert f"cable {CABLE} common or supply open" in text
    assert "Meter volts, with the power on, between supply and common at module.ventilator" in text
    assert "lock out power before you touch terminals" in text
    assert (
        text.index("common or supply open") < text.index("the source gives no voltage") < text.index("ventilator dead")
    )


def test_following_the_advice_ends_with_one_candidate() -> None:
    seen = words("ventilator=unpowered", "module=link:4")
    found = as_json("diagnose", CLEAN, *seen)
    for outcome, left in (("=no-voltage", 2), (":common=shorted", 1)):
        (word,) = [each for each in found["next"]["outcomes"] if each["seen"].endswith(outcome)]
        seen += words(word["seen"])
        found = as_json("diagnose", CLEAN, *seen)
        assert len(found["candidates"]) == len(word["leaves"]) == left
    assert found["next"] is None
    (fault,) = found["candidates"][0]["faults"]
    assert (fault["kind"], fault["where"], fault["conductors"]) == ("supply-shorted", CABLE, ["supply", "common"])
    assert "1 candidate of one fault." in said(invoke("diagnose", CLEAN, *seen))


def test_conductors_are_measured_where_a_look_and_volts_tell_nothing_more() -> None:
    seen = words("ventilator=unreachable,powered", "module=reachable")
    text = said(invoke("diagnose", CLEAN, *seen))
    assert f"First lock out the power, and take conductor data+ off at both ends of the cable {CABLE}" in text
    assert (
        "Meter ohms, with a long test lead, from the conductor on module.ventilator data+ to the one on ventilator"
        in text
    )
    outcomes = as_json("diagnose", CLEAN, *seen)["next"]["outcomes"]
    assert f"{CABLE}:data+=crossed" in {outcome["seen"] for outcome in outcomes}
    assert "or ventilator.bus transceiver dead" in text


def test_two_faults_are_told_together() -> None:
    seen = words("ventilator=unreachable,powered", "module=reachable", "furnace=unreachable")
    text = said(invoke("diagnose", CLEAN, *seen))
    assert f"cable {CABLE}: data+ open; and furnace.system: neither sends nor receives" in text
    assert "12 candidates of 2 faults together." in text


def test_a_look_comes_first() -> None:
    text = said(invoke("diagnose", CLEAN, *words("ventilator=unreachable,powered")))
    assert "What to look at next Look whether the controller finds furnace if it is that leaves" in text
    text = said(invoke("diagnose", CLEAN, *words("module=unreachable", "furnace=reachable")))
    assert "Look at the indicator link of module if it shows that leaves" in text
    assert "2 flashes" in text


def test_nothing_to_explain() -> None:
    done = invoke("diagnose", CLEAN, *words("ventilator=reachable,powered", f"{CABLE}:data+=through"))
    assert done.exit_code == 0
    assert "Nothing to explain" in said(done)
    assert "Caution" not in said(done)


def test_the_recorded_wiring_is_named_and_no_part_blamed() -> None:
    done = invoke("diagnose", CROSSED, *words("ventilator=unreachable"))
    assert done.exit_code == 1
    assert "The recorded wiring itself explains it; `ventrules check` says" in said(done)
    assert "suspect" not in said(done)
    found = as_json("diagnose", CROSSED, *words("ventilator=unreachable"))
    assert [each["where"] for each in found["recorded"]] == ["ventilator"]
    assert found["candidates"] == []


def test_what_the_recorded_wiring_cannot_do_puts_the_record_in_doubt() -> None:
    done = invoke("diagnose", CROSSED, *words("ventilator=reachable"))
    assert done.exit_code == 1
    assert "put the record right first" in said(done)


def test_what_excludes_each_other_is_named() -> None:
    seen = words("ventilator=reachable,unpowered", "furnace=powered")
    done = invoke("diagnose", CLEAN, *seen)
    assert done.exit_code == 1
    clash = said(done).partition("No faults that are known here explain these together")[2]
    assert "ventilator has no power. ventilator is reachable." in clash
    assert "furnace" not in clash


def test_one_thing_that_no_fault_explains_is_not_said_to_exclude_another() -> None:
    text = said(invoke("diagnose", CLEAN, *words(f"{CABLE}:supply=crossed")))
    assert f"explain this; look at it again Conductor supply of the cable {CABLE} is crossed." in text


def test_a_record_that_cannot_be_so_any_more_gives_way() -> None:
    recorded = SOUND / "number-41.yaml"
    assert list(read_job(recorded).indicators) == ["module", "ventilator"]
    text = said(invoke("diagnose", recorded, *words("module=unreachable")))
    assert (
        "Recorded in the job, but left out: it does not go with what was seen ventilator is reachable (recorded" in text
    )
    assert "cable furnace.system to module.system data+ or data- open" in text
    found = as_json("diagnose", recorded, *words("module=unreachable"))
    assert [each["text"] for each in found["outdated"]] == [
        "ventilator is reachable (recorded in the job: state shows steady)"
    ]
    assert not found["clash"]


def test_what_is_recorded_can_be_left_aside() -> None:
    recorded = SOUND / "number-41.yaml"
    everything, only = (
        as_json("diagnose", recorded, *words("ventilator=unreachable"), *more) for more in ((), ("--seen-only",))
    )
    assert len(everything["seen"]) > 1
    assert [each["text"] for each in only["seen"]] == ["ventilator is unreachable"]
    assert len(only["candidates"]) > len(everything["candidates"])
    assert "nothing was seen" in invoke("diagnose", recorded, "--seen-only").stderr


def test_a_recorded_state_that_the_catalog_lacks_tells_nothing() -> None:
    found = as_json("diagnose", FAULTY / "flashes-nobody-knows.yaml", *words("ventilator=unreachable"))
    assert found["usable"]
    assert {each["where"] for each in found["seen"] if each["about"] == "reachable"} == {"module", "ventilator"}


def test_as_many_faults_as_are_needed_and_no_more_than_are_tried() -> None:
    line = SOUND / "number-44.yaml"
    models = read_job(line).devices
    units = sorted(name for name, device in models.items() if device.model == "demo-erv-150-line")
    seen = words(*(f"{name}=unpowered" for name in units))
    found = as_json("diagnose", line, *seen)
    assert [[fault["where"] for fault in each["faults"]] for each in found["candidates"]] == [units]
    assert not found["cut_off"]
    (furnace,) = (name for name, device in models.items() if device.model in {"demo-furnace", "demo-air-handler"})
    done = invoke("diagnose", line, *seen, "--seen", f"{furnace}=unpowered")
    assert done.exit_code == 1
    assert "No explanation was found with up to 3 faults; there may be one with more." in said(done)


# Words


@pytest.mark.parametrize(
    ("seen", "message"),
    [
        ("ventilator=reacheable", "unknown word 'reacheable'; nearest is 'reachable'"),
        (
            "ventilator=what",
            "unknown word 'what'; expected reachable, unreachable, powered, unpowered or INDICATOR:STATE",
        ),
        ("ventilater=reachable", "the job has no device 'ventilater'; nearest is 'ventilator'"),
        ("ventilator=lamp:steady", "ventilator has no indicator 'lamp'; expected state"),
        ("ventilator=state:study", "indicator state of ventilator has no state 'study'; nearest is 'steady'"),
        ("ventilator=state:9", "indicator state of ventilator has no state '9'; expected 2, 3, dark or steady"),
        (
            "module.ventilater=voltage",
            "no supply can be measured at 'module.ventilater'; nearest is 'module.ventilator'",
        ),
        ("module.ventilator=on", "unknown word 'on'; expected voltage or no-voltage"),
        (f"{CABLE}:data=open", "has no conductor 'data'; nearest is 'data-'"),
        (f"{CABLE}:data+=sound", "a conductor cannot be 'sound'; expected crossed, open, shorted or through"),
        (
            "module.ventilator to furnace.system:data+=open",
            "the job has no cable 'module.ventilator to furnace.system'",
        ),
        ("ventilator", "'ventilator' says nothing; expected WHAT=WORDS"),
        ("=reachable", "'=reachable' says nothing"),
        ("ventilator=", "'ventilator=' says nothing"),
        ("ventilator=reachable,unreachable", "'ventilator' is told in two ways; leave one of them out"),
    ],
)
def test_words_that_cannot_be_used(seen: str, message: str) -> None:
    done = invoke("diagnose", CLEAN, "--seen", seen)
    assert done.exit_code == 2
    assert message in done.stderr
    assert done.stdout == ""
    refused = as_json("diagnose", CLEAN, "--seen", seen)
    assert refused["usable"] is False
    assert message in refused["problems"][0]["message"]


def test_nothing_seen_is_no_clean_bill() -> None:
    done = invoke("diagnose", CLEAN)
    assert done.exit_code == 2
    assert "nothing was seen, so nothing can be told" in done.stderr


def test_a_cable_may_be_named_from_either_end() -> None:
    first, second = CABLE.split(" to ")
    results = [
        as_json("diagnose", CLEAN, "--seen", f"{cable}:data-={Continuity.OPEN}")["candidates"]
        for cable in (CABLE, f"{second} to {first}")
    ]
    assert results[0] == results[1]
    assert [fault["kind"] for each in results[0] for fault in each["faults"]] == ["conductor-open"]


def test_flashes_are_numbers() -> None:
    found = as_json("diagnose", CLEAN, *words("module=link:2"))
    assert {each["value"] for each in found["seen"]} == {"powered", "unreachable"}
    assert {each["source"] for each in found["seen"]} == {"link shows 2"}


def test_names_with_commas_colons_and_equals_signs_can_be_told(tmp_path: Path) -> None:
    text = packaged("catalogs", "demo.yaml").read_text(encoding="utf-8")
    for old, new in (
        ("link:", '"led: bus":'),
        ("{shows: dark,", '{shows: "none, a=b",'),
        ("ventilator: &vent", '"line: 1": &vent'),
        ("data+: data+", '"A:1": data+'),
    ):
        assert old in text
        text = text.replace(old, new)
    (tmp_path / "odd.yaml").write_text(text.replace("catalog: demo", "catalog: odd"), encoding="utf-8")
    job = CLEAN.read_text(encoding="utf-8").replace("[demo]", "[odd.yaml]")
    path = tmp_path / "job.yaml"
    path.write_text(job.replace("module.ventilator", '"module.line: 1"'), encoding="utf-8")
    cable = "module.line: 1 to ventilator.bus"
    seen = ("module=led: bus:none, a=b,unreachable", "module.line: 1=no-voltage", f"{cable}:A:1=through")
    found = as_json("diagnose", path, *words(*seen))
    assert [each["text"] for each in found["seen"]] == [
        "module has no power (led: bus shows none, a=b)",
        "module is unreachable",
        "there is no voltage at module.line: 1",
        f"conductor A:1 of the cable {cable} is through",
    ]
    text = said(invoke("diagnose", path, *words("ventilator=unreachable")))
    assert " if it shows that leaves to go on, add steady or 4 flashes 11 of 30: " in text
    assert " none, a=b 6 of 30: " in text
    assert '--seen "module=led: bus:none, a=b"' in text


def test_what_is_to_be_added_does_nothing_else_in_a_shell(tmp_path: Path) -> None:
    text = packaged("catalogs", "demo.yaml").read_text(encoding="utf-8")
    (tmp_path / "odd.yaml").write_text(
        text.replace("catalog: demo", "catalog: odd").replace("link:", "'$(date)':"), encoding="utf-8"
    )
    path = tmp_path / "job.yaml"
    path.write_text(CLEAN.read_text(encoding="utf-8").replace("[demo]", "[odd.yaml]"), encoding="utf-8")
    assert "--seen 'module=$(date):dark'" in said(invoke("diagnose", path, *words("ventilator=unreachable")))


def test_a_name_at_the_beginning_of_a_line_stays_as_it_is() -> None:
    job = CLEAN.read_text(encoding="utf-8").replace("ventilator:", "there:").replace("ventilator.bus", "there.bus")
    text = said(invoke("diagnose", "-", *words("there=unreachable"), text=job))
    assert "Seen there is unreachable." in text


# The file


def test_a_broken_file_is_refused() -> None:
    done = invoke("diagnose", BROKEN / "misspelled.yaml", "--seen", "ventilator=reachable")
    assert done.exit_code == 2
    assert done.stdout == ""
    assert "Error: " in done.stderr
    assert as_json("diagnose", BROKEN / "misspelled.yaml")["usable"] is False


def test_standard_input_is_read() -> None:
    done = run(["diagnose", "-", *words("ventilator=unreachable")], data=CLEAN.read_bytes())
    assert done.returncode == 1
    assert done.stdout.startswith(b"<standard input>: Quarry Lane 2")


def test_help_names_the_words() -> None:
    text = said(invoke("diagnose", "--help"))
    for word in ("--seen WHAT=WORDS", "unreachable", "INDICATOR:STATE", "no-voltage", "crossed", "Exit status: 0"):
        assert word in text


def test_what_a_file_records_is_shown_harmless(tmp_path: Path) -> None:
    path = tmp_path / "job.yaml"
    path.write_text(
        CLEAN.read_text(encoding="utf-8").replace("job: Quarry Lane 2", 'job: "Lane\\e[2J"'), encoding="utf-8"
    )
    done = invoke("diagnose", path, "--seen", "ventilator=unreachable")
    assert done.exit_code == 1
    assert "\x1b" not in done.stdout


# JSON


def test_the_keys_are_those_of_the_page_and_no_other() -> None:
    keys = set()
    for path, seen in (
        (CLEAN, words("module=unreachable", "furnace=reachable")),
        (CLEAN, words("ventilator=reachable,unpowered")),
        (SOUND / "number-41.yaml", words("module=unreachable")),
        (CROSSED, words("ventilator=unreachable")),
        (CROSSED, words("ventilator=reachable")),
    ):
        keys |= set(keys_of(as_json("diagnose", path, *seen)))
    text = (DOCS / "diagnose.md").read_text(encoding="utf-8").partition("\n## JSON\n")[2]
    documented = {row[0].strip("`") for row in rows(text) if row[0] != "key"}
    alike = {
        key.replace("seen[]", f"{name}[]", 1)
        for name in ("recorded", "misrecorded", "outdated", "clash")
        for key in documented
        if key.startswith("seen[]")
    }
    assert keys == documented | alike


def test_the_text_and_the_json_have_the_same_order() -> None:
    seen = words("ventilator=unreachable,powered")
    faults = [each["faults"][0] for each in as_json("diagnose", CLEAN, *seen)["candidates"]]
    order = ["conductor-open", "pair-crossed", "pair-shorted", "transceiver-dead", "device-dead"]
    assert list(dict.fromkeys(fault["kind"] for fault in faults)) == order
    text = said(invoke("diagnose", CLEAN, *seen))
    places = [
        text.index(part) for part in ("data+ or data- open", "data- crossed", "touch each other", "neither sends")
    ]
    assert places == sorted(places)
