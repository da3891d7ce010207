"""Hardiness zones into the store: by ZIP code from the public table, by polygon from a vector file.

The ZIP table is that of the PRISM Climate Group, Oregon State University, with USDA ARS: header
``zipcode,zone,trange,zonetitle``, the range in degrees Fahrenheit. A polygon file has a column
``zone``.
"""

import csv
import re
from collections.abc import Iterator
from pathlib import Path

import shapely
from shapely.geometry.base import BaseGeometry

from data_loaders.archives import open_data, text_lines
from data_loaders.build import Draft, drafting
from data_loaders.geography.features import ColumnNames, content_sha256, existing, open_vector
from data_loaders.geography.report import LoadReport, Tally, already_loaded, write_source
from service.errors import BadFile
from service.geography.hardiness import HALF_ZONES, interval_of

HEADER = ["zipcode", "zone", "trange", "zonetitle"]
_ZIP = re.compile(r"\d{5}")
_RANGE = re.compile(r"(-?\d+) to (-?\d+)")
_ZONE_COLUMNS = ("zone", "gridcode_zone", "phz", "zonelabel")


def load_zones(target: Path, file: Path) -> LoadReport:
    """Add hardiness zones from a ZIP table (CSV, plain or compressed) or from polygons (GeoPackage,
    shapefile, GeoJSON).

    A ZIP code that another table has already given keeps the zone of the table loaded last; the
    number of those that changed is in the notes. Loading the same file again changes nothing.

    Raises:
        BadFile: neither kind of file, or no usable zone in it.
        StoreMissing: no store to add to.
    """
    digest = content_sha256(existing(file))
    source_id = f"zones/{file.name}"
    held = already_loaded(target, source_id, digest)
    if held is not None:
        return held
    tally = Tally()
    if _is_table(file):
        zips, areas = _read_zips(file, tally), []
    else:
        zips, areas = {}, _read_areas(file, tally)
    if not zips and not areas:
        raise BadFile(file.name, "no hardiness zone found in it.", next_step=_KINDS)
    with drafting(target, on_top=True) as draft:
        _remove(draft, source_id)
        changed = _add_zips(draft, zips, source_id)
        if changed:
            tally.note(f"{changed:,} ZIP codes had another zone before")
        report = tally.report(kept=len(zips) + len(areas))
        write_source(
            draft, source_id=source_id, kind="zones", title=file.name, sha256=digest, report=report
        )
        _add_areas(draft, areas, source_id)
    return report


_KINDS = f"Give a table with the header {','.join(HEADER)}, or polygons with a column named zone."


def _is_table(file: Path) -> bool:
    ending = file.suffixes[-1].casefold() if file.suffixes else ""
    return ending == ".csv" or file.name.casefold().endswith((".csv.gz", ".csv.zip"))


def _read_zips(file: Path, tally: Tally) -> dict[str, str]:
    found: dict[str, str] = {}
    for place, row in _table_rows(file):
        tally.read()
        if len(row) != len(HEADER):
            raise BadFile(
                file.name, f"{len(row)} columns where the header has {len(HEADER)}.", place=place
            )
        zip_code, zone, trange, _ = (cell.strip() for cell in row)
        if not _ZIP.fullmatch(zip_code):
            tally.apart("not a five-digit ZIP code")
        elif zone not in HALF_ZONES:
            tally.apart("not a half zone from 1a to 13b")
        elif not _agrees(zone, trange):
            tally.apart("temperature range is not that of the zone")
        elif zip_code in found:
            tally.apart(
                "ZIP code given twice"
                if found[zip_code] == zone
                else "ZIP code given twice with another zone"
            )
        else:
            found[zip_code] = zone
    return found


def _table_rows(file: Path) -> Iterator[tuple[str, list[str]]]:
    with open_data(file) as stream:
        rows = csv.reader(text_lines(stream, file=file.name), strict=True)
        try:
            header = next(rows, [])
            if header != HEADER:
                raise BadFile(
                    file.name,
                    f"its header is {','.join(header)[:80]!r}.",
                    place="line 1",
                    next_step=_KINDS,
                )
            for row in rows:
                if row:
                    yield f"line {rows.line_num}", row
        except csv.Error as error:
            raise BadFile(
                file.name, f"it is not a CSV table ({error}).", place=f"line {rows.line_num}"
            ) from error


def _agrees(zone: str, trange: str) -> bool:
    stated = _RANGE.fullmatch(trange)
    interval = interval_of(zone)
    return stated is not None and (float(stated[1]), float(stated[2])) == (
        interval.low_f,
        interval.high_f,
    )


def _read_areas(file: Path, tally: Tally) -> list[tuple[str, BaseGeometry]]:
    areas: list[tuple[str, BaseGeometry]] = []
    with open_vector(file) as vector:
        for layer in vector.layers:
            columns = ColumnNames(layer.columns)
            if not layer.has_geometry or not columns.any(_ZONE_COLUMNS):
                tally.note(
                    f"layer {layer.name} passed over: it has no polygons with a column named zone"
                )
                continue
            for feature in vector.features(layer, tally):
                zone = columns.text(feature.values, _ZONE_COLUMNS).casefold()
                if zone not in HALF_ZONES:
                    tally.apart("not a half zone from 1a to 13b")
                elif shapely.get_dimensions(feature.geometry) != 2:
                    tally.apart("not a polygon")
                else:
                    areas.append((zone, feature.geometry))
    return areas


def _remove(draft: Draft, source_id: str) -> None:
    run = draft.connection.execute
    run("DELETE FROM zone_of_zip WHERE source_id = ?", (source_id,))
    run(
        "DELETE FROM zone_box WHERE area_id IN (SELECT area_id FROM zone_area WHERE source_id = ?)",
        (source_id,),
    )
    run("DELETE FROM zone_area WHERE source_id = ?", (source_id,))


def _add_zips(draft: Draft, zips: dict[str, str], source_id: str) -> int:
    before = dict(draft.connection.execute("SELECT zip, zone FROM zone_of_zip").fetchall())
    draft.connection.executemany(
        "INSERT OR REPLACE INTO zone_of_zip VALUES (?, ?, ?)",
        [(zip_code, zone, source_id) for zip_code, zone in zips.items()],
    )
    return sum(before.get(zip_code, zone) != zone for zip_code, zone in zips.items())


def _add_areas(draft: Draft, areas: list[tuple[str, BaseGeometry]], source_id: str) -> None:
    for zone, area in areas:
        cursor = draft.connection.execute(
            "INSERT INTO zone_area (zone, geometry, source_id) VALUES (?, ?, ?)",
            (zone, shapely.to_wkb(area), source_id),
        )
        west, south, east, north = area.bounds
        draft.connection.execute(
            "INSERT INTO zone_box VALUES (?, ?, ?, ?, ?)",
            (cursor.lastrowid, west, east, south, north),
        )
