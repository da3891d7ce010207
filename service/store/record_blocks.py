"""Blocks of occurrence records as the store keeps them, read by cell and by number."""

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from service.store.cells import (
    Degrees,
    Metres,
    Records,
    Window,
    cells_in,
    distances_m,
    unpack,
)
from service.values.vocabulary import PlantId

_VARIABLES = 500


@dataclass(frozen=True, slots=True)
class Boxes:
    """Blocks that may hold records within a distance, and the box around the records of each."""

    block: NDArray[np.int64]
    west: Degrees
    south: Degrees
    east: Degrees
    north: Degrees
    cell: NDArray[np.int64]


class Blocks:
    """Blocks of one query, each read once."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self._packed: dict[int, bytes] = {}
        self._by_plant: dict[int, tuple[Records, dict[int, tuple[int, int]]]] = {}
        self.kept_bytes = 0

    def fetch(self, blocks: Sequence[int]) -> None:
        """Read what was not read before."""
        for some in _batches([number for number in blocks if number not in self._packed]):
            places = ", ".join("?" * len(some))
            query = f"SELECT block_no, packed FROM occurrence_block WHERE block_no IN ({places})"
            for number, packed in self._connection.execute(query, some):
                self._packed[number] = packed
                self.kept_bytes += len(packed)

    def of(self, blocks: Sequence[int]) -> Records:
        """Records of the blocks, one after the other."""
        self.fetch(blocks)
        return unpack([self._packed[number] for number in blocks])

    def of_plants(self, blocks: Sequence[int], plants: Sequence[int]) -> Records:
        """Those of some plants, one block after the other."""
        self.fetch(blocks)
        if not plants:
            return unpack([])
        found = [records for block in blocks for records in self._of_block(block, plants)]
        return np.concatenate(found) if found else unpack([])

    def _of_block(self, block: int, plants: Sequence[int]) -> Iterator[Records]:
        """Records of the plants in one block, which is sorted by plant when it is first asked."""
        if block not in self._by_plant:
            records = unpack([self._packed[block]])
            order = np.argsort(records["plant_no"], kind="stable")
            numbers, starts = np.unique(records["plant_no"][order], return_index=True)
            bounds = [*starts.tolist(), len(order)]
            self._by_plant[block] = (
                records[order],
                {n: (bounds[i], bounds[i + 1]) for i, n in enumerate(numbers.tolist())},
            )
        records, where = self._by_plant[block]
        for number in plants:
            if number in where:
                start, end = where[number]
                yield records[start:end]


def boxes_in(connection: sqlite3.Connection, windows: Iterable[Window]) -> Boxes:
    """Blocks with a record in one of some windows, or near it."""
    rows = [
        tuple(row)
        for west, south, east, north in windows
        for first, last in cells_in((west, south, east, north))
        for row in connection.execute(
            "SELECT block_no, west, south, east, north, cell FROM occurrence_box"
            " WHERE cell BETWEEN ? AND ?"
            " AND west <= ? AND east >= ? AND south <= ? AND north >= ?",
            (first, last, east, west, north, south),
        )
    ]
    table = np.array(sorted(set(rows)), dtype=np.float64).reshape(-1, 6)
    west, south, east, north = table[:, 1:5].T
    return Boxes(
        table[:, 0].astype(np.int64), west, south, east, north, table[:, 5].astype(np.int64)
    )


def distances_of(longitude: float, latitude: float, records: Records) -> Metres:
    """Geodesic distance of each record from a place."""
    return distances_m(
        longitude, latitude, records["longitude_e7"] / 1e7, records["latitude_e7"] / 1e7
    )


class RecordedPlants:
    """Numbers under which records are filed, by plant; the tree of plants is read once."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self._below: dict[PlantId, list[int]] = {}

    def below(self, plant_id: PlantId) -> list[int]:
        """Of the plant and of all that belong to it, lowest first."""
        if plant_id not in self._below:
            self._below[plant_id] = self._found_below(plant_id)
        return self._below[plant_id]

    def _found_below(self, plant_id: PlantId) -> list[int]:
        children, numbers = self._tree
        belonging = [plant_id]
        for one in belonging:
            belonging += [child for child in children.get(one, ()) if child not in belonging]
        return sorted(numbers[one] for one in belonging if one in numbers)

    @cached_property
    def _tree(self) -> tuple[dict[PlantId, list[PlantId]], dict[PlantId, int]]:
        children: dict[PlantId, list[PlantId]] = {}
        for plant_id, parent_id in self._connection.execute(
            "SELECT plant_id, parent_id FROM plant WHERE parent_id IS NOT NULL"
        ):
            children.setdefault(parent_id, []).append(plant_id)
        numbers = dict(self._connection.execute("SELECT plant_id, plant_no FROM occurrence_plant"))
        return children, numbers


def rows_by_number(
    connection: sqlite3.Connection, what: str, columns: str, numbers: Iterable[int]
) -> dict[int, tuple[str, ...]]:
    """Columns of a table that records point into, by its numbers.

    Args:
        what: ``plant``, ``dataset`` or ``terms``.
    """
    found: dict[int, tuple[str, ...]] = {}
    for some in _batches(sorted(set(numbers))):
        places = ", ".join("?" * len(some))
        query = f"SELECT {what}_no, {columns} FROM occurrence_{what} WHERE {what}_no IN ({places})"
        found |= {row[0]: tuple(row)[1:] for row in connection.execute(query, some)}
    return found


def _batches(values: Sequence[int]) -> Iterator[Sequence[int]]:
    for first in range(0, len(values), _VARIABLES):
        yield values[first : first + _VARIABLES]
