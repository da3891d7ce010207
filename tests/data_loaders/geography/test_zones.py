"""Hardiness zones by ZIP code and by polygon."""

import gzip
from pathlib import Path

import pytest
import shapely

from data_loaders.geography.zones import load_zones
from service.errors import BadFile
from service.store.geography import zone_of_zip, zones_at
from tests.data_loaders.geography.stores import connect, fresh_store
from tests.data_loaders.geography.vector_files import write_geojson

HEADER = "zipcode,zone,trange,zonetitle\n"
# Rows in the shape of the public table (formats as read in a public test of such files).
ROWS = "00501,7b,5 to 10,7b: 5 to 10\n84629,5b,-15 to -10,5b: -15 to -10\n"


def write(path: Path, text: str, *, bom: bool = False) -> Path:
    path.write_bytes((("\ufeff" if bom else "") + text).encode())
    return path


@pytest.mark.parametrize("bom", [False, True])
def test_the_public_table_is_read_with_and_without_a_byte_order_mark(
    tmp_path: Path, bom: bool
) -> None:
    store = fresh_store(tmp_path)
    path = write(tmp_path / "zones.csv", HEADER + ROWS, bom=bom)
    report = load_zones(store, [path])
    assert (report.rows_read, report.rows_kept) == (2, 2)
    connection = connect(store)
    assert zone_of_zip(connection, "00501") == "7b"
    assert zone_of_zip(connection, "84629-1234") == "5b"
    assert zone_of_zip(connection, "99999") is None
    connection.close()
    assert load_zones(store, [path]).unchanged


def test_a_compressed_table_is_read(tmp_path: Path) -> None:
    path = tmp_path / "zones.csv.gz"
    path.write_bytes(gzip.compress((HEADER + ROWS).encode()))
    assert load_zones(fresh_store(tmp_path), [path]).rows_kept == 2


def test_every_flaw_is_counted_and_the_good_rows_are_kept(tmp_path: Path) -> None:
    flawed = (
        "501,7b,5 to 10,x\n"  # leading zeros lost
        "00502,14a,70 to 75,x\n"
        "00503,7b,0 to 5,x\n"  # the range of 7a
        "00504,7b,5 bis 10,x\n"
        "00501,7b,5 to 10,x\n"
        "00501,7a,0 to 5,x\n"
    )
    report = load_zones(fresh_store(tmp_path), [write(tmp_path / "z.csv", HEADER + ROWS + flawed)])
    assert report.rows_kept == 2
    assert report.set_apart == {
        "not a five-digit ZIP code": 1,
        "not a half zone from 1a to 13b": 1,
        "temperature range is not that of the zone": 2,
        "ZIP code given twice": 1,
        "ZIP code given twice with another zone": 1,
    }


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("zip,zone,trange,zonetitle\n" + ROWS, "line 1"),
        ("", "line 1"),
        (HEADER + "00501,7b,5 to 10\n", "line 2.*3 columns"),
        (HEADER + "00501,7b,5 to 10,x,y\n", "line 2.*5 columns"),
        (HEADER + '00501,"7b,5 to 10,x\n', "not a CSV table"),
        (HEADER + "00501,7b,5 to 10,\x00\n", "NUL"),
        (HEADER, "holds no rows"),
        (HEADER + "x" * 5_000_000, "line longer"),
    ],
)
def test_a_table_of_another_form_is_refused_with_its_place(
    tmp_path: Path, text: str, message: str
) -> None:
    store = fresh_store(tmp_path)
    before = store.read_bytes()
    with pytest.raises(BadFile, match=message):
        load_zones(store, [write(tmp_path / "z.csv", text)])
    assert store.read_bytes() == before


def test_a_later_table_goes_before_an_earlier_one_and_says_how_many_it_changed(
    tmp_path: Path,
) -> None:
    store = fresh_store(tmp_path)
    load_zones(store, [write(tmp_path / "z2012.csv", HEADER + "00501,7a,0 to 5,x\n")])
    report = load_zones(store, [write(tmp_path / "z2023.csv", HEADER + ROWS)])
    assert report.notes == ("1 ZIP codes had another zone before",)
    connection = connect(store)
    assert zone_of_zip(connection, "00501") == "7b"
    connection.close()


def test_polygons_answer_for_a_position_and_where_they_differ_both_are_given(
    tmp_path: Path,
) -> None:
    store = fresh_store(tmp_path)
    features = [
        (shapely.box(-84, 41, -83, 42), {"zone": "6B"}),
        (shapely.box(-83.2, 41, -82, 42), {"zone": "6a"}),
        (shapely.box(-84, 41, -83, 42), {"zone": "6"}),
        (shapely.Point(-84, 41), {"zone": "6a"}),
    ]
    report = load_zones(store, [write_geojson(tmp_path / "zones.geojson", features)])
    assert report.rows_kept == 2
    assert report.set_apart == {"not a half zone from 1a to 13b": 1, "not a polygon": 1}
    connection = connect(store)
    assert zones_at(connection, -83.5, 41.5) == ("6b",)
    assert zones_at(connection, -83.1, 41.5) == ("6a", "6b")
    assert zones_at(connection, -80.0, 41.5) == ()
    connection.close()
