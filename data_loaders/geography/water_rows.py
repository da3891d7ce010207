"""The layers of a waters file read into rows: areas and lines with their class, and the flow
tables beside them.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

import shapely
from shapely import LineString, MultiPolygon
from shapely.geometry.base import BaseGeometry

from data_loaders.geography import hydrography as hydro
from data_loaders.geography.features import ColumnNames, Feature, Layer, VectorFile, as_text
from data_loaders.geography.flow_tables import TableRow
from data_loaders.geography.hydrography import FeatureClass
from data_loaders.geography.mapping import WaterMapping
from data_loaders.report import Tally
from service.errors import BadFile
from service.values.vocabulary import Flow

LayerRole = Literal["waters", "flow-table", "attributes", "other"]

_KEEP_CLASS: dict[str, FeatureClass] = {
    "path": FeatureClass("path", None, "moving"),
    "connector": FeatureClass("connector", None, "moving"),
    "none": hydro.NOT_WATER,
}


@dataclass(frozen=True, slots=True)
class WaterRow:
    """One feature that is a water.

    Attributes:
        ids: identifiers, each with its data set before a colon; the first is the one kept.
        values: the row, for columns that only lines have.
    """

    ids: tuple[str, ...]
    name: str
    gnis_id: str
    code: str
    feature: FeatureClass
    geometry: MultiPolygon | LineString
    columns: ColumnNames
    values: Mapping[str, object]


def role_of(layer: Layer, mapping: WaterMapping | None) -> LayerRole:
    """What a layer holds, by its columns."""
    columns = ColumnNames(layer.columns)
    if columns.any(hydro.FROM_COLUMNS) and columns.any(hydro.TO_COLUMNS):
        return "flow-table"
    if mapping is not None:
        return "waters" if layer.has_geometry and mapping.layer in (None, layer.name) else "other"
    if layer.name.casefold().startswith(hydro.WORKING_LAYERS):
        return "other"
    identified = any(columns.any(names) for names in hydro.ID_COLUMNS.values())
    if layer.has_geometry:
        coded = identified and columns.any(hydro.CODE_COLUMNS)
        return "waters" if coded or is_drawn(layer) else "other"
    routed = columns.any(hydro.TO_NODE_COLUMNS) or columns.any(hydro.DOWN_SEQUENCE_COLUMNS)
    return "attributes" if identified and routed else "other"


def is_drawn(layer: Layer) -> bool:
    """Whether a layer is a drawing: GeoJSON with names and without the columns of a data set."""
    columns = ColumnNames(layer.columns)
    known = any(columns.any(names) for names in hydro.ID_COLUMNS.values())
    is_json = layer.file.suffix.casefold() in (".geojson", ".json")
    return is_json and not known and columns.any(hydro.DRAWN_NAME_COLUMNS) is not None


def table_rows(vector: VectorFile, layer: Layer, source_id: str) -> Iterator[TableRow]:
    """The rows of a flow table."""
    columns = ColumnNames(layer.columns)
    from_column = columns.any(hydro.FROM_COLUMNS) or ""
    newer = from_column.startswith("fromnhdpid")
    data_set = "nhdplus" if newer else "comid" if from_column == "fromcomid" else "nhd"
    for values in vector.rows(layer):
        yield TableRow(
            data_set,
            columns.text(values, hydro.FROM_COLUMNS),
            columns.text(values, hydro.TO_COLUMNS),
            source_id,
        )


def attribute_rows(
    vector: VectorFile, layer: Layer
) -> Iterator[tuple[str, ColumnNames, Mapping[str, object]]]:
    """The rows of a table of attributes of flowlines, each with the identifier of its line."""
    columns = ColumnNames(layer.columns)
    for values in vector.rows(layer):
        ids = _identifiers(columns, values)
        if ids:
            yield ids[-1], columns, values


def water_rows(
    vector: VectorFile, layer: Layer, tally: Tally, mapping: WaterMapping | None, sha256: str
) -> Iterator[WaterRow]:
    """The features of a layer that are waters. The others are set apart with the reason.

    Args:
        sha256: of the file; rows without an identifier are known by it and their number.
    """
    columns = ColumnNames(layer.columns)
    drawn = mapping is None and is_drawn(layer)
    if mapping is not None:
        _check_columns(vector, layer, mapping)
    for number, feature in enumerate(vector.features(layer, tally), start=1):
        dimension = int(shapely.get_dimensions(feature.geometry))
        if dimension == 0:
            tally.apart("a point, not the shape of a water")
            continue
        if drawn:
            code, known = _drawn_class(columns, feature.values, is_area=dimension == 2)
        else:
            code, known = _class(columns, feature.values, mapping, is_area=dimension == 2)
        if known is None:
            tally.apart(f"feature code not known: {code[:40]}" if code else "no feature code")
        elif known.role == "none":
            tally.apart(f"not a water: feature code {code[:40]}")
        else:
            row_id = f"{_slug(layer.name)}-{sha256[:8]}:row-{number}"
            if drawn:
                name = columns.text(feature.values, hydro.DRAWN_NAME_COLUMNS)
                shape = _one_shape(feature.geometry)
                row: WaterRow | None = WaterRow(
                    (row_id,), name, "", code, known, shape, columns, feature.values
                )
            else:
                row = _row(feature, columns, code, known, mapping, row_id)
            if row is None:
                tally.apart("no identifier")
            else:
                yield row


def _check_columns(vector: VectorFile, layer: Layer, mapping: WaterMapping) -> None:
    present = {column.casefold() for column in layer.columns}
    for column in mapping.columns:
        if column.casefold() not in present:
            raise BadFile(
                vector.name,
                f"it has no column {column!r}, which the mapping names.",
                place=f"layer {layer.name}",
                next_step=f"Its columns: {', '.join(layer.columns) or 'none'}. A mapping for one"
                " layer names it with layer.",
            )


def _row(
    feature: Feature,
    columns: ColumnNames,
    code: str,
    known: FeatureClass,
    mapping: WaterMapping | None,
    row_id: str,
) -> WaterRow | None:
    values = feature.values
    if mapping is None:
        ids = _identifiers(columns, values)
        name = columns.text(values, hydro.NAME_COLUMNS)
        gnis_id = columns.text(values, hydro.GNIS_ID_COLUMNS).lstrip("0")
    else:
        layer, number = row_id.split(":")
        own = _cell(values, mapping.id) if mapping.id else number
        prefix = mapping.data_set or (layer.rpartition("-")[0] if mapping.id else layer)
        ids = (f"{prefix}:{own}",) if own else ()
        name, gnis_id = _cell(values, mapping.name), ""
    if not ids:
        return None
    shape = _one_shape(feature.geometry)
    return WaterRow(ids, name, gnis_id, code, known, shape, columns, values)


def mapped_id(row: WaterRow, mapping: WaterMapping | None, column: str | None) -> str:
    """The identifier in a mapped column, with the data set of the row before it."""
    value = _cell(row.values, column) if mapping else ""
    return f"{row.ids[0].split(':')[0]}:{value}" if value else ""


def _class(
    columns: ColumnNames,
    values: Mapping[str, object],
    mapping: WaterMapping | None,
    *,
    is_area: bool,
) -> tuple[str, FeatureClass | None]:
    if mapping is not None:
        return _mapped_class(values, mapping, is_area=is_area)
    code = ""
    for name in hydro.CODE_COLUMNS:
        text = columns.text(values, (name,))
        known = hydro.of_code(text, is_area=is_area) if text else None
        if known is not None:
            return text, known
        code = code or text
    return code, None


def _drawn_class(
    columns: ColumnNames, values: Mapping[str, object], *, is_area: bool
) -> tuple[str, FeatureClass | None]:
    """The class of a drawn water: by its kind where one is written, else by a word in its name,
    else by its shape.
    """
    for text in (
        columns.text(values, hydro.DRAWN_KIND_COLUMNS),
        columns.text(values, hydro.DRAWN_NAME_COLUMNS),
    ):
        known = hydro.of_code(text, is_area=is_area) if text and not text.isdigit() else None
        if known is not None and known.role in ("water", "by-size", "line"):
            return "drawn", known
    return "drawn", hydro.drawn(is_area=is_area)


def _mapped_class(
    values: Mapping[str, object], mapping: WaterMapping, *, is_area: bool
) -> tuple[str, FeatureClass | None]:
    code = _cell(values, mapping.kind)
    kind = mapping.kinds.get(code) if code else None
    if kind is None and code:
        plain = hydro.of_code(code, is_area=is_area)
        if plain is not None:
            return code, plain
    kind = kind or (mapping.default_kind if not code or not mapping.kinds else None)
    if kind is None:
        return code, None
    known = (
        _KEEP_CLASS[kind]
        if kind == "path" or kind == "connector" or kind == "none"
        else hydro.of_kind(kind)
    )
    stated: Flow | None = mapping.flows.get(_cell(values, mapping.flow))
    return code or kind, FeatureClass(known.role, known.kind, stated) if stated else known


def _identifiers(columns: ColumnNames, values: Mapping[str, object]) -> tuple[str, ...]:
    found = (
        (data_set, columns.text(values, names)) for data_set, names in hydro.ID_COLUMNS.items()
    )
    return tuple(f"{data_set}:{text}" for data_set, text in found if text)


def _cell(values: Mapping[str, object], column: str | None) -> str:
    return as_text(values.get(column.casefold())) if column else ""


def _one_shape(geometry: BaseGeometry) -> MultiPolygon | LineString:
    """All polygons; or one line, parts that join end to end made one, else in the order given."""
    if isinstance(geometry, MultiPolygon | LineString):
        return geometry
    if int(shapely.get_dimensions(geometry)) == 2:
        return MultiPolygon(list(shapely.get_parts(geometry)))
    merged = shapely.line_merge(geometry, directed=True)
    if isinstance(merged, LineString):
        return merged
    return LineString(shapely.get_coordinates(geometry))


def _slug(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", text.casefold()).strip("-") or "layer"
