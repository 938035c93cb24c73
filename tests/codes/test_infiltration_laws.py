"""Laws of the credit for infiltration: it never raises the fan rate, and each scheme does what it says."""

import math

import attrs
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.codes.houses import BY_RATIO, CFM_M3S, FT2_M2, INFILTRATING, leak
from ventrules.codes import (
    Code,
    Infiltration,
    Requirement,
    Superposition,
    System,
    counted_infiltration,
    effective_leakage_area,
    fan_rate,
    normalized_leakage,
    requirement,
)
from ventrules.files import load_code
from ventrules.job import Dwelling, Leakage, Route, Target
from ventrules.units import Airflow, Area, Factor, Length, Volume

CODES = {name: load_code(name) for name in INFILTRATING}


def _credit(name: str) -> Infiltration:
    credit = CODES[name].infiltration
    assert credit is not None
    return credit


# The closed form of ANSI/RESNET/ICC 301-2022, which no packaged code has.
BY_PART = attrs.evolve(_credit("ashrae-62.2-2022"), superposition=Superposition.UNBALANCED_PART)
SCHEMES = {**{name: _credit(name) for name in INFILTRATING}, "by part": BY_PART}

schemes = st.sampled_from(sorted(SCHEMES))
codes = st.sampled_from(
    [*CODES.values(), attrs.evolve(CODES["ashrae-62.2-2022"], code="by-part", infiltration=BY_PART)]
)
airflows = st.floats(1e-3, 0.5)
parts = st.floats(0.01, 1.0)
leaks = st.builds(
    Leakage,
    air_changes_50pa=st.floats(0.0, 20.0).map(Factor),
    exponent=st.none() | st.floats(0.5, 1.0),
    stories=st.sampled_from([1.0, 1.5, 2.0, 2.5, 3.0]).map(Factor),
)
factors = st.floats(0.29, 1.56)  # the least and the most of the published table
dwellings = st.builds(
    Dwelling,
    st.builds(Area.of, st.integers(300, 6000), st.just("ft2"))
    | st.builds(Area.of, st.integers(30, 550), st.just("m2")),
    st.integers(0, 6),
    ceiling_height=st.builds(Length.of, st.floats(2.2, 4.0), st.just("m")),
    leakage=leaks,
)


def _system(unbalanced: float, wsf: float | None = None) -> System:
    return System(balanced=unbalanced == 0.0, unbalanced_part=unbalanced, wsf=wsf)


def _asked(code: Code, dwelling: Dwelling, system: System) -> Requirement:
    names = tuple(code.credits)
    return requirement(code, dwelling, Target(code=code.code, credits=names, route=Route.EQUATION), names, system)


# What a whole requirement comes to


@given(codes, dwellings, factors, st.sampled_from([0.0, 0.3, 1.0]))
def test_infiltration_never_raises_the_fan_rate(code: Code, dwelling: Dwelling, wsf: float, unbalanced: float) -> None:
    required = _asked(code, dwelling, _system(unbalanced, wsf))
    without = _asked(code, attrs.evolve(dwelling, leakage=leak(0.0, stories=1.0)), _system(unbalanced, wsf))
    assert 0.0 <= required.continuous_m3s <= required.total_m3s * (1.0 + 1e-12)
    assert required.infiltration_m3s >= 0.0
    # Relative exposure refers to the rate before infiltration is taken off, which leakage does not change.
    assert required.total_m3s == without.total_m3s == without.continuous_m3s
    assert required.remarks == ()
    assert {required.total_m3s, required.continuous_m3s} <= {step.airflow_m3s for step in required.steps}


@given(codes, dwellings, factors, st.sampled_from([0.0, 0.3, 1.0]), st.floats(0.0, 10.0))
def test_more_leakage_never_raises_the_fan_rate(
    code: Code, dwelling: Dwelling, wsf: float, unbalanced: float, more: float
) -> None:
    tested = dwelling.leakage
    assert tested is not None
    assert tested.air_changes_50pa is not None
    leakier = attrs.evolve(tested, air_changes_50pa=Factor(tested.air_changes_50pa + more))
    system = _system(unbalanced, wsf)
    one, other = _asked(code, dwelling, system), _asked(code, attrs.evolve(dwelling, leakage=leakier), system)
    assert other.infiltration_m3s >= one.infiltration_m3s * (1.0 - 1e-12)
    assert other.continuous_m3s <= one.continuous_m3s + 1e-12


@given(codes, dwellings, factors, st.sampled_from([0.3, 1.0]))
def test_balance_never_needs_more(code: Code, dwelling: Dwelling, wsf: float, unbalanced: float) -> None:
    balanced = _asked(code, dwelling, _system(0.0, wsf))
    other = _asked(code, dwelling, _system(unbalanced, wsf))
    assert balanced.continuous_m3s <= other.continuous_m3s + 1e-12
    credit = code.infiltration
    assert credit is not None
    if credit.superposition is Superposition.NONE:
        assert balanced.continuous_m3s == other.continuous_m3s


@given(codes, dwellings, factors, st.floats(0.0, 1.0))
def test_a_smaller_exterior_part_never_needs_less(code: Code, dwelling: Dwelling, wsf: float, part: float) -> None:
    attached = attrs.evolve(dwelling, attached=True, exterior_part=part)
    one, other = (_asked(code, each, _system(0.0, wsf)) for each in (dwelling, attached))
    assert other.continuous_m3s >= one.continuous_m3s * (1.0 - 1e-12)
    credit = code.infiltration
    assert credit is not None
    if credit.exterior_part:
        assert other.infiltration_m3s == pytest.approx(part * one.infiltration_m3s, rel=1e-12)
    elif credit.detached_only:
        assert other.infiltration_m3s == 0.0
        assert other.remarks


@given(dwellings, factors)
def test_either_form_gives_the_same_infiltration_within_half_a_percent(dwelling: Dwelling, wsf: float) -> None:
    # ASHRAE 62.2-2016, Eq. 4.5a and 4.5b: 7.3 and 8.2 ft; 1.44 and 2.5 m.
    meters = attrs.evolve(dwelling, floor_area=Area.of(dwelling.floor_area.m2, "m2"))
    feet = attrs.evolve(dwelling, floor_area=Area.of(dwelling.floor_area.m2 / FT2_M2, "ft2"))
    code = CODES["ashrae-62.2-2016"]
    one, other = (counted_infiltration(code, each, System(wsf=wsf), frozenset()) for each in (meters, feet))
    assert one.airflow_m3s == pytest.approx(other.airflow_m3s, rel=0.005)


@given(dwellings, factors, st.booleans())
def test_an_airflow_and_its_air_changes_are_the_same_test(dwelling: Dwelling, wsf: float, by_height: bool) -> None:
    tested = dwelling.leakage
    volume_m3 = dwelling.volume_m3
    assert tested is not None
    assert tested.air_changes_50pa is not None
    assert volume_m3 is not None
    airflow = Airflow.of(tested.air_changes_50pa * volume_m3, "m3/h")
    by_airflow = attrs.evolve(tested, air_changes_50pa=None, airflow_50pa=airflow)
    code = CODES["ashrae-62.2-2016"]
    if by_height:
        form = _credit("ashrae-62.2-2016").metric_form if dwelling.metric else _credit("ashrae-62.2-2016").form
        assert form is not None
        height = Length.of((tested.stories or 1.0) * form.reference_height.m, "m")
        by_airflow = attrs.evolve(by_airflow, stories=None, height=height)
    volume = Volume.of(volume_m3, "m3")
    other = attrs.evolve(dwelling, leakage=by_airflow, ceiling_height=None, volume=volume)
    one, two = (_asked(code, each, _system(0.0, wsf)) for each in (dwelling, other))
    assert two.infiltration_m3s == pytest.approx(one.infiltration_m3s, rel=1e-9)


# The chain


@given(airflows, st.floats(0.5, 1.0), st.floats(1.0, 50.0), st.floats(0.9, 1.4))
def test_leakage_area_is_an_orifice_at_the_reference_pressure(
    airflow: float, exponent: float, pressure: float, density: float
) -> None:
    # Bernoulli: airflow through an area without losses is area x sqrt(2 dp / density).
    area = effective_leakage_area(airflow, exponent, pressure, density)
    through = area * math.sqrt(2.0 * pressure / density)
    assert through * (50.0 / pressure) ** exponent == pytest.approx(airflow, rel=1e-9)


@given(st.floats(1e-4, 1.0), st.floats(20.0, 900.0), st.floats(0.5, 4.0), st.floats(1.01, 3.0))
def test_normalized_leakage_scales(area: float, floor: float, ratio: float, factor: float) -> None:
    one = normalized_leakage(area, floor, ratio, 0.4)
    assert one == pytest.approx(1000.0 * area / floor * ratio**0.4, rel=1e-12)
    assert normalized_leakage(area * factor, floor, ratio, 0.4) == pytest.approx(one * factor, rel=1e-9)
    assert normalized_leakage(area, floor * factor, ratio, 0.4) == pytest.approx(one / factor, rel=1e-9)
    assert normalized_leakage(area, floor, ratio * factor, 0.4) > one


# The schemes


@given(airflows, st.floats(0.0, 1.5), parts)
def test_the_closed_form_solves_its_equation(total: float, share: float, part: float) -> None:
    # ANSI/RESNET/ICC 301-2022: Qfan + Qi^2 / (Qi + x Qfan) = Qtot, and nothing where infiltration is enough.
    infiltration = share * total
    fan = fan_rate(BY_PART, total, infiltration, _system(part))
    if infiltration >= total:
        assert fan == 0.0
    elif infiltration > 0.0:
        assert -1e-12 * total <= fan <= total * (1.0 + 1e-12)
        assert fan + infiltration**2 / (infiltration + part * fan) == pytest.approx(total, rel=1e-9)
    else:
        assert fan == total


@given(airflows, st.floats(0.0, 1.0), parts, parts)
def test_the_closed_form_rises_with_the_part_that_is_not_balanced(
    total: float, share: float, one: float, other: float
) -> None:
    less, more = sorted((one, other))
    low, high = (fan_rate(BY_PART, total, share * total, _system(part)) for part in (less, more))
    dust = 1e-12 * total
    assert low <= high + dust
    assert fan_rate(BY_PART, total, share * total, _system(0.0)) <= low + dust
    assert fan_rate(BY_PART, total, share * total, _system(0.0)) == pytest.approx(total - share * total, abs=1e-12)


@given(airflows, st.floats(0.0, 0.999))
def test_the_closed_form_never_needs_less_than_the_share(total: float, share: float) -> None:
    # Computed: for a fan that is all unbalanced the closed form credits Qi^2 / (Qi + Qfan), the ratio Qi^2 / Qtot,
    # and Qi + Qfan is never less than Qtot.
    by_part = fan_rate(BY_PART, total, share * total, _system(1.0))
    by_ratio = fan_rate(_credit("ashrae-62.2-2019"), total, share * total, _system(1.0))
    assert by_part >= by_ratio - 1e-12 * total


@given(st.sampled_from(BY_RATIO), airflows, st.floats(0.0, 1.5))
def test_the_share_of_the_total(name: str, total: float, share: float) -> None:
    # ANSI/RESNET/ICC 301-2019: Qfan = Qtot - phi x Qi, phi = 1 when balanced, else Qi / Qtot; never below nothing.
    balanced = fan_rate(_credit(name), total, share * total, _system(0.0))
    unbalanced = fan_rate(_credit(name), total, share * total, _system(1.0))
    assert balanced == pytest.approx(total * max(1.0 - share, 0.0), rel=1e-9, abs=1e-12)
    assert unbalanced == pytest.approx(total * max(1.0 - share**2, 0.0), rel=1e-9, abs=1e-12)
    # By how much it is unbalanced makes no difference here.
    assert fan_rate(_credit(name), total, share * total, _system(0.2)) == unbalanced


@given(airflows, st.floats(0.0, 3.0), st.sampled_from([0.0, 0.5, 1.0]))
def test_two_thirds_at_most(total: float, share: float, unbalanced: float) -> None:
    # ASHRAE 62.2-2013: Qfan = Qtot - min(Qi, 2/3 Qtot), balanced or not.
    fan = fan_rate(_credit("ashrae-62.2-2013"), total, share * total, _system(unbalanced))
    assert fan == pytest.approx(total - min(share, 2 / 3) * total, rel=1e-9)
    assert fan >= total / 3 * (1.0 - 1e-9)


@given(airflows, st.floats(0.0, 1.2))
def test_the_cap_and_the_share_cross_where_the_root_of_two_thirds_is(total: float, share: float) -> None:
    # Computed: an unbalanced system is credited share^2 of the total by the one, min(share, 2/3) by the other.
    capped = fan_rate(_credit("ashrae-62.2-2013"), total, share * total, _system(1.0))
    by_ratio = fan_rate(_credit("ashrae-62.2-2019"), total, share * total, _system(1.0))
    if share <= math.sqrt(2 / 3):
        assert by_ratio >= capped - 1e-12
    else:
        assert by_ratio <= capped + 1e-12


@given(schemes, airflows, st.floats(0.0, 2.0), st.sampled_from([0.0, 0.5, 1.0]), st.floats(0.1, 10.0))
def test_only_the_ratio_of_the_airflows_matters(
    name: str, total: float, share: float, unbalanced: float, scale: float
) -> None:
    one = fan_rate(SCHEMES[name], total, share * total, _system(unbalanced))
    other = fan_rate(SCHEMES[name], total * scale, share * total * scale, _system(unbalanced))
    assert other == pytest.approx(one * scale, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("name", sorted(SCHEMES))
def test_nothing_asked_or_nothing_leaking_changes_nothing(name: str) -> None:
    for system in (_system(0.0), _system(1.0)):
        assert fan_rate(SCHEMES[name], 0.0, 0.01, system) == 0.0
        assert fan_rate(SCHEMES[name], 90 * CFM_M3S, 0.0, system) == 90 * CFM_M3S
