"""Edits to the text of a job, so that all that is not edited stays as it was typed.

Only the parts that an edit names are written anew; comments, order, quotes and line breaks elsewhere are not
touched, since nothing else is written. What comes out is read again and compared before anybody gets it.
"""

import json
from collections import Counter
from collections.abc import Sequence

from ventrules.engine import Edit, EditKind, Path
from ventrules.engine.findings import Document
from ventrules.files.json_text import load_json
from ventrules.files.problems import DocumentError
from ventrules.files.reader import VERSION, VERSION_KEY
from ventrules.files.shapes import structure, unstructure
from ventrules.files.spans import comments, yaml_spans
from ventrules.files.splicing import spliced
from ventrules.files.texts import load_text
from ventrules.files.writer import apply_edits
from ventrules.job import Job


def edited_text(text: str, name: str, edits: Sequence[Edit], expected: Document) -> str:
    """Return the text of a job with edits made in it.

    The edits are those of the job's document, in which defaults are left out; what the text writes out all the
    same is kept.

    Args:
        text: The text, YAML or JSON, of a sound job.
        name: What it is called; a name ending in `.json` is JSON.
        edits: The edits, in order.
        expected: The document of the job that they lead to.

    Raises:
        ValueError: The text cannot be changed so that it says just that; nothing wrong is ever returned.
    """
    is_json = _is_json(text)
    try:
        before = _unshared(load_text(text, name))
        changed, document = _changed(text, before, edits, is_json=is_json)
        after = load_text(changed, name)
    except DocumentError as error:
        raise ValueError(f"{name}: the text cannot be edited in place: {error}") from error
    if not _same(after, document):
        raise ValueError(f"{name}: the text cannot be edited in place: it would read back as something else")
    if not _same(_as_job(after), expected):
        raise ValueError(f"{name}: the text cannot be edited in place: the edits do not lead to the job expected")
    if not is_json and _comments(text) - _comments(changed):
        raise ValueError(f"{name}: the text cannot be edited in place: a comment would be lost")
    return changed


def _changed(text: str, before: Document, edits: Sequence[Edit], *, is_json: bool) -> tuple[str, Document]:
    """Return the text and its document with the edits made."""
    if not isinstance(before, dict):
        raise ValueError("the text holds no mapping")  # noqa: TRY004 - the text, not an argument's type
    document, model = before, _as_job(before)
    waiting, together = list(edits), list[Edit]()  # a text is slow to take apart: once for many edits
    while waiting:
        edit = waiting.pop(0)
        kept = _is_default(edit, model) and _holds(document, edit.path)
        if not kept:
            edit = _whole(edit, waiting)
        model = apply_edits(model, [edit])
        if kept:  # a parent that the job leaves out and the text writes out
            continue
        for part in _parts(edit, document):
            if together and not (_is_over(part, document) and _apart(part, together)):
                text, together = spliced(text, together, before, is_json=is_json), []
            if not together:
                before = document
            document = apply_edits(document, [part])
            together.append(part)
            if not _is_over(part, before):
                text, together = spliced(text, together, before, is_json=is_json), []
    return (spliced(text, together, before, is_json=is_json) if together else text), document


def _is_over(edit: Edit, document: Document) -> bool:
    """Say whether an edit does nothing but write over a value in a mapping."""
    if edit.op is EditKind.REMOVE or not edit.path or not _holds(document, edit.path):
        return False
    return isinstance(_at(document, edit.path[:-1]), dict)


def _apart(edit: Edit, others: Sequence[Edit]) -> bool:
    """Say whether an edit is neither at nor within the place of another, nor another within its own."""
    path = edit.path
    return all(path[: len(o.path)] != o.path and o.path[: len(path)] != path for o in others)


def _is_default(edit: Edit, model: Document) -> bool:
    return edit.op is EditKind.ADD and edit.value in ({}, []) and not _holds(model, edit.path)


def _whole(edit: Edit, waiting: list[Edit]) -> Edit:
    """Return an edit that adds an empty collection together with those right after it that fill it."""
    if edit.op is not EditKind.ADD or edit.value not in ({}, []):
        return edit
    depth, filling = len(edit.path), []
    while waiting and waiting[0].op is EditKind.ADD and waiting[0].path[:depth] == edit.path != waiting[0].path:
        inner = waiting.pop(0)
        filling.append(Edit(inner.op, ("value", *inner.path[depth:]), inner.value))
    return Edit(edit.op, edit.path, apply_edits({"value": edit.value}, filling)["value"])


def _parts(edit: Edit, document: Document) -> list[Edit]:
    """Return an edit that writes over a mapping of mappings as edits of what differs in it; any other as it is."""
    if edit.op is EditKind.REMOVE or not _holds(document, edit.path):
        return [edit]
    old, new = _at(document, edit.path), edit.value
    if not (isinstance(old, dict) and isinstance(new, dict) and any(isinstance(part, dict) for part in new.values())):
        return [edit]
    differing = [key for key, part in new.items() if key not in old or not _same(old[key], part)]
    changed = [Edit(EditKind.ADD, (*edit.path, key), new[key]) for key in differing]
    removed = [Edit(EditKind.REMOVE, (*edit.path, key)) for key in old if key not in new]
    return [part for inner in changed for part in _parts(inner, document)] + removed


def _as_job(document: Document) -> dict[str, Document]:
    """Return the document of a job without its defaults.

    Raises:
        ValueError: It is no sound job.
    """
    body = {key: value for key, value in document.items() if key != VERSION_KEY} if isinstance(document, dict) else {}
    job = structure(body, Job)
    if isinstance(job, list):
        raise ValueError(f"the text is no sound job: {'; '.join(map(str, job))}")  # noqa: TRY004 - the text
    return {VERSION_KEY: VERSION, **unstructure(job)}


def _holds(document: Document, path: Path) -> bool:
    try:
        _at(document, path)
    except LookupError:
        return False
    return True


def _at(document: Document, path: Path) -> Document:
    """Return what stands at a path.

    Raises:
        LookupError: Nothing does.
    """
    here: Document = document
    for step in path:
        if isinstance(here, dict):
            here = here[str(step)]
        elif isinstance(here, list) and str(step).isdecimal():
            here = here[int(step)]
        else:
            raise LookupError(step)
    return here


def _unshared(document: Document) -> Document:
    """Return a copy in which no part stands twice, as aliases make it; an edit changes one place."""
    if isinstance(document, dict):
        return {key: _unshared(part) for key, part in document.items()}
    return [_unshared(part) for part in document] if isinstance(document, list) else document


def _same(one: Document, other: Document) -> bool:
    """Say whether two documents are the same, 1, 1.0 and true being three."""
    return json.dumps(one, sort_keys=True) == json.dumps(other, sort_keys=True)


def _comments(text: str) -> Counter[str]:
    return Counter(comments(text, yaml_spans(text)))


def _is_json(text: str) -> bool:
    try:
        load_json(text)
    except DocumentError:
        return False
    return True
