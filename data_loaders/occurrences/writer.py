"""Putting kept records into the occurrence tables of a draft: numbers for what they share,
blocks by place.
"""

import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from operator import itemgetter
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from data_loaders.occurrences.datasets import DatasetText
from service.store.cells import CELL_E7, COLUMNS, RECORD, Records, pack, pack_keys, unpack

Terms = tuple[str, str, str, str]
"""Licence, basisOfRecord, establishmentMeans, degreeOfEstablishment."""

Key = TypeVar("Key", str, Terms)

Integers = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Chunk:
    """Records in the order of their cells. All fields are of one length."""

    cell: Integers
    records: Records
    keys: Sequence[str]


def number_plants(connection: sqlite3.Connection, plant_ids: Iterable[str]) -> dict[str, int]:
    """A number for each plant, new ones in the order of their ids."""
    known = dict(connection.execute("SELECT plant_id, plant_no FROM occurrence_plant"))
    new = _numbered(known, plant_ids)
    connection.executemany(
        "INSERT INTO occurrence_plant (plant_id, plant_no) VALUES (?, ?)", new.items()
    )
    return known | new


def number_terms(connection: sqlite3.Connection, terms: Iterable[Terms]) -> dict[Terms, int]:
    """A number for each combination of terms, new ones in their order."""
    rows = connection.execute(
        "SELECT licence, basis_of_record, establishment_means, degree_of_establishment, terms_no"
        " FROM occurrence_terms"
    )
    known: dict[Terms, int] = {(row[0], row[1], row[2], row[3]): row[4] for row in rows}
    new = _numbered(known, terms)
    connection.executemany(
        "INSERT INTO occurrence_terms (licence, basis_of_record, establishment_means,"
        " degree_of_establishment, terms_no)"
        " VALUES (?, ?, ?, ?, ?)",
        [(*combination, number) for combination, number in new.items()],
    )
    return known | new


def number_datasets(
    connection: sqlite3.Connection, keys: Iterable[str], texts: Mapping[str, DatasetText]
) -> dict[str, int]:
    """A number for each data set, new ones in the order of their keys; fills in titles that were
    not known.
    """
    known = dict(connection.execute("SELECT dataset_key, dataset_no FROM occurrence_dataset"))
    new = _numbered(known, keys)
    connection.executemany(
        "INSERT INTO occurrence_dataset (dataset_key, dataset_no) VALUES (?, ?)", new.items()
    )
    connection.executemany(
        "UPDATE occurrence_dataset SET title = ?, citation = ?, url = ? WHERE dataset_key = ?"
        " AND title = ''",
        [(text.title, text.citation, text.url, key) for key, text in texts.items() if text.title],
    )
    return known | new


def _numbered(known: Mapping[Key, int], wanted: Iterable[Key]) -> dict[Key, int]:
    first = max(known.values(), default=0) + 1
    return {key: number for number, key in enumerate(sorted(set(wanted) - known.keys()), first)}


def cells_of(longitude_e7: Integers, latitude_e7: Integers) -> Integers:
    """``service.store.cells.cell_of`` for many places at once."""
    column = np.minimum((longitude_e7 + 1_800_000_000) // CELL_E7, COLUMNS - 1)
    return (latitude_e7 + 900_000_000) // CELL_E7 * COLUMNS + column


def last_block(connection: sqlite3.Connection) -> int:
    """The number of the block that was added last; 0 where there is none."""
    query = "SELECT coalesce(max(block_no), 0) FROM occurrence_block"
    return int(connection.execute(query).fetchone()[0])


class RecordWriter:
    """Takes chunks, together in the order of their cells, and adds a block for each cell;
    ``finish`` writes what is still in hand.

    Blocks of earlier loads stay as they are, so that the cost of a load follows the load.
    """

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self._next = 1 + last_block(connection)
        self._pending: Chunk | None = None

    def write(self, chunk: Chunk) -> None:
        """Store all cells of a chunk but the last, which the next chunk may carry on."""
        if not len(chunk.cell):
            return
        if self._pending is not None:
            chunk = _joined(self._pending, chunk)
        last = int(np.searchsorted(chunk.cell, chunk.cell[-1], side="left"))
        self._store(Chunk(chunk.cell[:last], chunk.records[:last], chunk.keys[:last]))
        self._pending = Chunk(chunk.cell[last:], chunk.records[last:], chunk.keys[last:])

    def finish(self) -> None:
        """Store the last cell."""
        if self._pending is not None:
            self._store(self._pending)
            self._pending = None

    def _store(self, chunk: Chunk) -> None:
        if not len(chunk.cell):
            return
        cells, starts = np.unique(chunk.cell, return_index=True)
        sides = [
            (extreme.reduceat(chunk.records[column], starts) / 1e7).tolist()
            for column in ("longitude_e7", "latitude_e7")
            for extreme in (np.minimum, np.maximum)
        ]
        ends = [*starts[1:].tolist(), len(chunk.cell)]
        packed, size, keys = pack(chunk.records), RECORD.itemsize, chunk.keys
        blocks = []
        boxes = []
        number = self._next
        for cell, first, end, *box in zip(
            cells.tolist(), starts.tolist(), ends, *sides, strict=True
        ):
            content = packed[first * size : end * size]
            blocks.append((number, cell, end - first, content, pack_keys(keys[first:end])))
            boxes.append((cell, number, end - first, *box))
            number += 1
        self._next = number
        _insert(self._connection, blocks, boxes)


MOST_BLOCKS_A_CELL = 8
"""On average; beyond it the blocks of each cell are joined, or a store of a thousand small loads
would be slow to read.
"""


def join_blocks(connection: sqlite3.Connection) -> bool:
    """Make the blocks of each cell one, where small loads have left too many. Whether they had."""
    # A load adds a row of digests at least, and at most one block to a cell.
    loads = connection.execute("SELECT count(*) FROM occurrence_digest").fetchone()[0]
    if loads <= MOST_BLOCKS_A_CELL:
        return False
    blocks, cells = connection.execute(
        "SELECT count(*), count(DISTINCT cell) FROM occurrence_box"
    ).fetchone()
    if blocks <= MOST_BLOCKS_A_CELL * cells:
        return False
    connection.execute("ALTER TABLE occurrence_block RENAME TO scattered_block")
    connection.execute(
        "CREATE TABLE occurrence_block (block_no INTEGER PRIMARY KEY, cell INTEGER NOT NULL,"
        " records INTEGER NOT NULL CHECK (records > 0), packed BLOB NOT NULL,"
        " record_keys TEXT NOT NULL)"
    )
    connection.execute("DELETE FROM occurrence_box")
    rows = connection.execute(
        "SELECT cell, packed, record_keys FROM scattered_block ORDER BY cell, block_no"
    )
    for number, (cell, some) in enumerate(groupby(rows, key=itemgetter(0)), 1):
        parts = list(some)
        records = unpack([packed for _, packed, _ in parts])
        box = [
            float(extreme(records[column])) / 1e7
            for column in ("longitude_e7", "latitude_e7")
            for extreme in (np.min, np.max)
        ]
        keys = "\n".join(joined for _, _, joined in parts)
        _insert(
            connection,
            [(number, cell, len(records), pack(records), keys)],
            [(cell, number, len(records), *box)],
        )
    connection.execute("DROP TABLE scattered_block")
    return True


def _insert(
    connection: sqlite3.Connection,
    blocks: Sequence[tuple[object, ...]],
    boxes: Sequence[tuple[object, ...]],
) -> None:
    connection.executemany(
        "INSERT INTO occurrence_block (block_no, cell, records, packed, record_keys)"
        " VALUES (?, ?, ?, ?, ?)",
        blocks,
    )
    connection.executemany(
        "INSERT INTO occurrence_box (cell, block_no, records, west, east, south, north)"
        " VALUES (?, ?, ?, ?, ?, ?, ?)",
        boxes,
    )


def _joined(first: Chunk, second: Chunk) -> Chunk:
    return Chunk(
        np.concatenate([first.cell, second.cell]),
        np.concatenate([first.records, second.records]),
        [*first.keys, *second.keys],
    )
