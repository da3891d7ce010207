"""States and counties in the store: the packaged ones, and a user's own."""

from pathlib import Path

import pytest
import shapely

from data_loaders.geography.boundaries import load_boundaries
from data_loaders.geography.packaged import packaged_counties, packaged_polygons
from data_loaders.geography.waters import load_waters
from service.errors import BadFile
from service.store.catalogue import read_counties
from service.store.geography import county_at, states_near
from service.store.waters_flow import trace_from
from service.values.vocabulary import STATES, Jurisdiction
from tests.data_loaders.geography.stores import boundary_store, connect, fresh_store
from tests.data_loaders.geography.vector_files import write_layer


def test_every_county_of_the_table_has_a_shape_and_neighbours_share_their_borders() -> None:
    shapes = packaged_polygons()
    assert set(shapes) == {county.fips for county in packaged_counties()}
    assert not any(shape.is_empty for shape in shapes.values())
    assert shapely.coverage_is_valid(list(shapes.values()))


def test_the_store_holds_each_state_as_the_union_of_its_counties() -> None:
    connection = connect(boundary_store())
    outlines = {
        row["state"]: shapely.from_wkb(row["geometry"])
        for row in connection.execute("SELECT * FROM boundary WHERE fips IS NULL")
    }
    assert set(outlines) == set(STATES)
    assert all(outline.is_valid for outline in outlines.values())
    sizes = connection.execute(
        "SELECT state, geometry FROM boundary WHERE state IN ('US-OH', 'US-DE') AND fips IS NOT NULL"
    ).fetchall()
    for state in ("US-OH", "US-DE"):
        parts = sum(
            shapely.from_wkb(row["geometry"]).area for row in sizes if row["state"] == state
        )
        assert outlines[state].area == pytest.approx(parts, rel=1e-9)
    assert len(read_counties(connection)) == len(packaged_counties())
    connection.close()


def test_a_user_s_file_takes_the_place_of_the_counties_of_its_states_alone(tmp_path: Path) -> None:
    store = fresh_store(tmp_path)
    west, east = shapely.box(-84.9, 38, -83, 42), shapely.box(-83, 38, -80, 42)
    columns = {
        "GEOID": ["39901", "39902", "72001"],
        "NAME": ["West", "East", "Elsewhere"],
        "NAMELSAD": ["West County", "East County", "x"],
    }
    write_layer(tmp_path / "counties.gpkg", "counties", [west, east, west], columns)
    report = load_boundaries(store, [tmp_path / "counties.gpkg"])
    assert (report.rows_read, report.rows_kept) == (3, 2)
    assert report.set_apart == {"outside the states and the District of Columbia": 1}
    connection = connect(store)
    table = read_counties(connection)
    assert [county.full_name for county in table.of_state(Jurisdiction("US-OH"))] == [
        "West County",
        "East County",
    ]
    assert len(table.of_state(Jurisdiction("US-MI"))) == 83
    assert [county.name for county in county_at(connection, -82, 40)] == ["East"]
    assert states_near(connection, -82, 40, 0)[0].state == "US-OH"
    connection.close()
    assert load_boundaries(store, [tmp_path / "counties.gpkg"]).unchanged


def test_state_and_county_numbers_in_two_columns_do_as_well(tmp_path: Path) -> None:
    store = fresh_store(tmp_path)
    columns = {"STATEFP": ["10"], "COUNTYFP": ["1"], "NAME": ["Kent"]}
    write_layer(tmp_path / "c.gpkg", "c", [shapely.box(-76, 38, -75, 40)], columns)
    load_boundaries(store, [tmp_path / "c.gpkg"])
    connection = connect(store)
    assert [
        (county.fips, county.full_name)
        for county in read_counties(connection).of_state(Jurisdiction("US-DE"))
    ] == [("10001", "Kent County")]
    connection.close()


def test_a_file_without_counties_leaves_the_store_as_it_was(tmp_path: Path) -> None:
    store = fresh_store(tmp_path)
    before = store.read_bytes()
    write_layer(tmp_path / "x.gpkg", "x", [shapely.box(0, 0, 1, 1)], {"n": [1]})
    with pytest.raises(BadFile, match="no columns of counties"):
        load_boundaries(store, [tmp_path / "x.gpkg"])
    assert store.read_bytes() == before


def test_new_boundaries_place_the_waters_that_are_already_loaded_anew(tmp_path: Path) -> None:
    store = fresh_store(tmp_path)
    line = shapely.LineString([(-84.30, 41.60), (-84.29, 41.60)])
    write_layer(
        tmp_path / "w.gpkg",
        "NHDFlowline",
        [line],
        {"permanent_identifier": ["1"], "fcode": [46006]},
    )
    load_waters(store, [tmp_path / "w.gpkg"])
    columns = {"GEOID": ["26901", "39901"], "NAME": ["West", "East"]}
    write_layer(
        tmp_path / "c.gpkg",
        "c",
        [shapely.box(-86, 41, -84.295, 42), shapely.box(-84.295, 41, -83, 42)],
        columns,
    )
    load_boundaries(store, [tmp_path / "c.gpkg"])
    connection = connect(store)
    assert [
        row["state"] for row in connection.execute("SELECT state FROM water_state ORDER BY state")
    ] == ["US-MI", "US-OH"]
    found = trace_from(connection, -84.30, 41.60)
    assert found.start_states == ("US-MI",)
    # Half of 0.01 degrees of the parallel 41.6, 833 m (WGS84; pyproj.Geod), less the 250 m within
    # which it runs beside.
    assert [(state.state, state.beside) for state in found.states] == [("US-OH", False)]
    assert found.states[0].along_m == pytest.approx(833.2 / 2 - 250, abs=60)
    connection.close()
