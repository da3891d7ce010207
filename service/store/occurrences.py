"""Evidence for a plant at a site from the occurrence records of the store.

Distances are geodesic on WGS84. Cells that lie wholly within a ring are counted, the others
measured record by record, so that the counts are exact and quick where hundreds of thousands of
records lie near.
"""

import sqlite3
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from service.store.cells import (
    Metres,
    Records,
    distance_bounds_m,
    squares_of,
    unpack,
    windows_within,
    within,
)
from service.store.reach import ReachedBy, cells_touching, split_windows
from service.store.record_blocks import (
    Blocks,
    Boxes,
    RecordedPlants,
    boxes_in,
    distances_of,
    rows_by_number,
)
from service.values.evidence import (
    RING_RADII_M,
    UNSTATED_UNCERTAINTY_M,
    Dataset,
    Evidence,
    Presence,
    Ring,
    WaterRecords,
)
from service.values.site import Relation
from service.values.vocabulary import PlantId, WaterId

WaterShape = tuple[WaterId, Relation, BaseGeometry]
"""A water, how it lies to the site, and its shape in WGS84 degrees."""


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
        self._blocks = Blocks(connection)
        self._plants = RecordedPlants(connection)
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
        asked = list(dict.fromkeys(plant_ids))
        if not self._loaded or not asked:
            return {}
        self._make_room()
        numbers = [self._plants.below(plant_id) for plant_id in asked]
        blocks, *_ = self._near(longitude, latitude)
        several = [self._blocks.of_plants(blocks, of_plant) for of_plant in numbers]
        owner = np.repeat(np.arange(len(asked)), [len(records) for records in several])
        records = np.concatenate(several)
        away = distances_of(longitude, latitude, records)
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
            self._blocks = Blocks(self._connection)

    def _near(self, longitude: float, latitude: float) -> tuple[list[int], Boxes, Metres, Metres]:
        """Blocks that may hold records in the widest ring, and how near and far their boxes lie."""
        widest = max(RING_RADII_M)
        boxes = boxes_in(self._connection, windows_within(longitude, latitude, widest))
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
        boxes: Boxes,
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
        distances = distances_of(longitude, latitude, of_plant)
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


def has_records(connection: sqlite3.Connection) -> bool:
    """Whether any occurrence record is loaded."""
    return connection.execute("SELECT 1 FROM occurrence_block LIMIT 1").fetchone() is not None


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


def _along(connection: sqlite3.Connection, blocks: Blocks, shape: BaseGeometry) -> Records:
    """Records that lie in or along a water, or may, given how vague their coordinates are."""
    if shape.is_empty:
        return unpack([])
    boxes = boxes_in(connection, split_windows(shape))
    touching = cells_touching(shape, boxes.west, boxes.south, boxes.east, boxes.north)
    records = blocks.of(boxes.block[touching].tolist())
    reached = ReachedBy(shape).may_lie_in(
        records["longitude_e7"] / 1e7, records["latitude_e7"] / 1e7, records["uncertainty_m"]
    )
    return records[reached]


def _cited(connection: sqlite3.Connection, records: Records) -> tuple[Dataset, ...]:
    """Data sets of the records, the largest share first."""
    pairs, counts = np.unique(
        np.stack([records["dataset_no"], records["terms_no"]], axis=1), axis=0, return_counts=True
    )
    texts = rows_by_number(
        connection, "dataset", "dataset_key, title, citation", pairs[:, 0].tolist()
    )
    licences = rows_by_number(connection, "terms", "licence", pairs[:, 1].tolist())
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
