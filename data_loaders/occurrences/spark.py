"""Judging on Apache Spark: the same SQL, translated by sqlglot, on one machine or many.

Names, words, dates and data sets are judged by the same Python functions as with DuckDB, once for
each distinct combination, and joined to the rows as broadcast tables. What comes out is a file of
kept rows and the counts, as from DuckDB, and is merged by the same code.

Credentials for an object store are Spark's own settings and the environment; none is taken here.
"""

import math
import os
import secrets
import shutil
from collections.abc import Iterator, Mapping
from contextlib import suppress
from itertools import islice
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

import duckdb

from data_loaders.build import disk_error
from data_loaders.occurrences import rules
from data_loaders.occurrences.distinct import TABLE_OF, Columns, Distinct, shifted
from data_loaders.occurrences.duck import SPACES, scratch
from data_loaders.occurrences.judged import JudgedPart
from data_loaders.occurrences.names import ExactMatcher
from data_loaders.occurrences.places import Tiles
from data_loaders.occurrences.plain import PlainPart, plain_part
from data_loaders.occurrences.report import QualityRules
from data_loaders.occurrences.tables import CoreTable, RecordTable
from data_loaders.occurrences.terms import TERM_INDEX
from data_loaders.progress import Meter
from service.errors import BadFile, ReedgateError, StoreError

if TYPE_CHECKING:
    from pyspark.sql import DataFrame, SparkSession

_BATCH_ROWS = 100_000
_KINDS = {"VARCHAR": "string", "DOUBLE": "double", "INTEGER": "int", "BOOLEAN": "boolean"}
_MAX_COLUMN_CHARACTERS = 8 << 20
_FOLDERS = "spark-"
_SIGNS_OF_LOSS = (
    "ExecutorLostFailure",
    "FetchFailed",
    "Master removed our application",
    "SparkContext was shut down",
    "stopped SparkContext",
)


class SparkEngine:
    """A session of Spark for the time of a load. Many Parquet parts are judged together, so that
    there is work for many machines at once; on one machine fewer, so that a stop loses less.

    Args:
        workspace: folder that every worker reaches: for a local master any, else a shared one.
        master: such as ``local[*]`` or ``spark://host:7077``; empty for ``local[*]``.

    Raises:
        StoreError: pyspark or Java is not there.
    """

    def __init__(
        self,
        matcher: ExactMatcher,
        quality: QualityRules,
        tiles: Tiles,
        workspace: Path,
        master: str = "",
    ) -> None:
        self._matcher = matcher
        self._quality = quality
        self._tiles = tiles
        self._workspace = workspace
        self._folder = workspace / f"{_FOLDERS}{secrets.token_hex(4)}"  # nobody's who was killed
        self._master = master or "local[*]"
        self._session: SparkSession | None = None
        self.batch_bytes = (512 << 20) if self._is_local else (8 << 30)

    def __enter__(self) -> Self:
        try:
            import sqlglot  # noqa: F401 - said here, and not midway
            from pyspark.sql import SparkSession
        except ImportError as error:
            raise StoreError(
                f"The engine spark needs {error.name}, which is not installed.",
                next_step="Install it: pip install 'reedgate[spark]', or use --engine duckdb.",
            ) from error
        for left_over in self._workspace.glob(f"{_FOLDERS}*"):
            shutil.rmtree(left_over, ignore_errors=True)
        builder = SparkSession.builder.master(self._master)
        if self._is_local:  # 200 parts of every step are for many machines
            builder = builder.config("spark.sql.shuffle.partitions", str(2 * (os.cpu_count() or 1)))
        try:
            session = (
                builder.appName("reedgate load occurrences")
                .config("spark.ui.enabled", "false")
                .config("spark.sql.session.timeZone", "UTC")
                .config("spark.sql.ansi.enabled", "true")
                .config("spark.sql.files.ignoreCorruptFiles", "false")
                .config("spark.sql.pyspark.jvmStacktrace.enabled", "true")  # has the cause
                .config("spark.local.dir", str(self._folder.absolute()))
                .getOrCreate()
            )
        except _errors(RuntimeError) as error:
            raise StoreError(
                f"Spark could not be started ({_first_line(error)}).",
                next_step="Install Java 17 or later, see that the master answers, or use --engine"
                " duckdb.",
            ) from error
        session.sparkContext.setLogLevel("ERROR")
        self._session = session
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._session is not None:
            with suppress(*_errors()):  # it may be gone already
                self._session.stop()
            self._session = None
        shutil.rmtree(self._folder, ignore_errors=True)

    @property
    def _is_local(self) -> bool:
        return self._master.startswith("local")

    def judge(self, table: RecordTable, target: Path, meter: Meter) -> JudgedPart:
        """Judge a table; the rows that are kept go into a Parquet file at ``target``.

        Raises:
            BadFile: the table is damaged.
            OSError: the disk is full.
            StoreError: Spark has ended, or lost its machines.
        """
        assert self._session is not None
        try:
            with scratch(self._folder / "judging") as folder:
                work = _Work(self._session, table, meter, folder)
                work.stage()
                work.judge(self._matcher, self._quality, self._tiles)
                return work.result(target)
        except _errors(duckdb.Error) as error:
            raise self._meant(error, table) from error

    def _meant(self, error: Exception, table: RecordTable) -> ReedgateError | OSError:
        """What an error of Spark says to a person: not every one is the file's."""
        said = str(error)
        if full := disk_error(said):
            return full
        if self._has_ended() or any(sign in said for sign in _SIGNS_OF_LOSS):
            return StoreError(
                f"Spark ended before its work was done ({_first_line(error)}).",
                next_step="The store is as it was. See that it has the memory and the machines that"
                " it needs, and load again: what was judged is kept.",
            )
        return BadFile(
            table.path.name,
            f"Spark could not work through it ({_first_line(error)}).",
            next_step="Fetch the file again; what was judged is kept.",
        )

    def _has_ended(self) -> bool:
        assert self._session is not None
        try:
            return not self._session.version
        except _errors():
            return True


class _Work:
    """One table inside Spark, step by step."""

    def __init__(
        self, session: "SparkSession", table: RecordTable, meter: Meter, folder: Path
    ) -> None:
        self._session = session
        self._table = table
        self._meter = meter
        self._folder = folder
        self._frames: list[DataFrame] = []

    def stage(self) -> None:
        """Stage the rows of every part."""
        self._meter.stage("reading", 0, 0.0)
        table = self._table
        if table.kind == "parquet":
            paths = [str(path.absolute()) for path in (table.path, *table.more)]
            frame = self._session.read.parquet(*paths)
            raw = _text_cells(frame, table.columns)
            spaces: tuple[int, ...] = SPACES
        else:
            frame = self._text_frame(table, "part")
            raw = {
                term: f"coalesce(c{place}, '')"
                for term, place in table.columns.items()
                if term in TERM_INDEX
            }
            spaces = SPACES if table.dialect.quote or table.core else (32,)
        frame.createOrReplaceTempView("source_rows")
        source = "source_rows"
        if table.core is not None:
            self._fill_core(table.core)
            terms = list(table.core.columns)
            raw, source = rules.with_core(raw, source, terms, table.core_key)
        query = rules.stage(raw, source, table.defaults, white_space=spaces)
        self._view("staged", self._session.sql(in_spark(query)), keep=True)

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
            rows = self._session.sql(f"SELECT DISTINCT {group} FROM staged").toLocalIterator()
            batches = _batches(row[0] for row in rows)
            self._small_table(name, [distinct.judged(group, batch) for batch in batches])
        self._meter.stage("sorting", 0, 0.0)
        places = self._session.sql(in_spark(rules.OLD_DATUMS)).toLocalIterator()
        found = ((row[0], row[1], row[2]) for row in places)
        self._small_table("shifted", [shifted(found)])
        kinds = rules.tile_columns(tiles.most)
        columns: Columns = {
            name: [row[place] for row in tiles.rows] for place, name in enumerate(kinds)
        }
        self._put("tiles", kinds, columns)
        query = in_spark(rules.judge(quality, tiles.most))
        self._view("judged", self._session.sql(query), keep=True)

    def result(self, target: Path) -> JudgedPart:
        """Write what is kept, and count the rest."""

        def ask(query: str) -> list[Any]:
            return [tuple(row) for row in self._session.sql(in_spark(query)).collect()]

        written = self._folder / "kept"
        self._session.sql(in_spark(rules.KEPT)).write.parquet(str(written.absolute()))
        part = JudgedPart.of_rows(ask(rules.COUNTS), ask(rules.EXAMPLES), ask(rules.OTHERS))
        with duckdb.connect() as database:  # the parts of a part as one file
            found = rules.literal(str(written / "*.parquet"))
            database.execute(
                f"COPY (SELECT * FROM read_parquet({found})) TO {rules.literal(str(target))}"
                " (FORMAT parquet)"
            )
        for frame in self._frames:
            frame.unpersist()
        return part

    def _fill_core(self, core: CoreTable) -> None:
        """The core by its ids; events take empty cells from the event above them."""
        terms = list(core.columns)
        self._text_frame(core, "core").createOrReplaceTempView("core_source")
        rows = rules.core_rows(
            "core_source",
            core.columns,
            core.defaults,
            id_column=core.id_column,
            parent=core.parent,
        )
        self._session.sql(in_spark(rows)).createOrReplaceTempView("every_core")
        self._write_core(rules.core_once("every_core", terms), 0)
        levels = rules.CORE_LEVELS if core.parent is not None and terms else 0
        for level in range(levels):
            self._write_core(rules.core_filled("core", terms), level + 1)

    def _write_core(self, query: str, level: int) -> None:
        """The rows of a query as the core. As files: a plan in which each level holds the one below
        it twice would be planned for minutes.
        """
        folder = self._folder / f"core-level-{level}"
        self._session.sql(in_spark(query)).write.parquet(str(folder.absolute()))
        self._view("core", self._session.read.parquet(str(folder.absolute())), keep=False)
        shutil.rmtree(self._folder / f"core-level-{level - 1}", ignore_errors=True)

    def _text_frame(self, table: RecordTable | CoreTable, what: str) -> "DataFrame":
        """The parts of a text table, every one checked for its rows."""
        parts = [
            plain_part(table, member, self._member_folder(f"{what}-{place}"))
            for place, member in enumerate(table.members or ("",))
        ]
        frames = [self._csv(part, table.width or 0) for part in parts]
        whole = frames[0]
        for frame in frames[1:]:
            whole = whole.unionAll(frame)
        return whole

    def _member_folder(self, name: str) -> Path:
        folder = self._folder / name
        folder.mkdir()
        return folder

    def _csv(self, part: PlainPart, width: int) -> "DataFrame":
        schema = ", ".join(f"c{place} string" for place in range(width))
        quote = part.dialect.quote
        path = part.path
        if part.dialect.header_lines > 1:
            raise BadFile(part.name, "tables with several header lines are not judged on Spark.")
        frame = (
            self._session.read.schema(schema)
            .option("sep", part.dialect.delimiter)
            .option("quote", quote or "\u0000")
            .option("escape", quote or "\u0000")
            .option("header", str(bool(part.dialect.header_lines)).lower())
            .option("enforceSchema", "true")
            .option("multiLine", str(bool(quote)).lower())
            .option("mode", "FAILFAST")
            .option("maxCharsPerColumn", _MAX_COLUMN_CHARACTERS)
            .option("ignoreLeadingWhiteSpace", "false")
            .option("ignoreTrailingWhiteSpace", "false")
            .option("emptyValue", "")
            .option("nullValue", "\ufdd0")
            .csv(str(path.absolute()))
        )
        if part.rows is not None and (found := frame.count()) != part.rows:
            raise BadFile(
                part.name,
                f"{found:,} rows could be read of its {part.rows:,} lines.",
                next_step="Unpack it anew.",
            )
        return frame

    def _small_table(self, name: str, batches: list[Columns]) -> None:
        kinds = rules.JUDGED_ON[name]
        columns: Columns = {
            column: [value for batch in batches for value in batch[column]] for column in kinds
        }
        self._put(name, kinds, columns)

    def _put(self, name: str, kinds: Mapping[str, str], columns: Columns) -> None:
        from pyspark.sql.functions import broadcast

        schema = ", ".join(f"{column} {_KINDS[kind]}" for column, kind in kinds.items())
        rows = list(zip(*(map(_plain, columns[column]) for column in kinds), strict=True))
        frame = self._session.createDataFrame(rows, schema)
        self._view(name, broadcast(frame), keep=False)

    def _view(self, name: str, frame: "DataFrame", *, keep: bool) -> None:
        if keep:
            from pyspark import StorageLevel

            frame = frame.persist(StorageLevel.DISK_ONLY)
            self._frames.append(frame)
        frame.createOrReplaceTempView(name)


def in_spark(query: str) -> str:
    """A statement of ``rules`` in Spark's SQL."""
    import sqlglot

    return sqlglot.transpile(query, read="duckdb", write="spark")[0]


def _text_cells(frame: "DataFrame", columns: Mapping[str, int | str]) -> dict[str, str]:
    """For each term that a Parquet file has an expression that is text and never null."""
    kinds = dict(frame.dtypes)
    cells = {}
    for term, column in columns.items():
        if isinstance(column, str) and term in TERM_INDEX:
            quoted = '"' + column.replace('"', '""') + '"'
            is_list = kinds[column].startswith("array")
            text = f"array_to_string({quoted}, ';')" if is_list else f"CAST({quoted} AS VARCHAR)"
            cells[term] = f"coalesce({text}, '')"
    return cells


def _plain(value: object) -> object:
    """A value as Spark takes it: not a number is none."""
    return None if isinstance(value, float) and math.isnan(value) else value


def _batches(values: Iterator[str]) -> Iterator[list[str]]:
    while batch := list(islice(values, _BATCH_ROWS)):
        yield batch


def _errors(*more: type[Exception]) -> tuple[type[Exception], ...]:
    """What pyspark raises: of its own, of the bridge to Java, and when nobody is there."""
    from py4j.protocol import Py4JError
    from pyspark.errors import PySparkException

    return (PySparkException, Py4JError, OSError, EOFError, *more)


def _first_line(error: Exception) -> str:
    """What is wrong; the bridge to Java says first which call it was."""
    lines = [line.strip(": ") for line in str(error).splitlines() if line.strip()]
    said = [line for line in lines if not line.startswith("An error occurred while calling")]
    return said[0][:300] if said else repr(error)
