"""Rules about what is fitted and set on a bus against the published figures, each named by its clause, and remedies."""

from collections.abc import Mapping, Sequence
from typing import Final

import attrs
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.bus_rules import BY_ID, SHORT, biased, found, only, terminated
from tests.survey.buses import BARE, FREE, GUIDE, PLAIN, STANDARD, Wire, bus_survey, line, trees
from ventrules import Survey, applied
from ventrules.files import load_bus_profile
from ventrules.job import BusKind, Layout, Port, PortSetting, Resistors, Shield
from ventrules.units import Resistance

# Termination

ENDS: Final = {"d0": terminated(150), "d2": terminated(150)}


@pytest.mark.parametrize(
    ("settings_", "wires", "said"),
    [
        # MODBUS over Serial Line V1.02, 3.4.5: 150 ohm, or 1 nF and 120 ohm, near each of the two ends
        (ENDS, SHORT, None),
        ({"d0": terminated(120), "d2": terminated(150)}, SHORT, None),
        (BARE, SHORT, "nothing terminates the end at d0.bus; nothing terminates the end at d2.bus"),
        ({"d0": terminated(150)}, SHORT, "nothing terminates the end at d2.bus"),
        ({**ENDS, "d2": terminated(60)}, SHORT, "the one at d2.bus has 60 ohm and not 120 ohm to 150 ohm"),
        ({**ENDS, "d2": terminated(151)}, SHORT, "the one at d2.bus has 151 ohm"),
        # never more than two
        ({**ENDS, "d1": terminated(150)}, SHORT, "3 terminators are on it"),
        ({"d0": terminated(150), "d1": terminated(150)}, SHORT, "the one at d1.bus is at neither end"),
        # never on a derivation
        (
            {"d0": terminated(150), "side": terminated(150)},
            [*line("90 m", "30 m"), Wire("d1", "side", "9 m")],
            "the one at side.bus is at neither end of the line; nothing terminates the end at d2.bus",
        ),
    ],
)
def test_a_line_is_terminated_as_published(
    settings_: Mapping[str, PortSetting], wires: Sequence[Wire], said: str | None
) -> None:
    findings = found(bus_survey(wires, settings=settings_), "wrong-termination")
    assert not any(finding.unchecked for finding in findings)
    assert [said in finding.message for finding in findings if said] == ([True] if said else [])
    assert len(findings) == (said is not None)


def test_what_is_built_in_terminates_as_well() -> None:
    ports = {"d0": attrs.evolve(PLAIN, termination=Resistance.of(120, "ohm"))}
    assert not found(bus_survey(SHORT, settings={"d2": terminated(120)}, ports=ports), "wrong-termination")
    finding = only(bus_survey(SHORT, settings=ENDS, ports=ports), "wrong-termination")
    assert "d0.bus has one built in and another fitted" in finding.message
    assert finding.remedy is not None
    assert finding.remedy.title == "Take out the terminator at d0.bus"
    middle = {"d1": ports["d0"]}
    finding = only(bus_survey(SHORT, settings=ENDS, ports=middle), "wrong-termination")
    assert "d1.bus (built in)" in finding.message
    assert finding.remedy is None


def test_what_a_port_without_a_profile_has_built_in_is_not_known() -> None:
    ports = {"d1": Port(BusKind.VENTILATOR)}
    for rule in ("wrong-termination", "wrong-bias", "wrong-shield-earthing"):
        finding = only(bus_survey(SHORT, settings=ENDS, ports=ports), rule)
        assert finding.unchecked
        assert "d1.bus" in finding.message
    too_many = {**ENDS, "d1": terminated(150)}
    assert not only(bus_survey(SHORT, settings=too_many, ports=ports), "wrong-termination").unchecked


def test_without_lengths_the_ends_of_a_branched_line_are_not_known() -> None:
    wires = [*line("9 m", None), Wire("d1", "side", "9 m")]
    assert not found(bus_survey(wires, settings={"d0": terminated(150)}), "wrong-termination")
    assert "the ends of the bus" in only(bus_survey(wires), "cable-not-told").message
    assert not only(bus_survey(wires, settings={"d0": terminated(10)}), "wrong-termination").unchecked


def test_in_a_free_layout_terminators_are_only_counted() -> None:
    asked = Resistors(1, 1, Resistance.of(50, "ohm"), Resistance.of(60, "ohm"))
    free = attrs.evolve(FREE, termination=asked)
    assert not found(bus_survey(SHORT, profile=free, settings={"d1": terminated(52)}), "wrong-termination")
    assert "no terminators are on it" in only(bus_survey(SHORT, profile=free), "wrong-termination").message
    both = {"d0": terminated(52), "d2": terminated(52)}
    assert "2 terminators" in only(bus_survey(SHORT, profile=free, settings=both), "wrong-termination").message


@pytest.mark.parametrize(
    ("layout", "least", "most", "todo"),
    [
        (Layout.LINE, 0, 0, "Take out or switch off every terminator on it."),
        (Layout.LINE, 1, 1, "Have one terminator of 50 ohm to 60 ohm at d0.bus or d2.bus, and none elsewhere."),
        (Layout.LINE, 2, 2, "Have one terminator of 50 ohm to 60 ohm at d0.bus and d2.bus, and none elsewhere."),
        (Layout.FREE, 1, 1, "Have 1 terminator of 50 ohm to 60 ohm on it, anywhere."),
        (Layout.FREE, 1, 2, "Have 1 to 2 terminators of 50 ohm to 60 ohm on it, anywhere."),
        (Layout.FREE, 0, 2, "Have no more than 2 terminators of 50 ohm to 60 ohm on it, anywhere."),
    ],
)
def test_what_to_do_about_terminators_is_what_the_profile_asks_for(
    layout: Layout, least: int, most: int, todo: str
) -> None:
    asked = Resistors(least, most, Resistance.of(50, "ohm"), Resistance.of(60, "ohm"))
    profile = attrs.evolve(FREE, layout=layout, termination=asked)
    three = {f"d{number}": terminated(52) for number in range(3)}
    assert only(bus_survey(SHORT, profile=profile, settings=three), "wrong-termination").todo == todo


def test_a_bus_that_is_to_have_no_bias_and_no_earth_is_told_so() -> None:
    asked = Resistors(0, 0, Resistance.of(50, "ohm"), Resistance.of(60, "ohm"))
    profile = attrs.evolve(FREE, bias=asked, shield=Shield(0, 0))
    survey = bus_survey(SHORT, profile=profile, settings={"d0": PortSetting(bias=asked.lowest, shield_earthed=True)})
    assert only(survey, "wrong-bias").todo == "Take out or switch off every bias resistor on the bus."
    assert only(survey, "wrong-shield-earthing").todo.endswith("and earth it nowhere.")


# Bias


@pytest.mark.parametrize(
    ("settings_", "said"),
    [
        # MODBUS over Serial Line V1.02, 3.4.6: one pair of 450 to 650 ohm, at one place, where it is needed
        (BARE, None),
        ({"d0": biased(450)}, None),
        ({"d2": biased(650)}, None),
        ({"d0": biased(449)}, "the one at d0.bus has 449 ohm"),
        ({"d0": biased(651)}, "and not 450 ohm to 650 ohm"),
        ({"d0": biased(510), "d1": biased(510)}, "2 sets of bias resistors are on it, at d0.bus and d1.bus"),
    ],
)
def test_a_line_is_biased_as_published(settings_: Mapping[str, PortSetting], said: str | None) -> None:
    findings = found(bus_survey(SHORT, settings=settings_), "wrong-bias")
    assert [said in finding.message for finding in findings if said] == ([True] if said else [])
    assert len(findings) == (said is not None)


def test_bias_may_be_needed() -> None:
    bias = load_bus_profile(GUIDE).bias
    assert bias is not None
    profile = attrs.evolve(FREE, bias=attrs.evolve(bias, least=1))
    assert "no sets of bias resistors" in only(bus_survey(SHORT, profile=profile), "wrong-bias").message


def idle_v(bias_ohm: float, loads: int) -> float:
    """Return the idle voltage of a pair, V: 5 V over both bias resistors, the pair with its terminators between.

    Two terminators of 120 ohm, and receivers of 12 kohm each (TIA-485-A: one unit load).
    """
    pair_ohm = 1 / (2 / 120 + loads / 12_000)
    return 5 * pair_ohm / (pair_ohm + 2 * bias_ohm)


def test_the_published_range_of_bias_keeps_an_idle_line_above_the_threshold() -> None:
    """Receivers know a level from 200 mV on (TIA-485-A); with 32 unit loads the weakest bias no longer gives it."""
    bias = load_bus_profile(GUIDE).bias
    assert bias is not None
    volts = {ohm: (idle_v(ohm, 0), idle_v(ohm, 32)) for ohm in (bias.lowest.ohm, 510.0, 560.0, bias.highest.ohm)}
    # computed from 5 V, the two bias resistors and the pair between them
    assert {ohm: (round(bare * 1e3), round(full * 1e3)) for ohm, (bare, full) in volts.items()} == {
        450.0: (312, 272),
        510.0: (278, 241),
        560.0: (254, 221),
        650.0: (221, 191),
    }
    assert all(bare > 0.2 for bare, _full in volts.values())


# Shield and addresses


@pytest.mark.parametrize(
    ("profile", "earthed", "fits"),
    [
        # MODBUS over Serial Line V1.02, 3.4.4 and 3.6: at one point
        (GUIDE, "", False),
        (GUIDE, "0", True),
        (GUIDE, "02", False),
        (STANDARD, "", True),
        (STANDARD, "1", True),
        (STANDARD, "012", False),
    ],
)
def test_a_shield_is_earthed_once(profile: str, earthed: str, fits: bool) -> None:
    settings_ = {f"d{number}": PortSetting(shield_earthed=True) for number in earthed}
    assert (not found(bus_survey(SHORT, profile=profile, settings=settings_), "wrong-shield-earthing")) is fits


@pytest.mark.parametrize(
    ("address", "fits"),
    # MODBUS over Serial Line V1.02, 2.2: servers 1 to 247, 0 is broadcast, 248 to 255 are reserved
    [(0, False), (1, True), (247, True), (248, False), (255, False)],
)
def test_addresses_have_a_range(address: int, fits: bool) -> None:
    survey = bus_survey(SHORT, settings={"d1": PortSetting(address=address)})
    assert (not found(survey, "address-out-of-range")) is fits


def addressed(*addresses: int | None) -> dict[str, PortSetting]:
    return {f"d{number}": PortSetting(address=address) for number, address in enumerate(addresses)}


def test_the_same_address_twice_is_found_at_all_but_the_first() -> None:
    survey = bus_survey(SHORT, settings=addressed(7, 7, 7), bridge="d1")
    assert [f.place.path for f in found(survey, "address-not-unique")] == [("devices", "d0"), ("devices", "d2")]
    assert not found(bus_survey(SHORT, settings=addressed(7, 8, 9)), "address-not-unique")


def test_an_address_beyond_the_range_is_one_fault_though_two_have_it() -> None:
    survey = bus_survey(SHORT, settings=addressed(300, 300, 9))
    assert not found(survey, "address-not-unique")
    findings = found(survey, "address-out-of-range")
    assert [f.remedy.title for f in findings if f.remedy is not None] == [
        "Set d0.bus to address 1",
        "Set d1.bus to address 2",
    ]


def test_who_needs_an_address_and_tells_none_cannot_be_judged() -> None:
    finding = only(bus_survey(SHORT, settings=addressed(None, 8, None), bridge="d0"), "address-not-unique")
    assert finding.unchecked
    assert finding.place.path == ("devices", "d2")
    asked = load_bus_profile(GUIDE).addresses
    assert asked is not None
    strict = attrs.evolve(FREE, addresses=attrs.evolve(asked, bridges=True))
    survey = bus_survey(SHORT, settings=addressed(None, 8, 9), bridge="d0", profile=strict)
    assert only(survey, "address-not-unique").place.path == ("devices", "d0")


# Remedies

OHMS: Final = st.sampled_from([None, Resistance.of(120, "ohm"), Resistance.of(150, "ohm"), Resistance.of(60, "ohm")])
BIASES: Final = st.sampled_from([None, None, Resistance.of(510, "ohm"), Resistance.of(5, "kohm")])
SETTINGS: Final = st.builds(
    PortSetting, st.sampled_from([None, 0, 7, 8, 9, 250]), termination=OHMS, bias=BIASES, shield_earthed=st.booleans()
)


@given(trees(6), st.lists(SETTINGS, min_size=6, max_size=6), st.sampled_from([GUIDE, STANDARD]))
@settings(max_examples=60)
def test_every_remedy_takes_its_finding_away_and_brings_no_other_of_its_rule(
    wires: list[Wire], chosen: list[PortSetting], profile: str
) -> None:
    given_ = {f"d{number}": setting for number, setting in enumerate(chosen[: len(wires) + 1])}
    survey = bus_survey(wires, settings=given_, profile=profile, bridge="d0")
    for rule in BY_ID:
        before = found(survey, rule)
        for finding in before:
            if finding.remedy is not None:
                after = found(Survey(applied(survey.job, finding.remedy)), rule)
                assert finding.fingerprint not in {other.fingerprint for other in after}, finding.remedy
                assert {other.fingerprint for other in after} < {other.fingerprint for other in before}


def test_remedies_say_what_they_do() -> None:
    def offered(rule: str, settings_: Mapping[str, PortSetting]) -> str | None:
        remedy = only(bus_survey(SHORT, settings=settings_, bridge="d1"), rule).remedy
        return remedy.title if remedy is not None else None

    earthed = PortSetting(shield_earthed=True)
    assert offered("wrong-termination", BARE) == "Terminate d0.bus with 150 ohm and terminate d2.bus with 150 ohm"
    assert offered("wrong-termination", {"d2": terminated(120)}) == "Terminate d0.bus with 120 ohm"
    assert offered("wrong-bias", {"d0": biased(510), "d1": biased(510)}) == "Take out the bias resistors at d0.bus"
    assert offered("wrong-bias", {"d0": biased(900)}) is None
    assert offered("wrong-shield-earthing", BARE) == "Earth the shield at d1.bus"
    assert offered("wrong-shield-earthing", {"d0": earthed, "d2": earthed}) == "Lift the shield from earth at d2.bus"
    assert offered("address-out-of-range", {"d0": PortSetting(address=0), "d2": PortSetting(address=1)}) == (
        "Set d0.bus to address 2"
    )
