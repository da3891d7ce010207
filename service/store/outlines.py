"""Outlines of states and counties for drawing."""

import sqlite3

import shapely
from shapely.geometry.base import BaseGeometry

from service.geography.geodesy import Box
from service.values.vocabulary import CountyFips, Jurisdiction


def states_in_box(connection: sqlite3.Connection, box: Box) -> dict[Jurisdiction, BaseGeometry]:
    """The part of each state that lies in a box, WGS84, by code."""
    rows = connection.execute(
        "SELECT state, geometry FROM boundary_box JOIN boundary ON boundary.boundary_id = "
        "boundary_box.boundary_id "
        "WHERE west <= ? AND east >= ? AND south <= ? AND north >= ? AND fips IS NULL ORDER BY "
        "state",
        (box.east, box.west, box.north, box.south),
    )
    frame = shapely.box(box.west, box.south, box.east, box.north)
    clipped = {
        Jurisdiction(row["state"]): shapely.intersection(shapely.from_wkb(row["geometry"]), frame)
        for row in rows
    }
    return {state: shape for state, shape in clipped.items() if not shape.is_empty}


def counties_in_box(connection: sqlite3.Connection, box: Box) -> dict[CountyFips, BaseGeometry]:
    """The part of each county that lies in a box, WGS84, by code."""
    rows = connection.execute(
        "SELECT fips, geometry FROM boundary_box "
        "JOIN boundary ON boundary.boundary_id = boundary_box.boundary_id "
        "WHERE west <= ? AND east >= ? AND south <= ? AND north >= ? AND fips IS NOT NULL "
        "ORDER BY fips",
        (box.east, box.west, box.north, box.south),
    )
    frame = shapely.box(box.west, box.south, box.east, box.north)
    clipped = {
        CountyFips(row["fips"]): shapely.intersection(shapely.from_wkb(row["geometry"]), frame)
        for row in rows
    }
    return {fips: shape for fips, shape in clipped.items() if not shape.is_empty}


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
