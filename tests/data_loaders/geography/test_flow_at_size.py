"""Flow over a network of five thousand lines: as networkx has it from the same attributes."""

import random
from pathlib import Path

import networkx as nx
import pytest

from data_loaders.geography import waters
from data_loaders.geography.waters import load_waters
from service.errors import BadFile
from service.geography.trace import Start, trace
from service.store.waters_flow import StoredNetwork
from tests.benchmarks.bench_national_waters import Network, write_network
from tests.data_loaders.geography.stores import connect, fresh_store

LINES = 5_200


def test_every_way_down_and_up_is_that_of_networkx(tmp_path: Path) -> None:
    path = tmp_path / "network.gpkg"
    write_network(path, LINES)
    store = fresh_store(tmp_path)
    report = load_waters(store, [path])
    assert report.totals["flowlines"] == LINES
    below = Network(LINES).below
    connection = connect(store)
    rows = connection.execute("SELECT flowline_id, length_m FROM flowline").fetchall()
    length_m = {row["flowline_id"]: row["length_m"] for row in rows}
    prefix = rows[0]["flowline_id"].rpartition(":")[0]
    down: nx.DiGraph[str] = nx.DiGraph()
    for number, lower in enumerate(below.tolist(), start=1):
        if lower >= 0:
            above = f"{prefix}:{number}"
            down.add_edge(above, f"{prefix}:{lower + 1}", weight=length_m[above])
    assert report.totals["links by sequence"] == down.number_of_edges()
    chance = random.Random(3)
    starts = chance.sample(sorted(length_m), 40)
    up = down.reverse()
    for above, lower, weights in up.edges(data=True):
        weights["weight"] = length_m[above]
        assert lower in length_m
    for start in starts:
        found = trace(StoredNetwork(connection), [Start(start, 0.0)], max_m=1e9)
        expected = nx.single_source_dijkstra_path_length(down, start)
        assert {line.flowline_id: line.from_m for line in found.lines} == pytest.approx(expected)
        along_m = length_m[start]
        found = trace(
            StoredNetwork(connection), [Start(start, along_m)], direction="upstream", max_m=1e9
        )
        expected = nx.single_source_dijkstra_path_length(up, start)
        assert {line.flowline_id: line.from_m for line in found.lines} == pytest.approx(expected)
    assert max(len(nx.descendants(up, start)) for start in starts) > 100
    connection.close()


def test_more_lines_than_the_memory_holds_are_refused_before_they_are_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "network.gpkg"
    write_network(path, 50)
    store = fresh_store(tmp_path)
    before = store.read_bytes()
    monkeypatch.setattr(waters, "_BYTES_A_ROW", 1 << 50)
    with pytest.raises(BadFile, match=r"network\.gpkg: its 50 rows, .* region by region"):
        load_waters(store, [path])
    assert store.read_bytes() == before
