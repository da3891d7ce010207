"""Watershed polygons with the watershed they drain to, from the national watershed boundary data
set.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import shapely

from data_loaders.build import Draft, drafting
from data_loaders.geography.features import (
    ColumnNames,
    Progress,
    content_sha256,
    existing,
    open_vector,
)
from data_loaders.geography.geometry import polygonal
from data_loaders.geography.hydrography import (
    DOWNSTREAM_WATERSHED_COLUMNS,
    NAME_COLUMNS,
    WATERSHED_COLUMNS,
)
from data_loaders.geography.report import LoadReport, Tally, already_loaded, write_source
from service.errors import BadFile
from service.geography.geodesy import area_m2

_CODE = re.compile(r"(?:\d{2}){1,8}")


@dataclass(frozen=True, slots=True)
class _Watershed:
    code: str
    name: str
    downstream: str
    area: shapely.MultiPolygon


def load_watersheds(target: Path, file: Path, *, progress: Progress | None = None) -> LoadReport:
    """Add watershed polygons (hydrologic units of 2 to 16 digits; ``tohuc`` where the layer has
    it).

    Parts of one unit in several features become one. The same content changes nothing; a file of
    the same name is replaced.

    Raises:
        BadFile: no layer of hydrologic units in it.
        StoreMissing: no store to add to.
    """
    digest = content_sha256(existing(file))
    source_id = f"watersheds/{file.name}"
    held = already_loaded(target, source_id, digest)
    if held is not None:
        return held
    tally = Tally()
    with drafting(target, on_top=True) as draft:
        _remove(draft, source_id)
        taken = {
            str(row[0]) for row in draft.connection.execute("SELECT watershed_id FROM watershed")
        }
        report, added = _load(draft, file, source_id, taken, tally, progress)
        if not added:
            held_already = report.set_apart.get("watershed already held", 0)
            if held_already:
                raise BadFile(
                    file.name,
                    f"each of its {held_already:,} watersheds is held already, from a file of another name.",
                )
            raise BadFile(
                file.name,
                "no watershed found in it.",
                next_step="Expected polygons with a column such as huc12.",
            )
        write_source(
            draft,
            source_id=source_id,
            kind="watersheds",
            title=file.name,
            sha256=digest,
            report=report,
        )
        draft.expect_count("watershed", len(taken) + added)
    return report


def _load(
    draft: Draft,
    file: Path,
    source_id: str,
    taken: set[str],
    tally: Tally,
    progress: Progress | None,
) -> tuple[LoadReport, int]:
    kept = 0
    seen: set[str] = set()
    with open_vector(file) as vector:
        for layer in vector.layers:
            columns = ColumnNames(layer.columns)
            column = columns.any(WATERSHED_COLUMNS)
            if not layer.has_geometry or column is None:
                tally.note(f"layer {layer.name} passed over: no column such as huc12")
                continue
            for feature in vector.features(layer, tally):
                code = columns.text(feature.values, (column,))
                if not _CODE.fullmatch(code):
                    tally.apart("not a hydrologic unit code")
                elif shapely.get_dimensions(feature.geometry) != 2:
                    tally.apart("not a polygon")
                elif code in taken:
                    tally.apart("watershed already held")
                else:
                    kept += 1
                    name = columns.text(feature.values, ("name", *NAME_COLUMNS))
                    downstream = _downstream(columns, feature.values)
                    _add(
                        draft,
                        _Watershed(code, name, downstream, polygonal(feature.geometry)),
                        source_id,
                        new=code not in seen,
                    )
                    seen.add(code)
                if progress and tally.rows_read % 500 == 0:
                    progress(tally.rows_read, layer.rows)
    return tally.report(kept=kept), len(seen)


def _downstream(columns: ColumnNames, values: Mapping[str, object]) -> str:
    text = columns.text(values, DOWNSTREAM_WATERSHED_COLUMNS)
    return text if _CODE.fullmatch(text) else text.upper()


def _add(draft: Draft, unit: _Watershed, source_id: str, *, new: bool) -> None:
    size = area_m2(unit.area)
    if new:
        draft.connection.execute(
            "INSERT INTO watershed VALUES (?, ?, ?, ?, ?, ?)",
            (unit.code, unit.name, len(unit.code), unit.downstream, size, source_id),
        )
    else:
        draft.connection.execute(
            "UPDATE watershed SET area_m2 = area_m2 + ? WHERE watershed_id = ?", (size, unit.code)
        )
    cursor = draft.connection.execute(
        "INSERT INTO watershed_area (watershed_id, geometry) VALUES (?, ?)",
        (unit.code, shapely.to_wkb(unit.area)),
    )
    west, south, east, north = unit.area.bounds
    draft.connection.execute(
        "INSERT INTO watershed_box VALUES (?, ?, ?, ?, ?)",
        (cursor.lastrowid, west, east, south, north),
    )


def _remove(draft: Draft, source_id: str) -> None:
    run = draft.connection.execute
    units = "SELECT watershed_id FROM watershed WHERE source_id = ?"
    areas = f"SELECT area_id FROM watershed_area WHERE watershed_id IN ({units})"
    run(f"DELETE FROM watershed_box WHERE area_id IN ({areas})", (source_id,))
    run(f"DELETE FROM watershed_area WHERE watershed_id IN ({units})", (source_id,))
    run("DELETE FROM watershed WHERE source_id = ?", (source_id,))
