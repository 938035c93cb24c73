"""Changes to documents and texts, chosen by the bytes of an input."""

import copy
from collections.abc import Iterator
from typing import TypeAlias

from tests.fuzz.bases import WORDS
from tests.fuzz.feed import Feed
from ventrules.engine.findings import Document

_MOST = 8


_Place: TypeAlias = tuple[dict[str, Document] | list[Document], str | int]


def _places(value: Document) -> Iterator[_Place]:
    """Every part of a document below the top, as what holds it and where."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield value, key
            yield from _places(inner)
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield value, index
            yield from _places(inner)


def edited(document: Document, feed: Feed) -> Document:
    """Return a document with up to four parts replaced, taken away, moved, copied, named anew or put in."""
    done = copy.deepcopy(document)
    for _time in range(1 + feed.below(4)):
        places = list(_places(done))
        if not places:
            break
        _edit(places, feed)
        if not feed:
            break
    return done


def _edit(places: list[_Place], feed: Feed) -> None:
    how = feed.below(12)
    if how >= 8:  # half of the changes are such as the reader may let pass
        _number(*feed.one_of([at for at in places if _is_number(_part(at))] or places), feed)
        return
    place = holder, at = feed.one_of(places)
    if how == 0:
        _put(holder, at, feed.one_of(WORDS))
    elif how == 1:
        _put(holder, at, feed.text())
    elif how in (2, 3):
        del holder[at]  # type: ignore[arg-type]
    elif how == 4:
        _put(holder, at, _part(feed.one_of(places)))
    elif how == 5:
        _put(holder, at, _part(feed.one_of([other for other in places if _kind(other) == _kind(place)])))
    elif isinstance(holder, dict):
        word = feed.one_of(WORDS) if feed.below(2) else feed.text()
        holder[str(word)] = _part(place) if how == 7 else holder.pop(str(at))
    else:
        holder.insert(int(at), _part(place))


def _part(place: _Place) -> Document:
    holder, at = place
    return copy.deepcopy(holder[str(at)] if isinstance(holder, dict) else holder[int(at)])


def _kind(place: _Place) -> tuple[str, str]:
    """What may be put in place of each other: the key, or the kind of value and what stands behind its first word."""
    value = _part(place)
    unit = value.partition(" ")[2] if isinstance(value, str) and _is_number(value) else str(place[1])
    return type(value).__name__, "from" if unit in ("from", "to") else unit


def _is_number(value: Document) -> bool:
    return isinstance(value, int | float) or (isinstance(value, str) and value[:1].isdigit())


def _put(holder: dict[str, Document] | list[Document], at: str | int, value: Document) -> None:
    if isinstance(holder, dict):
        holder[str(at)] = copy.deepcopy(value)
    else:
        holder[int(at)] = copy.deepcopy(value)


def _number(holder: dict[str, Document] | list[Document], at: str | int, feed: Feed) -> None:
    """Put another number in: before the unit of a quantity, or by itself."""
    old = _part((holder, at))
    number = feed.one_of(_NUMBERS) if feed.below(2) else str(feed.below(60_000) / 16)
    if isinstance(old, str) and ":" in old[:3] and old[:2].isdigit():
        _put(holder, at, f"{feed.below(25):02}:{feed.below(60):02}")
        return
    if isinstance(old, int):
        number = str(feed.below(256) - 2)
    if isinstance(old, str):
        _number_part, _space, unit = old.partition(" ")
        _put(holder, at, f"{number} {unit}" if unit else number)
    else:
        _put(holder, at, float(number) if "." in number or "e" in number else int(number))


def edited_lines(text: str, feed: Feed) -> str:
    """Return a TOML text with some lines left out, doubled, moved, cut or given another value."""
    lines = text.split("\n")
    for _time in range(1 + feed.below(_MOST)):
        if not lines:
            break
        at, how = feed.below(len(lines)), feed.below(6)
        key, equals, _value = lines[at].partition("=")
        if how == 0:
            del lines[at]
        elif how == 1:
            lines.insert(at, feed.one_of(lines))
        elif how == 2:
            lines[at] = key + equals + feed.one_of(lines).partition("=")[2]
        elif how == 3:
            lines[at] = f"{key}{equals} {feed.one_of(_TOML)}"
        elif how == 4:
            lines[at] = f"{key}{equals} {feed.below(60_000) / 64 - 100}"
        else:
            lines[at] = lines[at][: feed.below(80)] + feed.text()
        if not feed:
            break
    return "\n".join(lines)


_NUMBERS = ("0", "-1", "1", "0.1", "7", "59", "61", "10", "30", "120", "1000", "1e6", "1e-6", "1e300", "5e-324")
_TOML = (
    "0", "-1", "1", "1e308", "5e-324", "inf", "nan", "true", '""', '"0 cfm"', '"1e300 cfm"', '"x"', '"24 h"', '"0 h"',
    "[]", "{}", "[[]]", "1979-05-27", "07:32:00", '"capacity"', '"continuous"', '"average"', '"exposure"', '"levels"',
    '"segment factors"', '"average with a floor"', '"0 m2"', '"1 ft2"', "0x7fffffffffffffff", "99999999999999999999",
)  # fmt: skip
