"""Distances on the WGS84 ellipsoid, from a point to the nearest position of any geometry.

Positions are longitude and latitude in degrees; edges are straight in longitude and latitude (RFC
7946, section 3.1.1).
"""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import Geod
from shapely.geometry.base import BaseGeometry

GEOD = Geod(ellps="WGS84")

_EDGE_DEGREES = 0.02
"""Longest edge looked at whole: over 2 km a parallel leaves the geodesic by less than 0.1 m
below latitude 72.
"""

_LEAST_METRES_PER_DEGREE = 110_500.0
"""Of latitude; 110,574 m at the equator is the least on WGS84."""


@dataclass(frozen=True, slots=True)
class Nearest:
    """The nearest position of a geometry.

    ``distance_m`` is 0 and the position the asked one when that lies inside.
    """

    longitude: float
    latitude: float
    distance_m: float


@dataclass(frozen=True, slots=True)
class Box:
    """Bounds in degrees; ``west`` is never above ``east``."""

    west: float
    south: float
    east: float
    north: float


def distance_m(
    longitude_1: float, latitude_1: float, longitude_2: float, latitude_2: float
) -> float:
    """Length of the geodesic between two positions.

    >>> round(distance_m(-84.0, 41.0, -84.0, 42.0))  # a degree of the meridian
    111064
    """
    return float(GEOD.inv(longitude_1, latitude_1, longitude_2, latitude_2)[2])


def line_length_m(line: BaseGeometry) -> float:
    """Length of a line or of all lines of a multi-line, edge by edge."""
    return float(GEOD.geometry_length(line))


def area_m2(polygon: BaseGeometry) -> float:
    """Area of a polygon, holes taken off, whichever way its rings run."""
    return sum(
        abs(GEOD.geometry_area_perimeter(shapely.Polygon(part.exterior))[0])
        - sum(
            abs(GEOD.geometry_area_perimeter(shapely.Polygon(hole))[0]) for hole in part.interiors
        )
        for part in shapely.get_parts(polygon)
    )


def search_boxes(longitude: float, latitude: float, within_m: float) -> tuple[Box, ...]:
    """Boxes that hold every position within a distance: one, or two where they reach over the
    antimeridian.
    """
    margin = within_m / _LEAST_METRES_PER_DEGREE + 1e-9
    return (
        widened(Box(longitude, latitude, longitude, latitude), within_m)
        if margin < 90
        else (_WORLD,)
    )


_WORLD = Box(-180.0, -90.0, 180.0, 90.0)


def widened(box: Box, within_m: float) -> tuple[Box, ...]:
    """Boxes that hold every position within a distance of a box."""
    up = within_m / _LEAST_METRES_PER_DEGREE + 1e-9
    south, north = max(-90.0, box.south - up), min(90.0, box.north + up)
    if south <= -90 or north >= 90:
        return (Box(-180.0, south, 180.0, north),)
    # Widest reach of a circle in longitude, on the sphere, at the row nearest a pole; 1% more for
    # the ellipsoid.
    row = max(abs(box.south), abs(box.north))
    ratio = math.sin(math.radians(up)) / math.cos(math.radians(row))
    if ratio >= 1:
        return (Box(-180.0, south, 180.0, north),)
    sideways = math.degrees(math.asin(ratio)) * 1.01 + 1e-9
    west, east = box.west - sideways, box.east + sideways
    if east - west >= 360:
        return (Box(-180.0, south, 180.0, north),)
    if west < -180:
        return Box(west + 360, south, 180.0, north), Box(-180.0, south, east, north)
    if east > 180:
        return Box(west, south, 180.0, north), Box(-180.0, south, east - 360, north)
    return (Box(west, south, east, north),)


def nearest_position(geometry: BaseGeometry, longitude: float, latitude: float) -> Nearest:
    """The position of a geometry that is nearest to a point, to within about a decimetre at any
    distance asked here.

    Raises:
        ValueError: the geometry is empty.
    """
    if geometry.is_empty:
        raise ValueError("an empty geometry is nowhere")
    point = shapely.Point(longitude, latitude)
    if shapely.get_dimensions(geometry) == 2 and shapely.covers(geometry, point):
        return Nearest(longitude, latitude, 0.0)
    starts, ends = _edges(geometry)
    plane_starts = _around(longitude, latitude, starts)
    plane_ends = _around(longitude, latitude, ends)
    share = _nearest_share(plane_starts, plane_ends)
    feet = plane_starts + share[:, None] * (plane_ends - plane_starts)
    best = int(np.argmin(np.hypot(feet[:, 0], feet[:, 1])))
    found = starts[best] + share[best] * (ends[best] - starts[best])
    away = distance_m(longitude, latitude, float(found[0]), float(found[1]))
    return Nearest(float(found[0]), float(found[1]), away)


def nearest_distances_m(
    geometries: NDArray[np.object_], longitude: float, latitude: float
) -> NDArray[np.float64]:
    """The distances that :func:`nearest_position` gives for each of many geometries, none of
    them empty.
    """
    covering = (shapely.get_dimensions(geometries) == 2) & shapely.covers(
        geometries, shapely.Point(longitude, latitude)
    )
    found = np.zeros(len(geometries))
    rest = np.flatnonzero(~covering)
    if not len(rest):
        return found
    starts, ends, owner = _edges_of_many(geometries[rest])
    plane_starts, plane_ends = (
        _around(longitude, latitude, starts),
        _around(longitude, latitude, ends),
    )
    share = _nearest_share(plane_starts, plane_ends)
    feet = plane_starts + share[:, None] * (plane_ends - plane_starts)
    away = np.hypot(feet[:, 0], feet[:, 1])
    order = np.lexsort((np.arange(len(away)), away, owner))
    best = order[np.flatnonzero(np.diff(owner[order], prepend=-1))]
    positions = starts[best] + share[best, None] * (ends[best] - starts[best])
    count = len(best)
    found[rest] = GEOD.inv(
        np.full(count, longitude), np.full(count, latitude), positions[:, 0], positions[:, 1]
    )[2]
    return found


def nearest_between(first: BaseGeometry, second: BaseGeometry) -> tuple[Nearest, Nearest]:
    """The nearest positions of two geometries: on the first, and on the second; distance 0 where
    they meet.

    Found by turns from the vertices of the first and the second that lie nearest; both must be of
    local size.
    """
    first, second = (
        shape if shapely.is_valid(shape) else shapely.make_valid(shape) for shape in (first, second)
    )
    if shapely.intersects(first, second):
        where = shapely.get_coordinates(
            shapely.point_on_surface(shapely.intersection(first, second))
        )[0]
        met = Nearest(float(where[0]), float(where[1]), 0.0)
        return met, met
    centre = shapely.get_coordinates(shapely.centroid(first))[0]
    flat = [_flattened(shape, float(centre[0]), float(centre[1])) for shape in (first, second)]
    line = shapely.get_coordinates(shapely.shortest_line(flat[0], flat[1]))[0]
    azimuth = math.degrees(math.atan2(line[0], line[1]))
    longitude, latitude, _ = GEOD.fwd(
        float(centre[0]), float(centre[1]), azimuth, float(math.hypot(*line))
    )
    on_first = nearest_position(
        first if not _inside(first, longitude, latitude) else shapely.boundary(first),
        longitude,
        latitude,
    )
    on_second = nearest_position(second, on_first.longitude, on_first.latitude)
    for _ in range(4):
        back = nearest_position(first, on_second.longitude, on_second.latitude)
        forth = nearest_position(second, back.longitude, back.latitude)
        if forth.distance_m >= on_second.distance_m - 1e-3:
            break
        on_first, on_second = back, forth
    return Nearest(on_first.longitude, on_first.latitude, on_second.distance_m), on_second


def position_along(line: BaseGeometry, along_m: float) -> tuple[float, float]:
    """The position at a distance from the start of a line; its ends beyond them."""
    coordinates = shapely.get_coordinates(shapely.segmentize(line, _EDGE_DEGREES))
    left = along_m
    for (lon_1, lat_1), (lon_2, lat_2) in pairwise(coordinates):
        step = distance_m(lon_1, lat_1, lon_2, lat_2)
        if step >= left and step > 0:
            share = max(0.0, left / step)
            return float(lon_1 + share * (lon_2 - lon_1)), float(lat_1 + share * (lat_2 - lat_1))
        left -= step
    return float(coordinates[-1][0]), float(coordinates[-1][1])


def distance_along_m(line: BaseGeometry, longitude: float, latitude: float) -> float:
    """How far along a single line its position nearest to a point lies, from the line's start."""
    coordinates = shapely.get_coordinates(shapely.segmentize(line, _EDGE_DEGREES))
    best, found, walked = math.inf, 0.0, 0.0
    for start, end in pairwise(coordinates):
        step = distance_m(start[0], start[1], end[0], end[1])
        near = nearest_position(shapely.LineString([start, end]), longitude, latitude)
        if near.distance_m < best:
            best = near.distance_m
            found = walked + distance_m(start[0], start[1], near.longitude, near.latitude)
        walked += step
    return found


def _inside(geometry: BaseGeometry, longitude: float, latitude: float) -> bool:
    return bool(
        shapely.get_dimensions(geometry) == 2
        and shapely.covers(geometry, shapely.Point(longitude, latitude))
    )


def _edges(geometry: BaseGeometry) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Start and end of every edge, long ones cut up; a point is an edge of no length."""
    starts, ends, _ = _edges_of_many(np.array([geometry], dtype=object))
    return starts, ends


def _edges_of_many(
    geometries: NDArray[np.object_],
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.intp]]:
    """As :func:`_edges`, with the index of the geometry that each edge is of."""
    lines = np.where(
        shapely.get_dimensions(geometries) == 2, shapely.boundary(geometries), geometries
    )
    parts, owner = shapely.get_parts(lines, return_index=True)
    coordinates, part = shapely.get_coordinates(
        shapely.segmentize(parts, _EDGE_DEGREES), return_index=True
    )
    joined = part[1:] == part[:-1]
    alone = np.bincount(part, minlength=len(parts))[part] == 1
    starts = np.concatenate([coordinates[:-1][joined], coordinates[alone]])
    ends = np.concatenate([coordinates[1:][joined], coordinates[alone]])
    return starts, ends, np.concatenate([owner[part[:-1][joined]], owner[part[alone]]])


def _around(
    longitude: float, latitude: float, positions: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Azimuthal equidistant plane about a point, metres east and north: distances from the point
    are true.
    """
    azimuth, _, metres = GEOD.inv(
        np.full(len(positions), longitude),
        np.full(len(positions), latitude),
        positions[:, 0],
        positions[:, 1],
    )
    angle = np.radians(azimuth)
    return np.column_stack([metres * np.sin(angle), metres * np.cos(angle)])


def _flattened(geometry: BaseGeometry, longitude: float, latitude: float) -> BaseGeometry:
    fine = shapely.segmentize(geometry, _EDGE_DEGREES)
    flat: BaseGeometry = shapely.transform(fine, lambda xy: _around(longitude, latitude, xy))
    return flat


def _nearest_share(starts: NDArray[np.float64], ends: NDArray[np.float64]) -> NDArray[np.float64]:
    """Where on each edge, from 0 at its start to 1 at its end, the origin's foot lies."""
    along = ends - starts
    squared = np.einsum("ij,ij->i", along, along)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(squared > 0, -np.einsum("ij,ij->i", starts, along) / squared, 0.0)
    return np.clip(share, 0.0, 1.0)


def inside(shape: BaseGeometry) -> tuple[float, float]:
    """A position on the shape."""
    longitude, latitude = shapely.get_coordinates(shapely.point_on_surface(shape))[0]
    return float(longitude), float(latitude)
