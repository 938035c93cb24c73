"""Quantities as people write them, held to an outside unit library (Pint) and to their own laws."""

import math
import re
from decimal import ROUND_DOWN, Decimal
from typing import NamedTuple

import pint
import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from ventrules.units import (
    KINDS,
    Airflow,
    Area,
    AwgUnit,
    Current,
    Duration,
    Length,
    Period,
    Power,
    Pressure,
    Quantity,
    Resistance,
    Temperature,
    UnitError,
    Voltage,
    Volume,
    WireSize,
    at_least,
    at_most,
)

REGISTRY: pint.UnitRegistry[float] = pint.UnitRegistry()

# Pint's name for each of our units. Its `inch_H2O` is the conventional one: 1000 kg/m3, standard gravity, 1 in.
TIME = {"min": "minute", "h": "hour", "days": "day"}
PINT: dict[type[Quantity], dict[str, str]] = {
    Airflow: {"cfm": "foot ** 3 / minute", "L/s": "liter / second", "m3/h": "meter ** 3 / hour", "m3/s": "m ** 3 / s"},
    Length: {"ft": "foot", "in": "inch", "m": "meter", "mm": "millimeter"},
    Area: {"ft2": "foot ** 2", "m2": "meter ** 2"},
    Volume: {"ft3": "foot ** 3", "m3": "meter ** 3"},
    Pressure: {"inwg": "inch_H2O", "Pa": "pascal"},
    Temperature: {"degF": "degree_Fahrenheit", "degC": "degree_Celsius"},
    Duration: TIME,
    Period: TIME,
    Power: {"W": "watt", "VA": "volt * ampere"},
    Voltage: {"V": "volt"},
    Current: {"A": "ampere", "mA": "milliampere"},
    Resistance: {"ohm": "ohm", "kohm": "kiloohm"},
    WireSize: {"mm2": "millimeter ** 2"},
}
PINT_SI = {
    "m3/s": "m ** 3 / s", "m": "m", "m2": "m ** 2", "m3": "m ** 3", "Pa": "Pa", "K": "K", "s": "s", "W": "W", "V": "V",
    "A": "A", "ohm": "ohm",
}  # fmt: skip
NAMED_UNITS = [(kind, unit) for kind in KINDS for unit in kind.units]
LINEAR_UNITS = [(kind, unit) for kind, units in PINT.items() for unit in units]
PROPERTY = {
    Airflow: "m3s", Length: "m", Area: "m2", Volume: "m3", Pressure: "pa", Temperature: "kelvin", Duration: "s",
    Period: "s", Power: "w", Voltage: "v", Current: "a", Resistance: "ohm",
    WireSize: "m2",
}  # fmt: skip


def by_pint(number: float, start: str, end: str) -> float:
    """One conversion, made by Pint."""
    return float(REGISTRY.Quantity(number, start).to(end).magnitude)


def close(one: float, other: float) -> bool:
    """Equal but for rounding; the absolute part is for temperatures, whose zero is arbitrary."""
    return math.isclose(one, other, rel_tol=1e-12, abs_tol=1e-10)


def test_every_unit_of_every_kind_is_held_to_pint_or_to_astm() -> None:
    held = {(kind, unit) for kind, unit in LINEAR_UNITS} | {(WireSize, "AWG")}
    assert held == set(NAMED_UNITS)
    assert len(held) > 20


@given(st.sampled_from(LINEAR_UNITS), st.floats(0.0, 1e5))
def test_to_si_and_back_as_pint_does(named: tuple[type[Quantity], str], number: float) -> None:
    kind, unit = named
    pints, si_unit = PINT[kind][unit], PINT_SI[kind.si_unit]
    si = kind.of(number, unit).si
    assert math.isclose(si, by_pint(number, pints, si_unit), rel_tol=1e-12)
    assert close(kind.shown(si, unit).to(unit), by_pint(si, si_unit, pints))


@given(st.sampled_from(LINEAR_UNITS), st.data(), st.floats(0.01, 1e5))
def test_between_any_two_units_as_pint_does(
    named: tuple[type[Quantity], str], data: st.DataObject, number: float
) -> None:
    kind, unit = named
    other = data.draw(st.sampled_from(sorted(PINT[kind])))
    # mm2 has the one upper bound that counts here
    number = min(number, 100.0) if kind is WireSize else number
    assert close(kind.parse(f"{number!r} {unit}").to(other), by_pint(number, PINT[kind][unit], PINT[kind][other]))


@given(st.sampled_from(["degF", "degC"]), st.floats(-459.0, 1e4))
def test_temperatures_below_zero_as_pint_does(unit: str, number: float) -> None:
    assume(unit == "degF" or number >= -273.0)
    kelvin = Temperature.of(number, unit).kelvin
    assert close(kelvin, by_pint(number, PINT[Temperature][unit], "kelvin"))


@pytest.mark.parametrize("kind", KINDS)
def test_the_named_property_is_the_si_value(kind: type[Quantity]) -> None:
    quantity = kind.of(12.0, next(iter(kind.units)))
    assert getattr(quantity, PROPERTY[kind]) == quantity.si


def test_the_conventional_inch_of_water() -> None:
    # NIST SP 811, appendix B.8 (from memory): inch of water, conventional = 2.490 889 E+02 Pa.
    assert float(f"{Pressure.of(1.0, 'inwg').pa:.4f}") == 249.0889


# ASTM B258-02, restated (second-hand). The fixed points of the series, and the ratio of successive diameters.
ASTM_DIAMETERS_IN = {36: 0.0050, -3: 0.4600}  # -3 stands for No. 0000
ASTM_RATIO = 1.1229322


class Wire(NamedTuple):
    """One row of published wire tables.

    The circular mils of 12 to 18 AWG are those of NEC chapter 9, Table 8, and those of 20 to 24 AWG of NBS Handbook
    100 (both from memory); diameter and area are worked out from the ASTM B258 series on paper. The resistance is
    that of a published table of solid copper wire at 20 C.
    """

    gauge: int
    diameter_mm: float
    area_mm2: float
    circular_mils: float
    ohms_per_1000_ft: float


WIRES = [
    Wire(12, 2.0525, 3.309, 6530, 1.588),
    Wire(14, 1.6277, 2.081, 4110, 2.525),
    Wire(16, 1.2908, 1.309, 2580, 4.016),
    Wire(18, 1.0237, 0.823, 1620, 6.385),
    Wire(20, 0.8118, 0.5176, 1021.5, 10.15),
    Wire(22, 0.6438, 0.3255, 642.4, 16.14),
    Wire(24, 0.5106, 0.2047, 404.0, 25.67),
]
COPPER_OHM_MM2_PER_M = 0.15328 / 8.89  # International Annealed Copper Standard at 20 C: 0.15328 ohm g/m2, 8.89 g/cm3


def diameter_m(gauge: int) -> float:
    return math.sqrt(WireSize.of(gauge, "AWG").m2 * 4.0 / math.pi)


@pytest.mark.parametrize(("gauge", "inches"), ASTM_DIAMETERS_IN.items())
def test_fixed_points_of_the_wire_gauge(gauge: int, inches: float) -> None:
    assert math.isclose(diameter_m(gauge), inches * 0.0254, rel_tol=1e-12)


@pytest.mark.parametrize("gauge", range(-3, 40))
def test_successive_gauges_keep_one_ratio(gauge: int) -> None:
    assert math.isclose(diameter_m(gauge) / diameter_m(gauge + 1), ASTM_RATIO, rel_tol=5e-8)


@pytest.mark.parametrize("wire", WIRES, ids=lambda wire: f"{wire.gauge}-AWG")
def test_wire_sizes_of_published_tables(wire: Wire) -> None:
    size = WireSize.parse(f"{wire.gauge} AWG")
    assert math.isclose(diameter_m(wire.gauge) * 1e3, wire.diameter_mm, abs_tol=0.5e-4)
    assert math.isclose(size.to("mm2"), wire.area_mm2, rel_tol=3e-4)
    circular_mil_m2 = by_pint(1.0, "circular_mil", "m ** 2")
    assert math.isclose(size.m2 / circular_mil_m2, wire.circular_mils, rel_tol=3e-3)  # Table 8 keeps three figures
    ohms = COPPER_OHM_MM2_PER_M / size.to("mm2") * 304.8
    assert math.isclose(ohms, wire.ohms_per_1000_ft, rel_tol=1e-3)


@given(st.floats(-3.0, 40.0))
def test_gauge_and_area_invert_each_other(gauge: float) -> None:
    unit = WireSize.units["AWG"]
    assert isinstance(unit, AwgUnit)
    assert math.isclose(unit.from_si(unit.to_si(gauge)), gauge, rel_tol=1e-12, abs_tol=1e-12)


@given(st.sampled_from(LINEAR_UNITS), st.floats(-1e9, 1e9))
def test_from_si_undoes_to_si(named: tuple[type[Quantity], str], number: float) -> None:
    unit = named[0].units[named[1]]
    assert math.isclose(unit.from_si(unit.to_si(number)), number, rel_tol=1e-12, abs_tol=1e-12 * (1 + unit.shift))


@given(st.sampled_from(NAMED_UNITS), st.floats(-3.0, 40.0), st.floats(1e-6, 100.0))
def test_more_of_a_unit_is_more_in_si_and_a_higher_gauge_is_less_copper(
    named: tuple[type[Quantity], str], number: float, step: float
) -> None:
    unit = named[0].units[named[1]]
    less, more = unit.to_si(number), unit.to_si(number + step)
    assert more < less if isinstance(unit, AwgUnit) else more > less


@st.composite
def numbers_in_units(draw: st.DrawFn) -> tuple[type[Quantity], float, str]:
    """A kind, and a number in one of its units that the kind can have and that its display does not round away."""
    kind, unit = draw(st.sampled_from(NAMED_UNITS))
    if unit == "AWG":
        return kind, draw(st.floats(-3.0, 40.0)), unit
    table = kind.units[unit]
    step = 10.0**-table.decimals
    low = table.from_si(kind.lowest) + step
    high = min(table.from_si(kind.highest), 1e9)
    return kind, draw(st.floats(low, high)), unit


@given(numbers_in_units())
def test_what_is_shown_reads_back_to_the_shown_precision(case: tuple[type[Quantity], float, str]) -> None:
    kind, number, unit = case
    quantity = kind.of(number, unit)
    again = kind.parse(str(quantity))
    assert again.unit == unit
    half_step = 0.5 * 10.0 ** -kind.units[unit].decimals
    assert abs(again.to(unit) - number) <= half_step + 1e-9 * max(1.0, abs(number))
    assert str(kind.shown(again.si, unit)) == str(quantity)


@pytest.mark.parametrize(
    ("quantity", "text"),
    [
        (Duration.of(7.5, "min"), "7.5 min"),
        (Airflow.of(100.0, "cfm"), "100 cfm"),
        (Airflow.of(0.04719474, "m3/s"), "0.04719 m3/s"),
        (Pressure.of(0.125, "inwg"), "0.125 inwg"),
        (Temperature.of(-0.001, "degC"), "0 degC"),
        (Temperature.of(-40.0, "degF"), "-40 degF"),
        (WireSize.of(18.0, "AWG"), "18 AWG"),
        (WireSize.of(-3.0, "AWG"), "-3 AWG"),
        (Area.shown(200.0, "m2"), "200 m2"),
    ],
    ids=str,
)
def test_worked_out_quantities_are_shown_without_idle_digits(quantity: Quantity, text: str) -> None:
    assert quantity.written is None
    assert str(quantity) == text


@given(numbers_in_units(), st.sampled_from(["", " ", "  ", "\t"]), st.sampled_from(["", " "]))
def test_written_text_is_kept_and_blanks_do_not_count(
    case: tuple[type[Quantity], float, str], between: str, around: str
) -> None:
    kind, number, unit = case
    plain = f"{Decimal(number).quantize(Decimal('1e-9'), ROUND_DOWN):f}"  # not every kind takes an exponent
    number = float(plain)
    text = f"{around}{plain}{between}{unit}{around}"
    quantity = kind.parse(text)
    assert quantity.written == text == str(quantity)
    assert quantity.unit == unit
    assert quantity.si == kind.parse(f"{plain} {unit}").si == kind.units[unit].to_si(number)


@pytest.mark.parametrize("text", ["1e2 cfm", "100. cfm", "+100 cfm", "1.0E+2 cfm", "100cfm"])
def test_ways_to_write_a_hundred(text: str) -> None:
    assert Airflow.parse(text).si == Airflow.of(100.0, "cfm").si
    assert Airflow.parse(".5 cfm").si == Airflow.of(0.5, "cfm").si


def refusal(kind: type[Quantity], text: str) -> str:
    with pytest.raises(UnitError) as caught:
        kind.parse(text)
    return str(caught.value)


NOT_QUANTITIES = ["", " ", "cfm", "nan {}", "inf {}", "-inf {}", "Infinity {}", "1,5 {}", "1 000 {}", "{} 5", "½ {}",
                  "0x10 {}", "1e {}", "--1 {}", "5 {} more", "7 furlongs", "5 {}{}", "12", "-3.5", "1e3", " 12 ",
                  ]  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("text", NOT_QUANTITIES)
def test_what_is_no_quantity_is_refused_with_the_units_allowed(kind: type[Quantity], text: str) -> None:
    unit = next(iter(kind.units))
    message = refusal(kind, text.format(unit, unit))
    assert kind.kind in message
    missing = [allowed for allowed in kind.units if allowed not in message]
    assert not missing


@pytest.mark.parametrize(
    ("kind", "text", "close_one"),
    [
        (Airflow, "70 CFM", "cfm"),
        (Airflow, "70 cfms", "cfm"),
        (Airflow, "33 l/s", "L/s"),
        (Airflow, "120 m3/hr", "m3/h"),
        (Area, "2150 ft^2", "ft2"),
        (Temperature, "0 deg F", "degF"),
        (Temperature, "5 degc", "degC"),
        (Duration, "90 day", "days"),
        (Duration, "45 mins", "min"),
        (WireSize, "18 awg", "AWG"),
        (Pressure, "0.4 in wg", "inwg"),
    ],
)
def test_an_unknown_unit_is_answered_with_the_nearest(kind: type[Quantity], text: str, close_one: str) -> None:
    assert refusal(kind, text).endswith(f"nearest is {close_one!r}")


OUT_OF_BOUNDS = [
    (Length, "-1 ft", "more than 0 ft"),
    (Length, "0 ft", "more than 0 ft"),
    (Length, "-0.0 in", "more than 0 in"),
    (Area, "0 ft2", "more than 0 ft2"),
    (Area, "-20 m2", "more than 0 m2"),
    (Volume, "0 m3", "more than 0 m3"),
    (Period, "0 min", "more than 0 min"),
    (Duration, "-1 min", "at least 0 min"),
    (Airflow, "-70 cfm", "at least 0 cfm"),
    (Pressure, "-0.1 inwg", "at least 0 inwg"),
    (Power, "-3 VA", "at least 0 VA"),
    (Voltage, "-24 V", "at least 0 V"),
    (Current, "-5 mA", "at least 0 mA"),
    (Temperature, "-460 degF", "a temperature must be at least"),
    (Temperature, "-273.2 degC", "a temperature must be at least"),
    (WireSize, "0 mm2", "a wire size must be no thinner than"),
    (Airflow, "1e400 cfm", "too large for an airflow"),
    (Temperature, "1e400 degF", "too large for a temperature"),
    (Temperature, "-1e400 degF", "too low: a temperature"),
    (WireSize, "-500 mm2", "too low: a wire size"),
    (Length, "-1e13 m", "too low: a length"),
    (WireSize, "-1e400 AWG", "for a wire size"),
    (WireSize, "1e400 AWG", "a wire size must be"),
    (WireSize, "-400000 AWG", "for a wire size"),
    (WireSize, "130 mm2", "too large for a wire size"),
    (Area, "1e300 ft2", "too large for an area"),
]


@pytest.mark.parametrize(("kind", "text", "piece"), OUT_OF_BOUNDS)
def test_numbers_that_a_kind_cannot_have(kind: type[Quantity], text: str, piece: str) -> None:
    message = refusal(kind, text)
    assert repr(text) in message
    assert piece in message


@pytest.mark.parametrize("kind", [Airflow, Duration, Pressure, Power, Voltage, Current])
def test_nothing_at_all_is_a_quantity_where_it_makes_sense(kind: type[Quantity]) -> None:
    for unit in kind.units:
        assert kind.parse(f"0 {unit}").si == 0.0


@pytest.mark.parametrize(("kind", "unit"), [(k, u) for k, u in NAMED_UNITS if k.lowest_allowed])
def test_the_bound_that_a_refusal_names_is_itself_accepted(kind: type[Quantity], unit: str) -> None:
    beyond = {"AWG": "50 AWG", "mm2": "0 mm2"}.get(unit, f"-500 {unit}")
    bound = re.split("at least |no thinner than ", refusal(kind, beyond))[-1]
    assert kind.parse(bound).unit == unit


@given(st.sampled_from(KINDS), st.one_of(st.text(), st.from_regex(r"[-+ ]*[0-9.eE]{1,9}\s*[a-zA-Z0-9/]{0,5}")))
@example(kind=WireSize, text="-1e309AWG")
@example(kind=Airflow, text="9" * 5000 + " cfm")
@example(kind=Airflow, text="\ud800 cfm")
def test_arbitrary_text_is_a_quantity_within_bounds_or_a_unit_error(kind: type[Quantity], text: str) -> None:
    said = ""
    try:
        quantity = kind.parse(text)
    except UnitError as error:
        said = str(error)
    else:
        assert kind.lowest <= quantity.si <= kind.highest
        assert quantity.written == text
        return
    assert 0 < len(said) < 400


@given(st.sampled_from(NAMED_UNITS), st.floats(1.0, 30.0))
def test_reading_twice_gives_equal_values_of_the_asked_kind(named: tuple[type[Quantity], str], number: float) -> None:
    kind, unit = named
    text = f"{number!r} {unit}"
    others = [other for other in KINDS if unit in other.units]
    assert kind in others
    for other in others:
        assert type(other.parse(text)) is other
    assert kind.parse(text) == kind.parse(text)


FINITE = st.floats(-1e300, 1e300)


@given(FINITE, FINITE)
def test_one_of_two_numbers_is_at_least_the_other(one: float, other: float) -> None:
    assert at_least(one, other) or at_least(other, one)
    assert at_most(one, other) == at_least(other, one)
    assert at_least(one, one)
    assert at_most(one, one)
    if one >= other:
        assert at_least(one, other)


@given(FINITE, st.floats(0.0, 1.0))
def test_only_a_billionth_is_forgiven(bound: float, share: float) -> None:
    assume(abs(bound) > 1e-290)
    dust = 1e-9 * abs(bound)
    assert at_least(bound - 0.99 * share * dust, bound)
    assert not at_least(bound - (1.01 + share) * dust, bound)
    assert not at_most(bound + (1.01 + share) * dust, bound)


@given(FINITE, FINITE, st.floats(0.0, 1e300))
def test_more_never_turns_enough_into_too_little(value: float, bound: float, more: float) -> None:
    if at_least(value, bound):
        assert at_least(value + more, bound)
        assert at_least(value, bound - more)


@given(st.floats(-1e100, 1e100), st.floats(-1e100, 1e100), st.integers(-60, 60))
def test_the_verdict_does_not_depend_on_the_unit(value: float, bound: float, power: int) -> None:
    assume(all(number == 0 or abs(number) > 1e-100 for number in (value, bound)))
    scale = 2.0**power  # exact in floating point
    assert at_least(value * scale, bound * scale) == at_least(value, bound)
