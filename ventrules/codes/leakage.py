"""Infiltration: from a blower-door test to the airflow that a code credits.

Normalized leakage and effective leakage area are defined at a stated pressure difference, with NL a
thousand times the leakage area over the floor area; a blower door is read at 50 Pa (ASTM E779, from memory).
"""

import math
from typing import Final

from attrs import frozen

from ventrules.codes.code import Code
from ventrules.codes.infiltration import Infiltration, LeakageForm, Superposition
from ventrules.codes.rating import Step
from ventrules.job import Dwelling, Leakage
from ventrules.words import listed

_TEST_PA: Final = 50.0
_NL_SCALE: Final = 1000.0
_HOUR_S: Final = 3600.0


@frozen
class System:
    """What the ventilation system and the site are, as far as a requirement depends on it.

    Attributes:
        balanced: True when supply and exhaust count as balanced.
        unbalanced_part: |supply - exhaust| over the larger of the two.
        wsf: Weather and shielding factor of the site; None when it is not known.
    """

    balanced: bool = True
    unbalanced_part: float = 0.0
    wsf: float | None = None


@frozen
class Infiltrated:
    """Infiltration that a code counts.

    Attributes:
        airflow_m3s: Its airflow, m3/s; 0 when none counts.
        steps: How it comes about.
        remark: Why none counts, where a reader might have expected some.
    """

    airflow_m3s: float
    steps: tuple[Step, ...] = ()
    remark: str = ""


def effective_leakage_area(leakage_50pa_m3s: float, exponent: float, pressure_pa: float, density: float) -> float:
    """Return the effective leakage area, m2: that of an orifice without losses at the reference pressure.

    Args:
        leakage_50pa_m3s: Airflow at 50 Pa, m3/s.
        exponent: Exponent of the leakage curve.
        pressure_pa: Reference pressure, Pa.
        density: Density of air, kg/m3.
    """
    at_reference = leakage_50pa_m3s * (pressure_pa / _TEST_PA) ** exponent
    return float(at_reference / math.sqrt(2.0 * pressure_pa / density))


def normalized_leakage(area_m2: float, floor_m2: float, height_ratio: float, exponent: float) -> float:
    """Return normalized leakage: 1000 x leakage area / floor area x height ratio ^ exponent."""
    return float(_NL_SCALE * area_m2 / floor_m2 * height_ratio**exponent)


def counted_infiltration(code: Code, dwelling: Dwelling, system: System, earned: frozenset[str]) -> Infiltrated:
    """Return the infiltration that a code counts for a dwelling.

    Args:
        code: The code.
        dwelling: The dwelling, with its blower-door test.
        system: The site's factor is taken from it.
        earned: Credits that are claimed and earned.
    """
    credit = code.infiltration
    if credit is None or (credit.credit is not None and credit.credit not in earned):
        return Infiltrated(0.0)
    tested = dwelling.leakage or Leakage()
    form = credit.metric_form if dwelling.metric and credit.metric_form is not None else credit.form
    leakage_m3s, ratio = _leakage(credit, dwelling), _height_ratio(tested, form)
    if leakage_m3s is None and dwelling.leakage is None and credit.untested_air_changes is None:
        return Infiltrated(0.0)
    if leakage_m3s is None or ratio is None or system.wsf is None:
        missing = {
            _what_leaks(dwelling): leakage_m3s,
            "the height or the stories of the test": ratio,
            "the weather and shielding factor": system.wsf,
        }
        return _none(f"missing: {listed([name for name, value in missing.items() if value is None])}")
    if dwelling.attached and credit.detached_only:
        return _none("the dwelling is attached")
    if dwelling.attached and credit.exterior_part and dwelling.exterior_part is None:
        return _none("missing: the exterior part of the boundary of an attached dwelling")
    return _chain(code, credit, form, dwelling, _Test(leakage_m3s, tested, ratio, system.wsf))


def _what_leaks(dwelling: Dwelling) -> str:
    """Return what is missing where the airflow at 50 Pa is not known."""
    tested = dwelling.leakage
    told = tested is None or tested.airflow_50pa is not None or tested.air_changes_50pa is not None
    return "the dwelling's volume" if told else "the test's airflow at 50 Pa"


def _none(why: str) -> Infiltrated:
    return Infiltrated(0.0, remark=f"no infiltration is credited; {why}")


@frozen
class _Test:
    airflow_m3s: float
    leakage: Leakage
    height_ratio: float
    wsf: float


def _leakage(credit: Infiltration, dwelling: Dwelling) -> float | None:
    tested, volume = dwelling.leakage, dwelling.volume_m3
    if tested is not None and tested.airflow_50pa is not None:
        return tested.airflow_50pa.m3s
    changes = tested.air_changes_50pa if tested is not None else None
    changes = credit.untested_air_changes if changes is None else changes
    return changes * volume / _HOUR_S if changes is not None and volume is not None else None


def _height_ratio(leakage: Leakage, form: LeakageForm) -> float | None:
    if leakage.height is not None:
        return leakage.height.m / form.reference_height.m
    return leakage.stories


def _chain(code: Code, credit: Infiltration, form: LeakageForm, dwelling: Dwelling, test: _Test) -> Infiltrated:
    floor_m2 = dwelling.floor_area.m2
    exponent = credit.exponent if test.leakage.exponent is None else test.leakage.exponent
    area_m2 = effective_leakage_area(test.airflow_m3s, exponent, credit.reference_pressure.pa, credit.air_density)
    leakage = normalized_leakage(area_m2, floor_m2, test.height_ratio, credit.height_exponent)
    infiltration = leakage * test.wsf * form.airflow.m3s * floor_m2 / form.area.m2
    chain, basis = code.basis(credit.chain_basis), code.basis(credit.basis)
    steps = [
        Step("leakage at 50 Pa", test.airflow_m3s, chain),
        Step("effective leakage area", None, chain, area_m2, "m2"),
        Step("normalized leakage", None, chain, leakage),
        Step(f"infiltration at a weather and shielding factor of {test.wsf:g}", infiltration, chain),
    ]
    counted = infiltration
    if form.assumed is not None and form.assumed_area is not None:
        counted = max(counted - form.assumed.m3s * floor_m2 / form.assumed_area.m2, 0.0)
        steps.append(Step("infiltration above what the rate assumes", counted, basis))
    if credit.share < 1.0:
        counted *= credit.share
        steps.append(Step(f"counted share, x {credit.share:g}", counted, basis))
    if credit.exterior_part and dwelling.exterior_part is not None and dwelling.exterior_part < 1.0:
        counted *= dwelling.exterior_part
        steps.append(Step(f"exterior part of the boundary, x {dwelling.exterior_part:g}", counted, basis))
    return Infiltrated(counted, tuple(steps))


def fan_rate(credit: Infiltration, total_m3s: float, infiltration_m3s: float, system: System) -> float:
    """Return the mechanical rate that is left of a total rate, m3/s.

    Args:
        credit: How infiltration is credited.
        total_m3s: Total required rate.
        infiltration_m3s: Infiltration that counts.
        system: Whether the system is balanced, and how far not.
    """
    if total_m3s <= 0.0 or infiltration_m3s <= 0.0:
        return total_m3s
    if credit.superposition is Superposition.UNBALANCED_PART:
        return _unbalanced_rate(total_m3s, infiltration_m3s, system.unbalanced_part)
    part = 1.0
    if credit.superposition is Superposition.RATE_RATIO and not system.balanced:
        part = min(infiltration_m3s / total_m3s, 1.0)
    credited = part * infiltration_m3s
    if credit.cap is not None:
        credited = min(credited, credit.cap * total_m3s)
    return max(total_m3s - credited, 0.0)


def _unbalanced_rate(total: float, infiltration: float, part: float) -> float:
    """Solve Qfan + Qi^2 / (Qi + x Qfan) = Qtot for Qfan (closed form of ANSI/RESNET/ICC 301-2022)."""
    if infiltration >= total:
        return 0.0
    if part <= 0.0:
        return total - infiltration
    inside = (part * total) ** 2 - 4.0 * part * infiltration**2 + 2.0 * part * infiltration * total + infiltration**2
    return (math.sqrt(max(inside, 0.0)) + part * total - infiltration) / (2.0 * part)
