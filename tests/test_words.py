"""Names suggested in messages: helpful, and never expensive."""

import pytest

from ventrules.units import Airflow, UnitError
from ventrules.words import listed, nearest, shown, some_of


def test_the_nearest_name_is_found_whatever_its_case() -> None:
    assert nearest("Furnce", ["furnace", "module"]) == "furnace"
    assert nearest("zzz", ["furnace", "module"]) is None


def test_none_is_looked_for_among_very_many_or_for_a_very_long_name() -> None:
    assert nearest("unit 7", [f"unit {number}" for number in range(200)]) == "unit 7"
    assert nearest("unit 7", [f"unit {number}" for number in range(201)]) is None
    assert nearest("furnace" * 20, ["furnace" * 20]) is None


def test_lists_read_as_phrases() -> None:
    assert [listed(names) for names in ([], ["a"], ["a", "b"], ["a", "b", "c"])] == ["", "a", "a and b", "a, b and c"]
    assert some_of(["a", "b", "c", "d", "e"]) == "a, b, c and 2 more"
    assert shown("a\x1b[2Jb") == "a\\x1b[2Jb"


def test_a_quantity_of_absurd_length_is_refused() -> None:
    with pytest.raises(UnitError, match="is too long") as caught:
        Airflow.parse("0" * 100_000 + "70 cfm")
    assert len(str(caught.value)) < 200
