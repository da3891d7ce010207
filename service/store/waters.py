"""Waters of the store: one by its id, those that contain a position, those near it."""

import math
import sqlite3
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from service.errors import NotFound
from service.geography.geodesy import (
    Box,
    Nearest,
    distance_m,
    nearest_between,
    nearest_distances_m,
    nearest_position,
    search_boxes,
    widened,
)
from service.values.site import Reached, Water
from service.values.vocabulary import Flow, Jurisdiction, WaterId, WaterKind

_BOUND_HOLDS_BELOW_M = 200_000.0
"""Within this, a box is never nearer than 0.95 times the distance to its corner or side taken
straight on the map.
"""

_BATCH_PARTS = 200


@dataclass(frozen=True, slots=True)
class _Part:
    part_id: int
    water_id: WaterId
    is_area: bool
    box: Box
    bound_m: float


def has_waters(connection: sqlite3.Connection) -> bool:
    """Whether any waters are loaded."""
    return connection.execute("SELECT 1 FROM water LIMIT 1").fetchone() is not None


def has_flow(connection: sqlite3.Connection) -> bool:
    """Whether a flow network is loaded."""
    return connection.execute("SELECT 1 FROM flow_link LIMIT 1").fetchone() is not None


def read_water(connection: sqlite3.Connection, water_id: WaterId) -> Water:
    """One water.

    Raises:
        NotFound: the store holds none of that id.
    """
    found = read_waters(connection, [water_id])
    if not found:
        raise NotFound(
            f"No water has the id {water_id!r}.",
            next_step="Ids come with the answers on waters near a place.",
        )
    return found[water_id]


def read_waters(
    connection: sqlite3.Connection, water_ids: Iterable[WaterId]
) -> dict[WaterId, Water]:
    """The waters of several ids; one that is not there is left out."""
    found: dict[WaterId, Water] = {}
    for water_id in dict.fromkeys(water_ids):
        row = connection.execute("SELECT * FROM water WHERE water_id = ?", (water_id,)).fetchone()
        if row is not None:
            states = connection.execute(
                "SELECT state FROM water_state WHERE water_id = ? ORDER BY state", (water_id,)
            )
            found[water_id] = _water(row, tuple(Jurisdiction(state[0]) for state in states))
    return found


def read_water_geometry(connection: sqlite3.Connection, water_id: WaterId) -> BaseGeometry:
    """The whole shape of a water, WGS84: polygons and lines together where it has both.

    Raises:
        NotFound: the store holds none of that id.
    """
    parts = list(shapely.get_parts(_parts_of(connection, water_id)))
    kinds = {shape.geom_type for shape in parts}
    if kinds == {"Polygon"}:
        return shapely.MultiPolygon(parts)
    return (
        shapely.MultiLineString(parts)
        if kinds == {"LineString"}
        else shapely.GeometryCollection(parts)
    )


def waters_containing(
    connection: sqlite3.Connection, longitude: float, latitude: float
) -> tuple[Water, ...]:
    """The waters whose surface covers a position, smallest first."""
    point = shapely.Point(longitude, latitude)
    parts = [
        part for part in _parts(connection, search_boxes(longitude, latitude, 0.0)) if part.is_area
    ]
    covering = {
        part.water_id
        for part in parts
        if shapely.covers(_geometry(connection, part.part_id), point)
    }
    found = read_waters(connection, sorted(covering)).values()
    return tuple(sorted(found, key=lambda water: (water.area_m2 or 0.0, water.water_id)))


def waters_near(
    connection: sqlite3.Connection,
    longitude: float,
    latitude: float,
    within_m: float,
    *,
    kinds: Collection[WaterKind] = (),
    named_only: bool = False,
    limit: int | None = None,
) -> tuple[Reached, ...]:
    """The waters within a geodesic distance of a position, nearest first; ``contains`` for those it
    lies in.

    Args:
        kinds: only these, all when empty.
        limit: so many of the nearest.
    """
    parts = _parts(connection, search_boxes(longitude, latitude, within_m))
    wanted = _wanted(connection, parts, kinds, named_only)
    found: dict[WaterId, tuple[float, bool]] = {}
    ordered = [
        part
        for part in _by_bound(parts, longitude, latitude)
        if part.water_id in wanted and part.bound_m <= within_m
    ]
    for batch in _batches(ordered):
        if limit is not None and batch[0].bound_m > _limit_m(found, limit):
            break  # none of the rest can be among the nearest
        near = [
            part for part in batch if part.bound_m <= found.get(part.water_id, (within_m, False))[0]
        ]
        shapes = np.array([_geometry(connection, part.part_id) for part in near], dtype=object)
        for part, away in zip(
            near, nearest_distances_m(shapes, longitude, latitude) if near else (), strict=True
        ):
            away_m = float(away)
            best = found.get(part.water_id)
            if away_m <= within_m and (
                best is None or away_m < best[0] or (away_m == 0 and part.is_area)
            ):
                found[part.water_id] = (away_m, part.is_area and away_m == 0)
    return _reached(connection, found, limit)


def _batches(parts: Sequence[_Part]) -> Iterator[Sequence[_Part]]:
    for begin in range(0, len(parts), _BATCH_PARTS):
        yield parts[begin : begin + _BATCH_PARTS]


def _limit_m(found: Mapping[WaterId, tuple[float, bool]], limit: int) -> float:
    """Distance of the last water within the limit; endless while there are fewer."""
    distances = sorted(away_m for away_m, _ in found.values())
    return distances[limit - 1] if 0 < limit <= len(distances) else math.inf


def waters_near_area(
    connection: sqlite3.Connection,
    area: BaseGeometry,
    within_m: float,
    *,
    kinds: Collection[WaterKind] = (),
    named_only: bool = False,
    limit: int | None = None,
) -> tuple[Reached, ...]:
    """The waters within a geodesic distance of a site's outline, nearest first; ``contains`` for
    those that meet it.
    """
    parts = _parts(connection, widened(Box(*area.bounds), within_m))
    wanted = _wanted(connection, parts, kinds, named_only)
    found: dict[WaterId, tuple[float, bool]] = {}
    for part in parts:
        if part.water_id not in wanted:
            continue
        _, near = nearest_between(area, _geometry(connection, part.part_id))
        best = found.get(part.water_id)
        if near.distance_m <= within_m and (best is None or near.distance_m < best[0]):
            found[part.water_id] = (near.distance_m, near.distance_m == 0)
    return _reached(connection, found, limit)


def distance_to_water(
    connection: sqlite3.Connection, water_id: WaterId, longitude: float, latitude: float
) -> Nearest:
    """The nearest position of a water.

    Raises:
        NotFound: the store holds none of that id.
    """
    parts = _parts_of(connection, water_id)
    nearest = parts[int(np.argmin(nearest_distances_m(parts, longitude, latitude)))]
    return nearest_position(nearest, longitude, latitude)


def _parts_of(connection: sqlite3.Connection, water_id: WaterId) -> np.ndarray[Any, Any]:
    rows = connection.execute(
        "SELECT geometry FROM water_part WHERE water_id = ? ORDER BY part_id", (water_id,)
    ).fetchall()
    if not rows:
        raise NotFound(f"No water has the id {water_id!r}.")
    parts: np.ndarray[Any, Any] = shapely.from_wkb(
        np.array([row["geometry"] for row in rows], dtype=object)
    )
    return parts


def _reached(
    connection: sqlite3.Connection, found: dict[WaterId, tuple[float, bool]], limit: int | None
) -> tuple[Reached, ...]:
    ordered = sorted(found.items(), key=lambda item: (item[1][0], item[0]))[:limit]
    waters = read_waters(connection, [water_id for water_id, _ in ordered])
    return tuple(
        Reached(waters[water_id], "contains" if inside else "near", away_m)
        for water_id, (away_m, inside) in ordered
    )


def _by_bound(parts: Sequence[_Part], longitude: float, latitude: float) -> list[_Part]:
    """Parts by the least distance that each can have, so that the near ones spare measuring the
    far ones.
    """
    bounded = [
        _Part(
            part.part_id,
            part.water_id,
            part.is_area,
            part.box,
            _least_m(part.box, longitude, latitude),
        )
        for part in parts
    ]
    return sorted(bounded, key=lambda part: (part.bound_m, part.part_id))


def _least_m(box: Box, longitude: float, latitude: float) -> float:
    """A distance that no position of a box is nearer than; the box may be reached over the
    antimeridian.
    """
    turns = (longitude - 360, longitude, longitude + 360)
    x = min((min(max(turn, box.west), box.east) - turn for turn in turns), key=abs) + longitude
    y = min(max(latitude, box.south), box.north)
    away_m = distance_m(longitude, latitude, x, y)
    return away_m * 0.95 - 1.0 if away_m < _BOUND_HOLDS_BELOW_M else 0.0


def _wanted(
    connection: sqlite3.Connection,
    parts: Sequence[_Part],
    kinds: Collection[WaterKind],
    named_only: bool,
) -> set[WaterId]:
    ids = {part.water_id for part in parts}
    if not kinds and not named_only:
        return ids
    wanted = set()
    for water_id in ids:
        row = connection.execute(
            "SELECT name, kind FROM water WHERE water_id = ?", (water_id,)
        ).fetchone()
        if (not kinds or row["kind"] in kinds) and (row["name"] or not named_only):
            wanted.add(water_id)
    return wanted


def _parts(connection: sqlite3.Connection, boxes: Sequence[Box]) -> list[_Part]:
    found: dict[int, _Part] = {}
    for box in boxes:
        rows = connection.execute(
            "SELECT water_box.part_id, water_id, is_area, west, south, east, north FROM water_box "
            "JOIN water_part ON water_part.part_id = water_box.part_id "
            "WHERE west <= ? AND east >= ? AND south <= ? AND north >= ? AND water_id IS NOT NULL",
            (box.east, box.west, box.north, box.south),
        )
        for row in rows:
            bounds = Box(row["west"], row["south"], row["east"], row["north"])
            found[row["part_id"]] = _Part(
                row["part_id"], WaterId(row["water_id"]), bool(row["is_area"]), bounds, 0.0
            )
    return sorted(found.values(), key=lambda part: part.part_id)


def _geometry(connection: sqlite3.Connection, part_id: int) -> BaseGeometry:
    row = connection.execute(
        "SELECT geometry FROM water_part WHERE part_id = ?", (part_id,)
    ).fetchone()
    shape: BaseGeometry = shapely.from_wkb(row["geometry"])
    return shape


def _water(row: sqlite3.Row, states: tuple[Jurisdiction, ...]) -> Water:
    kind: WaterKind = row["kind"]
    flow: Flow = row["flow"]
    return Water(
        WaterId(row["water_id"]),
        row["name"],
        kind,
        flow,
        row["longitude"],
        row["latitude"],
        row["area_m2"],
        states,
        row["source_id"],
    )
