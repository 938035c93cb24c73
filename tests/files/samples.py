"""What the tests of this folder share: a sound job, arbitrary documents, and ways to compare and to point."""

import json
from collections.abc import Iterator

from hypothesis import strategies as st

from ventrules.engine import Path
from ventrules.engine.findings import Document
from ventrules.files.marks import Mark

SOUND = """\
# Quarry Lane 7, as drawn
ventrules: 1
job: Quarry Lane 7
catalogs: [demo]
dwelling: {floor_area: 2150 ft2, bedrooms: 3, ceiling_height: 8.5 ft}
target: {code: us-irc-2021}
site: {winter_design: 5 degF, summer_design: 31 degC}
devices:
  control: {model: demo-control}
  furnace: {model: demo-furnace}
  module: {model: demo-interface}
  ventilator: {model: demo-erv-130}
cables:
  - {from: control.system, to: furnace.system, gauge: 18 AWG, length: 30 ft}
  - {from: furnace.system, to: module.system, gauge: 0.8 mm2, length: 2 m}
  - from: module.ventilator
    to: ventilator.bus
    gauge: 20 AWG
    length: 20 ft
    conductors: {data+: data+, data-: data-, supply: supply, common: common}
modes: {day: occupied, night: standby, out: unoccupied}
calendar:
  weekdays: {"06:00": day, "08:30": out, "17:00": day, "22:30": night}
  weekend:
    "07:30": day
    23:00: night
settings:
  ventilator:
    filter_reminder: 90 days
    outdoor_limits: {off_at_or_below: 0 degF, off_at_or_above: 100 degF}
    cycle: 60 min
    programs:
      day: {heating: {low: 45 min}, cooling: {low: 60 min}}
      night: {heating: managed, cooling: {low: 30 min, high: 10 min}}
      out: {heating: {}, cooling: {}}
readings:
  ventilator:
    low: {supply: 68 cfm, exhaust: 33.5 L/s}
notes: Drawn, not yet built.
"""

CATALOG = """\
ventrules-catalog: 1
catalog: slate works
models:
  wall:
    role: controller
    ports: {system: {bus: system-bus, dialects: [slate]}}
    programs: {cycle: 60 min, step: 5 min, stages_per_cycle: 2}
  box:
    role: ventilator
    kind: hrv
    ports: {bus: {bus: ventilator-bus, dialects: [pebble]}}
    stages: {low: {supply: 30 L/s, exhaust: 30 L/s}}
    outdoor_limits: {lowest: -25 degC, highest: 40 degC}
    filter_interval: {least: 60 days, usual: 90 days, most: 180 days}
"""

AWKWARD = (
    "off", "on", "no", "yes", "n", "Y", "true", "NULL", "null", "~", "", " ", "1", "-1", "012", "0o14", "0x1F", "1e3",
    ".5", "5.", "1_000", "06:00", "1:30:00", "2001-12-14", ".inf", "-.INF", ".nan", "=", "<<", "-", "- a", "?", "? a",
    ":", ": a", "a: b", "a:", "#", "a # b", "# a", "&a", "*a", "!a", "!!str a", "%a", "@a", "`a", "|", ">", "{", "}",
    "[", "]", ",", "'", '"', "it's", 'say "so"', "back\\slash", "\\n", "---", "...", "--- a", " leading", "trailing ",
    "two\nlines", "two\n\n  lines\n", "\nfirst", "last\n", "\n", "tab\there", "\t", "caf\u00e9", "\u6e29\u5ea6",
    "\U0001f300", "a\u0301", "\u00a0", "\u2028", "\u2029", "\ufeff", "\x00", "\x07", "\x7f", "\r", "a\r\nb",
    "x" * 200, "long words " * 20, "\ue000", "\ufffd",
)  # fmt: skip
"""Text that a careless writer or reader would take for something else."""

texts = st.one_of(st.sampled_from(AWKWARD), st.text(max_size=12))
scalars = st.one_of(st.none(), st.booleans(), st.integers(), st.floats(allow_nan=False, allow_infinity=False), texts)
documents: st.SearchStrategy[Document] = st.recursive(
    scalars,
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(texts, inner, max_size=4)),
    max_leaves=12,
)
"""Any JSON value."""

names = st.text(st.characters(min_codepoint=0x21, categories=["L", "N", "P", "S"]), min_size=1, max_size=8)
"""Text that prints: it stands in a file as it is, but for quotes and escapes of quotes."""
printed: st.SearchStrategy[Document] = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(-(10**9), 10**9), names),
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(names, inner, max_size=4)),
    max_leaves=16,
)
"""Any value made of what prints, to be found again in a text."""


def same(one: Document, other: Document) -> bool:
    """Equal in value and in type, all the way down: 1, 1.0 and true differ; so do 0.0 and -0.0."""
    return json.dumps(one) == json.dumps(other)


def parts(document: Document, path: Path = ()) -> Iterator[tuple[Path, Document]]:
    """Every part of a document with its path, from the top."""
    yield path, document
    if isinstance(document, dict):
        for key, value in document.items():
            yield from parts(value, (*path, key))
    elif isinstance(document, list):
        for index, value in enumerate(document):
            yield from parts(value, (*path, index))


def mark_of(text: str, piece: str) -> Mark:
    """The line and column of a piece that stands in the text once."""
    assert text.count(piece) == 1, f"{piece!r} stands {text.count(piece)} times"
    return mark_at(text, text.index(piece))


def mark_at(text: str, offset: int) -> Mark:
    """The line and column of an offset."""
    return Mark(text.count("\n", 0, offset) + 1, offset - (text.rfind("\n", 0, offset) + 1) + 1)


def rest_of_line(text: str, mark: Mark) -> str:
    """What a line says from a column on."""
    return text.split("\n")[mark.line - 1][mark.column - 1 :]


def starts_with_text(rest: str, value: str) -> bool:
    """Whether a line goes on with a text: plain, in double quotes (as JSON) or in single quotes."""
    single = "'" + value.replace("'", "''") + "'"
    return rest.startswith((value, json.dumps(value, ensure_ascii=False), single))


def starts_with_value(rest: str, value: Document) -> bool:
    """Whether a line goes on with a value: a scalar whole, a collection with its bracket or its first part."""
    if isinstance(value, str):
        return starts_with_text(rest, value)
    if isinstance(value, dict):
        return rest.startswith("{") or any(starts_with_text(rest, key) for key in value)
    if isinstance(value, list):
        return rest.startswith(("[", "- "))
    return rest.startswith(json.dumps(value))
