"""Files out, and edits to documents."""

import copy
import os
import stat
from collections.abc import Callable
from pathlib import Path
from typing import Final

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from tests.files.samples import documents, names, parts, same
from ventrules.engine import Edit, EditKind
from ventrules.engine import Path as DocumentPath
from ventrules.engine.findings import Document
from ventrules.files import apply_edits, read_text, write_text

# Writing


def names_in(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("written")


@given(text=st.text())
@example(text="a\r\nb\rc\n")
@example(text="caf\u00e9 \U0001f300")
def test_what_is_written_is_read(folder: Path, text: str) -> None:
    file = folder / "job.yaml"
    write_text(file, text)
    assert file.read_bytes() == text.encode()
    assert read_text(file) == text.removeprefix("\ufeff")
    assert names_in(folder) == ["job.yaml"]


def fail_in_fsync(patch: pytest.MonkeyPatch, error: BaseException) -> None:
    def fsync(_handle: int) -> None:
        raise error

    patch.setattr(os, "fsync", fsync)


def fail_in_rename(patch: pytest.MonkeyPatch, error: BaseException) -> None:
    def replace(_self: Path, _target: object) -> None:
        raise error

    patch.setattr(Path, "replace", replace)


def fail_in_chmod(patch: pytest.MonkeyPatch, error: BaseException) -> None:
    def chmod(_self: Path, _mode: int, **_named: object) -> None:
        raise error

    patch.setattr(Path, "chmod", chmod)


@pytest.mark.parametrize("fail", [fail_in_fsync, fail_in_rename, fail_in_chmod])
@pytest.mark.parametrize(
    "error", [OSError(28, "No space left on device"), KeyboardInterrupt()], ids=["full", "stopped"]
)
@pytest.mark.parametrize("existing", [True, False])
def test_a_write_that_fails_leaves_all_as_it_was(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    fail: Callable[[pytest.MonkeyPatch, BaseException], None],
    error: BaseException,
    existing: bool,
) -> None:
    file = tmp_path / "job.yaml"
    if existing:
        file.write_text("old")
        file.chmod(0o640)
    fail(monkeypatch, error)
    with pytest.raises(type(error)):
        write_text(file, "new")
    monkeypatch.undo()
    assert names_in(tmp_path) == (["job.yaml"] if existing else [])
    if existing:
        assert file.read_text() == "old"
        assert stat.S_IMODE(file.stat().st_mode) == 0o640


def test_text_that_cannot_be_encoded_leaves_the_old_file(tmp_path: Path) -> None:
    file = tmp_path / "job.yaml"
    file.write_text("old")
    with pytest.raises(UnicodeEncodeError):
        write_text(file, "new \ud800")
    assert file.read_text() == "old"
    assert names_in(tmp_path) == ["job.yaml"]


@pytest.mark.parametrize("mode", [0o600, 0o644, 0o664, 0o755, 0o400])
def test_mode_bits_survive(tmp_path: Path, mode: int) -> None:
    file = tmp_path / "job.yaml"
    file.write_text("old")
    file.chmod(mode)
    write_text(file, "new")
    assert file.read_text() == "new"
    assert stat.S_IMODE(file.stat().st_mode) == mode


@pytest.mark.parametrize("mask", [0o022, 0o077, 0o002])
def test_a_new_file_has_the_modes_of_any_new_file(tmp_path: Path, mask: int) -> None:
    before = os.umask(mask)
    try:
        write_text(tmp_path / "ours.yaml", "new")
        (tmp_path / "any.yaml").write_text("new")
        assert os.umask(mask) == mask
    finally:
        os.umask(before)
    assert (tmp_path / "ours.yaml").stat().st_mode == (tmp_path / "any.yaml").stat().st_mode


def test_a_folder_that_is_missing_or_a_folder_in_the_way(tmp_path: Path) -> None:
    with pytest.raises(OSError, match="No such file"):
        write_text(tmp_path / "none" / "job.yaml", "new")
    (tmp_path / "job.yaml").mkdir()
    with pytest.raises(OSError, match="directory"):
        write_text(tmp_path / "job.yaml", "new")
    assert names_in(tmp_path) == ["job.yaml"]


def test_a_file_is_never_seen_half_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "job.yaml"
    file.write_text("old")
    seen = []
    real = Path.replace

    def replace(self: Path, target: Path) -> Path:
        seen.append((file.read_text(), self.read_text(), self.parent))
        return real(self, target)

    monkeypatch.setattr(Path, "replace", replace)
    write_text(file, "new")
    assert seen == [("old", "new", tmp_path)]


# Edits, held to RFC 6902

ADD, REMOVE, REPLACE = EditKind.ADD, EditKind.REMOVE, EditKind.REPLACE

# Examples of RFC 6902, appendix A (the operations that are used here): document, edit, result; None for an error.
RFC_6902: Final[dict[str, tuple[dict[str, Document], Edit, dict[str, Document] | None]]] = {
    "A.1": ({"foo": "bar"}, Edit(ADD, ("baz",), "qux"), {"baz": "qux", "foo": "bar"}),
    "A.2": ({"foo": ["bar", "baz"]}, Edit(ADD, ("foo", 1), "qux"), {"foo": ["bar", "qux", "baz"]}),
    "A.3": ({"baz": "qux", "foo": "bar"}, Edit(REMOVE, ("baz",)), {"foo": "bar"}),
    "A.4": ({"foo": ["bar", "qux", "baz"]}, Edit(REMOVE, ("foo", 1)), {"foo": ["bar", "baz"]}),
    "A.5": ({"baz": "qux", "foo": "bar"}, Edit(REPLACE, ("baz",), "boo"), {"baz": "boo", "foo": "bar"}),
    "A.10": (
        {"foo": "bar"}, Edit(ADD, ("child",), {"grandchild": {}}), {"foo": "bar", "child": {"grandchild": {}}}
    ),
    "A.12": ({"foo": "bar"}, Edit(ADD, ("baz", "bat"), "qux"), None),
    "A.14, its escapes": ({"/": 9, "~1": 10}, Edit(REPLACE, ("~1",), 11), {"/": 9, "~1": 11}),
    "A.16": ({"foo": ["bar"]}, Edit(ADD, ("foo", "-"), ["abc", "def"]), {"foo": ["bar", ["abc", "def"]]}),
    "4.1, add over a member": ({"foo": 1}, Edit(ADD, ("foo",), 2), {"foo": 2}),
    "4.1, index past the end": ({"foo": ["bar"]}, Edit(ADD, ("foo", 2), 1), None),
    "4.1, index at the end": ({"foo": ["bar"]}, Edit(ADD, ("foo", 1), 1), {"foo": ["bar", 1]}),
    "4.2, remove what is missing": ({"foo": 1}, Edit(REMOVE, ("bar",)), None),
    "4.3, replace what is missing": ({"foo": 1}, Edit(REPLACE, ("bar",), 1), None),
    "RFC 6901, 4, leading zero": ({"foo": [1, 2]}, Edit(REMOVE, ("foo", "01")), None),
}  # fmt: skip


@pytest.mark.parametrize(("document", "edit", "result"), RFC_6902.values(), ids=RFC_6902.keys())
def test_examples_of_json_patch(document: dict[str, Document], edit: Edit, result: dict[str, Document] | None) -> None:
    if result is None:
        with pytest.raises(ValueError, match="an edit does not fit the document"):
            apply_edits(document, [edit])
    else:
        assert same(apply_edits(document, [edit]), result) or apply_edits(document, [edit]) == result


def index_in(items: list[Document], step: str | int, *, adding: bool) -> int:
    """The index that a step names; LookupError where RFC 6901, section 4, or RFC 6902 knows none."""
    if adding and step == "-":
        return len(items)
    text = str(step)
    if not (text.isascii() and text.isdigit() and (text == "0" or text[0] != "0")):
        raise LookupError(step)
    if int(text) >= len(items) + adding:
        raise LookupError(step)
    return int(text)


def edited(document: Document, edit: Edit) -> Document:
    """RFC 6902, sections 4.1 to 4.3, in so many words; LookupError where the target does not exist."""
    document = copy.deepcopy(document)
    here = document
    for step in edit.path[:-1]:
        if isinstance(here, dict) and str(step) in here:
            here = here[str(step)]
        elif isinstance(here, list):
            here = here[index_in(here, step, adding=False)]
        else:
            raise LookupError(step)
    last = edit.path[-1]
    if isinstance(here, dict):
        if edit.op is not ADD and str(last) not in here:
            raise LookupError(last)
        if edit.op is REMOVE:
            del here[str(last)]
        else:
            here[str(last)] = edit.value
        return document
    if isinstance(here, list):
        index = index_in(here, last, adding=edit.op is ADD)
        here[index : index + (edit.op is not ADD)] = [] if edit.op is REMOVE else [copy.deepcopy(edit.value)]
        return document
    raise LookupError(last)


mappings = st.dictionaries(names | st.sampled_from(["a/b", "~", "~1", "0", "-", ""]), documents, min_size=1, max_size=4)


@st.composite
def edits_for(draw: st.DrawFn, document: Document) -> Edit:
    """An edit near a part of the document: most fit, some do not."""
    path: DocumentPath = draw(st.sampled_from([path for path, _part in parts(document)]))
    more: st.SearchStrategy[str | int] = st.sampled_from(["new", "-", "01", "a/b", "~0", "", 0, 1, 7])
    if not path or draw(st.booleans()):
        path = (*path, draw(more))
    op = draw(st.sampled_from(EditKind))
    return Edit(op, path, None if op is REMOVE else draw(documents))


@given(mappings, st.data())
def test_edits_do_what_json_patch_says(document: dict[str, Document], data: st.DataObject) -> None:
    expected: Document = document
    edits = []
    fits = True
    for _time in range(data.draw(st.integers(1, 3))):
        edit = data.draw(edits_for(expected))
        edits.append(edit)
        try:
            expected = edited(expected, edit)
        except LookupError:
            fits = False
            break
    before, asked = copy.deepcopy(document), copy.deepcopy(edits)
    if fits:
        changed = apply_edits(document, edits)
        assert changed == expected
        for _path, part in list(parts(changed)):  # nothing of the result is shared with what was given
            if isinstance(part, list | dict):
                part.clear()
    else:
        with pytest.raises(ValueError, match="an edit does not fit the document"):
            apply_edits(document, edits)
    assert same(document, before)
    assert edits == asked


def test_an_edit_inside_a_value_that_an_edit_brought_does_not_change_the_edit() -> None:
    outer = Edit(ADD, ("settings",), {})
    changed = apply_edits({}, [outer, Edit(ADD, ("settings", "cycle"), "60 min")])
    assert changed == {"settings": {"cycle": "60 min"}}
    assert outer.value == {}


def test_no_edit_gives_an_equal_document_of_its_own() -> None:
    document: dict[str, Document] = {"a": [1, {"b": 2}]}
    changed = apply_edits(document, [])
    assert changed == document
    assert changed["a"] is not document["a"]
