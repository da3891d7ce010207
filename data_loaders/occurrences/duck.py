"""Judging on DuckDB, the default engine: in bounded memory, on this machine."""

import errno
import os
import shutil
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import duckdb
import numpy as np

from data_loaders.archives import LIMITS
from data_loaders.build import disk_error
from data_loaders.delimited import Dialect
from data_loaders.occurrences import rules
from data_loaders.occurrences.distinct import TABLE_OF, Columns, Distinct, shifted
from data_loaders.occurrences.judged import JudgedPart
from data_loaders.occurrences.names import ExactMatcher
from data_loaders.occurrences.places import Tiles
from data_loaders.occurrences.plain import PlainPart, plain_part
from data_loaders.occurrences.report import QualityRules
from data_loaders.occurrences.tables import CoreTable, RecordTable, parquet_columns
from data_loaders.occurrences.terms import TERM_INDEX
from data_loaders.progress import Meter, Stage
from service.errors import BadFile

MEMORY_LIMIT = "500MB"
"""Of what DuckDB holds; what is more goes to the disk. The process as a whole takes as much
more.
"""
MAX_THREADS = 4
SPACES = (32, 9, 13, 10)
_BATCH_ROWS = 100_000
_POLL_SECONDS = 0.2
_NEVER = "\ufdd0"  # a code point that no text may hold: no cell is read as null


class DuckEngine:
    """Judges one table at a time, or Parquet parts of about ``batch_bytes`` together.

    Args:
        workspace: folder for temporary files, on a disk with room for an unpacked table.
    """

    batch_bytes = 64 << 20

    def __init__(
        self, matcher: ExactMatcher, quality: QualityRules, tiles: Tiles, workspace: Path
    ) -> None:
        self._matcher = matcher
        self._quality = quality
        self._tiles = tiles
        self._workspace = workspace

    def judge(self, table: RecordTable, target: Path, meter: Meter) -> JudgedPart:
        """Judge a table; the rows that are kept go into a Parquet file at ``target``.

        Raises:
            BadFile: the table is damaged, or not written as it says.
            OSError: the disk is full.
        """
        try:
            with scratch(self._workspace / "scratch") as folder, duckdb.connect() as database:
                configure(database, folder)
                work = _Work(database, table, meter, folder)
                work.stage()
                work.judge(self._matcher, self._quality, self._tiles)
                return work.result(target)
        except duckdb.Error as error:
            raise unworkable(table.path.name, error) from error


def unworkable(file: str, error: duckdb.Error) -> BadFile | OSError:
    """What to say when DuckDB gives up midway."""
    return _full_disk(error) or BadFile(
        file,
        f"it could not be worked through ({str(error).strip().splitlines()[0]}).",
        next_step="Fetch the file again.",
    )


class _Work:
    """One table inside DuckDB, step by step."""

    def __init__(
        self, database: duckdb.DuckDBPyConnection, table: RecordTable, meter: Meter, folder: Path
    ) -> None:
        self._database = database
        self._table = table
        self._meter = meter
        self._folder = folder
        self._staged: list[Path] = []
        self._rows = 0

    def stage(self) -> None:
        """Stage the rows of every part: as Parquet, since cells that many rows share are small
        there, and a table in memory would have to be put to the disk and read back.
        """
        if self._table.kind == "parquet":
            self._stage_parquet()
        else:
            if self._table.core:
                self._fill_core(self._table.core)
            members = self._table.members or ("",)
            for place, member in enumerate(members):
                span = place / len(members), (place + 1) / len(members)
                self._stage_part(member, *span)
        self._database.execute(f"CREATE VIEW staged AS SELECT * FROM {read_files(self._staged)}")

    def judge(self, matcher: ExactMatcher, quality: QualityRules, tiles: Tiles) -> None:
        """Judge the distinct combinations, then every row."""
        table = self._table
        of_core = table.core.columns if table.core else {}
        distinct = Distinct(
            matcher,
            frozenset(table.columns) | frozenset(of_core),
            table.defaults,
            table.fallback_dataset,
            table.path.name,
        )
        for group, name in TABLE_OF.items():
            create(self._database, name, rules.JUDGED_ON[name])
            for batch in self._distinct(group):
                append(self._database, name, distinct.judged(group, batch))
        create(self._database, "shifted", rules.JUDGED_ON["shifted"])
        cursor = self._database.cursor().execute(rules.OLD_DATUMS)
        while places := cursor.fetchmany(_BATCH_ROWS):
            append(self._database, "shifted", shifted(places))
        put_tiles(self._database, tiles)
        judged = self._folder / "judged.parquet"
        self._copy("sorting", rules.judge(quality, tiles.most), judged, 0)
        for staged in self._staged:
            staged.unlink()
        self._database.execute(f"CREATE VIEW judged AS SELECT * FROM {read_files([judged])}")

    def result(self, target: Path) -> JudgedPart:
        """Write what is kept, and count the rest."""
        ask = self._database.execute
        part = JudgedPart.of_rows(
            ask(rules.COUNTS).fetchall(),
            ask(rules.EXAMPLES).fetchall(),
            ask(rules.OTHERS).fetchall(),
        )
        if part.rows_kept * 2 >= part.rows_read:
            (self._folder / "judged.parquet").replace(target)  # to pick them out costs more
        else:
            self._copy("sorting", rules.KEPT, target, 0)
        return part

    def _stage_parquet(self) -> None:
        source = read_files([self._table.path, *self._table.more])
        rows = count(self._database, f"SELECT count(*) FROM {source}")
        query = rules.stage(
            parquet_columns(self._table), source, self._table.defaults, white_space=SPACES
        )
        self._stage_rows(query, rows)

    def _stage_part(self, member: str, begin: float, end: float) -> None:
        table = self._table
        self._meter.stage("checking", 0, begin)
        part = plain_part(table, member, self._folder)
        source, raw = self._source(part)
        spaces = SPACES if part.dialect.quote or table.core else (32,)
        query = rules.stage(raw, source, table.defaults, white_space=spaces)
        before = self._rows
        try:
            self._stage_rows(query, part.rows or 0, begin, end)
        except duckdb.Error as error:
            raise _full_disk(error) or rules.bad_file(part.name, error) from error
        _check_rows(part, self._rows - before)
        if part.path.parent == self._folder:
            part.path.unlink()

    def _source(self, part: PlainPart) -> tuple[str, dict[str, str]]:
        """What to read a part from, and the cell of each term."""
        table = self._table
        assert table.width is not None
        source = read_csv(part, table.width)
        raw = {term: f"c{place}" for term, place in table.columns.items() if term in TERM_INDEX}
        if table.core is None:
            return source, raw
        raw, source = rules.with_core(raw, source, list(table.core.columns), table.core_key)
        return source, raw

    def _fill_core(self, core: CoreTable) -> None:
        """Read the core by its ids; events take empty cells from the event above them."""
        terms = list(core.columns)
        for place, member in enumerate(core.members):
            part = plain_part(core, member, self._folder)
            rows = rules.core_rows(
                read_csv(part, core.width or 0),
                core.columns,
                core.defaults,
                id_column=core.id_column,
                parent=core.parent,
            )
            begin = "INSERT INTO every_core" if place else "CREATE TABLE every_core AS"
            self._database.execute(f"{begin} {rows}")
            if part.path.parent == self._folder:
                part.path.unlink()
        once = rules.core_once("every_core", terms)
        self._database.execute(f"CREATE TABLE core AS {once}; DROP TABLE every_core")
        for _ in range(rules.CORE_LEVELS if core.parent is not None and terms else 0):
            filled = rules.core_filled("core", terms)
            self._database.execute(
                f"CREATE TABLE filled AS {filled}; DROP TABLE core;"
                " ALTER TABLE filled RENAME TO core"
            )

    def _distinct(self, group: str) -> Iterator[list[str]]:
        cursor = self._database.cursor().execute(
            f"SELECT DISTINCT {group} FROM staged ORDER BY {group}"
        )
        while batch := cursor.fetchmany(_BATCH_ROWS):
            yield [joined for (joined,) in batch]

    def _stage_rows(self, query: str, rows: int, begin: float = 0.0, end: float = 1.0) -> None:
        staged = self._folder / f"staged-{len(self._staged)}.parquet"
        self._copy("reading", query, staged, rows, begin, end)
        self._staged.append(staged)
        self._rows += count(self._database, f"SELECT count(*) FROM {read_files([staged])}")

    def _copy(
        self,
        stage: Stage,
        query: str,
        target: Path,
        rows: int,
        begin: float = 0.0,
        end: float = 1.0,
    ) -> None:
        before = self._rows

        def tell(share: float) -> None:
            self._meter.stage(stage, before + int(rows * share), begin + (end - begin) * share)

        to = f"{rules.literal(str(target))} (FORMAT parquet, COMPRESSION snappy)"
        run_long(self._database, f"COPY ({query}) TO {to}", tell)


_SPILLED_TOO_MUCH = "max_temp_directory_size"  # by default most of what is free of the disk


def _full_disk(error: duckdb.Error) -> OSError | None:
    said = os.strerror(errno.ENOSPC) if _SPILLED_TOO_MUCH in str(error) else str(error)
    return disk_error(said)


def _check_rows(part: PlainPart, staged: int) -> None:
    """Without quoting every line that is not empty is a row."""
    if part.rows is not None and staged != part.rows:
        raise BadFile(
            part.name,
            f"{staged:,} rows could be read of its {part.rows:,} lines.",
            next_step="Unpack it anew.",
        )


def read_csv(part: PlainPart, width: int) -> str:
    """What to read a text file from, its columns c0, c1 and so on."""
    dialect: Dialect = part.dialect
    columns = ", ".join(f"'c{index}': 'VARCHAR'" for index in range(width))
    quote = rules.literal(dialect.quote)
    return (
        f"read_csv({rules.literal(str(part.path))}, auto_detect = false, header = false,"
        f" skip = {dialect.header_lines}, delim = {rules.literal(dialect.delimiter)},"
        f" quote = {quote}, escape = {quote}, strict_mode = true, null_padding = false,"
        f" max_line_size = {LIMITS.line_characters * 2}, nullstr = {rules.literal(_NEVER)},"
        f" columns = {{{columns}}})"
    )


def read_files(paths: Sequence[Path]) -> str:
    """What to read Parquet files from."""
    return f"read_parquet([{', '.join(rules.literal(str(path)) for path in paths)}])"


def configure(database: duckdb.DuckDBPyConnection, folder: Path) -> None:
    """Bounds of memory and threads, and where to put what is more."""
    database.execute(f"SET threads = {min(MAX_THREADS, os.cpu_count() or 1)}")
    database.execute(f"SET memory_limit = '{MEMORY_LIMIT}'")
    database.execute(f"SET temp_directory = {rules.literal(str(folder / 'spill'))}")
    database.execute("SET preserve_insertion_order = false")
    database.execute("SET enable_progress_bar = true; SET enable_progress_bar_print = false")


def create(database: duckdb.DuckDBPyConnection, table: str, columns: dict[str, str]) -> None:
    """An empty table."""
    written = ", ".join(f"{name} {kind}" for name, kind in columns.items())
    database.execute(f"CREATE TABLE {table} ({written})")


def append(database: duckdb.DuckDBPyConnection, table: str, columns: Columns) -> None:
    """Rows to a table."""
    arrays = {
        name: np.array(values, dtype=object if values and isinstance(values[0], str) else None)
        for name, values in columns.items()
    }
    if next(iter(columns.values()), []):
        database.execute(f"INSERT INTO {table} BY NAME SELECT * FROM arrays")
    del arrays


def put_tiles(database: duckdb.DuckDBPyConnection, tiles: Tiles) -> None:
    """The table of points that stand for places."""
    kinds = rules.tile_columns(tiles.most)
    create(database, "tiles", kinds)
    numbers = {
        name: np.array([np.nan if row[place] is None else row[place] for row in tiles.rows])
        for place, name in enumerate(kinds)
    }
    cells = ", ".join(f"nullif({name}, 'nan'::DOUBLE) AS {name}" for name in kinds)
    if tiles.rows:
        database.execute(f"INSERT INTO tiles SELECT {cells} FROM numbers")
    del numbers


def count(database: duckdb.DuckDBPyConnection, query: str) -> int:
    """The one number that a query gives."""
    row = database.execute(query).fetchone()
    return int(row[0]) if row else 0


def run_long(
    database: duckdb.DuckDBPyConnection, query: str, tell: Callable[[float], None]
) -> None:
    """Run a long statement where an interrupt from the keyboard reaches it, telling how far it
    is.
    """
    failures: list[BaseException] = []

    def work() -> None:
        try:
            database.execute(query)
        except BaseException as error:
            failures.append(error)

    worker = threading.Thread(target=work, daemon=True)
    worker.start()
    try:
        while worker.is_alive():
            worker.join(_POLL_SECONDS)
            tell(max(0.0, database.query_progress()) / 100)
    except BaseException:
        database.interrupt()
        worker.join()
        raise
    if failures:
        raise failures[0]


@contextmanager
def scratch(folder: Path) -> Iterator[Path]:
    """A folder for the time of some work."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)
