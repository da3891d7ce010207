"""The schemas of GeoJSON geometries (RFC 7946) that requests may hold."""

from typing import Any

_POSITION: dict[str, Any] = {
    "type": "array",
    "items": {"type": "number"},
    "minItems": 2,
    "maxItems": 3,
    "description": "longitude, latitude in WGS84 degrees; a height is passed over",
}


def _kind(name: str, coordinates: dict[str, Any]) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": {"type": {"const": name}, "coordinates": coordinates},
        "required": ["type", "coordinates"],
    }


def _list_of(items: dict[str, Any], least: int) -> dict[str, Any]:
    return {"type": "array", "items": items, "minItems": least}


_LINE = _list_of(_POSITION, 2)
_RINGS = _list_of(_list_of(_POSITION, 4), 1)

POINT = _kind("Point", _POSITION)
GEOMETRIES: dict[str, dict[str, Any]] = {
    "Point": POINT,
    "LineString": _kind("LineString", _LINE),
    "MultiLineString": _kind("MultiLineString", _list_of(_LINE, 1)),
    "Polygon": _kind("Polygon", _RINGS),
    "MultiPolygon": _kind("MultiPolygon", _list_of(_RINGS, 1)),
}
GEOMETRY: dict[str, Any] = {"oneOf": list(GEOMETRIES.values())}
"""A point, line or polygon, or several lines or polygons."""

FEATURE_COLLECTION: dict[str, Any] = {
    "type": "object",
    "properties": {
        "type": {"const": "FeatureCollection"},
        "features": {"type": "array", "items": {"type": "object"}},
    },
    "required": ["type", "features"],
}
"""An answer as GeoJSON."""
