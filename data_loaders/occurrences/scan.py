"""One look over the bytes of a large text table before it is given to a reader that forgives too much."""

from dataclasses import dataclass
from typing import BinaryIO

from data_loaders.archives import LIMITS, Limits
from service.errors import BadFile

_CHUNK_BYTES = 1 << 20
_LINE_END = b"\n"


@dataclass(frozen=True, slots=True)
class Lines:
    """Lines that are not empty, and whether they end in more than one way."""

    filled: int
    mixed_ends: bool


def scan_text(stream: BinaryIO, *, file: str, copy_to: BinaryIO | None = None, limits: Limits = LIMITS) -> Lines:
    """Count lines and refuse what is no text table.

    Raises:
        BadFile: a NUL byte, or a line without an end in sight.
    """
    feeds = returns = blank = 0
    open_bytes = 0
    before = b"\n"
    while chunk := stream.read(_CHUNK_BYTES):
        if copy_to is not None:
            copy_to.write(chunk)
        if b"\x00" in chunk:
            line = feeds + chunk[: chunk.index(b"\x00")].count(b"\n") + 1
            raise BadFile(file, "a NUL byte, so this is not a text table.", place=f"line {line}")
        newest = chunk.rfind(b"\n")
        open_bytes = len(chunk) - newest - 1 if newest >= 0 else open_bytes + len(chunk)
        if open_bytes > limits.line_characters:
            raise BadFile(
                file,
                f"a line longer than {limits.line_characters:,} characters; its line ends are missing or of another kind.",
                place=f"line {feeds + chunk.count(_LINE_END) + 1}",
            )
        feeds += chunk.count(b"\n")
        if b"\r" in chunk:
            returns += chunk.count(b"\r")
        if chunk[:1] in b"\r\n" or before.endswith(b"\n") or b"\n\n" in chunk or b"\n\r\n" in chunk:
            blank += _blank_lines(before, chunk)
        before = (before + chunk)[-2:]
    lines = feeds + (open_bytes > 0)
    return Lines(filled=lines - blank, mixed_ends=bool(returns) and returns != feeds)


def _blank_lines(before: bytes, chunk: bytes) -> int:
    """Line ends in ``chunk`` that close an empty line; ``before`` is the end of the chunk before it."""
    joined = before + chunk
    pieces = joined.split(b"\n")[:-1]
    skipped = before.count(b"\n")
    return sum(1 for piece in pieces[skipped:] if piece in (b"", b"\r"))
