"""The page of a ventilation code, made from all that its data file holds."""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from ventrules.codes import (
    Clause,
    Code,
    Columns,
    Equation,
    Example,
    Infiltration,
    Joined,
    LeakageForm,
    Level,
    Placing,
    Rate,
    RateTable,
    RoomSum,
    RunTime,
    Superposition,
    UnknownRequirementError,
    worked,
)
from ventrules.job import Room
from ventrules.outputs.markdown import block, code, inert, table
from ventrules.sources import Known
from ventrules.targets import clauses_of
from ventrules.units import Airflow
from ventrules.words import listed

_AREA: Final = "floor area"
_LIES: Final = {
    Placing.SLIDING: "wherever it begins",
    Placing.FIXED: "one after the other from Monday 00:00",
}
_COUNTED: Final = {Columns.BEDROOMS: ("bedroom", "bedrooms"), Columns.MAIN_ROOMS: ("main room", "main rooms")}
_WAYS: Final = {"wet-rooms": "wet rooms"}
_SUPERPOSED: Final = {
    Superposition.NONE: "infiltration counts in full, whatever the fans do",
    Superposition.RATE_RATIO: "in full where the system is balanced, else times its share of the total rate",
    Superposition.UNBALANCED_PART: "by the part of the fans' airflow that is not balanced",
}


def well_known(found: Code) -> str:
    """Return how many clauses of a code are known in which way."""
    counts = Counter(clause.known for clause in clauses_of(found))
    return ", ".join(f"{counts[known]} {known.value}" for known in Known if counts[known])


def _cited(clause: Clause) -> str:
    title = f"{clause.title}, " if clause.title else ""
    note = f"; {clause.note}" if clause.note else ""
    return f"{title}{clause.clause} ({clause.known.value}){note}"


def _where(clause: Clause) -> str:
    return f"Source: {_cited(clause)}."


def _column_heads(rates: RateTable) -> list[str]:
    one, many = _COUNTED[rates.columns]
    first, heads = 0 if rates.columns is Columns.BEDROOMS else 1, []
    for limit in rates.column_limits:
        heads.append(f"{limit} {one if limit == 1 else many}" if first == limit else f"{first} to {limit} {many}")
        first = limit + 1
    if rates.open_columns:
        heads.append(f"{first} {many} or more" if rates.column_limits else f"any number of {many}")
    return heads


def _row_heads(rates: RateTable) -> list[str]:
    below = {limit.m2 for limit in rates.area_below}
    heads = [f"{'below' if area.m2 in below else 'to'} {area}" for area in rates.area_limits]
    if rates.open_rows and rates.area_limits:
        last = rates.area_limits[-1]
        heads.append(f"{'from' if last.m2 in below else 'over'} {last}")
    return heads or ["any"]


def _by_table(rates: RateTable) -> str:
    rows = [(name, *map(str, row)) for name, row in zip(_row_heads(rates), rates.rates, strict=True)]
    one, many = _COUNTED[rates.columns]
    said = []
    if rates.further is not None:
        said.append(f"Each {one} beyond the last column adds {rates.further}.")
    elif not rates.open_columns:
        said.append(f"The table ends at {rates.column_limits[-1]} {many}.")
    if not rates.open_rows:
        said.append(f"It ends at {rates.area_limits[-1]}.")
    if rates.one_main_room is not None:
        said.append(f"A dwelling with a single main room: {rates.one_main_room}.")
    more = f"{' '.join(said)}\n\n" if said else ""
    return f"{table((_AREA, *_column_heads(rates)), rows)}\n{more}{_where(rates.basis)}\n"


def _by_equation(equation: Equation) -> str:
    people = f"(bedrooms + {equation.extra_people})" if equation.extra_people else "bedrooms"
    terms = {
        f"{equation.constant}": equation.constant,
        f"{equation.airflow_per_area} x ({_AREA} / {equation.area})": equation.airflow_per_area,
        f"{equation.airflow_per_person} x {people}": equation.airflow_per_person,
        f"{equation.airflow_per_occupant} x occupants": equation.airflow_per_occupant,
    }
    formula = " + ".join(text for text, airflow in terms.items() if airflow is not None)
    if equation.less_per_area_squared is not None:
        formula += f" - {equation.less_per_area_squared} x ({_AREA} / {equation.area})^2"
    limits = {"less": equation.least_area, "more": equation.most_area}
    said = [f"A floor area of {word} than {area} counts as {area}." for word, area in limits.items() if area]
    held = f"{' '.join(said)} {_where(equation.range_basis)}\n\n" if said and equation.range_basis else ""
    return f"{block('text', formula)}\n{held}{_where(equation.basis)}\n"


def _by_rooms(rooms: RoomSum) -> str:
    heads, rows = (
        ["rooms", "each"],
        [[listed(code(k.value) for k in line.rooms), f"{line.airflow}"] for line in rooms.lines],
    )
    if any(line.first is not None for line in rooms.lines):
        heads.append("the first of them")
        for row, line in zip(rows, rooms.lines, strict=True):
            row.append(str(line.first or line.airflow))
    if any(line.airflow_per_area is not None for line in rooms.lines):
        heads.append("or, where that is more")
        for row, line in zip(rows, rooms.lines, strict=True):
            row.append(f"{line.airflow_per_area} for each {line.area} of it" if line.airflow_per_area else "none")
    share = f"{rooms.share:.0%} of the sum has to be met. " if rooms.share < 1.0 else ""
    largest = "The largest single room has to be met, too. " if rooms.largest_room else ""
    return f"{table(heads, rows)}\n{share}{largest}{_where(rooms.basis)}\n"


def _rate(rate: Rate) -> Iterator[str]:
    """Yield the sections of a rate."""
    if len(rate.ways) > 1:
        joined = "The largest of these holds." if rate.joined is Joined.LARGEST else "Any of these may be used."
        yield f"{joined}\n"
    for route, way in rate.ways.items():
        head = f"### By {_WAYS.get(route.value, route.value)}\n\n"
        if isinstance(way, RateTable):
            yield head + _by_table(way)
        elif isinstance(way, Equation):
            yield head + _by_equation(way)
        else:
            yield head + _by_rooms(way)
    if rate.least is not None:
        yield f"Never less than {rate.least.airflow}. {_where(rate.least.basis)}\n"
    if rate.least_bedrooms is not None:
        fewest = rate.least_bedrooms
        yield f"Fewer bedrooms than {fewest.count} count as {fewest.count}. {_where(fewest.basis)}\n"
    if rate.extra_occupants is not None:
        more = rate.extra_occupants
        yield f"Each known occupant beyond bedrooms + 1 adds {more.airflow}. {_where(more.basis)}\n"


def _run_time(run: RunTime) -> str:
    shares = table(
        ("share of run time", *(f"{share:.0%}" for share in run.shares)),
        [("factor on the rate", *(f"{factor:g}" for factor in run.factors))],
    )
    which = f" The factor multiplies the rate by {run.route.value}." if run.route is not None else ""
    own = f"The factor multiplies the rate of this table:\n\n{_by_table(run.table)}\n" if run.table else ""
    said = f"In each segment of {run.segment}, {_LIES[run.placing]}.{which}"
    return f"{said}\n\n{shares}\n{_where(run.basis)}\n\n{own}"


def _timing(found: Code) -> Iterator[str]:
    """Yield the sections that say when the rate has to flow."""
    if found.run_time is not None:
        yield f"## Intermittent operation\n\n{_run_time(found.run_time)}"
    if found.window is not None:
        window = found.window
        yield (
            f"## Averaging\n\nOver every period of {window.length}, {_LIES[window.placing]}. {_where(window.basis)}\n"
        )
    if found.least_run is not None:
        run = found.least_run
        yield f"## Least run time\n\n{run.time} in each {run.period}. {_where(run.basis)}\n"
    if found.floor is not None:
        floor = found.floor
        parts = [
            f"{floor.share:.0%} of the rate" if floor.share is not None else "",
            f"{floor.airflow_per_area} for each {floor.area}" if floor.airflow_per_area is not None else "",
            str(floor.least) if floor.least is not None else "",
        ]
        least = listed([part for part in parts if part])
        joint = "The largest of " if sum(map(bool, parts)) > 1 else ""
        yield f"## At every moment\n\n{joint}{least}. {_where(floor.basis)}\n"
    if found.levels:
        yield f"## Levels\n\nIn an occupancy without a level the rate itself holds.\n\n{_levels(found.levels)}"
    if found.exposure is not None:
        limits = found.exposure
        rows = [
            ("mean", f"{limits.mean:g}", _cited(limits.mean_basis)),
            ("peak", f"{limits.peak:g}", _cited(limits.peak_basis)),
        ]
        hours = listed(code(word.value) for word in limits.hours)
        yield f"## Relative exposure\n\n{table(('of the settled week', 'most', 'source'), rows)}"
        yield f"The mean counts hours that are {hours}.\n"


def _levels(levels: Sequence[Level]) -> str:
    rows = []
    for level in levels:
        if level.by_main_rooms:
            held = f"by main rooms, from one: {', '.join(map(str, level.by_main_rooms))}; the last for more"
        elif level.airflow_per_area is not None:
            held = f"{level.airflow_per_area} for each {level.area}"
        else:
            held = f"{level.share or 0.0:.0%} of the rate"
        needs = code(level.credit) if level.credit is not None else "none"
        rows.append((code(level.occupancy.value), held, needs, _cited(level.basis)))
    return table(("occupancy", "at every moment", "credit needed", "source"), rows)


def _form(form: LeakageForm) -> str:
    assumed = (
        f"; less what the rate assumes already, {form.assumed} for each {form.assumed_area}" if form.assumed else ""
    )
    return f"NL x wsf x {form.airflow} x {_AREA} / {form.area}, with Hr = {form.reference_height}{assumed}"


def _infiltration(credit: Infiltration) -> str:
    exponent = f"{credit.height_exponent:g}"
    rows = [
        ("normalized leakage", f"NL = 1000 x leakage area / {_AREA} x (H / Hr)^{exponent}"),
        ("reference pressure of the leakage area", str(credit.reference_pressure)),
        ("exponent of the leakage curve where the test gave none", f"{credit.exponent:g}"),
        ("density of air", f"{credit.air_density:g} kg/m3"),
    ]
    for name, form in (("infiltration", credit.form), ("the same for jobs in metric units", credit.metric_form)):
        if form is not None:
            rows.append((name, _form(form)))
    rows += [
        ("share that counts", f"{credit.share:.0%}"),
        ("most of the total rate", f"{credit.cap:.1%}" if credit.cap is not None else "no limit"),
        ("together with the fans", _SUPERPOSED[credit.superposition]),
        ("attached dwellings", "none counts" if credit.detached_only else "as others"),
        ("exterior part of the boundary", "multiplies it" if credit.exterior_part else "not looked at"),
        ("credit to be claimed", code(credit.credit) if credit.credit is not None else "none"),
    ]
    if credit.untested_air_changes is not None:
        rows.append(("without a test", f"{credit.untested_air_changes:g} air changes per hour at 50 Pa"))
    sources = f"{_where(credit.basis)}\n\n{_where(credit.chain_basis)}\n"
    return f"{table(('part', 'value'), rows)}\n{sources}"


def _system(found: Code) -> Iterator[str]:
    """Yield the sections on what the system is and what is taken off for it."""
    if found.quality is not None:
        quality = found.quality
        rows = [
            ("balanced", f"{quality.balanced_distributed:g}", f"{quality.balanced:g}"),
            ("not balanced", f"{quality.distributed:g}", f"{quality.neither:g}"),
        ]
        shown = table(("factor on the rate", "distributed", "not distributed"), rows)
        yield f"## System coefficient\n\nConditions: {quality.conditions}.\n\n{shown}\n{_where(quality.basis)}\n"
    said = []
    for name, credit in found.credits.items():
        what = "It opens a lower rate of its own." if credit.factor == 1.0 else f"The rate x {credit.factor:g}."
        tested = f" Tested: {listed(code(need.value) for need in credit.needs)}." if credit.needs else ""
        said.append(
            f"{code(name)}: {credit.title}. {what} Condition: {credit.conditions}.{tested}\n\n{_where(credit.basis)}\n"
        )
    yield f"## Credits\n\n{''.join(said) or 'None.'}\n"
    if found.infiltration is not None:
        yield f"## Infiltration\n\n{_infiltration(found.infiltration)}"
    yield "## Balanced\n"
    if found.balanced is None:
        yield "The file has no definition; common practice is used.\n"
    else:
        within = f", or a difference of {found.balanced.or_within}" if found.balanced.or_within is not None else ""
        most = f"{code(found.balanced.test.value)}, at most {found.balanced.fraction:.0%}{within}."
        yield f"{most} {_where(found.balanced.basis)}\n"
    if found.must_balance is not None:
        yield f"A balanced system is asked for. {_where(found.must_balance)}\n"


def _beside(found: Code) -> Iterator[str]:
    """Yield the sections on what is asked beside the rate."""
    if found.total is not None:
        yield "## Capacity of all fans\n\nOf the ventilator and the fans of rooms together.\n"
        yield from _rate(found.total)
    if found.local_exhaust:
        rows = [
            (
                listed(code(kind.value) for kind in local.rooms),
                str(local.demand),
                str(local.continuous) if local.continuous is not None else "not offered",
                _cited(local.basis),
            )
            for local in found.local_exhaust
        ]
        yield f"## Local exhaust\n\n{table(('rooms', 'on demand', 'or all the time', 'source'), rows)}"
    if found.recovery:
        rows = [
            (
                listed(recovery.zones) if recovery.zones else "everywhere",
                f"{recovery.sensible:.0%}",
                str(recovery.at) if recovery.at is not None else "not said",
                _cited(recovery.basis),
            )
            for recovery in found.recovery
        ]
        yield f"## Recovery\n\n{table(('climate zones', 'sensible, at least', 'at outdoors', 'source'), rows)}"
    if found.efficacy is not None:
        asked = f"At least {found.efficacy.airflow} for each {found.efficacy.power} of both fans."
        yield f"## Fan efficacy\n\n{asked} {_where(found.efficacy.basis)}\n"
    if found.oversize is not None:
        size = found.oversize
        asked = f"A unit larger than the rate by more than {size.beyond:.0%} must also run within {size.within:.0%}."
        yield f"## Oversize\n\n{asked} {_where(size.basis)}\n"


def _rooms(rooms: Iterable[Room]) -> str:
    counts = Counter(f"{room.kind.value}{f' of {room.area}' if room.area else ''}" for room in rooms)
    return ", ".join(f"{count} x {name}" if count > 1 else name for name, count in counts.items())


def _dwelling(example: Example) -> str:
    said = [
        f"{example.floor_area}, {example.bedrooms} {_COUNTED[Columns.BEDROOMS][example.bedrooms != 1]}",
        f"{example.occupants} occupants" if example.occupants is not None else "",
        f"{example.main_rooms} {_COUNTED[Columns.MAIN_ROOMS][example.main_rooms != 1]}" if example.main_rooms else "",
        _rooms(example.rooms),
        f"by {_WAYS.get(example.route.value, example.route.value)}" if example.route is not None else "",
        f"credits {listed(map(code, example.credits))}" if example.credits else "",
        "" if example.balanced else "not balanced",
        "distributed" if example.distributed else "",
    ]
    return "; ".join(part for part in said if part)


def _examples(found: Code) -> str:
    rows = [
        (
            _dwelling(example),
            str(example.airflow),
            _worked(found, example),
            f"{example.tolerance:.1%}",
            example.source,
        )
        for example in found.examples
    ]
    return table(("dwelling", "expected", "worked out", "tolerance", "source"), rows)


def _worked(found: Code, example: Example) -> str:
    try:
        return str(Airflow.shown(worked(found, example), example.airflow.unit))
    except UnknownRequirementError:  # a file of one's own may say too little of its own example
        return "cannot be told"


def code_page(found: Code, guide: str = "") -> str:
    """Return the page of one code as Markdown.

    Args:
        found: The code.
        guide: Where the guide to codes lies, for links to it; none are made without it.
    """
    found = inert(found)  # it may come from a file of anybody's
    kind = code(found.kind.value)
    known = well_known(found)
    about = [
        ("edition", found.edition),
        ("where", found.jurisdiction),
        ("kind", f"[{kind}]({guide}#how-a-code-is-judged)" if guide else kind),
        ("clauses", f"{known}; see [How each figure is known]({guide}#how-each-figure-is-known)" if guide else known),
    ]
    held = listed(code(word.value) for word in found.judged) or "A capacity is asked for, in no hours of its own"
    parts = [f"# {code(found.code)}\n\n{found.title}.\n", table(("about", "this code"), about)]
    parts += [f"{found.note}\n"] if found.note else []
    parts += ["## Rate\n", *_rate(found.rate)]
    if found.metric_rate is not None:
        parts += ["## Rate of jobs in metric units\n", *_rate(found.metric_rate)]
    parts += [
        *_timing(found),
        f"## Airflow that counts\n\n{code(found.counts.value)}. {_where(found.counts_basis)}\n",
        f"## Occupancies in which it is held\n\n{held}. {_where(found.judged_basis)}\n",
        *_system(found),
        *_beside(found),
    ]
    if found.examples:
        parts.append(f"## Examples\n\nThe file must reproduce them.\n\n{_examples(found)}")
    return "\n".join(parts)
