"""What has to go together in a code file, beyond the shape of each part."""

from collections.abc import Iterator

from ventrules.codes import Code, CodeKind, RateTable, RoomSum
from ventrules.codes.rates import Rate, Way
from ventrules.engine import Path
from ventrules.files.problems import Problem

_WINDOWED = (CodeKind.AVERAGE, CodeKind.AVERAGE_WITH_FLOOR, CodeKind.EXPOSURE)


def inconsistencies(code: Code) -> list[Problem]:
    """Return what does not go together in a code."""
    return [
        *_rate_problems(code.rate, ("rate",)),
        *(_rate_problems(code.metric_rate, ("metric_rate",)) if code.metric_rate is not None else ()),
        *(_rate_problems(code.total, ("total",)) if code.total is not None else ()),
        *_kind_problems(code),
        *_run_time_problems(code),
        *_area_problems(code),
        *_credit_problems(code),
    ]


def _rate_problems(rate: Rate, at: Path) -> Iterator[Problem]:
    if not rate.ways:
        yield Problem("expected a table, an equation, people, rooms or wet_rooms", at)
    for route, way in rate.ways.items():
        yield from _way_problems(way, (*at, route.value.replace("-", "_")))


def _way_problems(way: Way, at: Path) -> Iterator[Problem]:
    if isinstance(way, RateTable):
        yield from _table_problems(way, at)
    elif isinstance(way, RoomSum):
        if not way.lines:
            yield Problem("expected at least one line", (*at, "lines"))
        for number, line in enumerate(way.lines):
            yield from _together(line.airflow_per_area, line.area, (*at, "lines", number))
    else:
        by_area = way.airflow_per_area or way.less_per_area_squared
        yield from _together(by_area, way.area, at)
        if not (by_area or way.constant or way.airflow_per_person or way.airflow_per_occupant):
            yield Problem("expected at least one term", at)


def _together(airflow: object, area: object, at: Path) -> Iterator[Problem]:
    if (airflow is None) != (area is None):
        yield Problem("an airflow by area and `area` go together", at)


def _table_problems(table: RateTable, at: Path) -> Iterator[Problem]:
    rows = len(table.area_limits) + table.open_rows
    columns = len(table.column_limits) + table.open_columns
    if len(table.rates) != rows or any(len(row) != columns for row in table.rates):
        yield Problem(f"expected {rows} rows of {columns} rates", (*at, "rates"))
    if list(table.column_limits) != sorted(set(table.column_limits)):
        yield Problem("expected rising limits", (*at, "column_limits"))
    areas = [area.m2 for area in table.area_limits]
    if areas != sorted(set(areas)):
        yield Problem("expected rising limits", (*at, "area_limits"))
    if not {area.m2 for area in table.area_below} <= set(areas):
        yield Problem("expected limits that are in `area_limits`", (*at, "area_below"))
    if table.further is not None and (table.open_columns or not table.column_limits):
        yield Problem("goes with a table whose last column has a limit", (*at, "further"))


def _kind_problems(code: Code) -> Iterator[Problem]:
    needs = {
        "run_time": (code.run_time is not None, code.kind is CodeKind.SEGMENT_FACTORS),
        "window": (code.window is not None, code.kind in _WINDOWED),
        "floor": (code.floor is not None, code.kind is CodeKind.AVERAGE_WITH_FLOOR),
        "levels": (bool(code.levels), code.kind is CodeKind.LEVELS),
        "exposure": (code.exposure is not None, code.kind is CodeKind.EXPOSURE),
        "judged": (bool(code.judged), code.kind is not CodeKind.CAPACITY),
    }
    for key, (given, wanted) in needs.items():
        if wanted and not given:
            yield Problem(f"codes of kind {code.kind.value} need `{key}`", (key,), at_key=True)
        elif given and not wanted:
            yield Problem(f"codes of kind {code.kind.value} have no `{key}`", (key,), at_key=True)
    if code.least_run is not None and code.window is None:
        yield Problem("goes with an average", ("least_run",), at_key=True)
    elif code.least_run is not None and code.least_run.time.s > code.least_run.period.s:
        yield Problem("the time must fit into the period", ("least_run", "time"))


def _area_problems(code: Code) -> Iterator[Problem]:
    if code.floor is not None:
        yield from _together(code.floor.airflow_per_area, code.floor.area, ("floor",))
    for number, level in enumerate(code.levels):
        yield from _together(level.airflow_per_area, level.area, ("levels", number))
    forms = {"form": code.infiltration.form, "metric_form": code.infiltration.metric_form} if code.infiltration else {}
    for name, form in forms.items():
        if form is not None:
            yield from _together(form.assumed, form.assumed_area, ("infiltration", name))


def _run_time_problems(code: Code) -> Iterator[Problem]:
    run = code.run_time
    if run is None:
        return
    if len(run.shares) != len(run.factors) or not run.shares or list(run.shares) != sorted(set(run.shares)):
        yield Problem("expected rising shares and one factor for each", ("run_time",))
    elif 0.0 in run.factors or list(run.factors) != sorted(run.factors, reverse=True):
        yield Problem("expected factors above 0 that do not rise with the share", ("run_time", "factors"))
    elif run.shares[-1] < 1.0 or run.shares[0] <= 0.0:
        yield Problem("expected shares above 0 that end with 1", ("run_time", "shares"))
    if run.route is not None and run.route not in code.routes:
        yield Problem(f"the code has no {run.route.value}", ("run_time", "route"))
    if run.table is not None:
        yield from _table_problems(run.table, ("run_time", "table"))


def _credit_problems(code: Code) -> Iterator[Problem]:
    for number, level in enumerate(code.levels):
        if level.credit is not None and level.credit not in code.credits:
            yield Problem(f"the code has no credit {level.credit!r}", ("levels", number, "credit"))
        if (level.share is not None) + (level.airflow_per_area is not None) + bool(level.by_main_rooms) != 1:
            yield Problem("expected one of share, airflow_per_area and by_main_rooms", ("levels", number))
    credit = code.infiltration.credit if code.infiltration is not None else None
    if credit is not None and credit not in code.credits:
        yield Problem(f"the code has no credit {credit!r}", ("infiltration", "credit"))
    for number, example in enumerate(code.examples):
        for name in sorted(set(example.credits) - code.credits.keys()):
            yield Problem(f"the code has no credit {name!r}", ("examples", number, "credits"))
