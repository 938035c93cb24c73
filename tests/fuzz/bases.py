"""Sound and faulty documents to start from, and what is put into them."""

from functools import cache
from pathlib import Path
from typing import Final

from tests.codes.trees import text_of
from tests.files.samples import AWKWARD, CATALOG, SOUND
from ventrules.engine.findings import Document
from ventrules.files import load_text
from ventrules.files.resources import packaged

EXAMPLES: Final = Path(__file__).parents[2] / "examples"

# The place of a name in these lists is part of what a saved input means: add at the end only.
JOBS: Final = (
    "", "sound/number-11.json", "sound/number-26.yaml", "sound/number-38.yaml", "faulty/conductors-crossed.yaml",
    "faulty/ring-of-cables.yaml", "faulty/credit-not-earned.yaml", "faulty/comes-home-to-stale-air.yaml",
    "faulty/three-under-one-screw.yaml", "faulty/same-address-twice.yaml", "faulty/too-little-voltage-left.yaml",
    "faulty/two-bridges.yaml", "faulty/fan-does-not-turn.yaml", "faulty/out-of-balance.yaml",
    "faulty/terminator-in-the-middle.yaml", "faulty/night-without-cooling-program.yaml",
)  # fmt: skip
CODES: Final = (
    "us-irc-2021", "ashrae-62.2-2016", "ashrae-62.2-2022", "gb-eng-2021", "fr-1982", "csa-f326", "us-mn", "fi-2018",
    "de-din-1946-6-2009", "nl-2012", "dk-br18", "us-wa-2021", "ca-on-332-12", "us-fl-2023",
)  # fmt: skip

WORDS: Final[tuple[Document, ...]] = (
    "70 cfm", "0 cfm", "-1 cfm", "1e308 cfm", "5e-324 L/s", "70", "-1 ft", "1e9 m", "0 m", "18 AWG", "0000 AWG",
    "40 AWG", "1e-9 mm2", "demo", "demo-erv-130", "demo-control", "demo-interface", "demo-zone-panel-plain",
    "demo-furnace", "demo-heat-pump", "ventilator.bus", "control.system", "module.ventilator", ".", "a.", "managed",
    "day", "night", "heating", "cooling", "low", "high", "06:00", "24:00", "00:00", "every-day", "weekdays",
    "us-irc-2021", "ashrae-62.2-2016", "gb-eng-2021", "fr-1982", "occupied", "standby", "unoccupied", "../x.yaml",
    "90 days", "0 min", "60 min", "1e300 h", "-459.67 degF", "1e308 degC", "0 degF", "24 V", "0 V", "1e-300 V",
    "40 VA", "0 VA", "1e308 VA", "0.4 inwg", "0 Pa", "1e-320 Pa", "120 ohm", "0 ohm", "2150 ft2", "0 m2", "1e300 m2",
    "8.5 ft", "100 %", "0 %", "\ud800", "=1+1", "<script>", "\x1b[2J", "\u202e", "]]>", "`|`", "\n::error::", "data+",
    "data-", "supply", "common", "white", "2026-02-30", "2026-03-01", None, True, False, 0, 1, -1, 2, 3, 1.5, 0.0,
    -0.0, 1e308, 5e-324, 10**40, 2**63, [], {}, [[]], [{}], {"": {}}, [None], ["demo", "demo"], {"low": "45 min"},
    {"model": "demo-erv-130"}, {"heating": {}, "cooling": {}}, {"supply": "1 cfm", "exhaust": "1 cfm"}, *AWKWARD,
)  # fmt: skip
"""What is put in: quantities at their ends, names that exist, text that does harm, any kind of value."""


POLICY: Final = """\
ventrules-policy = 1
packs = ["ventrules"]
baseline = "baseline.json"
fail_at = "warning"
fail_unchecked = true
paths = ["jobs"]
leave_out = ["jobs/old/**", "*.json"]
workers = 2
catalogs_outside = false

[severity]
airflow = "warning"
"wiring/ring" = "left-out"

[limits.surplus]
margin = 0.5
basis = { title = "the house rule", known = "common practice" }

[[accepted]]
rule = "wiring/no-path-to-controller"
reason = "drawn before the cable was run"
until = 2026-06-30
place = "devices / ventilator"
files = ["jobs/*.yaml"]

[[accepted]]
rule = "airflow/below-target"
reason = "agreed"
"""


@cache
def job_text(number: int) -> str:
    """Return the text of a job to start from."""
    name = JOBS[number]
    return (EXAMPLES / name).read_text(encoding="utf-8") if name else SOUND


@cache
def catalog_text(number: int) -> str:
    """Return the text of a catalog to start from: the packaged one, or a small one."""
    return CATALOG if number else packaged("catalogs", "demo.yaml").read_text(encoding="utf-8")


@cache
def code_text(number: int) -> str:
    """Return the text of a packaged code to start from."""
    return text_of(CODES[number])


@cache
def document(text: str) -> Document:
    """Return the document of a sound text; whoever changes it has to copy it."""
    return load_text(text, "<text>")
