"""Shapes as GeoJSON geometries (RFC 7946)."""

import json
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

_PLACES = 7
"""Decimals of a degree written out: about a centimetre."""


def geojson(shape: BaseGeometry | None) -> dict[str, Any] | None:
    """A shape as a GeoJSON geometry: rings as RFC 7946 turns them, seven decimals."""
    if shape is None:
        return None
    turned = shapely.orient_polygons(shape, exterior_cw=False)
    written: dict[str, Any] = json.loads(shapely.to_geojson(turned))
    return _rounded(written)


def _rounded(geometry: dict[str, Any]) -> dict[str, Any]:
    if "geometries" in geometry:
        return {
            "type": geometry["type"],
            "geometries": [_rounded(part) for part in geometry["geometries"]],
        }
    return {"type": geometry["type"], "coordinates": _round(geometry["coordinates"])}


def _round(coordinates: Any) -> Any:
    if isinstance(coordinates, list):
        return [_round(member) for member in coordinates]
    return round(coordinates, _PLACES)
