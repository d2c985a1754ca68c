"""Lines out of a byte stream, in whatever pieces it comes; waits that end at their deadline."""

from __future__ import annotations

import os
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchd.clock import Deadline
from benchd.pipes import LONGEST_LINE, LineBuffer, LineTooLong, read_some, write_all


@given(st.lists(st.binary(max_size=30).map(lambda b: b.replace(b"\n", b"")), max_size=8), st.data())
def test_lines_survive_any_cutting(lines: list[bytes], data: st.DataObject) -> None:
    stream = b"".join(line + b"\n" for line in lines) + b"rest"
    buffer, found, at = LineBuffer(), [], 0
    while at < len(stream):
        step = data.draw(st.integers(1, len(stream) - at))
        found += buffer.feed(stream[at : at + step])
        at += step
    assert found == lines
    assert buffer.feed(b"\n") == [b"rest"]


def test_a_line_without_end_is_bounded() -> None:
    buffer = LineBuffer()
    with pytest.raises(LineTooLong):
        for _ in range(20):
            buffer.feed(b"x" * (LONGEST_LINE // 10))
    assert buffer.feed(b"after\n") == [b"after"]


def test_reading_and_writing_end_at_the_deadline() -> None:
    read_end, write_end = os.pipe()
    os.set_blocking(write_end, False)
    try:
        began_s = time.monotonic()
        assert read_some(read_end, Deadline.after(0.05)) is None
        assert not write_all(write_end, b"x" * (1 << 20), Deadline.after(0.05))
        assert 0.1 <= time.monotonic() - began_s < 30.0
        assert read_some(read_end, Deadline.after(30)) == b"x" * (1 << 16)
        assert write_all(write_end, b"yy", Deadline.after(30))
    finally:
        os.close(write_end)
    assert read_some(read_end, Deadline.after(30)) == b"yy"
    assert read_some(read_end, Deadline.after(30)) == b""
    os.close(read_end)
