"""Writing small vector files for the loaders to read."""

import json
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
import pyogrio
import shapely
from shapely.geometry.base import BaseGeometry

Columns = Mapping[str, Sequence[object]]


def write_layer(
    path: Path,
    layer: str,
    shapes: Sequence[BaseGeometry | None] | None,
    columns: Columns,
    *,
    crs: str | None = "EPSG:4269",
    kind: str = "Unknown",
    driver: str = "GPKG",
) -> None:
    """Add a layer, or a bare table when ``shapes`` is None."""
    wkb = (
        None
        if shapes is None
        else np.array([None if s is None else shapely.to_wkb(s) for s in shapes], dtype=object)
    )
    arrays = [_array(column) for column in columns.values()]
    pyogrio.raw.write(
        path,
        wkb,
        arrays,
        list(columns),
        layer=layer,
        driver=driver,
        geometry_type=None if shapes is None else kind,
        crs=None if shapes is None else crs,
        append=path.exists() and driver == "GPKG",
    )


def _array(column: Sequence[object]) -> np.ndarray:
    kinds = {type(value) for value in column}
    return np.array(list(column), dtype=kinds.pop() if kinds in ({int}, {float}) else object)


def write_geojson(
    path: Path, features: Sequence[tuple[BaseGeometry | None, Mapping[str, object]]]
) -> Path:
    """A GeoJSON feature collection."""
    content = [
        {
            "type": "Feature",
            "properties": dict(values),
            "geometry": json.loads(shapely.to_geojson(shape)) if shape else None,
        }
        for shape, values in features
    ]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": content}))
    return path
