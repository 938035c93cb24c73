"""What this site makes from the package itself: rule pages, code pages and tables.

Pages are written beside the others before a build; git does not keep them. Tables take the place of blocks
that name them:

    ```{generated} units
    ```
"""

import re
from collections.abc import Callable, Iterator, Mapping
from inspect import Parameter, getdoc, isfunction, signature
from io import StringIO
from pathlib import Path
from typing import Final

from _keys import key_tables

import ventrules
from ventrules import Outcome, Registry, check, job_from_document
from ventrules.codes import Balanced, Code
from ventrules.engine import ENGINE_FINDINGS, AnyRule
from ventrules.engine.pages import load_page
from ventrules.files import conductor_roles, limits, load_bus_profile, load_code, load_text, stations
from ventrules.files.bounds import LONGEST_TEXT, MOST_IN_CATALOG, MOST_IN_JOB, MOST_MODES, MOST_VALUES
from ventrules.files.resources import bus_profile_names, code_names, packaged
from ventrules.files.texts import LARGEST_BYTES
from ventrules.files.toml_text import LARGEST_CHARACTERS
from ventrules.files.yaml_text import DEEPEST, MOST_ALIASED
from ventrules.job import BusProfile, Catalog, Job
from ventrules.outputs import PlainPaper, TextWriter
from ventrules.outputs.code_page import code_page, well_known
from ventrules.outputs.codes_list import window
from ventrules.outputs.markdown import block, code, table
from ventrules.rules import PACK
from ventrules.sources import Basis, Known
from ventrules.survey import Survey
from ventrules.testing import merged
from ventrules.units import KINDS, AwgUnit, Quantity, Unit
from ventrules.words import listed

RULES: Final = Registry.build([(PACK.name, PACK.rules)], PACK.families)  # ours alone, whatever else is installed
PAGE_FOLDERS: Final = ("rules", "codes")
CODES_GUIDE: Final = "../codes.md"
_MARKER: Final = re.compile(r"^```\{generated\} ([a-z-]+)\n```$", re.MULTILINE)
_RULE_NAMED: Final = re.compile(r"`([a-z]+(?:-[a-z]+)*/[a-z0-9-]+)`")
_WIDTH: Final = 96

HOW_KNOWN: Final[Mapping[Known, str]] = {
    Known.SEEN: "Read in the text itself, or in an adopted copy of it.",
    Known.SECOND_HAND: "Read in somebody else's statement of the text.",
    Known.FROM_MEMORY: "Recalled, not looked up. Verify it before you rely on it.",
    Known.COMMON_PRACTICE: "A fact of the trade without a published figure.",
    Known.CATALOG: "From the entry of the model in one of the job's catalogs.",
    Known.JOB: "From the job file.",
    Known.PER_FINDING: "It depends on the job: each finding names its own clause.",
}


def page_name(rule: str) -> str:
    """Return the name of a rule's page."""
    return rule.replace("/", "-")


def _link(rule: str, folder: str = "") -> str:
    return f"[{code(rule)}]({folder}{page_name(rule)}.md)"


def _linked(text: str) -> str:
    known = {rule.id for rule in RULES}
    return _RULE_NAMED.sub(lambda match: _link(match[1]) if match[1] in known else match[0], text)


def report_on(patch: str) -> str:
    """Return what the command says about the base job of the pages with a patch applied."""
    base = load_text(packaged("rules/pages", "base.yaml").read_text(encoding="utf-8"), "base.yaml")
    document = merged(base, load_text(patch, "patch.yaml"))
    if not isinstance(document, dict):
        raise TypeError("a patch turns the base job into something that is no mapping")
    stream = StringIO()
    writer = TextWriter(PlainPaper(stream, _WIDTH))
    writer.write(Outcome("job.yaml", check(job_from_document(document), registry=RULES)))
    return stream.getvalue()


def rule_page(rule: AnyRule[Survey]) -> str:
    """Return the page of one rule."""
    page = load_page(PACK.pages, rule.id)
    cautions = "".join(f"- {caution}\n" for caution in rule.cautions)
    parts = [
        f"# {code(rule.id)}\n\n{rule.title}.\n",
        table(("severity", "since", "basis"), [(rule.severity.value, rule.since, str(rule.basis))]),
        f"## Meaning\n\n{_linked(page.meaning)}\n",
        f"## At fault\n\nWhat differs from [the base job](index.md#the-base-job):\n\n{block('yaml', page.bad)}",
        f"What `ventrules check` says:\n\n{block('text', report_on(page.bad))}",
        f"## Put right\n\n{block('yaml', page.good)}\n{block('text', report_on(page.good))}",
        f"## Not seen\n\n{_linked(page.unseen)}\n",
        f"## Cautions\n\n{cautions}\nMore under [Cautions](../cautions.md).\n" if cautions else "",
    ]
    return "\n".join(part for part in parts if part)


def rules_table() -> str:
    """Return the table of rules."""
    rows = [(_link(rule.id), rule.severity.value, rule.title, rule.since) for rule in RULES]
    return table(("rule", "severity", "what it finds", "since"), rows)


def engine_findings() -> str:
    """Return what the engine itself may report."""
    rows = [(code(name), text.partition("\n\n")[2]) for name, text in ENGINE_FINDINGS.items()]
    return table(("finding", "meaning"), rows)


def codes_table() -> str:
    """Return the table of the codes that come with the package."""
    rows = []
    for name in code_names():
        found = load_code(name)
        link = f"[{code(name)}](codes/{name}.md)"
        about = (found.title, found.edition, found.jurisdiction, code(found.kind.value))
        rows.append((link, *about, window(found), well_known(found)))
    return table(("name", "publication", "edition", "where", "kind", "window", "clauses"), rows)


def _in_si(unit: Unit, si: str) -> str:
    if isinstance(unit, AwgUnit):
        return "No. n: area of d = 0.127 mm x 92^((36 - n) / 39)"
    if unit.shift:
        scale = f" x {unit.scale:.9g}" if unit.scale != 1.0 else ""
        return f"(n + {unit.shift:g}){scale} {si}"
    return f"{unit.scale:.9g} {si}"


def _bounds(kind: type[Quantity]) -> str:
    least = f"{kind.lowest:g} {kind.si_unit}"
    most = f" to {kind.highest:g} {kind.si_unit}" if kind.highest < Quantity.highest else " or more"
    return f"{least}{most}" if kind.lowest_allowed else f"more than {least}"


def units_table() -> str:
    """Return the table of units."""
    rows = []
    for kind in KINDS:
        about = (kind.kind.partition(" ")[2], _bounds(kind))
        for name, unit in kind.units.items():
            rows.append((about[0], code(name), _in_si(unit, kind.si_unit), about[1]))
            about = ("", "")
    return table(("kind", "unit", "in SI", "bounds"), rows)


def reading_limits_table() -> str:
    """Return the limits that reading a file sets."""
    return table(
        ("limit", "value"),
        [
            ("size of a file", f"{LARGEST_BYTES // 1024 // 1024} MiB"),
            ("size of a code file", f"{LARGEST_CHARACTERS // 1024} KiB"),
            ("values in a file: keys, and items of lists", f"{MOST_VALUES:,}"),
            ("values in a catalog", f"{MOST_IN_CATALOG:,}"),
            ("values in a job", f"{MOST_IN_JOB:,}"),
            ("modes in a job", f"{MOST_MODES:,}"),
            ("characters of a text in a job or a catalog", f"{LONGEST_TEXT:,}"),
            ("levels of nesting in YAML", str(DEEPEST)),
            ("values that YAML aliases may repeat, all together", f"{MOST_ALIASED:,}"),
        ],
    )


def _found_in(test: Balanced) -> Basis:
    """Return the basis of one of the published definitions of balanced."""
    return Basis(test.basis.title, test.basis.known, test.basis.clause, test.basis.note)


def practice_table() -> str:
    """Return the limits of common practice."""
    found = limits()
    spans, share, own, fresh = found.filter_interval, found.surplus, found.own_target, found.exposure
    rows = [
        ("filter reminder", f"{spans.least} to {spans.most}, usual {spans.usual}", spans.basis),
        ("cycle of programs, where nothing names one", str(found.cycle.usual), found.cycle.basis),
        ("surplus over the target that is let pass", f"{share.margin:.0%}", share.basis),
        (
            "relative exposure, where the code does not ask for it",
            f"mean at most {fresh.most:g}; recovered at {fresh.recovered:g}",
            fresh.basis,
        ),
        (
            "balance, where the code has no definition",
            f"{code(found.balance.test.value)}, {found.balance.fraction:.0%}",
            Basis(found.balance.basis.note, found.balance.basis.known),
        ),
        *(
            (f"balance by {code(test.test.value)}, shown beside", f"{test.fraction:.0%}", _found_in(test))
            for test in found.balance_tests
        ),
        (
            "a project's own target",
            f"counts {code(own.counts.value)}; held in {listed(code(word.value) for word in own.judged)}",
            own.basis,
        ),
    ]
    rows += _electrical_practice()
    return table(("what", "value", "basis"), [(what, value, str(basis)) for what, value, basis in rows])


def _electrical_practice() -> list[tuple[str, str, Basis]]:
    found = limits()
    copper, window, meter, limited = found.copper, found.voltage_window, found.measuring, found.power_limited
    return [
        (
            "copper",
            f"{copper.resistivity_ohm_m:.4g} ohm m at {copper.reference}, {copper.coefficient_per_k} per K",
            copper.basis,
        ),
        ("stranded conductors resist more", f"x {copper.stranding:g}", copper.stranding_basis),
        ("temperature of conductors, where the job tells none", str(copper.ambient), copper.ambient_basis),
        (
            "voltage at a device, where its catalog entry has no window",
            f"{window.lowest:.0%} to {window.highest:.0%} of the nominal voltage",
            window.basis,
        ),
        (
            "class 2 source",
            f"at most {limited.power} and {limited.current} at up to {limited.voltage}",
            limited.basis,
        ),
        (
            "accuracy of airflow, where the job tells none",
            f"{meter.airflow_of_reading:.0%} of the reading, at least {meter.airflow_at_least}",
            meter.basis,
        ),
        (
            "accuracy of voltage, where the job tells none",
            f"{meter.voltage_of_reading:.0%} of the reading + {meter.voltage_plus}",
            meter.basis,
        ),
        (
            "voltage of a source that was not measured",
            f"{meter.source_lowest:.1%} to {meter.source_highest:.1%} of its nominal voltage",
            meter.source_basis,
        ),
        ("lost at screws and splices", f"up to {meter.at_connections:.0%} of the nominal voltage", meter.basis),
        (
            "a measured voltage that counts as none",
            f"less than {meter.absent_below:.0%} of the lowest at which the device works",
            meter.absent_basis,
        ),
        ("a unit may be away from its rated airflow by", f"{meter.from_rating:.0%}", meter.basis),
    ]


def conductor_roles_table() -> str:
    """Return the table of the usual conductor roles."""
    rows = [
        (code(name), role.carries.value, "yes" if role.needed else "no") for name, role in conductor_roles().items()
    ]
    return table(("role", "carries", "needed in a cable between ports that have it"), rows)


def bus_profiles_table() -> str:
    """Return, for each packaged bus profile, the table of what it asks."""
    parts = []
    for name in bus_profile_names():
        profile = load_bus_profile(name)
        rows = [(what, value, str(basis or profile.basis)) for what, value, basis in _asked_of_a_bus(profile)]
        parts.append(f"{code(name)}: {profile.title}.\n\n{table(('what', 'value', 'basis'), rows)}")
    return "\n".join(parts)


def _asked_of_a_bus(profile: BusProfile) -> Iterator[tuple[str, str, Basis | None]]:
    yield "layout", code(profile.layout.value), profile.layout_basis
    if (trunk := profile.trunk) is not None:
        size = f", from {trunk.thinnest} on" if trunk.thinnest is not None else ""
        yield "line, from end to end", f"at most {trunk.longest}{size}", trunk.basis
    if (stubs := profile.stubs) is not None:
        shared = f"; of n at one place each {stubs.shared} / n" if stubs.shared is not None else ""
        yield "stub", f"at most {stubs.longest}{shared}", stubs.basis
    if (loads := profile.loads) is not None:
        counted = ((loads.devices, "devices"), (loads.unit_loads, "unit loads"))
        most = [f"{number:g} {what}" for number, what in counted if number is not None]
        yield "load", f"at most {listed(most)}", loads.basis
    for what, part in (("terminators", profile.termination), ("bias resistors", profile.bias)):
        if part is not None:
            count = f"{part.least}" if part.least == part.most else f"{part.least} to {part.most}"
            fewer = f"; {part.takes_devices} devices fewer" if part.takes_devices else ""
            yield what, f"at {count} places, {part.lowest} to {part.highest}{fewer}", part.basis
    if (addresses := profile.addresses) is not None:
        yield "address", f"{addresses.lowest} to {addresses.highest}, each once", addresses.basis
    if (shield := profile.shield) is not None:
        count = f"{shield.least}" if shield.least == shield.most else f"{shield.least} to {shield.most}"
        yield "shield", f"earthed at {count} places", shield.basis


def stations_table() -> str:
    """Return the table of weather stations."""
    found = stations()
    rows = [(code(number), station.name, f"{station.wsf:.2f}") for number, station in found.stations.items()]
    shown = table(("`weather_station`", "place", "wsf"), rows)
    basis = found.basis
    return f"{shown}\nSource: {basis.title}, {basis.clause} ({basis.known.value}). Note: {basis.note}.\n"


def known_table() -> str:
    """Return the ways in which a figure can be known."""
    return table(("mark", "meaning"), [(code(known.value), HOW_KNOWN[known]) for known in Known])


def _first_line(value: object) -> str:
    return (getdoc(value) or "").partition("\n")[0]


def public_names_table() -> str:
    """Return the table of the names in `ventrules`."""
    rows = []
    for name in sorted(set(ventrules.__all__) - {"__version__"}):
        value: object = getattr(ventrules, name)
        taken = f"({', '.join(_arguments(value))})" if isfunction(value) else ""
        rows.append((code(f"{name}{taken}"), _first_line(value)))
    return table(("name", "what it is"), rows)


def _arguments(function: Callable[..., object]) -> Iterator[str]:
    starred = False
    for argument in signature(function).parameters.values():
        if argument.kind is Parameter.KEYWORD_ONLY and not starred:
            starred = True
            yield "*"
        yield argument.name if argument.default is Parameter.empty else f"{argument.name}={argument.default!r}"


BLOCKS: Final[Mapping[str, Callable[[], str]]] = {
    "bus-profiles": bus_profiles_table,
    "catalog-keys": lambda: key_tables(Catalog),
    "code-keys": lambda: key_tables(Code),
    "codes": codes_table,
    "conductor-roles": conductor_roles_table,
    "engine-findings": engine_findings,
    "job-keys": lambda: key_tables(Job),
    "known": known_table,
    "practice": practice_table,
    "public-names": public_names_table,
    "reading-limits": reading_limits_table,
    "rules": rules_table,
    "stations": stations_table,
    "units": units_table,
}


def filled(text: str) -> str:
    """Return a page with its generated blocks in place.

    Raises:
        KeyError: A block of that name does not exist.
    """
    return _MARKER.sub(lambda match: BLOCKS[match[1]](), text)


def blocks_named(text: str) -> list[str]:
    """Return the names of the generated blocks of a page."""
    return _MARKER.findall(text)


def pages() -> dict[str, str]:
    """Return the generated pages, by their paths below the site's folder."""
    made = {f"rules/{page_name(rule.id)}.md": rule_page(rule) for rule in RULES}
    return made | {f"codes/{name}.md": code_page(load_code(name), CODES_GUIDE) for name in code_names()}


def write_pages(folder: Path) -> None:
    """Write the generated pages; remove those of rules and codes that are no more."""
    made = pages()
    for name in PAGE_FOLDERS:
        below = folder / name
        below.mkdir(exist_ok=True)
        for old in below.glob("*.md"):
            if old.name != "index.md" and f"{name}/{old.name}" not in made:
                old.unlink()
    for path, text in made.items():
        page = folder / path
        if not page.exists() or page.read_text(encoding="utf-8") != text:
            page.write_text(text, encoding="utf-8")
