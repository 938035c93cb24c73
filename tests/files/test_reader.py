"""Files in: what can be wrong with a file as such, and where catalogs may lie."""

import json
from pathlib import Path
from typing import Final, NamedTuple

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from tests.files.samples import CATALOG, SOUND, mark_at, mark_of
from ventrules import read_job
from ventrules.engine import Path as DocumentPath
from ventrules.files import (
    JobFileError,
    Problem,
    decode,
    job_from_document,
    load_text,
    packaged_catalog,
    parse_catalog,
    parse_job,
    read_catalog,
    read_text,
)
from ventrules.files.texts import LARGEST_BYTES


def refused(error: pytest.ExceptionInfo[JobFileError]) -> Problem:
    """The one problem of an error."""
    (problem,) = error.value.problems
    return problem


def write(folder: Path, name: str, text: str) -> Path:
    file = folder / name
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text, encoding="utf-8")
    return file


# The file as such


@pytest.mark.parametrize("name", ["job.yaml", "job.yml", "job.json", "job.txt", "job"])
def test_a_job_is_read_from_a_file(tmp_path: Path, name: str) -> None:
    document = load_text(SOUND, "job.yaml")
    assert isinstance(document, dict)
    file = write(tmp_path, name, SOUND if name != "job.json" else json.dumps(document))
    for path in (file, str(file)):
        job = read_job(path)
        assert job == parse_job(SOUND) == job_from_document(document)
        assert job.origin is not None
        assert job.origin.name == str(file)
        assert job.origin.text == file.read_text(encoding="utf-8")


def test_a_byte_order_mark_and_windows_line_ends_do_not_count(tmp_path: Path) -> None:
    file = tmp_path / "job.yaml"
    file.write_bytes(b"\xef\xbb\xbf" + SOUND.replace("\n", "\r\n").encode())
    assert read_job(file) == parse_job(SOUND)


def test_a_missing_file(tmp_path: Path) -> None:
    with pytest.raises(JobFileError) as caught:
        read_job(tmp_path / "none.yaml")
    assert refused(caught).message == "no such file"
    assert str(caught.value) == f"{tmp_path / 'none.yaml'}: no such file"


def test_a_folder(tmp_path: Path) -> None:
    with pytest.raises(JobFileError) as caught:
        read_job(tmp_path)
    assert "is a folder" in refused(caught).message


@pytest.mark.parametrize("name", ["x" * 300, "nul\0.yaml", "file.yaml/job.yaml"])
def test_a_path_that_cannot_be_opened(tmp_path: Path, name: str) -> None:
    write(tmp_path, "file.yaml", SOUND)
    with pytest.raises(JobFileError) as caught:
        read_job(tmp_path / name)
    assert refused(caught).message


def test_a_file_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = write(tmp_path, "job.yaml", SOUND)

    def denied(*_args: object, **_named: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", denied)
    with pytest.raises(JobFileError) as caught:
        read_job(file)
    assert refused(caught).message == "cannot be read: Permission denied"
    assert refused(caught).file == str(file)


def test_a_link_that_leads_to_itself(tmp_path: Path) -> None:
    (tmp_path / "job.yaml").symlink_to("job.yaml")
    with pytest.raises(JobFileError) as caught:
        read_job(tmp_path / "job.yaml")
    assert refused(caught).message.startswith("cannot be read: ")


def test_a_file_that_is_too_large(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    size = len(SOUND.encode())
    file = write(tmp_path, "job.yaml", SOUND)
    monkeypatch.setattr("ventrules.files.texts.LARGEST_BYTES", size)
    assert read_job(file) == parse_job(SOUND)
    monkeypatch.setattr("ventrules.files.texts.LARGEST_BYTES", size - 1)
    with pytest.raises(JobFileError) as caught:
        read_job(file)
    assert refused(caught).message.startswith("larger than ")


def test_the_limit_is_the_documented_one() -> None:
    assert len(decode(b" " * LARGEST_BYTES, "job.yaml")) == 16 * 2**20
    with pytest.raises(JobFileError, match="larger than 16 MiB"):
        decode(b" " * (LARGEST_BYTES + 1), "job.yaml")


@given(st.text(), st.integers(0x80, 0xFF), st.booleans())
@example(before="a\n\nb", byte=0xFF, mark=True)
@example(before="a\n\nb", byte=0xFF, mark=False)
def test_bytes_that_are_no_utf_8_are_named_with_their_line(before: str, byte: int, mark: bool) -> None:
    data = (b"\xef\xbb\xbf" if mark else b"") + before.encode() + bytes([byte]) + b"\n"
    with pytest.raises(JobFileError) as caught:
        decode(data, "job.yaml")
    problem = refused(caught)
    line = before.count("\n") + 1
    assert problem.message.startswith(f"not UTF-8 text: byte 0x{byte:02x} on line {line};")


@pytest.mark.parametrize("encoding", ["utf-16", "utf-32", "latin-1"])
def test_other_encodings_are_refused(encoding: str) -> None:
    with pytest.raises(JobFileError):
        parse_job(decode((SOUND + "# \u00b2\n").encode(encoding), "job.yaml"), name="job.yaml")


# Catalogs


def with_catalogs(*names: str) -> str:
    return SOUND.replace("[demo]", "[" + ", ".join(("demo", *names)) + "]")


def test_a_packaged_catalog_is_found_by_name() -> None:
    job = parse_job(SOUND)
    assert job.catalogs == ("demo",)
    assert job.catalog.models == packaged_catalog("demo").models
    assert job.model_of("ventilator") is job.catalog.models["demo-erv-130"]


@pytest.mark.parametrize("name", ["own.yaml", "./own.yaml", "sub/own.yml", "sub/deep/own.json", "sub/../own.yaml"])
def test_a_catalog_is_found_beside_the_job(tmp_path: Path, name: str) -> None:
    document = load_text(CATALOG, "own.yaml")
    (tmp_path / "sub").mkdir()
    write(tmp_path, name, CATALOG if not name.endswith(".json") else json.dumps(document))
    text = with_catalogs(name).replace("demo-erv-130", "box").replace(", high: 10 min", "")
    job = read_job(write(tmp_path, "job.yaml", text))
    assert job.catalogs == ("demo", name)
    assert job.model_of("ventilator") == read_catalog(tmp_path / name).models["box"]
    assert "demo-furnace" in job.catalog.models


def catalog_problem(text: str, folder: Path, *, outside: bool = False) -> Problem:
    file = write(folder, "job.yaml", text)
    with pytest.raises(JobFileError) as caught:
        read_job(file, outside=outside)
    return refused(caught)


def test_a_missing_catalog_is_named_by_its_own_path(tmp_path: Path) -> None:
    problem = catalog_problem(with_catalogs("none.yaml").replace("demo-erv-130", "box"), tmp_path)
    assert problem.message == "no such file"
    assert problem.file == str((tmp_path / "none.yaml").resolve())


OUTSIDE: Final = ["../own.yaml", "sub/../../own.yaml", "{}/own.yaml", "link.yaml", "linked/own.yaml"]


@pytest.mark.parametrize("name", OUTSIDE)
def test_a_catalog_outside_the_jobs_folder_is_refused_until_it_is_allowed(tmp_path: Path, name: str) -> None:
    write(tmp_path, "own.yaml", CATALOG)
    folder = tmp_path / "jobs"
    (folder / "sub").mkdir(parents=True)
    (folder / "link.yaml").symlink_to(tmp_path / "own.yaml")
    (folder / "linked").symlink_to(tmp_path)
    name = name.format(tmp_path)
    text = with_catalogs(name)
    problem = catalog_problem(text, folder)
    assert "lies outside the job's folder" in problem.message
    assert problem.path == ("catalogs", 1)
    assert problem.position is not None
    assert (problem.position.line, problem.position.column) == mark_of(text, name)
    assert "box" in read_job(folder / "job.yaml", outside=True).catalog.models


def test_an_outside_catalog_is_not_even_looked_for(tmp_path: Path) -> None:
    problem = catalog_problem(with_catalogs("../none.yaml"), tmp_path / "jobs")
    assert "lies outside" in problem.message
    assert "no such file" not in problem.message


def test_a_link_inside_the_folder_is_followed(tmp_path: Path) -> None:
    write(tmp_path, "real.yaml", CATALOG)
    (tmp_path / "link.yaml").symlink_to("real.yaml")
    assert "box" in read_job(write(tmp_path, "job.yaml", with_catalogs("link.yaml"))).catalog.models


@pytest.mark.parametrize("name", ["loop.yaml", "'nul\\0.yaml'", "'\"\\0.yaml\"'", "x" * 300 + ".yaml"])
def test_a_catalog_path_that_cannot_be_followed_is_a_problem_of_the_job(tmp_path: Path, name: str) -> None:
    (tmp_path / "loop.yaml").symlink_to("loop.yaml")
    catalog_problem(with_catalogs(name), tmp_path)


def test_a_catalog_path_with_a_nul_is_refused(tmp_path: Path) -> None:
    problem = catalog_problem(with_catalogs('"a\\0.yaml"'), tmp_path)
    assert problem.path == ("catalogs", 1)
    assert "not a usable path" in problem.message


@pytest.mark.parametrize("name", ["own", "own.txt", "../own", "sub/"])
def test_what_is_neither_a_name_nor_a_path_is_refused(tmp_path: Path, name: str) -> None:
    problem = catalog_problem(with_catalogs(name), tmp_path)
    assert f"unknown catalog {name!r}" in problem.message
    assert "demo" in problem.message
    assert problem.path == ("catalogs", 1)


def test_without_a_folder_only_packaged_catalogs_are_known(tmp_path: Path) -> None:
    text = with_catalogs("own.yaml")
    write(tmp_path, "own.yaml", CATALOG)
    assert "box" in parse_job(text, folder=tmp_path).catalog.models
    with pytest.raises(JobFileError, match=r"unknown catalog 'own\.yaml'"):
        parse_job(text)


def test_catalogs_that_share_a_model_are_refused(tmp_path: Path) -> None:
    write(tmp_path, "own.yaml", CATALOG)
    write(tmp_path, "more.yaml", CATALOG.replace("wall", "other-wall"))
    problem = catalog_problem(with_catalogs("own.yaml", "more.yaml"), tmp_path)
    assert problem.message == "catalog 'more.yaml' repeats the models box"
    assert problem.path == ("catalogs", 2)


def test_a_broken_catalog_is_placed_in_its_own_file_and_nothing_else_is_said(tmp_path: Path) -> None:
    broken = CATALOG.replace("supply: 30 L/s", "supply: 30 l/m")
    write(tmp_path, "own.yaml", broken)
    text = with_catalogs("own.yaml").replace("demo-erv-130", "box").replace("low: 45 min", "slow: 45 min")
    problem = catalog_problem(text, tmp_path)
    assert "unknown unit 'l/m'" in problem.message
    assert problem.file == str((tmp_path / "own.yaml").resolve())
    assert problem.position is not None
    assert problem.position.file == problem.file
    assert (problem.position.line, problem.position.column) == mark_of(broken, "30 l/m")


def test_problems_of_the_job_are_said_beside_those_of_its_catalog(tmp_path: Path) -> None:
    write(tmp_path, "own.yaml", "ventrules-catalog: 1\ncatalog: own\nmodels: [")
    text = with_catalogs("own.yaml").replace("bedrooms: 3", "bedrooms: [3]").replace("day: occupied", "day: []")
    with pytest.raises(JobFileError) as caught:
        read_job(write(tmp_path, "job.yaml", text))
    files = [Path(problem.file).name for problem in caught.value.problems]
    assert sorted(files) == ["job.yaml", "job.yaml", "own.yaml"]


# What a catalog itself can have wrong


class CatalogFault(NamedTuple):
    """One change to the sound catalog; `▸` marks where its problem is to be placed."""

    old: str
    new: str
    path: DocumentPath
    said: str


WALL: Final = ("models", "wall")
BOX: Final = ("models", "box")
CATALOG_FAULTS: Final = {
    "no version": CatalogFault("ventrules-catalog: 1\n", "▸", (), "missing `ventrules-catalog: 1`"),
    "version": CatalogFault("catalog: 1\n", "catalog: ▸3\n", ("ventrules-catalog",), "expected 1"),
    "unknown key": CatalogFault("    kind: hrv", "    ▸knid: hrv", (*BOX, "knid"), "nearest is 'kind'"),
    "missing role": CatalogFault("  box:\n    role: ventilator\n", "  ▸box:\n", (*BOX, "role"), "missing"),
    "unknown role": CatalogFault("role: ventilator", "role: ▸ventilater", (*BOX, "role"), "nearest is 'ventilator'"),
    "unknown kind": CatalogFault("kind: hrv", "kind: ▸hvr", (*BOX, "kind"), "nearest is 'hrv'"),
    "unknown bus": CatalogFault("bus: system-bus", "bus: ▸system", (*WALL, "ports", "system", "bus"), "'system'"),
    "no stages": CatalogFault(
        "  box:\n    role: ventilator\n    kind: hrv\n    ports: {bus: {bus: ventilator-bus, dialects: [pebble]}}\n"
        "    stages: {low: {supply: 30 L/s, exhaust: 30 L/s}}\n",
        "  box:\n    ▸role: ventilator\n", BOX, "at least one stage",
    ),
    "no programs": CatalogFault(
        "    programs: {cycle: 60 min, step: 5 min, stages_per_cycle: 2}\n", "", WALL, "a controller needs `programs`",
    ),
    "step past the cycle": CatalogFault("step: 5 min", "step: 2 h", (*WALL, "programs"), "must fit into the cycle"),
    "no stage per cycle": CatalogFault("cycle: 2}", "cycle: 0}", (*WALL, "programs"), "at least one stage"),
    "no step": CatalogFault("step: 5 min", "step: ▸0 min", (*WALL, "programs", "step"), "more than 0 min"),
    "filter interval": CatalogFault("usual: 90", "usual: 190", (*BOX, "filter_interval"), "rising order"),
    "outdoor limits": CatalogFault("-25 degC", "45 degC", (*BOX, "outdoor_limits"), "lowest below highest"),
    "unknown port": CatalogFault("    kind: hrv", "    kind: hrv\n    not_together: [▸[bus, boss]]",
                                 (*BOX, "not_together", 0), "unknown port 'boss'"),
    "transfer in percent": CatalogFault("    kind: hrv", "    kind: hrv\n    exhaust_air_transfer: ▸5",
                                        (*BOX, "exhaust_air_transfer"), "from 0 to 1"),
    "transfer true": CatalogFault("    kind: hrv", "    kind: hrv\n    exhaust_air_transfer: ▸true",
                                  (*BOX, "exhaust_air_transfer"), "truth value true"),
    "recovery as text": CatalogFault("    kind: hrv", "    kind: hrv\n    recovery: {sensible: ▸'0.7'}",
                                     (*BOX, "recovery", "sensible"), "the text '0.7'"),
    "ventilators": CatalogFault("    kind: hrv", "    kind: hrv\n    ventilators: ▸1.5",
                                (*BOX, "ventilators"), "whole"),
    "syntax": CatalogFault("kind: hrv", "kind: ▸: hrv", (), "not valid YAML"),
    "key twice": CatalogFault("    kind: hrv", "    kind: hrv\n    ▸kind: erv", (*BOX, "kind"), "appears twice"),
}  # fmt: skip


def test_the_sound_catalog_is_sound() -> None:
    catalog = parse_catalog(CATALOG, "own.yaml")
    assert catalog.name == "slate works"
    assert set(catalog.models) == {"wall", "box"}


@pytest.mark.parametrize(
    ("old", "new"), [("usual: 90", "usual: 60"), ("usual: 90", "usual: 180"), ("step: 5 min", "step: 60 min")]
)
def test_a_catalog_may_reach_its_own_bounds(old: str, new: str) -> None:
    assert CATALOG.count(old) == 1
    assert parse_catalog(CATALOG.replace(old, new), "own.yaml").models.keys() == {"wall", "box"}


@pytest.mark.parametrize("fault", CATALOG_FAULTS.values(), ids=CATALOG_FAULTS.keys())
def test_each_fault_of_a_catalog_is_said_in_its_place(fault: CatalogFault) -> None:
    assert CATALOG.count(fault.old) == 1
    marked = CATALOG.replace(fault.old, fault.new)
    with pytest.raises(JobFileError) as caught:
        parse_catalog(marked.replace("▸", ""), "own.yaml")
    problem = refused(caught)
    assert problem.path == fault.path
    assert fault.said in problem.message
    assert problem.position is not None
    assert problem.position.file == "own.yaml"
    if "▸" in marked:
        assert (problem.position.line, problem.position.column) == mark_at(marked, marked.index("▸"))


def test_a_link_to_a_folder_is_a_folder(tmp_path: Path) -> None:
    (tmp_path / "linked.yaml").symlink_to(tmp_path)
    with pytest.raises(JobFileError, match="is a folder"):
        read_text(tmp_path / "linked.yaml")
