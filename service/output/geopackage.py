"""An answer as a GeoPackage (OGC 12-128): sites, places, plantings and waters as layers of their
own.
"""

import json
import tempfile
import threading
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio
import shapely

Layers = Mapping[str, Sequence[dict[str, Any]]]
"""GeoJSON features by the name of their layer."""
_ONE_AT_A_TIME = threading.Lock()
"""The date that GDAL writes is a setting of the whole process."""
_MOST_COLUMNS = 1_900
"""Of a table of SQLite, which takes 2,000; what is more stands in one column, as JSON."""
_THE_REST = "further_properties"


def geopackage(layers: Layers, on: date) -> bytes:
    """The file. The date inside it is that of the answer."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "answer.gpkg")
        write_geopackage(layers, on, path)
        return path.read_bytes()


def write_geopackage(layers: Layers, on: date, path: Path) -> None:
    """Write the file; an older one of that name is replaced."""
    path.unlink(missing_ok=True)
    with _ONE_AT_A_TIME:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": f"{on.isoformat()}T00:00:00Z"})
        try:
            for layer, features in layers.items():
                if features:
                    _write_layer(path, layer, features)
        finally:
            pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})


def _write_layer(path: Path, layer: str, features: Sequence[dict[str, Any]]) -> None:
    rows = _within_columns([_attributes(feature) for feature in features])
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


def _within_columns(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    names = list(dict.fromkeys(name for row in rows for name in row))
    if len(names) <= _MOST_COLUMNS:
        return rows
    own = frozenset(names[: _MOST_COLUMNS - 1])
    return [
        {name: value for name, value in row.items() if name in own}
        | {_THE_REST: {name: value for name, value in row.items() if name not in own}}
        for row in rows
    ]


def _spelled_apart(names: dict[str, None]) -> dict[str, str]:
    """Names as columns: SQLite takes ``Owner`` and ``owner`` for one."""
    taken = {"row", "shape"}
    found: dict[str, str] = {}
    for name in names:
        spelled = _without_nul(name)
        column, count = spelled, 1
        while column.casefold() in taken:
            count += 1
            column = f"{spelled}_{count}"
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
    return _without_nul(value) if isinstance(value, str) else json.dumps(value, ensure_ascii=False)


def _without_nul(text: str) -> str:
    """A name or text ends at a NUL for those who write and read the file."""
    return text.replace("\x00", "\ufffd")
