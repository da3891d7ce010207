"""The seal of a finished store: a hash of the whole file, kept in the file itself.

Backup is copying one file, so the hash has no file of its own: it is kept in the ``meta`` table,
and the file is hashed as if the digits were zeros. A bit that flips anywhere afterwards, or a store
that was written to by hand, no longer fits its seal. SQLite's own checks see damage to its
structure alone, not a changed letter in a row.
"""

import hashlib
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

KEY = "seal"
"""Key of the seal in ``meta``."""
OPEN = "sha256:" + "0" * 64
"""What stands there while the store is drafted."""

_PIECE = 4_194_304


def seal(path: Path) -> None:
    """Seal a finished file, which holds ``OPEN`` under ``KEY`` and is open nowhere.

    Raises:
        ValueError: it holds no place for the seal.
    """
    mark = OPEN.encode()
    with path.open("r+b") as stream:
        places = list(_places(stream, mark))
        if not places:
            raise ValueError(f"{path.name} has no place for a seal.")
        digits = digest(stream, OPEN).encode()
        for place in places:
            stream.seek(place)
            stream.write(digits)


def digest(stream: BinaryIO, written: str) -> str:
    """The seal that fits a file, with the seal ``written`` in it left out."""
    mark, blank = written.encode(), OPEN.encode()
    hashed = hashlib.sha256()
    tail = b""
    stream.seek(0)
    while piece := stream.read(_PIECE):
        tail = (tail + piece).replace(mark, blank)
        cut = max(0, len(tail) - len(mark) + 1)
        hashed.update(tail[:cut])
        tail = tail[cut:]
    hashed.update(tail)
    return f"sha256:{hashed.hexdigest()}"


def _places(stream: BinaryIO, mark: bytes) -> Iterator[int]:
    tail, start = b"", 0
    stream.seek(0)
    while piece := stream.read(_PIECE):
        tail += piece
        found = tail.find(mark)
        while found >= 0:
            yield start + found
            found = tail.find(mark, found + 1)
        cut = max(0, len(tail) - len(mark) + 1)
        tail, start = tail[cut:], start + cut
