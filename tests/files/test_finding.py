"""The search for jobs among files and folders."""

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

import pytest

from tests.files.samples import CATALOG, SOUND
from ventrules.files import What, find_jobs, load_text, read_text
from ventrules.outputs.schemas import schema_text


def lay(folder: Path, files: dict[str, str]) -> None:
    for name, text in files.items():
        file = folder / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")


def found_in(folder: Path, *names: str | Path, lines: bool = False, look: bool = True) -> dict[What, list[str]]:
    """What is found at paths within a folder, by what it is."""
    found: dict[What, list[str]] = {}
    for each in find_jobs((folder / name for name in names), lines=lines, look=look):
        path = each.path.relative_to(folder) if each.path.is_relative_to(folder) else each.path
        found.setdefault(each.what, []).append(path.as_posix())
    return found


STREET: Final = {
    "b.yaml": SOUND,
    "a.yml": "ventrules: 1\n",
    "own.yaml": CATALOG,
    "notes.txt": SOUND,
    ".hidden.yaml": SOUND,
    "east/c.json": '{"ventrules": 1}',
    "east/d.json": '{"job": 1,\n "ventrules" : 1}',
    "east/other.json": '{"ventrules-catalog": 1, "x": "ventrules: 1"}',
    "east/deep/e.yaml": "{job: x, 'ventrules': 1}",
    ".git/f.yaml": SOUND,
    "east/.cache/g.yaml": SOUND,
    "west/comment.yaml": "# ventrules: 1\nother: 1\n",
    "west/z.yaml": "# a comment\njob: x\nventrules: 1\n",
    "west/empty.yaml": "",
}


JOBS: Final = ["a.yml", "b.yaml", "east/c.json", "east/d.json", "east/deep/e.yaml", "west/z.yaml"]
LEFT_OUT: Final = ["own.yaml", "east/other.json", "west/comment.yaml", "west/empty.yaml"]


def test_folders_are_searched_for_jobs(tmp_path: Path) -> None:
    lay(tmp_path, STREET)
    assert found_in(tmp_path, "") == {What.JOB: JOBS, What.LEFT_OUT: LEFT_OUT}


def test_a_search_that_does_not_look_takes_all_of_the_right_suffix(tmp_path: Path) -> None:
    lay(tmp_path, STREET)
    found = found_in(tmp_path, "", look=False)
    assert found.keys() == {What.JOB}
    assert sorted(found[What.JOB]) == sorted(JOBS + LEFT_OUT)


def test_files_are_taken_as_named_in_order_and_once(tmp_path: Path) -> None:
    lay(tmp_path, STREET)
    asked = [
        "west/comment.yaml",
        "notes.txt",
        "none.yaml",
        ".hidden.yaml",
        "east/d.json",
        "east",
        "east/c.json",
        "east",
        "notes.txt",
    ]
    found = found_in(tmp_path, *asked)
    assert found[What.JOB] == [*asked[:5], "east/c.json", "east/deep/e.yaml"]
    assert found[What.LEFT_OUT] == ["east/other.json"]
    assert What.EMPTY not in found


def test_a_search_goes_no_further_than_it_is_asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lay(tmp_path, STREET)
    listed: list[str] = []
    real: Callable[[str], object] = os.scandir

    def scandir(path: str) -> object:
        listed.append(Path(path).name)
        return real(path)

    monkeypatch.setattr(os, "scandir", scandir)
    search = find_jobs([tmp_path])
    assert [next(search).path.name for _turn in range(3)] == ["a.yml", "b.yaml", "own.yaml"]
    assert listed == [tmp_path.name]


def test_a_hidden_folder_is_searched_when_it_is_named(tmp_path: Path) -> None:
    lay(tmp_path, STREET)
    assert found_in(tmp_path, ".git") == {What.JOB: [".git/f.yaml"]}


def test_nothing_is_found_in_nothing(tmp_path: Path) -> None:
    assert list(find_jobs([])) == []
    lay(tmp_path, {"none/own.yaml": CATALOG, "none/deep/x.txt": SOUND, "some/a.yaml": SOUND})
    assert found_in(tmp_path, "none", "some", "none/deep") == {
        What.LEFT_OUT: ["none/own.yaml"],
        What.EMPTY: ["none", "none/deep"],
        What.JOB: ["some/a.yaml"],
    }


def test_links_to_files_are_followed_within_the_folder_and_links_to_folders_are_not(tmp_path: Path) -> None:
    lay(tmp_path, {"street/a.yaml": SOUND, "street/.hidden/c.yaml": SOUND, "else/b.yaml": SOUND})
    street = tmp_path / "street"
    (street / "linked").symlink_to(tmp_path / "else")
    (street / "around").symlink_to(street)
    (street / "l.yaml").symlink_to(street / ".hidden" / "c.yaml")
    (street / "out.yaml").symlink_to(tmp_path / "else" / "b.yaml")
    for asked in ("street", "street/*.yaml", "street/**/*.yaml", "str*/a.yaml", "stree?/*l.yaml", "str*t/out.yaml"):
        found = found_in(tmp_path, asked)
        assert {*found.get(What.JOB, ())} <= {"street/a.yaml", "street/l.yaml", "street/out.yaml"}
        if asked.startswith("street"):
            assert found == {What.JOB: ["street/a.yaml", "street/l.yaml"], What.LED_OUT: ["street/out.yaml"]}
    assert found_in(tmp_path, "street/out.yaml") == {What.JOB: ["street/out.yaml"]}
    (tmp_path / "way").symlink_to(street)
    assert found_in(tmp_path, "way")[What.JOB] == ["way/a.yaml", "way/l.yaml"]


def test_what_cannot_be_opened_is_left_to_the_reader(tmp_path: Path) -> None:
    (tmp_path / "gone.yaml").symlink_to(tmp_path / "nowhere.yaml")
    (tmp_path / "round.yaml").symlink_to(tmp_path / "round.yaml")
    assert found_in(tmp_path, "") == {What.JOB: ["gone.yaml", "round.yaml"]}


@pytest.mark.parametrize("start", ["\ufeff", "---\n", "\r\n", "%YAML 1.2\n---\n", "{\n", "{"])
def test_a_job_is_known_however_it_starts(tmp_path: Path, start: str) -> None:
    lay(tmp_path, {"a.yaml": f"{start}ventrules: 1" + "\n}" * ("{" in start)})
    assert load_text(read_text(tmp_path / "a.yaml"), "a.yaml") == {"ventrules": 1}
    assert found_in(tmp_path, "") == {What.JOB: ["a.yaml"]}


def test_the_order_does_not_depend_on_the_file_system(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lay(tmp_path, STREET)
    expected = list(find_jobs([tmp_path]))
    real: Callable[..., Iterator[tuple[str, list[str], list[str]]]] = os.walk

    def walk(top: Path, onerror: object) -> Iterator[tuple[str, list[str], list[str]]]:
        for root, folders, files in real(top, onerror=onerror):
            folders.reverse()
            yield root, folders, files[::-1]

    monkeypatch.setattr(os, "walk", walk)
    assert list(find_jobs([tmp_path])) == expected
    assert len(expected) > 5


LINES: Final = '{"ventrules": 1}\n{"ventrules": 1}\n'


def test_files_with_a_job_a_line_are_known_by_their_suffix_and_by_a_word(tmp_path: Path) -> None:
    lay(tmp_path, {"a.jsonl": LINES, "deep/b.NDJSON": LINES, "deep/other.jsonl": '{"job": 1}\n', "c.txt": LINES})
    assert found_in(tmp_path, "") == {What.LINES: ["a.jsonl", "deep/b.NDJSON"], What.LEFT_OUT: ["deep/other.jsonl"]}
    assert found_in(tmp_path, "c.txt", "deep/other.jsonl") == {What.JOB: ["c.txt"], What.LINES: ["deep/other.jsonl"]}
    assert found_in(tmp_path, "c.txt", "a.jsonl", lines=True) == {What.LINES: ["c.txt", "a.jsonl"]}


@pytest.mark.parametrize("name", ["jobs.zip", "jobs.tar", "jobs.tgz", "jobs.jsonl.gz", "jobs.7z", "JOBS.ZIP", "a.xz"])
def test_archives_are_not_opened(tmp_path: Path, name: str) -> None:
    lay(tmp_path, {name: SOUND, "a.yaml": SOUND})
    assert found_in(tmp_path, name) == {What.ARCHIVE: [name]}
    assert found_in(tmp_path, "*") == {What.ARCHIVE: [name], What.JOB: ["a.yaml"]}
    assert found_in(tmp_path, "") == {What.JOB: ["a.yaml"]}
    assert found_in(tmp_path, "none.zip") == {What.JOB: ["none.zip"]}


def test_a_pattern_is_expanded_unless_there_is_a_file_of_that_name(tmp_path: Path) -> None:
    lay(tmp_path, {**STREET, "[ab].yaml": SOUND})
    assert found_in(tmp_path, "east/*.json", "**/[yz].yaml") == {
        What.JOB: ["east/c.json", "east/d.json", "east/other.json", "west/z.yaml"]
    }
    assert found_in(tmp_path, "[ab].yaml") == {What.JOB: ["[ab].yaml"]}
    assert found_in(tmp_path, "[b].yaml", "b.*") == {What.JOB: ["b.yaml"]}
    assert found_in(tmp_path, "*.toml", "no/*.yaml", "b.yaml/*") == {
        What.UNMATCHED: ["*.toml", "no/*.yaml", "b.yaml/*"]
    }
    assert found_in(tmp_path, "*st/dee?") == {What.JOB: ["east/deep/e.yaml"]}


def test_several_ways_to_a_file_lead_to_it_once(tmp_path: Path) -> None:
    lay(tmp_path, {"a/a/a/a.yaml": SOUND})
    assert found_in(tmp_path, "**/a/**/*.yaml") == {What.JOB: ["a/a/a/a.yaml"]}


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="nothing is kept from this user")
def test_a_folder_that_cannot_be_listed_is_told_once(tmp_path: Path) -> None:
    lay(tmp_path, {"shut/a.yaml": SOUND, "b.yaml": SOUND})
    (tmp_path / "shut").chmod(0)
    try:
        for asked in ("", "**/*.yaml"):
            assert found_in(tmp_path, asked) == {What.JOB: ["b.yaml"], What.UNLISTED: ["shut"]}
    finally:
        (tmp_path / "shut").chmod(0o700)


@pytest.mark.parametrize("asked", ["", "**/*.yaml"])
def test_a_folder_that_cannot_be_listed_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, asked: str) -> None:
    lay(tmp_path, {"shut/a.yaml": SOUND, "b.yaml": SOUND})
    real: Callable[[str], object] = os.scandir

    def scandir(path: str) -> object:
        if Path(path).name == "shut":
            raise PermissionError(13, "no", str(path))
        return real(path)

    monkeypatch.setattr(os, "scandir", scandir)
    assert found_in(tmp_path, asked) == {What.JOB: ["b.yaml"], What.UNLISTED: ["shut"]}


def test_a_schema_of_jobs_is_no_job(tmp_path: Path) -> None:
    lay(tmp_path, {"job.json": schema_text("job"), "small.json": '{"properties": {"ventrules" : \n {"const": 1}}}'})
    assert found_in(tmp_path, ".") == {What.LEFT_OUT: ["job.json", "small.json"], What.EMPTY: ["."]}


def test_a_file_is_found_once_by_its_whole_and_by_its_short_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lay(tmp_path, {"a.yaml": SOUND, "lane/b.yaml": SOUND})
    monkeypatch.chdir(tmp_path)
    names: list[str | Path] = ["a.yaml", tmp_path / "a.yaml", "lane/../a.yaml", "lane", tmp_path, tmp_path / "*.yaml"]
    assert [each.path for each in find_jobs(names)] == [Path("a.yaml"), Path("lane/b.yaml")]
