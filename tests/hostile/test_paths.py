"""No path in a file leads out of its tree, whatever links there are; nothing that is no regular file is waited for."""

import os
import socket
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.cli.running import invoke, said
from tests.codes.county import county
from tests.files.samples import CATALOG, SOUND
from ventrules import JobFileError, check_many, read_job
from ventrules.files import read_text

SECRET: Final = CATALOG.replace("slate works", "not to be read").replace("  box:", "  secret box:")
MARK: Final = "secret box"


def job_with(name: str) -> str:
    return SOUND.replace("catalogs: [demo]", f"catalogs: [demo, {name!r}]")


def lay(folder: Path) -> Path:
    """Lay out a job's folder beside one that it must not reach; return the job's folder."""
    jobs, outside = folder / "jobs", folder / "outside"
    (jobs / "sub" / "deep").mkdir(parents=True)
    outside.mkdir()
    for place, text in ((jobs, CATALOG), (jobs / "sub", CATALOG), (outside, SECRET)):
        (place / "own.yaml").write_text(text, encoding="utf-8")
    (outside / "own.toml").write_text(county("capacity"), encoding="utf-8")
    (jobs / "link.yaml").symlink_to(outside / "own.yaml")
    (jobs / "relative.yaml").symlink_to("../outside/own.yaml")
    (jobs / "linked").symlink_to(outside)
    (jobs / "sub" / "up").symlink_to("../..")
    (jobs / "chain.yaml").symlink_to("sub/second.yaml")
    (jobs / "sub" / "second.yaml").symlink_to("../link.yaml")
    (jobs / "link.toml").symlink_to(outside / "own.toml")
    return jobs


def models_of(folder: Path, name: str, *, outside: bool = False) -> set[str] | str:
    """Return the models of a job that names a catalog, or what is said of it."""
    job = folder / "job.yaml"
    job.write_text(job_with(name), encoding="utf-8")
    try:
        return set(read_job(job, outside=outside).catalog.models)
    except JobFileError as error:
        return str(error)


LEAD_OUT: Final = [
    "../outside/own.yaml", "sub/../../outside/own.yaml", "./.././outside/own.yaml", "sub/../sub/../../outside/own.yaml",
    "link.yaml", "relative.yaml", "linked/own.yaml", "sub/up/outside/own.yaml", "linked/../outside/own.yaml",
    "chain.yaml", "sub/second.yaml", "linked/sub/../own.yaml", "../jobs/../outside/own.yaml", "//{}/outside/own.yaml",
    "{}/outside/own.yaml", "{}/jobs/../outside/own.yaml", "../jobs/link.yaml",
]  # fmt: skip


@pytest.mark.parametrize("name", LEAD_OUT)
def test_what_leads_out_is_refused_until_it_is_allowed(tmp_path: Path, name: str) -> None:
    jobs = lay(tmp_path)
    name = name.format(tmp_path)
    refused = models_of(jobs, name)
    assert isinstance(refused, str)
    assert "lies outside the job's folder" in refused
    assert MARK not in refused
    allowed = models_of(jobs, name, outside=True)
    assert "lies outside" not in allowed
    if (jobs / name).exists():
        assert MARK in allowed


@pytest.mark.parametrize("name", ["own.yaml", "sub/own.yaml", "sub/../own.yaml", "./own.yaml", "../jobs/own.yaml"])
def test_what_stays_within_is_read(tmp_path: Path, name: str) -> None:
    models = models_of(lay(tmp_path), name)
    assert "box" in models
    assert MARK not in models


@pytest.mark.parametrize(
    "name",
    [
        "OWN.YAML", "..\\outside\\own.yaml", "Link.yaml", "own.yaml/", "own.yaml/.", "~/own.yaml", "$HOME/own.yaml",
        "file:///own.yaml", "..", ".", "own.yaml\n", "%2e%2e/outside/own.yaml", "\uff0e\uff0e/outside/own.yaml",
        "..\u2215outside\u2215own.yaml",
    ],
)  # fmt: skip
def test_other_ways_to_write_a_path_reach_nothing_outside(tmp_path: Path, name: str) -> None:
    assert MARK not in models_of(lay(tmp_path), name)


_STEPS: Final = ("..", ".", "sub", "deep", "up", "linked", "link.yaml", "chain.yaml", "own.yaml", "jobs", "outside", "")


@pytest.fixture(scope="module")
def jobs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return lay(tmp_path_factory.mktemp("street"))


@given(st.lists(st.sampled_from(_STEPS), max_size=7))
def test_no_path_at_all_reaches_outside(jobs: Path, steps: list[str]) -> None:
    name = "/".join([*steps, "own.yaml"])
    found = models_of(jobs, name)
    assert MARK not in found
    real = Path(os.path.realpath(jobs / name))
    if isinstance(found, set):
        assert real.is_relative_to(jobs)
    elif not real.is_relative_to(jobs):
        assert "lies outside" in found or "not a usable path" in found


@pytest.mark.parametrize("name", ["../outside/own.toml", "link.toml", "linked/own.toml", "{}/outside/own.toml"])
def test_a_code_file_outside_is_refused_until_it_is_allowed(tmp_path: Path, name: str) -> None:
    folder = lay(tmp_path)
    job = folder / "job.yaml"
    job.write_text(SOUND.replace("code: us-irc-2021", f"code: '{name.format(tmp_path)}'"), encoding="utf-8")
    with pytest.raises(JobFileError, match="lies outside the job's folder"):
        read_job(job)
    assert read_job(job, outside=True).code_file is not None


def test_a_catalog_has_no_way_to_name_a_file(tmp_path: Path) -> None:
    # Bus profiles and roles are looked up among known names, never as files.
    folder = lay(tmp_path)
    (folder / "bus.toml").write_text("ventrules-bus = 1\n", encoding="utf-8")
    for name in ("bus", "../jobs/bus", "bus.toml", "../buses/tia-485-a", "tia-485-a.toml"):
        text = CATALOG.replace("bus: {bus: ventilator-bus,", f"bus: {{bus: ventilator-bus, profile: {name!r},")
        (folder / "own.yaml").write_text(text, encoding="utf-8")
        assert "unknown bus profile" in models_of(folder, "own.yaml")
    for name in ("../codes/us-irc-2021", "./us-irc-2021", "us-irc-2021.toml\x00", "../us-irc-2021"):
        job = folder / "job.yaml"
        job.write_text(SOUND.replace("code: us-irc-2021", f"code: {name!r}"), encoding="utf-8")
        with pytest.raises(JobFileError):
            read_job(job)


def test_a_job_that_is_a_link_names_paths_beside_the_link(tmp_path: Path) -> None:
    folder = lay(tmp_path)
    real = tmp_path / "outside" / "job.yaml"
    real.write_text(job_with("own.yaml"), encoding="utf-8")
    (folder / "job.yaml").symlink_to(real)
    assert MARK not in read_job(folder / "job.yaml").catalog.models


@pytest.mark.parametrize("swap", ["file", "folder"])
def test_a_link_put_in_place_between_looking_and_reading_is_not_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, swap: str
) -> None:
    folder = lay(tmp_path)
    real = Path.open

    def swapping(path: Path, *args: Any, **more: Any) -> Any:
        """Put a link to the secret in place of the catalog or its folder, just before it is opened."""
        if path.name == "own.yaml":
            victim = path if swap == "file" else path.parent
            victim.rename(tmp_path / "away")
            victim.symlink_to(tmp_path / "outside" / ("own.yaml" if swap == "file" else ""))
        return real(path, *args, **more)

    monkeypatch.setattr(Path, "open", swapping)
    refused = models_of(folder, "sub/own.yaml")
    assert isinstance(refused, str)
    assert "was changed while it was read" in refused


def test_links_out_of_a_searched_folder_are_told_and_not_read(tmp_path: Path) -> None:
    folder = lay(tmp_path)
    (tmp_path / "outside" / "job.yaml").write_text(SOUND.replace("Quarry Lane 7", MARK), encoding="utf-8")
    (folder / "a.yaml").write_text(SOUND, encoding="utf-8")
    (folder / "inside.yaml").symlink_to("a.yaml")
    (folder / "job.yaml").symlink_to(tmp_path / "outside" / "job.yaml")
    result = invoke("check", folder)
    assert result.exit_code == 2
    assert MARK not in result.output
    assert "leads out of the searched folder" in said(result)
    assert "inside.yaml" in result.output
    assert MARK in invoke("check", folder / "job.yaml").output  # named by itself, it is


# What is no regular file


@contextmanager
def listening(path: Path) -> Iterator[None]:
    here = os.open(".", os.O_RDONLY)
    with socket.socket(socket.AF_UNIX) as listener:
        os.chdir(path.parent)  # the name of a socket has to be short
        try:
            listener.bind(path.name)
        finally:
            os.fchdir(here)
            os.close(here)
        yield


@contextmanager
def piped(path: Path) -> Iterator[None]:
    os.mkfifo(path)
    yield


@contextmanager
def linked(path: Path, to: str) -> Iterator[None]:
    path.symlink_to(to)
    yield


SPECIAL: Final[dict[str, Callable[[Path], object]]] = {
    "pipe": piped,
    "socket": listening,
    "endless device": lambda path: linked(path, "/dev/zero"),
    "empty device": lambda path: linked(path, "/dev/null"),
    "terminal": lambda path: linked(path, "/dev/tty"),
    "process": lambda path: linked(path, "/proc/self/mem"),
    "folder": lambda path: linked(path, "/proc"),
}


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="no devices and processes to be seen as files")
@pytest.mark.parametrize("kind", SPECIAL)
def test_what_is_no_regular_file_is_refused_and_never_waited_for(tmp_path: Path, kind: str) -> None:
    path = tmp_path / "own.yaml"
    with SPECIAL[kind](path):  # type: ignore[attr-defined]
        (outcome,) = check_many([path])
        assert outcome.report is None
        (problem,) = outcome.problems
        assert any(words in problem.message for words in ("no regular file", "is a folder", "cannot be read"))
        assert isinstance(models_of(tmp_path, "own.yaml", outside=True), str)
        with pytest.raises(JobFileError):
            read_text(path)
        invoke("check", tmp_path)  # as one of the files of a folder
