"""Occurrence records: loading a large download, and evidence from millions of records.

    python -m tests.benchmarks.bench_occurrences [--rows 5000000] [--folder FOLDER]

Loading is compared with DuckDB merely reading every cell of the same file, and with csv and
sqlite-utils on a slice (scaled to the whole, which favours them: their tables grow slower as they
fill). Evidence is compared with measuring every record of the store. All records are invented.
"""

import argparse
import csv
import json
import os
import random
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from itertools import islice
from pathlib import Path
from statistics import median, quantiles
from typing import ParamSpec

import duckdb
import numpy as np
import sqlite_utils

from data_loaders.build import keep_pieces, kept_pieces
from data_loaders.occurrences import load_occurrences
from data_loaders.reference_store import load_reference
from service.store.cells import distances_m, unpack
from service.store.database import Build
from service.store.occurrences import evidence
from service.values.evidence import RING_RADII_M
from service.values.vocabulary import PlantId
from tests.benchmarks.occurrence_download import write_download

Arguments = ParamSpec("Arguments")
Figures = dict[str, float]
QUERIES = 400
BRUTE_QUERIES = 5
SLICE_ROWS = 100_000
SMALL_ROWS = 50_000


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=5_000_000)
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument(
        "--folder", type=Path, default=None, help="keep the files here, and use those that are here"
    )
    parser.add_argument("--step", choices=list(STEPS), default=None, help=argparse.SUPPRESS)
    arguments = parser.parse_args()
    if arguments.step:
        print(json.dumps(STEPS[arguments.step](arguments.folder, arguments.rows)))
        return
    with tempfile.TemporaryDirectory() as temporary:
        run(arguments.folder or Path(temporary), arguments.rows, arguments.repeats)


def run(folder: Path, rows: int, repeats: int) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    download = folder / f"download-{rows}.tsv"
    load_reference(folder / "store.db", drop_additions=True)
    if not download.exists():
        with closing(Build(folder / "store.db")) as build:
            plants = build.connection.execute(
                "SELECT accepted_name, authorship FROM plant WHERE rank = 'species'"
            ).fetchall()
        write_download(download, rows, [(name, author) for name, author in plants])
    print(f"{rows:,} rows, {download.stat().st_size / 1e9:.2f} GB, 50 columns, tabs")
    # The machine may be shared: each is run several times, turn and turn about, and the quickest
    # run counts.
    turns = [
        {name: step(name, folder, rows) for name in ("bare", "load", "plain")}
        for _ in range(repeats)
    ]
    bare, loaded, plain = (
        min((turn[name] for turn in turns), key=lambda figures: figures["seconds"])
        for name in ("bare", "load", "plain")
    )
    asked = step("evidence", folder, rows)
    small = [
        {name: step(name, folder, rows) for name in ("small-on-empty", "small-on-full")}
        for _ in range(repeats)
    ]

    print(
        f"DuckDB reads every cell     {bare['seconds']:8.1f} s   {rows / bare['seconds']:10,.0f} rows/s   peak {bare['peak_gb']:.2f} GB"
    )
    print(
        f"load into the store         {loaded['seconds']:8.1f} s   {rows / loaded['seconds']:10,.0f} rows/s   peak {loaded['peak_gb']:.2f} GB"
        f"   {loaded['kept']:,.0f} kept, store {loaded['store_gb']:.2f} GB"
    )
    print(
        f"csv + sqlite-utils, scaled  {plain['seconds']:8.1f} s   {rows / plain['seconds']:10,.0f} rows/s"
        f"   (measured on {min(rows, SLICE_ROWS):,} rows)"
    )
    print(
        f"load / bare read            {loaded['seconds'] / bare['seconds']:8.2f}     (goal: at most 3)"
    )
    for what in ("seconds", "processor"):
        empty, full = (
            min(turn[name][what] for turn in small) for name in ("small-on-empty", "small-on-full")
        )
        print(
            f"{SMALL_ROWS:,} rows on that store {full:.2f} s, on an empty one {empty:.2f} s,"
            f" {what}: {full / empty:.2f} (goal: at most 1.5)"
        )
    least = {name: min(turn[name]["processor"] for turn in turns) for name in ("bare", "load")}
    print(
        f"the same in processor time  {least['load'] / least['bare']:8.2f}     ({least['load']:.1f} s against {least['bare']:.1f} s;"
        " on a shared machine the steadier figure)"
    )
    print(f"csv + sqlite-utils / load   {plain['seconds'] / loaded['seconds']:8.2f}")
    print(
        f"evidence on {asked['records']:,.0f} records: median {asked['median_ms']:.1f} ms, p99 {asked['p99_ms']:.1f} ms,"
        f" measuring every record {asked['brute_ms']:,.0f} ms: {asked['brute_ms'] / asked['median_ms']:,.0f} times the median"
    )
    print(f"opening the store           {asked['open_ms']:8.0f} ms")


def step(name: str, folder: Path, rows: int) -> Figures:
    """Run one step in a process of its own, so that its peak memory is its own."""
    command = [
        sys.executable,
        "-m",
        "tests.benchmarks.bench_occurrences",
        "--step",
        name,
        "--folder",
        str(folder),
        "--rows",
        str(rows),
    ]
    done = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=True)
    figures: Figures = json.loads(done.stdout.splitlines()[-1])
    return figures


def bare_read(folder: Path, rows: int) -> Figures:
    download = folder / f"download-{rows}.tsv"
    began = time.perf_counter()
    with duckdb.connect() as database:
        database.execute("SET threads = 2")
        columns = len(download.open(encoding="utf-8").readline().split("\t"))
        cells = " + ".join(f"sum(strlen(c{place}))" for place in range(columns))
        kinds = ", ".join(f"'c{place}': 'VARCHAR'" for place in range(columns))
        database.execute(
            f"SELECT {cells} FROM read_csv('{download}', auto_detect = false, header = false, skip = 1, delim = '\t',"
            f" quote = '', escape = '', columns = {{{kinds}}})"
        ).fetchall()
    return {
        "seconds": time.perf_counter() - began,
        "processor": time.process_time(),
        "peak_gb": peak_gb(),
    }


def load(folder: Path, rows: int) -> Figures:
    store = folder / "store.db"
    load_reference(store, drop_additions=True)
    began, worked = time.perf_counter(), time.process_time()
    report = load_occurrences(store, [folder / f"download-{rows}.tsv"])
    seconds, processor = time.perf_counter() - began, time.process_time() - worked
    assert report.rows_read == rows == report.rows_kept + sum(report.set_apart.values())
    return {
        "seconds": seconds,
        "processor": processor,
        "peak_gb": peak_gb(),
        "kept": report.rows_kept,
        "store_gb": store.stat().st_size / 1e9,
    }


def small_on_empty(folder: Path, rows: int) -> Figures:
    """A small load on a store without records."""
    empty = folder / "empty.db"
    load_reference(empty, drop_additions=True)
    return _small(folder, empty)


def small_on_full(folder: Path, rows: int) -> Figures:
    """The same load on the store of the large one."""
    store, full = folder / "store.db", folder / "full.db"
    shutil.copyfile(store, full)
    # The copy is as the load left the store: its pieces are known, and it is not read through.
    pieces = kept_pieces(store)
    if pieces is not None:
        keep_pieces(full, pieces)
    return _small(folder, full)


def _small(folder: Path, store: Path) -> Figures:
    table = folder / f"small-{SMALL_ROWS}.tsv"
    if not table.exists():
        with closing(Build(store)) as build:
            plants = build.connection.execute(
                "SELECT accepted_name, authorship FROM plant WHERE rank = 'species'"
            ).fetchall()
        write_download(table, SMALL_ROWS, [(name, author) for name, author in plants])
        text = table.read_text(encoding="utf-8")
        table.write_text(text.replace("https://", "https://small."), encoding="utf-8")
    os.sync()  # what the benchmark wrote itself is not waited for
    began, worked = time.perf_counter(), time.process_time()
    report = load_occurrences(store, [table])
    assert report.rows_read == SMALL_ROWS
    return {
        "seconds": time.perf_counter() - began,
        "processor": time.process_time() - worked,
        "kept": report.rows_kept,
    }


def plain_load(folder: Path, rows: int) -> Figures:
    """The obvious script: csv, a check of the name and the coordinates, sqlite-utils, one index."""
    target = folder / "plain.db"
    target.unlink(missing_ok=True)
    wanted = [
        "gbifID",
        "datasetKey",
        "scientificName",
        "decimalLatitude",
        "decimalLongitude",
        "coordinateUncertaintyInMeters",
        "year",
        "license",
    ]
    began = time.perf_counter()
    database = sqlite_utils.Database(target)
    with (folder / f"download-{rows}.tsv").open(encoding="utf-8", newline="") as stream:
        reader = csv.DictReader(stream, delimiter="\t", quoting=csv.QUOTE_NONE)
        kept = (
            {column: row[column] for column in wanted}
            for row in islice(reader, SLICE_ROWS)
            if row["decimalLatitude"]
        )
        database.table("occurrence").insert_all(kept, pk="gbifID")
    database.table("occurrence").create_index(["decimalLatitude"])
    database.close()
    seconds = time.perf_counter() - began
    target.unlink()
    return {"seconds": seconds * rows / min(rows, SLICE_ROWS)}


def ask(folder: Path, rows: int) -> Figures:
    began = time.perf_counter()
    build = Build(folder / "store.db")
    open_ms = (time.perf_counter() - began) * 1_000
    connection = build.connection
    plants = [
        PlantId(row[0]) for row in connection.execute("SELECT plant_id FROM occurrence_plant")
    ]
    weighted = connection.execute(
        "SELECT (west + east) / 2, (south + north) / 2, records FROM occurrence_box"
    ).fetchall()
    draw = random.Random(8)
    # Half where records are many, half anywhere that has any.
    places = draw.choices(weighted, [row[2] for row in weighted], k=QUERIES // 2) + draw.choices(
        weighted, k=QUERIES // 2
    )
    times = [
        timed(evidence, connection, draw.choice(plants), place[0], place[1]) for place in places
    ]
    brute = [timed(measure_all, build, place[0], place[1]) for place in places[:BRUTE_QUERIES]]
    records = connection.execute("SELECT sum(records) FROM occurrence_block").fetchone()[0]
    return {
        "median_ms": median(times) * 1_000,
        "p99_ms": quantiles(times, n=100)[98] * 1_000,
        "brute_ms": median(brute) * 1_000,
        "records": records,
        "open_ms": open_ms,
    }


def measure_all(build: Build, longitude: float, latitude: float) -> list[int]:
    """Counts in the rings by the distance of every record."""
    records = unpack(
        [row[0] for row in build.connection.execute("SELECT packed FROM occurrence_block")]
    )
    distances = distances_m(
        longitude, latitude, records["longitude_e7"] / 1e7, records["latitude_e7"] / 1e7
    )
    return [int(np.count_nonzero(distances <= radius_m)) for radius_m in RING_RADII_M]


def timed(
    work: Callable[Arguments, object], *arguments: Arguments.args, **named: Arguments.kwargs
) -> float:
    began = time.perf_counter()
    work(*arguments, **named)
    return time.perf_counter() - began


def peak_gb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 / 1e9


STEPS: dict[str, Callable[[Path, int], Figures]] = {
    "bare": bare_read,
    "load": load,
    "plain": plain_load,
    "evidence": ask,
    "small-on-empty": small_on_empty,
    "small-on-full": small_on_full,
}


if __name__ == "__main__":
    main()
