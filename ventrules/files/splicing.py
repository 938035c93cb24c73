"""Edits in a text: the parts that they name are written anew, and nothing else."""

from collections.abc import Callable, Iterable, Sequence
from typing import TypeAlias

from ventrules.engine import Edit, EditKind, Path
from ventrules.engine.findings import Document
from ventrules.files.rendering import Quotes, alike, column_of, line_start, margin, quotes_like, spreads, style_of
from ventrules.files.spans import Kind, Span, along, comments, json_spans, yaml_spans

Splice: TypeAlias = tuple[int, int, str]


def spliced(text: str, edits: Sequence[Edit], document: Document, *, is_json: bool) -> str:
    """Return a text with one edit made in it, or with several that each write over another value.

    A place that shares an anchor with others is written out before it is changed, so that the others stay.

    Args:
        text: The text.
        edits: One edit; or several, none at or within the place of another, each over a value that is there.
        document: What the text says.
        is_json: Whether it is JSON.

    Raises:
        ValueError: The text has no such place, or cannot be taken apart.
    """
    spans: Callable[[str], Span] = json_spans if is_json else yaml_spans
    root = spans(text)
    for edit in edits:
        while (shared := _shared(root, edit)) is not None:
            text = _Splicer(text, root, is_json=is_json).written_out(shared, document)
            root = spans(text)
    return _Splicer(text, root, is_json=is_json).edited(edits)


def _target(root: Span, path: Path) -> tuple[list[Span], int | None]:
    """Return the collections above a path, and the number of its item in the last, or None when it has none."""
    above = along(root, path[:-1])
    holder = above[-1]
    if not path or (not holder.collection and holder.kind is not Kind.ALIAS):
        raise ValueError("an edit does not fit the text")
    return above, holder.index(path[-1]) if holder.collection else None


def _shared(root: Span, edit: Edit) -> tuple[Span, Path] | None:
    """Return an alias that has to be written out before an edit, and its path; None when there is none."""
    above, index = _target(root, edit.path)
    if above[-1].kind is Kind.ALIAS:
        return above[-1], edit.path[: len(above) - 1]
    changing = list(above)
    over = edit.op is not EditKind.ADD or above[-1].kind is Kind.MAPPING
    if index is not None and over:
        changing += above[-1].items[index][1].walk()
    anchored = [part for part in changing if part.anchor]
    return next(((a, p) for a, p in _aliases(root, ()) if any(a.target is part for part in anchored)), None)


def _aliases(part: Span, path: Path) -> Iterable[tuple[Span, Path]]:
    for number, (key, value) in enumerate(part.items):
        here = (*path, key.text if key is not None else number)
        if value.kind is Kind.ALIAS:
            yield value, here
        yield from _aliases(value, here)


class _Splicer:
    """Makes one change in a text whose parts are known."""

    def __init__(self, text: str, root: Span, *, is_json: bool) -> None:
        self._text = text
        self._root = root
        self._style = style_of(text, root, is_json=is_json)

    def _with(self, splices: Iterable[Splice]) -> str:
        text = self._text
        for start, end, new in sorted(splices, key=lambda splice: splice[:2], reverse=True):
            text = text[:start] + new + text[end:]
        return text

    def written_out(self, shared: tuple[Span, Path], document: Document) -> str:
        """Return the text with an alias written out."""
        alias, path = shared
        value = document
        for step in path:
            value = (
                value[int(step)] if isinstance(value, list) else value[str(step)] if isinstance(value, dict) else None
            )
        quotes = quotes_like([alias.target]) if alias.target is not None else Quotes()
        return self._with([(alias.start, alias.end, self._style.inline(value, quotes))])

    def edited(self, edits: Iterable[Edit]) -> str:
        """Return the text with edits made, no part of which is shared."""
        return self._with(splice for edit in edits for splice in self._splices(edit))

    def _splices(self, edit: Edit) -> list[Splice]:
        above, index = _target(self._root, edit.path)
        holder = above[-1]
        if index is None and edit.op is not EditKind.ADD:
            raise ValueError("an edit does not fit the text")
        if edit.op is EditKind.REMOVE and index is not None:
            return self._removed_in_flow(holder, index) if holder.flow else self._removed(above, index)
        if index is not None and (edit.op is EditKind.REPLACE or holder.kind is Kind.MAPPING):
            return self._replaced(holder, index, edit.value)
        key = str(edit.path[-1]) if holder.kind is Kind.MAPPING else None
        at = len(holder.items) if index is None else index
        if holder.flow and not holder.items and len(above) > 1 and not self._style.is_json and not above[-2].flow:
            number = next(n for n, (_key, part) in enumerate(above[-2].items) if part is holder)
            return self._replaced(above[-2], number, [edit.value] if key is None else {key: edit.value})
        insert = self._inserted_in_flow if holder.flow else self._inserted
        return insert(holder, at, key, edit.value)

    # What both styles need

    def _line_end(self, at: int) -> int:
        """Return the offset of the line break after an offset, or of the end."""
        found = [self._text.find(end, at) for end in ("\r", "\n")]
        return min((place for place in found if place >= 0), default=len(self._text))

    def _after_break(self, at: int) -> int:
        return at + 2 if self._text.startswith("\r\n", at) else min(at + 1, len(self._text))

    def _item_end(self, holder: Span, index: int) -> int:
        key, value = holder.items[index]
        return max(value.end, self._text.index(":", key.end) + 1 if key is not None else holder.lead(index) + 1)

    def _kept(self, start: int, end: int, column: int) -> str:
        """Return the comments between two offsets, each as a line of its own."""
        if self._style.is_json:
            return ""
        found = comments(self._text, self._root, start, end)
        return "".join(f"{' ' * column}{comment}{self._style.newline}" for comment in found)

    def _in_line(self, holder: Span, value: Document, at: int, like: Span | None) -> str:
        """Return a value as it goes between brackets or behind a key."""
        spread = spreads(self._text, like) if like is not None else self._style.spread
        if self._style.is_json and spread and isinstance(value, dict | list) and value:
            return self._style.spread_out(value, margin(self._text, at))
        return self._style.inline(value, quotes_like([like or holder]))

    # Block style

    def _inserted(self, holder: Span, at: int, key: str | None, value: Document) -> list[Splice]:
        column = column_of(self._text, holder.lead(0))
        like = alike(holder, value)
        quotes = quotes_like([like or holder])
        if key is not None:
            first, *others = self._style.entry("key", value, column, quotes, like)
            _quoted, behind = first.split(":", 1)
            lines = [f"{' ' * column}{self._style.scalar(key, self._key_quote(holder))}:{behind}", *others]
        else:
            lines = self._style.entry(None, value, column, quotes, like)
        written = self._style.newline.join(lines)
        if at < len(holder.items):
            place = holder.lead(at)
            return [(place, place, written.lstrip() + self._style.newline + " " * column)]
        place = self._line_end(self._item_end(holder, at - 1))
        return [(place, place, self._style.newline + written)]

    def _removed(self, above: list[Span], index: int) -> list[Splice]:
        holder = above[-1]
        start, end = holder.lead(index), self._item_end(holder, index)
        begin, stop = line_start(self._text, start), self._line_end(end)
        column = column_of(self._text, start)
        whole = not self._text[begin:start].strip()
        empty = "{}" if holder.kind is Kind.MAPPING else "[]"
        if len(holder.items) == 1:
            if not whole or len(above) < 2:
                return [(begin, begin, self._kept(start, end, column_of(self._text, start))), (start, end, empty)]
            return [(*self._behind(above[-2], holder), f" {empty}"), *self._lines_cut(begin, stop, column)]
        if whole:
            return self._lines_cut(begin, stop, column)
        following = holder.lead(index + 1)
        return [(begin, begin, self._kept(start, following, len(margin(self._text, start)))), (start, following, "")]

    def _lines_cut(self, begin: int, stop: int, column: int) -> list[Splice]:
        """Return the splice that takes whole lines out and leaves their comments."""
        kept = self._kept(begin, stop, column)
        if stop == len(self._text) and begin > 0 and not kept:  # the last line of a text without a break at its end
            before = begin - (2 if self._text[:begin].endswith("\r\n") else 1)
            return [(before, stop, "")]
        if stop == len(self._text):
            kept = kept.removesuffix(self._style.newline)
        return [(begin, self._after_break(stop), kept)]

    def _behind(self, owner: Span, value: Span) -> tuple[int, int]:
        """Return the empty stretch right behind the key, the dash or the anchor that a value belongs to."""
        index = next(number for number, (_key, part) in enumerate(owner.items) if part is value)
        key = owner.items[index][0]
        place = self._text.index(":", key.end) + 1 if key is not None else owner.lead(index) + 1
        return place, place

    def _replaced(self, holder: Span, index: int, value: Document) -> list[Splice]:
        key, old = holder.items[index]
        like = old if old.collection and old.items else alike(holder, value)
        if old.kind is Kind.SCALAR and not isinstance(value, dict | list):
            new = self._style.scalar(value, old.quote)
            return [(old.start, old.end, new if old.end > old.start else f" {new}")]
        block = not holder.flow and key is not None and self._style.wants_block(value, like)
        column = column_of(self._text, holder.lead(index))
        if old.collection and not old.flow:
            return self._block_replaced(holder, index, value, column, block=block)
        stop = self._line_end(old.end)
        splices: list[Splice] = []
        if kept := self._kept(old.start, old.end, column + self._style.step):
            splices.append((stop, stop, self._style.newline + kept.removesuffix(self._style.newline)))
        if block:
            quotes = quotes_like([like] if like is not None else [])
            lines = self._style.block(value, self._style.inner_column(value, column), quotes, like)
            behind, _same = self._behind(holder, old)
            written = self._style.newline + self._style.newline.join(lines)
            return [(behind, old.end, ""), (stop, stop, written), *splices]
        new = self._in_line(holder, value, old.start, like)
        return [(old.start, old.end, new if old.end > old.start else f" {new}"), *splices]

    def _block_replaced(self, holder: Span, index: int, value: Document, column: int, *, block: bool) -> list[Splice]:
        old = holder.items[index][1]
        first = old.lead(0)
        begin, stop = line_start(self._text, first), self._line_end(old.end)
        quotes = quotes_like([old])
        if self._text[begin:first].strip():  # on the line of its dash
            kept = self._kept(old.start, stop, column)
            return [(begin, begin, kept), (old.start, stop, self._style.inline(value, quotes))]
        behind, _same = self._behind(holder, old)
        if not block:
            cut = self._lines_cut(begin, stop, column_of(self._text, first))
            return [(behind, behind, f" {self._style.inline(value, quotes)}"), *cut]
        same_kind = isinstance(value, dict) is (old.kind is Kind.MAPPING)
        inner = column_of(self._text, first) if same_kind else self._style.inner_column(value, column)
        lines = self._style.block(value, inner, quotes, old)
        kept = self._kept(begin, stop, column_of(self._text, first))
        return [(begin, stop, kept + self._style.newline.join(lines))]

    # Between brackets

    def _inserted_in_flow(self, holder: Span, at: int, key: str | None, value: Document) -> list[Splice]:
        inside, closing = holder.body + 1, holder.end - 1
        like = alike(holder, value)
        lead = self._key(holder, key)
        if not holder.items:
            if self._style.spread:
                outer = margin(self._text, holder.start)
                inner = self._style.newline + outer + self._style.unit
                new = self._style.spread_out(value, outer + self._style.unit)
                return [(inside, closing, f"{inner}{lead}{new}{self._style.newline}{outer}")]
            new = lead + self._in_line(holder, value, holder.start, like)
            if self._text[inside:closing].strip():
                return [(inside, inside, new)]
            pad = self._style.pad if holder.kind is Kind.MAPPING else ""
            return [(inside, closing, f"{pad}{new}{pad}")]
        first = holder.lead(0)
        new = lead + self._in_line(holder, value, first, like)
        own_lines = spreads(self._text, holder)
        gap = self._style.newline + margin(self._text, first) if own_lines else self._style.comma.removeprefix(",")
        if at < len(holder.items):
            place = holder.lead(at)
            return [(place, place, f"{new},{gap}")]
        end = self._item_end_in_flow(holder, at - 1)
        rest = self._text[end : self._line_end(end)]
        after_comma = rest.lstrip().removeprefix(",")
        if own_lines and after_comma.lstrip().startswith("#"):  # the comment stays on its line
            stop = self._line_end(end)
            comma = "" if rest.lstrip().startswith(",") else ","
            return [(end, end, comma), (stop, stop, gap + new)]
        return [(end, end, f",{gap}{new}")]

    def _key(self, holder: Span, key: str | None) -> str:
        if key is None:
            return ""
        return self._style.scalar(key, self._key_quote(holder)) + self._style.colon

    def _key_quote(self, holder: Span) -> str:
        found = {part.quote for part, _value in holder.items if part is not None}
        return found.pop() if len(found) == 1 else ""

    def _item_end_in_flow(self, holder: Span, index: int) -> int:
        key, value = holder.items[index]
        return max(value.end, key.end if key is not None else 0)

    def _removed_in_flow(self, holder: Span, index: int) -> list[Splice]:
        start, end = holder.lead(index), self._item_end_in_flow(holder, index)
        if len(holder.items) == 1:
            inside, closing = holder.body + 1, holder.end - 1
            if not self._kept(inside, closing, 0):
                return [(inside, closing, "")]
        elif index + 1 < len(holder.items):
            following = holder.lead(index + 1)
            if not self._kept(end, following, 0) and not self._kept(start, end, 0):
                return [(start, following, "")]
        else:
            before = self._item_end_in_flow(holder, index - 1)
            if not self._kept(before, start, 0) and not self._kept(start, end, 0):
                return [(before, end, "")]
        kept = self._kept(start, end, column_of(self._text, start))
        comma = self._text.find(",", end, holder.end)
        if comma >= 0 and not self._text[end:comma].strip():
            end = comma + 1
        return [(start, end, kept.strip() + (self._style.newline if kept else ""))]
