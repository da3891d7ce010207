"""The look over the bytes of a text table."""

import io
from typing import BinaryIO, cast

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from data_loaders.archives import Limits
from data_loaders.occurrences.scan import Lines, scan_text
from service.errors import BadFile


class Pieces(io.RawIOBase):
    """Bytes that come a few at a time, whatever is asked."""

    def __init__(self, content: bytes, size: int) -> None:
        self._inner, self._size = io.BytesIO(content), size

    def read(self, size: int = -1) -> bytes:
        return self._inner.read(self._size)


@settings(max_examples=150)
@given(
    st.lists(st.sampled_from(["", "a", "b c", "long line"]), max_size=12),
    st.sampled_from(["\n", "\r\n"]),
    st.booleans(),
    st.integers(1, 7),
)
def test_lines_are_counted_whatever_the_pieces(
    lines: list[str], end: str, closed: bool, size: int
) -> None:
    content = end.join(lines).encode() + (end.encode() if closed else b"")
    found = scan_text(cast(BinaryIO, Pieces(content, size)), file="t")
    assert found == Lines(
        filled=sum(line != "" for line in content.decode().split(end)), mixed_ends=False
    )


def test_two_kinds_of_line_end_are_noticed_and_every_byte_is_passed_on() -> None:
    out = io.BytesIO()
    assert scan_text(io.BytesIO(b"a\r\nb\nc\r\n"), file="t", copy_to=out) == Lines(
        filled=3, mixed_ends=True
    )
    assert out.getvalue() == b"a\r\nb\nc\r\n"


def test_a_nul_byte_and_a_line_without_an_end_are_refused_with_their_line() -> None:
    with pytest.raises(BadFile, match="line 3: a NUL byte"):
        scan_text(io.BytesIO(b"a\nb\nc\x00"), file="t")
    with pytest.raises(BadFile, match="line 2: a line longer than 10 characters"):
        scan_text(io.BytesIO(b"a\n" + b"x" * 11), file="t", limits=Limits(line_characters=10))
