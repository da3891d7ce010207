"""Questions that are asked of a shape, whatever it outlines."""

import shapely
from shapely.geometry.base import BaseGeometry


def inside(shape: BaseGeometry) -> tuple[float, float]:
    """A position on the shape."""
    longitude, latitude = shapely.get_coordinates(shapely.point_on_surface(shape))[0]
    return float(longitude), float(latitude)
