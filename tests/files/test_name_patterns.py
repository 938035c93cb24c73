"""Patterns of file names, against the standard library's own."""

import glob
import os
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import example, given
from hypothesis import strategies as st

from ventrules.files.name_patterns import is_pattern, matches

NAMES = st.sampled_from(["a", "b", "ab", "a.yaml", "b.yaml", ".a", ".b.yaml", "[a]"])
TREES = st.lists(st.lists(NAMES, min_size=1, max_size=4).map(tuple), max_size=8)
PARTS = st.sampled_from(["*", "**", "a", "?", "a*", "*.yaml", "[ab]", "[!a]*", ".*", "b", "??", "[[]a]"])
PATTERNS = st.lists(PARTS, min_size=1, max_size=4).map("/".join)


def laid(folder: Path, tree: list[tuple[str, ...]]) -> None:
    for parts in tree:
        file = folder.joinpath(*parts)
        if not any(above.is_file() for above in file.parents) and not file.exists():
            file.parent.mkdir(parents=True, exist_ok=True)
            file.touch()


def no_complaint(error: OSError) -> None:
    raise AssertionError(error)


@given(TREES, PATTERNS)
@example([("a", "b", "a.yaml"), ("a.yaml",), (".a", "a.yaml")], "**/*.yaml")
@example([("a", "b", "a", "b.yaml")], "**/a/**/*")
def test_what_matches_is_what_the_standard_library_finds(tree: list[tuple[str, ...]], pattern: str) -> None:
    with TemporaryDirectory() as name:
        folder = Path(name)
        laid(folder, tree)
        found = list(matches(f"{glob.escape(name)}/{pattern}", no_complaint))
        expected = {Path(path) for path in glob.glob(f"{glob.escape(name)}/{pattern}", recursive=True)}  # noqa: PTH207 - the oracle
        if "**" in pattern:  # behind it, only files match
            expected = {path for path in expected if not path.is_dir()}
        assert set(found) == expected
        if pattern.count("**") < 2:
            assert len(found) == len(expected)
        if "**" not in pattern:
            assert found == sorted(found)


def test_a_pattern_without_a_folder_starts_where_one_is(tmp_path: Path) -> None:
    laid(tmp_path, [("a.yaml",), ("a", "b.yaml")])
    before = Path.cwd()
    os.chdir(tmp_path)
    try:
        assert [str(path) for path in matches("**/*.yaml", no_complaint)] == ["a.yaml", str(Path("a", "b.yaml"))]
    finally:
        os.chdir(before)


def test_what_is_a_pattern() -> None:
    assert all(is_pattern(text) for text in ("*", "a?", "x/[ab]", "**/a"))
    assert not any(is_pattern(text) for text in ("a.yaml", "a{b,c}", "x/y z", ""))
