"""One invented snapshot in Parquet parts for the tests of faults under a load, with what a load of it
gives, and what tests with Spark need.
"""

import importlib.util
import os
import shutil
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any

import pytest

from data_loaders.occurrences.duck import DuckEngine
from data_loaders.occurrences.judged import JudgedPart
from data_loaders.occurrences.judging import Engine
from data_loaders.occurrences.load import EngineName
from data_loaders.occurrences.spark import SparkEngine
from data_loaders.occurrences.tables import RecordTable
from data_loaders.progress import Meter
from data_loaders.report import LoadReport
from service.store.database import Build
from tests.data_loaders.occurrences.files import Cells, record, write_parquet
from tests.data_loaders.occurrences.test_rules_agree import CELLS

_MISSING = [
    what
    for what, there in (
        ("pyspark", importlib.util.find_spec("pyspark")),
        ("sqlglot", importlib.util.find_spec("sqlglot")),
        ("Java", shutil.which("java")),
    )
    if not there
]
needs_spark = pytest.mark.skipif(
    bool(_MISSING) and "CI" not in os.environ,
    reason=f"not installed: {', '.join(_MISSING)} (pip install 'reedgate[spark]')",
)
os.environ.setdefault("JAVA_TOOL_OPTIONS", "-XX:TieredStopAtLevel=1")  # for short runs
ENGINES: dict[EngineName, type[DuckEngine] | type[SparkEngine]] = {
    "duckdb": DuckEngine,
    "spark": SparkEngine,
}

Content = tuple[Counter[str], Counter[str], list[tuple[object, ...]]]
"""Rows set apart and remarks, by reason; the blocks of records."""


def mixture(count: int, first: int = 0) -> list[Cells]:
    """Good records, many of them with up to three odd cells."""
    random = Random(7 + first)
    records = []
    for number in range(first, first + count):
        odd = random.sample(sorted(CELLS), random.choice([0, 0, 1, 1, 2, 3]))
        records.append(record(number, **{term: random.choice(CELLS[term]) for term in odd}))
    return records


ODD = tuple(f"{part:06d}.parquet" for part in range(6))
PLAIN = ("000006.parquet", "000007.parquet")
ROWS = dict.fromkeys(ODD, 3_000) | dict.fromkeys(PLAIN, 1_500)
"""Rows by part."""


def write_snapshot(folder: Path) -> Path:
    """Eight parts: six whose numbers are text, and two, of other columns then, that are sound
    throughout. What is alike is judged together.
    """
    folder.mkdir()
    first = 0
    for name, rows in ROWS.items():
        plain = [record(number) for number in range(first, first + rows)]
        write_parquet(folder / name, plain if name in PLAIN else mixture(rows, first))
        first += rows
    return folder


def spoil(part: Path) -> None:
    """Nothing where rows are, as a disk gives it back that has lost a piece; the end, where Parquet
    says what is where, is whole.
    """
    whole = bytearray(part.read_bytes())
    whole[4 : len(whole) // 2] = bytes(len(whole) // 2 - 4)
    part.write_bytes(whole)


def content(store: Path, report: LoadReport) -> Content:
    """What a load brought."""
    build = Build(store)
    rows = build.connection.execute("SELECT * FROM occurrence_block").fetchall()
    build.close()
    return Counter(report.set_apart), Counter(report.remarks), [tuple(row) for row in rows]


@dataclass(frozen=True)
class Snapshot:
    """The parts, and what a load gives that nothing befalls."""

    folder: Path
    expected: Content


@dataclass
class Watched:
    """Parts that an engine was given, batch by batch, and whether it judged them to the end."""

    begun: list[tuple[str, ...]] = field(default_factory=list)
    done: list[tuple[str, ...]] = field(default_factory=list)


def watch(engine: EngineName, monkeypatch: pytest.MonkeyPatch) -> Watched:
    """From now on, of every load of this process."""
    watched, kind = Watched(), ENGINES[engine]
    judge: Any = kind.judge

    def watching(self: Engine, table: RecordTable, target: Path, meter: Meter) -> JudgedPart:
        names = tuple(path.name for path in (table.path, *table.more))
        watched.begun.append(names)
        judged: JudgedPart = judge(self, table, target, meter)
        watched.done.append(names)
        return judged

    monkeypatch.setattr(kind, "judge", watching)
    return watched


def left_beside(store: Path) -> list[str]:
    """Files of its own that a load left."""
    return sorted(path.name for path in store.parent.glob(f".{store.name}.*"))
