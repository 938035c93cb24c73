"""What has to go together in a code file, beyond the shape of each part."""

from collections.abc import Iterator

from ventrules.codes import Code, RateTable
from ventrules.codes.rates import Rate
from ventrules.engine import Path
from ventrules.files.problems import Problem, ProblemKind
from ventrules.files.schema_bonds import all_broken_bonds


def inconsistencies(code: Code) -> list[Problem]:
    """Return what does not go together in a code."""
    return [
        *all_broken_bonds(code),
        *_rate_problems(code.rate, ("rate",)),
        *(_rate_problems(code.metric_rate, ("metric_rate",)) if code.metric_rate is not None else ()),
        *(_rate_problems(code.total, ("total",)) if code.total is not None else ()),
        *_run_time_problems(code),
        *_credit_problems(code),
    ]


def _contradiction(message: str, path: Path) -> Problem:
    return Problem(message, path, kind=ProblemKind.CONTRADICTION)


def _reference(message: str, path: Path) -> Problem:
    return Problem(message, path, kind=ProblemKind.REFERENCE)


def _rate_problems(rate: Rate, at: Path) -> Iterator[Problem]:
    if rate.table is not None:
        yield from _table_problems(rate.table, (*at, "table"))


def _table_problems(table: RateTable, at: Path) -> Iterator[Problem]:
    rows = len(table.area_limits) + table.open_rows
    columns = len(table.column_limits) + table.open_columns
    if len(table.rates) != rows or any(len(row) != columns for row in table.rates):
        yield _contradiction(f"expected {rows} rows of {columns} rates", (*at, "rates"))
    if list(table.column_limits) != sorted(set(table.column_limits)):
        yield _contradiction("expected rising limits", (*at, "column_limits"))
    areas = [area.m2 for area in table.area_limits]
    if areas != sorted(set(areas)):
        yield _contradiction("expected rising limits", (*at, "area_limits"))
    if not {area.m2 for area in table.area_below} <= set(areas):
        yield _reference("expected limits that are in `area_limits`", (*at, "area_below"))


def _run_time_problems(code: Code) -> Iterator[Problem]:
    run, least = code.run_time, code.least_run
    if least is not None and least.time.s > least.period.s:
        yield _contradiction("the time must fit into the period", ("least_run", "time"))
    if run is None:
        return
    if run.shares and (len(run.shares) != len(run.factors) or list(run.shares) != sorted(set(run.shares))):
        yield _contradiction("expected rising shares and one factor for each", ("run_time",))
    elif list(run.factors) != sorted(run.factors, reverse=True):
        yield _contradiction("expected factors above 0 that do not rise with the share", ("run_time", "factors"))
    elif run.shares and run.shares[-1] < 1.0:
        yield _contradiction("expected shares above 0 that end with 1", ("run_time", "shares"))
    if run.route is not None and run.route not in code.routes:
        yield _reference(f"the code has no {run.route.value}", ("run_time", "route"))
    if run.table is not None:
        yield from _table_problems(run.table, ("run_time", "table"))


def _credit_problems(code: Code) -> Iterator[Problem]:
    for number, level in enumerate(code.levels):
        if level.credit is not None and level.credit not in code.credits:
            yield _reference(f"the code has no credit {level.credit!r}", ("levels", number, "credit"))
    credit = code.infiltration.credit if code.infiltration is not None else None
    if credit is not None and credit not in code.credits:
        yield _reference(f"the code has no credit {credit!r}", ("infiltration", "credit"))
    for number, example in enumerate(code.examples):
        for name in sorted(set(example.credits) - code.credits.keys()):
            yield _reference(f"the code has no credit {name!r}", ("examples", number, "credits"))
