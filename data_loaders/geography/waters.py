"""Waters and the flow between them into the store."""

import os
from collections import Counter
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import shapely
from shapely import LineString, MultiPolygon

from data_loaders.build import drafting
from data_loaders.geography import hydrography as hydro
from data_loaders.geography.features import ColumnNames, content_sha256, existing, open_vector
from data_loaders.geography.flow_tables import TableRow, stated_links
from data_loaders.geography.lines import FlowLink, Line, Position
from data_loaders.geography.mapping import WaterMapping
from data_loaders.geography.noding import SNAP_M, cut_line, cuts_needed, links_across, links_by_ends
from data_loaders.geography.stream_groups import streams_of
from data_loaders.geography.water_rows import (
    WaterRow,
    attribute_rows,
    mapped_id,
    role_of,
    table_rows,
    water_rows,
)
from data_loaders.geography.water_store import Body, WaterTables
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
from service.errors import BadFile
from service.geography.geodesy import area_m2, line_length_m

_PROGRESS_ROWS = 1_000
_LOADED = "identifier already loaded"


def load_waters(
    target: Path,
    files: Sequence[Path],
    *,
    mapping: WaterMapping | None = None,
    progress: Progress | None = None,
    snap_m: float = SNAP_M,
    replace: str = "",
) -> LoadReport:
    """Add waters and flowlines to the store, with the downstream links that tables, attributes or
    end points give.

    Files that belong together (flowlines, water bodies, flow tables) are given together. A file is
    known by its content, so that two of one name add to each other; the same content changes
    nothing.

    Args:
        mapping: how to read columns that are not those of the national hydrography data sets.
        snap_m: how far the end of a line may lie from the beginning of the next, where only end
            points give the links.
        replace: file name or id of an earlier source that is taken out first.

    Returns:
        A report with a file's features as rows (rows of flow tables are in the notes), and the
        totals ``waters`` in the store, ``flowlines`` that came in, pieces of lines that had to be
        cut counted singly, ``links leaving`` to or from a line that is not loaded, and ``links
        by`` flow-table, nodes, sequence, downstream-id, end-points, across.

    Raises:
        BadFile: a file that cannot be read; NothingKept where none holds a water.
        StoreMissing: no store to add to.
    """
    digests = {path: content_sha256(existing(path)) for path in files}
    loaded = loaded_before(target, "waters", digests)
    if loaded is not None:
        return loaded
    with drafting(target, on_top=True) as draft:
        tables = WaterTables(draft)
        if replace:
            tables.remove(replaced_source(draft, "waters", replace))
        source_ids = {path: source_id_of("waters", digests[path]) for path in files}
        for source_id in source_ids.values():
            tables.remove(source_id)
        before = draft.db.table("flowline").count
        load = _Load(tables, mapping, progress)
        reports = [load.read(path, source_ids[path], digests[path]) for path in digests]
        report = LoadReport("waters", tuple(reports))
        if not report.rows_kept:
            raise NothingKept(report, next_step=_next_step(report))
        for file_report in reports:
            write_source(draft, file_report, kind="waters", title=file_report.file)
        links = load.finish(snap_m)
        tables.add_states(list(source_ids.values()))
        own = load.flowline_ids
        draft.expect_count("flowline", before + len(own))
        by_kind = Counter(f"links by {link.how}" for link in links)
        return LoadReport(
            "waters",
            report.files,
            {
                "waters": draft.db.table("water").count,
                "flowlines": len(own),
                "links leaving": sum(
                    link.from_id not in own or link.to_id not in own for link in links
                ),
                **dict(sorted(by_kind.items())),
            },
        )


def _next_step(report: LoadReport) -> str:
    if report.set_apart.get(_LOADED):
        return (
            "The store is as it was. If this is a newer copy of a file loaded before, name that"
            " one: --replace FILE."
        )
    return "Give a file of the national hydrography data sets, or a mapping of its columns."


_BYTES_A_ROW = 3_000
"""Of memory that a line takes while its links are looked for (measured: see deploy/SIZING.md)."""


def _check_memory(file: str, rows: int) -> None:
    """Refuse more than this machine's memory holds, before hours of work.

    Raises:
        BadFile: the lines of one command would not fit.
    """
    free = os.sysconf("SC_AVPHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    with suppress(OSError):  # counts what the system would give back
        text = Path("/proc/meminfo").read_text(encoding="ascii")
        free = int(text.partition("MemAvailable:")[2].split()[0]) * 1_024
    needed = rows * _BYTES_A_ROW
    if needed > free:
        raise BadFile(
            file,
            f"its {rows:,} rows, with those before it, take about {needed / 1e9:.1f} GB of memory;"
            f" {free / 1e9:.1f} GB are free.",
            next_step="The store is as it was. Load it region by region, each with a command of"
            " its own: links from one to the next are kept.",
        )


class _Load:
    """One load under way: bodies and lines gathered, geometry already in the draft."""

    def __init__(
        self, tables: WaterTables, mapping: WaterMapping | None, progress: Progress | None
    ) -> None:
        self._tables = tables
        self._mapping = mapping
        self._progress = progress
        self._ids = tables.held_ids()
        self._bodies: dict[str, Body] = {}
        self._lines: dict[str, Line] = {}
        self._aliases: dict[str, str] = {}
        self._table: list[TableRow] = []
        self._water_of_id: dict[str, str] = {}
        self._rows = 0

    @property
    def flowline_ids(self) -> set[str]:
        return set(self._lines)

    def read(self, path: Path, source_id: str, sha256: str) -> FileReport:
        """Read the layers of one file: waters first, so that tables find their lines."""
        tally, meter = Tally(), Meter(path.name, self._progress)
        reading = self._mapping.reading if self._mapping else None
        with open_vector(path, reading=reading) as vector:
            roles = [(role_of(layer, self._mapping), layer) for layer in vector.layers]
            total = sum(layer.rows for role, layer in roles if role == "waters")
            self._rows += total
            _check_memory(path.name, self._rows)
            for role, layer in roles:
                if role == "waters":
                    for row in water_rows(vector, layer, tally, self._mapping, sha256):
                        tally.keep(self._keep(row, source_id, tally))
                        if tally.rows_read % _PROGRESS_ROWS == 0:
                            meter.rows(tally.rows_read, total)
                elif role == "other":
                    tally.note(
                        f"layer {layer.name} passed over ({layer.rows:,} rows): no columns of"
                        " waters or flow"
                    )
            for role, layer in roles:
                if role == "flow-table":
                    self._table += table_rows(vector, layer, source_id)
                    tally.note(f"table {layer.name}: {layer.rows:,} rows of flow read")
                elif role == "attributes":
                    for line_id, columns, values in attribute_rows(vector, layer):
                        self._attribute(line_id, columns, values)
                    tally.note(f"table {layer.name}: {layer.rows:,} rows of attributes read")
            meter.rows(total, total)
        return tally.report(path.name, source_id, sha256)

    def finish(self, snap_m: float) -> list[FlowLink]:
        """Put bodies, links, lines and streams, once all files are read."""
        self._tables.add_bodies(self._bodies[key] for key in sorted(self._bodies))
        links = stated_links(list(self._lines.values()), self._aliases, self._table)
        links += self._links_by_ends(
            {link.from_id for link in links} | {link.to_id for link in links}, snap_m
        )
        lines = [self._lines[key] for key in sorted(self._lines)]
        for line in lines:
            line.through_id = self._through(line)
        outside = [line for line in lines if not line.through_id]
        links += links_across(
            outside, links, lambda position: self._still_water_at(position, snap_m)
        )
        self._tables.add_lines(lines, streams_of(lines, links), links)
        return links

    def _keep(self, row: WaterRow, source_id: str, tally: Tally) -> bool:
        if any(identifier in self._ids for identifier in row.ids):
            tally.apart(_LOADED)
            return False
        self._ids.update(row.ids)
        if isinstance(row.geometry, MultiPolygon):
            self._keep_area(row, row.geometry, source_id)
        else:
            self._keep_line(row, row.geometry, source_id)
        return True

    def _keep_area(self, row: WaterRow, area: MultiPolygon, source_id: str) -> None:
        water_id = f"gnis:{row.gnis_id}" if row.gnis_id else row.ids[0]
        body = self._bodies.get(water_id)
        if body is None:
            flow, kind = row.feature.flow, row.feature.kind
            body = self._bodies[water_id] = Body(
                water_id, row.name, kind, flow, row.code, source_id
            )
        size = area_m2(area)
        body.area_m2 += size
        if size > body.largest_m2:
            inside = shapely.get_coordinates(shapely.point_on_surface(area))[0]
            body.largest_m2, body.position = size, (float(inside[0]), float(inside[1]))
        self._water_of_id |= dict.fromkeys(row.ids, water_id)
        self._tables.add_part(area, source_id, water_id)

    def _keep_line(self, row: WaterRow, shape: LineString, source_id: str) -> None:
        coordinates = shapely.get_coordinates(shape)
        part_id = self._tables.add_part(shape, source_id, None)
        columns, values = row.columns, row.values
        hint = columns.text(values, hydro.THROUGH_COLUMNS)
        mapping = self._mapping
        line = Line(
            row.ids[0],
            part_id,
            source_id,
            row.feature,
            row.code,
            (float(coordinates[0][0]), float(coordinates[0][1])),
            (float(coordinates[-1][0]), float(coordinates[-1][1])),
            line_length_m(shape),
            name=row.name,
            gnis_id=row.gnis_id,
            directed=columns.text(values, hydro.FLOW_DIRECTION_COLUMNS).casefold()
            not in ("0", "uninitialized"),
            through_hint=hint,
            downstream_id=mapped_id(row, mapping, mapping.downstream_id) if mapping else "",
            from_node=mapped_id(row, mapping, mapping.from_node) if mapping else "",
            to_node=mapped_id(row, mapping, mapping.to_node) if mapping else "",
        )
        self._lines[line.flowline_id] = line
        self._aliases |= dict.fromkeys(row.ids, line.flowline_id)
        if mapping is None:
            self._attribute(line.flowline_id, columns, values)

    def _attribute(self, line_id: str, columns: ColumnNames, values: Mapping[str, object]) -> None:
        """Take what a row says of a line's place in the network; an empty cell leaves what is
        known.
        """
        line = self._lines.get(self._aliases.get(line_id, line_id))
        if line is None:
            return
        order = columns.text(values, hydro.ORDER_COLUMNS)
        line.order = (
            int(float(order))
            if order.lstrip("-").replace(".", "", 1).isdigit() and float(order) > 0
            else line.order
        )
        line.from_node = columns.text(values, hydro.FROM_NODE_COLUMNS) or line.from_node
        line.to_node = columns.text(values, hydro.TO_NODE_COLUMNS) or line.to_node
        line.sequence = columns.text(values, hydro.SEQUENCE_COLUMNS) or line.sequence
        line.down_sequence = columns.text(values, hydro.DOWN_SEQUENCE_COLUMNS) or line.down_sequence
        mainstem = columns.text(values, hydro.MAINSTEM_COLUMNS)
        line.mainstem = mainstem if mainstem not in ("", "0") else line.mainstem
        divergence = columns.text(values, hydro.DIVERGENCE_COLUMNS)
        line.divergence = int(divergence) if divergence in ("0", "1", "2") else line.divergence

    def _links_by_ends(self, spoken: set[str], snap_m: float) -> list[FlowLink]:
        """Links by end points among the lines of those files of which no table or attribute
        speaks.
        """
        stated = {self._lines[key].source_id for key in spoken if key in self._lines}
        silent = {
            key: line for key, line in sorted(self._lines.items()) if line.source_id not in stated
        }
        shapes = {key: self._tables.line(line.part_id) for key, line in silent.items()}
        for key, shares in (cuts_needed(shapes, snap_m) if shapes else {}).items():
            self._cut(self._lines[key], cut_line(shapes[key], shares))
        return links_by_ends(
            [line for _, line in sorted(self._lines.items()) if line.source_id not in stated],
            snap_m,
        )

    def _cut(self, line: Line, pieces: list[LineString]) -> None:
        """Replace a line by its pieces: the first keeps the identifier, the others get a number
        behind it.
        """
        ends = [shapely.get_coordinates(piece)[[0, -1]] for piece in pieces]
        self._tables.redraw_part(line.part_id, pieces[0])
        for number, (piece, (_, end)) in enumerate(zip(pieces[1:], ends[1:], strict=True), start=2):
            piece_id = f"{line.flowline_id}.{number}"
            part_id = self._tables.add_part(piece, line.source_id, None)
            start = shapely.get_coordinates(piece)[0]
            self._lines[piece_id] = replace(
                line,
                flowline_id=piece_id,
                part_id=part_id,
                start=(float(start[0]), float(start[1])),
                end=(float(end[0]), float(end[1])),
                length_m=line_length_m(piece),
            )
        line.end = (float(ends[0][1][0]), float(ends[0][1][1]))
        line.length_m = line_length_m(pieces[0])

    def _through(self, line: Line) -> str | None:
        """The wide water a line runs through: as the data set says, else the one that covers its
        middle.
        """
        data_set = line.flowline_id.split(":")[0]
        stated = self._water_of_id.get(f"{data_set}:{line.through_hint}")
        if stated is not None:
            return stated
        middle = shapely.get_coordinates(
            self._tables.line(line.part_id).interpolate(0.5, normalized=True)
        )[0]
        found = self._tables.wide_water_at((float(middle[0]), float(middle[1])))
        return found[0] if found else None

    def _still_water_at(self, position: Position, within_m: float) -> str | None:
        found = self._tables.wide_water_at(position, within_m)
        return found[0] if found and found[1] else None
