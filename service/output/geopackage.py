"""A community screening as a GeoPackage (OGC 12-128): sites, plantings and waters as layers of
their own.
"""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio
import shapely

from service.checks.community.values import CommunityAnswer
from service.output.community import community_layers

GEOPACKAGE = "application/geopackage+sqlite3"
"""Media type (IANA)."""


def write_community_geopackage(answer: CommunityAnswer, path: Path) -> None:
    """Write the file; an older one of that name is replaced. The date inside it is that of the
    answer.
    """
    path.unlink(missing_ok=True)
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": f"{answer.as_of.isoformat()}T00:00:00Z"})
    try:
        for layer, features in community_layers(answer).items():
            _write_layer(path, layer, features)
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})


def _write_layer(path: Path, layer: str, features: list[dict[str, Any]]) -> None:
    rows = [_attributes(feature) for feature in features]
    names = _spelled_apart(dict.fromkeys(name for row in rows for name in row))
    columns = [_column([row.get(name) for row in rows]) for name in names]
    shapes = [
        None
        if feature["geometry"] is None
        else shapely.from_geojson(json.dumps(feature["geometry"]))
        for feature in features
    ]
    pyogrio.raw.write(
        path,
        np.array([None if shape is None else shapely.to_wkb(shape) for shape in shapes], object),
        [values for values, _ in columns],
        list(names.values()),
        field_mask=[mask for _, mask in columns],
        layer=layer,
        driver="GPKG",
        geometry_type="Unknown",
        crs="EPSG:4326",
        append=path.exists(),
        layer_options={"FID": "row", "GEOMETRY_NAME": "shape"},
    )


def _attributes(feature: dict[str, Any]) -> dict[str, Any]:
    found = dict(feature["properties"])
    if "id" in feature:
        found.setdefault("id", feature["id"])
        if found["id"] != feature["id"]:
            found["feature_id"] = feature["id"]
    return found


def _spelled_apart(names: dict[str, None]) -> dict[str, str]:
    """Names as columns: SQLite takes ``Owner`` and ``owner`` for one."""
    taken = {"row", "shape"}
    found: dict[str, str] = {}
    for name in names:
        column, count = name, 1
        while column.casefold() in taken:
            count += 1
            column = f"{name}_{count}"
        taken.add(column.casefold())
        found[name] = column
    return found


def _column(values: list[Any]) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any] | None]:
    """One column with a mask of what is missing: whole numbers, numbers, yes and no, else text."""
    missing = np.array([value is None for value in values], bool)
    stated = [value for value in values if value is not None]
    kinds = {type(value) for value in stated}
    small = all(not isinstance(value, int) or abs(value) < 2**63 for value in stated)
    for kind, known in ((bool, {bool}), (np.int64, {int}), (np.float64, {int, float})):
        if stated and kinds <= known and small:
            filled = [0 if value is None else value for value in values]
            return np.array(filled, kind), missing
    return np.array([None if value is None else _text(value) for value in values], object), None


def _text(value: Any) -> str:
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
