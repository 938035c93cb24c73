"""What a code asks of a dwelling, with every step."""

from bisect import bisect_left
from collections.abc import Collection

from attrs import frozen

from ventrules.codes.code import Balanced, BalanceTest, Code, CodeKind, Counts, Equation, RateTable, RunTime
from ventrules.job import Dwelling, Occupancy, Route, Target
from ventrules.sources import Basis, Known
from ventrules.units import Airflow, at_least, at_most


@frozen
class Step:
    """One step from the code's text to the required airflow.

    Attributes:
        name: What was worked out.
        airflow_m3s: The outcome, m3/s.
        basis: The clause it rests on.
    """

    name: str
    airflow_m3s: float
    basis: Basis


@frozen
class Requirement:
    """What is asked of the dwelling.

    Attributes:
        kind: How a week is judged.
        continuous_m3s: Required airflow when ventilation never stops, m3/s.
        intermittent_m3s: Rate that run-time factors multiply, m3/s.
        window_s: Averaging window or segment, seconds.
        counts: Which airflow counts.
        judged: Occupancies in which it is held.
        run_time: Factors for intermittent operation, if the code has them.
        balanced: The code's definition of balanced, if it has one.
        steps: The arithmetic, in order.
        basis: The clause of the rate itself.
        window_basis: The clause of the window or of the run-time factors.
    """

    kind: CodeKind
    continuous_m3s: float
    intermittent_m3s: float
    window_s: float
    counts: Counts
    judged: frozenset[Occupancy]
    run_time: RunTime | None
    balanced: Balanced | None
    steps: tuple[Step, ...]
    basis: Basis
    window_basis: Basis


def table_rate(table: RateTable, dwelling: Dwelling) -> float:
    """Return a table's rate for a dwelling, m3/s; printed upper areas are inclusive."""
    row = sum(not at_most(dwelling.floor_area.m2, limit.m2) for limit in table.area_limits)
    column = bisect_left(table.bedroom_limits, dwelling.bedrooms)
    return table.rates[row][column].m3s


def equation_rate(equation: Equation, dwelling: Dwelling) -> float:
    """Return an equation's rate for a dwelling, m3/s."""
    by_area = equation.airflow_per_area.m3s * dwelling.floor_area.m2 / equation.area.m2
    return by_area + equation.airflow_per_person.m3s * (dwelling.bedrooms + equation.extra_people)


def run_time_factor(run: RunTime, share: float) -> float | None:
    """Return the factor for a share of run time: interpolated, never extrapolated.

    Args:
        run: The code's table of factors.
        share: Share of each segment in which the system runs, 0 to 1.

    Returns:
        The factor, or None outside the table.
    """
    if not (at_least(share, run.shares[0]) and at_most(share, run.shares[-1])):
        return None
    held = min(max(share, run.shares[0]), run.shares[-1])
    right = bisect_left(run.shares, held)
    if run.shares[right] == held:
        return run.factors[right]
    low, high = run.shares[right - 1], run.shares[right]
    part = (held - low) / (high - low)
    return run.factors[right - 1] + part * (run.factors[right] - run.factors[right - 1])


def imbalance(balanced: Balanced, supply_m3s: float, exhaust_m3s: float) -> float:
    """Return how far supply and exhaust are apart by a code's own measure; its limit is `fraction`."""
    lesser, greater = sorted((supply_m3s, exhaust_m3s))
    if greater <= 0.0:
        return 0.0
    if balanced.test is BalanceTest.EACH_TO_MEAN:
        return (greater - lesser) / (greater + lesser)
    if balanced.test is BalanceTest.LESSER_TO_GREATER:
        return 1.0 - lesser / greater
    return (greater - lesser) / supply_m3s if supply_m3s > 0.0 else 1.0


def is_balanced(balanced: Balanced, supply_m3s: float, exhaust_m3s: float) -> bool:
    """Say whether supply and exhaust are balanced by a code's own definition; its boundary is inclusive."""
    return at_most(imbalance(balanced, supply_m3s, exhaust_m3s), balanced.fraction)


def requirement(code: Code, dwelling: Dwelling, target: Target, earned: Collection[str] = ()) -> Requirement:
    """Return what a code asks of a dwelling.

    Args:
        code: The code.
        dwelling: The dwelling.
        target: The job's target; it may fix the route.
        earned: Names of the claimed credits whose conditions hold.
    """
    rates = _routes(code, dwelling)
    chosen = target.route if target.route in rates else min(rates, key=lambda route: rates[route].airflow_m3s)
    steps = [rates[chosen]]
    continuous = steps[-1].airflow_m3s
    factored = rates.get(code.run_time.route, rates[chosen]) if code.run_time and code.run_time.route else rates[chosen]
    intermittent = factored.airflow_m3s
    if factored is not rates[chosen]:
        steps.append(factored)
    for name in sorted(set(target.credits) & set(earned) & code.credits.keys()):
        credit = code.credits[name]
        continuous, intermittent = continuous * credit.factor, intermittent * credit.factor
        steps.append(Step(f"credit {name}, x {credit.factor:g}", continuous, code.basis(credit.basis)))
    run = code.run_time
    window = run.segment if run is not None else code.window
    window_basis = code.basis(run.basis) if run is not None else code.basis(code.judged_basis)
    return Requirement(
        kind=code.kind,
        continuous_m3s=continuous,
        intermittent_m3s=intermittent,
        window_s=window.s if window is not None else 0.0,
        counts=code.counts,
        judged=frozenset(code.judged),
        run_time=run,
        balanced=code.balanced,
        steps=tuple(steps),
        basis=rates[chosen].basis,
        window_basis=window_basis,
    )


def _routes(code: Code, dwelling: Dwelling) -> dict[Route, Step]:
    routes: dict[Route, Step] = {}
    bedrooms = "1 bedroom" if dwelling.bedrooms == 1 else f"{dwelling.bedrooms} bedrooms"
    of = f"{dwelling.floor_area} and {bedrooms}"
    if code.rate.table is not None:
        rate = table_rate(code.rate.table, dwelling)
        routes[Route.TABLE] = Step(f"rate by table for {of}", rate, code.basis(code.rate.table.basis))
    if code.rate.equation is not None:
        rate = equation_rate(code.rate.equation, dwelling)
        routes[Route.EQUATION] = Step(f"rate by equation for {of}", rate, code.basis(code.rate.equation.basis))
    return routes


def own_requirement(airflow: Airflow, window_s: float, judged: Collection[Occupancy], counts: Counts) -> Requirement:
    """Return a project's own target as a requirement: an average over a window."""
    basis = Basis("the job's own target", Known.JOB)
    return Requirement(
        kind=CodeKind.AVERAGE,
        continuous_m3s=airflow.m3s,
        intermittent_m3s=airflow.m3s,
        window_s=window_s,
        counts=counts,
        judged=frozenset(judged),
        run_time=None,
        balanced=None,
        steps=(Step("the job's own target", airflow.m3s, basis),),
        basis=basis,
        window_basis=basis,
    )
