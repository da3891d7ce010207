"""States and counties into the store: those of the package, or a user's own file."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from data_loaders.build import Draft, drafting
from data_loaders.geography.features import (
    ColumnNames,
    VectorFile,
    content_sha256,
    existing,
    open_vector,
)
from data_loaders.geography.geometry import polygonal
from data_loaders.geography.packaged import (
    packaged_boundaries_sha256,
    packaged_counties,
    packaged_polygons,
)
from data_loaders.geography.water_store import WaterTables
from data_loaders.report import (
    FileReport,
    LoadReport,
    NothingKept,
    Tally,
    loaded_before,
    source_id_of,
    write_source,
)
from service.geography.counties import COUNTY_KINDS, STATE_BY_FIPS, County, CountyKind
from service.values.vocabulary import CountyFips

PACKAGED = "boundaries"
_FIPS_COLUMNS = (
    "geoid",
    "geoid20",
    "geoid10",
    "cnty_fips",
    "county_fips",
    "fips",
    "geoidfq",
    "geo_id",
)
_STATE_COLUMNS = ("statefp", "statefp20", "statefp10", "state_fips", "state")
_COUNTY_COLUMNS = ("countyfp", "countyfp20", "countyfp10", "county")
_NAME_COLUMNS = ("name", "name20", "name10", "county_name")
_FULL_NAME_COLUMNS = ("namelsad", "namelsad20", "namelsad10")


@dataclass(frozen=True, slots=True)
class CountyArea:
    """A county with its polygon, WGS84."""

    county: County
    area: MultiPolygon


def add_boundaries(draft: Draft) -> None:
    """Put the packaged states and counties into a draft that holds none."""
    counties, areas = packaged_counties(), packaged_polygons()
    number = len(counties)
    write_source(
        draft,
        FileReport("counties.csv", PACKAGED, packaged_boundaries_sha256(), number, number),
        kind="boundaries",
        title="Counties of the United States, 2010 lines with names and codes of 2017",
        licence="public domain (a work of the US government)",
        citation="US Census Bureau, Geography Division, TIGER/Line and cartographic boundary files",
        url="https://www.census.gov/geographies/mapping-files.html",
    )
    _add(draft, [CountyArea(county, areas[county.fips]) for county in counties], PACKAGED)
    draft.expect_count("county", len(counties))


def load_boundaries(target: Path, files: Sequence[Path]) -> LoadReport:
    """Put the counties of a user's own files in the place of those of the same states.

    A file is any vector file with county polygons and the Census Bureau's columns (``GEOID`` or
    ``STATEFP`` with ``COUNTYFP``; ``NAME``; ``NAMELSAD``). The same content changes nothing.

    Raises:
        BadFile: a file that cannot be read; NothingKept where none holds a county.
        StoreMissing: no store to put them in.
    """
    digests = {file: content_sha256(existing(file)) for file in files}
    loaded = loaded_before(target, "boundaries", digests)
    if loaded is not None:
        return loaded
    read = []
    for file, digest in digests.items():
        tally = Tally()
        with open_vector(file) as vector:
            areas = _read(vector, tally)
        tally.keep(len(areas))
        source_id = source_id_of("boundaries", digest)
        read.append((areas, tally.report(file.name, source_id, digest)))
    report = LoadReport("boundaries", tuple(file_report for _, file_report in read))
    if not report.rows_kept:
        raise NothingKept(
            report, next_step="Give a county file of the Census Bureau, with the column GEOID."
        )
    with drafting(target, on_top=True) as draft:
        for areas, file_report in read:
            _remove_states(draft, {area.county.state for area in areas}, file_report.source_id)
            write_source(draft, file_report, kind="boundaries", title=file_report.file)
            _add(draft, areas, file_report.source_id)
        WaterTables(draft).place_anew()
    return report


def _add(draft: Draft, areas: Iterable[CountyArea], source_id: str) -> None:
    by_state: defaultdict[str, list[CountyArea]] = defaultdict(list)
    for area in areas:
        by_state[area.county.state].append(area)
    connection = draft.connection
    for state, members in sorted(by_state.items()):
        connection.executemany(
            "INSERT INTO county VALUES (?, ?, ?, ?, ?)",
            [
                (item.county.fips, state, item.county.name, item.county.kind, source_id)
                for item in members
            ],
        )
        for item in members:
            _add_boundary(draft, state, item.county.fips, polygonal(item.area))
        _add_boundary(draft, state, None, _outline([item.area for item in members]))


def _outline(areas: list[MultiPolygon]) -> MultiPolygon:
    """The state out of its counties: exact where they share their borders, a plain union where
    they do not.
    """
    clean = shapely.coverage_is_valid(areas)
    return polygonal(
        shapely.coverage_union_all(areas)
        if clean
        else shapely.union_all([polygonal(a) for a in areas])
    )


def _add_boundary(draft: Draft, state: str, fips: CountyFips | None, area: BaseGeometry) -> None:
    cursor = draft.connection.execute(
        "INSERT INTO boundary (state, fips, geometry) VALUES (?, ?, ?)",
        (state, fips, shapely.to_wkb(area)),
    )
    west, south, east, north = area.bounds
    draft.connection.execute(
        "INSERT INTO boundary_box VALUES (?, ?, ?, ?, ?)",
        (cursor.lastrowid, west, east, south, north),
    )


def _remove_states(draft: Draft, states: set[str], source_id: str) -> None:
    connection = draft.connection
    for state in sorted(states):
        connection.execute(
            "DELETE FROM boundary_box WHERE boundary_id IN (SELECT boundary_id FROM boundary"
            " WHERE state = ?)",
            (state,),
        )
        connection.execute("DELETE FROM boundary WHERE state = ?", (state,))
        connection.execute("DELETE FROM county WHERE state = ?", (state,))
    connection.execute("DELETE FROM source WHERE source_id = ?", (source_id,))
    connection.execute(
        "DELETE FROM source WHERE kind = 'boundaries' AND source_id <> ? AND source_id NOT IN"
        " (SELECT source_id FROM county)",
        (PACKAGED,),
    )


def _read(vector: VectorFile, tally: Tally) -> list[CountyArea]:
    found: dict[CountyFips, CountyArea] = {}
    for layer in vector.layers:
        columns = ColumnNames(layer.columns)
        if not layer.has_geometry or not (
            columns.any(_FIPS_COLUMNS) or columns.any(_COUNTY_COLUMNS)
        ):
            tally.note(f"layer {layer.name} passed over: no columns of counties")
            continue
        for feature in vector.features(layer, tally):
            fips = _fips(feature.values, columns)
            if fips is None:
                tally.apart("no five-digit county code")
            elif fips[:2] not in STATE_BY_FIPS:
                tally.apart("outside the states and the District of Columbia")
            elif not isinstance(feature.geometry, Polygon | MultiPolygon):
                tally.apart("not a polygon")
            elif fips in found:
                tally.apart("county given twice")
            else:
                county = _county(fips, feature.values, columns)
                found[fips] = CountyArea(county, polygonal(feature.geometry))
    return list(found.values())


def _fips(values: Mapping[str, object], columns: ColumnNames) -> CountyFips | None:
    state, county = columns.text(values, _STATE_COLUMNS), columns.text(values, _COUNTY_COLUMNS)
    code = columns.text(values, _FIPS_COLUMNS)[-5:]
    if len(state) <= 2 and state.isdigit() and len(county) <= 3 and county.isdigit():
        code = f"{int(state):02d}{int(county):03d}"
    return CountyFips(code) if len(code) == 5 and code.isdigit() else None


def _county(fips: CountyFips, values: Mapping[str, object], columns: ColumnNames) -> County:
    name = columns.text(values, _NAME_COLUMNS) or fips
    full = columns.text(values, _FULL_NAME_COLUMNS)
    ending = full.removeprefix(name).strip()
    kinds: dict[str, CountyKind] = {kind: kind for kind in COUNTY_KINDS}
    known = {county.fips: county.kind for county in packaged_counties()}
    return County(
        fips, STATE_BY_FIPS[fips[:2]], name, kinds.get(ending) or known.get(fips, "County")
    )
