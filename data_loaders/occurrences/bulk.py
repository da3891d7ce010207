"""The path for large files: DuckDB reads, sorts and finds duplicates in bounded memory, the store
takes the rest.

One pass over the file stages what each row needs. Cells that many rows share (names, vocabularies,
dates) are then judged once for each distinct combination, by the same functions as on the small
path.
"""

import os
import shutil
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb
import numpy as np
from numpy.typing import NDArray

from data_loaders.archives import is_gzip, is_zip
from data_loaders.darwin_core import cell_value
from data_loaders.occurrences import bulk_sql
from data_loaders.occurrences.names import ExactMatcher, resolve
from data_loaders.occurrences.quality import (
    Row,
    dataset_key,
    name_cells,
    read_words,
    record_year,
    word_cells,
)
from data_loaders.occurrences.report import REASONS, REMARKS, QualityRules
from data_loaders.occurrences.scan import Lines, scan_text
from data_loaders.occurrences.tables import RecordTable, open_part
from data_loaders.occurrences.terms import TERM_INDEX, TERMS
from data_loaders.occurrences.writer import (
    Chunk,
    RecordWriter,
    Terms,
    cells_of,
    count_records,
    held_keys,
    number_datasets,
    number_plants,
    number_terms,
)
from data_loaders.progress import Meter, Stage
from data_loaders.report import EXAMPLES, OTHER_PLANTS, Tally
from service.errors import BadFile
from service.store.blocks import RECORD

MEMORY_LIMIT = "640MB"
"""Of what DuckDB holds; what is more goes to the disk. The process as a whole takes a third
more.
"""
MAX_THREADS = 4
_BATCH_ROWS = 100_000
_POLL_SECONDS = 0.2


def can_read(table: RecordTable) -> bool:
    """Whether DuckDB reads tables written like this one exactly as the small path does."""
    if table.kind == "parquet":
        return True
    dialect = table.dialect
    return (
        table.width is not None
        and len(dialect.delimiter) == 1
        and dialect.terminator == "\n"
        and dialect.encoding.lower().replace("_", "-") in ("utf-8", "utf8")
    )


def is_plain(table: RecordTable) -> bool:
    """Whether the file is itself the text table."""
    return table.kind == "delimited" and not (is_zip(table.path) or is_gzip(table.path))


def look_over(table: RecordTable) -> Lines:
    """Count the lines of a plain text table, and refuse what is none."""
    with table.path.open("rb", buffering=0) as stream:
        return scan_text(stream, file=table.path.name)


class NotForBulk(Exception):
    """The lines of a table end in more than one way, which DuckDB does not read reliably."""


def store_table(
    connection: sqlite3.Connection,
    table: RecordTable,
    matcher: ExactMatcher,
    rules: QualityRules,
    *,
    workspace: Path,
    meter: Meter,
    lines: Lines | None = None,
) -> Tally:
    """Judge a table, store the rows that are kept and not held already, and count the others.

    Args:
        workspace: folder to be made for temporary files, on a disk with room for the unpacked
            table.
        lines: of a plain text table that was looked over already.

    Raises:
        BadFile: as on the small path.
        NotForBulk: the small path has to read it.
    """
    try:
        with _scratch(workspace) as scratch, duckdb.connect() as database:
            _configure(database, scratch)
            staging = _Staging(database, table, meter, lines)
            staging.read(scratch)
            staging.judge_names(matcher)
            staging.judge_words()
            staging.judge_dates()
            staging.judge_datasets()
            staging.judge_rows(rules)
            staging.find_duplicates(connection)
            return staging.store(connection)
    except duckdb.Error as error:
        raise BadFile(
            table.path.name,
            f"it could not be worked through ({str(error).strip().splitlines()[0]}).",
            next_step="Check that the disk of the store has room for the unpacked table; else fetch the file again.",
        ) from error


def _configure(database: duckdb.DuckDBPyConnection, scratch: Path) -> None:
    database.execute(f"SET threads = {min(MAX_THREADS, os.cpu_count() or 1)}")
    database.execute(f"SET memory_limit = '{MEMORY_LIMIT}'")
    database.execute(f"SET temp_directory = '{_quoted(scratch / 'spill')}'")
    database.execute("SET enable_progress_bar = true; SET enable_progress_bar_print = false")


class _Staging:
    """One table inside DuckDB, step by step."""

    def __init__(
        self,
        database: duckdb.DuckDBPyConnection,
        table: RecordTable,
        meter: Meter,
        lines: Lines | None,
    ) -> None:
        self._lines = lines
        self._database = database
        self._table = table
        self._meter = meter
        self._tally = Tally()
        self._plants: list[str] = []
        self._terms: list[Terms] = []
        self._datasets: list[str] = []
        self._duplicates: NDArray[np.int64] = np.empty(0, dtype=np.int64)

    def read(self, scratch: Path) -> None:
        """Stage the rows of every part."""
        self._database.execute(bulk_sql.CREATE_STAGED)
        if self._table.kind == "parquet":
            rows = self._count(bulk_sql.count_parquet(self._table))
            self._run("reading", bulk_sql.stage_parquet(self._table), rows)
        else:
            members = self._table.members or ("",)
            for place, member in enumerate(members):
                self._read_part(
                    member,
                    scratch / f"part-{place}",
                    place / len(members),
                    (place + 1) / len(members),
                )
        self._tally.rows_read = self._count("SELECT count(*) FROM staged")

    def _read_part(self, member: str, unpacked: Path, begin: float, end: float) -> None:
        name = self._table.part_name(member)
        path = self._table.path
        self._meter.stage("checking", 0, begin)
        if is_zip(path) or is_gzip(path):
            with open_part(self._table, member) as stream, unpacked.open("wb") as out:
                lines = scan_text(stream, file=name, copy_to=out)
            path = unpacked
        else:
            lines = self._lines or look_over(self._table)
        if lines.mixed_ends:
            raise NotForBulk
        before = self._tally.rows_read
        try:
            self._run(
                "reading", bulk_sql.stage_delimited(self._table, path), lines.filled, begin, end
            )
        except duckdb.Error as error:
            raise bulk_sql.bad_file(name, error) from error
        self._tally.rows_read = self._count("SELECT count(*) FROM staged")
        self._check_count(name, lines, self._tally.rows_read - before)
        unpacked.unlink(missing_ok=True)

    def _check_count(self, name: str, lines: Lines, staged: int) -> None:
        """Without quoting every line that is not empty is a row."""
        expected = lines.filled - self._table.dialect.header_lines
        if not self._table.dialect.quote and staged != expected:
            raise BadFile(
                name,
                f"{staged:,} rows could be read of its {expected:,} lines.",
                next_step="Unpack it anew.",
            )

    def judge_names(self, matcher: ExactMatcher) -> None:
        """Resolve each distinct combination of names, as matched strictly and as matched
        loosely.
        """
        numbers: dict[str, int] = {}
        self._database.execute(bulk_sql.CREATE_NAMED)
        for batch in self._distinct("names"):
            columns: dict[str, list[object]] = {name: [] for name in bulk_sql.NAMED_COLUMNS}
            for joined, row in batch:
                columns["names"].append(joined)
                for way in ("strict", "loose"):
                    named = resolve(name_cells(row), matcher, loose=way == "loose")
                    plant = (
                        -1
                        if named.plant_id is None
                        else numbers.setdefault(named.plant_id, len(numbers))
                    )
                    columns[f"{way}_plant"].append(plant)
                    columns[f"{way}_reason"].append(
                        REASONS.index(named.reason) if named.reason else -1
                    )
                    columns[f"{way}_by_species"].append(named.by_species_column)
                    columns[f"{way}_name"].append(named.name)
            self._append("named", columns)
        self._plants = list(numbers)

    def judge_words(self) -> None:
        """Read each distinct combination of vocabulary cells."""
        self._database.execute(bulk_sql.CREATE_WORDED)
        numbers: dict[Terms, int] = {}
        for batch in self._distinct("words"):
            columns: dict[str, list[object]] = {name: [] for name in bulk_sql.WORDED_COLUMNS}
            for joined, row in batch:
                cells = word_cells(row)
                words = read_words(cells)
                terms = (
                    cells.licence,
                    cells.basis_of_record,
                    cells.establishment_means,
                    cells.degree_of_establishment,
                )
                columns["words"].append(joined)
                columns["word_reason"].append(REASONS.index(words.reason) if words.reason else -1)
                columns["terms"].append(numbers.setdefault(terms, len(numbers)))
                for name in ("loose", "swapped", "flagged", "in_us", "held", "other_datum"):
                    columns[name].append(getattr(words, name))
            self._append("worded", columns)
        self._terms = list(numbers)

    def judge_dates(self) -> None:
        """Read each distinct pair of event date (to the month) and year."""
        self._database.execute(bulk_sql.CREATE_DATED)
        for batch in self._distinct("dates"):
            self._append(
                "dated",
                {
                    "dates": [joined for joined, _ in batch],
                    "record_year": [record_year(row) or 0 for _, row in batch],
                },
            )

    def judge_datasets(self) -> None:
        """Number the data sets."""
        self._database.execute(bulk_sql.CREATE_DATASETS)
        numbers: dict[str, int] = {}
        for batch in self._distinct("dataset"):
            keys = [dataset_key(row) or self._table.fallback_dataset for _, row in batch]
            places = [numbers.setdefault(key, len(numbers)) for key in keys]
            self._append(
                "grouped_datasets",
                {"dataset": [joined for joined, _ in batch], "dataset_place": list(places)},
            )
        self._datasets = list(numbers)

    def judge_rows(self, rules: QualityRules) -> None:
        """Judge every row and lay the rows in the order of their cells."""
        self._run("sorting", bulk_sql.judge_rows(rules), 0)
        counts = self._database.execute(
            "SELECT reason, count(*) FROM judged WHERE reason >= 0 GROUP BY reason"
        )
        for code, count in counts.fetchall():
            self._tally.set_apart[REASONS[code]] = count
        for code, key in self._database.execute(bulk_sql.EXAMPLES, [EXAMPLES]).fetchall():
            self._tally.examples[REASONS[code]].append(key)
        not_of_store = REASONS.index("not-of-store")
        for name, count in self._database.execute(
            bulk_sql.OTHERS, [not_of_store, OTHER_PLANTS]
        ).fetchall():
            self._tally.others[name] = count
        self._database.execute("DROP TABLE staged")

    def find_duplicates(self, connection: sqlite3.Connection) -> None:
        """Note the places of rows that repeat an earlier one, or one that the store holds."""
        self._database.execute(bulk_sql.CREATE_REPEATED)
        if count_records(connection):
            places = {key: place for place, key in enumerate(self._datasets)}
            self._database.execute(bulk_sql.CREATE_HELD)
            for datasets, keys in held_keys(connection):
                self._append(
                    "held",
                    {
                        "dataset_place": [places.get(key, -1) for key in datasets],
                        "record_key": list(keys),
                    },
                )
            self._database.execute(bulk_sql.ADD_HELD)
            self._database.execute("DROP TABLE held")
        found = self._database.execute(
            "SELECT DISTINCT place FROM repeated ORDER BY place"
        ).fetchnumpy()["place"]
        self._duplicates = np.asarray(found, dtype=np.int64)
        if len(self._duplicates):
            self._tally.set_apart["duplicate"] = len(self._duplicates)

    def store(self, connection: sqlite3.Connection) -> Tally:
        """Write the rows that are left."""
        self._count_notes()
        plants, datasets, terms = self._numbers(connection)
        writer = RecordWriter(connection)
        judged = self._count("SELECT count(*) FROM judged")
        for first in range(0, judged, _BATCH_ROWS):
            rows = self._database.execute(
                bulk_sql.KEPT_ROWS, [first, first + _BATCH_ROWS]
            ).fetchnumpy()
            if len(self._duplicates):
                fresh = ~np.isin(rows["place"], self._duplicates)
                rows = {name: column[fresh] for name, column in rows.items()}
            records = np.empty(len(rows["place"]), dtype=RECORD)
            for name in ("longitude_e7", "latitude_e7", "year"):
                records[name] = rows[name]
            records["plant_no"] = plants[rows["plant"]]
            records["dataset_no"] = datasets[rows["dataset_place"]]
            records["terms_no"] = terms[rows["terms"]]
            records["uncertainty_m"] = rows["uncertainty_m"]
            cells = cells_of(
                rows["longitude_e7"].astype(np.int64), rows["latitude_e7"].astype(np.int64)
            )
            writer.write(Chunk(cells, records, rows["record_key"].tolist()))
            self._tally.rows_kept += len(records)
            self._meter.stage(
                "storing", self._tally.rows_read, min(1.0, (first + _BATCH_ROWS) / judged)
            )
        writer.finish()
        return self._tally

    def _count_notes(self) -> None:
        counts = self._database.execute(bulk_sql.NOTES).fetchone()
        assert counts is not None
        for note, count in zip(REMARKS, counts, strict=True):
            if count:
                self._tally.remarks[note] = count

    def _numbers(self, connection: sqlite3.Connection) -> tuple[NDArray[np.int64], ...]:
        """Store numbers of the plants, data sets and term combinations that kept rows bear, by
        their place here.
        """
        plant_places = self._kept_distinct("plant")
        plant_numbers = number_plants(connection, [self._plants[place] for place in plant_places])
        plants = np.zeros(len(self._plants), dtype=np.int64)
        plants[plant_places] = [plant_numbers[self._plants[place]] for place in plant_places]

        dataset_places = self._kept_distinct("dataset_place")
        dataset_numbers = number_datasets(
            connection, [self._datasets[place] for place in dataset_places], self._table.datasets
        )
        datasets = np.zeros(len(self._datasets), dtype=np.int64)
        datasets[dataset_places] = [
            dataset_numbers[self._datasets[place]] for place in dataset_places
        ]

        terms_places = self._kept_distinct("terms")
        terms_numbers = number_terms(connection, [self._terms[place] for place in terms_places])
        terms = np.zeros(len(self._terms), dtype=np.int64)
        terms[terms_places] = [terms_numbers[self._terms[place]] for place in terms_places]
        return plants, datasets, terms

    def _kept_distinct(self, column: str) -> list[int]:
        query = f"SELECT DISTINCT {column} FROM judged ANTI JOIN repeated USING (place) WHERE reason < 0"
        return sorted(int(row[0]) for row in self._database.execute(query).fetchall())

    def _distinct(self, group: str) -> Iterator[list[tuple[str, Row]]]:
        """Each distinct combination of a group, as it stands and as a row that holds these cells
        alone.
        """
        cursor = self._database.cursor().execute(
            f"SELECT DISTINCT {group} FROM staged ORDER BY {group}"
        )
        while batch := cursor.fetchmany(_BATCH_ROWS):
            yield [(joined, self._row(group, joined)) for (joined,) in batch]

    def _row(self, group: str, joined: str) -> Row:
        table = self._table
        row = [""] * len(TERMS)
        present = [term for term in bulk_sql.GROUPS[group] if term in table.columns]
        cells = joined.split(bulk_sql.UNIT) if present else []
        if len(cells) != len(present):
            raise BadFile(
                table.path.name,
                "a control character (unit separator) in a cell.",
                place=repr(joined[:80]),
            )
        for term in bulk_sql.GROUPS[group]:
            row[TERM_INDEX[term]] = table.defaults.get(term, "")
        for term, cell in zip(present, cells, strict=True):
            row[TERM_INDEX[term]] = cell_value(cell) or table.defaults.get(term, "")
        return row

    def _append(self, table: str, columns: dict[str, list[object]]) -> None:
        arrays = {
            name: np.array(values, dtype=object if values and isinstance(values[0], str) else None)
            for name, values in columns.items()
        }
        self._database.execute(f"INSERT INTO {table} BY NAME SELECT * FROM arrays")
        del arrays

    def _count(self, query: str) -> int:
        row = self._database.execute(query).fetchone()
        return int(row[0]) if row else 0

    def _run(
        self, stage: Stage, query: str, rows: int, begin: float = 0.0, end: float = 1.0
    ) -> None:
        """Run a long statement where an interrupt from the keyboard reaches it, telling how far it
        is.

        Args:
            rows: that it will have read at its end, beyond those read before.
            begin, end: shares of the stage at its beginning and end.
        """
        before = self._tally.rows_read
        failures: list[BaseException] = []

        def work() -> None:
            try:
                self._database.execute(query)
            except BaseException as error:
                failures.append(error)

        worker = threading.Thread(target=work, daemon=True)
        worker.start()
        try:
            while worker.is_alive():
                worker.join(_POLL_SECONDS)
                share = max(0.0, self._database.query_progress()) / 100
                self._meter.stage(stage, before + int(rows * share), begin + (end - begin) * share)
        except BaseException:
            self._database.interrupt()
            worker.join()
            raise
        if failures:
            raise failures[0]


@contextmanager
def _scratch(folder: Path) -> Iterator[Path]:
    folder.mkdir(parents=True)
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _quoted(path: Path) -> str:
    return str(path).replace("'", "''")
