"""Edits in the text of a file: what is not edited stays as it was typed, down to the last comment."""

import json
import re
from collections.abc import Mapping
from random import Random
from typing import Final

import pytest
import yaml
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.files.handwriting import Hand
from tests.files.samples import AWKWARD, SOUND, parts
from ventrules import Job, job_document, job_from_document, parse_job, repair
from ventrules.engine import Edit, EditKind, Path
from ventrules.engine.findings import Document
from ventrules.files import apply_edits, job_json, job_yaml, load_text
from ventrules.files.rendering import Style
from ventrules.files.round_trip import edited_text
from ventrules.files.splicing import spliced
from ventrules.files.yaml_text import load_yaml
from ventrules.testing import FAULTS, job_documents

PROGRAMS: Final[Path] = ("settings", "ventilator", "programs")
ADD, REMOVE, REPLACE = EditKind.ADD, EditKind.REMOVE, EditKind.REPLACE
WORDS: Final = (
    "low", "45 min", "off", "06:00", "a: b", "1", "-25 degF", "x #y", "", "null", "caf\u00e9", "it's", 'say "x"', "- a",
    "2001-12-14", "{a}", "*a", "true", ".5", "two\nlines", "low.x",
)  # fmt: skip
random_things = st.randoms(use_true_random=False)
values: st.SearchStrategy[Document] = st.recursive(
    st.sampled_from([*WORDS, 1, 2.5, True, None]),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.sampled_from(WORDS), inner, max_size=3)),
    max_leaves=8,
)
wholes = st.dictionaries(st.sampled_from(WORDS), values, min_size=2, max_size=4)


def same(one: Document, other: Document) -> bool:
    """Equal in value and in type, whatever the order of keys."""
    return json.dumps(one, sort_keys=True) == json.dumps(other, sort_keys=True)


@st.composite
def edits(draw: st.DrawFn, document: dict[str, Document]) -> Edit:
    """An edit that fits a document and leaves something of it."""
    found = [(path, part) for path, part in parts(document) if path]
    op = draw(st.sampled_from(EditKind))
    if op is not ADD:
        return Edit(op, draw(st.sampled_from(found))[0], None if op is REMOVE else draw(values))
    holders = [(path, part) for path, part in parts(document) if isinstance(part, dict | list)]
    path, holder = draw(st.sampled_from(holders))
    steps: list[str | int] = list(WORDS) if isinstance(holder, dict) else ["-", *range(len(holder) + 1)]
    return Edit(ADD, (*path, draw(st.sampled_from(steps))), draw(values))


# Any edit in any text


@settings(max_examples=settings().max_examples * 2)
@given(wholes, random_things, st.sampled_from(["\n", "\r\n"]), st.data())
def test_an_edit_in_yaml_says_what_json_patch_says_and_keeps_every_comment(
    document: dict[str, Document], random: Random, newline: str, data: st.DataObject
) -> None:
    hand = Hand(random)
    text = hand.text(document).replace("\n", newline)
    assert same(load_yaml(text), document)
    edit = data.draw(edits(document))
    changed = spliced(text, [edit], document, is_json=False)
    assert same(load_yaml(changed), apply_edits(document, [edit])), changed
    assert [comment for comment in hand.comments if changed.count(comment) != 1] == [], changed
    assert changed.count("\n") == changed.count(newline)


@given(wholes, random_things, st.data())
def test_edits_that_write_over_values_may_be_made_at_once(
    document: dict[str, Document], random: Random, data: st.DataObject
) -> None:
    hand = Hand(random)
    text = hand.text(document)
    keys = data.draw(st.lists(st.sampled_from(sorted(document)), min_size=1, unique=True))
    together = [Edit(data.draw(st.sampled_from([ADD, REPLACE])), (key,), data.draw(values)) for key in keys]
    changed = spliced(text, together, document, is_json=False)
    assert same(load_yaml(changed), apply_edits(document, together)), changed
    assert [comment for comment in hand.comments if changed.count(comment) != 1] == [], changed


@settings(max_examples=settings().max_examples * 2)
@given(
    wholes,
    st.sampled_from(
        [(None, (", ", ": ")), (None, (",", ":")), (2, (",", ": ")), (4, (",", ": ")), ("\t", (",", ": "))]
    ),
    st.sampled_from(["", "\n"]),
    st.data(),
)
def test_an_edit_in_json_changes_nothing_else(
    document: dict[str, Document], form: tuple[int | str | None, tuple[str, str]], end: str, data: st.DataObject
) -> None:
    """A text as `json.dumps` writes it comes out as it writes the changed document."""
    edit = data.draw(edits(document))

    def written(value: Document) -> str:
        return json.dumps(value, indent=form[0], ensure_ascii=False, separators=form[1]) + end

    assert spliced(written(document), [edit], document, is_json=True) == written(apply_edits(document, [edit]))


def flows(node: yaml.Node) -> bool:
    return isinstance(node, yaml.CollectionNode) and bool(node.flow_style)


def lines_of(node: yaml.Node, key: yaml.Node | None = None) -> set[int]:
    """The lines on which a part stands, counted from 0, by another parser."""
    inner: list[yaml.Node] = []
    if isinstance(node, yaml.MappingNode) and not flows(node):
        inner = [value for _key, value in node.value]
    elif isinstance(node, yaml.SequenceNode) and not flows(node):
        inner = node.value
    last = max((max(lines_of(part)) for part in inner), default=node.end_mark.line)
    return set(range((key or node).start_mark.line, last + 1))


def dash_of(holder: yaml.Node, step: str | int) -> set[int]:
    """The lines between an item of a list and what stands before it, its dash among them."""
    if not isinstance(holder, yaml.SequenceNode):
        return set()
    items = holder.value
    before = max(lines_of(items[int(step) - 1])) + 1 if int(step) > 0 else holder.start_mark.line
    return set(range(before, items[int(step)].start_mark.line))


def touched(text: str, edit: Edit) -> set[int]:
    """The lines that an edit may change in a text in block style."""
    top = yaml.compose(text, yaml.SafeLoader)
    assert top is not None
    node, key, found, dash = top, None, set[int](), set[int]()
    for depth, step in enumerate(edit.path, 1):
        following: tuple[yaml.Node | None, yaml.Node] | None = None
        if isinstance(node, yaml.MappingNode):
            following = next(((k, v) for k, v in node.value if k.value == step), None)
        elif str(step).isdecimal() and int(step) < len(node.value):
            following = (None, node.value[int(step)])
        last = depth == len(edit.path)
        if last and (following is None or (edit.op is ADD and isinstance(node, yaml.SequenceNode))):
            first = key is None and depth > 1 and str(step) == "0"  # may begin on the line of its holder's dash
            return {node.start_mark.line} if flows(node) or first else set()
        assert following is not None
        if last:
            if key is not None:
                found |= {key.start_mark.line}  # gets the brackets of a collection that is empty from now on
            elif depth > 1:
                found |= lines_of(node) | dash  # on the line of a dash: what follows moves up
            return found | lines_of(following[1], following[0]) | dash_of(node, step)
        dash = dash_of(node, step)
        key, node = following
    return found


@given(wholes, random_things, st.data())
def test_lines_that_an_edit_does_not_touch_are_there_after_it(
    document: dict[str, Document], random: Random, data: st.DataObject
) -> None:
    text = Hand(random, flow=False).text(document)
    edit = data.draw(edits(document))
    free = touched(text, edit)
    changed = iter(spliced(text, [edit], document, is_json=False).split("\n"))
    for number, line in enumerate(text.split("\n")):
        assert number in free or line in changed, (number, line)  # `in` reads on: the order is kept, too


@given(st.one_of(st.sampled_from(AWKWARD), st.text()), st.sampled_from(["", "'", '"']))
def test_text_is_written_so_that_it_reads_back_as_text(text: str, quote: str) -> None:
    for key in (False, True):
        if key and len(text) > 100:
            continue  # a key has to stand on one line of at most 1024 characters (YAML 1.2, section 7.4.2)
        document: Document = {text: "x"} if key else {"x": text}
        written = Style().scalar(text, quote)
        assert load_yaml(f"{written}: x" if key else f"x: {written}") == document
        assert load_yaml(f"{{{written}: x}}" if key else f"{{x: {written}}}") == document


# Jobs that are repaired


def sprinkled(text: str, random: Random) -> tuple[str, list[str]]:
    """A YAML text in block style with comments between its lines and at their ends."""
    lines: list[str] = []
    comments: list[str] = []

    def comment() -> str:
        comments.append(f"# {len(comments) + 1} as drawn: {{x}}")
        return comments[-1]

    folded = False
    for line in text.splitlines():
        if line.startswith((" ", "-")) and ":" not in line and not line.lstrip().startswith("-"):
            folded = True  # a long text goes on
        if not folded and random.randrange(3) == 0:
            lines.append(" " * random.choice([0, 2, 4]) + comment())
        lines.append(line)
        if not folded and line.endswith(":") and random.randrange(3) == 0:
            lines[-1] += f"  {comment()}"
    return "\n".join(lines) + "\n", comments


def repaired(job: Job) -> tuple[list[Edit], Job]:
    done = repair(job, purchases=True)
    return [edit for change in done.changes for edit in change.remedy.edits], done.job


@settings(max_examples=settings().max_examples // 2)
@given(st.sampled_from(FAULTS), random_things, st.data())
def test_the_text_of_a_faulty_job_becomes_that_of_the_repaired_one(
    fault: object, random: Random, data: st.DataObject
) -> None:
    made = next(f for f in FAULTS if f is fault).apply(
        data.draw(job_documents()), lambda choices: data.draw(st.sampled_from(choices))
    )
    assume(made is not None)
    assert made is not None
    job = job_from_document(made.document)
    changes, better = repaired(job)
    text, comments = sprinkled(job_yaml(job), random)
    assume(load_text(text, "job.yaml") == job_document(job))
    changed = edited_text(text, "job.yaml", changes, job_document(better))
    assert parse_job(changed, name="job.yaml") == better
    assert [comment for comment in comments if changed.count(comment) != 1] == []
    hand = Hand(random)
    freely = edited_text(hand.text(job_document(job)), "job.yaml", changes, job_document(better))
    assert parse_job(freely, name="job.yaml") == better
    assert [comment for comment in hand.comments if freely.count(comment) != 1] == []
    as_json = edited_text(job_json(job), "job.json", changes, job_document(better))
    assert json.loads(as_json) == job_document(better)
    assert as_json == json.dumps(json.loads(as_json), indent=2, ensure_ascii=False) + "\n"


# What people write, by example


def edit_sound(*changes: Edit, text: str = SOUND) -> str:
    """Edit the sample job; the outcome is held to the same edits of its document."""
    job = parse_job(text, name="job.yaml")
    return edited_text(text, "job.yaml", changes, apply_edits(job_document(job), changes))


def differing(old: str, new: str) -> tuple[list[str], list[str]]:
    """The lines that only the old and only the new text have."""
    before, after = old.splitlines(), new.splitlines()
    return [line for line in before if line not in after], [line for line in after if line not in before]


def test_a_setting_goes_in_beside_its_neighbors() -> None:
    changed = edit_sound(Edit(ADD, ("settings", "ventilator", "programs", "out", "heating"), {"low": "30 min"}))
    assert differing(SOUND, changed) == (
        ["      out: {heating: {}, cooling: {}}"],
        ["      out: {heating: {low: 30 min}, cooling: {}}"],
    )


def test_a_cable_is_written_like_the_last_cable() -> None:
    cable: dict[str, Document] = {"from": "control.system", "to": "module.system"}
    changed = edit_sound(Edit(ADD, ("cables", "-"), cable))
    assert differing(SOUND, changed) == ([], ["  - from: control.system", "    to: module.system"])
    text = "\n".join(line for line in SOUND.splitlines() if not re.match(r"    (to|gauge|length|conductors):", line))
    text = text.replace("  - from: module.ventilator", "  - {from: module.ventilator, to: ventilator.bus}")
    changed = edit_sound(Edit(ADD, ("cables", "-"), cable), text=text)
    assert differing(text, changed) == ([], ["  - {from: control.system, to: module.system}"])


def test_a_time_of_the_day_is_quoted_as_its_neighbors_are() -> None:
    changed = edit_sound(Edit(ADD, ("calendar", "weekdays", "23:45"), "out"))
    assert '"22:30": night, "23:45": out}' in changed
    changed = edit_sound(Edit(ADD, ("calendar", "weekend", "08:30"), "out"))
    assert '    23:00: night\n    "08:30": out\n' in changed


def test_what_would_read_as_another_type_is_quoted() -> None:
    assert '\njob: "7"\n' in edit_sound(Edit(REPLACE, ("job",), "7"))
    assert '\njob: "null"\n' in edit_sound(Edit(REPLACE, ("job",), "null"))
    quoted = SOUND.replace("job: Quarry Lane 7", "job: 'Quarry Lane 7'  # on site")
    assert "\njob: 'Number 8'  # on site\n" in edit_sound(Edit(REPLACE, ("job",), "Number 8"), text=quoted)


def test_a_new_part_of_the_job_gets_lines_of_its_own() -> None:
    text = SOUND.replace("settings:\n", "settings: {}\n").split("  ventilator:\n    filter")[0] + "notes: none yet\n"
    path = ("settings", "ventilator")
    changes = (Edit(ADD, path, {}), Edit(ADD, (*path, "filter_reminder"), "90 days"))
    job = job_document(parse_job(text, name="job.yaml"))
    steps = (Edit(ADD, ("settings",), {}), *changes)
    changed = edited_text(text, "job.yaml", steps, apply_edits(job, steps))
    assert changed == text.replace("settings: {}\n", "settings:\n  ventilator:\n    filter_reminder: 90 days\n")


def test_a_parent_that_the_file_writes_out_is_not_wiped() -> None:
    """The job's document leaves defaults out, so an edit may add a parent that is there."""
    text = re.sub(r"programs:\n.*?readings", "programs: {}  # later\nreadings", SOUND, flags=re.DOTALL)
    day = (*PROGRAMS, "day")
    changes = (Edit(ADD, PROGRAMS, {}), Edit(ADD, day, {}), Edit(ADD, (*day, "heating"), {"low": "45 min"}))
    changed = edit_sound(*changes, text=text)
    written = "    programs:  # later\n      day:\n        heating: {low: 45 min}\nreadings"
    assert changed == text.replace("    programs: {}  # later\nreadings", written)
    path = ("settings", "ventilator", "cycle")
    text = SOUND.replace("    programs:\n", "    programs:  # as drawn\n")
    assert edit_sound(Edit(REMOVE, path), text=text) == text.replace("    cycle: 60 min\n", "")


def test_the_last_of_a_list_leaves_an_empty_list_and_its_comments() -> None:
    text = SOUND.replace("catalogs: [demo]", "catalogs:\n  # invented\n  - demo   # packaged")
    document = load_text(text, "job.yaml")
    assert isinstance(document, dict)
    changed = spliced(text, [Edit(REMOVE, ("catalogs", 0))], document, is_json=False)
    assert "\ncatalogs: []\n  # invented\n  # packaged\ndwelling:" in changed


ANCHORED: Final = SOUND.replace("day: {heating: {low", "day: &usual {heating: {low").replace(
    "night: {heating: managed, cooling: {low: 30 min, high: 10 min}}", "night: *usual  # as by day"
)


def test_a_place_that_shares_an_anchor_is_written_out_and_the_other_stays() -> None:
    changed = edit_sound(Edit(ADD, (*PROGRAMS, "night", "heating"), {"low": "30 min"}), text=ANCHORED)
    assert "night: {heating: {low: 30 min}, cooling: {low: 60 min}}  # as by day\n" in changed
    assert "day: &usual {heating: {low: 45 min}, cooling: {low: 60 min}}\n" in changed


def test_what_an_anchor_stands_at_may_change_without_the_places_that_share_it() -> None:
    changed = edit_sound(Edit(ADD, (*PROGRAMS, "day", "heating"), {"low": "30 min"}), text=ANCHORED)
    assert "night: {heating: {low: 45 min}, cooling: {low: 60 min}}  # as by day\n" in changed
    assert "{heating: {low: 30 min}, cooling: {low: 60 min}}\n" in changed


def test_an_alias_that_is_replaced_whole_needs_no_writing_out() -> None:
    changed = edit_sound(Edit(REPLACE, (*PROGRAMS, "night"), {"heating": {}, "cooling": {}}), text=ANCHORED)
    assert "night: {heating: {}, cooling: {}}  # as by day\n" in changed
    assert "&usual" in changed


@given(wholes, random_things, st.data())
def test_an_edit_beside_anchors_changes_no_place_that_shares_one(
    document: dict[str, Document], random: Random, data: st.DataObject
) -> None:
    text = json.dumps(document)
    shared = [part for _path, part in parts(document) if isinstance(part, dict | list) and part and part != document]
    assume(shared)
    part = json.dumps(random.choice(shared))
    first = text.index(part)
    tail = text[first + len(part) :].replace(part, " *part ")
    text = f'{text[:first]}&part {part}{tail[:-1]}, "a copy": *part }}'
    whole = json.loads(json.dumps(load_yaml(text)))  # no part shared in memory, either
    edit = data.draw(edits(whole))
    changed = spliced(text, [edit], whole, is_json=False)
    assert same(load_yaml(changed), apply_edits(whole, [edit])), (text, changed)


# What is refused


NO_PLACE: Final = (
    Edit(REPLACE, ("settings", "cellar"), {}),
    Edit(REMOVE, ("cables", 7)),
    Edit(ADD, ("settings", "cellar", "cycle"), "60 min"),
)


@pytest.mark.parametrize("edit", NO_PLACE, ids=lambda edit: edit.op.value)
def test_an_edit_without_a_place_is_refused(edit: Edit) -> None:
    with pytest.raises(ValueError, match="does not fit"):
        edited_text(SOUND, "job.yaml", [edit], {})


def test_edits_that_lead_elsewhere_than_expected_are_refused() -> None:
    with pytest.raises(ValueError, match=r"job\.yaml: .* do not lead to the job expected"):
        edited_text(SOUND, "job.yaml", [Edit(REPLACE, ("job",), "Another")], load_yaml(SOUND))


@pytest.mark.parametrize("text", ["- a list\n", "ventrules: 1\njob: no dwelling\n", "{", ""])
def test_a_text_that_is_no_sound_job_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"mapping|no sound job|cannot be edited"):
        edited_text(text, "job.yaml", [Edit(REPLACE, ("job",), "x")], {})


def test_no_edit_changes_nothing() -> None:
    expected: Mapping[str, Document] = job_document(parse_job(SOUND, name="job.yaml"))
    assert edited_text(SOUND, "job.yaml", [], dict(expected)) == SOUND
