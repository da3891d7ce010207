"""Watershed polygons with the watershed they drain to, from the national watershed boundary data
set.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import shapely

from data_loaders.build import Draft, drafting
from data_loaders.geography.features import ColumnNames, content_sha256, existing, open_vector
from data_loaders.geography.geometry import polygonal
from data_loaders.geography.hydrography import (
    DOWNSTREAM_WATERSHED_COLUMNS,
    WATERSHED_COLUMNS,
    WATERSHED_NAME_COLUMNS,
)
from data_loaders.progress import Meter, Progress
from data_loaders.report import (
    FileReport,
    LoadReport,
    NothingKept,
    Tally,
    loaded_before,
    replaced_source,
    source_id_of,
    write_source,
)
from service.geography.geodesy import area_m2

_LOADED = "watershed already loaded"
_PROGRESS_ROWS = 500
_CODE = re.compile(r"(?:\d{2}){1,8}")


@dataclass(frozen=True, slots=True)
class _Watershed:
    code: str
    name: str
    downstream: str
    area: shapely.MultiPolygon


def load_watersheds(
    target: Path,
    files: Sequence[Path],
    *,
    progress: Progress | None = None,
    replace: str = "",
) -> LoadReport:
    """Add watershed polygons (hydrologic units of 2 to 16 digits; ``tohuc`` where the layer has
    it).

    Parts of one unit in several features become one. A file is known by its content: that of
    another region adds, whatever it is called; the same content changes nothing.

    Args:
        replace: file name or id of an earlier source that is taken out first.

    Raises:
        BadFile: a file that cannot be read; NothingKept where none holds a new unit.
        StoreMissing: no store to add to.
    """
    digests = {path: content_sha256(existing(path)) for path in files}
    loaded = loaded_before(target, "watersheds", digests)
    if loaded is not None:
        return loaded
    with drafting(target, on_top=True) as draft:
        if replace:
            _remove(draft, replaced_source(draft, "watersheds", replace))
        taken = {
            str(row[0]) for row in draft.connection.execute("SELECT watershed_id FROM watershed")
        }
        before = len(taken)
        reports = [_load(draft, path, digests[path], taken, progress) for path in digests]
        report = LoadReport("watersheds", tuple(reports), {"watersheds": len(taken)})
        if not report.rows_kept:
            raise NothingKept(report, next_step=_next_step(report))
        for file_report in reports:
            write_source(draft, file_report, kind="watersheds", title=file_report.file)
        added = len(taken) - before
        draft.expect_count("watershed", before + added)
    return report


def _next_step(report: LoadReport) -> str:
    if report.set_apart.get(_LOADED):
        return (
            "The store is as it was. If this is a newer copy of a file loaded before, name that"
            " one: --replace FILE."
        )
    return "Expected polygons with a column such as huc12."


def _load(
    draft: Draft, file: Path, sha256: str, taken: set[str], progress: Progress | None
) -> FileReport:
    """Read one file; the codes that it brings go into ``taken``."""
    tally, meter = Tally(), Meter(file.name, progress)
    source_id = source_id_of("watersheds", sha256)
    _remove(draft, source_id)
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
                    tally.apart(_LOADED)
                else:
                    tally.keep()
                    name = columns.text(feature.values, WATERSHED_NAME_COLUMNS)
                    downstream = _downstream(columns, feature.values)
                    _add(
                        draft,
                        _Watershed(code, name, downstream, polygonal(feature.geometry)),
                        source_id,
                        new=code not in seen,
                    )
                    seen.add(code)
                if tally.rows_read % _PROGRESS_ROWS == 0:
                    meter.rows(tally.rows_read, layer.rows)
    taken |= seen
    return tally.report(file.name, source_id, sha256)


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
    run("DELETE FROM source WHERE source_id = ?", (source_id,))
