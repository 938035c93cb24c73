"""Sizes of copper conductors, and what they resist.

    R = rho l / A x (1 + alpha (T - T0)) x the excess of a stranded conductor

rho and alpha are those of the International Annealed Copper Standard, at T0; they come as data, with their basis.
A is the cross-section of a solid conductor of the size. A stranded one of the same size has the same copper in
it, laid in a helix, so that the current goes a longer way.
"""

from functools import lru_cache

from ventrules.codes.limits import Copper
from ventrules.job import WireRange
from ventrules.units import Length, Temperature, WireSize


def ohms_per_m(copper: Copper, size: WireSize, temperature: Temperature, *, stranded: bool) -> float:
    """Return the resistance of one conductor, ohm/m, to direct current (or at mains frequency, in sizes this small).

    Raises:
        ValueError: The temperature is so low that resistance, linear in it, would be none (below about -234 degC).
    """
    warmer_k = temperature.kelvin - copper.reference.kelvin
    factor = 1.0 + copper.coefficient_per_k * warmer_k
    if factor <= 0.0:
        raise ValueError(f"{temperature} is below what the temperature coefficient of copper is good for")
    laid = copper.stranding if stranded else 1.0
    return copper.resistivity_ohm_m * factor * laid / size.m2


def loop_ohms(copper: Copper, size: WireSize, length: Length, temperature: Temperature, *, stranded: bool) -> float:
    """Return the resistance of two conductors, there and back over the length of the cable, ohm.

    Raises:
        ValueError: As in `ohms_per_m`.
    """
    there_and_back = 2.0 * length.m
    return there_and_back * ohms_per_m(copper, size, temperature, stranded=stranded)


def whole_gauge(size: WireSize) -> int:
    """Return the nearest whole AWG, by which sizes are compared: 1.31 mm2 is 16 AWG, and 0.32 and 0.34 mm2 are 22."""
    return _whole_gauge(size.si)


@lru_cache(maxsize=1024)
def _whole_gauge(area_m2: float) -> int:
    """Return the nearest whole AWG of a cross-section; there are few sizes, and each port takes a range of them."""
    return round(WireSize.shown(area_m2, "AWG").to("AWG"))


def takes(gauges: WireRange, size: WireSize) -> bool:
    """Say whether terminals for a range of sizes take a size, each as its nearest whole AWG."""
    if gauges.thinnest.m2 <= size.m2 <= gauges.thickest.m2:
        return True  # as it is; only at the edges rounding has a say
    return whole_gauge(gauges.thickest) <= whole_gauge(size) <= whole_gauge(gauges.thinnest)
