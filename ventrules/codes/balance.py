"""Balance of supply and exhaust, by each of the published definitions."""

from ventrules.codes.code import Balanced, BalanceTest
from ventrules.units import at_most

Design = tuple[float, float]


def imbalance(balanced: Balanced, supply_m3s: float, exhaust_m3s: float, design: Design | None = None) -> float:
    """Return how far supply and exhaust are apart by a code's own measure; its limit is `fraction`.

    Args:
        balanced: The definition.
        supply_m3s: Supply airflow, m3/s.
        exhaust_m3s: Exhaust airflow, m3/s.
        design: Design airflow of supply and exhaust, m3/s, for a definition that compares with it.
    """
    lesser, greater = sorted((supply_m3s, exhaust_m3s))
    if greater <= 0.0:
        return 0.0
    if balanced.test is BalanceTest.EACH_TO_DESIGN:
        pairs = zip((supply_m3s, exhaust_m3s), design or (supply_m3s, exhaust_m3s), strict=True)
        return max(abs(flow - own) / own if own > 0.0 else float(flow > 0.0) for flow, own in pairs)
    if balanced.test is BalanceTest.EACH_TO_MEAN:
        return (greater - lesser) / (greater + lesser)
    if balanced.test is BalanceTest.LESSER_TO_GREATER:
        return 1.0 - lesser / greater
    return (greater - lesser) / supply_m3s if supply_m3s > 0.0 else 1.0


def is_balanced(balanced: Balanced, supply_m3s: float, exhaust_m3s: float, design: Design | None = None) -> bool:
    """Say whether supply and exhaust are balanced by a code's own definition; its boundary is inclusive."""
    near = balanced.or_within is not None and at_most(abs(supply_m3s - exhaust_m3s), balanced.or_within.m3s)
    return near or at_most(imbalance(balanced, supply_m3s, exhaust_m3s, design), balanced.fraction)
