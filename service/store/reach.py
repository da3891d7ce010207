"""Whether records may lie in or along a water, given how vague their coordinates are.

Distances are taken in an azimuthal equidistant projection around the water: off by less than one
part in a thousand for waters up to 500 km long, which no coordinate uncertainty notices.
"""

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import Proj
from shapely.geometry.base import BaseGeometry

from service.store.cells import Degrees, Metres, Window, split_at_antimeridian
from service.values.evidence import UNSTATED_UNCERTAINTY_M, WATER_UNCERTAINTY_LIMIT_M

_DEGREE_M = 110_500.0  # no degree of latitude is shorter on WGS84


def split_windows(shape: BaseGeometry) -> list[Window]:
    """Boxes around all places that may count for a water."""
    west, south, east, north = shape.bounds
    tall, wide = _margins(south, north)
    return split_at_antimeridian(
        west - wide, max(south - tall, -90.0), east + wide, min(north + tall, 90.0)
    )


def cells_touching(
    shape: BaseGeometry, west: Degrees, south: Degrees, east: Degrees, north: Degrees
) -> NDArray[np.bool_]:
    """Which boxes hold places that may count for a water."""
    if not len(west):
        return np.zeros(0, dtype=np.bool_)
    tall, wide = _margins(shape.bounds[1], shape.bounds[3])
    shapely.prepare(shape)
    touching = np.zeros(len(west), dtype=np.bool_)
    for turn in (-360.0, 0.0, 360.0):
        boxes = shapely.box(west + turn - wide, south - tall, east + turn + wide, north + tall)
        touching |= shapely.intersects(shape, boxes)
    return touching


class ReachedBy:
    """A water in its own projection."""

    def __init__(self, shape: BaseGeometry) -> None:
        west, south, east, north = shape.bounds
        centre = f"+lon_0={(west + east) / 2!r} +lat_0={(south + north) / 2!r}"
        self._project_degrees = Proj(f"+proj=aeqd {centre} +ellps=WGS84 +units=m")
        self._shape = shapely.transform(shape, self._project)
        shapely.prepare(self._shape)

    def may_lie_in(
        self, longitudes: Degrees, latitudes: Degrees, uncertainties_m: Metres
    ) -> NDArray[np.bool_]:
        """For each record whether the circle of its uncertainty meets the water; not a number is
        unstated.
        """
        if not len(longitudes):
            return np.zeros(0, dtype=np.bool_)
        stated = np.where(np.isnan(uncertainties_m), UNSTATED_UNCERTAINTY_M, uncertainties_m)
        tolerance_m = np.minimum(stated, WATER_UNCERTAINTY_LIMIT_M)
        points = shapely.points(*self._project_degrees(longitudes, latitudes))
        within = shapely.dwithin(self._shape, points, tolerance_m)  # type: ignore[call-overload] # takes arrays too
        return np.asarray(within, dtype=np.bool_)

    def _project(self, coordinates: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack(self._project_degrees(coordinates[:, 0], coordinates[:, 1]))


def _margins(south: float, north: float) -> tuple[float, float]:
    """Degrees of latitude and of longitude that are at least the largest uncertainty allowed
    for.
    """
    tall = WATER_UNCERTAINTY_LIMIT_M / _DEGREE_M * 1.01
    poleward = max(abs(south - tall), abs(north + tall))
    return tall, tall / math.cos(math.radians(min(poleward, 89.0)))
