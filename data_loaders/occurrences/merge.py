"""Judged parts put together: what repeats is counted, the rest goes into blocks of the store."""

import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
from numpy.typing import NDArray

from data_loaders.ahead import one_ahead
from data_loaders.occurrences import rules
from data_loaders.occurrences.datasets import DatasetText
from data_loaders.occurrences.duck import configure, count, run_long, scratch, unworkable
from data_loaders.occurrences.report import REMARKS
from data_loaders.occurrences.writer import (
    Chunk,
    RecordWriter,
    Terms,
    cells_of,
    number_datasets,
    number_plants,
    number_terms,
)
from data_loaders.progress import Meter
from data_loaders.report import EXAMPLES, Tally
from service.store.cells import CELL_E7, COLUMNS, RECORD

Halves = NDArray[np.uint64]

_BATCH_ROWS = 100_000
_DIGESTS_A_ROW = 1_000_000

_SHARED = {"plant": "plants", "dataset_key": "datasets", "terms": "combinations"}
"""Columns that many rows share, to the tables that number their values in order."""

_CREATE_SHARED = """
CREATE TABLE {table} AS
SELECT {column}, (row_number() OVER (ORDER BY {column}) - 1)::INTEGER AS {column}_place
FROM (SELECT DISTINCT {column} FROM read_parquet({files}) WHERE reason < 0)"""

_CREATE_KEPT = f"""
CREATE TABLE kept AS
WITH digested AS (
  SELECT record_key, longitude_e7, latitude_e7, uncertainty_m, year, by_species,
    unreadable_uncertainty, moved, other_datum, plant_place, dataset_key_place, terms_place,
    md5_number(dataset_key || chr(31) || record_key) AS digest,
    (latitude_e7::BIGINT + 900000000) // {CELL_E7} * {COLUMNS}
    + least((longitude_e7::BIGINT + 1800000000) // {CELL_E7}, {COLUMNS - 1}) AS cell
  FROM read_parquet({{files}}) JOIN plants USING (plant) JOIN datasets USING (dataset_key)
  JOIN combinations USING (terms)
  WHERE reason < 0
)
SELECT * EXCLUDE (digest, cell), (digest & 18446744073709551615)::UBIGINT AS low,
       ((digest >> 64) & 18446744073709551615)::UBIGINT AS high
FROM digested ORDER BY cell, digest"""

# Of rows with one key the first by content is kept, whatever the order in which they were read.
_LATER = """
SELECT kept.rowid AS place, row_number() OVER (
  PARTITION BY low, high
  ORDER BY longitude_e7, latitude_e7, year, uncertainty_m, plant_place, terms_place, record_key
) AS rank_in_key
FROM kept WHERE kept.rowid IN (SELECT place FROM suspects)
QUALIFY rank_in_key > 1"""

_REMARKS = """
SELECT coalesce(sum(by_species::INTEGER), 0), coalesce(sum(unreadable_uncertainty::INTEGER), 0),
       coalesce(sum((year = 0)::INTEGER), 0), coalesce(sum(moved::INTEGER), 0),
       coalesce(sum(other_datum::INTEGER), 0)
FROM kept WHERE {fresh}"""

_ROWS = """
SELECT rowid AS place, record_key, plant_place, dataset_key_place, terms_place, longitude_e7,
       latitude_e7, year, coalesce(uncertainty_m, 'nan'::DOUBLE) AS uncertainty_m
FROM kept WHERE rowid >= ? AND rowid < ? ORDER BY rowid"""


@dataclass(frozen=True, slots=True)
class _Repeats:
    """Places in ``kept`` of rows that are not stored."""

    places: NDArray[np.int64]

    def where_fresh(self, database: duckdb.DuckDBPyConnection) -> str:
        """A condition for the other rows."""
        if not len(self.places):
            return "TRUE"
        places = self.places  # noqa: F841 - DuckDB finds the array by its name
        database.execute("CREATE OR REPLACE TABLE repeated AS SELECT column0 AS place FROM places")
        return "kept.rowid NOT IN (SELECT place FROM repeated)"


def merge(
    connection: sqlite3.Connection,
    parts: Sequence[Path],
    tally: Tally,
    texts: Mapping[str, DatasetText],
    *,
    workspace: Path,
    meter: Meter,
) -> None:
    """Store the rows of judged parts that are not loaded already; the others are counted."""
    if not parts:
        return
    try:
        with scratch(workspace / "merging") as folder, duckdb.connect() as database:
            configure(database, folder)
            files = "[" + ", ".join(rules.literal(str(part)) for part in parts) + "]"
            read = tally.rows_read
            for column, table in _SHARED.items():
                database.execute(_CREATE_SHARED.format(table=table, column=column, files=files))
            run_long(
                database,
                _CREATE_KEPT.format(files=files),
                lambda share: meter.stage("sorting", read, share),
            )
            repeats = _repeats(connection, database, tally)
            _count(database, repeats, tally)
            _store(connection, database, repeats, tally, texts, meter)
    except duckdb.Error as error:
        raise unworkable(meter.file, error) from error


def _repeats(
    connection: sqlite3.Connection, database: duckdb.DuckDBPyConnection, tally: Tally
) -> _Repeats:
    """Rows that repeat another one here, or one of the store."""
    digests = database.execute(
        "SELECT low, high, rowid AS place FROM kept ORDER BY low"
    ).fetchnumpy()
    low, high, place = digests["low"], digests["high"], digests["place"]
    repeated = _later(database, low, place)
    held = np.zeros(len(low), dtype=np.bool_)
    for number, held_low in _held_halves(connection):
        held |= _is_among(low, high, held_low, partial(_held_high, connection, number))
    repeated = np.union1d(repeated, place[held])
    fresh = ~np.isin(place, repeated) if len(repeated) else np.ones(len(place), dtype=np.bool_)
    _put_digests(connection, low[fresh], high[fresh])
    tally.apart("duplicate", len(repeated))
    if len(repeated):
        shown = database.execute(
            f"SELECT record_key FROM kept WHERE rowid IN (SELECT unnest(?)) ORDER BY 1"
            f" LIMIT {EXAMPLES}",
            [repeated.tolist()[:100_000]],
        ).fetchall()
        tally.examples["duplicate"] += [key for (key,) in shown]
    return _Repeats(repeated)


def _later(
    database: duckdb.DuckDBPyConnection, low: Halves, place: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Places of rows whose key another one here has that comes first.

    Args:
        low: first halves of the digests, in order.
    """
    same = np.flatnonzero(low[1:] == low[:-1])
    places = place[np.union1d(same, same + 1)]
    if not len(places):
        return places
    database.execute("CREATE OR REPLACE TABLE suspects AS SELECT column0 AS place FROM places")
    return np.asarray(database.execute(_LATER).fetchnumpy()["place"], dtype=np.int64)


def _is_among(
    low: Halves, high: Halves, held_low: Halves, held_high: Callable[[], Halves]
) -> NDArray[np.bool_]:
    """Which digests are among those that are loaded; all in order of their first halves.

    Args:
        held_high: the second halves, which are asked for where a first half is met again.
    """
    places = np.searchsorted(held_low, low)
    inside = places < len(held_low)
    found = np.zeros(len(low), dtype=np.bool_)
    at = places[inside]
    same = held_low[at] == low[inside]
    if not np.any(same):
        return found
    seconds = held_high()
    found[inside] = same & (seconds[at] == high[inside])
    # Two keys whose first halves are equal are a chance of one in ten million million; look on.
    for index in np.flatnonzero(inside)[same & ~found[inside]]:
        end = np.searchsorted(held_low, low[index], side="right")
        found[index] = bool(np.any(seconds[places[index] : end] == high[index]))
    return found


def _held_halves(connection: sqlite3.Connection) -> Iterator[tuple[int, Halves]]:
    """First halves of the digests that are loaded, a row of the table each, with its number."""
    for number, low in connection.execute("SELECT digest_no, low FROM occurrence_digest"):
        yield number, np.frombuffer(low, dtype="<u8")


def _held_high(connection: sqlite3.Connection, number: int) -> Halves:
    query = "SELECT high FROM occurrence_digest WHERE digest_no = ?"
    return np.frombuffer(connection.execute(query, (number,)).fetchone()[0], dtype="<u8")


def _put_digests(connection: sqlite3.Connection, low: Halves, high: Halves) -> None:
    connection.executemany(
        "INSERT INTO occurrence_digest (records, low, high) VALUES (?, ?, ?)",
        (
            (
                len(low[first : first + _DIGESTS_A_ROW]),
                low[first : first + _DIGESTS_A_ROW].astype("<u8").tobytes(),
                high[first : first + _DIGESTS_A_ROW].astype("<u8").tobytes(),
            )
            for first in range(0, len(low), _DIGESTS_A_ROW)
        ),
    )


def _count(database: duckdb.DuckDBPyConnection, repeats: _Repeats, tally: Tally) -> None:
    counts = database.execute(_REMARKS.format(fresh=repeats.where_fresh(database))).fetchone()
    assert counts is not None
    for remark, rows in zip(REMARKS, counts, strict=True):
        tally.remark(remark, int(rows))


def _store(
    connection: sqlite3.Connection,
    database: duckdb.DuckDBPyConnection,
    repeats: _Repeats,
    tally: Tally,
    texts: Mapping[str, DatasetText],
    meter: Meter,
) -> None:
    plants, datasets, terms = _numbers(connection, database, repeats, texts)
    writer = RecordWriter(connection)
    total = count(database, "SELECT count(*) FROM kept")
    for reached, rows in one_ahead(_batches(database, total)):
        if len(repeats.places):
            fresh = ~np.isin(rows["place"], repeats.places)
            rows = {name: column[fresh] for name, column in rows.items()}
        records = np.empty(len(rows["place"]), dtype=RECORD)
        for name in ("longitude_e7", "latitude_e7", "year", "uncertainty_m"):
            records[name] = rows[name]
        records["plant_no"] = plants[rows["plant_place"]]
        records["dataset_no"] = datasets[rows["dataset_key_place"]]
        records["terms_no"] = terms[rows["terms_place"]]
        cells = cells_of(
            rows["longitude_e7"].astype(np.int64), rows["latitude_e7"].astype(np.int64)
        )
        writer.write(Chunk(cells, records, rows["record_key"].tolist()))
        tally.keep(len(records))
        meter.stage("storing", tally.rows_read, reached / total)
    writer.finish()


def _batches(
    database: duckdb.DuckDBPyConnection, total: int
) -> Iterator[tuple[int, dict[str, NDArray[Any]]]]:
    """Rows of ``kept`` in their order, with how many have come by then."""
    for first in range(0, total, _BATCH_ROWS):
        rows = database.execute(_ROWS, [first, first + _BATCH_ROWS]).fetchnumpy()
        yield min(total, first + _BATCH_ROWS), rows


def _numbers(
    connection: sqlite3.Connection,
    database: duckdb.DuckDBPyConnection,
    repeats: _Repeats,
    texts: Mapping[str, DatasetText],
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """The store's numbers of plants, data sets and terms, by their places here; only those of
    rows that are stored get one.
    """
    fresh = repeats.where_fresh(database)

    def values(column: str) -> dict[int, str]:
        query = (
            f"SELECT {column}_place, {column} FROM {_SHARED[column]} WHERE {column}_place IN"
            f" (SELECT DISTINCT {column}_place FROM kept WHERE {fresh}) ORDER BY 1"
        )
        return dict(database.execute(query).fetchall())

    def by_place(numbers: Mapping[int, int]) -> NDArray[np.int64]:
        found = np.zeros(max(numbers, default=-1) + 1, dtype=np.int64)
        for place, number in numbers.items():
            found[place] = number
        return found

    plants, datasets = values("plant"), values("dataset_key")
    combinations: dict[int, Terms] = {}
    for place, joined in values("terms").items():
        licence, basis, means, degree = joined.split(rules.UNIT)
        combinations[place] = (licence, basis, means, degree)
    of_plant = number_plants(connection, plants.values())
    of_dataset = number_datasets(connection, datasets.values(), texts)
    of_terms = number_terms(connection, combinations.values())
    return (
        by_place({place: of_plant[plant] for place, plant in plants.items()}),
        by_place({place: of_dataset[key] for place, key in datasets.items()}),
        by_place({place: of_terms[terms] for place, terms in combinations.items()}),
    )
