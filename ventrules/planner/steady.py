"""The steady airflow of each mode that keeps relative exposure with the least air: where a search may begin.

Relative exposure at any time is an integral of exponentials of what the modes get, so that its mean and its highest
value are convex in the airflow: a local optimum is the least there is.
"""

from collections.abc import Mapping, Sequence
from typing import Final, TypeAlias

import numpy as np

from ventrules.codes import Requirement
from ventrules.planner.options import Floats
from ventrules.planner.verdict import Verdict
from ventrules.survey import Delivery, Run
from ventrules.survey.exposure import Cycle

_Vector: TypeAlias = np.ndarray[tuple[int], np.dtype[np.float64]]
_CYCLE_S: Final = 3600.0
_WELL_BEYOND: Final = 1e3  # relative exposure where there is no airflow at all


def least_steady(
    verdict: Verdict, requirement: Requirement, free: Mapping[str, tuple[float, float]], kept: Mapping[str, Cycle]
) -> dict[str, float] | None:
    """Return the steady airflow of each free mode, m3/s, or None where none is found.

    Args:
        verdict: What judges the season.
        requirement: The requirement; it has limits of relative exposure.
        free: Mode to its part of the week and the most airflow that it can have, m3/s.
        kept: Mode to one cycle of its airflow, where that stays.
    """
    from scipy.optimize import NonlinearConstraint, minimize  # noqa: PLC0415 - slow to import, and seldom needed

    limits, names = requirement.exposure, list(free)
    if limits is None or not names:
        return None
    most = np.array([free[name][1] for name in names])
    parts = np.array([free[name][0] for name in names])
    scale = max(requirement.total_m3s, 1e-9)

    def slack(flows: _Vector) -> _Vector:
        cycles = {**kept, **{name: _cycle(verdict, flow * scale) for name, flow in zip(names, flows, strict=True)}}
        _known, exposure = verdict.exposed(cycles)
        mean = requirement.counted_exposure(exposure.mean, exposure.mean_present) if exposure is not None else None
        if exposure is None or mean is None:
            return np.array([limits.mean - _WELL_BEYOND, limits.peak - _WELL_BEYOND])
        return np.array([limits.mean - mean, limits.peak - exposure.peak])

    def spent(flows: _Vector) -> float:
        return float(parts @ flows)

    found = minimize(
        spent,
        [float(high) for high in most / scale],
        bounds=[(0.0, float(high)) for high in most / scale],
        constraints=NonlinearConstraint(slack, 0.0, np.inf),
        method="SLSQP",
    )
    return {name: float(flow) * scale for name, flow in zip(names, found.x, strict=True)} if found.success else None


def _cycle(verdict: Verdict, flow_m3s: float) -> Cycle:
    runs = (Run("steady", flow_m3s, _CYCLE_S),) if flow_m3s > 0.0 else ()
    return verdict.cycle((Delivery(runs, _CYCLE_S),))


def giving(gives: Sequence[Floats], costs: Sequence[Floats], least: Sequence[float]) -> tuple[int, ...]:
    """Return the cheapest option of each mode that gives so much, or what gives most.

    Args:
        gives: What the options of each mode give.
        costs: What they cost.
        least: How much is wanted of each mode.
    """
    choice = []
    for given, cost, wanted in zip(gives, costs, least, strict=True):
        rows = np.flatnonzero(given >= min(wanted, float(given.max())))
        choice.append(int(rows[np.argmin(cost[rows])]))
    return tuple(choice)
