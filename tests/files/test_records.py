"""JSON Lines: what counts as a line, and what cannot be used of it."""

import io
import json
import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ventrules.engine import Position
from ventrules.files import Record, read_records, records_in

LARGEST = "ventrules.files.records.LARGEST_BYTES"


def read(data: bytes) -> list[Record]:
    return list(records_in(io.BytesIO(data), "lane.jsonl"))


def told(record: Record) -> tuple[Position | None, str]:
    assert record.problem is not None
    assert record.problem.file == "lane.jsonl"
    return record.problem.position, record.problem.message


@pytest.mark.parametrize(
    "data",
    [
        b'{"a": 1}\n{"b": 2}\n',
        b'{"a": 1}\n{"b": 2}',
        b'{"a": 1}\r\n{"b": 2}\r\n',
        b'\xef\xbb\xbf{"a": 1}\n{"b": 2}\n',
        b'{"a": 1}\n{"b": 2}\n\n  \n\t\r\n',
    ],
    ids=["lines", "no last line end", "carriage returns", "byte-order mark", "blank lines"],
)
def test_lines_are_read_however_they_end(data: bytes) -> None:
    assert read(data) == [Record(1, '{"a": 1}'), Record(2, '{"b": 2}')]


def test_blank_lines_count_as_lines() -> None:
    assert [record.line for record in read(b"\n\n{}\n \n{}\n")] == [3, 5]


@given(st.lists(st.dictionaries(st.text(), st.text(), max_size=2), min_size=1, max_size=6), st.booleans())
def test_what_is_written_a_line_at_a_time_is_read_so(rows: list[dict[str, str]], escaped: bool) -> None:
    lines = [json.dumps(row, ensure_ascii=True if escaped else not _encodable(row)) for row in rows]
    found = read("\n".join(lines).encode())
    assert [(record.line, record.text) for record in found] == list(enumerate(lines, 1))
    assert [json.loads(record.text) for record in found] == rows


def _encodable(row: dict[str, str]) -> bool:
    try:
        json.dumps(row, ensure_ascii=False).encode()
    except UnicodeEncodeError:
        return False
    return True


def test_a_line_that_is_no_text_has_its_place_and_the_others_are_read() -> None:
    one, two, three = read('{"a": 1}\n{"ü": '.encode() + b"\xff}\n" + b'{"b": 2}')
    assert (one, three) == (Record(1, '{"a": 1}'), Record(3, '{"b": 2}'))
    position, message = told(two)
    assert position == Position("lane.jsonl", 2, 7)
    assert "UTF-8" in message
    assert "0xff" in message


@pytest.mark.parametrize("end", [b"\n", b"\r\n", b""])
def test_a_line_that_is_too_long_is_refused_and_the_others_are_read(
    monkeypatch: pytest.MonkeyPatch, end: bytes
) -> None:
    monkeypatch.setattr(LARGEST, 1000)
    longest = b"x" * 1000 + end
    assert [record.problem for record in read(longest)] == [None]
    for more in (1, 2, 3, 200_000):
        first, *others = read(b"x" * (1000 + more) + end + (b"{}\n" if end else b""))
        assert told(first)[0] == Position("lane.jsonl", 1, 1)
        assert others == ([Record(2, "{}")] if end else [])


class Counted(io.BytesIO):
    """A stream that notes how much is asked of it at once."""

    most = 0

    def readline(self, size: int | None = -1, /) -> bytes:
        assert size is not None
        assert size > 0
        self.most = max(self.most, size)
        return super().readline(size)


def test_no_more_than_the_longest_line_is_held() -> None:
    stream = Counted(b"{}\n" * 3)
    assert len(list(records_in(stream, "x"))) == 3
    assert 0 < stream.most < 17 * 1024 * 1024


@pytest.mark.parametrize("data", [b"", b"\n\n", b" ", b"\xef\xbb\xbf\n"])
def test_no_job_at_all_is_a_problem(data: bytes) -> None:
    (only,) = read(data)
    position, message = told(only)
    assert position is None
    assert "a job on each line" in message
    assert only.line == 0


def test_a_file_that_cannot_be_read_is_a_problem(tmp_path: Path) -> None:
    for name, expected in (("none.jsonl", "no such file"), ("", "no regular file"), ("a\0b", "")):
        (only,) = read_records(tmp_path / name)
        assert only.problem is not None
        assert expected in only.problem.message
        assert only.problem.file == str(tmp_path / name)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.jsonl")
    (only,) = read_records(tmp_path / "pipe.jsonl")
    assert only.problem is not None
    assert "standard input" in only.problem.message


def test_a_file_is_read_as_a_stream_is(tmp_path: Path) -> None:
    (tmp_path / "lane.jsonl").write_bytes(b"{}\n\n{}")
    assert list(read_records(tmp_path / "lane.jsonl")) == read(b"{}\n\n{}")
