"""Where a key of a code file stands: the line and column of the deepest part that has a line of its own."""

import re

import pytest

from tests.codes.trees import Steps, every_shape, text_of
from ventrules.files.toml_marks import toml_position

SHAPES = every_shape()

TEXT = """\
# A comment = 1
top = 1
"quoted key" = 2
dotted.inner.leaf = 3

[table]  # with a comment
  indented = "a = b"
  rows = [
    ["1 L/s", "2 L/s"],
    ["3 L/s", "4 L/s"],
  ]
  after = { one = 1, two = 2 }

[table.below]
leaf = 4

['table'."quoted.name"]
leaf = 5

[[many]]
leaf = 6

[[many]]
leaf = 7
list = [1, 2]
"""


@pytest.mark.parametrize(
    ("path", "line", "column"),
    [
        (("top",), 2, 1),
        (("top", "no", "further"), 2, 1),
        (("quoted key",), 3, 1),
        (("dotted", "inner", "leaf"), 4, 1),
        (("table",), 6, 1),
        (("table", "missing"), 6, 1),
        (("table", "indented"), 7, 3),
        (("table", "rows"), 8, 3),
        (("table", "rows", 1, 0), 8, 3),
        (("table", "after", "two"), 12, 3),
        (("table", "below"), 14, 1),
        (("table", "below", "leaf"), 15, 1),
        (("table", "quoted.name", "leaf"), 18, 1),
        (("many", 0), 20, 1),
        (("many", 0, "leaf"), 21, 1),
        (("many", 1, "leaf"), 24, 1),
        (("many", 1, "list", 1), 25, 1),
        (("many", 1, "missing"), 23, 1),
    ],
)
def test_where_a_key_stands(path: Steps, line: int, column: int) -> None:
    found = toml_position(TEXT, "county.toml", path)
    assert found is not None
    assert (found.file, found.line, found.column) == ("county.toml", line, column)
    assert str(found) == f"county.toml:{line}:{column}"


@pytest.mark.parametrize("path", [(), ("missing",), ("many", 2), ("comment",), ("a",)])
def test_what_stands_nowhere_has_no_position(path: Steps) -> None:
    assert toml_position(TEXT, "county.toml", path) is None


# Tables and lists of tables may have no line of their own; what they hold has.
LEAVES = [
    shape
    for shape, (_code, path, value) in SHAPES.items()
    if isinstance(path[-1], str)
    and not isinstance(value, dict)
    and not (isinstance(value, list) and any(isinstance(inner, dict) for inner in value))
]


@pytest.mark.parametrize("shape", LEAVES)
def test_every_leaf_of_the_packaged_files_is_found_on_its_own_line(shape: str) -> None:
    code, path, _value = SHAPES[shape]
    text = text_of(code)
    found = toml_position(text, code, path)
    assert found is not None
    line = text.splitlines()[found.line - 1]
    assert len(line) - len(line.lstrip()) + 1 == found.column
    # Only rooms of an example are written over several lines; theirs is the line where the list begins.
    own = "rooms" if shape.startswith("examples/#/rooms/#") else str(path[-1])
    assert re.search(rf"\b{re.escape(own)}\b", line)
