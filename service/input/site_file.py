"""Sites in a GeoPackage, as the GeoJSON FeatureCollection that a screening takes."""

import json
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio
import shapely

from service.errors import BadRequest

MOST_FEATURES = 50_000
_WATER_LAYERS = frozenset({"water", "waters"})


def read_geopackage(content: bytes) -> dict[str, Any]:
    """Every layer with geometry: those named ``water`` or ``waters`` as waters, others as sites.

    Coordinates are brought to WGS84. ``plantings`` may be JSON, or labels separated by semicolons.

    Raises:
        BadRequest: not a GeoPackage, no features, or more than are taken.
    """
    if not content.startswith(b"SQLite format 3\x00"):
        raise BadRequest(
            "The file is not a GeoPackage.",
            pointer="file",
            next_step="Open a .gpkg or a .geojson file.",
        )
    with tempfile.TemporaryDirectory(prefix="reedgate-sites-") as folder:
        path = Path(folder, "sites.gpkg")
        path.write_bytes(content)
        try:
            layers = [str(name) for name, kind in pyogrio.list_layers(path) if kind]
            features = [feature for layer in layers for feature in _features(path, layer)]
        except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError) as error:
            raise BadRequest(
                f"The GeoPackage cannot be read ({error}).",
                pointer="file",
                next_step="Export it again as GeoPackage or GeoJSON.",
            ) from error
    if not features:
        raise BadRequest("The GeoPackage has no features.", pointer="file")
    return {"type": "FeatureCollection", "features": features}


def _features(path: Path, layer: str) -> list[dict[str, Any]]:
    import pyproj

    meta, _, shapes, columns = pyogrio.raw.read(path, layer=layer, max_features=MOST_FEATURES + 1)
    if len(shapes) > MOST_FEATURES:
        raise BadRequest(f"Layer {layer!r} has more than {MOST_FEATURES:,} features.")
    geometries = shapely.force_2d(shapely.from_wkb(shapes))
    if meta["crs"] and meta["crs"] != "EPSG:4326":
        turn = pyproj.Transformer.from_crs(meta["crs"], "EPSG:4326", always_xy=True)
        geometries = shapely.transform(
            geometries,
            lambda points: np.column_stack(turn.transform(points[:, 0], points[:, 1])),
        )
    names = [str(name) for name in meta["fields"]]
    found = []
    for number, geometry in enumerate(geometries):
        values = {name: _plain(column[number]) for name, column in zip(names, columns, strict=True)}
        properties = {name: value for name, value in values.items() if value is not None}
        if layer.lower() in _WATER_LAYERS:
            properties.setdefault("layer", "water")
        if isinstance(properties.get("plantings"), str):
            properties["plantings"] = _plantings(properties["plantings"])
        shape = json.loads(shapely.to_geojson(geometry)) if geometry is not None else None
        found.append({"type": "Feature", "geometry": shape, "properties": properties})
    return found


def _plain(value: Any) -> Any:
    """A cell as JSON has it; None for an empty one."""
    if hasattr(value, "item"):
        value = value.item()
    if value is None or value != value:  # not a number
        return None
    return value if isinstance(value, str | int | float | bool) else str(value)


def _plantings(text: str) -> Any:
    try:
        return json.loads(text)
    except ValueError:
        return [label.strip() for label in text.split(";") if label.strip()]
