"""Waters and flowlines into the tables of a draft, and out again when a file is loaded anew."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import shapely
from shapely import LineString, MultiPolygon
from shapely.geometry.base import BaseGeometry

from data_loaders.build import Draft
from data_loaders.geography.hydrography import kind_by_size
from data_loaders.geography.line_states import StateMap
from data_loaders.geography.lines import FlowLink, Line, Position
from data_loaders.geography.stream_groups import Stream
from service.geography.geodesy import area_m2, position_along
from service.values.vocabulary import Flow, WaterKind


@dataclass(slots=True)
class Body:
    """A water while its parts come in.

    ``kind`` is None for a lake or pond, until its whole area is known.
    """

    water_id: str
    name: str
    kind: WaterKind | None
    flow: Flow
    code: str
    source_id: str
    position: Position = (0.0, 0.0)
    largest_m2: float = -1.0
    area_m2: float = 0.0


class WaterTables:
    """Writes to the water tables of a draft."""

    def __init__(self, draft: Draft) -> None:
        self._connection = draft.connection
        self._states = StateMap(draft)
        self._polygon = lru_cache(maxsize=2_000)(self._read_polygon)

    def remove(self, source_id: str) -> None:
        """Take out everything that one file brought; waters that other files share keep what
        those brought.
        """
        run = self._connection.execute
        touched = (
            "SELECT DISTINCT water_id FROM water_part WHERE source_id = ? AND water_id IS NOT NULL"
        )
        shared = [str(row[0]) for row in run(touched, (source_id,))]
        of_source = "SELECT part_id FROM water_part WHERE source_id = ?"
        lines = f"SELECT flowline_id FROM flowline WHERE part_id IN ({of_source})"
        run("DELETE FROM flow_link WHERE source_id = ?", (source_id,))
        run(f"DELETE FROM flowline_state WHERE flowline_id IN ({lines})", (source_id,))
        run(f"DELETE FROM flowline WHERE part_id IN ({of_source})", (source_id,))
        run(f"DELETE FROM water_box WHERE part_id IN ({of_source})", (source_id,))
        run("DELETE FROM water_part WHERE source_id = ?", (source_id,))
        gone = "SELECT water_id FROM water EXCEPT SELECT water_id FROM water_part"
        run(f"UPDATE flowline SET through_id = NULL WHERE through_id IN ({gone})")
        run(f"UPDATE flow_link SET through_id = NULL WHERE through_id IN ({gone})")
        run(f"DELETE FROM water_state WHERE water_id IN ({gone})")
        run(
            "DELETE FROM water WHERE water_id NOT IN (SELECT water_id FROM water_part WHERE"
            " water_id IS NOT NULL)"
        )
        run(
            "UPDATE water SET source_id = (SELECT min(source_id) FROM water_part WHERE"
            " water_part.water_id = water.water_id) "
            "WHERE source_id = ?",
            (source_id,),
        )
        run("DELETE FROM source WHERE source_id = ?", (source_id,))
        for water_id in shared:
            self._measure(water_id)

    def held_ids(self) -> set[str]:
        """Identifiers of the flowlines and single-part waters in the draft."""
        rows = self._connection.execute(
            "SELECT flowline_id FROM flowline UNION SELECT water_id FROM water"
        )
        return {str(row[0]) for row in rows}

    def add_part(self, geometry: BaseGeometry, source_id: str, water_id: str | None) -> int:
        is_area = isinstance(geometry, MultiPolygon)
        cursor = self._connection.execute(
            "INSERT INTO water_part (water_id, is_area, geometry, source_id) VALUES (?, ?, ?, ?)",
            (water_id, is_area, shapely.to_wkb(geometry), source_id),
        )
        part_id = int(cursor.lastrowid or 0)
        self._box(part_id, geometry)
        return part_id

    def redraw_part(self, part_id: int, geometry: LineString) -> None:
        self._connection.execute(
            "UPDATE water_part SET geometry = ? WHERE part_id = ?",
            (shapely.to_wkb(geometry), part_id),
        )
        self._connection.execute("DELETE FROM water_box WHERE part_id = ?", (part_id,))
        self._box(part_id, geometry)

    def line(self, part_id: int) -> LineString:
        row = self._connection.execute(
            "SELECT geometry FROM water_part WHERE part_id = ?", (part_id,)
        ).fetchone()
        shape: LineString = shapely.from_wkb(row[0])
        return shape

    def add_bodies(self, bodies: Iterable[Body]) -> None:
        """Put the waters that have areas; one already there from another file gains area and
        keeps its words.
        """
        for body in bodies:
            stored = self._connection.execute(
                "SELECT area_m2 FROM water WHERE water_id = ?", (body.water_id,)
            ).fetchone()
            if stored is None:
                kind = body.kind or kind_by_size(body.area_m2)
                self._connection.execute(
                    "INSERT INTO water VALUES (?, ?, ?, ?, ?, ?, ?, ?, NULL, ?)",
                    (
                        body.water_id,
                        body.name,
                        kind,
                        body.flow,
                        body.code,
                        *body.position,
                        body.area_m2,
                        body.source_id,
                    ),
                )
            else:
                self._connection.execute(
                    "UPDATE water SET area_m2 = ? WHERE water_id = ?",
                    ((stored[0] or 0.0) + body.area_m2, body.water_id),
                )

    def add_lines(
        self, lines: Sequence[Line], streams: Iterable[Stream], links: Iterable[FlowLink]
    ) -> None:
        """Put flowlines, the streams they make, and their links."""
        insert = self._connection.executemany
        insert(
            "INSERT INTO flowline VALUES (?, ?, ?, ?)",
            [(line.flowline_id, line.part_id, line.length_m, line.through_id) for line in lines],
        )
        for stream in streams:
            self._add_stream(stream)
        insert(
            "INSERT OR IGNORE INTO flow_link VALUES (?, ?, ?, ?, ?, ?, ?)",
            [
                (k.from_id, k.to_id, k.main, k.gap_m, k.through_id, k.how, k.source_id)
                for k in links
            ],
        )
        for line in lines:
            self._add_stretches(line.flowline_id, self.line(line.part_id), line.length_m)

    def place_anew(self) -> None:
        """Find the states of every water and flowline again, after the boundaries have changed."""
        run = self._connection.execute
        run("DELETE FROM water_state")
        run("DELETE FROM flowline_state")
        self.add_states(
            [
                str(row[0])
                for row in run("SELECT DISTINCT source_id FROM water_part ORDER BY source_id")
            ]
        )
        rows = run(
            "SELECT flowline_id, geometry, length_m FROM flowline JOIN water_part USING (part_id)"
        ).fetchall()
        for flowline_id, geometry, length_m in rows:
            self._add_stretches(flowline_id, shapely.from_wkb(geometry), length_m)

    def _add_stretches(self, flowline_id: str, line: LineString, length_m: float) -> None:
        self._connection.executemany(
            "INSERT OR IGNORE INTO flowline_state VALUES (?, ?, ?, ?, ?)",
            [
                (flowline_id, stretch.from_m, stretch.state, stretch.to_m, stretch.beside)
                for stretch in self._states.along(line, length_m)
            ],
        )

    def add_states(self, source_ids: Sequence[str]) -> None:
        """Put the states of every water that the files have a part of."""
        for source_id in source_ids:
            rows = self._connection.execute(
                "SELECT water_id, geometry FROM water_part WHERE source_id = ? AND water_id IS"
                " NOT NULL",
                (source_id,),
            ).fetchall()
            self._connection.executemany(
                "INSERT OR IGNORE INTO water_state VALUES (?, ?)",
                [
                    (row[0], state)
                    for row in rows
                    for state in self._states.touching(shapely.from_wkb(row[1]))
                ],
            )

    def wide_water_at(self, position: Position, within_m: float = 0.0) -> tuple[str, bool] | None:
        """The smallest water with an area that covers a position, or comes within a few metres,
        and whether it is still.
        """
        longitude, latitude = position
        reach = within_m / 110_500.0
        rows = self._connection.execute(
            "SELECT water_box.part_id, water_part.water_id, water.flow, water.area_m2 FROM"
            " water_box "
            "JOIN water_part ON water_part.part_id = water_box.part_id JOIN water ON"
            " water.water_id = water_part.water_id "
            "WHERE west <= ? AND east >= ? AND south <= ? AND north >= ? AND is_area ORDER BY"
            " water.area_m2, water.water_id",
            (longitude + reach, longitude - reach, latitude + reach, latitude - reach),
        ).fetchall()
        point = shapely.Point(longitude, latitude)
        for part_id, water_id, flow, _ in rows:
            if self._polygon(part_id).dwithin(point, reach):
                return str(water_id), flow == "still"
        return None

    def _add_stream(self, stream: Stream) -> None:
        length_m = sum(line.length_m for line in stream.lines)
        longest = max(stream.lines, key=lambda line: (line.length_m, line.flowline_id))
        stored = self._connection.execute(
            "SELECT length_m FROM water WHERE water_id = ?", (stream.water_id,)
        ).fetchone()
        if stored is None:
            position = position_along(self.line(longest.part_id), longest.length_m / 2)
            self._connection.execute(
                "INSERT INTO water VALUES (?, ?, ?, ?, ?, ?, ?, NULL, ?, ?)",
                (
                    stream.water_id,
                    stream.name,
                    stream.kind,
                    stream.flow,
                    stream.code,
                    *position,
                    length_m,
                    longest.source_id,
                ),
            )
        else:
            self._connection.execute(
                "UPDATE water SET length_m = ? WHERE water_id = ?",
                ((stored[0] or 0.0) + length_m, stream.water_id),
            )
        self._connection.executemany(
            "UPDATE water_part SET water_id = ? WHERE part_id = ?",
            [(stream.water_id, line.part_id) for line in stream.lines],
        )

    def _measure(self, water_id: str) -> None:
        """Area and length anew from the parts that are left."""
        parts = self._connection.execute(
            "SELECT geometry FROM water_part WHERE water_id = ? AND is_area", (water_id,)
        ).fetchall()
        length = self._connection.execute(
            "SELECT sum(length_m) FROM flowline JOIN water_part USING (part_id) WHERE water_id = ?",
            (water_id,),
        ).fetchone()[0]
        area = sum(area_m2(shapely.from_wkb(row[0])) for row in parts) if parts else None
        self._connection.execute(
            "UPDATE water SET area_m2 = ?, length_m = ? WHERE water_id = ?",
            (area, length, water_id),
        )

    def _box(self, part_id: int, geometry: BaseGeometry) -> None:
        west, south, east, north = geometry.bounds
        self._connection.execute(
            "INSERT INTO water_box VALUES (?, ?, ?, ?, ?)", (part_id, west, east, south, north)
        )

    def _read_polygon(self, part_id: int) -> BaseGeometry:
        row = self._connection.execute(
            "SELECT geometry FROM water_part WHERE part_id = ?", (part_id,)
        ).fetchone()
        shape: BaseGeometry = shapely.from_wkb(row[0])
        shapely.prepare(shape)
        return shape
