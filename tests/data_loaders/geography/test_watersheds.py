"""Watershed polygons and what they drain to."""

from pathlib import Path

import pytest
import shapely

from data_loaders.geography.watersheds import load_watersheds
from data_loaders.report import NothingKept
from service.errors import BadFile
from service.store.geography import watershed_at
from tests.data_loaders.geography.stores import connect, fresh_store
from tests.data_loaders.geography.vector_files import Columns, write_geojson, write_layer


def write_units(path: Path) -> Path:
    """Three subwatersheds in a row, the last to the sea, one without an outlet, and the basin
    about them.
    """
    boxes = [shapely.box(-84 + n / 10, 41, -83.9 + n / 10, 41.1) for n in range(4)]
    write_layer(
        path,
        "WBDHU12",
        [*boxes, boxes[0]],
        {
            "HUC12": [
                "040900010101",
                "040900010102",
                "040900010103",
                "040900010104",
                "40900010105",
            ],
            "Name": ["Upper", "Middle", "Lower", "Pothole", "broken code"],
            "ToHUC": ["040900010102", "040900010103", "Ocean", "CLOSED BASIN", ""],
        },
    )
    write_layer(
        path, "WBDHU8", [shapely.box(-84, 41, -83, 42)], {"huc8": ["04090001"], "name": ["Basin"]}
    )
    write_layer(path, "WBDLine", [shapely.LineString([(-84, 41), (-83, 41)])], {"hudigit": [12]})
    return path


def test_units_are_read_at_every_level_and_the_smallest_answers(tmp_path: Path) -> None:
    store = fresh_store(tmp_path)
    report = load_watersheds(store, [write_units(tmp_path / "wbd.gpkg")])
    assert (report.rows_read, report.rows_kept) == (6, 5)
    assert report.set_apart == {"not a hydrologic unit code": 1}
    connection = connect(store)
    at = watershed_at(connection, -83.95, 41.05)
    assert at is not None
    assert (at.watershed_id, at.name) == ("040900010101", "Upper")
    basin = watershed_at(connection, -83.5, 41.5)
    assert basin is not None
    assert basin.watershed_id == "04090001"
    assert watershed_at(connection, -80, 41) is None
    connection.close()
    assert load_watersheds(store, [tmp_path / "wbd.gpkg"]).unchanged


def test_what_a_unit_drains_to_is_kept_as_the_layer_states_it(tmp_path: Path) -> None:
    store = fresh_store(tmp_path)
    load_watersheds(store, [write_units(tmp_path / "wbd.gpkg")])
    connection = connect(store)
    downstream = [
        unit.downstream
        for east in range(4)
        for unit in [watershed_at(connection, -83.95 + east / 10, 41.05)]
        if unit is not None
    ]
    connection.close()
    assert downstream == ["040900010102", "040900010103", "OCEAN", "CLOSED BASIN"]


def test_a_unit_in_several_features_is_one_with_their_area_together(tmp_path: Path) -> None:
    store = fresh_store(tmp_path)
    parts = [
        (shapely.box(-84, 41, -83.9, 41.1), {"huc12": "040900010101"}),
        (shapely.box(-83, 41, -82.9, 41.1), {"huc12": "040900010101"}),
    ]
    report = load_watersheds(store, [write_geojson(tmp_path / "w.geojson", parts)])
    assert report.rows_kept == 2
    connection = connect(store)
    # 0.1 by 0.1 degrees at 41.05 N: 93.2 square kilometres (WGS84; pyproj.Geod), twice.
    unit = watershed_at(connection, -83.95, 41.05)
    assert unit is not None
    assert unit.area_m2 == pytest.approx(2 * 93.2e6, rel=0.005)
    connection.close()


def test_a_file_without_units_leaves_the_store_as_it_was(tmp_path: Path) -> None:
    store = fresh_store(tmp_path)
    before = store.read_bytes()
    with pytest.raises(BadFile, match="holds no rows; layer w passed over"):
        load_watersheds(
            store, [write_geojson(tmp_path / "w.geojson", [(shapely.box(0, 0, 1, 1), {"n": 1})])]
        )
    assert store.read_bytes() == before


def test_a_second_file_of_one_name_from_another_region_adds(tmp_path: Path) -> None:
    store = fresh_store(tmp_path)
    for number, code in enumerate(("041000010101", "070700050101")):
        folder = tmp_path / code
        folder.mkdir()
        shape = shapely.box(-84 - number, 41, -83.9 - number, 41.1)
        write_layer(
            folder / "WBDHU12.shp",
            "WBDHU12",
            [shape],
            {"huc12": [code]},
            kind="Polygon",
            driver="ESRI Shapefile",
        )
        report = load_watersheds(store, [folder / "WBDHU12.shp"])
        assert report.totals == {"watersheds": number + 1}
    with pytest.raises(NothingKept, match="watershed already loaded"):
        load_watersheds(store, [_resaved(folder)])
    assert (
        load_watersheds(store, [_resaved(folder)], replace=report.files[0].source_id).rows_kept == 1
    )


def _resaved(folder: Path) -> Path:
    """The unit of a folder with another name."""
    path = folder / "again.gpkg"
    if not path.exists():
        shape = shapely.box(-85, 41, -84.9, 41.1)
        write_layer(path, "WBDHU12", [shape], {"huc12": [folder.name], "name": ["Renamed"]})
    return path


@pytest.mark.parametrize("column", ["TOHUC", "HU_12_DS"])
def test_older_column_names_are_recognised(tmp_path: Path, column: str) -> None:
    store = fresh_store(tmp_path)
    columns: Columns = {
        "HUC_12": ["041000010101"],
        "HU_12_NAME": ["Coined"],
        column: ["041000010102"],
    }
    path = tmp_path / "wbd.gpkg"
    write_layer(path, "hu12", [shapely.box(-84, 41, -83.9, 41.1)], columns)
    assert load_watersheds(store, [path]).rows_kept == 1
    connection = connect(store)
    row = connection.execute("SELECT watershed_id, name, downstream FROM watershed").fetchone()
    connection.close()
    assert tuple(row) == ("041000010101", "Coined", "041000010102")
