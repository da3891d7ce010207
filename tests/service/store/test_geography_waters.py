"""Waters near a place and down the water from it: the index against brute force, and the demo
county by hand.
"""

import sqlite3
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry.base import BaseGeometry

from data_loaders.build import file_sha256
from data_loaders.geography.mapping import WaterMapping
from data_loaders.geography.waters import load_waters
from data_loaders.report import source_id_of
from demo_data import geography as demo
from service.errors import NotFound
from service.geography.geodesy import nearest_between, nearest_position
from service.store.waters import (
    distance_to_water,
    has_flow,
    has_waters,
    read_water,
    read_water_geometry,
    waters_containing,
    waters_near,
    waters_near_area,
)
from service.store.waters_flow import flow_starts, reached_waters, trace_from
from service.values.vocabulary import WaterId, WaterKind
from tests.data_loaders.geography.stores import (
    boundary_store,
    connect,
    empty_store,
    fresh_store,
    kept_folder,
)
from tests.data_loaders.geography.vector_files import write_geojson

LAKES: tuple[WaterKind, ...] = ("lake",)
KINDS: tuple[WaterKind, ...] = ("lake", "pond", "wetland", "stream", "river", "canal")


@lru_cache(maxsize=1)
def demo_store() -> Path:
    target = fresh_store(kept_folder())
    load_waters(target, [demo.WATERS])
    return target


@pytest.fixture(scope="module")
def county() -> Iterator[sqlite3.Connection]:
    connection = connect(demo_store())
    yield connection
    connection.close()


def at(connection: sqlite3.Connection, name: str) -> tuple[float, float]:
    row = connection.execute(
        "SELECT longitude, latitude FROM water WHERE name = ?", (name,)
    ).fetchone()
    return float(row["longitude"]), float(row["latitude"])


# --- random waters, about the antimeridian too ---

shapes = st.builds(
    lambda x, y, w, h, line: (
        shapely.LineString([(x, y), (x + w, y + h)]) if line else shapely.box(x, y, x + w, y + h)
    ),
    st.floats(-0.3, 0.3),
    st.floats(-0.3, 0.3),
    st.floats(0.001, 0.2),
    st.floats(0.001, 0.2),
    st.booleans(),
)


@lru_cache(maxsize=1)
def random_folder() -> Path:
    return kept_folder()


def load_random(origin: tuple[float, float], drawn: list[BaseGeometry]) -> sqlite3.Connection:
    moved = [shapely.transform(shape, lambda xy: xy + origin) for shape in drawn]
    folder = random_folder()
    features = [(shape, {"no": f"{n:03d}", "kind": KINDS[n % 6]}) for n, shape in enumerate(moved)]
    path = write_geojson(folder / "w.geojson", features)
    target = empty_store(folder)
    load_waters(
        target,
        [path],
        mapping=WaterMapping(
            id="no", kind="kind", kinds=dict(zip(KINDS, KINDS, strict=True)), data_set="r"
        ),
    )
    return connect(target)


@settings(max_examples=12, deadline=None)
@given(
    st.sampled_from([(-84.3, 41.6), (-150.0, 65.0), (179.9, 51.5)]),
    st.lists(shapes, min_size=1, max_size=25),
    st.tuples(st.floats(-0.2, 0.2), st.floats(-0.2, 0.2)),
    st.floats(10, 30_000),
)
def test_waters_near_are_those_of_measuring_every_one(
    origin: tuple[float, float],
    drawn: list[BaseGeometry],
    site: tuple[float, float],
    within_m: float,
) -> None:
    connection = load_random(origin, drawn)
    longitude, latitude = origin[0] + site[0], origin[1] + site[1]
    longitude = longitude - 360 if longitude > 180 else longitude
    measured = {
        row["water_id"]: min(
            nearest_position(shapely.from_wkb(part["geometry"]), longitude, latitude).distance_m
            for part in connection.execute(
                "SELECT geometry FROM water_part WHERE water_id = ?", (row["water_id"],)
            )
        )
        for row in connection.execute("SELECT water_id FROM water")
    }
    expected = sorted(
        (away_m, water_id) for water_id, away_m in measured.items() if away_m <= within_m
    )
    found = waters_near(connection, longitude, latitude, within_m)
    assert [(reached.overland_m, reached.water.water_id) for reached in found] == expected
    assert [
        reached.water.water_id
        for reached in waters_near(connection, longitude, latitude, within_m, limit=2)
    ] == [water_id for _, water_id in expected[:2]]
    inside = {water.water_id for water in waters_containing(connection, longitude, latitude)}
    assert inside == {reached.water.water_id for reached in found if reached.relation == "contains"}
    connection.close()


@settings(max_examples=8, deadline=None)
@given(st.lists(shapes, min_size=1, max_size=15), st.floats(10, 20_000))
def test_waters_near_an_area_are_those_of_measuring_every_one(
    drawn: list[BaseGeometry], within_m: float
) -> None:
    connection = load_random((-84.3, 41.6), drawn)
    site = shapely.box(-84.31, 41.59, -84.30, 41.60)
    rows = connection.execute(
        "SELECT water_id, geometry FROM water_part WHERE water_id IS NOT NULL"
    ).fetchall()
    measured = {
        row["water_id"]: nearest_between(site, shapely.from_wkb(row["geometry"]))[1].distance_m
        for row in rows
    }
    found = waters_near_area(connection, site, within_m)
    assert {reached.water.water_id for reached in found} == {
        water_id for water_id, away_m in measured.items() if away_m <= within_m
    }
    assert [reached.overland_m for reached in found] == sorted(
        reached.overland_m for reached in found
    )
    connection.close()


# --- the demo county ---


def test_a_site_in_the_mill_lake_reaches_the_river_and_the_next_state(
    county: sqlite3.Connection,
) -> None:
    longitude, latitude = at(county, "Tollen Mill Lake")
    found = trace_from(county, longitude, latitude)
    reached = reached_waters(county, found, longitude, latitude, named_only=True)
    assert [water.water.name for water in reached] == [
        "Tollen Mill Lake",
        "Mill Run",
        "Ferrow River",
    ]
    assert [water.lakes_passed for water in reached] == [0, 1, 1]
    assert [water.along_m for water in reached] == sorted(water.along_m or 0 for water in reached)
    assert all(water.overland_m <= (water.along_m or 0) + 1 for water in reached)
    assert found.start_states == ("US-OH",)
    assert [(state.state, state.beside) for state in found.states] == [("US-MI", False)]


def test_the_river_s_crossing_lies_on_the_state_line(county: sqlite3.Connection) -> None:
    longitude, latitude = at(county, "Tollen Mill Lake")
    (crossing,) = trace_from(county, longitude, latitude).states
    length = trace_from(county, longitude, latitude).length_m
    assert 0.2 * length < crossing.along_m < 0.8 * length


def test_upstream_of_the_river_s_mouth_lies_the_whole_network(county: sqlite3.Connection) -> None:
    row = county.execute("SELECT count(*) AS lines FROM flowline").fetchone()
    mouth = county.execute(
        "SELECT geometry FROM water_part JOIN flowline USING (part_id) WHERE flowline_id NOT IN (SELECT from_id FROM flow_link)"
    ).fetchone()
    end = shapely.get_coordinates(shapely.from_wkb(mouth["geometry"]))[-1]
    found = trace_from(county, float(end[0]), float(end[1]), direction="upstream")
    assert len(found.lines) == row["lines"]


def test_the_ditch_and_the_side_channel_rejoin_the_river(county: sqlite3.Connection) -> None:
    head = county.execute(
        "SELECT geometry FROM water_part JOIN flowline USING (part_id) WHERE flowline_id = 'nhd:990101'"
    ).fetchone()
    start = shapely.get_coordinates(shapely.from_wkb(head["geometry"]))[0]
    every = trace_from(county, float(start[0]), float(start[1]))
    main = trace_from(county, float(start[0]), float(start[1]), branches="main")
    assert every.rejoined == 2
    assert main.rejoined == 0
    assert {passed.water_id for passed in every.waters} - {
        passed.water_id for passed in main.waters
    } == {"gnis:99100006", "gnis:99100003"}


def test_a_bog_that_no_line_leaves_leads_nowhere_and_far_from_water_there_is_no_start(
    county: sqlite3.Connection,
) -> None:
    longitude, latitude = at(county, "Ostler Bog")
    assert not trace_from(county, longitude, latitude).starts
    assert flow_starts(county, -80.0, 41.0) == ()
    assert waters_containing(county, longitude, latitude)[0].name == "Ostler Bog"


def test_a_site_beside_a_brook_joins_it_where_it_is_nearest(county: sqlite3.Connection) -> None:
    longitude, latitude = at(county, "Sallow Brook")
    (start,) = flow_starts(county, longitude + 0.001, latitude)
    assert 0 < start.away_m < 100
    assert flow_starts(county, longitude + 0.001, latitude, within_m=1.0) == ()


def test_kinds_and_names_choose_among_waters(county: sqlite3.Connection) -> None:
    longitude, latitude = at(county, "Tollen Mill Lake")
    lakes = waters_near(county, longitude, latitude, 30_000, kinds=LAKES)
    assert [reached.water.name for reached in lakes] == ["Tollen Mill Lake"]
    named = waters_near(county, longitude, latitude, 30_000, named_only=True)
    assert len(named) == 10
    assert all(reached.water.name for reached in named)


def test_one_water_is_read_by_its_id_with_its_shape(county: sqlite3.Connection) -> None:
    river = read_water(county, WaterId("gnis:99100001"))
    assert (river.kind, river.flow, river.states) == ("river", "moving", ("US-MI", "US-OH"))
    assert river.source_id == source_id_of("waters", file_sha256(demo.WATERS))
    assert read_water_geometry(county, WaterId("gnis:99100001")).geom_type == "GeometryCollection"
    assert read_water_geometry(county, WaterId("gnis:99100011")).geom_type == "MultiPolygon"
    assert read_water_geometry(county, WaterId("gnis:99100002")).geom_type == "MultiLineString"
    assert river.longitude is not None
    assert river.latitude is not None
    assert (
        distance_to_water(county, river.water_id, river.longitude, river.latitude).distance_m == 0.0
    )
    for call in (read_water, read_water_geometry):
        with pytest.raises(NotFound):
            call(county, WaterId("none"))


def test_a_store_without_waters_says_so(county: sqlite3.Connection) -> None:
    empty = connect(boundary_store())
    assert not has_waters(empty)
    assert not has_flow(empty)
    assert waters_near(empty, -84.3, 41.6, 10_000) == ()
    empty.close()
    assert has_waters(county)
    assert has_flow(county)
