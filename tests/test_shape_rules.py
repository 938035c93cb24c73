"""Rules about the shape of a bus against the published figures, each named by its clause."""

from collections.abc import Mapping
from math import fsum

import attrs
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.bus_rules import BY_ID, SHORT, biased, faults, found, only
from tests.survey.buses import BARE, FREE, GUIDE, PLAIN, STANDARD, Wire, bus_survey, line, trees
from ventrules.files import load_bus_profile
from ventrules.job import BusKind, BusProfile, Layout, Loads, Port, PortSetting, Trunk, WireRange
from ventrules.survey.copper import takes
from ventrules.units import Factor, Length, Resistance, WireSize

# Length of the line


@pytest.mark.parametrize(
    ("lengths", "profile", "fits"),
    [
        # MODBUS over Serial Line V1.02, 3.4.3: a trunk of 1000 m at up to 9600 baud
        (["1000 m"], GUIDE, True),
        (["1000.001 m"], GUIDE, False),
        (["3280.839895013123 ft"], GUIDE, True),  # 1000 m
        (["3280.9 ft"], GUIDE, False),
        (["333.1 m", "333.2 m", "333.7 m"], GUIDE, True),
        (["333.1 m", "333.2 m", "333.71 m"], GUIDE, False),
        # TIA-485-A: 4000 ft, as guidance for low rates
        (["4000 ft"], STANDARD, True),
        (["1219.2 m"], STANDARD, True),
        (["1219.21 m"], STANDARD, False),
    ],
)
def test_a_line_is_at_most_as_long_as_published(lengths: list[str], profile: str, fits: bool) -> None:
    assert (not faults(bus_survey(line(*lengths), profile=profile), "bus-too-long")) is fits


def test_a_stub_does_not_count_toward_the_line_unless_it_is_the_longest_way() -> None:
    wires = [*line("500 m", "500 m"), Wire("d1", "side", "20 m")]
    assert not found(bus_survey(wires), "bus-too-long")
    finding = only(bus_survey([*wires[:2], Wire("d1", "side", "501 m")]), "bus-too-long")
    assert "1001 m" in finding.message
    assert finding.working == "500 m + 501 m = 1001 m > 1000 m"


def test_sums_of_feet_are_free_of_dust() -> None:
    longest = Length.parse("0.7 ft")
    lengths = ["0.1 ft", "0.2 ft", "0.4 ft"]
    assert fsum(Length.parse(length).m for length in lengths) > longest.m  # by what floating point adds
    profile = attrs.evolve(FREE, trunk=Trunk(longest))
    assert not found(bus_survey(line(*lengths), profile=profile), "bus-too-long")
    assert found(bus_survey(line(*lengths, "0.001 ft"), profile=profile), "bus-too-long")


def test_all_cables_together_may_have_a_limit_of_their_own() -> None:
    star = [Wire("hub", end, "40 m") for end in "abcd"]
    profile = attrs.evolve(FREE, trunk=Trunk(Length.parse("100 m"), together=Length.parse("160 m")))
    assert not found(bus_survey(star, profile=profile), "bus-too-long")
    finding = only(bus_survey([*star, Wire("hub", "e", "1 m")], profile=profile), "bus-too-long")
    assert "All cables of the bus at a.bus together are 161 m long" in finding.message


def test_an_unknown_length_is_said_unless_what_is_known_is_too_long_already() -> None:
    assert not found(bus_survey(line("900 m", None, "90 m")), "bus-too-long")
    finding = only(bus_survey(line("900 m", None, "90 m")), "cable-not-told")
    assert finding.unchecked
    assert "length of the cable d1.bus to d2.bus" in finding.message
    assert "the length and the ends of the bus" in finding.message
    finding = only(bus_survey(line("900 m", None, "190 m")), "bus-too-long")
    assert not finding.unchecked
    assert finding.working == "900 m + 190 m + what is not told = 1090 m > 1000 m"


@given(trees(7), st.integers(0, 5), st.floats(1.0, 3.0), st.sampled_from([20.0, 45.0, 90.0]))
@settings(max_examples=60)
def test_a_longer_cable_never_makes_a_bus_short_enough(
    wires: list[Wire], number: int, more: float, longest_m: float
) -> None:
    profile = attrs.evolve(FREE, trunk=Trunk(Length.of(longest_m, "m")))
    changed = list(wires)
    wire = changed[number % len(wires)]
    longer = f"{Length.parse(wire.length or '').m * more:.17g} m"
    changed[number % len(wires)] = Wire(wire.start, wire.end, longer)
    before, after = (bool(faults(bus_survey(each, profile=profile), "bus-too-long")) for each in (wires, changed))
    assert after or not before


@given(trees(8), st.integers(0, 6), st.floats(1.0, 3.0))
@settings(max_examples=60)
def test_a_longer_cable_never_makes_the_stubs_of_a_bus_short_enough(
    wires: list[Wire], number: int, more: float
) -> None:
    """Where the longer cable turns a stub into the line, the old end of the line is a stub as long as that was."""
    changed = list(wires)
    wire = changed[number % len(wires)]
    longer = f"{Length.parse(wire.length or '').m * more:.17g} m"
    changed[number % len(wires)] = Wire(wire.start, wire.end, longer)
    before, after = (bool(faults(bus_survey(each), "stub-too-long")) for each in (wires, changed))
    assert after or not before


# Gauge


@pytest.mark.parametrize(
    ("gauge", "fits"),
    # MODBUS over Serial Line V1.02, 3.4.3: AWG 26 or wider
    [
        ("26 AWG", True),
        ("24 AWG", True),
        ("0.14 mm2", True),
        ("0.128 mm2", True),
        ("27 AWG", False),
        ("0.1 mm2", False),
    ],
)
def test_a_line_is_no_thinner_than_published(gauge: str, fits: bool) -> None:
    survey = bus_survey([Wire("a", "b", "9 m", gauge)])
    assert (not faults(survey, "bus-too-thin")) is fits
    assert not found(bus_survey([Wire("a", "b", "9 m", gauge)], profile=STANDARD), "bus-too-thin")


@pytest.mark.parametrize(("gauge", "fits"), [("0.32 mm2", True), ("0.34 mm2", True), ("0.25 mm2", False)])
def test_a_metric_size_is_as_thick_as_the_nearest_whole_gauge(gauge: str, fits: bool) -> None:
    """Common practice: 0.32 to 0.34 mm2 are sold as 22 AWG, and terminals take them for it."""
    profile = attrs.evolve(FREE, trunk=Trunk(Length.of(9, "m"), thinnest=WireSize.of(22, "AWG")))
    survey = bus_survey([Wire("a", "b", "9 m", gauge)], profile=profile)
    assert (not faults(survey, "bus-too-thin")) is fits
    assert takes(WireRange(WireSize.of(22, "AWG"), WireSize.of(16, "AWG")), WireSize.parse(gauge)) is fits


def test_cables_without_a_gauge_are_named_together() -> None:
    wires = [Wire("a", "b", "9 m", None), Wire("b", "c", "9 m", None), Wire("c", "d", "9 m", "30 AWG")]
    assert not only(bus_survey(wires), "bus-too-thin").unchecked
    untold = only(bus_survey(wires), "cable-not-told")
    assert untold.unchecked
    assert "gauge of the cables a.bus to b.bus and b.bus to c.bus" in untold.message
    assert untold.place.path == ("cables",)


# Stubs and branches


def with_stubs(*lengths: str | None) -> list[Wire]:
    return [*line("100 m", "100 m"), *(Wire("d1", f"s{number}", length) for number, length in enumerate(lengths))]


@pytest.mark.parametrize(
    ("stubs", "wrong"),
    [
        # MODBUS over Serial Line V1.02, 3.4.3: a derivation of 20 m, of n at one tap 40 m / n each
        (["20 m"], 0),
        (["20.01 m"], 1),
        (["65.6 ft"], 0),  # 19.99 m
        (["65.7 ft"], 1),
        (["20 m", "20 m"], 0),
        (["20 m", "20.01 m"], 1),
        (["13.33 m"] * 3, 0),
        (["13.33 m", "13.34 m", "13.33 m"], 1),
        (["10 m"] * 4, 0),
        (["10.01 m"] * 4, 4),
    ],
)
def test_stubs_are_at_most_as_long_as_published(stubs: list[str], wrong: int) -> None:
    findings = found(bus_survey(with_stubs(*stubs)), "stub-too-long")
    assert len(findings) == wrong
    assert not any(finding.unchecked for finding in findings)


def test_a_stub_is_named_with_both_ends_and_its_share() -> None:
    first, *_others = found(bus_survey(with_stubs(*["11 m"] * 4)), "stub-too-long")
    assert "from d1.bus on the line to s0.bus is 11 m long" in first.message
    assert "since 4 stubs leave the line there" in first.message
    assert first.working == "11 m > 40 m / 4 = 10 m"


def test_a_stub_of_unknown_length_is_said() -> None:
    assert not found(bus_survey(with_stubs(None)), "stub-too-long")
    assert "d1.bus to s0.bus" in only(bus_survey(with_stubs(None)), "cable-not-told").message
    wires = [*with_stubs(None), Wire("s0", "far", "21 m")]
    assert not only(bus_survey(wires), "stub-too-long").unchecked


@given(trees(7))
@settings(max_examples=60)
def test_a_line_has_a_branch_wherever_three_cables_meet(wires: list[Wire]) -> None:
    ends = [end for wire in wires for end in (wire.start, wire.end)]
    forks = {end for end in ends if ends.count(end) > 2}
    assert {f.place.path[1] for f in found(bus_survey(wires, profile=STANDARD), "bus-branches")} == forks
    assert not found(bus_survey(wires, profile=GUIDE), "bus-branches")
    assert not found(bus_survey(wires, profile=FREE), "stub-too-long")


# Loads


def crowd(count: int) -> list[Wire]:
    return line(*["1 m"] * (count - 1))


@pytest.mark.parametrize(
    ("count", "settings_", "fits"),
    [
        # MODBUS over Serial Line V1.02, 3.4.1: 32 devices without a repeater; 3.4.6: 4 fewer with polarization
        (32, BARE, True),
        (33, BARE, False),
        (28, {"d0": biased(510)}, True),
        (29, {"d0": biased(510)}, False),
    ],
)
def test_a_bus_bears_as_many_devices_as_published(count: int, settings_: Mapping[str, PortSetting], fits: bool) -> None:
    assert (not found(bus_survey(crowd(count), settings=settings_), "too-many-on-bus")) is fits


def test_bias_that_is_built_in_takes_devices_as_well() -> None:
    ports = {"d0": attrs.evolve(PLAIN, bias=Resistance.of(510, "ohm"))}
    finding = only(bus_survey(crowd(29), ports=ports), "too-many-on-bus")
    assert finding.working == "29 devices > 32 - 4 = 28"


@pytest.mark.parametrize(
    ("count", "unit_loads", "fits"),
    [
        # TIA-485-A: 32 unit loads; receivers of an eighth of one, 256
        (32, 1.0, True),
        (33, 1.0, False),
        (256, 0.125, True),
        (257, 0.125, False),
        (320, 0.1, True),
        (321, 0.1, False),
    ],
)
def test_a_bus_bears_as_many_unit_loads_as_published(count: int, unit_loads: float, fits: bool) -> None:
    port = Port(BusKind.VENTILATOR, profile=STANDARD, unit_loads=Factor(unit_loads))
    ports = {f"d{number}": port for number in range(count)}
    assert (not found(bus_survey(crowd(count), ports=ports), "too-many-on-bus")) is fits


def test_a_port_without_unit_loads_counts_as_one_and_that_is_said() -> None:
    assert not found(bus_survey(crowd(32), profile=STANDARD), "too-many-on-bus")
    finding = only(bus_survey(crowd(33), profile=STANDARD), "too-many-on-bus")
    assert "33 unit loads" in finding.message
    assert "counted as 1 each" in finding.message


# Both profiles at once


def test_two_profiles_are_both_held_and_named() -> None:
    wires = [*line("1100 m", "10 m"), Wire("d1", "side", "5 m")]
    ports = {"d2": attrs.evolve(PLAIN, profile=STANDARD)}
    survey = bus_survey(wires, ports=ports)
    (long,), (branch,) = found(survey, "bus-too-long"), found(survey, "bus-branches")
    assert load_bus_profile(GUIDE).title in long.message
    assert load_bus_profile(STANDARD).title in branch.message
    findings = [f for rule in BY_ID for f in found(survey, rule)]
    assert len({f.fingerprint for f in findings}) == len(findings)


@given(trees(7), st.sampled_from([GUIDE, STANDARD]))
@settings(max_examples=40)
def test_every_finding_has_a_fingerprint_of_its_own(wires: list[Wire], profile: str) -> None:
    survey = bus_survey(wires, profile=profile)
    findings = [finding for rule in BY_ID for finding in found(survey, rule)]
    assert len({finding.fingerprint for finding in findings}) == len(findings)


def test_an_own_profile_without_parts_judges_nothing() -> None:
    wires = [*line(None, "9000 m"), *(Wire("d1", f"s{n}", None, None) for n in range(40))]
    survey = bus_survey(wires, profile=BusProfile("anything goes"))
    assert [rule for rule in BY_ID if found(survey, rule)] == []


def test_a_finding_rests_on_the_profile_of_a_catalog_where_that_names_no_source() -> None:
    profile = BusProfile("lane bus", layout=Layout.FREE, loads=Loads(devices=2))
    assert str(only(bus_survey(SHORT, profile=profile), "too-many-on-bus").basis) == (
        "bus profile 'lane bus' of the catalog"
    )
