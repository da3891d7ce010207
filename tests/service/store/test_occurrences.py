"""Evidence from the store against counting every record, on invented records."""

import csv
import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod

from data_loaders.occurrences import load_occurrences
from service.store.database import Build
from service.store.occurrences import evidence
from service.values.evidence import RING_RADII_M, Evidence
from service.values.vocabulary import PlantId, WaterId
from tests.data_loaders.occurrences.stores import make_store, plant_id
from tests.records import records_within

GEOD = Geod(ellps="WGS84")
LILY = PlantId("nymphaea-odorata")
REED = PlantId("phragmites-australis")

Record = tuple[str, float, float, float | None, int | None]
"""Scientific name, longitude, latitude, uncertainty in metres, year. All invented."""


def build_with(folder: Path, records: Sequence[Record]) -> Build:
    table = folder / "records.csv"
    with table.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream)
        writer.writerow(
            [
                "occurrenceID",
                "datasetKey",
                "license",
                "scientificName",
                "decimalLongitude",
                "decimalLatitude",
                "coordinateUncertaintyInMeters",
                "year",
            ]
        )
        for number, (name, longitude, latitude, uncertainty_m, year) in enumerate(records):
            dataset, licence = f"invented-{number % 3}", ("CC0_1_0", "CC_BY_4_0")[number % 2]
            writer.writerow(
                [
                    f"r{number}",
                    dataset,
                    licence,
                    name,
                    longitude,
                    latitude,
                    uncertainty_m or "",
                    year or "",
                ]
            )
    store = make_store(folder / "store.db")
    load_occurrences(store, [table])
    return Build(store)


def scattered(
    seed: int, count: int, longitude: float, latitude: float, reach_m: float
) -> list[Record]:
    random = np.random.default_rng(seed)
    lengths = reach_m * random.uniform(0, 1, count) ** 2
    bearings = random.uniform(0, 360, count)
    lons, lats, _ = GEOD.fwd(np.full(count, longitude), np.full(count, latitude), bearings, lengths)
    names = (
        "Nymphaea odorata",
        "Typha latifolia",
        "Phragmites australis",
        "Phragmites australis subsp. australis",
    )
    return [
        (
            names[random.integers(len(names))],
            round(float(lon), 7),
            round(float(lat), 7),
            (None, 30.0, 2_500.0)[random.integers(3)],
            (None, 1987, 2004, 2021)[random.integers(4)],
        )
        for lon, lat in zip(lons, lats, strict=True)
    ]


def measured_m(longitude: float, latitude: float, record: Record) -> float:
    return float(GEOD.inv(longitude, latitude, record[1], record[2])[2])


def square_of(record: Record) -> tuple[int, int, int, int]:
    """The square of about a kilometre: cells of 0.1 degrees, 11 rows in each, and as many columns
    as it is kilometres wide.
    """
    east, north = round(record[1] * 1e7) + 1_800_000_000, round(record[2] * 1e7) + 900_000_000
    column, row = min(east // 1_000_000, 3_599), north // 1_000_000
    across = max(1, round(11.12 * math.cos(math.radians((row + 0.5) / 10 - 90))))
    inner = min((east - column * 1_000_000) * across // 1_000_000, across - 1)
    return column, row, inner, (north - row * 1_000_000) * 11 // 1_000_000


def distinct(records: Sequence[Record], *, one_plant: bool = False) -> int:
    """One plant, one square, one year is one record."""
    return len({("" if one_plant else one[0], square_of(one), one[4]) for one in records})


def vague_m(record: Record) -> float:
    return 1_000.0 if record[3] is None else record[3]


def in_ring(
    records: Sequence[Record], longitude: float, latitude: float, radius_m: float
) -> list[Record]:
    return [
        record
        for record in records
        if vague_m(record) <= radius_m and measured_m(longitude, latitude, record) <= radius_m
    ]


def counted(
    records: Sequence[Record], longitude: float, latitude: float, names: set[str]
) -> Evidence:
    """The answer by looking at each record in turn."""
    near = [(measured_m(longitude, latitude, record), record) for record in records]
    own = [
        (distance, record)
        for distance, record in near
        if record[0] in names and distance <= RING_RADII_M[-1]
    ]
    years = [record[4] for _, record in own if record[4]]
    return Evidence(
        plant_id=LILY,
        loaded=True,
        nearest_m=min((_known_m(distance, record) for distance, record in own), default=None),
        first_year=min(years, default=None),
        latest_year=max(years, default=None),
    )


def _known_m(distance_m: float, record: Record) -> float:
    ring_m = next(radius for radius in RING_RADII_M if distance_m <= radius)
    return distance_m if vague_m(record) <= ring_m else vague_m(record)


@pytest.mark.parametrize(
    ("longitude", "latitude"),
    [(-83.2, 41.5), (179.98, 51.9), (-179.95, 51.9), (-156.5, 71.3), (0.01, -0.02)],
    ids=["Ohio", "west of the antimeridian", "east of the antimeridian", "far north", "equator"],
)
def test_evidence_equals_looking_at_every_record(
    tmp_path: Path, longitude: float, latitude: float
) -> None:
    records = scattered(7, 1_500, longitude, latitude, 140_000)
    build = build_with(tmp_path, records)
    found = evidence(build.connection, LILY, longitude, latitude)
    expected = counted(records, longitude, latitude, {"Nymphaea odorata"})
    assert found.nearest_m == pytest.approx(expected.nearest_m, abs=1e-6)
    assert (found.first_year, found.latest_year) == (expected.first_year, expected.latest_year)
    for ring in found.rings:
        near = in_ring(records, longitude, latitude, ring.radius_m)
        own = [record for record in near if record[0] == "Nymphaea odorata"]
        assert ring.all_records == distinct(near)
        assert ring.plant_records == distinct(own, one_plant=True)
        assert ring.latest_year == max((one[4] for one in own if one[4]), default=None)
    within_widest = in_ring(records, longitude, latitude, RING_RADII_M[-1])
    assert sum(dataset.records for dataset in found.datasets) == sum(
        record[0] == "Nymphaea odorata" for record in within_widest
    )
    assert {dataset.dataset_key for dataset in found.datasets} == {
        "invented-0",
        "invented-1",
        "invented-2",
    }
    assert all(dataset.licence == "CC0_1_0; CC_BY_4_0" for dataset in found.datasets)


@pytest.fixture(scope="module")
def dense(tmp_path_factory: pytest.TempPathFactory) -> tuple[Build, list[Record]]:
    records = scattered(11, 3_000, -83.0, 41.0, 120_000)
    return build_with(tmp_path_factory.mktemp("dense"), records), records


@settings(max_examples=40)
@given(st.floats(-84.5, -81.5), st.floats(40, 42))
def test_ring_counts_equal_brute_force_anywhere(
    dense: tuple[Build, list[Record]], longitude: float, latitude: float
) -> None:
    build, records = dense
    found = evidence(build.connection, REED, longitude, latitude)
    count = len(records)
    there = np.array([record[1:3] for record in records])
    distances = np.asarray(
        GEOD.inv(np.full(count, longitude), np.full(count, latitude), there[:, 0], there[:, 1])[2]
    )
    for ring in found.rings:
        near = [
            record
            for record, distance in zip(records, distances, strict=True)
            if distance <= ring.radius_m and vague_m(record) <= ring.radius_m
        ]
        own = [record for record in near if record[0].startswith("Phragmites")]
        assert ring.all_records == distinct(near)
        assert ring.plant_records == distinct(own, one_plant=True)


def test_one_plant_in_one_square_in_one_year_is_one_record_whoever_published_it(
    tmp_path: Path,
) -> None:
    lily, cattail = "Nymphaea odorata", "Typha latifolia"
    records: list[Record] = [
        (lily, -83.0005, 41.0005, 30.0, 2020),
        (lily, -83.0006, 41.0006, 30.0, 2020),  # the same plant, published again
        (lily, -83.0005, 41.0005, 30.0, 2021),  # a year later
        (lily, -83.0005, 41.0305, 30.0, 2020),  # three kilometres north
        (cattail, -83.0005, 41.0005, 30.0, 2020),
        (lily, -83.0005, 41.0005, 4_000.0, 2022),  # too vague for a kilometre
    ]
    found = evidence(build_with(tmp_path, records).connection, LILY, -83.0, 41.0)
    rings = [(ring.plant_records, ring.all_records, ring.latest_year) for ring in found.rings]
    assert rings == [(2, 3, 2021), (4, 5, 2022), (4, 5, 2022), (4, 5, 2022)]
    assert sum(dataset.records for dataset in found.datasets) == 5


def test_a_vague_record_is_no_nearer_than_it_is_vague(tmp_path: Path) -> None:
    records: list[Record] = [("Nymphaea odorata", -83.0, 41.0001, 50_000.0, 2020)]
    found = evidence(build_with(tmp_path, records).connection, LILY, -83.0, 41.0)
    assert found.nearest_m == 50_000.0
    assert [ring.plant_records for ring in found.rings] == [0, 0, 0, 1]


def test_records_of_two_loads_in_one_square_are_counted_once(tmp_path: Path) -> None:
    records: list[Record] = [("Nymphaea odorata", -83.0005, 41.0005, 30.0, 2020)]
    build_with(tmp_path, records).close()
    table = tmp_path / "records.csv"
    table.write_text(table.read_text().replace("r0,invented-0", "other,invented-9"))
    load_occurrences(tmp_path / "store.db", [table])
    found = evidence(Build(tmp_path / "store.db").connection, LILY, -83.0, 41.0)
    assert [ring.all_records for ring in found.rings] == [1] * 4
    assert sum(dataset.records for dataset in found.datasets) == 2


def test_records_of_a_subspecies_count_for_its_species_and_not_the_other_way(
    dense: tuple[Build, list[Record]],
) -> None:
    build, _ = dense
    species = evidence(build.connection, REED, -83.0, 41.0)
    subspecies = evidence(
        build.connection, PlantId(plant_id("Phragmites australis subsp. australis")), -83.0, 41.0
    )
    assert 0 < subspecies.rings[-1].plant_records < species.rings[-1].plant_records


def test_records_come_nearest_first_with_their_terms(dense: tuple[Build, list[Record]]) -> None:
    build, records = dense
    found = records_within(build.connection, -83.0, 41.0, 10_000, plant_id=LILY, limit=5)
    expected = sorted(
        measured_m(-83.0, 41.0, record) for record in records if record[0] == "Nymphaea odorata"
    )[:5]
    assert [record.distance_m for record in found] == pytest.approx(expected, abs=1e-6)
    number = int(found[0].record_key.removeprefix("r"))
    name, longitude, latitude, uncertainty_m, year = records[number]
    assert name == "Nymphaea odorata"
    assert (found[0].longitude, found[0].latitude) == (longitude, latitude)
    assert (found[0].uncertainty_m, found[0].year) == (uncertainty_m, year)
    assert (found[0].dataset_key, found[0].licence) == (
        f"invented-{number % 3}",
        ("CC0_1_0", "CC_BY_4_0")[number % 2],
    )


def test_a_store_without_records_says_so_instead_of_counting_none(tmp_path: Path) -> None:
    build = Build(make_store(tmp_path / "store.db"))
    assert evidence(build.connection, LILY, -83.0, 41.0) == Evidence(LILY, loaded=False)


def test_no_record_within_the_widest_ring_has_no_nearest(tmp_path: Path) -> None:
    build = build_with(tmp_path, [("Nymphaea odorata", -100.0, 41.0, None, 2001)])
    found = evidence(build.connection, LILY, -83.0, 41.0)
    assert found.loaded
    assert found.nearest_m is None
    assert [(ring.plant_records, ring.all_records) for ring in found.rings] == [(0, 0)] * 4
    assert (found.first_year, found.latest_year, found.datasets) == (None, None, ())


def _north_of(latitude: float, metres: float) -> float:
    return float(GEOD.fwd(-83.0, latitude, 0, metres)[1])


def test_records_count_for_a_water_as_far_as_their_coordinates_are_vague(tmp_path: Path) -> None:
    lake = shapely.box(-83.01, 41.0, -82.99, 41.01)
    shore = 41.01
    cases: list[tuple[float, float | None, bool]] = [
        (0.0, 10.0, True),
        (90.0, 100.0, True),
        (110.0, 100.0, False),
        (950.0, None, True),  # unstated: 1 km, common practice, no source
        (1_050.0, None, False),
        (4_900.0, 60_000.0, True),  # vaguer than 5 km is taken for 5 km
        (5_100.0, 60_000.0, False),
    ]
    records: list[Record] = [
        ("Nymphaea odorata", -83.0, _north_of(shore, metres), uncertainty, 2010 + place)
        for place, (metres, uncertainty, _) in enumerate(cases)
    ]
    records.append(("Typha latifolia", -83.0, 41.005, 5.0, 2020))
    build = build_with(tmp_path, records)
    found = evidence(build.connection, LILY, -83.5, 41.0, waters=[(WaterId("lake"), "near", lake)])
    (water,) = found.waters
    assert water.plant_records == sum(counts for _, _, counts in cases)
    assert water.all_records == water.plant_records + 1
    assert (water.water_id, water.relation, water.latest_year) == ("lake", "near", 2015)


def _river(longitude: float, latitude: float) -> shapely.LineString:
    steps = [(longitude + 0.02 * step, latitude + 0.01 * math.sin(step)) for step in range(60)]
    return shapely.LineString(steps)


@pytest.mark.parametrize("longitude", [-83.6, 179.2], ids=["inland", "over the antimeridian"])
def test_records_along_a_river_equal_looking_at_every_record(
    tmp_path: Path, longitude: float
) -> None:
    river = _river(longitude, 41.0)
    records = scattered(3, 800, longitude + 0.6, 41.0, 60_000)
    records = [
        (name, (lon + 180) % 360 - 180, lat, doubt, year) for name, lon, lat, doubt, year in records
    ]
    build = build_with(tmp_path, records)
    found = evidence(
        build.connection, LILY, longitude, 41.0, waters=[(WaterId("river"), "downstream", river)]
    )
    expected = [record for record in records if _reaches(record, river)]
    assert 0 < len(expected) < len(records)
    assert found.waters[0].all_records == distinct(expected)
    assert found.waters[0].plant_records == distinct(
        [record for record in expected if record[0] == "Nymphaea odorata"], one_plant=True
    )


def _reaches(record: Record, river: shapely.LineString) -> bool:
    """By the geodesic to the nearest of many points along the river, a metre apart at most."""
    _, lon, lat, doubt, _ = record
    turned = lon + 360 if lon < 0 and river.bounds[2] > 180 else lon
    stretched = shapely.transform(river, lambda xy: xy * [math.cos(math.radians(41.0)), 1])
    place = stretched.project(shapely.Point(turned * math.cos(math.radians(41.0)), lat))
    steps = [stretched.interpolate(place + step * 1e-5) for step in range(-300, 301)]
    there_lon = [point.x / math.cos(math.radians(41.0)) for point in steps]
    distances = GEOD.inv(
        [turned] * len(steps), [lat] * len(steps), there_lon, [point.y for point in steps]
    )[2]
    return bool(min(distances) <= min(doubt or 1_000.0, 5_000.0))


def test_many_small_loads_answer_as_one_large_one(tmp_path: Path) -> None:
    records = scattered(5, 300, -83.0, 41.0, 3_000)
    (tmp_path / "one").mkdir()
    whole = build_with(tmp_path / "one", records)
    header, *lines = (tmp_path / "one" / "records.csv").read_text().splitlines()
    store = make_store(tmp_path / "many.db")
    for first in range(0, 300, 15):
        part = tmp_path / f"part-{first}.csv"
        part.write_text("\n".join([header, *lines[first : first + 15]]) + "\n")
        load_occurrences(store, [part])
    many = Build(store)
    blocks, cells = many.connection.execute(
        "SELECT count(*), count(DISTINCT cell) FROM occurrence_block"
    ).fetchone()
    assert blocks <= 8 * cells
    assert evidence(many.connection, LILY, -83.0, 41.0) == evidence(
        whole.connection, LILY, -83.0, 41.0
    )
