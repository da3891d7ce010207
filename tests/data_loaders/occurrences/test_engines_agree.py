"""DuckDB and Spark keep the same rows and count the same flaws; Spark in its local mode."""

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import duckdb
import pytest

from data_loaders.occurrences import QualityRules, StoreNames, load_occurrences
from data_loaders.occurrences.duck import DuckEngine
from data_loaders.occurrences.load import EngineName
from data_loaders.occurrences.places import known_points, tiles
from data_loaders.occurrences.rules import KEPT_COLUMNS
from data_loaders.occurrences.spark import SparkEngine
from data_loaders.occurrences.tables import inspect
from data_loaders.progress import Meter
from service.store.database import Build
from tests.data_loaders.occurrences.files import (
    FORMS,
    write_csv,
    write_events,
    write_parquet,
    write_tsv,
)
from tests.data_loaders.occurrences.snapshots import mixture, needs_spark
from tests.data_loaders.occurrences.stores import make_store
from tests.data_loaders.occurrences.test_load import mixed_records
from tests.data_loaders.occurrences.test_rules_agree import Writer

pytestmark = needs_spark


@pytest.fixture(scope="module")
def engines(
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[tuple[DuckEngine, SparkEngine, Path]]:
    """Both engines over one store's names."""
    folder = tmp_path_factory.mktemp("engines")
    build = Build(make_store(folder / "store.db"))
    names, points = StoreNames(build.connection), tiles(known_points(build.connection))
    duck = DuckEngine(names, QualityRules(), points, folder)
    with SparkEngine(names, QualityRules(), points, folder, "local[2]") as spark:
        yield duck, spark, folder
    build.close()


def rows(path: Path) -> list[tuple[object, ...]]:
    with duckdb.connect() as database:
        kept = f"SELECT {', '.join(KEPT_COLUMNS)} FROM read_parquet('{path}') WHERE reason < 0"
        found = database.execute(kept).fetchall()
    return sorted(found, key=repr)


@pytest.mark.parametrize("write", [write_tsv, write_csv, write_parquet])
def test_both_engines_give_the_same_rows_counts_and_reasons(
    engines: tuple[DuckEngine, SparkEngine, Path], tmp_path: Path, write: Writer
) -> None:
    duck, spark, _ = engines
    table = inspect(write(tmp_path / "records", mixture(3_000)))
    by_duck = duck.judge(table, tmp_path / "duck.parquet", Meter("duck", None))
    by_spark = spark.judge(table, tmp_path / "spark.parquet", Meter("spark", None))
    assert by_duck == by_spark
    assert len(by_duck.set_apart) >= 12
    kept = rows(tmp_path / "duck.parquet")
    assert kept == rows(tmp_path / "spark.parquet")
    assert len(kept) == by_duck.rows_read - sum(by_duck.set_apart.values())


@pytest.mark.parametrize("form", ["download.tsv.gz", "download.zip", "archive.zip", "events.zip"])
def test_a_load_with_spark_makes_the_same_store(tmp_path: Path, form: str) -> None:
    records = mixed_records()
    stores = []
    engines: tuple[EngineName, ...] = ("duckdb", "spark")
    for engine in engines:
        store = make_store(tmp_path / f"{engine}.db")
        path = tmp_path / form
        _ = write_events(path) if form == "events.zip" else FORMS[form](path, records)
        report = load_occurrences(store, [path], engine=engine, master="local[1]")
        build = Build(store)
        blocks = build.connection.execute("SELECT * FROM occurrence_block").fetchall()
        stores.append((Counter(report.set_apart), report.remarks, [tuple(row) for row in blocks]))
        build.close()
    assert stores[0] == stores[1]
