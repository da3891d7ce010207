"""The seal of a finished store: a hash of the whole file, kept in the file itself.

Backup is copying one file, so the hash has no file of its own: it is kept in the ``meta`` table,
and the file is hashed as if the digits were zeros. A bit that flips anywhere afterwards, or a store
that was written to by hand, no longer fits its seal. SQLite's own checks see damage to its
structure alone, not a changed letter in a row.

The hash is that of the hashes of the file's pieces. So a load that adds to a large store hashes the
pieces that it wrote to, and takes the others as they were: one that was damaged meanwhile does not
fit the new seal either.
"""

import hashlib
import os
from collections.abc import Collection, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

KEY = "seal"
"""Key of the seal in ``meta``."""
OPEN = "sha256:" + "0" * 64
"""What stands there while the store is drafted."""

PIECE_BYTES = 4_194_304
_THREADS = 4


@dataclass(frozen=True, slots=True)
class Pieces:
    """The hashes of a file's pieces, and where in the file its seal stands."""

    digests: tuple[bytes, ...]
    places: tuple[int, ...]


def seal(
    path: Path, before: Pieces | None = None, changed: Collection[int] = ()
) -> tuple[str, Pieces]:
    """Seal a finished file, which holds ``OPEN`` under ``KEY`` and is open nowhere.

    Args:
        before: of the sealed file that it began as a copy of; every piece is hashed without it.
        changed: numbers of the pieces that were written to since.

    Returns:
        The seal, and the pieces as they are now.

    Raises:
        ValueError: it holds no place for the seal.
    """
    with path.open("r+b") as stream:
        count = _count(stream)
        digests: list[bytes] = [b""] * count
        anew = set(range(count))
        if before is not None:
            # Where the earlier seal stood in it, zeros were hashed in its place.
            touched = {*changed, *_numbers(before.places)}
            as_they_were = set(range(min(count, len(before.digests) - 1))) - touched
            for number in as_they_were:
                digests[number] = before.digests[number]
            anew -= as_they_were
        found = _hashed(stream, sorted(anew), OPEN)
        for number, (digest_of_piece, _) in found.items():
            digests[number] = digest_of_piece
        places = sorted({place for _, some in found.values() for place in some})
        if not places:
            raise ValueError(f"{path.name} has no place for a seal.")
        digits = _root(digests)
        for place in places:
            stream.seek(place)
            stream.write(digits.encode())
    return digits, Pieces(tuple(digests), tuple(places))


def digest(stream: BinaryIO, written: str) -> str:
    """The seal that fits a file, with the seal ``written`` in it left out."""
    found = _hashed(stream, range(_count(stream)), written)
    return _root([found[number][0] for number in sorted(found)])


def _count(stream: BinaryIO) -> int:
    return -(-os.fstat(stream.fileno()).st_size // PIECE_BYTES)


def _root(digests: Sequence[bytes]) -> str:
    return f"sha256:{hashlib.sha256(b''.join(digests)).hexdigest()}"


def _numbers(places: Sequence[int]) -> set[int]:
    """Of the pieces that a seal at some places reaches into."""
    return {at // PIECE_BYTES for place in places for at in (place, place + len(OPEN) - 1)}


def _hashed(
    stream: BinaryIO, numbers: Sequence[int], written: str
) -> dict[int, tuple[bytes, list[int]]]:
    """The hash of each piece with zeros for the seal in it, and where that seal stands."""
    mark, blank = written.encode(), OPEN.encode()
    descriptor, beside = stream.fileno(), len(mark) - 1

    def hashed(number: int) -> tuple[bytes, list[int]]:
        begin = max(0, number * PIECE_BYTES - beside)  # a seal may lie over the edge of a piece
        before = number * PIECE_BYTES - begin
        content = os.pread(descriptor, before + PIECE_BYTES + beside, begin)
        places = []
        found = content.find(mark)
        while found >= 0:
            places.append(begin + found)
            found = content.find(mark, found + 1)
        if places:
            content = content.replace(mark, blank)
        return hashlib.sha256(memoryview(content)[before:][:PIECE_BYTES]).digest(), places

    with ThreadPoolExecutor(min(_THREADS, os.cpu_count() or 1)) as pool:
        return dict(zip(numbers, pool.map(hashed, numbers), strict=True))
