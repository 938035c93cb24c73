"""What jobs share: a calendar's week and a layout's topology are worked out once for homes of a district."""

import copy
import json

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.bench.sample import SIX_DEVICES, long_street
from ventrules import check, parse_job
from ventrules.engine.findings import Document
from ventrules.job import Job
from ventrules.survey import Survey, airing, exposure, mixes, topology, week
from ventrules.testing import job_documents

KEPT = (topology._laid_out, week._week_of, mixes._mixes, airing._blocks_of, exposure._made_up, exposure._unventilated)


def job(document: dict[str, Document]) -> Job:
    return parse_job(json.dumps(document), name="job.json")


def home(number: int) -> dict[str, Document]:
    """A home of a district: wired and set as the others, of another size and with longer cables."""
    document = copy.deepcopy(SIX_DEVICES)
    document["dwelling"] = {"floor_area": f"{1900 + number} ft2", "bedrooms": 3, "ceiling_height": "8.5 ft"}
    cables = document["cables"]
    assert isinstance(cables, list)
    first = cables[0]
    assert isinstance(first, dict)
    first["length"] = f"{10 + number} ft"
    return document


def test_homes_that_are_wired_and_used_alike_share_their_topology_and_week() -> None:
    one, other = Survey(job(home(1))), Survey(job(home(2)))
    assert one.topology is other.topology
    assert one.week is other.week
    assert one.cables[0].cable.length != other.cables[0].cable.length


def test_another_layout_or_calendar_is_not_shared() -> None:
    changed = home(1)
    cables, calendar = changed["cables"], changed["calendar"]
    assert isinstance(cables, list)
    assert isinstance(calendar, dict)
    changed["cables"] = cables[::-1]
    changed["calendar"] = {**calendar, "weekend": {"08:00": "day"}}
    one, other = Survey(job(home(1))), Survey(job(changed))
    assert one.topology.ends[0] == other.topology.ends[-1] != other.topology.ends[0]
    assert one.week != other.week


def test_another_model_under_the_same_name_is_another_layout() -> None:
    changed = home(1)
    devices = changed["devices"]
    assert isinstance(devices, dict)
    devices["ventilator"] = {"model": "demo-hrv-100"}
    one, other = Survey(job(home(1))), Survey(job(changed))
    assert one.topology is not other.topology
    assert other.topology.models["ventilator"] is other.models["ventilator"] is not one.models["ventilator"]


def test_large_jobs_are_not_kept() -> None:
    document = long_street(100)
    times: dict[str, Document] = {
        f"{minute // 60:02d}:{minute % 60:02d}": ("day", "night")[minute % 2] for minute in range(200)
    }
    document |= {"modes": {"day": "occupied", "night": "occupied"}, "calendar": {"every-day": times}}
    for one in KEPT:
        one.cache_clear()
    check(job(document))
    assert [one.cache_info().currsize for one in KEPT] == [0] * len(KEPT)


@given(st.data())
@settings(max_examples=25)
def test_a_report_does_not_depend_on_what_was_checked_before(data: st.DataObject) -> None:
    documents = [data.draw(job_documents()), home(data.draw(st.integers(0, 99)))]
    after_others = [check(job(document)) for document in documents * 2]
    for document, report in zip(documents * 2, after_others, strict=True):
        for one in KEPT:
            one.cache_clear()
        assert check(job(document)) == report
