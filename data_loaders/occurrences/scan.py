"""One look over the bytes of a large text table before it is given to a reader that forgives too
much.
"""

from dataclasses import dataclass
from typing import BinaryIO

import numpy as np

from data_loaders.archives import LIMITS, Limits
from service.errors import BadFile

_CHUNK_BYTES = 1 << 17  # stays in the processor's cache while it is looked over several times
_FEED, _RETURN = 10, 13


@dataclass(frozen=True, slots=True)
class Lines:
    """Lines that are not empty, and whether they end in more than one way."""

    filled: int
    mixed_ends: bool


def scan_text(
    stream: BinaryIO, *, file: str, copy_to: BinaryIO | None = None, limits: Limits = LIMITS
) -> Lines:
    """Count lines and refuse what is not a text table.

    Args:
        copy_to: takes every byte as it goes by.

    Raises:
        BadFile: a NUL byte, or a line without an end in sight.
    """
    feeds = returns = blank = open_bytes = 0
    before = b"x\n"  # as if a line had ended just before the file
    while chunk := stream.read(_CHUNK_BYTES):
        if copy_to is not None:
            copy_to.write(chunk)
        if b"\x00" in chunk:
            line = feeds + chunk[: chunk.index(b"\x00")].count(b"\n") + 1
            raise BadFile(file, "a NUL byte, so this is not a text table.", place=f"line {line}")
        newest = chunk.rfind(b"\n")
        open_bytes = len(chunk) - newest - 1 if newest >= 0 else open_bytes + len(chunk)
        letters = np.frombuffer(before + chunk, dtype=np.uint8)
        ends = letters == _FEED
        feeds += int(np.count_nonzero(ends[2:]))
        blank += int(np.count_nonzero(ends[2:] & ends[1:-1]))
        if b"\r" in chunk or before.endswith(b"\r"):
            breaks = letters == _RETURN
            returns += int(np.count_nonzero(breaks[2:]))
            blank += int(np.count_nonzero(ends[2:] & breaks[1:-1] & ends[:-2]))
        if open_bytes > limits.line_characters:
            raise BadFile(
                file,
                f"a line longer than {limits.line_characters:,} characters; its line ends are"
                " missing or of another kind.",
                place=f"line {feeds + 1}",
            )
        before = (before + chunk)[-2:]
    lines = feeds + (open_bytes > 0)
    return Lines(filled=lines - blank, mixed_ends=bool(returns) and returns != feeds)
