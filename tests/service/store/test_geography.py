"""Where a position lies: against a table of known places, and at the edges."""

import csv
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from data_loaders.geography.packaged import packaged_counties, packaged_polygons
from data_loaders.geography.zones import load_zones
from service.errors import BadRequest
from service.geography.place import state_of_zip
from service.store.geography import (
    counties_touching,
    county_at,
    locate,
    locate_zip,
    states_near,
    zones_at,
)
from service.values.vocabulary import Jurisdiction
from tests.data_loaders.geography.stores import boundary_store, connect, fresh_store

PLACES = list(
    csv.DictReader(
        (Path(__file__).parents[2] / "checks" / "known_places.csv").open(encoding="utf-8")
    )
)
TOLERANCE_M = 2_000.0
"""Positions of ZIP codes are points for an area, to four decimals; those drawn for their border
lie on the wrong side of it.
"""


@pytest.fixture(scope="module")
def store() -> Iterator[sqlite3.Connection]:
    connection = connect(boundary_store())
    yield connection
    connection.close()


def test_known_places_lie_in_their_state(store: sqlite3.Connection) -> None:
    # GeoNames postal codes (CC BY 4.0): four at random of each state, and eight whose point lies
    # over a state line.
    for place in PLACES:
        longitude, latitude = float(place["longitude"]), float(place["latitude"])
        states = [near.state for near in states_near(store, longitude, latitude, TOLERANCE_M)]
        assert place["state"] in states, place
        if place["drawn"] == "at random":
            assert states[0] == place["state"], place


def test_known_places_lie_in_their_county(store: sqlite3.Connection) -> None:
    # GeoNames gives planning regions for Connecticut, which has its counties here: left out.
    drawn = [place for place in PLACES if place["drawn"] == "at random" and place["county_fips"]]
    assert len(drawn) == 200
    for place in drawn:
        found = county_at(store, float(place["longitude"]), float(place["latitude"]))
        assert [county.fips for county in found] == [place["county_fips"]], place


def test_a_zip_code_s_first_digits_give_its_state() -> None:
    # 73960 Texhoma lies on both sides of the line between Oklahoma and Texas: the digits say one,
    # GeoNames the other.
    for place in PLACES:
        if place["zip"] != "73960":
            assert state_of_zip(place["zip"]) == place["state"], place


def test_a_place_in_the_great_lakes_is_in_the_state_that_reaches_there(
    store: sqlite3.Connection,
) -> None:
    (county,) = county_at(store, -81.2, 41.95)  # Lake Erie, 22 km off Lake County
    assert county.state == "US-OH"


def test_a_place_at_sea_or_abroad_is_in_no_county(store: sqlite3.Connection) -> None:
    assert county_at(store, -40.0, 35.0) == ()
    assert states_near(store, -79.4, 43.7, 10_000) == ()  # Toronto


def test_a_vertex_shared_by_counties_gives_each_of_them(store: sqlite3.Connection) -> None:
    shapes = packaged_polygons()
    one, other = (
        shapes[county.fips] for county in packaged_counties().of_state(Jurisdiction("US-DE"))[:2]
    )
    corner = shapely.get_coordinates(shapely.intersection(one, other))[0]
    found = county_at(store, float(corner[0]), float(corner[1]))
    assert len(found) >= 2
    assert [county.fips for county in found] == sorted(county.fips for county in found)


@settings(max_examples=30, deadline=None)
@given(st.floats(-124, -68), st.floats(25, 49))
def test_the_index_gives_the_same_county_as_asking_every_polygon(
    longitude: float, latitude: float
) -> None:
    connection = connect(boundary_store())
    point = shapely.Point(longitude, latitude)
    covering = _TREE.query(point, predicate="intersects")
    assert [county.fips for county in county_at(connection, longitude, latitude)] == sorted(
        _CODES[index] for index in covering
    )
    connection.close()


_SHAPES = packaged_polygons()
_CODES = list(_SHAPES)
_TREE = shapely.STRtree(
    [shapely.make_valid(shape, method="structure") for shape in _SHAPES.values()]
)


def test_an_area_over_a_line_touches_both_sides(store: sqlite3.Connection) -> None:
    area = shapely.box(-84.30, 41.69, -84.28, 41.73)
    assert {county.state for county in counties_touching(store, area)} == {"US-OH", "US-MI"}


def test_a_site_near_a_line_has_a_neighbour_and_one_farther_off_has_none(
    store: sqlite3.Connection,
) -> None:
    near = locate(store, -84.29, 41.70)
    assert near.state == "US-OH"
    assert [neighbour.state for neighbour in near.neighbours] == ["US-MI"]
    assert near.county is not None
    assert near.locality.county_name == "Fulton County"
    assert locate(store, -84.29, 41.70, border_tolerance_m=100).neighbours == ()
    assert locate(store, -84.29, 41.60).neighbours == ()


def test_a_site_just_off_the_land_is_taken_to_the_nearest_state_and_told_so(
    store: sqlite3.Connection,
) -> None:
    row = store.execute(
        "SELECT geometry FROM boundary WHERE state = 'US-ME' AND fips IS NULL"
    ).fetchone()
    easternmost = max(
        shapely.get_coordinates(shapely.from_wkb(row["geometry"])),
        key=lambda vertex: float(vertex[0]),
    )
    found = locate(store, float(easternmost[0]) + 0.005, float(easternmost[1]))
    assert found.counties == ()
    assert found.state == "US-ME"
    assert any("outside the loaded lines" in note for note in found.notes)


def test_abroad_nothing_is_known_and_the_notes_say_why(store: sqlite3.Connection) -> None:
    found = locate(store, -79.4, 43.7)
    assert found.state is None
    assert found.climate.extreme_minimum_c is None
    assert any("in no state" in note for note in found.notes)


def test_a_zone_stated_by_the_user_goes_before_all_others(store: sqlite3.Connection) -> None:
    found = locate(store, -84.29, 41.60, zone="Zone 6")
    assert found.zones == ("6a", "6b")
    assert found.zone_known is not None
    assert found.zone_known.how_known == "user"
    assert found.climate.hardiness_zone is None
    # -10 F to 0 F (USDA Plant Hardiness Zone Map).
    assert found.climate.extreme_minimum_c == pytest.approx((-23.333, -17.778), abs=0.001)


def test_a_zip_code_gives_zone_and_state_but_no_county(tmp_path: Path) -> None:
    path = tmp_path / "zones.csv"
    path.write_text("zipcode,zone,trange,zonetitle\n43604,6b,-5 to 0,6b: -5 to 0\n")
    target = fresh_store(tmp_path)
    load_zones(target, [path])
    connection = connect(target)
    found = locate_zip(connection, "43604-1234")
    assert (found.state, found.zones, found.county) == ("US-OH", ("6b",), None)
    assert found.state_known is not None
    assert found.state_known.how_known == "memory"
    missing = locate_zip(connection, "43605")
    assert missing.zones == ()
    assert any("no loaded zone table" in note for note in missing.notes)
    by_position = locate(connection, -83.54, 41.65, zip_code="43604")
    assert by_position.zones == ("6b",)
    connection.close()


def test_without_zones_none_is_made_up(store: sqlite3.Connection) -> None:
    assert zones_at(store, -84.29, 41.60) == ()
    found = locate(store, -84.29, 41.60)
    assert found.zones == ()
    assert found.zone_known is None


@pytest.mark.parametrize(
    ("longitude", "latitude", "hint"),
    [(41.6, -95.0, "swapped"), (-190, 41, "Longitude"), (float("nan"), 41, "on the earth")],
)
def test_a_position_off_the_earth_is_refused(
    store: sqlite3.Connection, longitude: float, latitude: float, hint: str
) -> None:
    with pytest.raises(BadRequest, match=hint):
        locate(store, longitude, latitude)


def test_what_is_no_zip_code_is_refused(store: sqlite3.Connection) -> None:
    with pytest.raises(BadRequest, match="five digits"):
        locate_zip(store, "4360")
