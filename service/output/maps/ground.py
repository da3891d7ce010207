"""What a drawing map shows under the drawing: state and county lines, and the waters of the store.

As GeoJSON features with ``what`` (``line`` or ``water``) and ``name``.
"""

import sqlite3
from collections.abc import Iterator
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from service.geography.geodesy import Box
from service.output.geojson import geojson
from service.store.geography import counties_in_box, states_in_box, water_shapes_in_box
from service.values.vocabulary import JURISDICTION_NAMES

MOST_WATERS = 4_000
"""Parts of waters shown at once."""
_COUNTIES_BELOW_DEG, _WATERS_BELOW_DEG = 6.0, 0.6
"""Widths of the map, in degrees, below which counties and waters are shown."""
_SCREEN_SHARE = 1_500
"""Lines may move by the width of the map through this: less than a pixel of most screens."""


def ground(connection: sqlite3.Connection, box: Box) -> dict[str, Any]:
    """The features of a box as a GeoJSON FeatureCollection."""
    return {"type": "FeatureCollection", "features": list(_features(connection, box))}


def _features(connection: sqlite3.Connection, box: Box) -> Iterator[dict[str, Any]]:
    width = box.east - box.west
    step = width / _SCREEN_SHARE
    for state, shape in states_in_box(connection, box).items():
        yield _feature("line", JURISDICTION_NAMES[state], shape, step)
    if width < _COUNTIES_BELOW_DEG:
        for shape in counties_in_box(connection, box).values():
            yield _feature("line", "", shape, step)
    if width < _WATERS_BELOW_DEG:
        for name, shape in water_shapes_in_box(connection, box, MOST_WATERS):
            yield _feature("water", name, shape, step)


def _feature(what: str, name: str, shape: BaseGeometry, step: float) -> dict[str, Any]:
    simpler = shapely.simplify(shape, step)
    return {
        "type": "Feature",
        "properties": {"what": what, "name": name},
        "geometry": geojson(shape if simpler.is_empty else simpler),
    }
