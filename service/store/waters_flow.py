"""The flow network of the store: where a site joins it, and what lies down and up the water from
there.
"""

import sqlite3
from collections.abc import Sequence

import shapely
from shapely.geometry.base import BaseGeometry

from service.geography.geodesy import distance_along_m, nearest_position, search_boxes
from service.geography.trace import (
    MAX_REACHES,
    Branches,
    Direction,
    Flowline,
    Link,
    Start,
    StateStretch,
    Trace,
    trace,
)
from service.store.waters import distance_to_water, read_waters, waters_containing
from service.values.site import Reached
from service.values.vocabulary import Jurisdiction, WaterId

SNAP_WITHIN_M = 250.0
"""How far a site may lie from a flowline and still be taken to drain to it: common practice, no
source.
"""


class StoredNetwork:
    """The flow network of one store, read as it is walked."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection

    def flowline(self, flowline_id: str) -> Flowline | None:
        row = self._connection.execute(
            "SELECT flowline.length_m, water_part.water_id, through_id, water.flow FROM flowline "
            "JOIN water_part ON water_part.part_id = flowline.part_id "
            "LEFT JOIN water ON water.water_id = flowline.through_id WHERE flowline_id = ?",
            (flowline_id,),
        ).fetchone()
        if row is None:
            return None
        stretches = self._connection.execute(
            "SELECT from_m, to_m, state, beside FROM flowline_state WHERE flowline_id = ? ORDER "
            "BY from_m, state",
            (flowline_id,),
        )
        return Flowline(
            flowline_id,
            row["length_m"],
            _id(row["water_id"]),
            _id(row["through_id"]),
            row["flow"] == "still",
            tuple(
                StateStretch(s["from_m"], s["to_m"], Jurisdiction(s["state"]), bool(s["beside"]))
                for s in stretches
            ),
        )

    def downstream(self, flowline_id: str) -> Sequence[Link]:
        return self._links(
            "SELECT to_id AS id, main, gap_m, through_id FROM flow_link WHERE from_id = ? ORDER "
            "BY to_id",
            flowline_id,
        )

    def upstream(self, flowline_id: str) -> Sequence[Link]:
        return self._links(
            "SELECT from_id AS id, main, gap_m, through_id FROM flow_link WHERE to_id = ? ORDER "
            "BY from_id",
            flowline_id,
        )

    def _links(self, query: str, flowline_id: str) -> Sequence[Link]:
        rows = self._connection.execute(query, (flowline_id,))
        return [
            Link(row["id"], bool(row["main"]), row["gap_m"], _id(row["through_id"])) for row in rows
        ]


def flow_starts(
    connection: sqlite3.Connection,
    longitude: float,
    latitude: float,
    *,
    within_m: float = SNAP_WITHIN_M,
) -> tuple[Start, ...]:
    """Where a position joins the flow network: none when no line is near.

    A position in a water that lines run through joins the nearest of these; in a water that lines
    only leave, all of these; else the nearest line within ``within_m``.
    """
    for water in waters_containing(connection, longitude, latitude):
        through = [
            str(row[0])
            for row in connection.execute(
                "SELECT flowline_id FROM flowline WHERE through_id = ?", (water.water_id,)
            )
        ]
        if through:
            return (_nearest(connection, through, longitude, latitude),)
        leaving = connection.execute(
            "SELECT DISTINCT to_id FROM flow_link JOIN flowline ON flowline_id = to_id WHERE "
            "flow_link.through_id = ? ORDER BY to_id",
            (water.water_id,),
        )
        starts = tuple(_at_head(connection, str(row[0]), longitude, latitude) for row in leaving)
        if starts:
            return starts
    near = _lines_within(connection, longitude, latitude, within_m)
    found = _nearest(connection, near, longitude, latitude) if near else None
    return (found,) if found is not None and found.away_m <= within_m else ()


def trace_from(
    connection: sqlite3.Connection,
    longitude: float,
    latitude: float,
    *,
    direction: Direction = "downstream",
    branches: Branches = "all",
    within_m: float = SNAP_WITHIN_M,
    max_m: float = 1_000_000.0,
    max_reaches: int = MAX_REACHES,
) -> Trace:
    """Follow the water from a position.

    Without ``starts`` in the answer, no loaded flowline is near.
    """
    starts = flow_starts(connection, longitude, latitude, within_m=within_m)
    network = StoredNetwork(connection)
    return trace(
        network,
        starts,
        direction=direction,
        branches=branches,
        max_m=max_m,
        max_reaches=max_reaches,
    )


def reached_waters(
    connection: sqlite3.Connection,
    traced: Trace,
    longitude: float,
    latitude: float,
    *,
    named_only: bool = False,
) -> tuple[Reached, ...]:
    """The waters of a trace in relation to the site, in the order in which the water comes to them.

    Distances along include the way from the site overland to where it joins the network.
    """
    waters = read_waters(connection, [passed.water_id for passed in traced.waters])
    joined_m = min((start.away_m for start in traced.starts), default=0.0)
    return tuple(
        Reached(
            waters[passed.water_id],
            traced.direction,
            distance_to_water(connection, passed.water_id, longitude, latitude).distance_m,
            joined_m + passed.along_m,
            passed.lakes_passed,
        )
        for passed in traced.waters
        if passed.water_id in waters and (waters[passed.water_id].name or not named_only)
    )


def _nearest(
    connection: sqlite3.Connection, flowline_ids: Sequence[str], longitude: float, latitude: float
) -> Start:
    lines = {flowline_id: _line(connection, flowline_id) for flowline_id in sorted(flowline_ids)}
    near = {
        flowline_id: nearest_position(line, longitude, latitude)
        for flowline_id, line in lines.items()
    }
    best = min(near, key=lambda flowline_id: (near[flowline_id].distance_m, flowline_id))
    return Start(best, distance_along_m(lines[best], longitude, latitude), near[best].distance_m)


def _at_head(
    connection: sqlite3.Connection, flowline_id: str, longitude: float, latitude: float
) -> Start:
    head = shapely.Point(shapely.get_coordinates(_line(connection, flowline_id))[0])
    return Start(flowline_id, 0.0, nearest_position(head, longitude, latitude).distance_m)


def _lines_within(
    connection: sqlite3.Connection, longitude: float, latitude: float, within_m: float
) -> list[str]:
    found: set[str] = set()
    for box in search_boxes(longitude, latitude, within_m):
        rows = connection.execute(
            "SELECT flowline_id FROM water_box JOIN flowline ON flowline.part_id = "
            "water_box.part_id "
            "WHERE west <= ? AND east >= ? AND south <= ? AND north >= ?",
            (box.east, box.west, box.north, box.south),
        )
        found |= {str(row[0]) for row in rows}
    return sorted(found)


def _line(connection: sqlite3.Connection, flowline_id: str) -> BaseGeometry:
    row = connection.execute(
        "SELECT geometry FROM flowline JOIN water_part ON water_part.part_id = flowline.part_id "
        "WHERE flowline_id = ?",
        (flowline_id,),
    ).fetchone()
    shape: BaseGeometry = shapely.from_wkb(row["geometry"])
    return shape


def _id(text: str | None) -> WaterId | None:
    return WaterId(text) if text is not None else None
