"""GeoJSON geometries of requests (RFC 7946) as shapes."""

import json
import math
from collections.abc import Mapping, Sequence

import shapely
from shapely.geometry.base import BaseGeometry

from service.errors import BadRequest


def read_geometry(document: object, pointer: str, kinds: Sequence[str]) -> BaseGeometry:
    """The shape of a GeoJSON geometry.

    Raises:
        BadRequest: no geometry of one of ``kinds``, empty, or off the earth.
    """
    if not isinstance(document, Mapping):
        raise BadRequest(
            "A GeoJSON geometry is missing.",
            pointer=pointer,
            next_step=f"Use {', '.join(kinds)}.",
        )
    kind = document.get("type")
    if kind not in kinds:
        raise BadRequest(
            f"A geometry of type {kind!r} is not taken here.",
            pointer=f"{pointer}/type",
            next_step=f"Use {', '.join(kinds)}.",
        )
    try:
        shape: BaseGeometry = shapely.from_geojson(
            json.dumps({"type": kind, "coordinates": document.get("coordinates")})
        )
    except (shapely.errors.GEOSException, TypeError, ValueError) as error:
        raise BadRequest(
            f"The coordinates do not make a {kind}.",
            pointer=f"{pointer}/coordinates",
            next_step="Give them as in RFC 7946, longitude first.",
        ) from error
    if shape.is_empty:
        raise BadRequest("The geometry is empty.", pointer=f"{pointer}/coordinates")
    bounds = shape.bounds
    if not all(map(math.isfinite, bounds)):
        raise BadRequest("A coordinate is not a number.", pointer=f"{pointer}/coordinates")
    west, south, east, north = bounds
    if west < -180 or east > 180 or south < -90 or north > 90:
        raise BadRequest(
            f"A position of {west:g}, {south:g} to {east:g}, {north:g} is not on the earth.",
            pointer=f"{pointer}/coordinates",
            next_step="Longitude comes first, in WGS84 degrees.",
        )
    flat: BaseGeometry = shapely.force_2d(shape)
    return flat if flat.is_valid else _mended(flat)


def _mended(shape: BaseGeometry) -> BaseGeometry:
    """A shape that crosses itself, as the parts of the same dimension that it makes."""
    dimension = shapely.get_dimensions(shape)
    parts = [
        part
        for part in shapely.get_parts(shapely.make_valid(shape))
        if shapely.get_dimensions(part) == dimension
    ]
    mended: BaseGeometry = shapely.union_all(parts) if parts else shape
    return mended
