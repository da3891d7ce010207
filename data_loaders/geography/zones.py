"""Hardiness zones into the store: by ZIP code from the public table, by polygon from a vector file.

The ZIP table is that of the PRISM Climate Group, Oregon State University, with USDA ARS: header
``zipcode,zone,trange,zonetitle``, the range in degrees Fahrenheit. A polygon file has a column
``zone``.
"""

import csv
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import shapely
from shapely.geometry.base import BaseGeometry

from data_loaders.archives import open_data
from data_loaders.build import Draft, drafting
from data_loaders.geography.features import ColumnNames, content_sha256, existing, open_vector
from data_loaders.report import (
    LoadReport,
    NothingKept,
    Tally,
    loaded_before,
    replaced_source,
    source_id_of,
    write_source,
)
from data_loaders.text_lines import text_lines
from service.errors import BadFile
from service.geography.hardiness import HALF_ZONES, interval_of

HEADER = ["zipcode", "zone", "trange", "zonetitle"]
_ZIP = re.compile(r"\d{5}")
_RANGE = re.compile(r"(-?\d+) to (-?\d+)")
_ZONE_COLUMNS = ("zone", "gridcode_zone", "phz", "zonelabel")


def load_zones(target: Path, files: Sequence[Path], *, replace: str = "") -> LoadReport:
    """Add hardiness zones from ZIP tables (CSV, plain or compressed) or from polygons (GeoPackage,
    shapefile, GeoJSON).

    A ZIP code that another table has already given keeps the zone of the table loaded last; the
    number of those that changed is in the notes. A file is known by its content; the same content
    changes nothing.

    Args:
        replace: file name or id of an earlier source that is taken out first.

    Raises:
        BadFile: neither kind of file; NothingKept where none holds a usable zone.
        StoreMissing: no store to add to.
    """
    digests = {file: content_sha256(existing(file)) for file in files}
    loaded = loaded_before(target, "zones", digests)
    if loaded is not None:
        return loaded
    read = [_read(file, source_id_of("zones", digests[file])) for file in digests]
    with drafting(target, on_top=True) as draft:
        if replace:
            _remove(draft, replaced_source(draft, "zones", replace))
        reports = []
        for zones, (file, digest) in zip(read, digests.items(), strict=True):
            _remove(draft, zones.source_id)
            changed = _changed(draft, zones.of_zip)
            if changed:
                zones.tally.note(f"{changed:,} ZIP codes had another zone before")
            zones.tally.keep(len(zones.of_zip) + len(zones.areas))
            reports.append(zones.tally.report(file.name, zones.source_id, digest))
            write_source(draft, reports[-1], kind="zones", title=file.name)
            _add_zips(draft, zones.of_zip, zones.source_id)
            _add_areas(draft, zones.areas, zones.source_id)
        report = LoadReport("zones", tuple(reports))
        if not report.rows_kept:
            raise NothingKept(report, next_step=_KINDS)
    return report


@dataclass(slots=True)
class _Zones:
    """What one file holds."""

    source_id: str
    tally: Tally
    of_zip: dict[str, str]
    areas: list[tuple[str, BaseGeometry]]


def _read(file: Path, source_id: str) -> _Zones:
    tally = Tally()
    if _is_table(file):
        return _Zones(source_id, tally, _read_zips(file, tally), [])
    return _Zones(source_id, tally, {}, _read_areas(file, tally))


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
    run("DELETE FROM source WHERE source_id = ?", (source_id,))


def _changed(draft: Draft, zips: dict[str, str]) -> int:
    before = dict(draft.connection.execute("SELECT zip, zone FROM zone_of_zip").fetchall())
    return sum(before.get(zip_code, zone) != zone for zip_code, zone in zips.items())


def _add_zips(draft: Draft, zips: dict[str, str], source_id: str) -> None:
    draft.connection.executemany(
        "INSERT OR REPLACE INTO zone_of_zip VALUES (?, ?, ?)",
        [(zip_code, zone, source_id) for zip_code, zone in zips.items()],
    )


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
