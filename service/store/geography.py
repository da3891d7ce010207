"""States, counties, hardiness zones and watersheds of the store, and where a position lies among
them.
"""

import sqlite3
from collections.abc import Iterator, Sequence

import shapely
from shapely.geometry.base import BaseGeometry

from service.errors import BadRequest
from service.geography.counties import County
from service.geography.geodesy import Box, nearest_position, search_boxes
from service.geography.hardiness import HALF_ZONES, parse_zone
from service.geography.place import (
    BORDER_TOLERANCE_M,
    Location,
    NearState,
    Watershed,
    is_zip,
    state_of_zip,
)
from service.store.catalogue import read_county
from service.values.plants import Provenance
from service.values.vocabulary import CountyFips, Jurisdiction


def county_at(
    connection: sqlite3.Connection, longitude: float, latitude: float
) -> tuple[County, ...]:
    """The county that covers a position, in FIPS order where a shared border does; none abroad
    and at sea.
    """
    point = shapely.Point(longitude, latitude)
    rows = _boundaries(connection, search_boxes(longitude, latitude, 0.0), outlines=False)
    covering = sorted(
        str(row["fips"]) for row in rows if shapely.covers(shapely.from_wkb(row["geometry"]), point)
    )
    return tuple(_county_of(connection, fips) for fips in covering)


def counties_touching(connection: sqlite3.Connection, area: BaseGeometry) -> tuple[County, ...]:
    """Every county that an area has a part in, in FIPS order.

    An area that only touches a border is on both sides.
    """
    rows = _boundaries(connection, (Box(*area.bounds),), outlines=False)
    touched = sorted(
        str(row["fips"])
        for row in rows
        if shapely.intersects(shapely.from_wkb(row["geometry"]), area)
    )
    return tuple(_county_of(connection, fips) for fips in touched)


def states_near(
    connection: sqlite3.Connection, longitude: float, latitude: float, within_m: float
) -> tuple[NearState, ...]:
    """The states within a distance, nearest first; distance 0 for one that covers the position."""
    boxes = search_boxes(longitude, latitude, within_m)
    reach = shapely.union_all(
        [shapely.box(box.west, box.south, box.east, box.north) for box in boxes]
    )
    shapes = [
        (row["state"], shapely.from_wkb(row["geometry"]))
        for row in _boundaries(connection, boxes, outlines=True)
    ]
    found = [
        NearState(Jurisdiction(state), nearest.distance_m, nearest.longitude, nearest.latitude)
        for state, shape in shapes
        if shapely.intersects(shape, reach)  # measuring is slow, and most have no part so near
        for nearest in [nearest_position(shape, longitude, latitude)]
        if nearest.distance_m <= within_m
    ]
    return tuple(sorted(found, key=lambda near: (near.distance_m, near.state)))


def watershed_at(
    connection: sqlite3.Connection, longitude: float, latitude: float
) -> Watershed | None:
    """The smallest watershed that covers a position."""
    point = shapely.Point(longitude, latitude)
    rows = connection.execute(
        "SELECT watershed.*, geometry FROM watershed_box "
        "JOIN watershed_area ON watershed_area.area_id = watershed_box.area_id "
        "JOIN watershed ON watershed.watershed_id = watershed_area.watershed_id "
        "WHERE west <= ? AND east >= ? AND south <= ? AND north >= ? ORDER BY digits DESC, "
        "watershed.watershed_id",
        (longitude, longitude, latitude, latitude),
    )
    return next(
        (
            _watershed(row)
            for row in rows
            if shapely.covers(shapely.from_wkb(row["geometry"]), point)
        ),
        None,
    )


def zones_at(connection: sqlite3.Connection, longitude: float, latitude: float) -> tuple[str, ...]:
    """The hardiness half zones whose polygons cover a position, coldest first."""
    point = shapely.Point(longitude, latitude)
    rows = connection.execute(
        "SELECT zone, geometry FROM zone_box JOIN zone_area ON zone_area.area_id = "
        "zone_box.area_id "
        "WHERE west <= ? AND east >= ? AND south <= ? AND north >= ?",
        (longitude, longitude, latitude, latitude),
    )
    zones = {
        str(row["zone"]) for row in rows if shapely.covers(shapely.from_wkb(row["geometry"]), point)
    }
    return tuple(sorted(zones, key=HALF_ZONES.index))


def zone_of_zip(connection: sqlite3.Connection, zip_code: str) -> str | None:
    """The hardiness half zone of a ZIP code; not every code is in the public table."""
    row = connection.execute(
        "SELECT zone FROM zone_of_zip WHERE zip = ?", (zip_code.strip()[:5],)
    ).fetchone()
    return str(row["zone"]) if row is not None else None


def locate(
    connection: sqlite3.Connection,
    longitude: float,
    latitude: float,
    *,
    border_tolerance_m: float = BORDER_TOLERANCE_M,
    zone: str | None = None,
    zip_code: str | None = None,
) -> Location:
    """What the store says of a position.

    Args:
        border_tolerance_m: another state this near is a neighbour, and answered for as well.
        zone: hardiness zone that the site states, which goes before any loaded one.
        zip_code: of the site, for its zone where no zone polygon covers the position.

    Raises:
        BadRequest: the position is off the earth, the zone or ZIP code is none.
    """
    _check_position(longitude, latitude)
    notes: list[str] = []
    near = states_near(connection, longitude, latitude, border_tolerance_m)
    counties = county_at(connection, longitude, latitude)
    state = near[0].state if near else None
    if state is None:
        notes.append("The position lies in no state nor the District of Columbia, nor near one.")
    elif near[0].distance_m > 0:
        notes.append(
            f"The position lies {near[0].distance_m:,.0f} m outside the loaded lines of {state}, "
            "the nearest state."
        )
    elif len(counties) > 1:
        notes.append("The position lies on the line between counties: each is given.")
    zones, zone_known = _zones(connection, longitude, latitude, zone, zip_code, notes)
    lines = _boundary_provenance(connection, state)
    watershed = watershed_at(connection, longitude, latitude)
    return Location(
        state,
        lines if state else None,
        counties,
        lines if counties else None,
        tuple(neighbour for neighbour in near if neighbour.state != state),
        zones,
        zone_known,
        watershed,
        Provenance("measured", "loaded watershed polygons") if watershed else None,
        tuple(notes),
    )


def locate_zip(
    connection: sqlite3.Connection, zip_code: str, *, zone: str | None = None
) -> Location:
    """What the store says of a ZIP code: its hardiness zone, and its state by the first three
    digits.

    Raises:
        BadRequest: not a ZIP code.
    """
    _check_zip(zip_code)
    state = state_of_zip(zip_code)
    notes = ["A ZIP code gives no county and no watershed: give a position for these."]
    if state is None:
        notes.append("The first three digits of the ZIP code belong to no state here.")
    else:
        notes.append(
            "The state is that of the first three digits of the ZIP code; a few codes reach over a "
            "state line."
        )
    zones, known = _stated_zone(zone) if zone else _zip_zone(connection, zip_code, notes)
    return Location(
        state,
        Provenance("memory", "ZIP code prefixes of the states") if state else None,
        zones=zones,
        zone_known=known,
        notes=tuple(notes),
    )


def _zones(
    connection: sqlite3.Connection,
    longitude: float,
    latitude: float,
    zone: str | None,
    zip_code: str | None,
    notes: list[str],
) -> tuple[tuple[str, ...], Provenance | None]:
    if zone:
        return _stated_zone(zone)
    covering = zones_at(connection, longitude, latitude)
    if len(covering) > 1:
        notes.append(f"Zone polygons differ here: {', '.join(covering)}; the whole range is taken.")
    if covering:
        return covering, Provenance("measured", "loaded hardiness zone polygons")
    if zip_code:
        _check_zip(zip_code)
        return _zip_zone(connection, zip_code, notes)
    notes.append("No hardiness zone is loaded for this position: state one, or a ZIP code.")
    return (), None


def _stated_zone(zone: str) -> tuple[tuple[str, ...], Provenance]:
    plain = parse_zone(zone)
    halves = (plain,) if plain[-1] in "ab" else (f"{plain}a", f"{plain}b")
    return halves, Provenance("user", "stated for the site")


def _zip_zone(
    connection: sqlite3.Connection, zip_code: str, notes: list[str]
) -> tuple[tuple[str, ...], Provenance | None]:
    found = zone_of_zip(connection, zip_code)
    if found is None:
        notes.append(
            f"ZIP code {zip_code.strip()} is in no loaded zone table: state the hardiness zone."
        )
        return (), None
    return (found,), Provenance("published", "hardiness zone by ZIP code, loaded table")


def _boundary_provenance(connection: sqlite3.Connection, state: Jurisdiction | None) -> Provenance:
    row = connection.execute(
        "SELECT title FROM county JOIN source USING (source_id) WHERE state = ? ORDER BY fips "
        "LIMIT 1",
        (state or "",),
    ).fetchone()
    return Provenance("measured", row["title"] if row else "")


def _check_position(longitude: float, latitude: float) -> None:
    if not (-180 <= longitude <= 180 and -90 <= latitude <= 90):
        swapped = -90 <= longitude <= 90 and -180 <= latitude <= 180
        hint = (
            "Longitude comes first; they may be swapped."
            if swapped
            else "Longitude runs from -180 to 180, latitude from -90 to 90."
        )
        raise BadRequest(
            f"Position {longitude:g}, {latitude:g} is not on the earth.", next_step=hint
        )


def _check_zip(zip_code: str) -> None:
    if not is_zip(zip_code):
        raise BadRequest(
            f"ZIP code {zip_code!r} is none.", next_step="Use five digits, such as 43604."
        )


def _watershed(row: sqlite3.Row) -> Watershed:
    return Watershed(row["watershed_id"], row["name"], row["downstream"], row["area_m2"])


def _boundaries(
    connection: sqlite3.Connection, boxes: Sequence[Box], *, outlines: bool
) -> list[sqlite3.Row]:
    found: dict[int, sqlite3.Row] = {}
    for box in boxes:
        rows = connection.execute(
            "SELECT boundary.boundary_id, state, fips, geometry FROM boundary_box "
            "JOIN boundary ON boundary.boundary_id = boundary_box.boundary_id "
            "WHERE west <= ? AND east >= ? AND south <= ? AND north >= ? AND (fips IS NULL) = ?",
            (box.east, box.west, box.north, box.south, outlines),
        )
        found |= {row["boundary_id"]: row for row in rows}
    return list(found.values())


def _county_of(connection: sqlite3.Connection, fips: str) -> County:
    return read_county(
        connection.execute(
            "SELECT fips, state, name, kind FROM county WHERE fips = ?", (fips,)
        ).fetchone()
    )


def states_in_box(connection: sqlite3.Connection, box: Box) -> dict[Jurisdiction, BaseGeometry]:
    """The part of each state that lies in a box, WGS84, by code."""
    rows = _in_box(connection, box, "SELECT state, geometry", "fips IS NULL ORDER BY state")
    return {Jurisdiction(state): shape for state, shape in rows}


def counties_in_box(connection: sqlite3.Connection, box: Box) -> dict[CountyFips, BaseGeometry]:
    """The part of each county that lies in a box, WGS84, by code."""
    rows = _in_box(connection, box, "SELECT fips, geometry", "fips IS NOT NULL ORDER BY fips")
    return {CountyFips(fips): shape for fips, shape in rows}


def _in_box(
    connection: sqlite3.Connection, box: Box, select: str, which: str
) -> Iterator[tuple[str, BaseGeometry]]:
    """Boundaries that reach into a box, cut to it."""
    rows = connection.execute(
        f"{select} FROM boundary_box "
        "JOIN boundary ON boundary.boundary_id = boundary_box.boundary_id "
        f"WHERE west <= ? AND east >= ? AND south <= ? AND north >= ? AND {which}",
        (box.east, box.west, box.north, box.south),
    )
    frame = shapely.box(box.west, box.south, box.east, box.north)
    for code, geometry in rows:
        shape = shapely.intersection(shapely.from_wkb(geometry), frame)
        if not shape.is_empty:
            yield code, shape


def water_shapes_in_box(
    connection: sqlite3.Connection, box: Box, limit: int
) -> tuple[tuple[str, BaseGeometry], ...]:
    """Parts of waters that reach into a box, each with the name of its water; areas first, no
    more than ``limit``.
    """
    rows = connection.execute(
        "SELECT name, geometry FROM water_box JOIN water_part ON water_part.part_id = "
        "water_box.part_id "
        "JOIN water ON water.water_id = water_part.water_id "
        "WHERE west <= ? AND east >= ? AND south <= ? AND north >= ? ORDER BY is_area DESC, "
        "water_part.part_id LIMIT ?",
        (box.east, box.west, box.north, box.south, limit),
    )
    return tuple((str(row["name"]), shapely.from_wkb(row["geometry"])) for row in rows)
