"""Resistance of copper conductors against published tables and examples, and its laws."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventrules.files import limits
from ventrules.survey.copper import loop_ohms, ohms_per_m
from ventrules.units import Length, Temperature, WireSize

COPPER = limits().copper
FOOT_M = 0.3048
GAUGES = (12, 14, 16, 18, 20, 22, 24)


def awg(number: float) -> WireSize:
    return WireSize.of(number, "AWG")


def celsius(number: float) -> Temperature:
    return Temperature.of(number, "degC")


def per_1000_ft(gauge: int, degrees: float, *, stranded: bool = False) -> float:
    return ohms_per_m(COPPER, awg(gauge), celsius(degrees), stranded=stranded) * 1000.0 * FOOT_M


def loop_of(gauge: float, feet: float, degrees: float = 20.0, *, stranded: bool = False) -> float:
    return loop_ohms(COPPER, awg(gauge), Length.of(feet, "ft"), celsius(degrees), stranded=stranded)


# The constants


def test_the_constants_are_those_of_the_standard() -> None:
    """International Annealed Copper Standard: 58 MS/m and 0.00393 per K at 20 degC."""
    assert pytest.approx(58e6, rel=1e-6) == 1.0 / COPPER.resistivity_ohm_m
    assert COPPER.coefficient_per_k == 0.00393
    assert COPPER.reference.kelvin == pytest.approx(293.15)


def test_the_standard_by_mass_agrees_with_the_one_by_volume() -> None:
    """The same standard by mass: 0.15328 ohm for 1 m that weighs 1 g, at 8.89 g/cm3; the two differ by rounding."""
    assert COPPER.resistivity_ohm_m == pytest.approx(0.15328 / 8.89 * 1e-6, rel=3e-5)


# Published tables, ohm per 1000 ft of one conductor


# Wire table of solid annealed copper at 20 degC, as NBS Handbook 100 (1966) has it (that it does: from memory).
SOLID_20_C = {12: 1.588, 14: 2.525, 16: 4.016, 18: 6.385, 20: 10.15, 22: 16.14, 24: 25.67}
# NEC chapter 9, Table 8, uncoated copper at 75 degC (read in a reproduction); the table begins at 18 AWG.
SOLID_75_C = {12: 1.93, 14: 3.07, 16: 4.89, 18: 7.77}
STRANDED_75_C = {12: 1.98, 14: 3.14, 16: 4.99, 18: 7.95}
# A table of annealed copper without a temperature (electrical calculation handbook); its values are those of 25 degC.
SOLID_25_C = {18: 6.505, 20: 10.34, 22: 16.45, 24: 26.15}


@pytest.mark.parametrize("gauge", SOLID_20_C)
def test_solid_conductors_at_20_degrees(gauge: int) -> None:
    assert per_1000_ft(gauge, 20.0) == pytest.approx(SOLID_20_C[gauge], rel=6e-4)


@pytest.mark.parametrize("gauge", SOLID_75_C)
def test_solid_conductors_at_75_degrees(gauge: int) -> None:
    """Three figures are printed, which is 0.26 % of the smallest."""
    assert per_1000_ft(gauge, 75.0) == pytest.approx(SOLID_75_C[gauge], rel=3e-3)


@pytest.mark.parametrize("gauge", STRANDED_75_C)
def test_stranded_conductors_at_75_degrees(gauge: int) -> None:
    assert per_1000_ft(gauge, 75.0, stranded=True) == pytest.approx(STRANDED_75_C[gauge], rel=5e-3)


@pytest.mark.parametrize("gauge", SOLID_25_C)
def test_solid_conductors_at_25_degrees(gauge: int) -> None:
    assert per_1000_ft(gauge, 25.0) == pytest.approx(SOLID_25_C[gauge], rel=3e-3)


@pytest.mark.parametrize("gauge", [12, 14, 16, 18])
def test_the_k_factor_of_stranded_copper(gauge: int) -> None:
    """The trade's K for stranded copper at 75 degC is 12.9 ohm cmil/ft; circular mils are mils squared."""
    mils = 5.0 * 92.0 ** ((36 - gauge) / 39.0)
    assert per_1000_ft(gauge, 75.0, stranded=True) / 1000.0 * mils**2 == pytest.approx(12.9, rel=5e-3)


# Published voltage drops


def test_a_published_drop_on_a_24_v_control_circuit() -> None:
    """A low-voltage wiring lesson: 100 ft of two 16 AWG conductors, 4.99 ohm per 1000 ft, 4 A: 3.99 V of 24 V."""
    assert 4.0 * loop_of(16, 100.0, 75.0, stranded=True) == pytest.approx(3.992, rel=3e-3)


def test_a_published_drop_on_a_120_v_circuit() -> None:
    """A voltage drop page: 100 ft of 12 AWG, K 12.9, 15 A: 2 K L I / CM = 5.93 V; its K is rounded up by 0.3 %."""
    assert 15.0 * loop_of(12, 100.0, 75.0, stranded=True) == pytest.approx(5.93, rel=5e-3)


@pytest.mark.parametrize(("gauge", "volts"), [(18, 0.638), (20, 1.015), (22, 1.614), (24, 2.567)])
def test_drops_at_20_degrees(gauge: int, volts: float) -> None:
    """100 ft and 0.5 A; computed from the wire table at 20 degC."""
    assert 0.5 * loop_of(gauge, 100.0) == pytest.approx(volts, rel=1e-3)


@pytest.mark.parametrize(("feet", "volts"), [(50, 23.33), (100, 22.63), (150, 21.87), (200, 21.05)])
def test_the_voltage_left_to_a_load_of_constant_power(feet: float, volts: float) -> None:
    """20 VA at the end of 18 AWG at 75 degC, from 24 V; computed from V = (Vs + sqrt(Vs^2 - 4 S R)) / 2."""
    left = (24.0 + math.sqrt(24.0**2 - 4.0 * 20.0 * loop_of(18, feet, 75.0))) / 2.0
    assert left == pytest.approx(volts, abs=0.006)


# Laws

gauges = st.sampled_from(GAUGES)
areas = st.floats(0.06, 100.0)
temperatures = st.floats(-60.0, 150.0)
lengths = st.floats(0.01, 1000.0)
strandings = st.booleans()


@given(gauges, temperatures, lengths, st.floats(0.1, 10.0), strandings)
def test_resistance_is_in_proportion_to_length(
    gauge: int, degrees: float, feet: float, times: float, stranded: bool
) -> None:
    once = loop_of(gauge, feet, degrees, stranded=stranded)
    assert loop_of(gauge, feet * times, degrees, stranded=stranded) == pytest.approx(once * times)
    one_way = ohms_per_m(COPPER, awg(gauge), celsius(degrees), stranded=stranded) * feet * FOOT_M
    assert once == pytest.approx(2.0 * one_way)


@given(areas, temperatures, st.floats(1.001, 50.0), strandings)
def test_resistance_is_in_inverse_proportion_to_area(mm2: float, degrees: float, times: float, stranded: bool) -> None:
    wide, narrow = (WireSize.of(area, "mm2") for area in (mm2 * times, mm2))
    of = [ohms_per_m(COPPER, size, celsius(degrees), stranded=stranded) for size in (wide, narrow)]
    assert of[1] > of[0]
    assert of[1] == pytest.approx(of[0] * times)


@given(areas, temperatures, strandings)
def test_half_the_area_resists_twice_as_much(mm2: float, degrees: float, stranded: bool) -> None:
    whole, half = (WireSize.of(area, "mm2") for area in (mm2, mm2 / 2.0))
    of = [ohms_per_m(COPPER, size, celsius(degrees), stranded=stranded) for size in (whole, half)]
    assert of[1] == pytest.approx(2.0 * of[0])


@given(areas, temperatures, st.floats(0.01, 50.0), strandings)
def test_a_warmer_conductor_resists_more(mm2: float, degrees: float, more_k: float, stranded: bool) -> None:
    size = WireSize.of(mm2, "mm2")
    cool, warm = (ohms_per_m(COPPER, size, celsius(at), stranded=stranded) for at in (degrees, degrees + more_k))
    at_reference = ohms_per_m(COPPER, size, COPPER.reference, stranded=stranded)
    assert warm > cool > 0.0
    assert warm - cool == pytest.approx(at_reference * 0.00393 * more_k, rel=1e-6)


@given(st.floats(0.0, 39.0), temperatures, strandings)
def test_each_gauge_resists_more_by_the_same_ratio(gauge: float, degrees: float, stranded: bool) -> None:
    """ASTM B258: diameters of successive gauges differ by the 39th root of 92, areas by its square."""
    of = [ohms_per_m(COPPER, awg(at), celsius(degrees), stranded=stranded) for at in (gauge, gauge + 1.0)]
    assert of[1] / of[0] == pytest.approx(92.0 ** (2.0 / 39.0))


@given(gauges, temperatures, lengths)
def test_stranding_adds_its_factor(gauge: int, degrees: float, feet: float) -> None:
    solid, stranded = (loop_of(gauge, feet, degrees, stranded=laid) for laid in (False, True))
    assert stranded == pytest.approx(COPPER.stranding * solid)
    assert stranded > solid


@given(gauges, temperatures, lengths, strandings)
def test_units_make_no_difference(gauge: int, degrees: float, feet: float, stranded: bool) -> None:
    si = loop_ohms(
        COPPER,
        WireSize.of(math.pi / 4.0 * (0.127 * 92.0 ** ((36 - gauge) / 39.0)) ** 2, "mm2"),
        Length.of(feet * FOOT_M, "m"),
        Temperature.of(degrees * 1.8 + 32.0, "degF"),
        stranded=stranded,
    )
    assert si == pytest.approx(loop_of(gauge, feet, degrees, stranded=stranded))


def test_no_resistance_below_what_the_coefficient_is_good_for() -> None:
    """1 + 0.00393 (T - 20) is nothing at 20 - 254.5 degC."""
    assert ohms_per_m(COPPER, awg(18), celsius(-234.0), stranded=False) > 0.0
    with pytest.raises(ValueError, match="temperature coefficient"):
        ohms_per_m(COPPER, awg(18), celsius(-235.0), stranded=False)
