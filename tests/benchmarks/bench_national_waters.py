"""Waters at national size in the one sealed file: loading, its size, asking it.

    python -m tests.benchmarks.bench_national_waters [--lines 3000000] [--folder FOLDER] [--rows]

With ``--rows`` the rows go straight into the tables, in minutes and not in hours: for the size of
the file and for asking it. The loader's own time and memory a line are those of fewer lines.

About as many flowlines as the whole national network in the medium resolution has, as long as its
lines are on average (some two kilometres), over the lower 48 states. The network is invented: a
forest of streams on a grid that drain south, with path numbers as the national data have them.
"""

import argparse
import json
import math
import random
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from functools import partial
from pathlib import Path
from statistics import median, quantiles

import numpy as np
import pyogrio
import shapely
from numpy.typing import NDArray

from data_loaders.build import drafting
from data_loaders.geography.waters import load_waters
from data_loaders.progress import LoadProgress
from service.geography.trace import Start, trace
from service.store.database import Build
from service.store.waters import waters_near
from service.store.waters_flow import StoredNetwork
from tests.data_loaders.geography.stores import fresh_store

WEST, SOUTH, WIDE, TALL = -123.0, 26.0, 55.0, 22.0
STEP = 0.0201
"""Degrees between places, whatever the number of lines: fewer of them fill a corner."""
VERTICES = 12
BATCH = 200_000
QUERIES = 300

Numbers = NDArray[np.int64]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lines", type=int, default=3_000_000)
    parser.add_argument("--folder", type=Path, default=None)
    parser.add_argument("--rows", action="store_true", help="rows into the tables, no loader")
    parser.add_argument(
        "--step", choices=["load", "fill", "ask"], default=None, help=argparse.SUPPRESS
    )
    options = parser.parse_args()
    if options.step == "load":
        print(json.dumps(load(options.folder)))
    elif options.step == "fill":
        print(json.dumps(fill(options.folder, options.lines)))
    elif options.step == "ask":
        print(json.dumps(ask(options.folder, options.lines)))
    elif options.folder:
        run(options.folder, options.lines, rows=options.rows)
    else:
        with tempfile.TemporaryDirectory() as folder:
            run(Path(folder), options.lines, rows=options.rows)


def run(folder: Path, lines: int, *, rows: bool) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "national.gpkg"
    if not rows and not path.exists():
        began = time.perf_counter()
        write_network(path, lines)
        print(f"written: {path.stat().st_size / 1e9:.2f} GB, {time.perf_counter() - began:.0f} s")
    loaded = _step("fill" if rows else "load", folder, lines)
    print(
        f"{'rows' if rows else 'load'}: {lines:,} lines in {loaded['seconds']:,.0f} s ({loaded['processor']:,.0f} s of"
        f" processor time), peak {loaded['peak_gb']:.2f} GB"
        f" ({loaded['peak_gb'] * 1e9 / lines:,.0f} bytes a line), store {loaded['store_gb']:.2f} GB"
        f" ({loaded['store_gb'] * 1e9 / lines:,.0f} bytes a line)"
    )
    asked = _step("ask", folder, lines)
    print(f"opening, with its seal: {asked['open_s']:.1f} s")
    for what in ("near 1 km", "near 5 km", "near 25 km", "down"):
        print(f"{what}: median {asked[f'{what} median']:.1f} ms, p99 {asked[f'{what} p99']:.1f} ms")
    print(
        f"lines down to the mouth: median {asked['reached']:,.0f}; peak {asked['peak_gb']:.2f} GB"
    )


def _step(name: str, folder: Path, lines: int) -> dict[str, float]:
    """In a process of its own, so that its peak memory is its own."""
    command = [sys.executable, "-m", __spec__.name if __spec__ else "", "--step", name]
    command += ["--folder", str(folder), "--lines", str(lines)]
    done = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=True)
    figures: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return figures


class Network:
    """Each line from its own place to the next one south, south-east or south-west of it; those of
    the southern row end at the coast. Of the lines that meet the one of the lowest number is the
    main one, and has the path number of the line below.
    """

    def __init__(self, lines: int) -> None:
        self._chance = np.random.default_rng(1)
        across = math.isqrt(int(lines * WIDE / TALL))
        numbers: Numbers = np.arange(lines, dtype=np.int64)
        self._row, self._column = numbers // across, numbers % across
        self._to_column = np.clip(self._column + self._chance.integers(-1, 2, lines), 0, across - 1)
        self.below = np.where(self._row > 0, (self._row - 1) * across + self._to_column, -1)
        upside_down = self.below[::-1]
        main_child = np.full(lines, -1, dtype=np.int64)
        main_child[upside_down[upside_down >= 0]] = numbers[::-1][upside_down >= 0]
        self.level = numbers.copy()
        for first in range(across, lines, across):  # row by row, from the coast up
            here = numbers[first : first + across]
            follows = main_child[self.below[here]] == here
            self.level[here[follows]] = self.level[self.below[here[follows]]]
        self.lines = lines

    def batches(self) -> Iterator[tuple[Numbers, NDArray[np.float64]]]:
        """Numbers of lines, and their vertices."""
        for first in range(0, self.lines, BATCH):
            here = np.arange(first, min(first + BATCH, self.lines), dtype=np.int64)
            row, column, to_column = self._row[here], self._column[here], self._to_column[here]
            start = np.stack([WEST + STEP * column, SOUTH + STEP * row], axis=1)
            target = np.stack([WEST + STEP * to_column, SOUTH + STEP * (row - 1)], axis=1)
            shares = np.linspace(0, 1, VERTICES)[None, :, None]
            points = start[:, None, :] + shares * (target - start)[:, None, :]
            inner = (len(here), VERTICES - 2, 2)
            points[:, 1:-1] += self._chance.uniform(-STEP / 20, STEP / 20, inner)
            yield here, points


def write_network(path: Path, lines: int) -> None:
    """A file as the national data are distributed."""
    network = Network(lines)
    for here, points in network.batches():
        level = network.level[here]
        columns = {
            "comid": here + 1,
            "gnis_name": np.array([f"Invented Creek {n}" for n in level % 9_973], object),
            "fcode": np.full(len(here), 46006),
            "hydroseq": here + 1,
            "dnhydroseq": network.below[here] + 1,
            "levelpathi": level + 1,
            "streamorde": np.ones(len(here), dtype=np.int64),
        }
        pyogrio.raw.write(
            path,
            shapely.to_wkb(shapely.linestrings(points)),
            list(columns.values()),
            list(columns),
            layer="NHDFlowline",
            driver="GPKG",
            geometry_type="LineString",
            crs="EPSG:4269",
            append=path.exists(),
        )


def fill(folder: Path, lines: int) -> dict[str, float]:
    """The same network as rows of the tables."""
    network = Network(lines)
    (folder / "store.db").unlink(missing_ok=True)
    store = fresh_store(folder)
    began, worked = time.perf_counter(), time.process_time()
    with drafting(store, on_top=True) as draft:
        put = draft.connection.executemany
        source = {"source_id": "waters:invented", "kind": "waters", "title": "Invented"}
        draft.db.table("source").insert({**source, "sha256": "0" * 64})
        for here, points in network.batches():
            ids, level = (here + 1).tolist(), (network.level[here] + 1).tolist()
            shapes = shapely.to_wkb(shapely.linestrings(points))
            west, south = points.min(axis=1).T.tolist()
            east, north = points.max(axis=1).T.tolist()
            begins = points[:, 0].tolist()
            put(
                "INSERT INTO water VALUES (?, ?, 'stream', 'moving', '46006', ?, ?, NULL, 2300,"
                " 'waters:invented')",
                [
                    (f"path:{own}", f"Invented Creek {own % 9_973}", *place)
                    for own, of, place in zip(ids, level, begins, strict=True)
                    if own == of
                ],
            )
            put(
                "INSERT INTO water_part VALUES (?, ?, 0, ?, 'waters:invented')",
                [
                    (own, f"path:{of}", shape)
                    for own, of, shape in zip(ids, level, shapes, strict=True)
                ],
            )
            put(
                "INSERT INTO water_box VALUES (?, ?, ?, ?, ?)",
                zip(ids, west, east, south, north, strict=True),
            )
            put(
                "INSERT INTO flowline VALUES (?, ?, 2300, NULL)",
                [(f"nhd:{own}", own) for own in ids],
            )
            put(
                "INSERT INTO flowline_state VALUES (?, 0, 'US-KS', 2300, 0)",
                [(f"nhd:{own}",) for own in ids],
            )
            put(
                "INSERT INTO flow_link VALUES (?, ?, 1, 0, NULL, 'sequence', 'waters:invented')",
                [
                    (f"nhd:{own}", f"nhd:{below + 1}")
                    for own, below in zip(ids, network.below[here].tolist(), strict=True)
                    if below >= 0
                ],
            )
            print(f"{ids[-1]:,} lines, {time.perf_counter() - began:,.0f} s", file=sys.stderr)
    return _figures(store, began, worked)


def load(folder: Path) -> dict[str, float]:
    (folder / "store.db").unlink(missing_ok=True)
    store = fresh_store(folder)
    began, worked = time.perf_counter(), time.process_time()

    def tell(at: LoadProgress) -> None:
        if at.rows % BATCH == 0:
            print(f"{at.rows:,} read, {time.perf_counter() - began:,.0f} s", file=sys.stderr)

    load_waters(store, [folder / "national.gpkg"], progress=tell)
    return _figures(store, began, worked)


def _figures(store: Path, began: float, worked: float) -> dict[str, float]:
    return {
        "seconds": time.perf_counter() - began,
        "processor": time.process_time() - worked,
        "peak_gb": _peak_gb(),
        "store_gb": store.stat().st_size / 1e9,
    }


def ask(folder: Path, lines: int) -> dict[str, float]:
    chance = random.Random(2)
    across = math.isqrt(int(lines * WIDE / TALL))
    wide, tall = STEP * across, STEP * (lines // across)
    began = time.perf_counter()
    with closing(Build(folder / "store.db")) as build:
        figures = {"open_s": time.perf_counter() - began}
        connection = build.connection
        for kilometres in (1, 5, 25):
            times = []
            for _ in range(QUERIES):
                site = WEST + chance.random() * wide, SOUTH + chance.random() * tall
                times.append(_ms(partial(waters_near, connection, *site, kilometres * 1_000.0)))
            figures |= _told(f"near {kilometres} km", times)
        first = connection.execute("SELECT flowline_id FROM flowline LIMIT 1").fetchone()[0]
        prefix = first.rpartition(":")[0]
        times, reached = [], []
        for _ in range(QUERIES // 3):
            start = Start(f"{prefix}:{chance.randrange(lines) + 1}", 0.0)
            began = time.perf_counter()
            reached.append(len(trace(StoredNetwork(connection), [start]).lines))
            times.append((time.perf_counter() - began) * 1_000)
        figures |= _told("down", times)
        return {**figures, "reached": float(median(reached)), "peak_gb": _peak_gb()}


def _told(what: str, times: list[float]) -> dict[str, float]:
    return {f"{what} median": median(times), f"{what} p99": quantiles(times, n=100)[98]}


def _ms(call: Callable[[], object]) -> float:
    began = time.perf_counter()
    call()
    return (time.perf_counter() - began) * 1_000


def _peak_gb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1_024 / 1e9


if __name__ == "__main__":
    main()
