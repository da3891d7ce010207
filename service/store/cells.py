"""The grid in which occurrence records lie: 0.1 degrees a side, and what of it lies within a
distance of a point.

Distances are geodesic on WGS84, in metres. Bounds hold for every record of a cell, so that whole
cells can be counted or left out without measuring their records, and the answer stays exact.
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from pyproj import Geod

Degrees = NDArray[np.float64]
Metres = NDArray[np.float64]
Mask = NDArray[np.bool_]
Integers = NDArray[np.int64]

CELL_E7 = 1_000_000
"""Side of a cell in ten-millionths of a degree."""
COLUMNS = 3_600

WGS84 = Geod(ellps="WGS84")

# WGS84: a degree of latitude is nowhere longer than at the poles (111,694 m) nor shorter than at
# the equator
# (110,574 m); a degree of longitude is nowhere longer than 111,694 m times the cosine of the
# latitude.
_LONGEST_DEGREE_M = 111_700.0
_SHORTEST_DEGREE_M = 110_500.0

_SHARPEST_RADIUS_M = WGS84.b**2 / WGS84.a
"""Radius of curvature where the ellipsoid is most curved: along the meridian, at the equator."""
_ROUNDING_M = 1e-3

Window = tuple[float, float, float, float]
"""West, south, east, north in degrees; west is never above east."""


def cell_of(longitude_e7: int, latitude_e7: int) -> int:
    """Cell of a place given in ten-millionths of a degree."""
    column = min((longitude_e7 + 1_800_000_000) // CELL_E7, COLUMNS - 1)
    return (latitude_e7 + 900_000_000) // CELL_E7 * COLUMNS + column


def cells_in(window: Window) -> list[tuple[int, int]]:
    """First and last cell of each row of the grid that a window reaches into."""
    west, south, east, north = (round(degrees * 1e7) for degrees in window)
    return [
        (cell_of(west, latitude_e7), cell_of(east, latitude_e7))
        for latitude_e7 in (*range(south, north, CELL_E7), north)
    ]


ROWS_IN_CELL = 11
"""Of squares: 0.1 degrees of latitude are 11.1 km."""
_KM_PER_DEGREE = 111.2
_SQUARES_IN_CELL = 132  # more than any cell has


def squares_of(longitude_e7: Integers, latitude_e7: Integers) -> Integers:
    """The square of about a kilometre that each place lies in. Squares nest in cells: a cell has 11
    rows of them, and as many columns as it is kilometres wide.
    """
    column = np.minimum((longitude_e7 + 1_800_000_000) // CELL_E7, COLUMNS - 1)
    row = (latitude_e7 + 900_000_000) // CELL_E7
    middle = np.radians((row + 0.5) * CELL_E7 / 1e7 - 90)
    across = np.maximum(
        np.rint(_KM_PER_DEGREE * CELL_E7 / 1e7 * np.cos(middle)).astype(np.int64), 1
    )
    east = (longitude_e7 + 1_800_000_000 - column * CELL_E7) * across // CELL_E7
    north = (latitude_e7 + 900_000_000 - row * CELL_E7) * ROWS_IN_CELL // CELL_E7
    inside = np.minimum(east, across - 1) * ROWS_IN_CELL + north
    numbers: Integers = (row * COLUMNS + column) * _SQUARES_IN_CELL + inside
    return numbers


def windows_within(longitude: float, latitude: float, radius_m: float) -> list[Window]:
    """Boxes that hold every point within ``radius_m``; two where they meet at the antimeridian."""
    reach = radius_m / _SHORTEST_DEGREE_M
    south, north = latitude - reach, latitude + reach
    if south <= -90 or north >= 90:
        return [(-180.0, max(south, -90.0), 180.0, min(north, 90.0))]
    # The meridians that touch a circle of that many degrees, on a sphere no larger than the
    # ellipsoid.
    sine = math.sin(math.radians(reach)) / math.cos(math.radians(latitude))
    wide = math.degrees(math.asin(sine)) * 1.01 if sine < 1 else 180.0
    return split_at_antimeridian(longitude - wide, south, longitude + wide, north)


def split_at_antimeridian(west: float, south: float, east: float, north: float) -> list[Window]:
    """A box whose sides may pass 180 degrees, as one or two boxes that do not."""
    if east - west >= 360:
        return [(-180.0, south, 180.0, north)]
    if west < -180:
        return [(-180.0, south, east, north), (west + 360, south, 180.0, north)]
    if east > 180:
        return [(west, south, 180.0, north), (-180.0, south, east - 360, north)]
    return [(west, south, east, north)]


def distances_m(
    longitude: float, latitude: float, longitudes: Degrees, latitudes: Degrees
) -> Metres:
    """Geodesic distance from one point to each of many."""
    if not len(longitudes):
        return np.empty(0)
    count = len(longitudes)
    _, _, distances = WGS84.inv(
        np.full(count, longitude), np.full(count, latitude), longitudes, latitudes
    )
    return np.asarray(distances, dtype=np.float64)


def distance_bounds_m(
    longitude: float, latitude: float, west: Degrees, south: Degrees, east: Degrees, north: Degrees
) -> tuple[Metres, Metres]:
    """For each small box a distance that none of its points is nearer than, and one that none is
    farther than.

    By the triangle inequality over the centre of the box; no point of the box lies farther from the
    centre than along a meridian and then a parallel.
    """
    to_centre = distances_m(longitude, latitude, (west + east) / 2, (south + north) / 2)
    poleward = np.minimum(np.abs(south), np.abs(north)) * ((south >= 0) == (north >= 0))
    half_height = (north - south) / 2 * _LONGEST_DEGREE_M
    half_width = (east - west) / 2 * _LONGEST_DEGREE_M * np.cos(np.radians(poleward))
    farthest = half_height + half_width
    return np.maximum(to_centre - farthest, 0.0), to_centre + farthest


def within(
    longitude: float, latitude: float, longitudes: Degrees, latitudes: Degrees, radius_m: float
) -> Mask:
    """Which of many points lie within a geodesic distance of one point.

    The straight line through the earth bounds the distance on both sides, and is quick to compute;
    only points that it does not decide are measured.
    """
    here = _geocentric(np.array([longitude]), np.array([latitude]))
    chord_m = np.sqrt(np.sum((_geocentric(longitudes, latitudes) - here) ** 2, axis=0))
    # A curve no more bent than a circle has no shorter a chord than the circle (Schur, Schwarz).
    longest_m = (
        2 * _SHARPEST_RADIUS_M * np.arcsin(np.minimum(chord_m / (2 * _SHARPEST_RADIUS_M), 1.0))
    )
    inside = longest_m + _ROUNDING_M <= radius_m
    open_ = np.flatnonzero(~inside & (chord_m - _ROUNDING_M <= radius_m))
    inside[open_] = (
        distances_m(longitude, latitude, longitudes[open_], latitudes[open_]) <= radius_m
    )
    return np.asarray(inside, dtype=np.bool_)


def _geocentric(longitudes: Degrees, latitudes: Degrees) -> NDArray[np.float64]:
    """Earth-centred coordinates in metres of points on the ellipsoid."""
    meridians, parallels = np.radians(longitudes), np.radians(latitudes)
    sine, cosine = np.sin(parallels), np.cos(parallels)
    normal = WGS84.a / np.sqrt(1 - WGS84.es * sine**2)
    return np.stack(
        [
            normal * cosine * np.cos(meridians),
            normal * cosine * np.sin(meridians),
            normal * (1 - WGS84.es) * sine,
        ]
    )


RECORD = np.dtype(
    [
        ("longitude_e7", "<i4"),  # WGS84 degrees times ten million, about 1 cm
        ("latitude_e7", "<i4"),
        ("plant_no", "<u4"),
        ("dataset_no", "<u4"),
        ("terms_no", "<u4"),
        ("year", "<i2"),  # 0: not stated, or the record spans years
        ("uncertainty_m", "<f8"),  # not a number: not stated
    ]
)

Records = NDArray[np.void]
"""One-dimensional, of the layout ``RECORD``."""


def pack(records: Records) -> bytes:
    """Records as the store keeps them."""
    return records.astype(RECORD, copy=False).tobytes()


def unpack(packed: Sequence[bytes]) -> Records:
    """Records of several blocks, one after the other."""
    return np.frombuffer(b"".join(packed), dtype=RECORD)


def pack_keys(keys: Sequence[str]) -> str:
    """Record keys, a line each; a key holds no line end."""
    return "\n".join(keys)


def unpack_keys(packed: str) -> list[str]:
    """The keys that ``pack_keys`` joined."""
    return packed.split("\n")
