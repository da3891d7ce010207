"""Mending geometry on its way in: validity, the antimeridian, axes in each other's place."""

from collections.abc import Callable

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiLineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

Coordinates = NDArray[np.float64]
Transformation = Callable[[Coordinates], Coordinates]

_US_BOXES = ((-180.0, -64.0, 17.0, 72.5), (172.0, 180.0, 50.0, 54.0))
"""West, east, south, north of the United States with its islands; loose on purpose."""


def polygonal(geometry: BaseGeometry) -> MultiPolygon:
    """The polygons of a geometry as one valid MultiPolygon; empty when there are none."""
    valid = (
        geometry if shapely.is_valid(geometry) else shapely.make_valid(geometry, method="structure")
    )
    parts = [part for part in _flat(valid) if isinstance(part, Polygon) and not part.is_empty]
    return MultiPolygon(parts)


def linear(geometry: BaseGeometry) -> MultiLineString:
    """The lines of a geometry with more than one distinct point."""
    parts = [part for part in _flat(geometry) if isinstance(part, LineString) and part.length > 0]
    return MultiLineString(parts)


def mended(geometry: BaseGeometry) -> BaseGeometry:
    """A valid geometry of the same dimension, empty when nothing of it can be saved."""
    dimension = shapely.get_dimensions(geometry)
    if dimension == 2:
        return polygonal(geometry)
    if dimension == 1:
        return linear(geometry)
    return geometry if shapely.is_valid(geometry) else shapely.Point()


def is_swapped(geometry: BaseGeometry) -> bool:
    """Whether latitude stands where longitude should: nowhere near the United States as given,
    there when turned.
    """
    west, south, east, north = geometry.bounds
    return not _in_us(west, south, east, north) and _in_us(south, west, north, east)


def swapped(geometry: BaseGeometry) -> BaseGeometry:
    """The geometry with its two axes exchanged."""
    turned: BaseGeometry = shapely.transform(geometry, lambda xy: xy[:, ::-1])
    return turned


def is_on_earth(geometry: BaseGeometry) -> bool:
    """Whether every position is finite, within a turn of longitude and within the poles."""
    bounds = np.asarray(geometry.bounds)
    west, south, east, north = bounds
    return bool(
        np.isfinite(bounds).all() and south >= -90 and north <= 90 and west >= -540 and east <= 540
    )


def split_at_antimeridian(geometry: BaseGeometry) -> BaseGeometry:
    """The geometry within longitudes -180 to 180, cut where it crosses 180 (RFC 7946, section
    3.1.9).

    A step of more than half a turn between two positions is taken as a crossing.
    """
    west, _, east, _ = geometry.bounds
    inside = west >= -180 and east <= 180
    if inside and not (east - west > 180 and _steps_across(geometry)):
        return geometry
    unwrapped = mended(shapely.transform(geometry, _eastward)) if inside else geometry
    pieces: list[BaseGeometry] = []
    for turn in (-1, 0, 1):
        window = shapely.box(-180 + 360 * turn, -90, 180 + 360 * turn, 90)
        piece = shapely.transform(shapely.intersection(unwrapped, window), _shift(-360.0 * turn))
        pieces += _flat(piece)
    return mended(_joined(pieces, int(shapely.get_dimensions(geometry))))


def _joined(pieces: list[BaseGeometry], dimension: int) -> BaseGeometry:
    """One geometry of the pieces of the asked dimension; touching pieces of a lower one are left
    out.
    """
    kept = [
        piece
        for piece in pieces
        if not piece.is_empty and shapely.get_dimensions(piece) == dimension
    ]
    return kept[0] if len(kept) == 1 else shapely.union_all(kept)


def _shift(degrees: float) -> Transformation:
    return lambda xy: xy + np.array([degrees, 0.0])


def _eastward(xy: Coordinates) -> Coordinates:
    return np.column_stack([np.where(xy[:, 0] < 0, xy[:, 0] + 360, xy[:, 0]), xy[:, 1]])


def _steps_across(geometry: BaseGeometry) -> bool:
    lines = [
        shapely.boundary(part) if isinstance(part, Polygon) else part for part in _flat(geometry)
    ]
    steps = [
        np.abs(np.diff(shapely.get_coordinates(part)[:, 0]))
        for line in lines
        for part in _flat(line)
    ]
    return any(bool((step > 180).any()) for step in steps)


def _in_us(west: float, south: float, east: float, north: float) -> bool:
    return any(
        box[0] <= west and east <= box[1] and box[2] <= south and north <= box[3]
        for box in _US_BOXES
    )


def _flat(geometry: BaseGeometry) -> list[BaseGeometry]:
    """The single parts of a geometry, collections within collections opened."""
    if not hasattr(geometry, "geoms"):
        return [] if geometry.is_empty else [geometry]
    return [inner for part in shapely.get_parts(geometry) for inner in _flat(part)]
