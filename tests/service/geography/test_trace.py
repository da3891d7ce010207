"""The downstream trace: against networkx on random graphs, and on small networks drawn by hand."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.geography.trace import Flowline, Link, Start, StateStretch, trace
from service.values.vocabulary import Jurisdiction, WaterId

OHIO, MICHIGAN = Jurisdiction("US-OH"), Jurisdiction("US-MI")


@dataclass
class Drawn:
    """A network in memory."""

    lines: dict[str, Flowline] = field(default_factory=dict)
    links: list[tuple[str, Link]] = field(default_factory=list)

    def line(self, name: str, length_m: float, **more: object) -> None:
        self.lines[name] = Flowline(name, length_m, **more)  # type: ignore[arg-type]

    def link(self, above: str, below: str, **more: object) -> None:
        self.links.append((above, Link(below, **more)))  # type: ignore[arg-type]

    def flowline(self, flowline_id: str) -> Flowline | None:
        return self.lines.get(flowline_id)

    def downstream(self, flowline_id: str) -> Sequence[Link]:
        return [link for above, link in self.links if above == flowline_id]

    def upstream(self, flowline_id: str) -> Sequence[Link]:
        return [
            Link(above, link.main, link.gap_m, link.through_id)
            for above, link in self.links
            if link.flowline_id == flowline_id
        ]


@st.composite
def networks(draw: st.DrawFn) -> tuple[Drawn, str, float]:
    """Any directed graph of lines, loops and all, with a start on one of them."""
    size = draw(st.integers(2, 14))
    drawn = Drawn()
    for number in range(size):
        drawn.line(f"l{number:02d}", float(draw(st.integers(1, 1_000))))
    pairs = draw(
        st.sets(st.tuples(st.integers(0, size - 1), st.integers(0, size - 1)), max_size=3 * size)
    )
    for above, below in sorted(pairs):
        if above != below:
            drawn.link(f"l{above:02d}", f"l{below:02d}", gap_m=float(draw(st.integers(0, 50))))
    start = f"l{draw(st.integers(0, size - 1)):02d}"
    along = draw(st.integers(0, int(drawn.lines[start].length_m)))
    return drawn, start, float(along)


def _expected(drawn: Drawn, start: str, along_m: float, *, upstream: bool) -> dict[str, float]:
    """Distance to the near end of each line, by networkx: edges weigh the line behind them and
    the gap.
    """
    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_nodes_from(drawn.lines)
    first_m = along_m if upstream else drawn.lines[start].length_m - along_m
    for above, link in drawn.links:
        tail, head = (link.flowline_id, above) if upstream else (above, link.flowline_id)
        weight = (first_m if tail == start else drawn.lines[tail].length_m) + link.gap_m
        if head != start:
            graph.add_edge(tail, head, weight=weight)
    return dict(nx.single_source_dijkstra_path_length(graph, start))


@settings(max_examples=200, deadline=None)
@given(networks(), st.booleans())
def test_lines_and_distances_are_those_of_shortest_paths(
    network: tuple[Drawn, str, float], upstream: bool
) -> None:
    drawn, start, along_m = network
    found = trace(
        drawn,
        [Start(start, along_m)],
        direction="upstream" if upstream else "downstream",
        max_m=1e9,
    )
    expected = _expected(drawn, start, along_m, upstream=upstream)
    assert {line.flowline_id: line.from_m for line in found.lines} == pytest.approx(expected)
    assert [line.from_m for line in found.lines] == sorted(line.from_m for line in found.lines)


@settings(max_examples=60, deadline=None)
@given(networks(), st.integers(0, 2_000))
def test_a_distance_limit_leaves_exactly_the_nearer_lines(
    network: tuple[Drawn, str, float], limit: int
) -> None:
    drawn, start, along_m = network
    found = trace(drawn, [Start(start, along_m)], max_m=float(limit))
    expected = {
        name
        for name, at_m in _expected(drawn, start, along_m, upstream=False).items()
        if at_m <= limit
    }
    assert {line.flowline_id for line in found.lines} == expected | {start}


@settings(max_examples=60, deadline=None)
@given(networks())
def test_what_is_upstream_of_a_line_has_that_line_downstream(
    network: tuple[Drawn, str, float],
) -> None:
    drawn, start, along_m = network
    above = {
        line.flowline_id
        for line in trace(drawn, [Start(start, along_m)], direction="upstream", max_m=1e9).lines
    }
    for name in above - {start}:
        below = {line.flowline_id for line in trace(drawn, [Start(name, 0.0)], max_m=1e9).lines}
        assert start in below


def _creek() -> Drawn:
    """Brook, mill pond, river; the river divides about an island and leaves the state."""
    drawn = Drawn()
    brook, river, pond = WaterId("brook"), WaterId("river"), WaterId("pond")
    drawn.line("b1", 400, water_id=brook, states=(StateStretch(0, 400, OHIO),))
    drawn.line("p", 200, through_id=pond, through_still=True, states=(StateStretch(0, 200, OHIO),))
    drawn.line("b2", 300, water_id=brook, states=(StateStretch(0, 300, OHIO),))
    drawn.line(
        "r1",
        1_000,
        water_id=river,
        states=(StateStretch(0, 1_000, OHIO), StateStretch(600, 1_000, MICHIGAN, beside=True)),
    )
    drawn.line(
        "main",
        500,
        water_id=river,
        states=(StateStretch(0, 100, OHIO), StateStretch(100, 500, MICHIGAN)),
    )
    drawn.line("side", 700, water_id=river, states=(StateStretch(0, 700, MICHIGAN),))
    drawn.line("r2", 900, water_id=river, states=(StateStretch(0, 900, MICHIGAN),))
    for above, below in (
        ("b1", "p"),
        ("p", "b2"),
        ("b2", "r1"),
        ("r1", "main"),
        ("main", "r2"),
        ("side", "r2"),
    ):
        drawn.link(above, below)
    drawn.link("r1", "side", main=False)
    drawn.link("r2", "not-loaded")
    return drawn


def test_waters_come_in_order_with_the_lakes_passed_before_them() -> None:
    found = trace(_creek(), [Start("b1", 100.0)])
    assert [(water.water_id, water.along_m, water.lakes_passed) for water in found.waters] == [
        ("brook", 0.0, 0),
        ("pond", 300.0, 0),
        ("river", 800.0, 1),
    ]


def test_a_state_is_reached_where_the_water_first_runs_beside_it_and_is_then_entered() -> None:
    found = trace(_creek(), [Start("b1", 100.0)])
    assert found.start_states == (OHIO,)
    assert [(state.state, state.along_m, state.beside) for state in found.states] == [
        (MICHIGAN, 1_400.0, False)
    ]


def test_the_main_branch_alone_leaves_the_side_channel_out() -> None:
    every = trace(_creek(), [Start("r1", 0.0)])
    main = trace(_creek(), [Start("r1", 0.0)], branches="main")
    assert {line.flowline_id for line in every.lines} - {
        line.flowline_id for line in main.lines
    } == {"side"}
    assert every.rejoined == 1
    assert main.rejoined == 0


def test_the_end_of_the_loaded_lines_is_said_apart_from_the_end_of_the_water() -> None:
    found = trace(_creek(), [Start("b1", 0.0)])
    assert [(ending.kind, ending.flowline_id) for ending in found.endings] == [
        ("line not loaded", "not-loaded")
    ]
    upstream = trace(_creek(), [Start("r2", 10.0)], direction="upstream")
    assert {(ending.kind, ending.flowline_id) for ending in upstream.endings} == {
        ("network ends", "b1")
    }


def test_a_way_across_a_lake_without_a_line_counts_its_width_and_the_lake() -> None:
    drawn = Drawn()
    drawn.line("in", 100, water_id=WaterId("brook"))
    drawn.line("out", 100, water_id=WaterId("brook"))
    drawn.link("in", "out", gap_m=250.0, through_id=WaterId("lake"))
    found = trace(drawn, [Start("in", 40.0)])
    assert [(line.flowline_id, line.from_m) for line in found.lines] == [
        ("in", 0.0),
        ("out", 310.0),
    ]
    assert [(water.water_id, water.along_m) for water in found.waters] == [
        ("brook", 0.0),
        ("lake", 60.0),
    ]


def test_a_circle_of_lines_is_walked_once() -> None:
    drawn = Drawn()
    for name in "abc":
        drawn.line(name, 10)
    for above, below in ("ab", "bc", "ca"):
        drawn.link(above, below)
    found = trace(drawn, [Start("a", 5.0)])
    assert [(line.flowline_id, line.from_m, line.to_m) for line in found.lines] == [
        ("a", 0, 5),
        ("b", 5, 15),
        ("c", 15, 25),
    ]
    assert found.rejoined == 1


def test_two_places_to_begin_share_the_lines_below_them() -> None:
    found = trace(_creek(), [Start("b2", 0.0), Start("side", 600.0)])
    assert {line.flowline_id: line.from_m for line in found.lines}["r2"] == 100.0


def test_a_limit_on_the_number_of_lines_is_said() -> None:
    found = trace(_creek(), [Start("b1", 0.0)], max_reaches=2)
    assert len(found.lines) == 2
    assert found.endings[-1].kind == "number limit"


def test_no_place_to_begin_gives_an_empty_trace() -> None:
    found = trace(_creek(), [])
    assert not found.starts
    assert found.length_m == 0.0
