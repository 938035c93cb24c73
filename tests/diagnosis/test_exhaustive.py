"""The candidates are all the smallest sets of faults that agree with what was seen: against trying every set."""

from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from itertools import combinations
from typing import Final

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.diagnosis.homes import faulty_homes, home, part_of
from tests.diagnosis.plain import Plain, Shown
from ventrules import Symptoms, diagnose
from ventrules.diagnosis import FaultKind, SingleFault, faults_of, symptoms_of
from ventrules.job import Job

MODES: Final[Mapping[FaultKind, str]] = {
    FaultKind.OPEN: "open",
    FaultKind.CROSSED: "crossed",
    FaultKind.PAIR_SHORTED: "shorted",
    FaultKind.SUPPLY_SHORTED: "shorted",
}
SMALL: Final[Mapping[str, Job]] = {
    "a cable run twice": home(
        {"control": "demo-control", "furnace": "demo-furnace", "module": "demo-interface", "unit": "demo-erv-70"},
        "control.system to furnace.system",
        "furnace.system to module.system",
        "module.ventilator to unit.bus",
        "module.ventilator to unit.bus",
    ),
    "a ring": home(
        {"control": "demo-control", "furnace": "demo-furnace", "pump": "demo-heat-pump"},
        "control.system to furnace.system",
        "furnace.system to pump.system",
        "control.system to pump.system",
    ),
    "two sources and a panel": home(
        {
            "control": "demo-control",
            "furnace": "demo-furnace",
            "panel": "demo-zone-panel-fed",
            "feed": "demo-transformer-40",
            "unit": "demo-hrv-100",
        },
        "control.system to furnace.system",
        "furnace.system to panel.system",
        "feed.secondary to panel.power",
        "panel.ventilator to unit.bus",
    ),
}


def agrees(faults: Iterable[SingleFault], shown: Shown, symptoms: Symptoms) -> bool:
    """Whether a set of faults shows what was seen."""
    told = (
        (shown.powered, symptoms.powered),
        (shown.reachable, symptoms.reachable),
        (shown.voltages, symptoms.voltages),
    )
    if any(own[name] != works for own, seen in told for name, works in seen.items()):
        return False
    for cable, found in symptoms.conductors.items():
        for conductor, result in found.items():
            own = {MODES[f.kind] for f in faults if f.where == cable and conductor in f.conductors}
            if (own or {"through"}) != {result}:
                return False
    return True


def smallest(sets: Iterator[frozenset[SingleFault]]) -> set[frozenset[SingleFault]]:
    """The sets as large as the first one, of sets that come with the smallest ones first."""
    first = next(sets, None)
    found = set() if first is None else {first}
    for each in sets:
        if first is not None and len(each) > len(first):
            break
        found.add(each)
    return found


@cache
def plain(name: str, faults: frozenset[SingleFault]) -> Shown:
    return Plain(SMALL[name], faults).shown()


@pytest.mark.parametrize("name", SMALL)
@given(data=st.data())
def test_the_candidates_are_all_the_smallest_sets(name: str, data: st.DataObject) -> None:
    job = SMALL[name]
    every = faults_of(job)
    truth = data.draw(st.lists(st.sampled_from(every), min_size=1, max_size=2, unique=True))
    # what was measured of one conductor is one thing; two faults in one are not told apart
    symptoms = data.draw(part_of(symptoms_of(job, truth)))
    sets = (frozenset(some) for size in range(3) for some in combinations(every, size))
    expected = smallest(some for some in sets if agrees(some, plain(name, some), symptoms))
    found = diagnose(job, symptoms, most_faults=2)
    assert {frozenset(candidate.faults) for candidate in found.candidates} == expected - {frozenset()}
    assert len(found.candidates) == len(expected - {frozenset()})
    assert not found.cut_off or not expected


@given(st.data())
@settings(max_examples=25)
def test_the_single_candidates_of_any_job_are_all_there_are(data: st.DataObject) -> None:
    job, truth = data.draw(faulty_homes())
    symptoms = data.draw(part_of(symptoms_of(job, truth)))
    found = diagnose(job, symptoms)
    if not found.candidates:
        assert agrees((), Plain(job).shown(), symptoms)
        return
    expected = {fault for fault in faults_of(job) if agrees((fault,), Plain(job, (fault,)).shown(), symptoms)}
    assert {fault for candidate in found.candidates for fault in candidate.faults} == expected
    assert {len(candidate.faults) for candidate in found.candidates} == {1}
