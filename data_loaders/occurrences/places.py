"""Points that stand for a whole place and not for a plant: centres of counties, of states and of
the country, capitals, gardens, herbaria.

Coordinates were often taken from a gazetteer where a record had none. Centres of counties and
states are computed from the boundaries in the store. The others are in ``known_points.csv``, each
with its source: capitals as GeoNames has them (geonames.org, CC BY 4.0), herbaria and gardens as
iDigBio's list of US collections places them (MIT), which is often by the postal address, so that a
garden known to lie elsewhere has a second row; what no source gave is from memory and says so.
Reaches are common practice, no source.
"""

import csv
import io
import math
import sqlite3
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.resources import files

import shapely
from shapely.geometry.base import BaseGeometry

TILES_PER_DEGREE = 20
CENTRE_WITHIN_M = 1_000.0
"""Of a computed centre: publishers differ in the boundaries that they compute it from."""
EXACT_M = 15.0
"""A record so near is at the point itself, however exact it says that it is."""
METRES_PER_DEGREE = 111_200.0
"""Of a great circle, to half a per cent; reaches need no more."""


@dataclass(frozen=True, slots=True)
class KnownPoint:
    """A point, and how near a record has to be to have been taken from it."""

    longitude: float
    latitude: float
    within_m: float


@dataclass(frozen=True, slots=True)
class Tiles:
    """Points by tiles of a twentieth of a degree, for a join that gives each record one row.

    Attributes:
        most: points in the fullest tile.
        rows: column and row of the tile; then for each of ``most`` points its longitude, latitude,
            metres per degree of longitude there, and reach, None where there is none.
    """

    most: int
    rows: tuple[tuple[int | float | None, ...], ...]


def known_points(connection: sqlite3.Connection) -> list[KnownPoint]:
    """The points of the table, and the centres of the store's counties and states."""
    text = files(__package__).joinpath("known_points.csv").read_text(encoding="utf-8")
    points = [
        KnownPoint(float(row["longitude"]), float(row["latitude"]), float(row["within_m"]))
        for row in csv.DictReader(io.StringIO(text))
    ]
    for (geometry,) in connection.execute("SELECT geometry FROM boundary ORDER BY boundary_id"):
        points += _centres(shapely.from_wkb(geometry))
    return points


def tiles(points: list[KnownPoint]) -> Tiles:
    """Points by the tiles that they reach into."""
    found: defaultdict[tuple[int, int], list[KnownPoint]] = defaultdict(list)
    for point in points:
        for tile in _reached(point):
            found[tile].append(point)
    most = max((len(some) for some in found.values()), default=1)
    rows = []
    for tile, some in sorted(found.items()):
        cells: list[int | float | None] = [*tile]
        for point in some:
            across = METRES_PER_DEGREE * math.cos(math.radians(point.latitude))
            cells += [point.longitude, point.latitude, across, point.within_m]
        cells += [None] * (4 * (most - len(some)))
        rows.append(tuple(cells))
    return Tiles(most, tuple(rows))


def _centres(shape: BaseGeometry) -> Iterator[KnownPoint]:
    """The centre of gravity, and the middle of the box around the shape."""
    west, south, east, north = shape.bounds
    for longitude, latitude in (
        (shape.centroid.x, shape.centroid.y),
        ((west + east) / 2, (south + north) / 2),
    ):
        yield KnownPoint(longitude, latitude, CENTRE_WITHIN_M)


def _reached(point: KnownPoint) -> Iterator[tuple[int, int]]:
    tall = point.within_m / METRES_PER_DEGREE
    wide = tall / max(math.cos(math.radians(point.latitude)), 0.01)
    for column in range(
        math.floor((point.longitude - wide) * TILES_PER_DEGREE),
        math.floor((point.longitude + wide) * TILES_PER_DEGREE) + 1,
    ):
        for row in range(
            math.floor((point.latitude - tall) * TILES_PER_DEGREE),
            math.floor((point.latitude + tall) * TILES_PER_DEGREE) + 1,
        ):
            yield column, row
