"""GeoJSON geometries of requests and of sites (RFC 7946) as shapes."""

import json
import math
from collections.abc import Mapping, Sequence
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from service.checks.plan.values import Problem
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


_BOXES = ((-180.0, 13.0, -64.0, 72.0), (144.0, 13.0, 180.0, 56.0))
"""West, south, east, north about the United States with its islands, to a degree; Alaska beyond the
date line and the Pacific islands are in the second.
"""
_ZERO_DEG = 0.01


def checked_geometry(document: Any, name: str, pointer: str) -> tuple[Any, list[Problem]]:
    """The geometry to use, None where its position cannot be meant, and what is to be said of it.

    Args:
        document: a GeoJSON geometry as it came; what is not one is left to the reader.
        name: of the site.
    """
    shape = _shape(document)
    if shape is None or shape.is_empty:
        return document, []
    at = f"{pointer}/coordinates"
    west, south, east, north = shape.bounds
    if max(map(abs, (west, south, east, north))) < _ZERO_DEG:
        detail = f"The position of {name} is zero and zero, in the Gulf of Guinea; it was not used."
        return None, [Problem(at, detail, "Give its position, or its state and county.")]
    if not _in_boxes(west, south, east, north) and _in_boxes(south, west, north, east):
        detail = (
            f"The position of {name}, {west:g}, {south:g}, is outside the United States, and "
            "inside "
            "with the two turned round; it was not used."
        )
        return None, [Problem(at, detail, "Write longitude first: it is below zero there.")]
    if shapely.get_dimensions(shape) == 2 and not shape.is_valid:
        detail = (
            f"The outline of {name} crosses itself ({shapely.is_valid_reason(shape)}); the parts "
            "that it closes in were used."
        )
        return document, [Problem(at, detail, "Draw it again, corner after corner around it.")]
    return document, []


def _shape(document: Any) -> BaseGeometry | None:
    if not isinstance(document, dict):
        return None
    try:
        found: BaseGeometry = shapely.from_geojson(json.dumps(document))
    except (shapely.errors.GEOSException, TypeError, ValueError):
        return None
    return found


def _in_boxes(west: float, south: float, east: float, north: float) -> bool:
    return any(_inside(box, west, south, east, north) for box in _BOXES)


def _inside(box: tuple[float, float, float, float], *bounds: float) -> bool:
    west, south, east, north = bounds
    return west >= box[0] and south >= box[1] and east <= box[2] and north <= box[3]
