"""Loading waters, finding those near a place, following the water down: each against a plain way of
doing it.

python -m tests.benchmarks.bench_geography [--lines 20000]
"""

import argparse
import math
import random
import statistics
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import networkx as nx
import pyogrio
import shapely

from data_loaders.geography.waters import load_waters
from service.geography.geodesy import nearest_position
from service.geography.trace import Start, trace
from service.store.geography import county_at
from service.store.waters import waters_near
from service.store.waters_flow import StoredNetwork
from tests.data_loaders.geography.stores import connect, fresh_store
from tests.data_loaders.geography.vector_files import write_layer

WEST, SOUTH = -84.0, 40.0
STEP = 0.01


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lines", type=int, default=20_000)
    options = parser.parse_args()
    chance = random.Random(1)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "waters.gpkg"
        _write(path, options.lines, chance)
        store = fresh_store(Path(folder))
        bare = _seconds(
            lambda: [
                pyogrio.raw.read(path, layer=layer)
                for layer in ("NHDFlowline", "NHDWaterbody", "NHDFlow")
            ]
        )
        load = _seconds(lambda: load_waters(store, [path]))
        rows = options.lines + options.lines // 4
        print(
            f"load: {rows:,} features in {load:.1f} s, {rows / load:,.0f} a second; {load / bare:.0f} times the bare read"
        )
        _near(store, chance)
        _down(store, options.lines)
        _place(store, chance)


def _write(path: Path, lines: int, chance: random.Random) -> None:
    """A tree of streams on a grid, each line to one nearer the mouth, and a pond beside every
    fourth.
    """
    side = math.isqrt(lines)
    places = [(WEST + STEP * (n % side), SOUTH + STEP * (n // side)) for n in range(lines + 1)]
    below = [0] + [
        max(0, n - (1 if n % side and chance.random() < 0.5 else side)) for n in range(1, lines + 1)
    ]
    shapes = [_winding(places[n], places[below[n]], chance) for n in range(1, lines + 1)]
    ids = [str(n) for n in range(1, lines + 1)]
    write_layer(
        path, "NHDFlowline", shapes, {"permanent_identifier": ids, "fcode": [46006] * lines}
    )
    ponds = [
        shapely.Point(places[n][0] + 0.004, places[n][1] + 0.004).buffer(0.0008)
        for n in range(1, lines, 4)
    ]
    write_layer(
        path,
        "NHDWaterbody",
        ponds,
        {
            "permanent_identifier": [f"p{n}" for n in range(len(ponds))],
            "fcode": [39004] * len(ponds),
        },
    )
    pairs = [(str(n), str(below[n])) for n in range(1, lines + 1) if below[n]]
    columns = {
        "from_permanent_identifier": [a for a, _ in pairs],
        "to_permanent_identifier": [b for _, b in pairs],
    }
    write_layer(path, "NHDFlow", None, columns)


def _winding(
    start: tuple[float, float], end: tuple[float, float], chance: random.Random
) -> shapely.LineString:
    inner = [
        (
            start[0] + share * (end[0] - start[0]) + chance.uniform(-1e-3, 1e-3),
            start[1] + share * (end[1] - start[1]) + chance.uniform(-1e-3, 1e-3),
        )
        for share in (n / 30 for n in range(1, 30))
    ]
    return shapely.LineString([start, *inner, end])


def _near(store: Path, chance: random.Random) -> None:
    connection = connect(store)
    parts = [
        shapely.from_wkb(row["geometry"])
        for row in connection.execute("SELECT geometry FROM water_part")
    ]
    sites = [
        (WEST + chance.uniform(0.2, 1.0), SOUTH + chance.uniform(0.2, 1.0)) for _ in range(200)
    ]
    for within_m in (500.0, 5_000.0, 25_000.0):
        indexed = [_seconds(partial(waters_near, connection, *site, within_m)) for site in sites]
        brute = _seconds(lambda: [nearest_position(part, *sites[0]).distance_m for part in parts])
        middle, slow = statistics.median(indexed), sorted(indexed)[int(0.99 * len(indexed))]
        ratio = brute / middle
        print(
            f"near within {within_m:,.0f} m: median {middle * 1e3:.1f} ms, p99 {slow * 1e3:.1f} ms; brute force takes {ratio:,.0f} times"
        )
    connection.close()


def _down(store: Path, lines: int) -> None:
    connection = connect(store)
    start = f"nhd:{lines}"
    graph: nx.DiGraph[str] = nx.DiGraph()
    lengths = {
        row["flowline_id"]: row["length_m"]
        for row in connection.execute("SELECT flowline_id, length_m FROM flowline")
    }
    for row in connection.execute("SELECT from_id, to_id FROM flow_link"):
        graph.add_edge(row["from_id"], row["to_id"], weight=lengths[row["from_id"]])
    in_memory = _seconds(lambda: nx.single_source_dijkstra_path_length(graph, start))
    stored = _seconds(lambda: trace(StoredNetwork(connection), [Start(start, 0.0)]))
    reached = trace(StoredNetwork(connection), [Start(start, 0.0)]).lines
    print(
        f"down {len(reached):,} lines: {stored * 1e3:.1f} ms from the store; {stored / in_memory:.0f} times networkx in memory"
    )
    mouth = reached[-1].flowline_id
    upstream = trace(StoredNetwork(connection), [Start(mouth, 0.0)], direction="upstream")
    took = _seconds(
        lambda: trace(StoredNetwork(connection), [Start(mouth, 0.0)], direction="upstream")
    )
    print(f"up {len(upstream.lines):,} lines: {took:.2f} s")
    connection.close()


def _place(store: Path, chance: random.Random) -> None:
    connection = connect(store)
    outlines = [
        shapely.from_wkb(row["geometry"])
        for row in connection.execute("SELECT geometry FROM boundary WHERE fips IS NOT NULL")
    ]
    sites = [(chance.uniform(-120, -75), chance.uniform(28, 48)) for _ in range(200)]
    indexed = [_seconds(partial(county_at, connection, *site)) for site in sites]
    brute = _seconds(
        lambda: [
            outline for outline in outlines if shapely.covers(outline, shapely.Point(sites[0]))
        ]
    )
    middle = statistics.median(indexed)
    print(
        f"county of a place: median {middle * 1e3:.2f} ms; asking every county takes {brute / middle:,.0f} times"
    )
    connection.close()


def _seconds(call: Callable[[], object]) -> float:
    begun = time.perf_counter()
    call()
    return time.perf_counter() - begun


if __name__ == "__main__":
    main()
