"""Write the demo county's files. Everything in them is invented but the plants' names and the state
line.

    python -m demo_data.make_demo_geography [--out FOLDER]

The same seed gives the same files: text and archives byte for byte; the GeoPackage too on the same
    GDAL and SQLite, whose
versions it carries in its header, and whose date of writing is set. Watershed outlines come out of
a Voronoi diagram and may differ in the last digit with another GEOS.
"""

import argparse
import io
import json
import zipfile
from collections import defaultdict
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
import pyogrio
import shapely
from shapely.geometry.base import BaseGeometry

from demo_data import geography
from demo_data.geography.county import GNIS_IDS, County, Reach, invent
from demo_data.geography.records import COLUMNS, DATA_SETS, Record, invent_records
from demo_data.geography.shapes import Point, area_m2, degrees, length_m

SEED = 20_240_229
INVENTED = "Invented for demonstration: no such waters, places, people or records exist."
WRITTEN = "2024-02-29T00:00:00Z"

BASINS = {
    "Upper Ferrow River": ("990102030101", "990102030105"),
    "Mill Run": ("990102030102", "990102030101"),
    "Querrin Creek": ("990102030103", "990102030105"),
    "Sallow Brook": ("990102030104", "990102030105"),
    "Lower Ferrow River": ("990102030105", "990102040101"),
    "Tansel Run": ("990102030106", "990102030105"),
    "Ostler Bog": ("990102030107", "CLOSED BASIN"),
}
"""Watershed to its invented code and to what it drains into; the last of the river is not in
these files.
"""

ZIP_ZONES = {
    f"4359{digit}": zone
    for digit, zone in enumerate(("6a", "6a", "6b", "6b", "6a", "6b", "6a", "6a", "6b", "6a"))
}
ZIP_ZONES |= {"49295": "6a", "49296": "5b", "49297": "6a", "49298": "6a"}
RANGES = {"5b": "-15 to -10", "6a": "-10 to -5", "6b": "-5 to 0"}


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description="Write the files of the invented demo county.")
    parser.add_argument("--out", type=Path, default=geography.FOLDER)
    make(parser.parse_args(arguments).out)


def make(folder: Path) -> None:
    """Write all files into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    county = invent(SEED)
    write_waters(county, folder / geography.WATERS.name)
    write_watersheds(county, folder / geography.WATERSHEDS.name)
    write_zones(folder)
    records = invent_records(county, SEED)
    half = [record for number, record in enumerate(records) if number % 3]
    other = [record for number, record in enumerate(records) if number % 3 == 0]
    write_archive(half, folder / geography.OCCURRENCE_ARCHIVE.name)
    (folder / geography.OCCURRENCE_TABLE.name).write_text(
        _table(other), encoding="utf-8", newline=""
    )


# --- waters ---


def write_waters(county: County, path: Path) -> None:
    """A GeoPackage with the layers and columns of the national hydrography data set."""
    path.unlink(missing_ok=True)
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": WRITTEN})
    _layer(
        path,
        "NHDFlowline",
        [_line(reach.line) for reach in county.reaches],
        _flowline_columns(county),
        "LineString",
    )
    for layer in ("NHDWaterbody", "NHDArea"):
        areas = [area for area in county.areas if area.layer == layer]
        shapes: list[BaseGeometry | None] = [
            shapely.Polygon([degrees(point) for point in area.ring]) for area in areas
        ]
        columns: dict[str, list[object]] = {
            "permanent_identifier": [_area_id(area.number) for area in areas],
            "gnis_id": [GNIS_IDS.get(area.name) for area in areas],
            "gnis_name": [area.name or None for area in areas],
            "areasqkm": [round(area_m2(area.ring) / 1e6, 6) for area in areas],
            "ftype": [area.fcode // 100 for area in areas],
            "fcode": [area.fcode for area in areas],
            "remark": [INVENTED] * len(areas),
        }
        if layer == "NHDWaterbody":  # a row without a shape, as real files have now and then
            shapes.append(None)
            for name, last in zip(
                columns, ("990299", None, None, None, 390, 39000, INVENTED), strict=True
            ):
                columns[name].append(last)
        _layer(path, layer, shapes, columns, "Polygon")
    _table_layer(path, "NHDFlow", _flow_columns(county))
    _table_layer(path, "NHDFlowlineVAA", _attribute_columns(county))
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})


def _line(points: Sequence[Point]) -> BaseGeometry:
    return shapely.LineString([degrees(point) for point in points])


def _line_id(number: int) -> str:
    return f"9901{number:02d}"


def _area_id(number: int) -> str:
    return f"9902{number:02d}"


def _flowline_columns(county: County) -> dict[str, list[object]]:
    reaches = county.reaches
    return {
        "permanent_identifier": [_line_id(reach.number) for reach in reaches],
        "gnis_id": [GNIS_IDS.get(reach.name) for reach in reaches],
        "gnis_name": [reach.name or None for reach in reaches],
        "lengthkm": [round(length_m(reach.line) / 1000, 3) for reach in reaches],
        "reachcode": [f"99010203{reach.number:06d}" for reach in reaches],
        "flowdir": [1] * len(reaches),
        "wbarea_permanent_identifier": [
            _area_id(reach.through) if reach.through else None for reach in reaches
        ],
        "ftype": [reach.fcode // 100 for reach in reaches],
        "fcode": [reach.fcode for reach in reaches],
        "remark": [INVENTED] * len(reaches),
    }


def _flow_columns(county: County) -> dict[str, list[object]]:
    starting: defaultdict[int, list[Reach]] = defaultdict(list)
    for reach in county.reaches:
        starting[reach.from_node].append(reach)
    pairs = [
        (reach.number, below.number)
        for reach in county.reaches
        for below in starting[reach.to_node]
    ]
    ends = [(reach.number, None) for reach in county.reaches if not starting[reach.to_node]]
    return {
        "from_permanent_identifier": [_line_id(above) for above, _ in [*pairs, *ends]],
        "to_permanent_identifier": [
            _line_id(below) if below else "0" for _, below in [*pairs, *ends]
        ],
    }


def _attribute_columns(county: County) -> dict[str, list[object]]:
    order = {reach.number: place for place, reach in enumerate(_from_mouth(county), start=1)}
    streams = _stream_orders(county)
    return {
        "permanent_identifier": [_line_id(reach.number) for reach in county.reaches],
        "HydroSeq": [float(9_900_000 + order[reach.number]) for reach in county.reaches],
        "FromNode": [float(9_900_000 + reach.from_node) for reach in county.reaches],
        "ToNode": [float(9_900_000 + reach.to_node) for reach in county.reaches],
        "DivergenceFlag": [reach.divergence for reach in county.reaches],
        "StreamOrder": [streams[reach.number] for reach in county.reaches],
    }


def _from_mouth(county: County) -> list[Reach]:
    """Reaches so that each comes after all that it flows into."""
    ending: defaultdict[int, list[Reach]] = defaultdict(list)
    for reach in county.reaches:
        ending[reach.to_node].append(reach)
    begun = {reach.from_node for reach in county.reaches}
    waiting = {node: sum(reach.from_node == node for reach in county.reaches) for node in begun}
    ready = [reach for reach in county.reaches if reach.to_node not in begun]
    ordered: list[Reach] = []
    while ready:
        reach = ready.pop(0)
        ordered.append(reach)
        waiting[reach.from_node] -= 1
        if waiting[reach.from_node] == 0:
            ready += ending[reach.from_node]
    return ordered


def _stream_orders(county: County) -> dict[int, int]:
    """Strahler order, the lesser branch of a divergence left out of the count."""
    orders: dict[int, int] = {}
    for reach in reversed(_from_mouth(county)):
        above = [
            orders[other.number]
            for other in county.reaches
            if other.to_node == reach.from_node and other.divergence != 2
        ]
        highest = max(above, default=0)
        orders[reach.number] = (
            1 if not above or reach.divergence == 2 else highest + (above.count(highest) > 1)
        )
    return orders


def _layer(
    path: Path,
    layer: str,
    shapes: Sequence[BaseGeometry | None],
    columns: Mapping[str, Sequence[object]],
    kind: str,
) -> None:
    geometry = np.array(
        [None if shape is None else shapely.to_wkb(shape) for shape in shapes], dtype=object
    )
    names, values = _arrays(columns)
    pyogrio.raw.write(
        path,
        geometry,
        values,
        names,
        layer=layer,
        driver="GPKG",
        geometry_type=kind,
        crs="EPSG:4269",
        append=path.exists(),
        layer_options={"DESCRIPTION": INVENTED, "SPATIAL_INDEX": "NO"},
    )


def _table_layer(path: Path, layer: str, columns: Mapping[str, Sequence[object]]) -> None:
    names, values = _arrays(columns)
    pyogrio.raw.write(
        path,
        None,
        values,
        names,
        layer=layer,
        driver="GPKG",
        append=True,
        layer_options={"DESCRIPTION": INVENTED},
        geometry_type=None,
    )


def _arrays(columns: Mapping[str, Sequence[object]]) -> tuple[list[str], list[np.ndarray]]:
    arrays = []
    for column in columns.values():
        plain = {type(value) for value in column if value is not None}
        arrays.append(
            np.array(
                list(column),
                dtype=object if plain == {str} or None in column else next(iter(plain)),
            )
        )
    return list(columns), arrays


# --- watersheds and zones ---


def write_watersheds(county: County, path: Path) -> None:
    """Polygons that divide the county among its basins: each place goes to the nearest stream."""
    labelled = [
        (degrees(point), reach.basin) for reach in county.reaches for point in reach.line[1:-1]
    ]
    bog = next(area for area in county.areas if area.name == "Ostler Bog")
    labelled += [(degrees(point), "Ostler Bog") for point in bog.ring[:-1]]
    frame = shapely.box(*degrees((-15_500, -15_500)), *degrees((14_000, 14_500)))
    cells = shapely.get_parts(
        shapely.voronoi_polygons(
            shapely.multipoints([at for at, _ in labelled]), extend_to=frame, ordered=True
        )
    )
    features = []
    for basin, (code, downstream) in BASINS.items():
        own = [cell for cell, (_, label) in zip(cells, labelled, strict=True) if label == basin]
        area = shapely.set_precision(
            shapely.intersection(shapely.union_all(own), frame), 1e-6
        ).normalize()
        properties = {"huc12": code, "name": basin, "tohuc": downstream, "remark": INVENTED}
        features.append(
            {
                "type": "Feature",
                "properties": properties,
                "geometry": json.loads(shapely.to_geojson(area)),
            }
        )
    _write_geojson(path, "WBDHU12", features)


def write_zones(folder: Path) -> None:
    """Hardiness zones by ZIP code, in the form of the public table, and two zone polygons."""
    rows = ["zipcode,zone,trange,zonetitle"]
    rows += [
        f"{code},{zone},{RANGES[zone]},{zone}: {RANGES[zone]} (invented)"
        for code, zone in sorted(ZIP_ZONES.items())
    ]
    (folder / geography.ZONES_BY_ZIP.name).write_bytes(
        ("\ufeff" + "\r\n".join(rows) + "\r\n").encode()
    )
    (west, south), (east, north) = degrees((-15_500, -15_500)), degrees((14_000, 14_500))
    middle = degrees((0, -1_000))[1]
    halves = {
        "6b": shapely.box(west, south, east, middle),
        "6a": shapely.box(west, middle, east, north),
    }
    features = [
        {
            "type": "Feature",
            "properties": {"zone": zone, "remark": INVENTED},
            "geometry": json.loads(shapely.to_geojson(area)),
        }
        for zone, area in halves.items()
    ]
    _write_geojson(folder / geography.ZONE_AREAS.name, "zones", features)


def _write_geojson(path: Path, name: str, features: Sequence[Mapping[str, object]]) -> None:
    document = {
        "type": "FeatureCollection",
        "name": name,
        "description": INVENTED,
        "features": features,
    }
    path.write_text(json.dumps(document, separators=(",", ":")) + "\n", encoding="utf-8")


# --- occurrences ---


def write_archive(records: Sequence[Record], path: Path) -> None:
    """A Darwin Core archive as a download has it: descriptor, tab-delimited core, metadata of
    each data set.
    """
    fields = "".join(
        f'    <field index="{index}" term="{_term(column)}"/>\n'
        for index, column in enumerate(COLUMNS)
    )
    descriptor = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f"<!-- {INVENTED} -->\n"
        '<archive xmlns="http://rs.tdwg.org/dwc/text/" metadata="metadata.xml">\n'
        '  <core rowType="http://rs.tdwg.org/dwc/terms/Occurrence" fieldsTerminatedBy="\\t" '
        'linesTerminatedBy="\\n" '
        'fieldsEnclosedBy="" encoding="UTF-8" ignoreHeaderLines="1">\n'
        "    <files><location>occurrence.txt</location></files>\n"
        f'    <id index="0"/>\n{fields}  </core>\n</archive>\n'
    )
    members = {
        "meta.xml": descriptor,
        "occurrence.txt": _table(records),
        "metadata.xml": _metadata("Invented records of the demo county"),
    }
    members |= {
        f"dataset/{key}.xml": _metadata(title, licence)
        for key, (title, licence) in DATA_SETS.items()
    }
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in members.items():
            entry = zipfile.ZipInfo(name, (2024, 2, 29, 0, 0, 0))
            entry.compress_type, entry.external_attr = zipfile.ZIP_DEFLATED, 0o644 << 16
            archive.writestr(entry, text)
    path.write_bytes(content.getvalue())


def _term(column: str) -> str:
    gbif = {
        "gbifID",
        "datasetKey",
        "publishingOrgKey",
        "taxonKey",
        "speciesKey",
        "species",
        "lastInterpreted",
        "mediaType",
        "issue",
    }
    if column == "license":
        return "http://purl.org/dc/terms/license"
    return f"http://rs.{'gbif.org/terms/1.0' if column in gbif else 'tdwg.org/dwc/terms'}/{column}"


def _metadata(title: str, licence: str = "CC0_1_0") -> str:
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<eml:eml xmlns:eml="https://eml.ecoinformatics.org/eml-2.2.0" packageId="invented">\n'
        f"  <dataset><title>{title}</title><abstract><para>{INVENTED}</para></abstract>"
        f"<intellectualRights><para>{licence}</para></intellectualRights></dataset>\n"
        f"  <additionalMetadata><metadata><gbif><citation>{title} "
        "(invented)</citation></gbif></metadata></additionalMetadata>\n"
        "</eml:eml>\n"
    )


def _table(records: Sequence[Record]) -> str:
    rows = ["\t".join(COLUMNS)] + [
        "\t".join(record[column] for column in COLUMNS) for record in records
    ]
    return "\n".join(rows) + "\n"


if __name__ == "__main__":
    main()
