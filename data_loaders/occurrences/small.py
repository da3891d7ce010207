"""The path for small files, and for tables that only this program can read: row by row, in
bounded memory.
"""

import math
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from dataclasses import astuple

import numpy as np

from data_loaders.occurrences.datasets import DatasetText
from data_loaders.occurrences.names import ExactMatcher
from data_loaders.occurrences.quality import Row, judge
from data_loaders.occurrences.report import QualityRules
from data_loaders.occurrences.writer import (
    Chunk,
    RecordWriter,
    cells_of,
    held_keys,
    number_datasets,
    number_plants,
    number_terms,
)
from data_loaders.report import EXAMPLES, Tally
from service.store.blocks import RECORD
from service.store.cells import cell_of

_BATCH_ROWS = 20_000
_COLUMNS = (
    "dataset_key, record_key, plant_id, longitude_e7, latitude_e7, uncertainty_m, year, licence, basis_of_record,"
    " establishment_means, degree_of_establishment"
)
_TERM_COLUMNS = "licence, basis_of_record, establishment_means, degree_of_establishment"


def store_rows(
    connection: sqlite3.Connection,
    rows: Iterator[Row],
    matcher: ExactMatcher,
    rules: QualityRules,
    *,
    fallback_dataset: str,
    datasets: Mapping[str, DatasetText],
    progress: Callable[[int], None] | None = None,
) -> Tally:
    """Judge rows, store those that are kept and not held already, and count the others.

    Args:
        progress: called now and then with the number of rows read.
    """
    connection.execute("DROP TABLE IF EXISTS temp.fresh")
    connection.execute(
        f"CREATE TEMP TABLE fresh (place INTEGER PRIMARY KEY, cell, {_COLUMNS}, notes, UNIQUE (dataset_key, record_key))"
    )
    tally, judged_kept = _judge_all(connection, rows, matcher, rules, fallback_dataset, progress)
    _drop_held(connection)
    tally.rows_kept = int(connection.execute("SELECT count(*) FROM temp.fresh").fetchone()[0])
    if duplicates := judged_kept - tally.rows_kept:
        tally.set_apart["duplicate"] = duplicates
    for notes, count in connection.execute("SELECT notes, count(*) FROM temp.fresh GROUP BY notes"):
        for note in notes.split():
            tally.remarks[note] += count
    _store_fresh(connection, datasets)
    connection.execute("DROP TABLE temp.fresh")
    return tally


def _judge_all(
    connection: sqlite3.Connection,
    rows: Iterator[Row],
    matcher: ExactMatcher,
    rules: QualityRules,
    fallback_dataset: str,
    progress: Callable[[int], None] | None,
) -> tuple[Tally, int]:
    tally = Tally()
    judged_kept = 0
    batch: list[tuple[object, ...]] = []
    for row in rows:
        tally.rows_read += 1
        judged = judge(row, matcher, rules, fallback_dataset=fallback_dataset)
        if judged.kept is not None:
            judged_kept += 1
            cell = cell_of(judged.kept.longitude_e7, judged.kept.latitude_e7)
            batch.append((cell, *astuple(judged.kept), " ".join(judged.notes)))
        elif judged.reason is not None:
            tally.set_apart[judged.reason] += 1
            if len(tally.examples[judged.reason]) < EXAMPLES:
                tally.examples[judged.reason].append(judged.record_key)
            if judged.reason == "not-of-store":
                tally.others[judged.name] += 1
        if tally.rows_read % _BATCH_ROWS == 0:
            _insert(connection, batch)
            if progress:
                progress(tally.rows_read)
    _insert(connection, batch)
    return tally, judged_kept


def _insert(connection: sqlite3.Connection, batch: list[tuple[object, ...]]) -> None:
    places = ", ".join("?" * 13)
    connection.executemany(
        f"INSERT OR IGNORE INTO temp.fresh (cell, {_COLUMNS}, notes) VALUES ({places})", batch
    )
    batch.clear()


def _drop_held(connection: sqlite3.Connection) -> None:
    for dataset_keys, keys in held_keys(connection):
        connection.executemany(
            "DELETE FROM temp.fresh WHERE dataset_key = ? AND record_key = ?",
            zip(dataset_keys, keys, strict=True),
        )


def _store_fresh(connection: sqlite3.Connection, datasets: Mapping[str, DatasetText]) -> None:
    plant_numbers = number_plants(connection, _distinct(connection, "plant_id"))
    dataset_numbers = number_datasets(connection, _distinct(connection, "dataset_key"), datasets)
    term_rows = connection.execute(f"SELECT DISTINCT {_TERM_COLUMNS} FROM temp.fresh").fetchall()
    term_numbers = number_terms(connection, [(row[0], row[1], row[2], row[3]) for row in term_rows])
    writer = RecordWriter(connection)
    cursor = connection.execute(f"SELECT {_COLUMNS} FROM temp.fresh ORDER BY cell, place")
    while batch := cursor.fetchmany(_BATCH_ROWS):
        dataset_keys, keys, plants, longitudes, latitudes, uncertainties, years, *terms = zip(
            *batch, strict=True
        )
        records = np.empty(len(batch), dtype=RECORD)
        records["longitude_e7"] = longitudes
        records["latitude_e7"] = latitudes
        records["plant_no"] = [plant_numbers[plant] for plant in plants]
        records["dataset_no"] = [dataset_numbers[key] for key in dataset_keys]
        records["terms_no"] = [
            term_numbers[combination] for combination in zip(*terms, strict=True)
        ]
        records["year"] = [year or 0 for year in years]
        records["uncertainty_m"] = [math.nan if value is None else value for value in uncertainties]
        cells = cells_of(
            records["longitude_e7"].astype(np.int64), records["latitude_e7"].astype(np.int64)
        )
        writer.write(Chunk(cells, records, keys))
    writer.finish()


def _distinct(connection: sqlite3.Connection, column: str) -> list[str]:
    return [row[0] for row in connection.execute(f"SELECT DISTINCT {column} FROM temp.fresh")]
