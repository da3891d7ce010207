"""Whether a load added to the store what it says that it kept."""

import sqlite3
from dataclasses import dataclass

from data_loaders.build import Draft
from data_loaders.occurrences.writer import last_block
from service.errors import StoreError


@dataclass(frozen=True, slots=True)
class Before:
    """What the store had before a load: its last block, its last row of digests, its records."""

    block: int
    digest: int
    records: int

    @classmethod
    def of(cls, connection: sqlite3.Connection) -> "Before":
        digest, records = connection.execute(
            "SELECT coalesce(max(digest_no), 0), coalesce(sum(records), 0) FROM occurrence_digest"
        ).fetchone()
        return cls(last_block(connection), digest, records)


_ADDED = {
    "hold": "SELECT sum(records) FROM occurrence_block WHERE block_no > ?",
    "index": "SELECT sum(box.records) FROM occurrence_block AS block"
    " JOIN occurrence_box AS box USING (cell, block_no) WHERE block_no > ?",
}


def expect_records(draft: Draft, before: Before, kept: int, *, joined: bool) -> None:
    """Refuse the build unless the blocks that were added, the index over them, and the digests
    agree. What was there before was checked when it was added, and the seal has guarded it since.

    Args:
        joined: all blocks were written anew.
    """

    def check(connection: sqlite3.Connection) -> None:
        first, expected = (0, before.records + kept) if joined else (before.block, kept)
        counts = [(what, query, first, expected) for what, query in _ADDED.items()] + [
            ("know", _DIGESTS, before.digest, kept)
        ]
        for what, query, after, wanted in counts:
            found = connection.execute(query, (after,)).fetchone()[0] or 0
            if found != wanted:
                raise StoreError(
                    f"The blocks of occurrence records {what} {found:,} where {wanted:,} were kept."
                )

    draft.checks.append(check)


_DIGESTS = "SELECT sum(records) FROM occurrence_digest WHERE digest_no > ?"
