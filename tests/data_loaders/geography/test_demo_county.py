"""The invented demo county: made again it is the same, it is said to be invented, and it loads
whole.
"""

import csv
import json
import re
import zipfile
from pathlib import Path

import pyogrio

from data_loaders.build import drafting
from data_loaders.geography.waters import load_waters
from data_loaders.geography.watersheds import load_watersheds
from data_loaders.geography.zones import load_zones
from data_loaders.occurrences import load_occurrences
from data_loaders.occurrences.report import REASONS
from data_loaders.plants.catalogue import add_catalogue
from demo_data import geography as demo
from demo_data.geography.records import COLUMNS, PLANTS
from demo_data.make_demo_geography import make
from service.store.geography import locate
from tests.data_loaders.geography.stores import connect, fresh_store

FILES = (
    demo.WATERS,
    demo.WATERSHEDS,
    demo.ZONES_BY_ZIP,
    demo.ZONE_AREAS,
    demo.OCCURRENCE_ARCHIVE,
    demo.OCCURRENCE_TABLE,
)


def test_making_the_files_twice_gives_the_same_bytes(tmp_path: Path) -> None:
    for folder in ("one", "two"):
        make(tmp_path / folder)
    for file in FILES:
        assert (tmp_path / "one" / file.name).read_bytes() == (
            tmp_path / "two" / file.name
        ).read_bytes(), file.name


def test_the_files_in_the_package_are_those_that_the_script_makes(tmp_path: Path) -> None:
    # The GeoPackage carries the versions of SQLite and GDAL, the watersheds the last digits of
    # GEOS: compared as loaded below.
    make(tmp_path)
    for file in (demo.ZONES_BY_ZIP, demo.ZONE_AREAS, demo.OCCURRENCE_TABLE):
        assert (tmp_path / file.name).read_bytes() == file.read_bytes(), file.name
    with (
        zipfile.ZipFile(tmp_path / demo.OCCURRENCE_ARCHIVE.name) as made,
        zipfile.ZipFile(demo.OCCURRENCE_ARCHIVE) as packed,
    ):
        assert {name: made.read(name) for name in made.namelist()} == {
            name: packed.read(name) for name in packed.namelist()
        }
    for layer in ("NHDFlowline", "NHDWaterbody", "NHDArea"):
        made_rows, packed_rows = (
            pyogrio.raw.read(path, layer=layer)
            for path in (tmp_path / demo.WATERS.name, demo.WATERS)
        )
        assert [list(column) for column in made_rows[3]] == [
            list(column) for column in packed_rows[3]
        ]
        assert list(made_rows[2]) == list(packed_rows[2])


def test_all_files_together_are_small_and_each_says_that_it_is_invented() -> None:
    assert sum(file.stat().st_size for file in FILES) < 2_000_000
    for file in FILES:
        content = file.read_bytes()
        if file.suffix == ".zip":
            with zipfile.ZipFile(file) as archive:
                content = b"".join(archive.read(name) for name in archive.namelist())
        assert re.search(rb"[Ii]nvented", content), file.name
        assert "invented" in file.name


def test_the_network_has_the_size_of_a_creek_s() -> None:
    lines = pyogrio.read_info(demo.WATERS, layer="NHDFlowline", force_feature_count=True)[
        "features"
    ]
    assert 40 <= lines <= 80


def test_every_file_loads_and_nothing_is_lost(tmp_path: Path) -> None:
    store = fresh_store(tmp_path)
    waters = load_waters(store, [demo.WATERS])
    assert waters.rows_read == waters.rows_kept + 1
    assert waters.set_apart == {"no geometry": 1}
    assert waters.totals["links leaving"] == 0
    assert load_watersheds(store, [demo.WATERSHEDS]).rows_kept == 7
    assert load_zones(store, [demo.ZONES_BY_ZIP]).set_apart == {}
    assert load_zones(store, [demo.ZONE_AREAS]).rows_kept == 2
    connection = connect(store)
    found = locate(connection, -84.29, 41.62)
    assert (found.state, found.zones) == ("US-OH", ("6b",))
    assert found.watershed is not None
    assert found.watershed.name == "Mill Run"
    states = {row["state"] for row in connection.execute("SELECT state FROM water_state")}
    assert states == {"US-OH", "US-MI"}
    connection.close()


def test_the_records_have_the_columns_of_a_simple_download_and_their_plants_are_real() -> None:
    rows = list(
        csv.DictReader(
            demo.OCCURRENCE_TABLE.open(encoding="utf-8"), delimiter="\t", quoting=csv.QUOTE_NONE
        )
    )
    assert tuple(rows[0]) == COLUMNS
    assert len(COLUMNS) == 50
    catalogue = (
        Path(demo.FOLDER).parents[1] / "data_loaders/reference/plants/plants.csv"
    ).read_text(encoding="utf-8")
    assert all(f"\n{plant}," in catalogue for plant, _, _ in PLANTS)


def test_the_records_show_every_flaw_for_which_a_record_is_set_apart(tmp_path: Path) -> None:
    store = tmp_path / "store.db"
    with drafting(store, on_top=False) as draft:
        add_catalogue(draft)
    report = load_occurrences(store, [demo.OCCURRENCE_ARCHIVE, demo.OCCURRENCE_TABLE])
    # Centres, gardens and herbaria are real places, of which the invented county has none.
    assert set(report.set_apart) == set(REASONS) - {"place-and-not-plant"}
    assert report.rows_read == report.rows_kept + sum(report.set_apart.values())
    assert report.rows_kept > 300


def test_the_watersheds_share_their_outlines_and_name_what_they_drain_to() -> None:
    content = json.loads(demo.WATERSHEDS.read_text())
    units = {
        feature["properties"]["huc12"]: feature["properties"]["tohuc"]
        for feature in content["features"]
    }
    outside = set(units.values()) - set(units)
    assert outside == {"990102040101", "CLOSED BASIN"}
