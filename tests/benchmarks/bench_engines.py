"""The same snapshot through DuckDB, Spark on this machine, and a Spark cluster of two workers.

    python -m tests.benchmarks.bench_engines [--rows 1000000] [--parts 40] [--no-cluster]

Every engine loads the same Parquet parts into a store of its own; kept rows, counts by reason and
answers to evidence questions have to be equal. Beside each stands the bare read of the parts by
the same engine. Memory is that of all processes of the engine together. Records are invented.
"""

import argparse
import hashlib
import json
import os
import random
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import duckdb

from data_loaders.occurrences import load_occurrences
from data_loaders.reference_store import load_reference
from service.store.database import Build
from service.store.occurrences import evidence
from service.values.vocabulary import PlantId
from tests.benchmarks.occurrence_download import write_download
from tests.outside import family, spark_cluster

Figures = dict[str, Any]
QUESTIONS = 50


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--parts", type=int, default=40)
    parser.add_argument("--folder", type=Path, default=None)
    parser.add_argument("--no-cluster", action="store_true")
    parser.add_argument("--step", default=None, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.step:
        engine, _, master = options.step.partition(" ")
        print(json.dumps(STEPS[engine](options.folder, master)))
        return
    with tempfile.TemporaryDirectory() as temporary:
        folder = options.folder or Path(temporary)
        write_parts(folder, options.rows, options.parts)
        run(folder, with_cluster=not options.no_cluster)


def run(folder: Path, *, with_cluster: bool) -> None:
    local = f"local[{min(2, os.cpu_count() or 1)}]"
    answers = {}
    for step in ("read-duckdb", "duckdb", f"read-spark {local}", f"spark {local}"):
        answers[step] = _step(step, folder)
    if with_cluster:
        with spark_cluster() as running:
            answers["spark, two workers"] = _step(
                f"spark {running.master}", folder, tuple(one.pid for one in running.processes)
            )
    loads = [found["answer"] for found in answers.values() if "answer" in found]
    for step, found in answers.items():
        print(
            f"{step:24s} {found['seconds']:8.1f} s   processor {found['processor']:8.1f} s"
            f"   peak {found['peak_gb']:.2f} GB"
        )
    same = all(answer == loads[0] for answer in loads)
    print(f"{loads[0]['kept']:,} rows kept; counts, blocks and evidence the same: {same}")
    if not same:
        sys.exit(1)


def write_parts(folder: Path, rows: int, parts: int) -> None:
    """The reference store, and the snapshot as Parquet in parts."""
    folder.mkdir(parents=True, exist_ok=True)
    snapshot = folder / f"snapshot-{rows}"
    (folder / "snapshot").unlink(missing_ok=True)
    (folder / "snapshot").symlink_to(snapshot.absolute())
    if snapshot.exists():
        return
    load_reference(folder / "names.db", drop_additions=True)
    with closing(Build(folder / "names.db")) as build:
        query = "SELECT accepted_name, authorship FROM plant WHERE rank = 'species'"
        plants = [tuple(row) for row in build.connection.execute(query)]
    snapshot.mkdir()
    text = folder / "part.tsv"
    for part in range(parts):
        first, end = rows * part // parts, rows * (part + 1) // parts
        write_download(text, end - first, [(name, author) for name, author in plants], first=first)
        with duckdb.connect() as database:
            database.execute(
                f"COPY (SELECT * FROM read_csv('{text}', delim = '\t', quote = '', escape = '',"
                f" header = true, all_varchar = true)) TO '{snapshot / f'{part:06d}.parquet'}'"
                " (FORMAT parquet)"
            )
    text.unlink()


def read_duckdb(folder: Path, _: str) -> Figures:
    with measured() as found, duckdb.connect() as database:
        database.execute("SET threads = 2")
        parts = f"read_parquet('{folder}/snapshot/*.parquet')"
        names = [row[0] for row in database.execute(f"DESCRIBE SELECT * FROM {parts}").fetchall()]
        cells = ", ".join(f'sum(strlen("{name}"))' for name in names)
        database.execute(f"SELECT {cells} FROM {parts}").fetchall()
    return found


def read_spark(folder: Path, master: str) -> Figures:
    from pyspark.sql import SparkSession
    from pyspark.sql.functions import length
    from pyspark.sql.functions import sum as total

    with measured() as found:
        session = SparkSession.builder.master(master).config("spark.ui.enabled", "false")
        spark = session.getOrCreate()
        frame = spark.read.parquet(str(folder / "snapshot"))
        frame.select([total(length(frame[name])) for name in frame.columns]).collect()
        spark.stop()
    return found


def load_duckdb(folder: Path, _: str) -> Figures:
    return _load(folder, "duckdb", "")


def load_spark(folder: Path, master: str) -> Figures:
    return _load(folder, "spark", master)


def _load(folder: Path, engine: str, master: str) -> Figures:
    store = folder / f"{engine}-{master.partition(':')[0].partition('[')[0]}.db"
    load_reference(store, drop_additions=True)
    with measured() as found:
        report = load_occurrences(
            store,
            [folder / "snapshot"],
            engine="spark" if engine == "spark" else "duckdb",
            master=master,
        )
    return {**found, "answer": {**_answers(store), "set_apart": dict(report.set_apart)}}


def _answers(store: Path) -> Figures:
    """Everything that was stored, and what is answered from it."""
    chance = random.Random(5)
    with closing(Build(store)) as build:
        connection = build.connection
        stored = connection.execute(
            "SELECT count(*), sum(records), sum(length(packed)) FROM occurrence_block"
        ).fetchone()
        digest = hashlib.sha256()
        query = "SELECT cell, packed, record_keys FROM occurrence_block ORDER BY cell, block_no"
        for cell, packed, keys in connection.execute(query):
            digest.update(f"{cell}\n{keys}\n".encode() + packed)
        plants = [row[0] for row in connection.execute("SELECT plant_id FROM occurrence_plant")]
        places = connection.execute("SELECT west, south FROM occurrence_box").fetchall()
        asked = [
            repr(evidence(connection, PlantId(chance.choice(plants)), *chance.choice(places)))
            for _ in range(QUESTIONS)
        ]
    return {"kept": stored[1], "blocks": stored[0], "digest": digest.hexdigest(), "evidence": asked}


@contextmanager
def measured() -> Iterator[Figures]:
    """Seconds, processor time and the most memory of this process and those that it began, with
    those named in ``BENCH_WORKERS``.
    """
    found: Figures = {}
    workers = [int(number) for number in os.environ.get("BENCH_WORKERS", "").split()]
    most, done = [0], threading.Event()

    def watch() -> None:
        while not done.wait(0.5):
            most[0] = max(most[0], sum(_memory(pid) for pid in family([os.getpid(), *workers])))

    watcher = threading.Thread(target=watch, daemon=True)
    watcher.start()
    before = sum(_processor(pid) for pid in family([os.getpid(), *workers]))
    began = time.perf_counter()
    yield found
    seconds = time.perf_counter() - began
    after = sum(_processor(pid) for pid in family([os.getpid(), *workers]))
    done.set()
    watcher.join()
    found |= {"seconds": seconds, "processor": after - before, "peak_gb": most[0] / 1e9}


def _processor(pid: int) -> float:
    """Of a process and of those it began that have ended."""
    try:
        parts = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return 0.0
    return sum(int(parts[place]) for place in (11, 12, 13, 14)) / os.sysconf("SC_CLK_TCK")


def _memory(pid: int) -> int:
    try:
        return int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE")
    except OSError:
        return 0


def _step(name: str, folder: Path, workers: tuple[int, ...] = ()) -> Figures:
    command = [sys.executable, "-m", "tests.benchmarks.bench_engines", "--step", name]
    environment = {**os.environ, "BENCH_WORKERS": " ".join(map(str, workers))}
    done = subprocess.run(
        [*command, "--folder", str(folder)],
        stdout=subprocess.PIPE,
        text=True,
        check=True,
        env=environment,
    )
    figures: Figures = json.loads(done.stdout.splitlines()[-1])
    return figures


STEPS = {
    "read-duckdb": read_duckdb,
    "duckdb": load_duckdb,
    "read-spark": read_spark,
    "spark": load_spark,
}


if __name__ == "__main__":
    main()
