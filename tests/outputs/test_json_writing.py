"""JSON text by our own writing: the same as the standard library's, and sound whatever a rule gives."""

import io
import json
import math
from pathlib import Path
from typing import Final

import attrs
from hypothesis import given
from hypothesis import strategies as st

from ventrules import Outcome, Tally, check_one, installed_rules
from ventrules.engine import Value
from ventrules.engine.findings import Document
from ventrules.outputs import Closing, report_writer
from ventrules.outputs.json_writing import compact, finite, harmless, pretty

FAULTY: Final = Path(__file__).parents[2] / "examples" / "faulty" / "too-little-air-in-winter.yaml"
LEAVES: Final = st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text()
DOCUMENTS: Final[st.SearchStrategy[Document]] = st.recursive(
    LEAVES, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3)
)


@given(DOCUMENTS)
def test_it_is_what_the_standard_library_writes(data: Document) -> None:
    assert pretty(data) == json.dumps(data, indent=2)
    assert finite(data) == data


@given(DOCUMENTS, st.sampled_from(["##[error]x", "##vso[a]##[b]", "\\##[c]", '"##[d]']))
def test_it_says_the_same_when_it_is_made_harmless(data: Document, text: str) -> None:
    whole: Document = [data, text, {text: text}]
    for out in (harmless(pretty(whole)), compact(whole)):
        assert json.loads(out) == whole
        assert "##[" not in out
        assert "##vso[" not in out


def test_numbers_that_are_not_finite_become_null() -> None:
    """A rule of another make may give them as evidence; JSON has none (RFC 8259, section 6)."""

    def refuse(name: str) -> None:
        raise AssertionError(name)

    outcome = check_one(FAULTY)
    assert outcome.report is not None
    evidence: dict[str, Value] = {"share": math.inf, "delivered": math.nan, "mode": "day"}
    findings = tuple(attrs.evolve(finding, evidence=evidence) for finding in outcome.report.findings)
    odd: Outcome = attrs.evolve(outcome, report=attrs.evolve(outcome.report, findings=findings))
    for form in ("json", "sarif"):
        stream = io.StringIO()
        writer = report_writer(form, stream, installed_rules())
        writer.write(odd)
        writer.close(Closing(Tally()))
        data = json.loads(stream.getvalue(), parse_constant=refuse)
        (finding,) = data["files"][0]["findings"] if form == "json" else data["runs"][0]["results"]
        found = finding["evidence"] if form == "json" else finding["properties"]["evidence"]
        assert found == {"share": None, "delivered": None, "mode": "day"}
