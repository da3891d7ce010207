"""States, counties, hardiness zones and watersheds of the store, and where a position lies among them."""

import sqlite3
from collections.abc import Sequence

import shapely
from shapely.geometry.base import BaseGeometry

from service.geography.counties import COUNTY_KINDS, County, CountyKind, CountyTable
from service.geography.geodesy import Box, nearest_position, search_boxes
from service.geography.place import NearState
from service.vocabulary import CountyFips, Jurisdiction

_KINDS: dict[str, CountyKind] = {kind: kind for kind in COUNTY_KINDS}
_LADDER_M = (0.0, 2_000.0, 50_000.0, 500_000.0, 20_100_000.0)
"""Search distances tried in turn; the last reaches the antipode."""


def read_counties(connection: sqlite3.Connection) -> CountyTable:
    """Every county of the store."""
    return CountyTable(_county(row) for row in connection.execute("SELECT fips, state, name, kind FROM county"))


def county_at(connection: sqlite3.Connection, longitude: float, latitude: float) -> tuple[County, ...]:
    """The county that covers a position, in FIPS order where a shared border does; none abroad and at sea."""
    point = shapely.Point(longitude, latitude)
    rows = _boundaries(connection, search_boxes(longitude, latitude, 0.0), outlines=False)
    covering = sorted(str(row["fips"]) for row in rows if shapely.covers(shapely.from_wkb(row["geometry"]), point))
    return tuple(_county_of(connection, fips) for fips in covering)


def counties_touching(connection: sqlite3.Connection, area: BaseGeometry) -> tuple[County, ...]:
    """Every county that an area has a part in, in FIPS order. An area that only touches a border is on both sides."""
    rows = _boundaries(connection, (Box(*area.bounds),), outlines=False)
    touched = sorted(str(row["fips"]) for row in rows if shapely.intersects(shapely.from_wkb(row["geometry"]), area))
    return tuple(_county_of(connection, fips) for fips in touched)


def states_near(connection: sqlite3.Connection, longitude: float, latitude: float, within_m: float) -> tuple[NearState, ...]:
    """The states within a distance, nearest first; distance 0 for one that covers the position."""
    rows = _boundaries(connection, search_boxes(longitude, latitude, within_m), outlines=True)
    found = [
        NearState(Jurisdiction(row["state"]), nearest.distance_m, nearest.longitude, nearest.latitude)
        for row in rows
        for nearest in [nearest_position(shapely.from_wkb(row["geometry"]), longitude, latitude)]
        if nearest.distance_m <= within_m
    ]
    return tuple(sorted(found, key=lambda near: (near.distance_m, near.state)))


def nearest_other_state(connection: sqlite3.Connection, longitude: float, latitude: float, than: Jurisdiction) -> NearState | None:
    """The nearest state other than ``than``, however far; None in a store with no other."""
    for within_m in _LADDER_M:
        others = [near for near in states_near(connection, longitude, latitude, within_m) if near.state != than]
        if others:
            return others[0]
    return None


def _boundaries(connection: sqlite3.Connection, boxes: Sequence[Box], *, outlines: bool) -> list[sqlite3.Row]:
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
    return _county(connection.execute("SELECT fips, state, name, kind FROM county WHERE fips = ?", (fips,)).fetchone())


def _county(row: sqlite3.Row) -> County:
    return County(CountyFips(row["fips"]), Jurisdiction(row["state"]), row["name"], _KINDS[row["kind"]])
