"""The quick reading accepts what the thorough one accepts, and makes the same of it."""

import tomllib
from copy import deepcopy
from typing import Any, Final

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ventrules.codes import Code
from ventrules.engine.findings import Document
from ventrules.files import load_text
from ventrules.files.quick import quick
from ventrules.files.resources import bus_profile_names, catalog_names, code_names, packaged
from ventrules.files.shapes import structure, unstructure
from ventrules.files.thorough import structured
from ventrules.job import BusProfile, Catalog, Job
from ventrules.testing import job_documents

ODD: Final[tuple[Document, ...]] = (
    None,
    True,
    False,
    0,
    1,
    -1,
    3.0,
    0.5,
    10_001,
    "",
    "managed",
    "low",
    "occupied",
    "70 cfm",
    "30 ft",
    "2027-06-30",
    [],
    ["demo"],
    {},
    {"low": "45 min"},
    {"from": "a", "to": "b"},
)
READINGS: Final[dict[str, Document]] = {
    "notes": "as built",
    "readings": {"ventilator": {"low": {"supply": "68 cfm", "exhaust": "71 cfm"}}},
    "indicators": {"ventilator": {"status": 3, "link": "steady"}},
}


def agree(document: object, shape: type) -> object:
    """Return what both readings make of a document: the model, or nothing."""
    thorough: object = structured(document, shape)  # type: ignore[arg-type]
    try:
        model = quick(document, shape)
    except Exception:
        model = None
    if isinstance(thorough, list):
        assert thorough, "refused without a word"
        assert model is None, (model, thorough)
    else:
        assert model == thorough
        assert isinstance(model, shape)
    return model


def places(part: object) -> list[tuple[Any, Any]]:
    """Return each mapping or list of a document with each of its keys or indexes."""
    pairs = list(part.items()) if isinstance(part, dict) else list(enumerate(part)) if isinstance(part, list) else []
    return [(part, key) for key, _inner in pairs] + [place for _key, inner in pairs for place in places(inner)]


@pytest.mark.parametrize("name", catalog_names())
def test_packaged_catalogs(name: str) -> None:
    document = load_text(packaged("catalogs", f"{name}.yaml").read_text(encoding="utf-8"), f"{name}.yaml")
    assert isinstance(document, dict)
    assert agree({key: part for key, part in document.items() if key != "ventrules-catalog"}, Catalog) is not None


@pytest.mark.parametrize("name", code_names())
def test_packaged_codes(name: str) -> None:
    document = tomllib.loads(packaged("codes", f"{name}.toml").read_text(encoding="utf-8"))
    del document["ventrules-code"]
    assert agree(document, Code) is not None


@pytest.mark.parametrize("name", bus_profile_names())
def test_packaged_bus_profiles(name: str) -> None:
    document = tomllib.loads(packaged("buses", f"{name}.toml").read_text(encoding="utf-8"))
    agree({key: part for key, part in document.items() if not key.startswith("ventrules")}, BusProfile)


@settings(max_examples=40)
@given(st.data())
def test_jobs_with_whatever_in_them(data: st.DataObject) -> None:
    document = deepcopy({**data.draw(job_documents()), **READINGS})
    del document["ventrules"]
    sound = agree(document, Job)
    assert isinstance(sound, Job)
    assert agree(unstructure(sound), Job) == sound
    for _change in range(data.draw(st.integers(1, 3))):
        where, key = data.draw(st.sampled_from(places(document)))
        what = data.draw(st.sampled_from(["put", "put", "drop", "add"]))
        if what == "put":
            where[key] = deepcopy(data.draw(st.sampled_from(ODD)))
        elif what == "drop":
            del where[key]
        elif isinstance(where, dict):
            where[data.draw(st.sampled_from(["spare", "low", "model", "out"]))] = "day"
        else:
            where.append(deepcopy(data.draw(st.sampled_from(ODD))))
        agree(document, Job)


@pytest.mark.parametrize("document", ODD, ids=repr)
def test_what_is_no_job_at_all(document: Document) -> None:
    assert agree(document, Job) is None
    assert isinstance(structure(document, Job), list)
