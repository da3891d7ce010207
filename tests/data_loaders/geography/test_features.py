"""Vector files as people have them: coordinate systems, axes, broken and missing shapes,
archives.
"""

import zipfile
from pathlib import Path

import numpy as np
import pyproj
import pytest
import shapely
from shapely.geometry.base import BaseGeometry

from data_loaders.geography.features import (
    ColumnNames,
    Reading,
    as_text,
    content_sha256,
    open_vector,
)
from data_loaders.geography.geometry import is_swapped, split_at_antimeridian
from data_loaders.report import Tally
from service.errors import BadFile
from tests.data_loaders.geography.vector_files import write_geojson, write_layer

POND = shapely.box(-84.301, 41.600, -84.300, 41.601)


def read(path: Path, reading: Reading | None = None) -> tuple[list[BaseGeometry], Tally]:
    tally = Tally()
    with open_vector(path, reading=reading) as vector:
        shapes = [
            feature.geometry for layer in vector.layers for feature in vector.features(layer, tally)
        ]
    return shapes, tally


def test_a_projected_file_comes_out_in_longitude_and_latitude(tmp_path: Path) -> None:
    to_utm = pyproj.Transformer.from_crs(4326, 26917, always_xy=True)
    projected = shapely.transform(
        POND, lambda xy: np.column_stack(to_utm.transform(xy[:, 0], xy[:, 1]))
    )
    write_layer(tmp_path / "ponds.gpkg", "ponds", [projected], {"n": [1]}, crs="EPSG:26917")
    (shape,), _ = read(tmp_path / "ponds.gpkg")
    # NAD83 and WGS84 differ by up to about two metres.
    assert shape.hausdorff_distance(POND) < 3e-5


def test_a_shapefile_without_a_projection_is_not_guessed_at(tmp_path: Path) -> None:
    write_layer(
        tmp_path / "ponds.shp", "ponds", [POND], {"n": [1]}, kind="Polygon", driver="ESRI Shapefile"
    )
    (tmp_path / "ponds.prj").unlink()
    with pytest.raises(BadFile, match=r"coordinate system.*\.prj"):
        read(tmp_path / "ponds.shp")
    shapes, _ = read(tmp_path / "ponds.shp", Reading(crs="EPSG:4269"))
    assert len(shapes) == 1
    with pytest.raises(BadFile, match="not known"):
        read(tmp_path / "ponds.shp", Reading(crs="EPSG:nonsense"))


def test_swapped_axes_are_reported_and_not_mended_unasked(tmp_path: Path) -> None:
    turned = shapely.transform(POND, lambda xy: xy[:, ::-1])
    far = shapely.box(41.0, -100.2, 41.1, -100.1)  # latitude beyond the pole unless turned
    path = write_geojson(tmp_path / "ponds.geojson", [(turned, {}), (far, {}), (POND, {})])
    shapes, tally = read(path)
    assert len(shapes) == 1
    assert tally.set_apart == {"latitude and longitude swapped": 2}
    shapes, tally = read(path, Reading(swap_axes=True))
    assert len(shapes) == 2
    assert is_swapped(turned)
    assert not is_swapped(POND)


def test_no_shape_an_empty_one_and_one_off_the_earth_are_told_apart(tmp_path: Path) -> None:
    shapes = [None, shapely.Polygon(), shapely.box(900, 200, 901, 201), POND]
    write_layer(tmp_path / "ponds.gpkg", "ponds", shapes, {"n": [1, 2, 3, 4]}, crs="EPSG:4326")
    kept, tally = read(tmp_path / "ponds.gpkg")
    assert len(kept) == 1
    assert tally.set_apart == {
        "no geometry": 1,
        "empty geometry": 1,
        "coordinates off the earth": 1,
    }


def test_a_crossed_ring_is_repaired_and_counted_and_a_collapsed_one_set_apart(
    tmp_path: Path,
) -> None:
    crossed = shapely.Polygon([(-84, 41), (-83.9, 41.1), (-83.9, 41), (-84, 41.1), (-84, 41)])
    collapsed = shapely.Polygon([(-84, 41), (-83.9, 41.1), (-84, 41), (-84, 41)])
    write_layer(tmp_path / "ponds.gpkg", "ponds", [crossed, collapsed], {"n": [1, 2]})
    (shape,), tally = read(tmp_path / "ponds.gpkg")
    assert shape.is_valid
    assert shape.area == pytest.approx(0.005, rel=1e-6)
    report = tally
    assert report.remarks == {"invalid geometry": 1}
    assert report.set_apart == {"geometry that cannot be repaired": 1}


def test_a_lake_over_the_antimeridian_is_cut_in_two(tmp_path: Path) -> None:
    stepping = shapely.Polygon([(179.5, 51), (-179.5, 51), (-179.5, 52), (179.5, 52), (179.5, 51)])
    beyond = shapely.box(179.5, 51, 180.5, 52)
    path = write_geojson(tmp_path / "lakes.geojson", [(stepping, {}), (beyond, {})])
    (one, other), tally = read(path)
    for shape in (one, other):
        assert shape.bounds == pytest.approx((-180, 51, 180, 52))
        assert shape.area == pytest.approx(1.0)
        assert len(shapely.get_parts(shape)) == 2
    assert tally.remarks == {"split at the antimeridian": 2}


def test_parts_on_both_sides_that_are_already_cut_stay_as_they_are() -> None:
    islands = shapely.MultiPolygon(
        [shapely.box(179, 51, 179.9, 52), shapely.box(-179.9, 51, -179, 52)]
    )
    assert split_at_antimeridian(islands) is islands


def test_a_line_over_the_antimeridian_is_cut_too() -> None:
    cut = split_at_antimeridian(shapely.LineString([(179.9, 51.0), (-179.9, 51.2)]))
    assert cut.geom_type == "MultiLineString"
    assert cut.length == pytest.approx((0.2**2 + 0.2**2) ** 0.5)


def test_a_zipped_shapefile_is_read_with_its_parts(tmp_path: Path) -> None:
    write_layer(
        tmp_path / "ponds.shp", "ponds", [POND], {"n": [7]}, kind="Polygon", driver="ESRI Shapefile"
    )
    with zipfile.ZipFile(tmp_path / "ponds.zip", "w") as archive:
        for part in sorted(tmp_path.glob("ponds.[!z]*")):
            archive.write(part, f"Shape/{part.name}")
    with open_vector(tmp_path / "ponds.zip") as vector:
        (layer,) = vector.layers
        (feature,) = vector.features(layer, Tally())
    assert feature.values["n"] == 7


@pytest.mark.parametrize("name", ["../ponds.shp", "/etc/ponds.shp", "a\\ponds.shp"])
def test_an_archive_that_leads_outside_is_refused(tmp_path: Path, name: str) -> None:
    with zipfile.ZipFile(tmp_path / "bad.zip", "w") as archive:
        archive.writestr(name, b"x")
    with pytest.raises(BadFile, match="leads outside"):
        read(tmp_path / "bad.zip")


def test_an_archive_that_swells_is_refused(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "bomb.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("ponds.geojson", b"{" + b" " * 50_000_000)
    with pytest.raises(BadFile, match="times its compressed size"):
        read(tmp_path / "bomb.zip")


def test_what_a_file_is_goes_by_its_ending_and_its_first_bytes(tmp_path: Path) -> None:
    # A virtual data set can name other files and addresses, whatever its ending.
    virtual = '<OGRVRTDataSource><OGRVRTLayer name="x"><SrcDataSource>/etc/passwd</SrcDataSource></OGRVRTLayer></OGRVRTDataSource>'
    (tmp_path / "ponds.geojson").write_text(virtual)
    with pytest.raises(BadFile, match="does not begin"):
        read(tmp_path / "ponds.geojson")
    (tmp_path / "ponds.vrt").write_text(virtual)
    with pytest.raises(BadFile, match="not read"):
        read(tmp_path / "ponds.vrt")
    (tmp_path / "ponds.gpkg").write_bytes(b"SQLite format 3\x00" + b"\x00" * 200)
    with pytest.raises(BadFile, match="cannot be read"):
        read(tmp_path / "ponds.gpkg")
    with pytest.raises(BadFile, match="no such file"):
        read(tmp_path / "none.gpkg")


def test_columns_are_found_in_any_case_and_cut_to_ten_letters() -> None:
    columns = ColumnNames(["PERMANENT_", "GNIS_Name", "FCode"])
    values = {"permanent_": "123", "gnis_name": None, "fcode": 46006}
    assert columns.text(values, ("permanent_identifier",)) == "123"
    assert columns.text(values, ("gnis_name",)) == ""
    assert columns.text(values, ("fcode",)) == "46006"
    assert columns.text(values, ("huc12",)) == ""


def test_an_identifier_read_as_a_number_keeps_its_digits() -> None:
    assert as_text(55_000_800_123_456.0) == "55000800123456"
    assert as_text(float("nan")) == ""
    assert as_text(0.5) == "0.5"


def test_the_hash_of_a_shapefile_takes_in_its_table(tmp_path: Path) -> None:
    for folder, number in (("a", 1), ("b", 2)):
        (tmp_path / folder).mkdir()
        write_layer(
            tmp_path / folder / "p.shp",
            "p",
            [POND],
            {"n": [number]},
            kind="Polygon",
            driver="ESRI Shapefile",
        )
    assert (tmp_path / "a/p.shp").read_bytes() == (tmp_path / "b/p.shp").read_bytes()
    assert content_sha256(tmp_path / "a/p.shp") != content_sha256(tmp_path / "b/p.shp")
