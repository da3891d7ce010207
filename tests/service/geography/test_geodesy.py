"""Distances on the ellipsoid: published lines, brute force, the antimeridian."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from service.geography.geodesy import (
    GEOD,
    area_m2,
    distance_along_m,
    distance_m,
    line_length_m,
    nearest_between,
    nearest_position,
    position_along,
    search_boxes,
)

CHECKS = Path(__file__).parents[2] / "checks" / "geodesy.csv"
LINES = list(csv.DictReader(CHECKS.open(encoding="utf-8")))


@pytest.mark.parametrize("line", LINES, ids=[f"{line['lat1']},{line['lon1']}" for line in LINES])
def test_distance_is_that_of_the_published_test_lines(line: dict[str, str]) -> None:
    # Karney 2013, doi:10.1007/s00190-012-0578-z; the test cases of geographiclib.
    found = distance_m(
        float(line["lon1"]), float(line["lat1"]), float(line["lon2"]), float(line["lat2"])
    )
    assert found == pytest.approx(float(line["distance_m"]), abs=1e-6)
    as_published = distance_m(
        float(line["lon1"]),
        float(line["lat1"]),
        float(line["lon2_as_published"]),
        float(line["lat2"]),
    )
    assert as_published == pytest.approx(found, abs=1e-6)


places = st.tuples(st.floats(-170, 170), st.floats(-70, 70))
offsets = st.lists(
    st.tuples(st.floats(-0.5, 0.5), st.floats(-0.5, 0.5)), min_size=2, max_size=8, unique=True
)


@settings(max_examples=60, deadline=None)
@given(places, offsets)
def test_nearest_position_on_a_line_is_as_near_as_any_sampled_one(
    place: tuple[float, float], steps: list[tuple[float, float]]
) -> None:
    line = shapely.LineString([(place[0] + 0.3 + dx, place[1] + dy) for dx, dy in steps])
    found = nearest_position(line, *place)
    fine = shapely.get_coordinates(shapely.segmentize(line, 0.0005))
    _, _, sampled = GEOD.inv(
        np.full(len(fine), place[0]), np.full(len(fine), place[1]), fine[:, 0], fine[:, 1]
    )
    assert found.distance_m <= sampled.min() + 0.2
    assert line.distance(shapely.Point(found.longitude, found.latitude)) < 1e-9
    assert found.distance_m == pytest.approx(
        distance_m(*place, found.longitude, found.latitude), abs=1e-6
    )


def test_a_long_edge_is_taken_along_its_parallel_and_not_along_the_geodesic() -> None:
    # 6 degrees of the parallel 41 N: its middle lies 6.4 km south of the geodesic between its ends
    # (pyproj), so an answer
    # from the two ends alone would be out by as much.
    line = shapely.LineString([(-108.0, 41.0), (-102.0, 41.0)])
    found = nearest_position(line, -105.0, 41.01)
    assert found.latitude == pytest.approx(41.0, abs=1e-9)
    assert found.distance_m == pytest.approx(distance_m(-105.0, 41.01, -105.0, 41.0), abs=0.05)


def test_inside_a_polygon_the_distance_is_zero_and_in_its_hole_it_is_not() -> None:
    ring = shapely.box(-84, 41, -83, 42).exterior
    hole = shapely.box(-83.6, 41.4, -83.4, 41.6).exterior
    lake = shapely.Polygon(ring, [hole])
    assert nearest_position(lake, -83.9, 41.1).distance_m == 0
    assert nearest_position(lake, -83.5, 41.5).distance_m == pytest.approx(
        distance_m(-83.5, 41.5, -83.4, 41.5), rel=1e-4
    )


def test_an_empty_geometry_is_nowhere() -> None:
    with pytest.raises(ValueError, match="nowhere"):
        nearest_position(shapely.Polygon(), 0, 0)


def test_distance_runs_over_the_antimeridian() -> None:
    found = nearest_position(shapely.LineString([(-179.9, 51.0), (-179.9, 52.0)]), 179.9, 51.5)
    assert found.longitude == pytest.approx(-179.9)
    assert found.distance_m == pytest.approx(distance_m(179.9, 51.5, -179.9, 51.5), rel=1e-4)


@settings(max_examples=150, deadline=None)
@given(
    st.floats(-180, 180),
    st.floats(-89, 89),
    st.floats(0, 2 * math.pi),
    st.floats(0, 1),
    st.sampled_from([10.0, 1_000.0, 50_000.0, 500_000.0, 3_000_000.0]),
)
def test_search_boxes_hold_every_position_within_the_distance(
    longitude: float, latitude: float, azimuth: float, share: float, within_m: float
) -> None:
    x, y, _ = GEOD.fwd(longitude, latitude, math.degrees(azimuth), share * within_m)
    boxes = search_boxes(longitude, latitude, within_m)
    assert any(box.west <= x <= box.east and box.south <= y <= box.north for box in boxes)
    assert all(
        -180 <= box.west <= box.east <= 180 and -90 <= box.south <= box.north <= 90 for box in boxes
    )


@settings(max_examples=20, deadline=None)
@given(places, st.floats(0, 360), st.floats(50, 20_000), st.floats(10, 400))
def test_the_nearest_of_two_shapes_is_found_from_either_side(
    place: tuple[float, float], azimuth: float, away_m: float, size_m: float
) -> None:
    def square(longitude: float, latitude: float) -> shapely.Polygon:
        corners = [GEOD.fwd(longitude, latitude, turn, size_m)[:2] for turn in (0, 90, 180, 270)]
        return shapely.Polygon(corners)

    x, y, _ = GEOD.fwd(*place, azimuth, away_m + 2 * size_m)
    first, second = square(*place), square(x, y)
    on_first, on_second = nearest_between(first, second)
    fine_1, fine_2 = (
        shapely.get_coordinates(shapely.segmentize(s.exterior, s.length / 150))
        for s in (first, second)
    )
    pairs_1, pairs_2 = np.repeat(fine_1, len(fine_2), axis=0), np.tile(fine_2, (len(fine_1), 1))
    _, _, sampled = GEOD.inv(pairs_1[:, 0], pairs_1[:, 1], pairs_2[:, 0], pairs_2[:, 1])
    assert on_first.distance_m == on_second.distance_m
    assert on_second.distance_m <= sampled.min() + 0.5
    assert on_second.distance_m >= sampled.min() - size_m * 0.05


def test_shapes_that_meet_are_at_no_distance() -> None:
    here, there = shapely.box(0, 0, 1, 1), shapely.LineString([(0.5, 0.5), (3, 3)])
    assert nearest_between(here, there)[0].distance_m == 0


def test_a_polygon_folded_to_a_line_is_measured_as_the_line() -> None:
    folded = shapely.Polygon([(-84.2, 41.6), (-84.1, 41.6), (-84.0, 41.6), (-84.2, 41.6)])
    pond = shapely.box(-84.05, 41.61, -84.04, 41.62)
    assert nearest_between(folded, pond)[0].distance_m == pytest.approx(
        distance_m(-84.045, 41.6, -84.045, 41.61), rel=1e-3
    )
    assert nearest_between(folded, shapely.box(-84.05, 41.59, -84.04, 41.62))[0].distance_m == 0


def test_area_and_length_are_those_of_the_ellipsoid() -> None:
    # One degree by one degree at the equator: 12,308.8 square kilometres; a degree of meridian
    # there 110.574 km
    # (WGS84; pyproj.Geod).
    assert area_m2(shapely.box(0, 0, 1, 1)) == pytest.approx(12_308.8e6, rel=1e-4)
    assert line_length_m(shapely.LineString([(0, 0), (0, 1)])) == pytest.approx(110_574, abs=1)


def test_a_hole_is_taken_off_the_area_whichever_way_it_runs() -> None:
    outer, hole = shapely.box(0, 0, 1, 1), shapely.box(0.4, 0.4, 0.6, 0.6)
    for ring in (hole.exterior.coords, list(hole.exterior.coords)[::-1]):
        ringed = shapely.MultiPolygon([shapely.Polygon(outer.exterior, [ring])])
        assert area_m2(ringed) == pytest.approx(area_m2(outer) - area_m2(hole), rel=1e-9)


@settings(max_examples=50, deadline=None)
@given(st.floats(0, 1))
def test_a_position_along_a_line_and_the_distance_along_it_are_each_other_s_inverse(
    share: float,
) -> None:
    line = shapely.LineString([(-84, 41), (-83.99, 41.01), (-83.98, 41.0), (-83.9, 41.02)])
    along_m = share * line_length_m(line)
    assert distance_along_m(line, *position_along(line, along_m)) == pytest.approx(
        along_m, abs=0.05
    )
