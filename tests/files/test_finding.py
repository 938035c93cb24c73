"""The search for jobs among files and folders."""

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

import pytest

from tests.files.samples import CATALOG, SOUND
from ventrules.files import Found, find_jobs, load_text, read_text


def lay(folder: Path, files: dict[str, str]) -> None:
    for name, text in files.items():
        file = folder / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")


def named(found: tuple[Path, ...], folder: Path) -> list[str]:
    return [path.relative_to(folder).as_posix() for path in found]


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


def test_folders_are_searched_for_jobs(tmp_path: Path) -> None:
    lay(tmp_path, STREET)
    found = find_jobs([tmp_path])
    jobs = ["a.yml", "b.yaml", "east/c.json", "east/d.json", "east/deep/e.yaml", "west/z.yaml"]
    assert named(found.files, tmp_path) == jobs
    left_out = ["own.yaml", "east/other.json", "west/comment.yaml", "west/empty.yaml"]
    assert named(found.left_out, tmp_path) == left_out


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
    ]
    found = find_jobs(tmp_path / name for name in asked)
    assert named(found.files, tmp_path) == [*asked[:5], "east/c.json", "east/deep/e.yaml"]
    assert named(found.left_out, tmp_path) == ["east/other.json"]


def test_a_hidden_folder_is_searched_when_it_is_named(tmp_path: Path) -> None:
    lay(tmp_path, STREET)
    assert named(find_jobs([tmp_path / ".git"]).files, tmp_path) == [".git/f.yaml"]


def test_nothing_is_found_in_nothing(tmp_path: Path) -> None:
    assert find_jobs([]) == Found((), (), ())
    lay(tmp_path, {"none/own.yaml": CATALOG, "none/deep/x.txt": SOUND, "some/a.yaml": SOUND})
    found = find_jobs(tmp_path / name for name in ("none", "some", "none/deep"))
    assert named(found.files, tmp_path) == ["some/a.yaml"]
    assert named(found.left_out, tmp_path) == ["none/own.yaml"]
    assert named(found.empty, tmp_path) == ["none", "none/deep"]


def test_links_to_folders_are_not_followed_and_links_to_files_are(tmp_path: Path) -> None:
    lay(tmp_path, {"street/a.yaml": SOUND, "else/b.yaml": SOUND})
    street = tmp_path / "street"
    (street / "linked").symlink_to(tmp_path / "else")
    (street / "around").symlink_to(street)
    (street / "l.yaml").symlink_to(tmp_path / "else" / "b.yaml")
    assert named(find_jobs([street]).files, street) == ["a.yaml", "l.yaml"]
    (tmp_path / "way").symlink_to(street)
    assert named(find_jobs([tmp_path / "way"]).files, tmp_path) == ["way/a.yaml", "way/l.yaml"]


def test_what_cannot_be_opened_is_left_to_the_reader(tmp_path: Path) -> None:
    (tmp_path / "gone.yaml").symlink_to(tmp_path / "nowhere.yaml")
    assert named(find_jobs([tmp_path]).files, tmp_path) == ["gone.yaml"]


@pytest.mark.parametrize("start", ["\ufeff", "---\n", "\r\n", "%YAML 1.2\n---\n", "{\n", "{"])
def test_a_job_is_known_however_it_starts(tmp_path: Path, start: str) -> None:
    lay(tmp_path, {"a.yaml": f"{start}ventrules: 1" + "\n}" * ("{" in start)})
    assert load_text(read_text(tmp_path / "a.yaml"), "a.yaml") == {"ventrules": 1}
    assert named(find_jobs([tmp_path]).files, tmp_path) == ["a.yaml"]


def test_the_order_does_not_depend_on_the_file_system(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lay(tmp_path, STREET)
    expected = find_jobs([tmp_path])
    real: Callable[..., Iterator[tuple[str, list[str], list[str]]]] = os.walk

    def walk(top: Path, onerror: object) -> Iterator[tuple[str, list[str], list[str]]]:
        for root, folders, files in real(top, onerror=onerror):
            folders.reverse()
            yield root, folders, files[::-1]

    monkeypatch.setattr(os, "walk", walk)
    assert find_jobs([tmp_path]) == expected
    assert len(expected.files) > 3
