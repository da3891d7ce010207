"""Occurrence records of the store: evidence for a plant at a site, and the records themselves.

Distances are geodesic on WGS84. Cells that lie wholly within a ring are counted, the others
measured record by record, so that the counts are exact and quick where hundreds of thousands of
records lie near.
"""

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from service.store.cells import (
    Degrees,
    Metres,
    Records,
    Window,
    cells_in,
    distance_bounds_m,
    distances_m,
    squares_of,
    unpack,
    unpack_keys,
    windows_within,
    within,
)
from service.store.reach import ReachedBy, cells_touching, split_windows
from service.values.evidence import (
    RING_RADII_M,
    UNSTATED_UNCERTAINTY_M,
    Dataset,
    Evidence,
    OccurrenceRecord,
    Presence,
    Ring,
    WaterRecords,
)
from service.values.site import Relation
from service.values.vocabulary import PlantId, WaterId

WaterShape = tuple[WaterId, Relation, BaseGeometry]
"""A water, how it lies to the site, and its shape in WGS84 degrees."""

_VARIABLES = 500


@dataclass(frozen=True, slots=True)
class _Boxes:
    """Blocks that may hold records within a distance, and the box around the records of each."""

    block: NDArray[np.int64]
    west: Degrees
    south: Degrees
    east: Degrees
    north: Degrees
    cell: NDArray[np.int64]


def evidence(
    connection: sqlite3.Connection,
    plant_id: PlantId,
    longitude: float,
    latitude: float,
    *,
    waters: Sequence[WaterShape] = (),
) -> Evidence:
    """What the records around a site say of a plant; records of its subspecies and varieties count
    as its own.

    Args:
        waters: whose records are to be counted, wherever they lie.
    """
    return EvidenceReader(connection).of([plant_id], longitude, latitude, waters=waters)[plant_id]


class EvidenceReader:
    """Evidence for many plants and sites of one build: what they share is read, counted and
    projected once. For one thread.

    Args:
        keep_bytes: of blocks kept between sites.
    """

    def __init__(self, connection: sqlite3.Connection, *, keep_bytes: int = 256_000_000) -> None:
        self._connection = connection
        self._keep_bytes = keep_bytes
        self._loaded = has_records(connection)
        self._blocks = _Blocks(connection)
        self._plants = _Plants(connection)
        self._along: dict[WaterId, Records] = {}
        self._plants_of_water: dict[WaterId, frozenset[int]] = {}
        self._whole: dict[tuple[int, float], int] = {}
        self._last: tuple[tuple[float, float], list[int], list[int]] | None = None

    def of(
        self,
        plant_ids: Iterable[PlantId],
        longitude: float,
        latitude: float,
        *,
        waters: Sequence[WaterShape] = (),
    ) -> dict[PlantId, Evidence]:
        """What the records around a site say of each plant, as ``evidence`` does for one."""
        asked = list(dict.fromkeys(plant_ids))
        if not self._loaded:
            return {plant_id: Evidence(plant_id, loaded=False) for plant_id in asked}
        self._make_room()
        within_widest, effort = self._around(longitude, latitude)
        along = [(water, self._records_along(water)) for water in waters]
        return {
            plant_id: self._one(plant_id, longitude, latitude, within_widest, effort, along)
            for plant_id in asked
        }

    def presence(
        self,
        plant_ids: Iterable[PlantId],
        longitude: float,
        latitude: float,
        *,
        waters: Sequence[WaterShape] = (),
    ) -> dict[PlantId, Presence]:
        """The part of the evidence that a chance hangs on, of all plants at once; a plant without
        a record near is left out.
        """
        if not self._loaded:
            return {}
        self._make_room()
        asked = list(dict.fromkeys(plant_ids))
        numbers = [self._plants.below(plant_id) for plant_id in asked]
        blocks, *_ = self._near(longitude, latitude)
        several = [self._blocks.of_plants(blocks, of_plant) for of_plant in numbers]
        owner = np.repeat(np.arange(len(asked)), [len(records) for records in several])
        records = np.concatenate(several)
        away = _distances_m(longitude, latitude, records)
        reach = np.maximum(away, _uncertainty_m(records))
        ring = np.searchsorted(RING_RADII_M, reach)
        nearest, latest = np.full(len(asked), len(RING_RADII_M)), np.zeros(len(asked), np.int64)
        counted = ring < len(RING_RADII_M)
        np.minimum.at(nearest, owner[counted], ring[counted])
        np.maximum.at(latest, owner[counted], records["year"][counted])
        along = [self._plants_along(water) for water in waters]
        found = {}
        for n, (plant_id, of_plant) in enumerate(zip(asked, numbers, strict=True)):
            in_water = any(not there.isdisjoint(of_plant) for there in along)
            if in_water or nearest[n] < len(RING_RADII_M):
                number = int(nearest[n]) if nearest[n] < len(RING_RADII_M) else None
                found[plant_id] = Presence(number, in_water, int(latest[n]) or None)
        return found

    def _make_room(self) -> None:
        if self._blocks.kept_bytes > self._keep_bytes:
            self._blocks = _Blocks(self._connection)

    def _near(self, longitude: float, latitude: float) -> tuple[list[int], _Boxes, Metres, Metres]:
        """Blocks that may hold records in the widest ring, and how near and far their boxes lie."""
        widest = max(RING_RADII_M)
        boxes = _boxes(self._connection, windows_within(longitude, latitude, widest))
        near, far = distance_bounds_m(
            longitude, latitude, boxes.west, boxes.south, boxes.east, boxes.north
        )
        return boxes.block[near <= widest].tolist(), boxes, near, far

    def _around(self, longitude: float, latitude: float) -> tuple[list[int], list[int]]:
        """Blocks that may hold records in the widest ring, and the records of every plant in each
        ring. The last site's are kept.
        """
        if self._last is None or self._last[0] != (longitude, latitude):
            within_widest, boxes, near, far = self._near(longitude, latitude)
            self._blocks.fetch(within_widest)
            effort = [
                self._effort(boxes, near, far, longitude, latitude, radius_m)
                for radius_m in RING_RADII_M
            ]
            self._last = (longitude, latitude), within_widest, effort
        return self._last[1], self._last[2]

    def _effort(
        self,
        boxes: _Boxes,
        near: Metres,
        far: Metres,
        longitude: float,
        latitude: float,
        radius_m: float,
    ) -> int:
        """Records of every plant within a distance. Squares lie each in one cell of the grid, so
        that cells that are wholly inside are counted once and for all.
        """
        touched = near <= radius_m
        is_cut = np.isin(boxes.cell, boxes.cell[far > radius_m])
        total = 0
        for cell in np.unique(boxes.cell[touched & ~is_cut]).tolist():
            key = (cell, radius_m)
            if key not in self._whole:
                records = self._blocks.of(boxes.block[boxes.cell == cell].tolist())
                self._whole[key] = _count_distinct(records[_no_vaguer(records, radius_m)])
            total += self._whole[key]
        records = self._blocks.of(boxes.block[touched & is_cut].tolist())
        records = records[_no_vaguer(records, radius_m)]
        inside = within(
            longitude,
            latitude,
            records["longitude_e7"] / 1e7,
            records["latitude_e7"] / 1e7,
            radius_m,
        )
        return total + _count_distinct(records[inside])

    def _one(
        self,
        plant_id: PlantId,
        longitude: float,
        latitude: float,
        blocks: Sequence[int],
        effort: Sequence[int],
        along: Sequence[tuple[WaterShape, Records]],
    ) -> Evidence:
        plants = self._plants.below(plant_id)
        of_plant = self._blocks.of_plants(blocks, plants)
        distances = _distances_m(longitude, latitude, of_plant)
        reach = np.maximum(distances, _uncertainty_m(of_plant))
        counted = reach <= max(RING_RADII_M)
        of_plant, distances, reach = of_plant[counted], distances[counted], reach[counted]
        years = of_plant["year"][of_plant["year"] != 0]
        return Evidence(
            plant_id,
            loaded=True,
            nearest_m=_nearest_m(distances, reach),
            rings=tuple(
                Ring(
                    radius_m,
                    plant_records=_count_distinct(of_plant[reach <= radius_m], one_plant=True),
                    all_records=all_records,
                    latest_year=_latest_year(of_plant[reach <= radius_m]),
                )
                for radius_m, all_records in zip(RING_RADII_M, effort, strict=True)
            ),
            waters=tuple(
                _water_records(water_id, relation, records, plants)
                for (water_id, relation, _), records in along
            ),
            first_year=int(years.min()) if len(years) else None,
            latest_year=int(years.max()) if len(years) else None,
            datasets=_cited(self._connection, of_plant),
        )

    def _records_along(self, water: WaterShape) -> Records:
        """Records in or along a water."""
        water_id, _, shape = water
        if water_id not in self._along:
            self._along[water_id] = _along(self._connection, self._blocks, shape)
        return self._along[water_id]

    def _plants_along(self, water: WaterShape) -> frozenset[int]:
        """Numbers of the plants with a record in or along a water."""
        water_id, *_ = water
        if water_id not in self._plants_of_water:
            numbers = self._records_along(water)["plant_no"]
            self._plants_of_water[water_id] = frozenset(np.unique(numbers).tolist())
        return self._plants_of_water[water_id]


def records_within(
    connection: sqlite3.Connection,
    longitude: float,
    latitude: float,
    radius_m: float,
    *,
    plant_id: PlantId | None = None,
    limit: int = 1_000,
) -> tuple[OccurrenceRecord, ...]:
    """The records nearest to a place, nearest first, of one plant (and its subspecies) or of
    all.
    """
    boxes = _boxes(connection, windows_within(longitude, latitude, radius_m))
    blocks = _Blocks(connection)
    blocks.fetch(boxes.block.tolist(), with_keys=True)
    records, keys = blocks.with_keys(boxes.block.tolist())
    wanted = _distances_m(longitude, latitude, records) <= radius_m
    if plant_id is not None:
        wanted &= np.isin(records["plant_no"], _Plants(connection).below(plant_id))
    places = np.flatnonzero(wanted)
    distances = _distances_m(longitude, latitude, records[places])
    order = sorted(range(len(places)), key=lambda place: (distances[place], keys[places[place]]))[
        :limit
    ]
    return tuple(
        _typed(connection, records[places], [keys[place] for place in places], distances, order)
    )


def has_records(connection: sqlite3.Connection) -> bool:
    """Whether any occurrence record is loaded."""
    return connection.execute("SELECT 1 FROM occurrence_block LIMIT 1").fetchone() is not None


class _Blocks:
    """Blocks of one query, each read once."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self._packed: dict[int, bytes] = {}
        self._keys: dict[int, str] = {}
        self._by_plant: dict[int, tuple[Records, dict[int, tuple[int, int]]]] = {}
        self.kept_bytes = 0

    def fetch(self, blocks: Sequence[int], *, with_keys: bool = False) -> None:
        columns = "block_no, packed, record_keys" if with_keys else "block_no, packed"
        for some in _batches([number for number in blocks if number not in self._packed]):
            places = ", ".join("?" * len(some))
            query = f"SELECT {columns} FROM occurrence_block WHERE block_no IN ({places})"
            for row in self._connection.execute(query, some):
                self._packed[row[0]] = row[1]
                self.kept_bytes += len(row[1])
                if with_keys:
                    self._keys[row[0]] = row[2]

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

    def with_keys(self, blocks: Sequence[int]) -> tuple[Records, list[str]]:
        """Records and their keys."""
        return self.of(blocks), [key for block in blocks for key in unpack_keys(self._keys[block])]


def _boxes(connection: sqlite3.Connection, windows: Iterable[Window]) -> _Boxes:
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
    return _Boxes(
        table[:, 0].astype(np.int64), west, south, east, north, table[:, 5].astype(np.int64)
    )


def _count_distinct(records: Records, *, one_plant: bool = False) -> int:
    """Records, those of one plant in one square of about a kilometre in one year counted once.

    Args:
        one_plant: the numbers of the records stand for one plant (and what is below it).
    """
    if not len(records):
        return 0
    squares = squares_of(
        records["longitude_e7"].astype(np.int64), records["latitude_e7"].astype(np.int64)
    )
    years = records["year"].astype(np.int64)
    plants = np.zeros_like(years) if one_plant else records["plant_no"].astype(np.int64)
    order = np.lexsort((years, plants, squares))
    changes = np.zeros(len(order), dtype=np.bool_)
    changes[0] = True
    for column in (squares, plants, years):
        ordered = column[order]
        changes[1:] |= ordered[1:] != ordered[:-1]
    return int(np.count_nonzero(changes))


def _uncertainty_m(records: Records) -> Metres:
    """How vague coordinates are, those that do not say it as is common."""
    stated = records["uncertainty_m"]
    return np.where(np.isnan(stated), UNSTATED_UNCERTAINTY_M, stated)


def _no_vaguer(records: Records, radius_m: float) -> NDArray[np.bool_]:
    return np.asarray(_uncertainty_m(records) <= radius_m)


def _nearest_m(distances: Metres, reach: Metres) -> float | None:
    """The nearest record: its distance where its coordinates are no vaguer than the ring that it
    lies in, else how vague they are.
    """
    if not len(distances):
        return None
    rings = np.array(RING_RADII_M)
    lies_in = rings[np.searchsorted(rings, distances)]
    return float(np.where(reach <= lies_in, distances, reach).min())


def _latest_year(records: Records) -> int | None:
    latest = int(records["year"].max()) if len(records) else 0
    return latest or None


def _water_records(
    water_id: WaterId, relation: Relation, records: Records, plants: Sequence[int]
) -> WaterRecords:
    own = records[np.isin(records["plant_no"], plants)]
    return WaterRecords(
        water_id,
        relation,
        _count_distinct(own, one_plant=True),
        _count_distinct(records),
        _latest_year(own),
    )


def _distances_m(longitude: float, latitude: float, records: Records) -> Metres:
    return distances_m(
        longitude, latitude, records["longitude_e7"] / 1e7, records["latitude_e7"] / 1e7
    )


def _along(connection: sqlite3.Connection, blocks: _Blocks, shape: BaseGeometry) -> Records:
    """Records that lie in or along a water, or may, given how vague their coordinates are."""
    if shape.is_empty:
        return unpack([])
    boxes = _boxes(connection, split_windows(shape))
    touching = cells_touching(shape, boxes.west, boxes.south, boxes.east, boxes.north)
    records = blocks.of(boxes.block[touching].tolist())
    reached = ReachedBy(shape).may_lie_in(
        records["longitude_e7"] / 1e7, records["latitude_e7"] / 1e7, records["uncertainty_m"]
    )
    return records[reached]


class _Plants:
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


def _cited(connection: sqlite3.Connection, records: Records) -> tuple[Dataset, ...]:
    """Data sets of the records, the largest share first."""
    pairs, counts = np.unique(
        np.stack([records["dataset_no"], records["terms_no"]], axis=1), axis=0, return_counts=True
    )
    texts = _rows_by_number(
        connection, "dataset", "dataset_key, title, citation", pairs[:, 0].tolist()
    )
    licences = _rows_by_number(connection, "terms", "licence", pairs[:, 1].tolist())
    found: dict[int, tuple[int, set[str]]] = {}
    for (dataset_no, terms_no), count in zip(pairs.tolist(), counts.tolist(), strict=True):
        so_far, named = found.get(dataset_no, (0, set()))
        found[dataset_no] = so_far + count, named | {licences[terms_no][0]}
    datasets = [
        Dataset(
            dataset_key=texts[dataset_no][0],
            title=texts[dataset_no][1] or texts[dataset_no][0],
            licence="; ".join(sorted(filter(None, named))) or "not stated",
            citation=texts[dataset_no][2],
            records=count,
        )
        for dataset_no, (count, named) in found.items()
    ]
    return tuple(sorted(datasets, key=lambda dataset: (-dataset.records, dataset.dataset_key)))


def _typed(
    connection: sqlite3.Connection,
    records: Records,
    keys: Sequence[str],
    distances: Metres,
    order: Sequence[int],
) -> Iterator[OccurrenceRecord]:
    chosen = records[list(order)]
    plants = _rows_by_number(connection, "plant", "plant_id", chosen["plant_no"].tolist())
    datasets = _rows_by_number(connection, "dataset", "dataset_key", chosen["dataset_no"].tolist())
    terms = _rows_by_number(
        connection,
        "terms",
        "licence, basis_of_record, establishment_means, degree_of_establishment",
        chosen["terms_no"].tolist(),
    )
    for place, record in zip(order, chosen, strict=True):
        uncertainty_m = float(record["uncertainty_m"])
        yield OccurrenceRecord(
            keys[place],
            datasets[int(record["dataset_no"])][0],
            PlantId(plants[int(record["plant_no"])][0]),
            int(record["longitude_e7"]) / 1e7,
            int(record["latitude_e7"]) / 1e7,
            float(distances[place]),
            None if np.isnan(uncertainty_m) else uncertainty_m,
            int(record["year"]) or None,
            *terms[int(record["terms_no"])],
        )


def _rows_by_number(
    connection: sqlite3.Connection, what: str, columns: str, numbers: Iterable[int]
) -> dict[int, tuple[str, ...]]:
    found: dict[int, tuple[str, ...]] = {}
    for some in _batches(sorted(set(numbers))):
        places = ", ".join("?" * len(some))
        query = f"SELECT {what}_no, {columns} FROM occurrence_{what} WHERE {what}_no IN ({places})"
        found |= {row[0]: tuple(row)[1:] for row in connection.execute(query, some)}
    return found


def _batches(values: Sequence[int]) -> Iterator[Sequence[int]]:
    for first in range(0, len(values), _VARIABLES):
        yield values[first : first + _VARIABLES]
