"""The grid of occurrence records.

Distances are checked against pyproj.Geod, an independent call of GeographicLib.
"""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod

from service.store.cells import (
    CELL_E7,
    COLUMNS,
    cell_of,
    distance_bounds_m,
    distances_m,
    split_at_antimeridian,
    windows_within,
    within,
)

GEOD = Geod(ellps="WGS84")

longitudes = st.floats(-180, 180)
latitudes = st.floats(-90, 90)
radii = st.sampled_from([1_000.0, 5_000.0, 25_000.0, 100_000.0])


@settings(max_examples=60)
@given(longitudes, latitudes, radii, st.integers(0, 2**32 - 1))
def test_every_point_within_a_distance_lies_in_one_of_the_windows(
    longitude: float, latitude: float, radius_m: float, seed: int
) -> None:
    random = np.random.default_rng(seed)
    bearings = random.uniform(0, 360, 50)
    lengths = radius_m * np.sqrt(random.uniform(0, 1, 50))
    there_lon, there_lat, _ = GEOD.fwd(
        np.full(50, longitude), np.full(50, latitude), bearings, lengths
    )
    windows = windows_within(longitude, latitude, radius_m)
    for lon, lat in zip(there_lon, there_lat, strict=True):
        assert any(
            west <= turned <= east and south <= lat <= north
            for west, south, east, north in windows
            for turned in (lon, lon - 360, lon + 360)
        )


@settings(max_examples=60)
@given(
    longitudes,
    st.floats(-89, 89),
    st.floats(-1.5, 1.5),
    st.floats(-0.9, 0.9),
    st.integers(0, 2**32 - 1),
)
def test_no_point_of_a_cell_is_nearer_or_farther_than_its_bounds(
    longitude: float, latitude: float, east_of: float, north_of: float, seed: int
) -> None:
    west = np.array([min(max(longitude + east_of, -180), 179.9)])
    south = np.array([min(max(latitude + north_of, -90), 89.9)])
    near, far = distance_bounds_m(longitude, latitude, west, south, west + 0.1, south + 0.1)
    random = np.random.default_rng(seed)
    lons, lats = west + 0.1 * random.uniform(0, 1, 30), south + 0.1 * random.uniform(0, 1, 30)
    distances = distances_m(longitude, latitude, lons, lats)
    assert near[0] - 1e-6 <= distances.min()
    assert distances.max() <= far[0] + 1e-6


@settings(max_examples=60)
@given(longitudes, latitudes, radii, st.integers(0, 2**32 - 1))
def test_the_quick_test_of_a_distance_agrees_with_measuring_it(
    longitude: float, latitude: float, radius_m: float, seed: int
) -> None:
    random = np.random.default_rng(seed)
    # Half of the points within a metre of the edge, where a bound that is a little off would show.
    lengths = np.concatenate(
        [radius_m + random.uniform(-1, 1, 100), radius_m * random.uniform(0, 2, 100)]
    )
    lons, lats, _ = GEOD.fwd(
        np.full(200, longitude), np.full(200, latitude), random.uniform(0, 360, 200), lengths
    )
    expected = distances_m(longitude, latitude, lons, lats) <= radius_m
    assert (within(longitude, latitude, lons, lats, radius_m) == expected).all()


def test_the_corners_of_the_world_have_cells() -> None:
    rows = 1_800_000_000 // CELL_E7
    assert cell_of(-1_800_000_000, -900_000_000) == 0
    assert cell_of(1_800_000_000, -900_000_000) == COLUMNS - 1
    assert cell_of(1_800_000_000, 900_000_000) == rows * COLUMNS + COLUMNS - 1


def test_a_window_over_the_antimeridian_is_split_there() -> None:
    # RFC 7946, section 5.3: the Fiji box runs from 177 east to 178 west.
    assert split_at_antimeridian(177, -20, 182, -16) == [
        (177, -20, 180.0, -16),
        (-180.0, -20, -178, -16),
    ]
